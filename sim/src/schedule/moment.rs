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
        let mut start = 0.0;
        for (index, visit) in self.visits.iter().enumerate() {
            let at = |event: &'_ Event| t - (start + event.start);
            // Events of a visit follow one another.
            let begun = visit.events.partition_point(|event| at(event) >= 0.0);
            let (before, after) = visit.events.split_at(begun);
            let takes_time = |event: &&Event| event.duration > 0.0;
            if let Some(event) = before.iter().rev().find(takes_time) {
                last = Some((index, event, at(event)));
            }
            let changeover = Some(&visit.changeover).filter(takes_time);
            match (after.iter().find(takes_time), changeover) {
                (None, None) => {}
                (None, Some(event)) if at(event) >= 0.0 => last = Some((index, event, at(event))),
                (Some(event), _) | (None, Some(event)) => {
                    last = last.or_else(|| Some((index, event, at(event))));
                    break;
                }
            }
            start += visit.duration() + visit.changeover.duration;
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
