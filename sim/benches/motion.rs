//! How long timing takes: a way of seven points and six axes, and a move straight in axis space beside `rsruckig`'s, in one run.
//!
//! `cargo bench -p seamwright-sim --bench motion` prints the best of several repetitions. Times are never asserted.

use std::hint::black_box;
use std::time::Instant;

use nalgebra::{Isometry3, Vector3};
use rsruckig::prelude::*;
use seamwright_kinematics::{Arm, Axis, AxisValues, Based, Basis, Range};
use seamwright_sim::motion::{AxisLimits, AxisMove, Curve, TimedWay, fastest_time};

const REPETITIONS: u32 = 25;
const SPEED: [f64; 6] = [2.6, 2.3, 2.6, 5.2, 5.2, 7.0];
const ACCELERATION: [f64; 6] = [6.0, 5.0, 7.0, 20.0, 20.0, 30.0];

/// Seven points of an invented way, rad.
const POINTS: [[f64; 6]; 7] = [
    [0.0, 0.0, 0.0, 0.0, 0.5, 0.0],
    [0.3, 0.2, 0.0, 0.2, 0.6, 0.1],
    [0.0, 0.4, -0.1, -0.2, 0.7, -0.1],
    [0.3, 0.6, -0.2, 0.2, 0.8, 0.1],
    [0.0, 0.8, -0.3, 0.0, 0.9, 0.0],
    [-0.4, 0.5, -0.1, 0.3, 0.7, 0.4],
    [-0.6, 0.2, 0.1, 0.0, 0.8, 0.0],
];

fn arm() -> Arm {
    let based = |value| Based { value, basis: Basis::File };
    let axes = std::array::from_fn(|i| Axis {
        origin: Isometry3::identity(),
        direction: Vector3::z_axis(),
        range: Range { min: -10.0, max: 10.0 },
        max_speed: SPEED[i],
        max_acceleration: based(ACCELERATION[i]),
        max_jerk: based(10.0 * ACCELERATION[i]),
    });
    Arm::new("limits only".to_owned(), axes, Isometry3::identity())
}

/// Seconds that one call takes, the best of [`REPETITIONS`] of `calls` each.
fn best(calls: u32, mut call: impl FnMut() -> f64) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..REPETITIONS {
        let begun = Instant::now();
        for _ in 0..calls {
            black_box(call());
        }
        best = best.min(begun.elapsed().as_secs_f64() / f64::from(calls));
    }
    best
}

fn main() {
    let knots: Vec<f64> = (0..7).map(f64::from).collect();
    let Some(curve) = Curve::natural_spline(&knots, POINTS.as_flattened(), 6) else {
        eprintln!("the way cannot be made");
        return;
    };
    let limits = AxisLimits {
        speed: SPEED.to_vec(),
        acceleration: ACCELERATION.to_vec(),
        jerk: ACCELERATION.map(|acceleration| 10.0 * acceleration).to_vec(),
    };
    let unlimited = |_: f64| f64::INFINITY;
    let fastest = best(40, || fastest_time(&curve, &limits, 1000, &unlimited));
    println!(
        "fastest way, 1000 steps, speeds and accelerations: {:9.1} µs of the 200 µs allowed",
        fastest * 1e6
    );
    let way = TimedWay::new(curve.clone(), &limits, 100, &unlimited);
    let timed = best(2, || TimedWay::new(curve.clone(), &limits, 100, &unlimited).duration());
    println!(
        "way with limited jerk, 100 steps:                  {:9.1} µs; {:.4} s, {:.1} % over the bound of {:.4} s",
        timed * 1e6,
        way.duration(),
        100.0 * (way.duration() / way.bound() - 1.0),
        way.bound()
    );
    let arm = arm();
    let [from, to] = [POINTS[0], POINTS[3]].map(AxisValues::from);
    let ours = best(20_000, || AxisMove::new(&arm, black_box(from), black_box(to), 1.0).duration());
    let mut generator = Ruckig::<6, ThrowErrorHandler>::new(None, 0.005);
    let mut input = InputParameter::<6>::new(None);
    input.current_position = DataArrayOrVec::Stack(POINTS[0]);
    input.target_position = DataArrayOrVec::Stack(POINTS[3]);
    input.max_velocity = DataArrayOrVec::Stack(SPEED);
    input.max_acceleration = DataArrayOrVec::Stack(ACCELERATION);
    input.max_jerk = DataArrayOrVec::Stack(ACCELERATION.map(|acceleration| 10.0 * acceleration));
    let mut trajectory = Trajectory::<6>::new(None);
    let theirs = best(2000, || {
        // What fails takes no time worth comparing.
        generator
            .calculate(black_box(&input), &mut trajectory)
            .map_or(f64::NAN, |_| trajectory.get_duration())
    });
    println!(
        "axis move of six axes:                             {:9.1} ns of the 200 ns allowed",
        ours * 1e9
    );
    println!(
        "the same, each axis on its own, `rsruckig`:        {:9.1} ns, {:.1} times ours; {:.6} s to our {:.6} s",
        theirs * 1e9,
        theirs / ours,
        trajectory.get_duration(),
        AxisMove::new(&arm, from, to, 1.0).duration()
    );
}
