//! Decides how a place is written: `at_mm`, and `rotation_zyx_deg` or `quaternion_wxyz`.
//!
//! `rotation_zyx_deg = [z, y, x]` is R = Rz·Ry·Rx.

use std::ops::RangeInclusive;

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::document::Table;
pub(super) use seamwright_kinematics::placement::{
    ANGLES_DEG, POSITIONS_MM, read_direction as opt_direction,
};
use seamwright_kinematics::{Pose, Range, placement, units};

/// Sizes of solids, mm.
pub(super) const SIZES_MM: RangeInclusive<f64> = 0.001..=50_000.0;
/// Distances that may be zero, mm.
pub(super) const DISTANCES_MM: RangeInclusive<f64> = 0.0..=50_000.0;
/// Durations, s.
pub(super) const DURATIONS_S: RangeInclusive<f64> = 0.0..=86_400.0;

/// `at_mm` and the rotation of a table; what is not written is zero.
pub(super) fn pose(table: &Table<'_>) -> Pose {
    placement::read_pose(table, "at_mm")
}

/// Whether so little was written that metres were meant, perhaps: nobody shifts a station by a few millimetres.
pub(super) fn may_be_in_metres(pose: &Pose) -> bool {
    let off = pose.translation.vector.norm();
    off > 0.0 && off < units::mm(5.0)
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

/// A direction of any length but zero; must be there.
pub(super) fn direction(table: &Table<'_>, key: &str) -> Option<Unit<Vector3<f64>>> {
    if !table.has(key) {
        table.problem(key, "this key is missing", "write a vector such as [0, 0, 1]".to_owned());
    }
    opt_direction(table, key)
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
