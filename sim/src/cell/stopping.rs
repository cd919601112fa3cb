//! Decides what is stated of how the machine stops, and of how the cell is watched over beyond its zones.

use nalgebra::Point3;
use seamwright_kinematics::Based;

/// A stop category of IEC 60204-1, 9.2.
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
pub enum StopCategory {
    /// 0: power off at once, brakes on.
    PowerOff,
    /// 1: braked under control, then power off.
    ControlledThenOff,
    /// 2: braked under control, power stays on.
    Controlled,
}

impl StopCategory {
    /// All of them, in order of their numbers.
    pub const ALL: [Self; 3] = [Self::PowerOff, Self::ControlledThenOff, Self::Controlled];

    /// Its number.
    #[must_use]
    pub fn number(self) -> u32 {
        match self {
            Self::PowerOff => 0,
            Self::ControlledThenOff => 1,
            Self::Controlled => 2,
        }
    }
}

/// How long an axis takes to stop from a speed, and how far it goes on, as somebody measured or states it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StoppingRow {
    /// Of which stop.
    pub category: StopCategory,
    /// From this speed, rad/s or m/s.
    pub from_speed: f64,
    /// Until it stands, s.
    pub time: f64,
    /// How far it goes on, rad or m.
    pub way: f64,
}

/// How the cell is watched over, beyond its zones.
#[derive(Clone, Debug, PartialEq)]
pub struct Safeguarding {
    /// Whether the file has anything to say about it.
    pub is_stated: bool,
    /// Stop that the protective devices call for.
    pub category: StopCategory,
    /// Whether the file says so.
    pub category_is_stated: bool,
    /// From a device's output until the drives begin to stop, s.
    pub controller: Based,
    /// From the stop order until everything stands, s, where it was measured on the machine.
    pub measured_stop: Option<f64>,
    /// Share of the machine's and the controller's time that is added for wear of the brakes by the rules of the United States.
    pub brake_share: Based,
    /// Whose distances decide.
    pub rules: Rules,
    /// Supplement Z of ISO 13855:2024, m, where stated.
    pub supplement: Option<f64>,
    /// Height of the floor on which people walk, m.
    pub floor: f64,
    /// Whether fume is drawn off where it arises, where stated.
    pub extraction: Option<bool>,
    /// Time to teach and prove one point, s.
    pub teaching: Based,
    /// Where people can stop everything.
    pub emergency_stops: Vec<EmergencyStop>,
}

/// Whose distances decide whether a device stands far enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Rules {
    /// The greatest of all that can be worked out.
    All,
    /// ISO 13855:2010.
    Iso,
    /// 29 CFR 1910.217 and ANSI B11.19.
    UnitedStates,
}

/// An emergency stop device.
#[derive(Clone, Debug, PartialEq)]
pub struct EmergencyStop {
    /// Name in the file.
    pub name: String,
    /// Where it is.
    pub place: StopPlace,
    /// Where it is in the world, m, where stated.
    pub at: Option<Point3<f64>>,
}

/// Where an emergency stop device is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StopPlace {
    /// Outside the cell, at its control.
    Outside,
    /// At a place where parts are loaded.
    OperatorStation,
    /// On the teach pendant.
    Pendant,
    /// Inside the safeguarded space.
    Inside,
}
