//! Decides what the files say of stopping (`[[arm.stopping]]`, `[[stopping]]` of an arm file, `[[axis.stopping]]`) and of
//! `[safety]` and `[[emergency_stop]]`.

use std::ops::RangeInclusive;

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Arm, Based, Basis};

use super::Reading;
use super::names::Catalogue;
use super::place;
use crate::cell::frames::AxisKind;
use crate::cell::{EmergencyStop, Rules, Safeguarding, StopCategory, StopPlace, StoppingRow};
use crate::units;

/// From a device's output to the stop order at the drives, s, where the file does not say: common practice, no source.
const ASSUMED_CONTROLLER_S: f64 = 0.05;
/// What ANSI B11.19 adds to the stopping time where no brake monitor watches, %: about 20 (Rockwell 450L manual p. 63).
const ASSUMED_BRAKE_PERCENT: f64 = 20.0;
/// Time to teach and prove one point, min: common practice, no source.
const ASSUMED_TEACHING_MIN: f64 = 1.5;
/// Stopping times, s.
const TIMES_S: RangeInclusive<f64> = 0.001..=30.0;

/// Which number a category has in a file.
const CATEGORIES: [StopCategory; 3] = StopCategory::ALL;

/// The rows of a table's `stopping` for the axes of an arm.
pub(super) fn arm_rows(table: &Table<'_>, arm: Option<&Arm>) -> [Vec<StoppingRow>; 6] {
    let mut rows: [Vec<StoppingRow>; 6] = Default::default();
    for table in table.tables("stopping") {
        let axis = table.whole("axis", 1..=6).map(|axis| axis as usize - 1);
        let max_speed = arm.zip(axis).map(|(arm, axis)| arm.axes()[axis].max_speed);
        let row = row(&table, AxisKind::Turn, max_speed);
        if let (Some(axis), Some(row)) = (axis, row) {
            fits(&table, &rows[axis], &row);
            rows[axis].push(row);
        }
        table.finish();
    }
    rows
}

/// `rows`, and of `others` what they do not say: an axis and category that `rows` have is theirs alone.
pub(super) fn or_else(
    mut rows: [Vec<StoppingRow>; 6],
    others: [Vec<StoppingRow>; 6],
) -> [Vec<StoppingRow>; 6] {
    for (rows, others) in rows.iter_mut().zip(others) {
        let stated: Vec<StopCategory> = rows.iter().map(|row| row.category).collect();
        rows.extend(others.into_iter().filter(|row| !stated.contains(&row.category)));
    }
    rows
}

/// The rows of the `stopping` of an external axis.
pub(super) fn external_rows(table: &Table<'_>, kind: AxisKind, max_speed: Option<f64>) -> Vec<StoppingRow> {
    let mut rows = Vec::new();
    for table in table.tables("stopping") {
        let row = row(&table, kind, max_speed);
        if let Some(row) = &row {
            fits(&table, &rows, row);
        }
        rows.extend(row);
        table.finish();
    }
    rows
}

/// Tells of a row that is stated twice, or whose axis would stand sooner or nearer from a higher speed.
fn fits(table: &Table<'_>, others: &[StoppingRow], row: &StoppingRow) {
    for other in others.iter().filter(|other| other.category == row.category) {
        if (other.from_speed - row.from_speed).abs() <= 1e-9 * row.from_speed {
            let wrong = format!("category {} is stated twice from this speed", row.category.number());
            table.problem("from_speed_percent", wrong, "leave one of the rows out".to_owned());
            return;
        }
        let (slow, fast) = if other.from_speed < row.from_speed { (other, row) } else { (row, other) };
        if fast.time < slow.time || fast.way < slow.way {
            let wrong = format!(
                "from a higher speed it would stand sooner or nearer than from a lower one ({} s against {} s)",
                fast.time, slow.time
            );
            table.problem("time_s", wrong, "check this row and the one from the other speed".to_owned());
            return;
        }
    }
}

fn row(table: &Table<'_>, kind: AxisKind, max_speed: Option<f64>) -> Option<StoppingRow> {
    type Convert = fn(f64) -> f64;
    let (way_key, si, back): (&str, Convert, Convert) = match kind {
        AxisKind::Turn => ("turn_deg", units::deg, units::to_deg),
        AxisKind::Slide => ("slide_mm", units::mm, units::to_mm),
    };
    let category = table.whole("category", 0..=2).map(|number| CATEGORIES[number as usize]);
    let percent = table.opt_number("from_speed_percent", 1.0..=100.0).unwrap_or(100.0);
    let time = table.number("time_s", TIMES_S);
    let way = table.number(way_key, 0.0..=50_000.0).map(si);
    let max_speed = max_speed?;
    if !max_speed.is_finite() {
        let right = "write max_speed_deg_s for this axis".to_owned();
        table.problem("time_s", "the greatest speed of this axis is not known", right);
        return None;
    }
    let from_speed = max_speed * units::percent(percent);
    let row = StoppingRow { category: category?, from_speed, time: time?, way: way? };
    let farthest = row.from_speed * row.time;
    if row.way > farthest * (1.0 + 1e-9) {
        let wrong =
            format!("in {} s it cannot go on for more than {:.3} at that speed", row.time, back(farthest));
        table.problem(way_key, wrong, "check the time, or the speed it is from".to_owned());
        return None;
    }
    if row.way <= 0.0 {
        table.problem(way_key, "an axis that moves goes on a little", "write what was measured".to_owned());
        return None;
    }
    Some(row)
}

