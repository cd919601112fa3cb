//! Decides where the six axes lie as lines in the base frame, which is all that a solver may know of an arm: whatever
//! convention its file follows, arms that move alike give the same lines.

use nalgebra::{Matrix3, Vector3};

use crate::{Axis, Pose};

/// The arm at axis values 0, in the base frame.
#[derive(Clone, Debug)]
pub(crate) struct Lines {
    /// A point of each axis, m.
    pub(crate) point: [Vector3<f64>; 6],
    /// The turning direction of each axis, unit length.
    pub(crate) direction: [Vector3<f64>; 6],
    /// `base_from_flange`.
    pub(crate) base_from_flange: Pose,
}

impl Lines {
    pub(crate) fn new(axes: &[Axis; 6], link6_from_flange: &Pose) -> Self {
        let mut base_from_link = Pose::identity();
        let mut point = [Vector3::zeros(); 6];
        let mut direction = [Vector3::zeros(); 6];
        for (i, axis) in axes.iter().enumerate() {
            base_from_link *= axis.origin;
            point[i] = base_from_link.translation.vector;
            direction[i] = base_from_link.rotation * axis.direction.into_inner();
        }
        Self { point, direction, base_from_flange: base_from_link * link6_from_flange }
    }

    /// Sine of the angle between two axes, whichever way they point.
    pub(crate) fn slant(&self, one: usize, other: usize) -> f64 {
        self.direction[one].cross(&self.direction[other]).norm()
    }

    /// The point nearest to all of `axes`, by least squares, and its largest distance from one of them (m).
    ///
    /// None where all of them are parallel.
    pub(crate) fn meeting_point(&self, axes: &[usize]) -> Option<(Vector3<f64>, f64)> {
        let across = |i: usize| Matrix3::identity() - self.direction[i] * self.direction[i].transpose();
        let sum: Matrix3<f64> = axes.iter().map(|&i| across(i)).sum();
        let moment: Vector3<f64> = axes.iter().map(|&i| across(i) * self.point[i]).sum();
        let meeting = sum.cholesky()?.solve(&moment);
        let miss = axes.iter().map(|&i| (across(i) * (meeting - self.point[i])).norm()).fold(0.0, f64::max);
        (meeting.iter().all(|x| x.is_finite())).then_some((meeting, miss))
    }
}
