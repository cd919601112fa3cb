//! Decides at which instants of the schedule is looked: those of the path's rows, with the exact rates of every axis, and after the round
//! those of the ways to devices that serve the torch.

use crate::cell::{SeamId, StationId};
use crate::schedule::{EventKind, Motion, PathRow, ROW_INTERVAL, Schedule};

/// One instant of the round, or of a way to a device after it.
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
    /// Index into the cell's service stops, where the arm is on the way to a device, at it, or on the way back.
    pub service: Option<usize>,
    /// How every axis stands and moves.
    pub motion: Motion,
}

impl Instant {
    /// The instant `t` seconds after the start of the round; after the round that of the way to a device. None where nothing was
    /// planned then.
    #[must_use]
    pub fn at(schedule: &Schedule, t: f64) -> Option<Self> {
        let begun = |way: &&crate::schedule::ServiceWay| way.start < t;
        if let Some(way) = schedule.service_ways.iter().rev().find(begun) {
            return Some(Self {
                t,
                phase: EventKind::AirMove,
                station: way.station,
                seam: None,
                service: Some(way.service),
                motion: way.motion_at(t)?,
            });
        }
        let moment = schedule.at(t)?;
        let (phase, station, seam) = (moment.phase, moment.station, moment.seam);
        Some(Self { t, phase, station, seam, service: None, motion: moment.motion? })
    }

    /// Those of all rows of the round, in their order.
    #[must_use]
    pub fn of_round(schedule: &Schedule, rows: &[PathRow]) -> Vec<Self> {
        rows.iter().filter_map(|row| Self::at(schedule, row.t)).collect()
    }

    /// Those of the round, then those of the ways to devices.
    #[must_use]
    pub fn all(schedule: &Schedule, rows: &[PathRow]) -> Vec<Self> {
        let ways = schedule.service_ways.iter().flat_map(|way| way.times(ROW_INTERVAL));
        let after = ways.filter_map(|t| Self::at(schedule, t));
        Self::of_round(schedule, rows).into_iter().chain(after).collect()
    }
}
