//! Decides how long the arm is at a station with other factors: what the schedule says, without timing all ways anew where only times of
//! standing differ.

use std::cell::RefCell;

use crate::cell::{Cell, StationId};
use crate::plan::Plan;
use crate::schedule::{EventKind, visit_of};

/// Times of whole stations with changing factors.
pub(super) struct StationTimes<'m> {
    plan: Option<&'m Plan>,
    /// Whether no seam waits for another to cool: then standing longer somewhere lengthens the whole by as much.
    adds_up: bool,
    known: RefCell<Vec<Known>>,
}

/// A station timed with the factors of motion that are in `motion`.
struct Known {
    station: StationId,
    motion: Vec<u64>,
    /// Time of all that is neither coming to rest nor an arc start, s.
    moving: f64,
    /// How often the arm comes to rest.
    rests: f64,
    /// Indices of the seams whose arcs start.
    starts: Vec<usize>,
}

/// Stations that are kept in mind; trials about one place need two for every factor.
const KEPT: usize = 64;

impl<'m> StationTimes<'m> {
    pub(super) fn new(cell: &Cell, plan: Option<&'m Plan>) -> Self {
        let waits = |one: &crate::cell::Seam| cell.seams.iter().any(|other| one.cools_before(other) > 0.0);
        Self { plan, adds_up: !cell.seams.iter().any(waits), known: RefCell::default() }
    }

    /// The arm's time at a station of `cell`, s; 0 without a plan that visits it.
    pub(super) fn time(&self, cell: &Cell, station: StationId) -> f64 {
        let Some(plan) = self.plan else { return 0.0 };
        if !self.adds_up {
            return visit_of(cell, plan, station).map_or(0.0, |visit| visit.duration());
        }
        let motion = motion(cell);
        let mut known = self.known.borrow_mut();
        if let Some(known) = known.iter().find(|known| known.station == station && known.motion == motion) {
            return known.time(cell);
        }
        // A time that is not above 0 is no event: it could not be counted.
        let mut counted = cell.clone();
        counted.arm.settle = 1.0;
        counted.seams.iter_mut().for_each(|seam| seam.procedure.arc_start = 1.0);
        let Some(visit) = visit_of(&counted, plan, station) else { return 0.0 };
        let of = |kind: EventKind| visit.events.iter().filter(move |event| event.kind == kind);
        let rests = of(EventKind::Settle).count() as f64;
        let starts: Vec<usize> =
            of(EventKind::ArcStart).filter_map(|event| event.seam).map(|seam| seam.0).collect();
        let moving = visit.duration() - rests - starts.len() as f64;
        let new = Known { station, motion, moving, rests, starts };
        let time = new.time(cell);
        if known.len() == KEPT {
            known.remove(0);
        }
        known.push(new);
        time
    }
}

impl Known {
    fn time(&self, cell: &Cell) -> f64 {
        let starts: f64 = self.starts.iter().map(|seam| cell.seams[*seam].procedure.arc_start).sum();
        self.moving + self.rests * cell.arm.settle + starts
    }
}

/// What ways through the air depend on, to the bit.
fn motion(cell: &Cell) -> Vec<u64> {
    let axes = cell.arm.arm.axes().iter();
    let of_axes = axes.flat_map(|axis| [axis.max_acceleration.value, axis.max_jerk.value]);
    [cell.arm.air_move_share.value, cell.arm.pace_power]
        .into_iter()
        .chain(of_axes)
        .map(f64::to_bits)
        .collect()
}
