//! Decides what is shown of the search: how finely was looked, and by what the way was chosen among those that hold.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_deg, to_mm};
use serde::{Deserialize, Serialize};

use super::words::rounded;
use crate::plan::{Effort, Weights};

/// How was searched.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Search {
    /// Sampling and counts.
    pub effort: Effort,
    /// What a way is charged for: they steer the choice among ways that hold and decide no answer.
    pub weights: SearchWeights,
    /// Where random streams begin; nothing is drawn at random so far, so no result depends on it.
    pub seed: u64,
}

/// What a way over a seam is charged for, for each metre of seam where nothing else is said.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SearchWeights {
    /// Each of work angle, travel angle and CTWD off its aim by its whole tolerance.
    pub off_aim_per_m: f64,
    /// An axis at the end of its range, falling to nothing at `near_limit_deg`.
    pub axis_limit_per_m: f64,
    /// The same for hose limits.
    pub hose_limit_per_m: f64,
    /// Axis 5 at the straight wrist, falling to nothing at `near_singular_deg`.
    pub singular_per_m: f64,
    /// Clearance at what is asked, falling to nothing at `near_body_mm` more.
    pub clearance_per_m: f64,
    /// Axis travel, for each second that the axis would need at its speed limit.
    pub axis_travel_per_s: f64,
    /// Change of the turn about the wire, for each radian.
    pub turn_change_per_rad: f64,
    /// Axes away from home where a seam begins, for each second as `axis_travel_per_s`.
    pub from_home_per_s: f64,
    /// See `axis_limit_per_m`.
    pub near_limit_deg: f64,
    /// See `singular_per_m`.
    pub near_singular_deg: f64,
    /// See `clearance_per_m`.
    pub near_body_mm: f64,
}

impl From<Weights> for SearchWeights {
    fn from(weights: Weights) -> Self {
        Self {
            off_aim_per_m: weights.off_aim,
            axis_limit_per_m: weights.axis_limit,
            hose_limit_per_m: weights.hose_limit,
            singular_per_m: weights.singular,
            clearance_per_m: weights.clearance,
            axis_travel_per_s: weights.axis_travel,
            turn_change_per_rad: weights.turn_change,
            from_home_per_s: weights.from_home,
            near_limit_deg: rounded(to_deg(weights.near_limit), 6),
            near_singular_deg: rounded(to_deg(weights.near_singular), 6),
            near_body_mm: rounded(to_mm(weights.near_body), 6),
        }
    }
}
