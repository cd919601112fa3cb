//! Decides in which order the seams of a station are welded, which way round, and by which of the ways over them: as the file says, or
//! so that the arm's time is least under the rules of the file.
//!
//! The sequence belongs to the welding engineer: the file's order is kept until somebody asks for another. Distortion is not predicted.
//!
//! - `tour`: the quickest order of tasks; knows nothing of cells
//! - `round`: one station as such tasks
//! - `quickest`: what is offered

mod quickest;
mod round;
mod tour;

pub use quickest::{Offered, Quickest, RulesKept, quickest};

use rayon::prelude::*;

use crate::cell::{Cell, SeamId, StationId};
use crate::plan::{Passages, Plan, Searched, Tours};
use round::Round;

/// The arm's whole way over each station: by the usual ways in the order of the file's seams, or, where a station's file says an order,
/// by those ways that make the visit quickest in that order.
#[must_use]
pub fn plan(cell: &Cell, searched: &Searched) -> Plan {
    if cell.stations.iter().all(|station| station.weld_order.is_none()) {
        return searched.plan(cell);
    }
    plan_by(cell, searched, &searched.passages(cell), &|_| None)
}

/// Seams and which of their ways, in their order.
type Ways = Vec<(SeamId, usize)>;

/// The same by what leads from seam to seam; `passages` may be those of a cell that differs in order and directions alone. `known`: the
/// quickest ways over a station in its order, where they are.
fn plan_by(
    cell: &Cell,
    searched: &Searched,
    passages: &Passages<'_>,
    known: &(dyn Fn(StationId) -> Option<Ways> + Sync),
) -> Plan {
    let by_station = (0..cell.stations.len()).into_par_iter().map(|index| {
        cell.stations[index].weld_order.as_ref()?;
        let station = StationId(index);
        if let Some(ways) = known(station) {
            return Some(ways);
        }
        let holding: Vec<SeamId> = cell
            .weld_order(station)
            .into_iter()
            .filter(|seam| searched.ways(*seam).next().is_some())
            .collect();
        let order: Vec<(SeamId, usize)> = holding.iter().map(|seam| (*seam, 0)).collect();
        let found = Round::new(cell, passages, station, &holding, &[searched]).in_order(&order)?;
        Some(found.stops.into_iter().map(|(seam, (_, way))| (seam, way)).collect())
    });
    let by_station = by_station.collect();
    searched.plan_along(cell, &Tours { by_station, passages })
}
