//! Decides what is said of corners that the arm rounds in the air, or could.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, counted, fixed, rounded};
use crate::production::RoundingEffect;

/// What it saves to round corners between air moves instead of stopping there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoundingFindings {
    /// Whether the cell file asks for it, so that the times count it; else it was only tried.
    pub asked: bool,
    /// How far from a place the wire end may be where it leaves the way there.
    pub distance_mm: f64,
    /// Places between two air moves.
    pub places: usize,
    /// Of those, passed without stopping.
    pub passed: usize,
    /// How much less the arm needs in a cycle.
    pub arm_saves_s: f64,
    /// How much shorter the mean cycle is.
    pub cycle_saves_s: f64,
}

impl From<&RoundingEffect> for RoundingFindings {
    fn from(effect: &RoundingEffect) -> Self {
        Self {
            asked: effect.asked,
            distance_mm: rounded(to_mm(effect.distance), 6),
            places: effect.places,
            passed: effect.passed,
            arm_saves_s: rounded(effect.arm, 6),
            cycle_saves_s: rounded(effect.period, 6),
        }
    }
}

impl RoundingFindings {
    /// In words.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let places = counted(self.places as u64, "place");
        let (distance, passed) = (unit.distance(self.distance_mm), self.passed);
        let saves = format!(
            "{} s less of the arm's time and {} s less of the mean cycle",
            fixed(self.arm_saves_s, 1),
            fixed(self.cycle_saves_s, 1)
        );
        if self.asked {
            format!(
                "of {places} between air moves the arm passes {passed} without stopping, the corner rounded within {distance} and \
                 shown to be clear: {saves} than with a stop at each; the controller must round no wider"
            )
        } else {
            format!(
                "the arm stops at {places} between air moves; with corners rounded within {distance} (air_rounding_mm = {}) it \
                 could pass {passed} of them: {saves}",
                self.distance_mm
            )
        }
    }
}
