//! Decides what is said of the time that limited jerk costs.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_percent;
use serde::{Deserialize, Serialize};

use super::words::{fixed, rounded};
use crate::schedule::{EventKind, Schedule};

/// Excess from which on it is told, percent.
const FELT_PERCENT: f64 = 5.0;

/// What the arm's moves off the weld take, and what they would if jerk were not limited. No way within the limits is shorter than that, so
/// the excess is the most that their timing can be from the fastest one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JerkFindings {
    /// All moves of a cycle, every limit of speed, acceleration and jerk kept.
    pub moves_s: f64,
    /// The least that speeds and accelerations alone allow on the same ways.
    pub jerk_free_s: f64,
    /// How much more the first is.
    pub excess_percent: f64,
}

impl JerkFindings {
    /// Of a round; none where nothing moves.
    pub(super) fn new(schedule: &Schedule) -> Option<Self> {
        let events = schedule.visits.iter().flat_map(|visit| &visit.events);
        let moves = events.filter(|event| !matches!(event.kind, EventKind::Weld | EventKind::CraterBack));
        let times = moves.filter_map(|event| Some((event.duration, event.jerk_free()?)));
        let (all, least) = times.fold((0.0, 0.0), |sum, (all, least)| (sum.0 + all, sum.1 + least));
        (least > 0.0).then(|| Self {
            moves_s: rounded(all, 6),
            jerk_free_s: rounded(least, 6),
            excess_percent: rounded(to_percent(all / least - 1.0), 6),
        })
    }

    /// Whether it is worth a line: a twentieth or more, judgement.
    #[must_use]
    pub fn is_felt(&self) -> bool {
        self.excess_percent >= FELT_PERCENT
    }

    /// In words.
    #[must_use]
    pub fn sentence(&self) -> String {
        format!(
            "of {} s of moves off the weld, {} s come of limited jerk: {} % over the {} s that speeds and accelerations alone allow",
            fixed(self.moves_s, 1),
            fixed(self.moves_s - self.jerk_free_s, 1),
            fixed(self.excess_percent, 1),
            fixed(self.jerk_free_s, 1)
        )
    }
}
