//! Times of moves from rest to rest.

use nalgebra::{Isometry3, Vector3};
use seamwright_kinematics::{Arm, Axis, AxisValues, Based, Basis, Range};
use seamwright_sim::motion::{AxisLimits, AxisMove, Curve, Limits, Profile, TimedWay, fastest_time};
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

/// The spline of a row of the table and its limits; jerks build up in a tenth of a second.
fn spline(row: &Row) -> (Curve, AxisLimits) {
    let numbers = |column: &str| -> Vec<f64> {
        row.text(column).split(' ').map(|number| number.parse().unwrap()).collect()
    };
    let limits = |name: &str| -> Vec<f64> { (1..=6).map(|i| row.number(&format!("{name}{i}"))).collect() };
    let curve = Curve::natural_spline(&numbers("knots"), &numbers("waypoints_rowmajor"), 6).unwrap();
    let acceleration = limits("amax");
    let jerk = acceleration.iter().map(|acceleration| 10.0 * acceleration).collect();
    (curve, AxisLimits { speed: limits("vmax"), acceleration, jerk })
}

/// The library's own times still fall with the grid; its error at 8000 steps is a third of what they fell from 2000 on.
#[test]
fn the_fastest_way_along_a_spline_takes_the_time_of_the_trajectory_library() {
    for row in rows("published/toppra_paths.csv") {
        let (curve, limits) = spline(&row);
        let time = fastest_time(&curve, &limits, 8000, &|_| f64::INFINITY);
        let expected = row.number("T_N8000_s");
        assert!((time / expected - 1.0).abs() < 3e-4, "{row}: {time}");
        if let Some(exact) = row.opt_number("T_closed_form_s") {
            assert!((time / exact - 1.0).abs() < 1e-9, "{row}: {time}");
        } else {
            let limit = expected - (row.number("T_N2000_s") - expected) / 3.0;
            assert!((time / limit - 1.0).abs() < 1e-5, "{row}: {time}, {limit}");
        }
    }
}

/// With limited jerk no way is faster than without, and none of these takes half as long again. Every limit is kept at every one of
/// 20 000 instants, and speeds are the derivatives of the values (by central differences).
#[test]
fn a_way_with_limited_jerk_keeps_every_limit_and_is_no_faster_than_the_trajectory_library() {
    for row in rows("published/toppra_paths.csv") {
        let (curve, limits) = spline(&row);
        let way = TimedWay::new(curve, &limits, 200, &|_| f64::INFINITY);
        let least = row.number("T_N8000_s");
        assert!(way.duration() > least && way.duration() < 1.5 * least, "{row}: {}", way.duration());
        assert!((way.bound() / least - 1.0).abs() < 2e-3, "{row}: {}", way.bound());
        let instants = 20_000;
        for instant in 0..=instants {
            let t = way.duration() * f64::from(instant) / f64::from(instants);
            let [speed, acceleration, jerk] = way.rates_at(t);
            for axis in 0..6 {
                assert!(speed[axis].abs() <= limits.speed[axis] * (1.0 + 1e-9), "{row}: at {t} s");
                assert!(
                    acceleration[axis].abs() <= limits.acceleration[axis] * (1.0 + 1e-9),
                    "{row}: at {t} s"
                );
                // Between the instants looked at the jerk bends by something of the square of their distance.
                assert!(jerk[axis].abs() <= limits.jerk[axis] * (1.0 + 1e-3), "{row}: at {t} s");
            }
            let h = 1e-6;
            if instant % 100 == 50 {
                let (before, after) = (way.at(t - h), way.at(t + h));
                for axis in 0..6 {
                    let derivative = (after[axis] - before[axis]) / (2.0 * h);
                    assert!((derivative - speed[axis]).abs() < 1e-6, "{row}: at {t} s, axis {axis}");
                }
            }
        }
        assert_eq!(way.at(way.duration()), way.curve().at(way.curve().end()), "{row}");
    }
}

/// A straight way has its exact answer, the double-S of the slowest axis: nothing is faster, and the general way of timing comes within
/// eight per cent of it (short moves; to the last digit where both limits of a long one are reached).
#[test]
fn a_straight_way_timed_as_any_other_comes_near_the_closed_form() {
    for row in rows("published/ruckig_moves.csv") {
        let limits =
            |name: &str| -> Vec<f64> { (1..=6).map(|i| row.number(&format!("{name}{i}"))).collect() };
        let limits = AxisLimits { speed: limits("vmax"), acceleration: limits("amax"), jerk: limits("jmax") };
        let ends = [limits_of(&row, "start"), limits_of(&row, "goal")].concat();
        let curve = Curve::natural_spline(&[0.0, 1.0], &ends, 6).unwrap();
        let exact = AxisMove::new(
            &arm(&row),
            AxisValues::from_column_slice(&ends[..6]),
            AxisValues::from_column_slice(&ends[6..]),
            1.0,
        )
        .duration();
        let time = TimedWay::new(curve, &limits, 200, &|_| f64::INFINITY).duration();
        assert!(time > exact * (1.0 - 1e-9), "{row}: {time} s is less than {exact} s");
        assert!(time < exact * 1.08, "{row}: {time} s is far over {exact} s");
    }
}

fn limits_of(row: &Row, name: &str) -> Vec<f64> {
    (1..=6).map(|i| row.number(&format!("{name}{i}"))).collect()
}
