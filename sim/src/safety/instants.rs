//! Decides at which instants of the schedule is looked: those of the path's rows, with the exact rates of every axis.

use crate::cell::{SeamId, StationId};
use crate::schedule::{EventKind, Motion, PathRow, Schedule};

/// One instant of the round.
#[derive(Clone, Debug)]
pub struct Instant {
    /// s from the start of the round.
    pub t: f64,
    /// What is happening.
    pub phase: EventKind,
    /// The station being visited; while external axes index, the one they leave.
    pub station: StationId,
    /// The seam it serves.
    pub seam: Option<SeamId>,
    /// How every axis stands and moves.
    pub motion: Motion,
}

impl Instant {
    /// The instant `t` seconds after the start of the round; none where nothing was planned then.
    #[must_use]
    pub fn at(schedule: &Schedule, t: f64) -> Option<Self> {
        let moment = schedule.at(t)?;
        let (phase, station, seam) = (moment.phase, moment.station, moment.seam);
        Some(Self { t, phase, station, seam, motion: moment.motion? })
    }

    /// Those of all rows, in their order.
    #[must_use]
    pub fn all(schedule: &Schedule, rows: &[PathRow]) -> Vec<Self> {
        rows.iter().filter_map(|row| Self::at(schedule, row.t)).collect()
    }
}
