//! Decides what regular stops take of the arm's time: their work, the way to their device, and what of both a turning table hides.

use super::cycle::Cycle;
use super::layout::Layout;
use crate::cell::{Cell, StationId};
use crate::schedule::Schedule;

/// A regular stop, after the weld of each station.
#[derive(Clone, Debug)]
pub struct StopTimes {
    /// Index into the cell's service stops.
    pub service: usize,
    /// After how many loads it comes.
    pub every_loads: u32,
    /// One for each visit, in order.
    pub after: Vec<StopTime>,
    /// What one such stop adds to the long run, s: what neither the table's turn nor waiting for the person takes up.
    pub costs: f64,
}

/// A regular stop once, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StopTime {
    /// The work itself.
    pub work: f64,
    /// The way there and back; 0 where the file names no place, or no clear way was found.
    pub ways: f64,
    /// Of both, what happens while the table turns.
    pub in_turn: f64,
}

impl StopTime {
    /// What the arm needs while the table stands.
    #[must_use]
    pub fn arm(&self) -> f64 {
        self.work + self.ways - self.in_turn
    }
}

/// Every regular stop; what each costs is left at 0.
pub(super) fn stops(cell: &Cell, schedule: &Schedule, layout: &Layout) -> Vec<StopTimes> {
    // At several places the arm does not stand still for a turn that it could go away in.
    let at_table = layout.only_table().is_some();
    let all = cell.service.iter().enumerate().filter(|(_, stop)| stop.every_loads > 0);
    all.map(|(service, stop)| {
        let after = schedule.visits.iter().enumerate().map(|(index, visit)| {
            let way = schedule.devices.iter().find(|way| way.service == service && way.visit == index);
            let ways = way.map_or(0.0, |way| way.ways);
            let hides = at_table && way.is_some_and(|way| way.in_turn);
            let in_turn = if hides { (stop.duration + ways).min(visit.changeover.duration) } else { 0.0 };
            StopTime { work: stop.duration, ways, in_turn }
        });
        StopTimes { service, every_loads: stop.every_loads, after: after.collect(), costs: 0.0 }
    })
    .collect()
}

/// A part of a regular stop whose way is timed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ServiceStep {
    /// Index into the cell's service stops.
    pub service: usize,
    /// The station that it follows.
    pub station: StationId,
    /// Whether the arm is at the device; else it is on its way there or home.
    pub works: bool,
    /// s from the start of the cycle.
    pub start: f64,
    /// s.
    pub duration: f64,
}

/// Every stop whose way is timed as it goes after each station: way, work, way. They come after the cycle, one after the other, since
/// none is due in most cycles; what of one a table's turn hides is not taken off.
#[must_use]
pub fn service_steps(cell: &Cell, schedule: &Schedule, cycle: &Cycle) -> Vec<ServiceStep> {
    let mut steps = Vec::new();
    let mut start = cycle.period;
    for way in &schedule.devices {
        let station = schedule.visits[way.visit].station;
        let there = way.ways / 2.0;
        for (works, duration) in [(false, there), (true, cell.service[way.service].duration), (false, there)]
        {
            steps.push(ServiceStep { service: way.service, station, works, start, duration });
            start += duration;
        }
    }
    steps
}
