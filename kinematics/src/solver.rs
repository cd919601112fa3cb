//! Decides from the axes themselves which method gives an arm's inverse solutions; nobody has to name it.

use std::fmt;

use crate::lines::Lines;
use crate::spherical_wrist::{Slack, SphericalWrist};
use crate::units;

/// Lines that miss the class by no more than this (m and rad) are taken into it, and every solution is then corrected
/// on the true arm: enough for a file that writes π/2 as 1.5708.
const TOLERANCE: f64 = 1e-5;
/// Below this the lines are of the class but for rounding, and nothing is corrected.
const ROUNDING: f64 = 1e-12;

/// The class of an arm's geometry, which says how its inverse solutions are found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Geometry {
    /// Axes 4, 5 and 6 meet in one point; axes 2 and 3 are parallel. Closed form, at most 8 solutions.
    SphericalWristParallelElbow,
}

impl fmt::Display for Geometry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SphericalWristParallelElbow => "spherical wrist, axes 2 and 3 parallel",
        })
    }
}

/// Why the inverse solutions of an arm cannot be given.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unsolved {
    /// The wrist axes have no common point. `miss`: how far one of them passes the nearest point (m).
    #[error("axes 4, 5 and 6 do not meet in one point (an axis passes {:.4} mm from it)", units::to_mm(*.miss))]
    WristApart {
        /// Largest distance of an axis from the point nearest to all three, m.
        miss: f64,
    },
    /// Axes 2 and 3 are not parallel. `angle`: between them (rad).
    #[error("axes 2 and 3 are not parallel (they are {:.4}° apart)", units::to_deg(*.angle))]
    ElbowSkew {
        /// Angle between the axes, rad.
        angle: f64,
    },
    /// Two axes that do the same, so that the arm cannot take every orientation or place.
    #[error("axes {one} and {other} are {how}, so the arm lacks a freedom")]
    Idle {
        /// An axis, counted from 1.
        one: usize,
        /// The other, counted from 1.
        other: usize,
        /// How they lie to each other.
        how: &'static str,
    },
    /// The wrist centre lies on axis 3, so that axis 3 only turns the wrist.
    #[error("the wrist centre lies on axis 3, so the arm lacks a freedom")]
    NoForearm,
    /// Some number of the arm is not finite.
    #[error("a number of the arm is not finite")]
    NotFinite,
}

/// The method and its constants.
#[derive(Clone, Debug)]
pub(crate) struct Solver {
    pub(crate) method: SphericalWrist,
    pub(crate) slack: Slack,
    /// Whether solutions must be corrected on the true arm.
    pub(crate) corrects: bool,
}

impl Solver {
    /// The solver for an arm with these lines.
    pub(crate) fn new(lines: &Lines) -> Result<Self, Unsolved> {
        let numbers = lines.point.iter().chain(&lines.direction).flat_map(|v| v.iter());
        if !numbers.chain(lines.base_from_flange.to_homogeneous().iter()).all(|x| x.is_finite()) {
            return Err(Unsolved::NotFinite);
        }
        for (one, other) in [(0, 1), (3, 4), (4, 5)] {
            if lines.slant(one, other) <= TOLERANCE {
                return Err(Unsolved::Idle { one: one + 1, other: other + 1, how: "parallel" });
            }
        }
        let slant = lines.slant(1, 2);
        if slant > TOLERANCE {
            return Err(Unsolved::ElbowSkew { angle: slant.min(1.0).asin() });
        }
        let (wrist_centre, miss) =
            lines.meeting_point([3, 4, 5]).ok_or(Unsolved::WristApart { miss: f64::INFINITY })?;
        if miss > TOLERANCE {
            return Err(Unsolved::WristApart { miss });
        }
        let method = SphericalWrist::new(lines, wrist_centre);
        let (upper, fore) = method.lengths();
        if upper <= TOLERANCE {
            return Err(Unsolved::Idle { one: 2, other: 3, how: "on one line" });
        }
        if fore <= TOLERANCE {
            return Err(Unsolved::NoForearm);
        }
        let deviation = miss.max(slant * (upper + fore + 1.0));
        let corrects = deviation > ROUNDING;
        let slack = if corrects { Slack::about(deviation) } else { Slack::EXACT };
        Ok(Self { method, slack, corrects })
    }

    pub(crate) fn geometry(&self) -> Geometry {
        Geometry::SphericalWristParallelElbow
    }
}
