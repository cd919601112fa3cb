//! Decides how a file writes where something stands: three numbers for the place, and a rotation whose key names its
//! convention.

use std::ops::RangeInclusive;

use nalgebra::{Quaternion, UnitQuaternion, UnitVector3, Vector3};

use crate::document::Table;
use crate::{Pose, units};

/// Farthest that anything may stand from what it is placed on, mm: beyond it a unit was mistaken.
pub const POSITIONS_MM: RangeInclusive<f64> = -50_000.0..=50_000.0;
/// Angles in a file, deg: ten turns either way, for axes that can.
pub const ANGLES_DEG: RangeInclusive<f64> = -3_600.0..=3_600.0;

/// The place under `at_key` (three numbers, mm) and the rotation of a table; what is not written is zero, and what is
/// wrong is noted and then zero.
#[must_use]
pub fn read_pose(table: &Table<'_>, at_key: &str) -> Pose {
    let at = table.opt_numbers::<3>(at_key, POSITIONS_MM).unwrap_or_default();
    Pose::from_parts(Vector3::from(at.map(units::mm)).into(), read_rotation(table))
}

/// `rotation_zyx_deg = [z, y, x]` (R = Rz·Ry·Rx) or `quaternion_wxyz`; nothing where neither is written, or where it is
/// wrong, which is noted.
#[must_use]
pub fn read_rotation(table: &Table<'_>) -> UnitQuaternion<f64> {
    let angles = table.opt_numbers::<3>("rotation_zyx_deg", ANGLES_DEG);
    let quaternion = table.opt_numbers::<4>("quaternion_wxyz", -1.001..=1.001);
    if table.has("rotation_zyx_deg") && table.has("quaternion_wxyz") {
        table.problem("quaternion_wxyz", "the rotation is given twice", "keep one of the two".to_owned());
    }
    if let Some([z, y, x]) = angles {
        return UnitQuaternion::from_euler_angles(units::deg(x), units::deg(y), units::deg(z));
    }
    let Some([w, x, y, z]) = quaternion else { return UnitQuaternion::identity() };
    let quaternion = Quaternion::new(w, x, y, z);
    if (quaternion.norm() - 1.0).abs() > 1e-3 {
        let wrong = format!("its length is {:.4}", quaternion.norm());
        table.problem("quaternion_wxyz", wrong, "write a quaternion of length 1".to_owned());
        return UnitQuaternion::identity();
    }
    UnitQuaternion::from_quaternion(quaternion)
}

/// The angles `[z, y, x]` (rad) by which `rotation` is R = Rz·Ry·Rx; y within ±π/2.
///
/// Where y is ±π/2 only z ∓ x is determined: then z is 0.
#[must_use]
pub fn rotation_zyx(rotation: &UnitQuaternion<f64>) -> [f64; 3] {
    /// Cosine of y below which z is noise.
    const UPRIGHT: f64 = 1e-12;
    let r = rotation.to_rotation_matrix();
    let cos_y = r[(0, 0)].hypot(r[(1, 0)]);
    let z = if cos_y < UPRIGHT { 0.0 } else { r[(1, 0)].atan2(r[(0, 0)]) };
    // Taken after turning back by z, so that what rounding does to z does nothing to the whole.
    let (sin_z, cos_z) = z.sin_cos();
    let x = (sin_z * r[(0, 2)] - cos_z * r[(1, 2)]).atan2(cos_z * r[(1, 1)] - sin_z * r[(0, 1)]);
    [z, (-r[(2, 0)]).atan2(cos_y), x]
}

/// A direction of any length but zero; may be absent.
#[must_use]
pub fn read_direction(table: &Table<'_>, key: &str) -> Option<UnitVector3<f64>> {
    let written = table.opt_numbers::<3>(key, -1e6..=1e6)?;
    let direction = UnitVector3::try_new(Vector3::from(written), 1e-9);
    if direction.is_none() {
        let right = "write a vector longer than zero, such as [0, 0, 1]";
        table.problem(key, "this has no direction", right.to_owned());
    }
    direction
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_rotation_is_put_together_again_from_its_angles(
            z in -3.1..3.1_f64, x in -3.1..3.1_f64, from_upright in prop::sample::select(vec![0.0, 1e-15, 1e-9, 1e-4, 1.0]),
            up: bool,
        ) {
            let y = (std::f64::consts::FRAC_PI_2 - from_upright) * if up { 1.0 } else { -1.0 };
            let rotation = UnitQuaternion::from_euler_angles(x, y, z);
            let [z, y, x] = rotation_zyx(&rotation);
            let again = UnitQuaternion::from_euler_angles(x, y, z);
            prop_assert!((rotation.inverse() * again).scaled_axis().norm() < 5e-12, "{z} {y} {x}");
        }
    }
}
