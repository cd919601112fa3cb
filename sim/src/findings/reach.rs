//! Decides how far an arm reaches over the floor: what a data sheet calls its reach.

use nalgebra::Point3;
use seamwright_kinematics::{Arm, AxisValues, Range, units};

/// Step of axes 2 and 3, degrees. The true maximum lies within half a step: for an arm of 3 m it is missed by less than
/// 3 m · (0.5°)² ≈ 0.3 mm.
const STEP_DEG: f64 = 1.0;

/// The farthest that the wrist centre comes from the line of axis 1 with axes 2 and 3 inside their ranges, m.
///
/// Ranges that depend on another axis count as they are with all other axes at 0. Motor ranges are not asked: an arm whose
/// coupled motors stop it earlier reaches less far.
/// The wrist centre is the point of axis 5 nearest to axis 6; where axes 4, 5 and 6 meet, it is that point.
#[must_use]
pub fn wrist_reach(arm: &Arm) -> f64 {
    let centre = arm.wrist_centre().point_in_link;
    let steps = |range: Range| {
        let count = ((range.max - range.min) / units::deg(STEP_DEG)).ceil().clamp(1.0, 720.0) as usize;
        (0..=count).map(move |step| range.min + (range.max - range.min) * step as f64 / count as f64)
    };
    let at = |axis2, axis3| AxisValues::from([0.0, axis2, axis3, 0.0, 0.0, 0.0]);
    let mut reach = 0.0_f64;
    for axis2 in steps(arm.axes()[1].range) {
        // Where that leaves axis 3 nothing, both of its steps lie outside.
        for axis3 in steps(arm.axis_ranges(&at(axis2, 0.0))[2]) {
            let axes = at(axis2, axis3);
            let ranges = arm.axis_ranges(&axes);
            if (1..=2).any(|axis| ranges[axis].excess(axes[axis]) > 1e-9) {
                continue;
            }
            let forward = arm.forward(&axes);
            let link1 = &forward.base_from_link[1];
            let direction = link1.rotation * arm.axes()[0].direction.into_inner();
            let from_axis1 = forward.base_from_link[5] * centre - Point3::from(link1.translation.vector);
            reach = reach.max(from_axis1.cross(&direction).norm());
        }
    }
    reach
}

#[cfg(test)]
mod tests {
    use seamwright_kinematics::{Axis, Based, Basis, Pose};

    use super::*;

    fn axis(at: [f64; 3], direction: [f64; 3], degrees: [f64; 2]) -> Axis {
        let assumed = Based { value: 1.0, basis: Basis::Assumed };
        Axis {
            origin: Pose::translation(at[0], at[1], at[2]),
            direction: nalgebra::Unit::new_normalize(direction.into()),
            range: Range { min: units::deg(degrees[0]), max: units::deg(degrees[1]) },
            max_speed: 1.0,
            max_acceleration: assumed,
            max_jerk: assumed,
        }
    }

    /// Upper arm 0.6 and forearm 0.64 + 0.1 across it, shoulder 0.15 before axis 1: stretched flat it reaches
    /// 0.15 + 0.6 + √(0.64² + 0.1²) from axis 1 (worked out by hand).
    #[test]
    fn a_stretched_arm_reaches_as_far_as_its_links_laid_end_to_end() {
        let (y, x) = ([0.0, 1.0, 0.0], [1.0, 0.0, 0.0]);
        let free = [-180.0, 180.0];
        let arm = Arm::new(
            "stretched".into(),
            [
                axis([0.0, 0.0, 0.4], [0.0, 0.0, 1.0], free),
                axis([0.15, 0.0, 0.0], y, free),
                axis([0.0, 0.0, 0.6], y, free),
                // The origins of axes 4 and 5 stand away from the wrist centre, along their own lines.
                axis([0.2, 0.0, 0.1], x, free),
                axis([0.44, 0.3, 0.0], y, free),
                axis([0.0, -0.3, 0.0], x, free),
            ],
            Pose::identity(),
        );
        let by_hand = 0.15 + 0.6 + 0.64_f64.hypot(0.1);
        assert!((wrist_reach(&arm) - by_hand).abs() < 2e-4, "{} and not {by_hand}", wrist_reach(&arm));
    }
}
