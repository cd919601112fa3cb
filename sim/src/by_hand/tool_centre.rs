//! Decides where the tool centre point is when one fixed point was touched from several orientations.
//!
//! Every pose says `R p + d = c` with the same unknown tool centre `p` (flange frame) and point touched `c` (base frame): linear
//! in both, solved in the least squares.

use nalgebra::{DMatrix, DVector, Point3};
use seamwright_kinematics::Pose;

/// A tool centre point as found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolCentre {
    /// In the flange frame, m.
    pub in_flange: Point3<f64>,
    /// The point that was touched, base frame, m.
    pub touched_in_base: Point3<f64>,
    /// Largest distance between the point touched and where a pose puts the tool centre, m.
    pub largest_miss: f64,
}

/// The poses do not tell the tool centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "the orientations are too much alike to tell the tool centre: turn about two different axes between touches"
)]
pub struct TooFewPoses;

/// Least singular value by which the orientations must differ: about 3 degrees between them.
const LEAST_DIFFERENCE: f64 = 0.05;

/// The tool centre by which all of `base_from_flange` touch one point best.
///
/// # Errors
/// [`TooFewPoses`] where fewer than three orientations, or turns about one axis only, leave it open.
pub fn tool_centre(base_from_flange: &[Pose]) -> Result<ToolCentre, TooFewPoses> {
    if base_from_flange.len() < 3 {
        return Err(TooFewPoses);
    }
    let mut a = DMatrix::zeros(3 * base_from_flange.len(), 6);
    let mut b = DVector::zeros(3 * base_from_flange.len());
    for (i, pose) in base_from_flange.iter().enumerate() {
        a.fixed_view_mut::<3, 3>(3 * i, 0).copy_from(pose.rotation.to_rotation_matrix().matrix());
        a.fixed_view_mut::<3, 3>(3 * i, 3).copy_from(&-nalgebra::Matrix3::identity());
        b.fixed_rows_mut::<3>(3 * i).copy_from(&-pose.translation.vector);
    }
    let svd = a.svd(true, true);
    if svd.singular_values.min() < LEAST_DIFFERENCE {
        return Err(TooFewPoses);
    }
    let x = svd.solve(&b, 0.0).map_err(|_| TooFewPoses)?;
    let in_flange = Point3::new(x[0], x[1], x[2]);
    let touched_in_base = Point3::new(x[3], x[4], x[5]);
    let miss = |pose: &Pose| (pose * in_flange - touched_in_base).norm();
    let largest_miss = base_from_flange.iter().map(miss).fold(0.0, f64::max);
    Ok(ToolCentre { in_flange, touched_in_base, largest_miss })
}
