//! Decides what an arm file says of its motors and of ranges that depend on another axis.
//!
//! `[coupling]` with six `[[motor]]` rows, and any number of `[[dependent_range]]` tables; all may be absent.

use nalgebra::Matrix6;

use crate::arm_file::{axis_values, six_rows};
use crate::document::Table;
use crate::placement::ANGLES_DEG;
use crate::{AxisValues, Coupling, DependentRange, DependentRangeError, Motor, Range, RangePoint, units};

/// Largest value of a motor, degrees: its shaft may make thousands of turns while an axis makes one.
const MOTOR_DEG: f64 = 1e7;
/// Largest entry of a coupling: degrees of an axis per degree of a motor, or the other way round.
const LARGEST_RATIO: f64 = 1e4;

/// The coupling and the motors, where the file has them and they are sound; problems are noted.
pub(crate) fn read_motors(table: &Table<'_>) -> Option<(Coupling, [Motor; 6])> {
    let coupling = table.opt_table("coupling").and_then(read_coupling);
    let motors = six_rows(table, "motor", read_motor);
    match (table.has("coupling"), table.has("motor")) {
        (true, false) => table.problem(
            "coupling",
            "it limits nothing without motors",
            "write six [[motor]] rows with min_deg, max_deg or max_speed_deg_s".to_owned(),
        ),
        (false, true) => table.problem(
            "motor",
            "it is not said how these motors turn the axes",
            "write [coupling] with axis_per_motor, or limit the axes themselves".to_owned(),
        ),
        _ => {}
    }
    coupling.zip(motors)
}

fn read_coupling(table: Table<'_>) -> Option<Coupling> {
    let key = "axis_per_motor";
    let right = "write six rows (axes) of six numbers (motors), such as [1, 0, 0, 0, 0, 0]";
    if !table.has(key) {
        table.problem(key, "this key is missing", right.to_owned());
    }
    let rows = table.opt_rows::<6>(key, -LARGEST_RATIO..=LARGEST_RATIO, 6);
    let offset = table.opt_numbers::<6>("offset_deg", ANGLES_DEG);
    let is_offset_sound = offset.is_some() || !table.has("offset_deg");
    let coupling = rows.filter(|_| is_offset_sound).and_then(|rows| {
        let Ok(rows) = <[[f64; 6]; 6]>::try_from(rows) else {
            table.problem(key, "there are more than six rows", right.to_owned());
            return None;
        };
        let matrix = Matrix6::from_fn(|axis, motor| rows[axis][motor]);
        let offset = offset.map_or_else(AxisValues::zeros, axis_values);
        Coupling::new(matrix, offset)
            .map_err(|error| {
                let right = "write rows that turn each axis by motors of its own".to_owned();
                table.problem(key, error.to_string(), right);
            })
            .ok()
    });
    table.finish();
    coupling
}

fn read_motor(table: &Table<'_>) -> Option<Motor> {
    let min = table.opt_number("min_deg", -MOTOR_DEG..=MOTOR_DEG).map(units::deg);
    let max = table.opt_number("max_deg", -MOTOR_DEG..=MOTOR_DEG).map(units::deg);
    let max_speed = table.opt_number("max_speed_deg_s", 0.1..=MOTOR_DEG).map(units::deg);
    for (key, other) in [("min_deg", "max_deg"), ("max_deg", "min_deg")] {
        if table.has(key) && !table.has(other) {
            table.problem(other, "this key is missing", format!("write it beside `{key}`, or neither"));
        }
    }
    let range = min.zip(max).map(|(min, max)| Range { min, max });
    if range.is_some_and(|range| range.min >= range.max) {
        let right = "write the lower end in `min_deg`".to_owned();
        table.problem("max_deg", "this is not above `min_deg`", right);
        return None;
    }
    Some(Motor { range, max_speed })
}

/// The ranges that depend on another axis, where they are sound; problems are noted. `own`: the range (rad) of each axis.
pub(crate) fn read_dependent_ranges(table: &Table<'_>, own: Option<[Range; 6]>) -> Vec<DependentRange> {
    let tables = table.tables("dependent_range").into_iter();
    let ranges = tables.filter_map(|table| {
        let range = read_dependent_range(&table);
        let is_sound = range.as_ref().zip(own).is_none_or(|(range, own)| is_confirmed(&table, range, &own));
        table.finish();
        range.filter(|_| is_sound)
    });
    ranges.collect()
}

