//! Decides what it saves to round corners between air moves instead of stopping at the places between.

use super::cycle::{Cycle, cycle};
use crate::cell::Cell;
use crate::plan::{Plan, tried_distance};
use crate::schedule::{EventKind, Schedule, schedule};

/// What rounding saves in a cycle, against stopping at every place between two air moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundingEffect {
    /// Whether the cell asks for it, so that its times count it; else it was only tried.
    pub asked: bool,
    /// How far from a place the wire end may be where it leaves the way there, m.
    pub distance: f64,
    /// Places between two air moves.
    pub places: usize,
    /// Of those, passed without stopping.
    pub passed: usize,
    /// How much less the arm needs in a cycle, s.
    pub arm: f64,
    /// How much shorter the mean cycle is, s.
    pub period: f64,
}

/// What rounding saves; `as_planned`: the cycle of `schedule`. None where the arm stops nowhere between two air moves.
#[must_use]
pub fn rounding_effect(
    cell: &Cell,
    plan: &Plan,
    schedule: &Schedule,
    as_planned: &Cycle,
) -> Option<RoundingEffect> {
    let places = plan.visits.iter().map(|visit| visit.places_between().count()).sum();
    // Rounded corners keep no tool speed.
    if places == 0 || cell.arm.air_tool_speed.is_some() {
        return None;
    }
    let asked = cell.arm.air_rounding > 0.0;
    let distance = if asked { cell.arm.air_rounding } else { tried_distance() };
    let other = if asked { plan.stopping() } else { plan.rounded(cell, distance) };
    let other_schedule = self::schedule(cell, &other);
    let other_cycle = cycle(cell, &other_schedule).ok()?;
    let (stopping, rounded) = if asked {
        ((&other_schedule, &other_cycle), (schedule, as_planned))
    } else {
        ((schedule, as_planned), (&other_schedule, &other_cycle))
    };
    let arm = |cycle: &Cycle| cycle.stations.iter().map(|station| station.arm).sum::<f64>();
    let moves = |schedule: &Schedule| {
        let events = schedule.visits.iter().flat_map(|visit| &visit.events);
        events.filter(|event| event.kind == EventKind::AirMove).count()
    };
    Some(RoundingEffect {
        asked,
        distance,
        places,
        passed: moves(stopping.0).saturating_sub(moves(rounded.0)),
        arm: arm(stopping.1) - arm(rounded.1),
        period: stopping.1.long_run - rounded.1.long_run,
    })
}
