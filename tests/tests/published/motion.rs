//! Times of moves from rest to rest.

use nalgebra::{Isometry3, Vector3};
use seamwright_kinematics::{Arm, Axis, AxisValues, Based, Basis, Range};
use seamwright_sim::motion::{AxisMove, Limits, Profile};
use seamwright_tests::{Row, rows};

#[test]
fn one_axis_takes_the_time_of_the_closed_form_and_of_the_trajectory_library() {
    for row in rows("published/single_axis_times.csv") {
        let limits =
            Limits { speed: row.number("vmax"), acceleration: row.number("amax"), jerk: row.number("jmax") };
        let time = Profile::rest_to_rest(row.number("distance"), &limits).duration();
        assert!((time - row.number("T_scurve_ruckig_s")).abs() < 1e-9, "{row}: {time}");
        let no_jerk = Limits { jerk: f64::INFINITY, ..limits };
        let time = Profile::rest_to_rest(row.number("distance"), &no_jerk).duration();
        assert!((time - row.number("T_trapezoid_ruckig_s")).abs() < 1e-9, "{row}: {time}");
    }
}

fn arm(row: &Row) -> Arm {
    let based = |value| Based { value, basis: Basis::File };
    let axes = std::array::from_fn(|i| Axis {
        origin: Isometry3::identity(),
        direction: Vector3::z_axis(),
        range: Range { min: -10.0, max: 10.0 },
        max_speed: row.number(&format!("vmax{}", i + 1)),
        max_acceleration: based(row.number(&format!("amax{}", i + 1))),
        max_jerk: based(row.number(&format!("jmax{}", i + 1))),
    });
    Arm::new("limits only".to_owned(), axes, Isometry3::identity())
}

/// One profile for all axes keeps the way straight; letting each axis have its own, as the library does, is never slower.
#[test]
fn a_straight_six_axis_move_takes_at_least_the_time_of_its_slowest_axis() {
    for row in rows("published/ruckig_moves.csv") {
        let values = |name: &str| AxisValues::from_fn(|i, _| row.number(&format!("{name}{}", i + 1)));
        let time = AxisMove::new(&arm(&row), values("start"), values("goal"), 1.0).duration();
        let least = row.number("T_jerk_limited_ruckig_s");
        assert!(time >= least - 1e-9, "{row}: {time} s is less than {least} s");
        assert!(time <= 1.375 * least + 1e-9, "{row}: {time} s is far over {least} s");
    }
}
