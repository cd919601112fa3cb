//! A calibration against times whose factors are known beforehand.
//!
//! Moves of one axis alone are timed by the closed form of a profile that is limited in speed, acceleration and jerk, with the true
//! factors put into it here; the fit must find those factors again. Welds: what is added to the arc start.

use std::path::Path;

use seamwright_kinematics::AxisValues;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, Measured, Measurement, SeamId};
use seamwright_sim::findings::CalibrationFindings;
use seamwright_sim::motion::{AxisMove, Pace};
use seamwright_sim::production::calibration::{Found, Quantity, calibrate, promised_share};

const STARTER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenes/gate-bracket/cell.toml");

const PACE: f64 = 0.9;
const ACCELERATION: f64 = 0.7;
const JERK: f64 = 0.4;
const SETTLE: f64 = 0.15;
const ARC_START: f64 = 0.25;

/// Rest to rest over `d` with speed `v`, acceleration `a`, jerk `j`: v reached, only a reached, neither.
fn double_s(d: f64, v: f64, a: f64, j: f64) -> f64 {
    let to_speed = if v * j >= a * a { a / j + v / a } else { 2.0 * (v / j).sqrt() };
    if d >= v * to_speed {
        d / v + to_speed
    } else if d >= 2.0 * a.powi(3) / (j * j) {
        a / j + ((a / j).powi(2) + 4.0 * d / a).sqrt()
    } else {
        4.0 * (d / (2.0 * j)).cbrt()
    }
}

/// With speeds cut alone (power 0) a move at half pace has half the speed and all the acceleration and jerk; at power 1 half of that,
/// and √⅛ of the jerk; at 2 the whole motion takes twice the time. All of it on one axis by the closed form.
#[test]
fn a_pace_cuts_accelerations_by_its_power() {
    let cell = starter();
    let axis = &cell.arm.arm.axes()[2];
    let (v, a, j) = (axis.max_speed, axis.max_acceleration.value, axis.max_jerk.value);
    for distance in [0.05, 0.4, 1.2] {
        let mut to = AxisValues::zeros();
        to[2] = distance;
        let time = |power: f64| {
            let planned = AxisMove::new(&cell.arm.arm, AxisValues::zeros(), to, Pace::new(0.5, power));
            assert!((planned.least_possible() - double_s(distance, v, a, j)).abs() < 1e-9);
            planned.duration()
        };
        assert!((time(0.0) - double_s(distance, 0.5 * v, a, j)).abs() < 1e-9);
        assert!((time(1.0) - double_s(distance, 0.5 * v, 0.5 * a, 0.125_f64.sqrt() * j)).abs() < 1e-9);
        assert!((time(2.0) - 2.0 * double_s(distance, v, a, j)).abs() < 1e-9);
    }
}

fn starter() -> Cell {
    read_cell(Path::new(STARTER)).expect("the demo is sound")
}

/// Moves of each axis over short and long ways at full and at half pace; the longest reach the axis's greatest speed.
fn moves(cell: &Cell) -> Vec<Measurement> {
    let mut all = Vec::new();
    for (i, axis) in cell.arm.arm.axes().iter().enumerate() {
        for (distance, pace) in [(0.02, 1.0), (0.15, 0.5), (0.4, 1.0), (1.0, 1.0), (5.0, 1.0), (5.0, 0.5)] {
            let mut to = AxisValues::zeros();
            to[i] = distance;
            let (v, a, j) = (axis.max_speed, axis.max_acceleration.value, axis.max_jerk.value);
            let time = double_s(distance, v, ACCELERATION * a, JERK * j) / (PACE * pace) + SETTLE;
            let what = Measured::Move { from: AxisValues::zeros(), to, pace: Some(pace) };
            all.push(Measurement { line: all.len() as u64 + 2, what, time });
        }
    }
    all
}

fn welds(cell: &Cell) -> Vec<Measurement> {
    let seams = cell.seams.iter().enumerate().take(3).map(|(index, seam)| {
        let p = &seam.procedure;
        let time = p.gas_before
            + p.arc.run_in
            + p.arc_start
            + p.arc.mean_retry()
            + ARC_START
            + seam.weld_length() / p.travel_speed
            + p.crater;
        Measurement { line: index as u64 + 100, what: Measured::Weld(SeamId(index)), time }
    });
    seams.collect()
}