fn read_dependent_range(table: &Table<'_>) -> Option<DependentRange> {
    let axis = table.whole("axis", 1..=6);
    let by_axis = table.whole("by_axis", 1..=6);
    let key = "points_deg";
    if !table.has(key) {
        let right = "write rows [value of `by_axis`, least, greatest of `axis`]".to_owned();
        table.problem(key, "this key is missing", right);
    }
    let rows = table.opt_rows::<3>(key, ANGLES_DEG, 2)?;
    let points = rows.into_iter().map(|row| row.map(units::deg));
    let points = points.map(|[at, min, max]| RangePoint { at, range: Range { min, max } }).collect();
    let range = DependentRange::new(axis? as usize - 1, by_axis? as usize - 1, points);
    range
        .map_err(|error| {
            let (key, right) = match error {
                DependentRangeError::OnItself => ("by_axis", "name another axis"),
                DependentRangeError::NotRising { .. } => (key, "write points in rising order of `by_axis`"),
                DependentRangeError::Empty { .. } => {
                    (key, "write the least value of `axis` before the greatest")
                }
                DependentRangeError::NoSuchAxis
                | DependentRangeError::TooFewPoints
                | DependentRangeError::NotFinite { .. } => {
                    (key, "write at least two points of finite numbers")
                }
            };
            table.problem(key, error.to_string(), right.to_owned());
        })
        .ok()
}

/// Whether the points cover the whole range of the other axis, and leave the limited one something everywhere on it.
fn is_confirmed(table: &Table<'_>, range: &DependentRange, own: &[Range; 6]) -> bool {
    let (axis, by_axis) = (range.axis() + 1, range.by_axis() + 1);
    let (limited, by) = (own[range.axis()], own[range.by_axis()]);
    let points = range.points();
    let covers = points[0].at <= by.min && points[points.len() - 1].at >= by.max;
    if !covers {
        let [min, max] = [by.min, by.max].map(units::to_deg);
        let wrong = format!("the points do not cover the range of axis {by_axis}, {min:.3}° to {max:.3}°");
        table.problem("points_deg", wrong, "write points from end to end".to_owned());
    }
    // Both ranges are straight between points: what holds at the ends holds between.
    let inside = points.iter().map(|point| point.at).filter(|at| by.excess(*at) <= 0.0);
    let barred = [by.min, by.max].into_iter().chain(inside).find(|at| {
        let here = range.at(*at);
        here.max < limited.min || here.min > limited.max
    });
    if let Some(at) = barred {
        let wrong = format!(
            "where axis {by_axis} is at {:.3}° this leaves axis {axis} nothing of its own range",
            units::to_deg(at)
        );
        let right = "compare with `min_deg` and `max_deg` of both axes".to_owned();
        table.problem("points_deg", wrong, right);
    }
    covers && barred.is_none()
}

#[cfg(test)]
mod tests {
    use crate::document::{Document, Problems};
    use crate::{Arm, Drive, read_arm};

    use super::*;

    const ARM: &str = include_str!("../../scenes/arms/reach-1400.toml");

    /// The demo arm with `tables` added, and every problem as its text.
    fn read(tables: &str) -> (Option<Arm>, Vec<String>) {
        let text = format!("{ARM}\n{tables}\n");
        let problems = Problems::default();
        let document = Document::parse("arm.toml", &text, &problems);
        let table = document.root(&problems);
        let arm = read_arm(&table, None);
        let _ = table.tables("link_shape");
        table.finish();
        drop(document);
        (arm.map(|file| file.arm), problems.into_sorted().iter().map(ToString::to_string).collect())
    }

    fn sound(tables: &str) -> Arm {
        let (arm, problems) = read(tables);
        assert_eq!(problems, Vec::<String>::new(), "{tables}");
        arm.expect("no problem")
    }

    fn refused(tables: &str, what: &str) {
        let (arm, problems) = read(tables);
        assert!(arm.is_none(), "{tables}");
        assert!(problems.iter().any(|problem| problem.contains(what)), "{what}: {problems:#?}");
        assert_eq!(problems.len(), 1, "{problems:#?}");
    }

    const LEVEL_ELBOW: &str = "[coupling]\naxis_per_motor = [[1, 0, 0, 0, 0, 0], [0, 1, 0, 0, 0, 0], \
        [0, -1, 1, 0, 0, 0], [0, 0, 0, 0.01, 0, 0], [0, 0, 0, 0, 1, 0], [0, 0, 0, 0, 0.5, 1]]\n";
    const FREE: &str = "[[motor]]\n";

    #[test]
    fn coupled_motors_are_read_with_their_limits() {
        let motor3 = "[[motor]]\nmin_deg = -60\nmax_deg = 100\nmax_speed_deg_s = 150\n";
        let offset = "offset_deg = [0, 0, 10, 0, 0, 0]\n";
        let arm = sound(&format!("{LEVEL_ELBOW}{offset}{FREE}{FREE}{motor3}{FREE}{FREE}{FREE}"));
        // Motor 3 stands at axis 3 − 10° + axis 2.
        let axes = axis_values([0.0, -70.0, 5.0, 0.0, 0.0, 0.0]);
        let (drive, excess) = arm.range_excess(&axes).expect("motor 3 is at -75°");
        assert_eq!(drive, Drive::Motor(2));
        assert!((units::to_deg(excess) - 15.0).abs() < 1e-9, "{excess}");
        // Both axes at their own full speed of 200 and 215°/s ask 415°/s of it, where it can do 150.
        let full = axis_values([0.0, 200.0, 215.0, 0.0, 0.0, 0.0]);
        assert!((arm.least_time(&full) - 415.0 / 150.0).abs() < 1e-12);
        assert_eq!(arm.coupling().map(|coupling| coupling.motors_per_axis()[3]), Some(100.0));
    }

