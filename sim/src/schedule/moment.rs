//! Decides what happens at one instant of the round, and how every axis stands and moves then.
//!
//! Time runs as in path.csv: the arm goes round without waiting for anyone. `production::round_time` leads from the time of a
//! cycle, waits included, to the time of the round.

use super::{Event, EventKind, Motion, Schedule};
use crate::cell::{SeamId, StationId};

/// One instant of the round.
#[derive(Clone, Debug)]
pub struct Moment<'s> {
    /// The event that happens.
    pub event: &'s Event,
    /// What it is.
    pub phase: EventKind,
    /// Index of the visit; the change of external axes to the next belongs to the one before it.
    pub visit: usize,
    /// The station that is visited; while external axes index, the one they leave.
    pub station: StationId,
    /// The seam that is served; of an air move the one it leads to.
    pub seam: Option<SeamId>,
    /// Time since the event began, s.
    pub since: f64,
    /// How arm and external axes stand and move; `None` where nothing was planned (a seam given by length only).
    pub motion: Option<Motion>,
}

impl Schedule {
    /// What happens `t` seconds after the start of the round; the first instant before it, the last one after its end.
    ///
    /// At the instant at which one event ends and the next begins it is the next one. `None` where nothing takes any time.
    #[must_use]
    pub fn at(&self, t: f64) -> Option<Moment<'_>> {
        let mut last = None;
        for ((index, visit), start) in self.visits.iter().enumerate().zip(self.round()) {
            for event in visit.events.iter().chain([&visit.changeover]).filter(|event| event.duration > 0.0) {
                let since = t - (start + event.start);
                if since < 0.0 && last.is_some() {
                    return last.map(|(visit, event, since)| self.moment(visit, event, since));
                }
                last = Some((index, event, since));
            }
        }
        last.map(|(visit, event, since)| self.moment(visit, event, since))
    }

    fn moment<'s>(&self, visit: usize, event: &'s Event, since: f64) -> Moment<'s> {
        let since = since.clamp(0.0, event.duration);
        Moment {
            event,
            phase: event.kind,
            visit,
            station: self.visits[visit].station,
            seam: event.seam,
            since,
            motion: event.motion_at(since),
        }
    }
}
