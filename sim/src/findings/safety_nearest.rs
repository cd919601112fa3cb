//! Decides what is said of what comes nearest to a zone, and when.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{instant, millimetres, rounded};
use crate::safety::gather::Nearest;

/// What came nearest, and when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NearestFindings {
    /// The body.
    pub body: String,
    /// Distance; negative where it passes, enters, or (of a space) lies inside by so much.
    pub distance_mm: f64,
    /// When, from the start of the round; of a stop, when it was ordered.
    pub at_s: f64,
    /// The same from the start of the cycle, as in timeline.csv, where tables turn in that while the arm is elsewhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cycle_s: Option<f64>,
    /// How long after the order to stop; 0 on the path.
    pub after_stop_order_s: f64,
    /// Where in the world.
    pub point_mm: [f64; 3],
}

impl NearestFindings {
    pub(super) fn new(nearest: &Nearest) -> Self {
        Self {
            body: nearest.body.clone(),
            distance_mm: millimetres(nearest.distance),
            at_s: rounded(nearest.t, 6),
            cycle_s: nearest.in_cycle.map(|t| rounded(t, 6)),
            after_stop_order_s: rounded(nearest.stopping_for, 6),
            point_mm: [nearest.point.x, nearest.point.y, nearest.point.z].map(millimetres),
        }
    }

    /// Body and time in words.
    pub(super) fn when(&self) -> String {
        let from = if self.after_stop_order_s > 0.0 { "stopping from" } else { "at" };
        format!("{from} {}", instant(self.at_s, self.cycle_s))
    }
}