#[test]
fn the_factors_that_made_the_times_are_found_again() {
    let cell = starter();
    let measured = [moves(&cell), welds(&cell)].concat();
    let calibrated = calibrate(&cell, None, &measured);
    let expected = |quantity| match quantity {
        Quantity::Pace => PACE,
        Quantity::Acceleration => ACCELERATION,
        Quantity::Jerk => JERK,
        Quantity::Settle => SETTLE,
        Quantity::ArcStart => ARC_START,
        Quantity::PacePower => Pace::EVEN,
    };
    for (quantity, found) in &calibrated.found {
        if *quantity == Quantity::PacePower {
            // The whole motion is slowed evenly, as is thought beforehand: the power earns no place of its own.
            assert_eq!(*found, Found::Untold { with: None });
            continue;
        }
        let Found::Fitted { value, .. } = found else { panic!("{quantity:?}: {found:?}") };
        assert!((value - expected(*quantity)).abs() < 1e-5, "{quantity:?}: {value}");
    }
    // Nothing is believed to agree better than a thousandth.
    assert!(calibrated.calibration.moves_residual.unwrap() < 0.001_1);
    let off =
        calibrated.after.iter().zip(&measured).map(|(time, measured)| (time / measured.time - 1.0).abs());
    assert!(off.fold(0.0, f64::max) < 1e-6);
    assert!((calibrated.calibration.arc_start_added.unwrap() - ARC_START).abs() < 1e-5);
}

#[test]
fn without_a_measured_weld_nothing_is_said_of_the_arc_start() {
    let cell = starter();
    let calibrated = calibrate(&cell, None, &moves(&cell));
    let arc_start = calibrated.found.iter().find(|(quantity, _)| *quantity == Quantity::ArcStart).unwrap();
    assert_eq!(arc_start.1, Found::Untold { with: None });
    assert_eq!(calibrated.calibration.arc_start_added, None);
}

/// Moves at one pace that are long enough to reach the greatest speed: d/v/p + c, where acceleration, jerk and settling all go into the constant c. They cannot be told apart.
#[test]
fn long_moves_alone_do_not_tell_acceleration_jerk_and_settling_apart() {
    let cell = starter();
    let axes = cell.arm.arm.axes();
    let measured: Vec<Measurement> = (8..16)
        .map(|tenths| {
            let (distance, axis) = (f64::from(tenths) * 0.3, &axes[0]);
            let mut to = AxisValues::zeros();
            to[0] = distance;
            let (v, a, j) = (axis.max_speed, axis.max_acceleration.value, axis.max_jerk.value);
            // A watch that is 2 ms off now and then.
            let watch = if tenths % 2 == 0 { 0.002 } else { -0.002 };
            let time = double_s(distance, v, ACCELERATION * a, JERK * j) / PACE + SETTLE + watch;
            let what = Measured::Move { from: AxisValues::zeros(), to, pace: Some(1.0) };
            Measurement { line: 2, what, time }
        })
        .collect();
    let calibrated = calibrate(&cell, None, &measured);
    let fitted = |wanted: Quantity| {
        let found = calibrated.found.iter().find(|(quantity, _)| *quantity == wanted).unwrap().1;
        matches!(found, Found::Fitted { .. })
    };
    let of_the_constant =
        [Quantity::Acceleration, Quantity::Jerk, Quantity::Settle].into_iter().filter(|q| fitted(*q)).count();
    assert!(fitted(Quantity::Pace), "{:?}", calibrated.found);
    assert_eq!(of_the_constant, 1, "{:?}", calibrated.found);
}

