//! Decides what is asked about: how parts are held, what varies, and what each seam is given to find its joint.
//!
//! A scheme is taken from a cell and may be changed before the question is asked again: that is how remedies are weighed.

use super::drawn_gap::drawn_gap;
use super::gap::Opens;
use super::searching::is_one_joint;
use crate::cell::{Body, Cell, Seam, SearchedFace, Tracked, Variation};

/// How parts are held and what varies.
#[derive(Clone, Debug)]
pub struct Scheme {
    /// What holds the parts.
    pub bodies: Vec<Body>,
    /// What varies.
    pub variation: Variation,
    /// How closely each external axis stops, rad or m, where the file says so of the axis.
    pub axes: Vec<Option<f64>>,
    /// What each seam of the cell is given.
    pub treatments: Vec<Treatment>,
}

/// A touch search of a face at an arc length, m.
pub type Touch = (SearchedFace, f64);

/// How a seam finds its joint, and how that opens.
#[derive(Clone, Debug, PartialEq)]
pub struct Treatment {
    /// Touch searches before the weld: which face, at which arc length (m).
    pub touches: Vec<Touch>,
    /// By what the joint is tracked.
    pub tracked: Option<Tracked>,
    /// Along which direction its gap opens.
    pub opens: Opens,
    /// How far its members stand apart as drawn, m, negative where they are drawn into each other; none where that is not known.
    pub drawn_gap: Option<f64>,
}

impl Scheme {
    /// As the cell has it.
    #[must_use]
    pub fn of(cell: &Cell) -> Self {
        Self {
            bodies: cell.bodies.clone(),
            variation: cell.variation,
            axes: cell.frames.axes.iter().map(|axis| axis.repeatability).collect(),
            treatments: cell
                .seams
                .iter()
                .map(|seam| Treatment {
                    touches: touches(cell, seam),
                    tracked: seam.procedure.tracked,
                    opens: Opens::of(cell, seam),
                    drawn_gap: drawn_gap(cell, seam),
                })
                .collect(),
        }
    }
}

/// The searches before a seam that meet their faces: no other finds anything.
fn touches(cell: &Cell, seam: &Seam) -> Vec<Touch> {
    let misses = |touch: &Touch| {
        let joint = cell.seams.iter().filter(|other| is_one_joint(seam, other));
        let known = joint.flat_map(|other| &other.searches);
        known.into_iter().any(|search| (search.face, search.at) == *touch && !search.meets_its_face())
    };
    seam.searched.iter().copied().filter(|touch| !misses(touch)).collect()
}