    #[test]
    fn every_bad_coupling_is_named() {
        let six = FREE.repeat(6);
        refused(LEVEL_ELBOW, "it limits nothing without motors");
        refused(&six, "it is not said how these motors turn the axes");
        refused(&format!("{LEVEL_ELBOW}{}", FREE.repeat(5)), "there are 5 rows");
        refused(&format!("[coupling]\n{six}"), "axis_per_motor");
        let again = LEVEL_ELBOW.replace("[0, 0, 0, 0, 0.5, 1]", "[0, 0, 0, 0, 2, 0]");
        refused(&format!("{again}{six}"), "the matrix has no inverse");
        let seven = LEVEL_ELBOW.replace("[[1,", "[[0, 0, 0, 0, 0, 1], [1,");
        refused(&format!("{seven}{six}"), "more than six rows");
        let short = LEVEL_ELBOW.replace("[0, 1, 0, 0, 0, 0]", "[0, 1, 0, 0, 0]");
        refused(&format!("{short}{six}"), "does not have 6 numbers");
        let odd = LEVEL_ELBOW.replace("0.01", "nan");
        refused(&format!("{odd}{six}"), "is not a finite number");
        refused(&format!("{LEVEL_ELBOW}ofset_deg = [0, 0, 0, 0, 0, 0]\n{six}"), "offset_deg");
        refused(&format!("{LEVEL_ELBOW}offset_deg = [0]\n{six}"), "this has 1 numbers");
        let five = FREE.repeat(5);
        refused(&format!("{LEVEL_ELBOW}{five}{FREE}min_deg = 3\n"), "write it beside `min_deg`");
        refused(&format!("{LEVEL_ELBOW}{five}{FREE}min_deg = 3\nmax_deg = 3\n"), "not above `min_deg`");
        refused(&format!("{LEVEL_ELBOW}{five}{FREE}max_speed_deg_s = 0\n"), "out of bounds");
    }

    fn dependent(axis: u32, by_axis: u32, points: &str) -> String {
        format!("[[dependent_range]]\naxis = {axis}\nby_axis = {by_axis}\npoints_deg = {points}\n")
    }

    #[test]
    fn a_range_that_depends_on_another_axis_is_read() {
        let arm = sound(&dependent(3, 2, "[[-95, -175, 0], [5, -175, 90], [155, -60, 90]]"));
        let at = |axis2: f64| arm.axis_ranges(&axis_values([0.0, axis2, 0.0, 0.0, 0.0, 0.0]))[2];
        let is = |range: Range, min: f64, max: f64| {
            (units::to_deg(range.min) - min).abs() < 1e-9 && (units::to_deg(range.max) - max).abs() < 1e-9
        };
        assert!(is(at(-95.0), -175.0, 0.0));
        assert!(is(at(-45.0), -175.0, 45.0));
        // Its own greatest value of 82° holds as well.
        assert!(is(at(80.0), -117.5, 82.0));
    }

    #[test]
    fn every_bad_dependent_range_is_named() {
        refused(&dependent(3, 3, "[[-200, 0, 9], [200, 0, 9]]"), "cannot depend on the axis itself");
        refused(&dependent(7, 2, "[[-95, 0, 9], [155, 0, 9]]"), "fits here");
        refused(&dependent(3, 2, "[[-95, 0, 9]]"), "this has 1 rows");
        refused(&dependent(3, 2, "[[-95, 0, 9], [155, 0]]"), "does not have 3 numbers");
        refused(&dependent(3, 2, "[[-95, 0, 9], [-95, 0, 9], [155, 0, 9]]"), "point 2 does not lie beyond");
        refused(&dependent(3, 2, "[[-95, 9, 0], [155, 0, 9]]"), "at point 1 the least value is above");
        refused(&dependent(3, 2, "[[-95, 0, 9], [150, 0, 9]]"), "do not cover the range of axis 2");
        let barred = "[[-95, 0, 9], [0, 83, 90], [155, 0, 9]]";
        refused(&dependent(3, 2, barred), "where axis 2 is at 0.000° this leaves axis 3 nothing");
        refused("[[dependent_range]]\naxis = 3\nby_axis = 2\n", "points_deg");
        refused(
            &(dependent(3, 2, "[[-95, -175, 82], [155, 0, 82]]") + "angle = 3\n"),
            "this key is not known here",
        );
    }

    #[test]
    fn a_home_outside_a_dependent_range_is_refused() {
        refused(
            &dependent(3, 2, "[[-95, -175, 9], [155, 0, 9]]"),
            "axis 3 is 31.000° outside its range here",
        );
    }
}
