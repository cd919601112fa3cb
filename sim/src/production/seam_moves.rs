//! Decides what it would gain to weld a seam at another station.
//!
//! Everything that the arm does for the seam (its ways, its air move, gas, arc) is taken to last as long there. Whether the torch
//! reaches the seam there is not asked: that takes a cell file in which it stands there.

use super::cycle::Cycle;
use crate::cell::{SeamId, StationId};
use crate::schedule::Schedule;

/// A seam welded at another station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamMove {
    /// The seam.
    pub seam: SeamId,
    /// Where it would be welded.
    pub to: StationId,
    /// What the arm does for it, s.
    pub duration: f64,
    /// How much shorter the plain period would be, s; above 0.
    pub gain: f64,
}

/// Gains below this are rounding, s.
const LEAST_GAIN: f64 = 0.01;

/// Every single move that makes the period shorter, the best first; of equals the first in the cell.
#[must_use]
pub fn seam_moves(schedule: &Schedule, cycle: &Cycle) -> Vec<SeamMove> {
    let mut moves = Vec::new();
    for (from, visit) in schedule.visits.iter().enumerate() {
        let mut seams: Vec<SeamId> = visit.events.iter().filter_map(|event| event.seam).collect();
        seams.sort_unstable();
        seams.dedup();
        for seam in seams {
            let of_seam = visit.events.iter().filter(|event| event.seam == Some(seam));
            let duration: f64 = of_seam.map(|event| event.duration).sum();
            for (to, station) in cycle.stations.iter().enumerate().filter(|(to, _)| *to != from) {
                let mut stations = cycle.stations.clone();
                stations[from].arm = (stations[from].arm - duration).max(0.0);
                stations[to].arm += duration;
                let gain = cycle.period - cycle.period_of(&stations);
                if gain > LEAST_GAIN {
                    moves.push(SeamMove { seam, to: station.station, duration, gain });
                }
            }
        }
    }
    moves.sort_by(|one, other| other.gain.total_cmp(&one.gain));
    moves
}
