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

pub use quickest::{Applied, Offered, Quickest, RulesKept, quickest};

use rayon::prelude::*;

use crate::cell::{Cell, SeamId, StationId};
use crate::plan::{Passages, Plan, Searched, Tours};
use crate::schedule::{self, Schedule};
use round::Round;

/// The arm's whole way over each station: by the usual ways in the order of the file's seams, or, where a station's file says an order,
/// by those ways that make the visit quickest in that order: simple moves through the air lead along them, so where the usual ways are
/// quicker by searched ones, those stand.
#[must_use]
pub fn plan(cell: &Cell, searched: &Searched) -> Plan {
    if cell.stations.iter().all(|station| station.weld_order.is_none()) {
        return searched.plan(cell);
    }
    let passages = searched.passages(cell);
    plan_along(cell, searched, &passages, ways_in_order(cell, searched, &passages, &|_| None))
}

/// The arm's whole way by these ways, but at stations where the usual ones are quicker in the same order.
fn plan_along(
    cell: &Cell,
    searched: &Searched,
    passages: &Passages<'_>,
    mut by_station: Vec<Option<Ways>>,
) -> Plan {
    let usual = searched.plan(cell);
    if by_station.iter().all(Option::is_none) {
        return usual;
    }
    let chosen = searched.plan_along(cell, &Tours { by_station: by_station.clone(), passages });
    let [times, usual_times] = [&chosen, &usual].map(|plan| schedule::schedule(cell, plan));
    let mut all_chosen = true;
    for (index, ways) in by_station.iter_mut().enumerate() {
        let station = StationId(index);
        let left_out = |plan: &Plan| {
            let of_station = plan.visits.iter().filter(|visit| visit.station == station);
            of_station.map(|visit| visit.left_out.len()).sum::<usize>()
        };
        let is_quicker = arm_time(&usual_times, station) < arm_time(&times, station);
        if ways.is_some() && is_quicker && left_out(&usual) <= left_out(&chosen) {
            *ways = None;
            all_chosen = false;
        }
    }
    if all_chosen { chosen } else { searched.plan_along(cell, &Tours { by_station, passages }) }
}

/// The arm's time at a station, with that of the external axes to the next, s.
fn arm_time(schedule: &Schedule, station: StationId) -> f64 {
    let of_station = schedule.visits.iter().filter(|visit| visit.station == station);
    of_station.map(|visit| visit.duration() + visit.changeover.duration).sum()
}

/// Seams and which of their ways, in their order.
type Ways = Vec<(SeamId, usize)>;

/// By station whose file says an order the quickest ways in it; `passages` may be those of a cell that differs in order and directions
/// alone. `known`: the quickest ways over a station in its order, where they are.
fn ways_in_order(
    cell: &Cell,
    searched: &Searched,
    passages: &Passages<'_>,
    known: &(dyn Fn(StationId) -> Option<Ways> + Sync),
) -> Vec<Option<Ways>> {
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
    by_station.collect()
}
