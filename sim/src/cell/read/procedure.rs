//! Decides what a procedure says, and what a seam changes in it.

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Based, Basis};

use super::Reading;
use super::names::Catalogue;
use super::place;
use crate::cell::{Band, Procedure, Settings};
use crate::units;

/// Reads all `[[procedure]]` tables.
pub(super) fn read_all(reading: &Reading<'_>, root: &Table<'_>) -> Catalogue<Procedure> {
    let mut procedures = Catalogue::new("procedure");
    for table in root.tables("procedure") {
        let name = procedures.claim(&table);
        let mut assumed = Vec::new();
        let procedure = values(&table, None, &mut assumed);
        let settings = settings(&table);
        table.finish();
        let Some(name) = name else { continue };
        if !assumed.is_empty() {
            reading.note(format!(
                "procedure {name}: assumed {} (common practice, no source)",
                assumed.join(", ")
            ));
        }
        procedures.add(name.clone(), procedure.map(|procedure| Procedure { name, settings, ..procedure }));
    }
    procedures
}

/// A procedure's values; with `base`, those that a seam changes in it.
pub(super) fn values(
    table: &Table<'_>,
    base: Option<&Procedure>,
    assumed: &mut Vec<String>,
) -> Option<Procedure> {
    let mut default =
        |key: &str, bounds: std::ops::RangeInclusive<f64>, based: Option<f64>, otherwise: f64| {
            let written = table.opt_number(key, bounds);
            if written.is_none() && based.is_none() && !table.has(key) {
                assumed.push(format!("{key} = {otherwise}"));
            }
            written.or(based).unwrap_or(otherwise)
        };
    let needed = |key: &str, bounds, based: Option<f64>| match based {
        Some(based) => Some(table.opt_number(key, bounds).unwrap_or(based)),
        None => table.number(key, bounds),
    };
    let of = |value: fn(&Procedure) -> f64, unit: fn(f64) -> f64| base.map(|base| unit(value(base)));
    let same = |x: f64| x;
    let work = needed("work_deg", -90.0..=90.0, of(|p| p.work.aim, units::to_deg));
    let work_tolerance =
        default("work_tolerance_deg", 0.0..=45.0, of(|p| p.work.tolerance, units::to_deg), 5.0);
    let travel = needed("travel_deg", -45.0..=45.0, of(|p| p.travel.aim, units::to_deg));
    let travel_tolerance =
        default("travel_tolerance_deg", 0.0..=40.0, of(|p| p.travel.tolerance, units::to_deg), 5.0);
    let ctwd = needed("ctwd_mm", 3.0..=60.0, of(|p| p.ctwd.aim, units::to_mm));
    let ctwd_tolerance =
        default("ctwd_tolerance_mm", 0.0..=20.0, of(|p| p.ctwd.tolerance, units::to_mm), 2.0);
    let travel_speed = needed("travel_speed_mm_s", 0.1..=200.0, of(|p| p.travel_speed, units::to_mm));
    let corner_zone = default("corner_zone_mm", 0.1..=200.0, of(|p| p.corner_zone, units::to_mm), 8.0);
    let approach = default("approach_mm", 1.0..=1000.0, of(|p| p.approach, units::to_mm), 50.0);
    let retract = default("retract_mm", 1.0..=1000.0, of(|p| p.retract, units::to_mm), 50.0);
    let approach_speed =
        default("approach_speed_mm_s", 1.0..=2000.0, of(|p| p.approach_speed, units::to_mm), 100.0);
    let stitch_lift = default("stitch_lift_mm", 0.5..=500.0, of(|p| p.stitch_lift, units::to_mm), 15.0);
    let gas_before = default("gas_before_s", 0.0..=30.0, of(|p| p.gas_before, same), 0.3);
    let arc_start = default("arc_start_s", 0.0..=30.0, of(|p| p.arc_start, same), 0.4);
    let crater = default("crater_s", 0.0..=30.0, of(|p| p.crater, same), 0.5);
    let gas_after = default("gas_after_s", 0.0..=30.0, of(|p| p.gas_after, same), 0.5);
    let turn = table.opt_number("turn_deg", place::ANGLES_DEG).map(units::deg);
    let turn_tolerance = table.opt_number("turn_tolerance_deg", 0.0..=180.0).map(units::deg);
    if turn.is_none() && turn_tolerance.is_some() {
        table.problem("turn_tolerance_deg", "there is no turn_deg that it could belong to", None);
    }
    let turn = turn.map(|aim| Band { aim, tolerance: turn_tolerance.unwrap_or(0.0) });
    let (travel, ctwd) = (travel?, ctwd?);
    if ctwd - ctwd_tolerance < 1.0 {
        table.problem("ctwd_tolerance_mm", format!("less than 1 mm would be left of {ctwd} mm"), None);
        return None;
    }
    if travel.abs() + travel_tolerance > 60.0 {
        table.problem("travel_tolerance_deg", "the torch would lie nearly flat along the seam", None);
        return None;
    }
    Some(Procedure {
        name: base.map(|base| base.name.clone()).unwrap_or_default(),
        work: Band { aim: units::deg(work?), tolerance: units::deg(work_tolerance) },
        travel: Band { aim: units::deg(travel), tolerance: units::deg(travel_tolerance) },
        ctwd: Band { aim: units::mm(ctwd), tolerance: units::mm(ctwd_tolerance) },
        travel_speed: units::mm(travel_speed?),
        turn: turn.or(base.and_then(|base| base.turn)),
        corner_zone: units::mm(corner_zone),
        approach: units::mm(approach),
        retract: units::mm(retract),
        approach_speed: units::mm(approach_speed),
        stitch_lift: units::mm(stitch_lift),
        gas_before,
        arc_start,
        crater,
        gas_after,
        settings: base.and_then(|base| base.settings),
    })
}

fn settings(table: &Table<'_>) -> Option<Settings> {
    const NEEDED: [&str; 4] = ["voltage_v", "current_a", "wire_diameter_mm", "wire_feed_m_min"];
    let efficiency = table.opt_number("efficiency_percent", 1.0..=100.0);
    if !NEEDED.iter().any(|key| table.has(key)) && efficiency.is_none() {
        NEEDED.iter().for_each(|key| table.excuse(key));
        return None;
    }
    let voltage = table.number("voltage_v", 1.0..=100.0);
    let current = table.number("current_a", 1.0..=2000.0);
    let wire_diameter = table.number("wire_diameter_mm", 0.1..=10.0).map(units::mm);
    let wire_feed = table.number("wire_feed_m_min", 0.1..=100.0).map(units::per_minute);
    Some(Settings {
        voltage: voltage?,
        current: current?,
        wire_diameter: wire_diameter?,
        wire_feed: wire_feed?,
        efficiency: Based {
            value: units::percent(efficiency.unwrap_or(95.0)),
            basis: if efficiency.is_some() { Basis::File } else { Basis::Assumed },
        },
    })
}
