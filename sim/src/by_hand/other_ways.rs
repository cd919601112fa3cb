//! Decides in which other ways the arm can hold the pose that it has.

use seamwright_kinematics::AxisValues;

use crate::cell::Cell;

/// Every way to hold the flange where it is at `axes` (rad), each on the turn nearest to `axes` that every range and the hose allow;
/// that of `axes` itself is not among them, nor any that no turn brings into range.
#[must_use]
pub fn other_ways(cell: &Cell, axes: &AxisValues) -> Vec<AxisValues> {
    // A way nearer than this is the same one.
    const SAME: f64 = 1e-4;
    let arm = &cell.arm.arm;
    let found = arm.inverse(&arm.base_from_flange(axes), axes);
    let in_range = found.all.iter().filter_map(|solution| {
        let from = |way: &AxisValues| (way - axes).amax();
        arm.turns_in_range(&solution.axes)
            .filter(|way| cell.torch.dress.values(way).all(|(_, range, value)| range.excess(value) <= 0.0))
            .reduce(|best, next| if from(&next) < from(&best) { next } else { best })
    });
    in_range.filter(|way| (way - axes).amax() > SAME).collect()
}
