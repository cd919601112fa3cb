//! Decides in which position a weld is made: how its axis slopes, which way its face looks, and the names for that.
//!
//! The weld axis is the travel direction; the face of a butt looks along the plates' normal, that of every other weld half way
//! between the two faces. Inclination: of the axis from the level plane, 0 to 90 degrees. Rotation: of the face about the axis, 180
//! degrees with the face up and 0 with it down; for an inclined axis 0 is opposite to the direction in which the inclination grows.
//!
//! - Production positions: the tabulation of ASME IX QW-461.1 (groove) and QW-461.2 (fillet), which AWS D1.1 has as well; how the
//!   angles are measured, and the vertical rows of the groove table, were seen in print, the other limits are from memory. Ranges are
//!   taken half open, so that every weld has exactly one name.
//! - Main positions of ISO 6947:2011: the nearest of those that are usual for the weld, with slope and rotation from it. Plus turns the
//!   face toward PA, minus toward PE (3.2, note). Positions of whole pipe joints (PH, PJ, H-L045, J-L045) are not named: every place of
//!   such a joint has one of the others.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

use nalgebra::{UnitQuaternion, Vector3};

use super::{Joint, SeamPoint};
use crate::units;

/// The production position of a weld.
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
pub enum Production {
    /// The face looks up.
    Flat,
    /// The face of a groove looks aside, that of a fillet aside and up.
    Horizontal,
    /// The axis rises.
    Vertical,
    /// The face looks down.
    Overhead,
}

impl Production {
    /// The word for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Flat => "flat",
            Self::Horizontal => "horizontal",
            Self::Vertical => "vertical",
            Self::Overhead => "overhead",
        }
    }
}

/// A main position of ISO 6947.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
pub enum Main {
    /// Flat.
    PA,
    /// Horizontal-vertical.
    PB,
    /// Horizontal.
    PC,
    /// Horizontal overhead.
    PD,
    /// Overhead.
    PE,
    /// Vertical up.
    PF,
    /// Vertical down.
    PG,
}

impl Main {
    /// As the standard writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::PA => "PA",
            Self::PB => "PB",
            Self::PC => "PC",
            Self::PD => "PD",
            Self::PE => "PE",
            Self::PF => "PF",
            Self::PG => "PG",
        }
    }
}

/// The position of a weld at one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeldPosition {
    /// Angle of the weld axis from the level plane, 0 to π/2.
    pub inclination: f64,
    /// Angle of the face about the axis from looking down, 0 to π, to either side; π/2 where the axis is upright.
    pub rotation: f64,
    /// Sine of the angle by which travel rises; negative downhill.
    pub rise: f64,
    /// The production position.
    pub production: Production,
    /// The nearest main position.
    pub main: Main,
    /// Angle of the weld axis from that of the main position, at least 0.
    pub slope: f64,
    /// Angle of the face from that of the main position, plus toward PA; 0 for PF and PG, where it has no limit.
    pub turned: f64,
}

impl WeldPosition {
    /// The position of a weld at `point` of its seam, whose frame stands in the world as `world_from_station` turns it.
    #[must_use]
    pub fn of(point: &SeamPoint, joint: Joint, world_from_station: &UnitQuaternion<f64>) -> Self {
        let face = if joint == Joint::Butt { point.n1 } else { point.n1 + point.b };
        Self::at(&(world_from_station * point.t), &(world_from_station * face), joint == Joint::Butt)
    }

    /// The position of a weld along `travel` whose face looks along `face` (world, any length), a groove weld or a fillet.
    #[must_use]
    pub fn at(travel: &Vector3<f64>, face: &Vector3<f64>, is_groove: bool) -> Self {
        let travel = travel.normalize();
        let level = travel.xy().norm();
        let inclination = travel.z.abs().atan2(level);
        let up = Vector3::z() - travel * travel.z;
        // About an upright axis no direction is up.
        let rotation = if up.norm() < UPRIGHT {
            FRAC_PI_2
        } else {
            let across = face - travel * travel.dot(face);
            across.cross(&up).norm().atan2(-across.dot(&up))
        };
        let production = production(units::to_deg(inclination), units::to_deg(rotation), is_groove);
        let (main, slope, turned) = main(inclination, rotation, travel.z, is_groove);
        Self { inclination, rotation, rise: travel.z, production, main, slope, turned }
    }
}

/// Sine of the angle from upright below which an axis is upright.
const UPRIGHT: f64 = 1e-9;

/// An angle this little below a limit (degrees) is on it: a square fillet on a level plate must not fall to rounding.
const ROUNDING_DEG: f64 = 1e-7;

/// Of two main positions as near as each other but for this (rad), the one that is easier to weld counts.
const EVEN: f64 = 1e-9;

/// The tabulation; degrees, `rotation` counted to the nearer side of looking down.
fn production(inclination: f64, rotation: f64, is_groove: bool) -> Production {
    let from = |value: f64, limit: f64| value >= limit - ROUNDING_DEG;
    let (aside, flat) = if is_groove { (80.0, 150.0) } else { (125.0, 150.0) };
    if from(inclination, 80.0) {
        Production::Vertical
    } else if !from(rotation, aside) {
        Production::Overhead
    } else if from(inclination, 15.0) {
        Production::Vertical
    } else if from(rotation, flat) {
        Production::Flat
    } else {
        Production::Horizontal
    }
}

/// The nearest main position, the slope and the turn from it.
fn main(inclination: f64, rotation: f64, rise: f64, is_groove: bool) -> (Main, f64, f64) {
    if inclination > FRAC_PI_4 + EVEN {
        return (if rise > 0.0 { Main::PF } else { Main::PG }, FRAC_PI_2 - inclination, 0.0);
    }
    let level: &[(Main, f64)] = if is_groove {
        &[(Main::PA, PI), (Main::PC, FRAC_PI_2), (Main::PE, 0.0)]
    } else {
        &[(Main::PA, PI), (Main::PB, 0.75 * PI), (Main::PD, FRAC_PI_4), (Main::PE, 0.0)]
    };
    let off = |at: f64| (rotation - at).abs();
    let nearer = |a: (Main, f64), b: (Main, f64)| if off(b.1) < off(a.1) - EVEN { b } else { a };
    let (main, at) = level.iter().copied().reduce(nearer).unwrap_or((Main::PA, PI));
    (main, inclination, rotation - at)
}
