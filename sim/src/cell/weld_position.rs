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

/// A position that a procedure allows.
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
pub enum Position {
    /// The face looks up.
    Flat,
    /// The face of a groove looks aside, that of a fillet aside and up.
    Horizontal,
    /// The axis rises, and travel with it.
    VerticalUp,
    /// The axis rises, and travel goes down.
    VerticalDown,
    /// The face looks down.
    Overhead,
}

impl Position {
    /// All of them, with the words for them in files.
    pub const ALL: [(&'static str, Self); 5] = [
        ("flat", Self::Flat),
        ("horizontal", Self::Horizontal),
        ("vertical up", Self::VerticalUp),
        ("vertical down", Self::VerticalDown),
        ("overhead", Self::Overhead),
    ];

    /// The words for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::ALL.iter().find(|(_, position)| *position == self).map_or("", |(name, _)| name)
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

impl WeldPosition {
    /// The production position, a vertical one with the direction of travel.
    #[must_use]
    pub fn named(&self) -> Position {
        match self.production {
            Production::Flat => Position::Flat,
            Production::Horizontal => Position::Horizontal,
            Production::Vertical if self.rise > 0.0 => Position::VerticalUp,
            Production::Vertical => Position::VerticalDown,
            Production::Overhead => Position::Overhead,
        }
    }

    /// How far axis or face would have to be turned (rad, the larger of the two) for the weld to be in one of the positions
    /// `allowed`; 0 where it is in one or any is allowed.
    #[must_use]
    pub fn excess(&self, joint: Joint, allowed: &[Position]) -> f64 {
        if allowed.is_empty() || allowed.contains(&self.named()) {
            return 0.0;
        }
        let deg = [self.inclination, self.rotation].map(units::to_deg);
        let off = |position: &Position| ranges(*position, joint == Joint::Butt, deg, self.rise > 0.0);
        units::deg(allowed.iter().map(off).fold(f64::INFINITY, f64::min))
    }
}

/// Degrees by which inclination or rotation, `rising` or not, lies outside the ranges of `position`: the tabulation again, as ranges.
fn ranges(position: Position, is_groove: bool, [inclination, rotation]: [f64; 2], rising: bool) -> f64 {
    let (aside, flat) = if is_groove { (80.0, 150.0) } else { (125.0, 150.0) };
    let outside = |value: f64, from: f64, to: f64| (from - value).max(value - to).max(0.0);
    let level = |from, to| outside(inclination, 0.0, 15.0).max(outside(rotation, from, to));
    let upright = |right_way: bool| {
        // The wrong way round, the axis must first come down to level and rise on the other side.
        let inclination = if right_way { inclination } else { -inclination };
        let inclined = outside(inclination, 15.0, 80.0).max(outside(rotation, aside, 180.0));
        inclined.min(outside(inclination, 80.0, 90.0))
    };
    match position {
        Position::Flat => level(flat, 180.0),
        Position::Horizontal => level(aside, flat),
        Position::Overhead => outside(inclination, 0.0, 80.0).max(outside(rotation, 0.0, aside)),
        Position::VerticalUp => upright(rising),
        Position::VerticalDown => upright(!rising),
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A fillet on a level plate, its face 45 degrees from upright: rotation 135, horizontal; flat begins at 150.
    #[test]
    fn how_far_off_a_weld_is_follows_from_the_limits_of_the_tabulation() {
        let at = |travel: [f64; 3], face: [f64; 3]| WeldPosition::at(&travel.into(), &face.into(), false);
        let off = |position: &WeldPosition, allowed| units::to_deg(position.excess(Joint::Fillet, allowed));
        let level = at([1.0, 0.0, 0.0], [0.0, 1.0, 1.0]);
        assert_eq!((level.named(), off(&level, &[Position::Horizontal])), (Position::Horizontal, 0.0));
        assert_eq!(off(&level, &[]), 0.0);
        assert!((off(&level, &[Position::Flat]) - 15.0).abs() < 1e-9);
        assert!((off(&level, &[Position::Overhead]) - 10.0).abs() < 1e-9);
        assert!((off(&level, &[Position::Overhead, Position::Flat]) - 10.0).abs() < 1e-9);
        // Downhill at 30 degrees with the face up: level again at 15, uphill after 45.
        let (sin, cos) = units::deg(30.0).sin_cos();
        let down = at([cos, 0.0, -sin], [sin, 0.0, cos]);
        assert_eq!(down.named(), Position::VerticalDown);
        assert!((off(&down, &[Position::Flat]) - 15.0).abs() < 1e-9);
        assert!((off(&down, &[Position::VerticalUp]) - 45.0).abs() < 1e-9);
    }

    /// The ranges are the same table as the names: nothing is off the position that it has, everything is off all others.
    #[test]
    fn the_ranges_and_the_names_are_one_table() {
        for is_groove in [true, false] {
            let joint = if is_groove { Joint::Butt } else { Joint::Fillet };
            for inclination in 0..18 {
                for rotation in 0..36 {
                    let (slope, turn) = (f64::from(inclination) * 5.0 + 2.5, f64::from(rotation) * 5.0 + 2.5);
                    let ((sin, cos), (across, down)) =
                        (units::deg(slope).sin_cos(), units::deg(turn).sin_cos());
                    // Travel rises by the slope; the face is turned about it from looking down.
                    let travel = Vector3::new(cos, 0.0, sin);
                    let lower = Vector3::new(sin, 0.0, -cos);
                    let face = lower * down + travel.cross(&lower) * across;
                    let found = WeldPosition::at(&travel, &face, is_groove);
                    for (name, position) in Position::ALL {
                        let deg = [found.inclination, found.rotation].map(units::to_deg);
                        let off = ranges(position, is_groove, deg, found.rise > 0.0);
                        let is_named = position == found.named();
                        assert_eq!(off < 1e-6, is_named, "{slope} {turn} {name}: {off}");
                        assert_eq!(found.excess(joint, &[position]) < 1e-8, is_named);
                    }
                }
            }
        }
    }
}
