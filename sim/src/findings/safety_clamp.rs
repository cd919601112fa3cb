//! Decides what is said of clamps that open between welds where people may stand.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, millimetres};
use crate::cell::Cell;
use crate::safety::clamps::ClampAtPlace;

/// The clamp that comes nearest to an operator place as it opens between welds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClampAtPlaceFindings {
    /// The place.
    pub place: String,
    /// The clamp.
    pub clamp: String,
    /// Whether it does not come into the place.
    pub holds: bool,
    /// Distance; negative where it comes into the place.
    pub distance_mm: f64,
    /// Where in the world.
    pub point_mm: [f64; 3],
}

impl ClampAtPlaceFindings {
    pub(super) fn new(cell: &Cell, clamp: &ClampAtPlace) -> Self {
        Self {
            place: cell.zones[clamp.place.0].name.clone(),
            clamp: clamp.clamp.clone(),
            holds: clamp.distance > 0.0,
            distance_mm: millimetres(clamp.distance),
            point_mm: [clamp.point.x, clamp.point.y, clamp.point.z].map(millimetres),
        }
    }

    /// In words.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let Self { place, clamp, .. } = self;
        if self.holds {
            let distance = unit.distance(self.distance_mm);
            return format!(
                "{place}: of clamps that open between welds {clamp} comes nearest, to {distance} from it"
            );
        }
        format!(
            "{place}: {clamp} comes {} into it as it opens between welds, which no device of this file stops",
            unit.distance(-self.distance_mm)
        )
    }
}
