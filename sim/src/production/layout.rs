//! Decides what kind of cell it is, from where its stations stand.

use crate::cell::frames::AxisKind;
use crate::cell::{Cell, Station, StationId};
use crate::schedule::Schedule;

/// How stations, arm and person are arranged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    /// One fixture, loaded and welded in turn.
    OneFixture,
    /// Two stations that the external axis with this index swaps: one is loaded while the other is welded.
    TwoSidedTable {
        /// Index of the table's axis.
        axis: usize,
    },
    /// Two or more fixtures that stand where they are; arm and person go from one to the next.
    FixedFixtures,
}

/// Why there is no cycle time.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CycleNotChecked {
    /// Nothing is welded.
    #[error("no seam could be timed")]
    NothingTimed,
    /// Only two sides of a table are understood.
    #[error(
        "the external axis `{axis}` swaps some of {stations} stations: only a table with two stations and nothing else is understood"
    )]
    ManyAroundTable {
        /// The table's axis.
        axis: String,
        /// Stations of the cell.
        stations: usize,
    },
    /// The table turns while the person would be loading.
    #[error(
        "the table axis `{axis}` moves while station `{station}` is welded, so the other side cannot be loaded meanwhile"
    )]
    TableMovesWhileWelding {
        /// The table's axis.
        axis: String,
        /// The station that is welded.
        station: String,
    },
}

impl Layout {
    /// The layout of the cell.
    ///
    /// Two stations that hang below the same turning axis and are welded at different values of it are the two sides of a
    /// table. Stations without such a partner stand fixed.
    ///
    /// # Errors
    /// Where the cycle of such a cell is not understood.
    pub fn of(cell: &Cell, schedule: &Schedule) -> Result<Self, CycleNotChecked> {
        let stations = &cell.stations;
        let table = stations
            .iter()
            .enumerate()
            .flat_map(|(index, one)| stations[index + 1..].iter().map(move |other| (one, other)))
            .find_map(|(one, other)| swapping_axis(cell, one, other));
        let Some(axis) = table else {
            return Ok(if stations.len() == 1 { Self::OneFixture } else { Self::FixedFixtures });
        };
        let axis_name = || cell.frames.axes[axis].name.clone();
        if stations.len() > 2 {
            return Err(CycleNotChecked::ManyAroundTable { axis: axis_name(), stations: stations.len() });
        }
        let moving =
            |visit: &&crate::schedule::VisitSchedule| visit.events.iter().any(|e| e.moves_external(axis));
        match schedule.visits.iter().find(moving).map(|visit| visit.station) {
            Some(StationId(index)) => Err(CycleNotChecked::TableMovesWhileWelding {
                axis: axis_name(),
                station: stations[index].name.clone(),
            }),
            None => Ok(Self::TwoSidedTable { axis }),
        }
    }
}

fn swapping_axis(cell: &Cell, one: &Station, other: &Station) -> Option<usize> {
    (0..cell.frames.axes.len()).find(|&axis| {
        cell.frames.axes[axis].kind == AxisKind::Turn
            && cell.frames.moves_with(one.frame, axis)
            && cell.frames.moves_with(other.frame, axis)
            && one.external[axis] != other.external[axis]
    })
}
