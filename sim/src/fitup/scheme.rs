//! Decides what is asked about: how parts are held, what varies, and what each seam is given to find its joint.
//!
//! A scheme is taken from a cell and may be changed before the question is asked again: that is how remedies are weighed.

use crate::cell::{Body, Cell, SearchedFace, Variation};

/// How parts are held and what varies.
#[derive(Clone, Debug)]
pub struct Scheme {
    /// What holds the parts.
    pub bodies: Vec<Body>,
    /// What varies.
    pub variation: Variation,
    /// What each seam of the cell is given.
    pub treatments: Vec<Treatment>,
}

/// A touch search of a face at an arc length, m.
pub type Touch = (SearchedFace, f64);

/// How a seam finds its joint.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Treatment {
    /// Touch searches before the weld: which face, at which arc length (m).
    pub touches: Vec<Touch>,
    /// Whether the arc is tracked.
    pub tracked: bool,
}

impl Scheme {
    /// As the cell has it.
    #[must_use]
    pub fn of(cell: &Cell) -> Self {
        Self {
            bodies: cell.bodies.clone(),
            variation: cell.variation,
            treatments: cell
                .seams
                .iter()
                .map(|seam| Treatment {
                    touches: seam.searched.clone(),
                    tracked: seam.procedure.tracked.is_some(),
                })
                .collect(),
        }
    }
}
