//! Decides what can put the wire off the joint, and by which law each of these errors is spread.
//!
//! A tolerance `±T` is a normal error with standard deviation `T / sigmas`, and `T` is its limit in a worst case. Play, wear and
//! what a part is left off its locators are spread evenly between their limits; play of a round pin over a disc.
//!
//! Repeatability by ISO 9283 is a radius: mean plus three standard deviations of the distance from the mean place. With an error
//! of the same normal spread `σ` in each of three directions that distance has the mean `σ √(8/π)` and the standard deviation
//! `σ √(3 − 8/π)` (Maxwell's distribution), so that `RP = σ (√(8/π) + 3 √(3 − 8/π))`, which is 3.616 σ.

use std::f64::consts::PI;

/// One error.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// What is off.
    pub what: What,
    /// Of whom: a locator, a station, an axis, a seam; with the direction, where it has several. Together with `what` its own.
    pub whose: String,
    /// How it is spread.
    pub law: Law,
    /// Whether it is the same for every part, so that touching up the program takes it away.
    pub fixed: bool,
    /// Whether its mean is taken out as well when the program is touched up.
    pub mean_taught: bool,
}

/// What is off.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// Place of a locator in its fixture.
    LocatorPlace,
    /// Wear of a locator.
    LocatorWear,
    /// Face or hole of the part that meets a locator.
    PartAtLocator,
    /// What a part is left off a locator when it is loaded.
    Loading,
    /// Play of a pin.
    PinPlay,
    /// Place of the fixture on its station.
    FixturePlace,
    /// Where an axis stops.
    Index,
    /// Tool centre point.
    ToolCentre,
    /// Growth of a warm part.
    WarmPart,
    /// Faces at the joint against what locates the part.
    PartAtJoint,
    /// Gap between the parts.
    Gap,
    /// Repeatability of the arm.
    ArmRepeatability,
    /// Accuracy of the arm.
    ArmAccuracy,
    /// Cast, twist and tip wear.
    Wire,
    /// What a touch search leaves.
    Search,
    /// A taught way that passes the joint.
    TaughtWay,
    /// What tracking leaves.
    Tracking,
}

impl What {
    /// As it is said.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LocatorPlace => "place of locator",
            Self::LocatorWear => "wear of locator",
            Self::PartAtLocator => "part tolerance at locator",
            Self::Loading => "part left off locator",
            Self::PinPlay => "play of pin",
            Self::FixturePlace => "place of the fixture on station",
            Self::Index => "index of axis",
            Self::ToolCentre => "tool centre point",
            Self::WarmPart => "growth of warm",
            Self::PartAtJoint => "part tolerance at the joint",
            Self::Gap => "gap",
            Self::ArmRepeatability => "arm repeatability",
            Self::ArmAccuracy => "arm accuracy",
            Self::Wire => "wire cast and tip wear",
            Self::Search => "accuracy of the touch search",
            Self::TaughtWay => "way as taught",
            Self::Tracking => "accuracy of tracking",
        }
    }
}

/// How an error is spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// Normal about 0.
    Normal {
        /// Standard deviation.
        sigma: f64,
        /// Taken as its limit in a worst case.
        limit: f64,
    },
    /// Evenly between limits.
    Even {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// One of two directions square to each other of an error that is spread evenly over a disc; the second follows the first.
    Disc {
        /// Of the disc.
        radius: f64,
        /// Whether it is the second.
        second: bool,
    },
}

impl Law {
    /// A tolerance on either side.
    #[must_use]
    pub fn tolerance(limit: f64, sigmas: f64) -> Self {
        Self::Normal { sigma: limit / sigmas, limit }
    }

    /// One direction of an error whose radius is given as ISO 9283 gives repeatability.
    #[must_use]
    pub fn radius(radius: f64) -> Self {
        Self::Normal { sigma: radius / radius_in_sigmas(), limit: radius }
    }

    /// Mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        match self {
            Self::Normal { .. } | Self::Disc { .. } => 0.0,
            Self::Even { low, high } => 0.5 * (low + high),
        }
    }

    /// Standard deviation.
    #[must_use]
    pub fn sigma(&self) -> f64 {
        match self {
            Self::Normal { sigma, .. } => *sigma,
            Self::Even { low, high } => (high - low) / 12.0_f64.sqrt(),
            // The mean square of the distance from the middle is radius²/2, half of it in either direction.
            Self::Disc { radius, .. } => radius / 2.0,
        }
    }

    /// Farthest from the mean in a worst case.
    #[must_use]
    pub fn limit(&self) -> f64 {
        match self {
            Self::Normal { limit, .. } => *limit,
            Self::Even { low, high } => 0.5 * (high - low),
            Self::Disc { radius, .. } => *radius,
        }
    }
}

/// The name without what tells directions of one error apart.
pub(super) fn whole(whose: &str) -> String {
    let plain =
        whose.strip_suffix(')').and_then(|rest| rest.rsplit_once(" (")).map_or(whose, |(plain, _)| plain);
    if matches!(plain, "x" | "y" | "z") { String::new() } else { plain.to_owned() }
}

/// Mean plus three standard deviations of the distance of a point that is off by a normal error in three directions alike, in
/// standard deviations of one direction.
#[must_use]
pub fn radius_in_sigmas() -> f64 {
    (8.0 / PI).sqrt() + 3.0 * (3.0 - 8.0 / PI).sqrt()
}

/// Pose accuracy and repeatability of attained places against the commanded one: AP and RP of ISO 9283 (formulae from memory).
///
/// None with fewer than two places. Any unit, the result is in the same.
#[must_use]
pub fn accuracy_and_repeatability(commanded: [f64; 3], attained: &[[f64; 3]]) -> Option<(f64, f64)> {
    let count = attained.len() as f64;
    if attained.len() < 2 {
        return None;
    }
    let distance = |a: &[f64; 3], b: &[f64; 3]| (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt();
    let middle: [f64; 3] =
        std::array::from_fn(|i| attained.iter().map(|place| place[i]).sum::<f64>() / count);
    let distances: Vec<f64> = attained.iter().map(|place| distance(place, &middle)).collect();
    let mean = distances.iter().sum::<f64>() / count;
    let spread = distances.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / (count - 1.0);
    Some((distance(&middle, &commanded), mean + 3.0 * spread.sqrt()))
}
