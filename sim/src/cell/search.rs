//! Decides where a seam is found by touch before it is welded: the wire goes toward a face until it touches.

use nalgebra::{Point3, Unit, Vector3};

use super::SeamPath;

/// The face that a search goes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SearchedFace {
    /// The reference face.
    Reference,
    /// The face of the other member.
    Other,
}

impl SearchedFace {
    /// The word for it in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Reference => "reference",
            Self::Other => "other",
        }
    }
}

/// One touch search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TouchSearch {
    /// Which face.
    pub face: SearchedFace,
    /// At this arc length, m.
    pub at: f64,
    /// The wire touches so far from the root, m.
    pub off: f64,
    /// It begins so far before the face, m.
    pub distance: f64,
    /// Speed on the way to the face, m/s.
    pub speed: f64,
    /// The face must go on so far from the root, m, for the wire to meet it however the part lies.
    pub edge: f64,
    /// How far it goes on, m; no more than `edge` is looked at.
    pub edge_found: f64,
}

impl TouchSearch {
    /// Whether the face goes on as far as is asked.
    #[must_use]
    pub fn meets_its_face(&self) -> bool {
        self.edge - self.edge_found <= 1e-9
    }

    /// Where the wire touches a part that lies as drawn.
    #[must_use]
    pub fn touches_at(&self, path: &SeamPath) -> Point3<f64> {
        let root = path.root_at(self.at);
        root.point + self.along(path) * self.off
    }

    /// The way from the root over the face that is searched.
    fn along(&self, path: &SeamPath) -> Vector3<f64> {
        let root = path.root_at(self.at);
        match self.face {
            SearchedFace::Reference => root.b,
            SearchedFace::Other => (root.n1 - root.n2 * root.n1.dot(&root.n2)).normalize(),
        }
    }

    /// The way that the wire goes: straight into the face.
    #[must_use]
    pub fn toward(&self, path: &SeamPath) -> Unit<Vector3<f64>> {
        let root = path.root_at(self.at);
        Unit::new_normalize(match self.face {
            SearchedFace::Reference => -root.n1,
            SearchedFace::Other => -root.n2,
        })
    }
}
