//! The tool speed limit of air moves, and what limited jerk costs.

use seamwright_kinematics::AxisValues;
use seamwright_sim::check::{Options, check};
use seamwright_sim::motion::{AxisMove, Limits};
use seamwright_sim::plan::plan;
use seamwright_sim::schedule::{EventKind, path_rows, schedule};
use seamwright_tests::bench::Question;

const SEAM: &str = "points_mm = [[-60, 4, 10], [60, 4, 10]]";

/// Every row of path.csv in the air keeps the limit, and at least one move comes up to it; times are longer. A limit that nothing comes up
/// to changes nothing.
#[test]
fn the_wire_end_keeps_its_speed_in_the_air_all_along() {
    const LIMIT: f64 = 0.4;
    let mut cell = Question { seam: SEAM, ..Question::default() }.cell();
    let plan = plan(&cell, &seamwright_sim::plan::Options::default());
    let air = |cell: &seamwright_sim::cell::Cell| {
        let schedule = schedule(cell, &plan);
        let rows = path_rows(cell, &plan, &schedule);
        let speeds = rows.iter().filter(|row| row.phase == EventKind::AirMove).map(|row| row.speed);
        (speeds.fold(0.0, f64::max), schedule.visits[0].duration())
    };
    let (free, free_time) = air(&cell);
    assert!(free > LIMIT, "{free} m/s without a limit: the limit must bind");
    cell.arm.air_tool_speed = Some(LIMIT);
    let (limited, limited_time) = air(&cell);
    assert!(limited <= LIMIT * (1.0 + 1e-9) && limited > 0.95 * LIMIT, "{limited} m/s");
    assert!(limited_time > free_time, "{limited_time} s, without {free_time} s");
    cell.arm.air_tool_speed = Some(2.0 * free);
    assert_eq!(air(&cell), (free, free_time));
}

/// An axis that turns by θ with the wire end a distance r from it: r·θ̇ ≤ v. Above a²/j and below the axis's own limit the double-S takes
/// θ/ω + ω/a + a/j, without a limit of jerk θ/ω + ω/a: the excess is a/j, whatever θ and ω.
#[test]
fn limited_jerk_costs_the_time_in_which_acceleration_builds_up() {
    let cell = Question { seam: SEAM, ..Question::default() }.cell();
    let arm = &cell.arm.arm;
    let (mut to, axis) = (AxisValues::zeros(), &arm.axes()[0]);
    to[0] = 2.0;
    let (a, j) = (axis.max_acceleration.value, axis.max_jerk.value);
    let speed = 1.5;
    assert!(speed > a * a / j && speed < axis.max_speed);
    let share = Limits { speed: speed / 2.0, acceleration: f64::INFINITY, jerk: f64::INFINITY };
    let turn = AxisMove::with_others(arm, AxisValues::zeros(), to, 1.0, &[share]);
    assert!((turn.jerk_free() - (2.0 / speed + speed / a)).abs() < 1e-9, "{} s", turn.jerk_free());
    assert!((turn.duration() - (2.0 / speed + speed / a + a / j)).abs() < 1e-9, "{} s", turn.duration());
}

/// What is told of a cell is the sum over its moves: the least is below what they take, and by no more than a move each.
#[test]
fn the_excess_over_the_least_without_limited_jerk_is_told() {
    let cell = Question { seam: SEAM, ..Question::default() }.cell();
    let checked = check(&cell, &Options { seed: 0, watch: &() });
    let jerk = checked.findings.cycle.unwrap().jerk.unwrap();
    assert!(jerk.moves_s > jerk.jerk_free_s && jerk.jerk_free_s > 0.5 * jerk.moves_s, "{jerk:?}");
    assert!((jerk.excess_percent - 100.0 * (jerk.moves_s / jerk.jerk_free_s - 1.0)).abs() < 1e-3, "{jerk:?}");
}
