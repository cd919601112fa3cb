//! Decides what a procedure says, and what a seam changes in it.

use std::ops::RangeInclusive;

use seamwright_kinematics::document::Table;

use super::Reading;
use super::aims::{self, FLATTEST_TRAVEL_DEG, LEAST_CTWD_MM};
use super::elements;
use super::fit_up;
use super::names::Catalogue;
use super::place;
use super::settings::settings;
use crate::cell::{Band, Procedure};
use crate::units;

/// Reads all `[[procedure]]` tables.
pub(super) fn read_all(reading: &Reading<'_>, root: &Table<'_>) -> Catalogue<Procedure> {
    let mut procedures = Catalogue::new("procedure");
    for table in root.tables("procedure") {
        let name = procedures.claim(&table);
        let mut assumed = Vec::new();
        let procedure = values(&table, Whose::Procedure(&mut assumed));
        let settings = settings(&table, &mut assumed);
        let arc = elements::arc(&table);
        let near_part = elements::near_part(&table);
        table.finish();
        let Some(name) = name else { continue };
        if !assumed.is_empty() {
            let assumed = assumed.join(", ");
            reading.note(format!("procedure {name}: assumed {assumed} (common practice, no source)"));
        }
        procedures.add(
            name.clone(),
            procedure.map(|procedure| Procedure { name, settings, arc, near_part, ..procedure }),
        );
    }
    procedures
}

/// Whose table it is that the values stand in.
pub(super) enum Whose<'p> {
    /// A procedure's own; what it leaves out is assumed and listed here.
    Procedure(&'p mut Vec<String>),
    /// A seam's, which may change any value of its procedure; `None` where that one is unsound.
    Seam(Option<&'p Procedure>),
}

/// A procedure's values.
pub(super) fn values(table: &Table<'_>, mut whose: Whose<'_>) -> Option<Procedure> {
    let base = match &whose {
        Whose::Seam(base) => *base,
        Whose::Procedure(_) => None,
    };
    type Si = fn(f64) -> f64;
    type Value = fn(&Procedure) -> f64;
    let mut value = |key: &str, bounds: RangeInclusive<f64>, si: Si, of: Value, usual: Option<f64>| {
        let written = match (&mut whose, usual) {
            (Whose::Procedure(_), None) => table.number(key, bounds),
            (Whose::Procedure(assumed), Some(usual)) if !table.has(key) => {
                table.excuse(key);
                assumed.push(format!("{key} = {usual}"));
                Some(usual)
            }
            _ => table.opt_number(key, bounds),
        };
        written.map(si).or(base.map(of))
    };
    let (deg, mm, seconds): (Si, Si, Si) = (units::deg, units::mm, |seconds| seconds);
    let work = value("work_deg", aims::WORK_DEG, deg, |p| p.work.aim, None);
    let work_tolerance = value("work_tolerance_deg", 0.0..=45.0, deg, |p| p.work.tolerance, Some(5.0));
    let travel = value("travel_deg", aims::TRAVEL_DEG, deg, |p| p.travel.aim, None);
    let travel_tolerance = value("travel_tolerance_deg", 0.0..=40.0, deg, |p| p.travel.tolerance, Some(5.0));
    let ctwd = value("ctwd_mm", aims::CTWD_MM, mm, |p| p.ctwd.aim, None);
    let ctwd_tolerance = value("ctwd_tolerance_mm", 0.0..=20.0, mm, |p| p.ctwd.tolerance, Some(2.0));
    let travel_speed = value("travel_speed_mm_s", 0.1..=200.0, mm, |p| p.travel_speed, None);
    let corner_zone = value("corner_zone_mm", 0.1..=200.0, mm, |p| p.corner_zone, Some(8.0));
    let approach = value("approach_mm", 1.0..=1000.0, mm, |p| p.approach, Some(50.0));
    let retract = value("retract_mm", 1.0..=1000.0, mm, |p| p.retract, Some(50.0));
    let approach_speed = value("approach_speed_mm_s", 1.0..=2000.0, mm, |p| p.approach_speed, Some(100.0));
    let stitch_lift = value("stitch_lift_mm", 0.5..=500.0, mm, |p| p.stitch_lift, Some(15.0));
    let gas_before = value("gas_before_s", 0.0..=30.0, seconds, |p| p.gas_before, Some(0.3));
    let arc_start = value("arc_start_s", 0.0..=30.0, seconds, |p| p.arc_start, Some(0.4));
    let crater = value("crater_s", 0.0..=30.0, seconds, |p| p.crater, Some(0.5));
    let gas_after = value("gas_after_s", 0.0..=30.0, seconds, |p| p.gas_after, Some(0.5));
    let turn = turn(table, base.and_then(|base| base.turn));
    let allowed = fit_up::allowed(table, base.map(|base| base.allowed));
    let travel = Band { aim: travel?, tolerance: travel_tolerance? };
    let ctwd = Band { aim: ctwd?, tolerance: ctwd_tolerance? };
    if aims::too_near(&ctwd) {
        let wrong = format!("less than {LEAST_CTWD_MM} mm would be left between tip and work");
        table.problem("ctwd_tolerance_mm", wrong, "make it smaller".to_owned());
    }
    if aims::too_flat(&travel) {
        let wrong =
            format!("the torch may lean along the seam by more than {FLATTEST_TRAVEL_DEG} degrees then");
        table.problem("travel_tolerance_deg", wrong, "make it smaller".to_owned());
    }
    Some(Procedure {
        name: base.map(|base| base.name.clone()).unwrap_or_default(),
        work: Band { aim: work?, tolerance: work_tolerance? },
        travel,
        ctwd,
        travel_speed: travel_speed?,
        turn,
        corner_zone: corner_zone?,
        approach: approach?,
        retract: retract?,
        approach_speed: approach_speed?,
        stitch_lift: stitch_lift?,
        gas_before: gas_before?,
        arc_start: arc_start?,
        crater: crater?,
        gas_after: gas_after?,
        arc: base.map(|base| base.arc).unwrap_or_default(),
        near_part: base.and_then(|base| base.near_part),
        allowed,
        settings: base.and_then(|base| base.settings),
    })
}

fn turn(table: &Table<'_>, base: Option<Band>) -> Option<Band> {
    let aim = table.opt_number("turn_deg", place::ANGLES_DEG).map(units::deg);
    let tolerance = table.opt_number("turn_tolerance_deg", 0.0..=180.0).map(units::deg);
    let aim = aim.or(base.map(|base| base.aim));
    if aim.is_none() && tolerance.is_some() {
        let right = "write turn_deg as well, or leave it out: the turn is free then".to_owned();
        table.problem("turn_tolerance_deg", "there is no turn_deg that it could belong to", right);
    }
    let tolerance = tolerance.or(base.map(|base| base.tolerance)).unwrap_or(0.0);
    aim.map(|aim| Band { aim, tolerance })
}
