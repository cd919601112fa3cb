//! Decides in which of its configurations an arm stands, and how near it is to leaving it: a configuration changes
//! only through a singularity of its kind.

use std::fmt;

use nalgebra::Point3;
use serde::Serialize;

use crate::solver::Method;
use crate::{Arm, AxisValues};

/// On which side of axis 1 the wrist centre is, in the plane in which the arm bends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shoulder {
    /// The side on which it is at axis values 0 (if it is then above axis 1: the side of axis 2).
    Front,
    /// The other: the arm reaches back over its own shoulder.
    Back,
}

/// On which side of the line from axis 2 to the wrist centre (or to an axis 4 parallel to axis 2) the elbow, axis 3, is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Elbow {
    /// Above, for an arm that stands on its foot; 'above' is along axis 1, away from the foot.
    Up,
    /// Below.
    Down,
}

/// To which side axis 5 is turned from the straight wrist, in which axes 4 and 6 are one line or parallel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Wrist {
    /// To the side of positive axis 5.
    Plus,
    /// To the side of negative axis 5.
    Minus,
}

/// The configuration of an arm; an entry is empty where arms of its geometry have no such word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
pub struct Configuration {
    /// Front or back.
    pub shoulder: Option<Shoulder>,
    /// Up or down.
    pub elbow: Option<Elbow>,
    /// Plus or minus.
    pub wrist: Option<Wrist>,
}

/// How far an arm is from each kind of singularity; infinite where its geometry has no such kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Singularity {
    /// Angle of axis 5 from the straight or the folded wrist, in which axes 4, 5 and 6 lie in one plane, whichever is
    /// nearer, rad. For a wrist with square axes it is the angle between the lines of axes 4 and 6.
    pub wrist: f64,
    /// Angle of axis 3 from the stretched or the folded arm, whichever is nearer, rad.
    pub elbow: f64,
    /// Distance of the wrist centre from axis 1 in the plane across axes 2 and 3, m.
    ///
    /// For an arm without a sideways offset this is its distance from axis 1 itself.
    pub shoulder: f64,
}

impl Arm {
    /// The configuration at `axes` (rad). Exactly at a singularity the first word of its kind is given.
    #[must_use]
    pub fn configuration(&self, axes: &AxisValues) -> Configuration {
        let method = self.solver().ok().map(|solver| &solver.method);
        let wrist = method
            .and_then(Method::wrist)
            .map(|wrist| if wrist.bend(axes[4]) * wrist.sense() >= 0.0 { Wrist::Plus } else { Wrist::Minus });
        let Some((stance, elbow)) = method.and_then(|method| method.stance(axes)) else {
            return Configuration { shoulder: None, elbow: None, wrist };
        };
        let side = if stance.forward >= 0.0 { 1.0 } else { -1.0 };
        let up = stance.bend * side * elbow.bend_sense() >= 0.0;
        Configuration {
            shoulder: Some(if stance.forward >= 0.0 { Shoulder::Front } else { Shoulder::Back }),
            elbow: Some(if up { Elbow::Up } else { Elbow::Down }),
            wrist,
        }
    }

    /// How near `axes` (rad) is to each kind of singularity.
    #[must_use]
    pub fn singularity(&self, axes: &AxisValues) -> Singularity {
        let method = self.solver().ok().map(|solver| &solver.method);
        let wrist =
            method.and_then(Method::wrist).map_or(f64::INFINITY, |wrist| from_straight(wrist.bend(axes[4])));
        let (elbow, shoulder) = method
            .and_then(|method| method.stance(axes))
            .map_or((f64::INFINITY, f64::INFINITY), |(stance, _)| {
                (from_straight(stance.bend), stance.forward.abs())
            });
        Singularity { wrist, elbow, shoulder }
    }
}

/// Of an angle past straight (rad, at most π either way): from straight or folded, whichever is nearer.
fn from_straight(bend: f64) -> f64 {
    bend.abs().min(std::f64::consts::PI - bend.abs())
}

/// Below this smallest singular value an arm is singular: roots nearer to each other than 1e-6 rad are handed out as one.
const SINGULAR: f64 = 1e-6;

impl Arm {
    /// Whether the arm is singular at `axes` (rad), whatever its geometry: there two solutions have become one, or an axis
    /// is free, but for rounding.
    ///
    /// It is where the smallest singular value of the Jacobian at the flange, lengths in units of the longest lever that
    /// an axis has there, is under 1e-6: about as many radians from the singularity.
    #[must_use]
    pub fn is_singular(&self, axes: &AxisValues) -> bool {
        let mut jacobian = self.jacobian(axes, &Point3::origin());
        let longest = jacobian.fixed_rows::<3>(0).column_iter().map(|lever| lever.norm()).fold(0.0, f64::max);
        if longest > 0.0 {
            jacobian.fixed_rows_mut::<3>(0).unscale_mut(longest);
        }
        // |det| is the product of all six singular values, and the greater five multiply to no more than (their squares
        // being at most the sum of all squares) (sum / 5)^(5/2).
        let greater_five = (jacobian.norm_squared() / 5.0).powf(2.5);
        if jacobian.determinant().abs() > SINGULAR * greater_five {
            return false;
        }
        let least = jacobian.singular_values().min();
        // What is not a number is no place to trust.
        least < SINGULAR || least.is_nan()
    }
}

impl fmt::Display for Shoulder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Front => "front",
            Self::Back => "back",
        })
    }
}

impl fmt::Display for Elbow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Up => "up",
            Self::Down => "down",
        })
    }
}

impl fmt::Display for Wrist {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Plus => "plus",
            Self::Minus => "minus",
        })
    }
}
