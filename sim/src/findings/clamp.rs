//! Decides what is said of a clamp that cannot open.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, rounded};
use crate::cell::Cell;
use crate::plan::ClampBlocked;

/// What a clamp runs into that opens while the arm is at its station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BlockedClamp {
    /// The station.
    pub station: String,
    /// The clamp.
    pub clamp: String,
    /// What it runs into.
    pub body: String,
    /// How far at most.
    pub overlap_mm: f64,
}

impl BlockedClamp {
    pub(super) fn new(cell: &Cell, blocked: &ClampBlocked) -> Self {
        Self {
            station: cell.stations[blocked.station.0].name.clone(),
            clamp: blocked.clamp.clone(),
            body: blocked.body.clone(),
            overlap_mm: rounded(to_mm(blocked.overlap), 6),
        }
    }

    /// What it runs into and how far; no full stop.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let Self { station, clamp, body, overlap_mm } = self;
        format!("{station}: {clamp}, as it opens, runs {} into {body}", unit.distance(*overlap_mm))
    }
}
