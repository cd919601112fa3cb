//! Decides on which whole turn the value of an axis that turns without end is told: as path.csv, which counts on from row to row, has it.

use super::words::rounded;
use super::{SeamFindings, TaughtMove, external_column_names};
use crate::cell::{Cell, SeamId};
use crate::schedule::{EventKind, PathRow};
use crate::units;

/// A whole turn, degrees.
const TURN: f64 = 360.0;

/// Tells the points of the seam with this id as the rows of path.csv have them where it is welded.
pub(super) fn count(cell: &Cell, id: SeamId, seam: &mut SeamFindings, path: &[PathRow]) {
    let begins = |row: &&PathRow| row.seam == Some(id) && row.phase == EventKind::Weld;
    let Some(row) = path.iter().find(begins) else { return };
    let Some(first) = seam.taught.iter().position(|point| point.kind == TaughtMove::Approach) else { return };
    let endless = cell.frames.axes.iter().zip(external_column_names(cell)).enumerate();
    for (axis, (_, column)) in endless.filter(|(_, (axis, _))| axis.is_endless()) {
        let Some(planned) = seam.taught[first].external.get(&column) else { continue };
        let turns = ((units::to_deg(row.external[axis]) - planned) / TURN).round();
        for value in seam.taught.iter_mut().filter_map(|point| point.external.get_mut(&column)) {
            *value = rounded(*value + turns * TURN, 6);
        }
    }
}