/// Long moves of every axis reach their greatest speed, at which a jerk only adds its share a/j of the run-up v/a + a/j: with a watch that
/// is off by up to 40 ms they hardly tell it. A fit that follows the scatter finds no limit of the jerk in some such tables, and is sure of
/// too long a settling then. It stays as the file says where the end is no better by three standard deviations (one table in 700 by
/// chance), and the settling is as unsure as the jerk leaves it: within two standard deviations in 19 of 20 tables, three misses
/// being one case in 13.
#[test]
fn a_jerk_that_long_moves_do_not_tell_stays_as_the_file_says_and_leaves_the_settling_unsure() {
    let cell = starter();
    let (tables, mut at_end, mut missed) = (20_u64, 0, 0);
    for table in 0..tables {
        let mut state = table * 2_654_435_761 + 12_345;
        let mut watch = || {
            // Knuth's 64-bit congruential generator, its upper bits.
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            0.08 * ((state >> 40) as f64 / (1_u64 << 24) as f64 - 0.5)
        };
        let mut measured = Vec::new();
        for (i, axis) in cell.arm.arm.axes().iter().enumerate() {
            for distance in [1.5, 2.2, 3.0] {
                let mut to = AxisValues::zeros();
                to[i] = distance;
                let (v, a, j) = (axis.max_speed, axis.max_acceleration.value, axis.max_jerk.value);
                let time = double_s(distance, v, a, j) / PACE + SETTLE + watch();
                let what = Measured::Move { from: AxisValues::zeros(), to, pace: Some(1.0) };
                measured.push(Measurement { line: measured.len() as u64 + 2, what, time });
            }
        }
        let calibrated = calibrate(&cell, None, &measured);
        let of =
            |wanted: Quantity| calibrated.found.iter().find(|(quantity, _)| *quantity == wanted).unwrap().1;
        at_end += usize::from(matches!(of(Quantity::Jerk), Found::AtEnd { .. }));
        if let Found::Fitted { value, spread } = of(Quantity::Settle) {
            missed += usize::from((value - SETTLE).abs() > 2.0 * spread);
        }
    }
    assert_eq!(at_end, 0, "of {tables} tables say that the jerk has no limit");
    assert!(missed <= 3, "{missed} of {tables} tables are too sure of the settling");
}

/// Six moves at 40, 70 and 100 % of a controller that drives trapezoids of 0.7 of the accelerations and stands 0.15 s after, within 1 %
/// (invented, its times by an independent program): every one can be met to 2 %, but with four quantities fitted to them nothing is
/// left to foretell a seventh by. Fewer are fitted, and what is promised is no more than without measuring.
#[test]
fn few_moves_are_fitted_by_fewer_quantities_instead_of_promising_thousands_of_percent() {
    let cell = starter();
    let rows = [
        (
            0.3138,
            [19.231, -5.564, 36.805, 59.456, -19.737, 72.944],
            [20.814, -6.95, 33.033, 63.986, -22.414, 61.584],
            0.4,
        ),
        (
            0.8559,
            [-48.93, -2.919, -23.724, -38.909, 9.945, -121.417],
            [-3.539, 40.07, -70.339, -41.878, 27.264, -180.893],
            0.4,
        ),
        (
            0.4983,
            [-45.476, 24.338, 39.164, 71.781, 77.29, -28.484],
            [-28.145, 25.1, 25.838, 74.296, 91.378, -63.357],
            0.7,
        ),
        (
            0.3255,
            [30.286, -22.482, -26.864, -55.2, 0.735, 40.152],
            [32.781, -22.661, -28.682, -48.676, 4.051, 22.661],
            0.7,
        ),
        (
            0.4029,
            [-9.484, -19.686, -13.078, 33.639, 18.646, 125.083],
            [-18.542, -21.511, -12.763, 25.055, 20.471, 132.722],
            0.7,
        ),
        (
            0.342,
            [7.54, 17.086, -8.892, 59.379, -31.298, -146.678],
            [12.164, 21.971, -12.278, 60.024, -25.96, -149.753],
            1.0,
        ),
    ];
    let stance = |degrees: [f64; 6]| AxisValues::from(degrees.map(seamwright_kinematics::units::deg));
    let measured = rows.map(|(time, from, to, pace)| {
        let what = Measured::Move { from: stance(from), to: stance(to), pace: Some(pace) };
        Measurement { line: 2, what, time }
    });
    let calibrated = calibrate(&cell, None, &measured);
    assert_eq!(calibrated.contradiction(), None, "{:?}", calibrated.found);
    let promised = promised_share(&calibrated.calibration, 0).unwrap();
    assert!(promised < 0.3, "±{promised}: {:?}", calibrated.found);
    for (time, row) in calibrated.after.iter().zip(&rows) {
        assert!((time / row.0 - 1.0).abs() < 0.1, "{time} s, measured {} s", row.0);
    }
}

