//! Decides what a cell still has from the first visit: its table, and which rows of it are drawn by now.

use super::{RoughJob, StationId};

/// The table of the first visit beside the cell that comes of it.
#[derive(Clone, Debug)]
pub struct FirstVisit {
    /// The table.
    pub table: RoughJob,
    /// For each of its kinds of seam the names of the station's seams that it was drawn as; none of one that is not drawn yet.
    pub drawn: Vec<Vec<String>>,
    /// The station whose load it is.
    pub station: StationId,
}