/// Reads `[safety]` and `[[emergency_stop]]`.
pub(super) fn safeguarding(reading: &Reading<'_>, root: &Table<'_>, has_zones: bool) -> Safeguarding {
    let is_stated = has_zones || root.has("safety") || root.has("emergency_stop");
    let table = root.opt_table("safety");
    let number = |key: &str, bounds: RangeInclusive<f64>| {
        table.as_ref().and_then(|table| table.opt_number(key, bounds))
    };
    let based = |written: Option<f64>, assumed: f64, si: fn(f64) -> f64| Based {
        value: si(written.unwrap_or(assumed)),
        basis: if written.is_some() { Basis::File } else { Basis::Assumed },
    };
    let category = table.as_ref().and_then(|table| table.opt_whole("stop_category", 0..=2));
    let controller = number("controller_s", 0.0..=5.0);
    let brake = number("brake_percent", 0.0..=200.0);
    let teaching = number("teach_min_per_point", 0.0..=120.0);
    let rules = table.as_ref().and_then(|table| {
        table.opt_choice(
            "rules",
            &[("all", Rules::All), ("iso", Rules::Iso), ("united_states", Rules::UnitedStates)],
        )
    });
    let safeguarding = Safeguarding {
        is_stated,
        category: category.map_or(StopCategory::ControlledThenOff, |number| CATEGORIES[number as usize]),
        category_is_stated: category.is_some(),
        controller: based(controller, ASSUMED_CONTROLLER_S, |seconds| seconds),
        measured_stop: number("stopping_time_s", TIMES_S),
        brake_share: based(brake, ASSUMED_BRAKE_PERCENT, units::percent),
        rules: rules.unwrap_or(Rules::All),
        supplement: number("supplement_mm", 0.0..=5000.0).map(units::mm),
        floor: number("floor_mm", place::POSITIONS_MM).map_or(0.0, units::mm),
        extraction: table.as_ref().and_then(|table| table.opt_flag("fume_extraction")),
        teaching: based(teaching, ASSUMED_TEACHING_MIN, units::minutes),
        emergency_stops: emergency_stops(root),
    };
    if let Some(table) = table {
        table.finish();
    }
    if is_stated {
        for note in assumed(&safeguarding) {
            reading.note(note);
        }
    }
    safeguarding
}

fn assumed(safeguarding: &Safeguarding) -> Vec<String> {
    let mut notes = Vec::new();
    if !safeguarding.category_is_stated {
        notes.push("safety: protective devices are assumed to call for a stop of category 1".to_owned());
    }
    if safeguarding.controller.basis == Basis::Assumed {
        notes.push(format!(
            "safety: {ASSUMED_CONTROLLER_S} s are assumed from a device's output to the stop order at the drives (common \
             practice, no source)"
        ));
    }
    if safeguarding.measured_stop.is_none() {
        notes.push(
            "safety: the machine's stopping time is worked out, not measured; measure it before a device is placed".to_owned(),
        );
    }
    if safeguarding.brake_share.basis == Basis::Assumed && safeguarding.rules != Rules::Iso {
        notes.push(format!(
            "safety: no brake monitor is assumed: {ASSUMED_BRAKE_PERCENT} % of the stopping time are added by the rules of the \
             United States"
        ));
    }
    if safeguarding.teaching.basis == Basis::Assumed {
        notes.push(format!(
            "safety: {ASSUMED_TEACHING_MIN} min to teach and prove a point are assumed (common practice, no source)"
        ));
    }
    notes
}

fn emergency_stops(root: &Table<'_>) -> Vec<EmergencyStop> {
    let mut names = Catalogue::new("emergency stop");
    let mut stops = Vec::new();
    for table in root.tables("emergency_stop") {
        let name = names.claim(&table);
        let place = table.choice(
            "place",
            &[
                ("outside", StopPlace::Outside),
                ("operator_station", StopPlace::OperatorStation),
                ("pendant", StopPlace::Pendant),
                ("inside", StopPlace::Inside),
            ],
        );
        let at = place::opt_point(&table, "at_mm");
        table.finish();
        if let Some(name) = name {
            names.add(name.clone(), Some(()));
            stops.extend(place.map(|place| EmergencyStop { name, place, at }));
        }
    }
    stops
}
