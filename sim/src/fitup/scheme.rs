//! Decides what is asked about: how parts are held, what varies, and what each seam is given to find its joint.
//!
//! A scheme is taken from a cell and may be changed before the question is asked again: that is how remedies are weighed.

use crate::cell::{Body, Cell, Variation};

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

/// How a seam finds its joint.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Treatment {
    /// Directions of touch search before the weld, 0 to 3.
    pub searches: u8,
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
                .map(|seam| Treatment { searches: seam.searched, tracked: seam.procedure.tracked.is_some() })
                .collect(),
        }
    }
}