/// Moves that axis 1 alone makes say nothing of the other five: five sixths of what is promised is what is promised without measuring,
/// 15 %, so it is no less than 12.5 %.
#[test]
fn moves_of_one_axis_do_not_promise_those_of_others() {
    let cell = starter();
    let of_axis_1: Vec<Measurement> = moves(&cell).into_iter().take(6).collect();
    let one = calibrate(&cell, None, &of_axis_1);
    assert_eq!(one.heard, [true, false, false, false, false, false]);
    let promised = promised_share(&one.calibration, 0).unwrap();
    assert!(promised >= 5.0 / 6.0 * 0.15, "±{promised}");
    let all = calibrate(&cell, None, &moves(&cell));
    assert_eq!(all.heard, [true; 6]);
    assert!(promised_share(&all.calibration, 0).unwrap() < 0.05, "{:?}", all.calibration);
}

fn move_of_axis_1(line: u64, to: f64, time: f64) -> Measurement {
    let what = Measured::Move {
        from: AxisValues::zeros(),
        to: AxisValues::new(to, 0.0, 0.0, 0.0, 0.0, 0.0),
        pace: None,
    };
    Measurement { line, what, time }
}

/// One and the same move timed with 1.0, 1.6 and 0.6 s: the best fit still misses by 32 %, which is told, and so are the lines.
#[test]
fn times_that_contradict_each_other_are_told_with_what_the_fit_misses_them_by() {
    let cell = starter();
    let measured = [(2, 0.7, 1.0), (3, 0.7, 1.6), (4, 0.7, 0.6), (5, 1.4, 1.2)];
    let measured = measured.map(|(line, to, time)| move_of_axis_1(line, to, time));
    let calibrated = calibrate(&cell, None, &measured);
    let findings = CalibrationFindings::new(&cell, &measured, &calibrated);
    let off = findings.quality.alike_moves_off_percent.unwrap();
    let squares = findings.measurements.iter().map(|one| one.off_percent.powi(2)).sum::<f64>();
    assert!((off - (squares / 4.0).sqrt()).abs() < 1e-5 && off > 20.0, "{off}");
    let said = findings.quality.sentence();
    assert!(said.contains(&format!("residual {off:.1} % of moves, which are too alike")), "{said}");
    let lines = "lines 4 and 3 time the same move with 0.60 and 1.60 s";
    assert!(findings.rests_on.iter().any(|line| line.starts_with(lines)), "{:?}", findings.rests_on);
}

/// One seam three times cannot tell travel speed from arc start; two of other lengths can.
#[test]
fn welds_of_one_length_promise_nothing_of_others() {
    let cell = starter();
    let mut seams: Vec<SeamId> = (0..cell.seams.len()).map(SeamId).collect();
    seams.sort_by(|one, other| cell.seams[one.0].weld_length().total_cmp(&cell.seams[other.0].weld_length()));
    let weld = |seam: SeamId| Measurement {
        line: 2,
        what: Measured::Weld(seam),
        time: 1.5 + cell.seams[seam.0].weld_length() / cell.seams[seam.0].procedure.travel_speed,
    };
    let (shortest, longest) = (weld(seams[0]), weld(seams[seams.len() - 1]));
    let alike = calibrate(&cell, None, &[longest; 3]);
    assert!(alike.welds_too_alike && promised_share(&alike.calibration, 1).is_none());
    let apart = calibrate(&cell, None, &[longest, longest, shortest]);
    assert!(!apart.welds_too_alike && promised_share(&apart.calibration, 1).is_some());
}

/// No arc starts in a move: it can be confused with no quantity of moves.
#[test]
fn moves_alone_confuse_nothing_with_arc_starts() {
    let cell = starter();
    let measured = [(2, 0.7, 1.1), (3, 1.4, 1.5), (4, 0.2, 0.7)];
    let measured = measured.map(|(line, to, time)| move_of_axis_1(line, to, time));
    let calibrated = calibrate(&cell, None, &measured);
    let findings = CalibrationFindings::new(&cell, &measured, &calibrated);
    for quantity in &findings.quantities {
        assert!(
            !quantity.sentence.contains("tell it from time added to each arc start"),
            "{}",
            quantity.sentence
        );
    }
}
