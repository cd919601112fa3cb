//! Decides from the axes themselves which method gives an arm's inverse solutions; nobody has to name it.

use std::fmt;

use arrayvec::ArrayVec;
use nalgebra::Vector3;

use crate::inverse::{Shortfall, Solution};
use crate::lines::Lines;
use crate::spherical_wrist::{Slack, SphericalWrist, Stance};
use crate::three_parallel::ThreeParallel;
use crate::{AxisValues, Pose, units};

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
    /// Axes 2, 3 and 4 are parallel; axes 5 and 6 meet (the usual collaborative arm). Closed form, at most 8 solutions.
    ThreeParallel,
}

impl fmt::Display for Geometry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SphericalWristParallelElbow => "spherical wrist, axes 2 and 3 parallel",
            Self::ThreeParallel => "axes 2, 3 and 4 parallel, axes 5 and 6 meeting",
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
    /// Axes 2, 3 and 4 are parallel, but axes 5 and 6 have no common point. `miss`: from each to the point between (m).
    #[error("axes 2, 3 and 4 are parallel, but axes 5 and 6 pass each other at {:.4} mm", 2.0 * units::to_mm(*.miss))]
    HandApart {
        /// Distance of each axis from the point nearest to both, m.
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
    /// The wrist centre (or a parallel axis 4) lies on axis 3, so that axis 3 only turns the wrist.
    #[error("the wrist centre (or a parallel axis 4) lies on axis 3, so the arm lacks a freedom")]
    NoForearm,
    /// Some number of the arm is not finite.
    #[error("a number of the arm is not finite")]
    NotFinite,
}

/// The method and its constants.
#[derive(Clone, Debug)]
pub(crate) enum Method {
    SphericalWrist(SphericalWrist),
    ThreeParallel(ThreeParallel),
}

/// The method, and how far the arm is from what it assumes.
#[derive(Clone, Debug)]
pub(crate) struct Solver {
    pub(crate) method: Method,
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
        let apart = |axes| lines.meeting_point(axes).unwrap_or((Vector3::zeros(), f64::INFINITY));
        let slant4 = lines.slant(1, 3);
        let (wrist_centre, miss) = apart(&[3, 4, 5]);
        let (hand_centre, hand_miss) = apart(&[4, 5]);
        let (method, deviation, slant) = if miss <= TOLERANCE {
            (Method::SphericalWrist(SphericalWrist::new(lines, wrist_centre)), miss, slant)
        } else if slant4 > TOLERANCE {
            return Err(Unsolved::WristApart { miss });
        } else if hand_miss > TOLERANCE {
            return Err(Unsolved::HandApart { miss: hand_miss });
        } else {
            let method = ThreeParallel::new(lines, hand_centre);
            // Axes 2 and 3 carry the hand as well.
            (Method::ThreeParallel(method), hand_miss, slant.max(slant4))
        };
        let (upper, fore) = method.elbow().lengths();
        if upper <= TOLERANCE {
            return Err(Unsolved::Idle { one: 2, other: 3, how: "on one line" });
        }
        if fore <= TOLERANCE {
            return Err(Unsolved::NoForearm);
        }
        let deviation = deviation.max(slant * (upper + fore + 1.0));
        let corrects = deviation > ROUNDING;
        let slack = if corrects { Slack::about(deviation) } else { Slack::EXACT };
        Ok(Self { method, slack, corrects })
    }

    pub(crate) fn geometry(&self) -> Geometry {
        match self.method {
            Method::SphericalWrist(_) => Geometry::SphericalWristParallelElbow,
            Method::ThreeParallel(_) => Geometry::ThreeParallel,
        }
    }
}

impl Method {
    /// Puts every solution into `solutions`, which must be empty; if there is none, how far they are.
    pub(crate) fn solve(
        &self,
        base_from_flange: &Pose,
        near: &AxisValues,
        slack: Slack,
        solutions: &mut ArrayVec<Solution, 16>,
    ) -> Option<Shortfall> {
        match self {
            Self::SphericalWrist(arm) => arm.solve(base_from_flange, near, slack, solutions),
            Self::ThreeParallel(arm) => arm.solve(base_from_flange, near, slack, solutions),
        }
    }

    /// How far a pose without solution is out of reach.
    pub(crate) fn shortfall_of(&self, base_from_flange: &Pose) -> Shortfall {
        match self {
            Self::SphericalWrist(arm) => arm.shortfall_of(base_from_flange),
            Self::ThreeParallel(arm) => arm.shortfall_of(base_from_flange),
        }
    }

    /// How the arm stands at `axes`.
    pub(crate) fn stance(&self, axes: &AxisValues) -> Stance {
        match self {
            Self::SphericalWrist(arm) => arm.stance(axes),
            Self::ThreeParallel(arm) => arm.stance(axes),
        }
    }

    /// The arm whose elbow and wrist words are also this one's.
    pub(crate) fn elbow(&self) -> &SphericalWrist {
        match self {
            Self::SphericalWrist(arm) => arm,
            Self::ThreeParallel(arm) => arm.moved(),
        }
    }
}
