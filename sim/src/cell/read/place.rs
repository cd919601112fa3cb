//! Decides how a place is written: `at_mm`, and `rotation_zyx_deg` or `quaternion_wxyz`.
//!
//! `rotation_zyx_deg = [z, y, x]` is R = Rz·Ry·Rx.

use std::ops::RangeInclusive;

use nalgebra::{Point3, Quaternion, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::{Pose, Range, document::Table, units};

/// Farthest that anything in a cell may stand from what it is placed on, mm: beyond it a unit was mistaken.
pub(super) const POSITIONS_MM: RangeInclusive<f64> = -50_000.0..=50_000.0;
/// Sizes of solids, mm.
pub(super) const SIZES_MM: RangeInclusive<f64> = 0.001..=50_000.0;
/// Distances that may be zero, mm.
pub(super) const DISTANCES_MM: RangeInclusive<f64> = 0.0..=50_000.0;
/// Durations, s.
pub(super) const DURATIONS_S: RangeInclusive<f64> = 0.0..=86_400.0;
/// Angles, more than a full turn either way for axes that can, deg.
pub(super) const ANGLES_DEG: RangeInclusive<f64> = -3_600.0..=3_600.0;
/// Components of a direction.
const COMPONENTS: RangeInclusive<f64> = -1e6..=1e6;

/// `at_mm` and the rotation of a table; what is not written is zero.
pub(super) fn pose(table: &Table<'_>) -> Pose {
    let at = opt_point(table, "at_mm").unwrap_or_default();
    Pose::from_parts(at.coords.into(), rotation(table))
}

fn rotation(table: &Table<'_>) -> UnitQuaternion<f64> {
    let angles = table.opt_numbers::<3>("rotation_zyx_deg", ANGLES_DEG);
    let quaternion = table.opt_numbers::<4>("quaternion_wxyz", -1.0..=1.0);
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

/// A point that must be there, m.
pub(super) fn point(table: &Table<'_>, key: &str) -> Option<Point3<f64>> {
    table.numbers::<3>(key, POSITIONS_MM).map(metres)
}

/// A point that may be absent, m.
pub(super) fn opt_point(table: &Table<'_>, key: &str) -> Option<Point3<f64>> {
    table.opt_numbers::<3>(key, POSITIONS_MM).map(metres)
}

/// A point in metres from its millimetres.
pub(super) fn metres(mm: [f64; 3]) -> Point3<f64> {
    Point3::from(mm.map(units::mm))
}

/// A direction of any length but zero; may be absent.
pub(super) fn opt_direction(table: &Table<'_>, key: &str) -> Option<Unit<Vector3<f64>>> {
    let written = table.opt_numbers::<3>(key, COMPONENTS)?;
    let direction = unit(written);
    if direction.is_none() {
        table.problem(
            key,
            "this has no direction",
            "write a vector longer than zero, such as [0, 0, 1]".to_owned(),
        );
    }
    direction
}

/// A vector's direction; `None` where it has none.
pub(super) fn unit(components: [f64; 3]) -> Option<Unit<Vector3<f64>>> {
    Unit::try_new(Vector3::from(components), 1e-9)
}

/// `[min, max]` in the trade's unit, turned to SI by `si`; may be absent.
pub(super) fn opt_range(
    table: &Table<'_>,
    key: &str,
    bounds: RangeInclusive<f64>,
    si: fn(f64) -> f64,
) -> Option<Range> {
    let [min, max] = table.opt_numbers::<2>(key, bounds)?;
    if min > max {
        table.problem(key, "the first number is the greater", "write [least, greatest]".to_owned());
        return None;
    }
    Some(Range { min: si(min), max: si(max) })
}

/// A frame in the middle between two points with +Z from the one to the other, and their distance.
pub(super) fn between(from: &Point3<f64>, to: &Point3<f64>) -> Option<(Pose, f64)> {
    let direction = Unit::try_new(to - from, 1e-9)?;
    let rotation = UnitQuaternion::rotation_between_axis(&Vector3::z_axis(), &direction)
        // Straight down: any axis square to z will do.
        .unwrap_or_else(|| UnitQuaternion::from_axis_angle(&Vector3::x_axis(), std::f64::consts::PI));
    let middle = nalgebra::center(from, to);
    Some((Pose::from_parts(middle.coords.into(), rotation), (to - from).norm()))
}
