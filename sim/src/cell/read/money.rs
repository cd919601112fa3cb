//! Decides what `[money]` and `[demand]` say.

use std::ops::RangeInclusive;

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Based, Basis};

use super::Reading;
use super::place;
use super::shift::shifts_per_day;
use crate::cell::{ByHand, Demand, Guess, Money, Once, Rework, Shift, ShiftPlay};
use crate::units;

/// Arc power over power from the mains where the file does not say: common practice for inverters, no source.
const ASSUMED_SOURCE_EFFICIENCY_PERCENT: f64 = 85.0;

const MONEY: RangeInclusive<f64> = 0.0..=1e12;

/// How much is wanted; only beside `[shift]`.
pub(super) fn demand(root: &Table<'_>, shift: Option<&(Shift, Option<ShiftPlay>)>) -> Option<Demand> {
    let table = root.opt_table("demand")?;
    needs_shift(root, &table, "demand");
    let yearly_quantity = table.number("yearly_quantity", 1.0..=1e9);
    let shifts_per_day = shifts_per_day(&table, shift);
    let days_per_year = table.number("days_per_year", 1.0..=366.0);
    table.finish();
    Some(Demand { yearly_quantity: yearly_quantity?, yearly_shifts: shifts_per_day * days_per_year? })
}

/// What things cost; only beside `[shift]`.
pub(super) fn money(reading: &Reading<'_>, root: &Table<'_>) -> Option<Money> {
    let table = root.opt_table("money")?;
    needs_shift(root, &table, "money");
    let currency = table.text("currency");
    let guess = |key: &str, si: fn(f64) -> f64| guess(&table, key, MONEY, si);
    let labour = guess("labour_per_h", units::per_hour);
    let cell = guess("cell_per_h", units::per_hour);
    let wire = guess("wire_per_kg", |money| money);
    let gas = guess("gas_per_m3", |money| money);
    let energy = guess("power_per_kwh", units::per_kwh);
    let consumables = guess("consumables_per_arc_h", units::per_hour);
    let investment = guess("investment", |money| money);
    let fixture = guess("fixture", |money| money);
    let engineer = guess("engineer_per_h", units::per_hour);
    let yearly = guess("yearly", |money| money).unwrap_or(Guess::NONE);
    let time = |key: &str, si: fn(f64) -> f64| self::guess(&table, key, 0.0..=1e5, si);
    let teach_point = time("teach_min_per_point", units::minutes);
    let touch_up_point = time("touch_up_min_per_point", units::minutes);
    let commissioning = time("commissioning_h", units::hours);
    let attendance = table.opt_number("attendance_percent", 0.0..=100.0).map_or(1.0, units::percent);
    let payback_years = table.opt_number("payback_years", 0.1..=100.0);
    let efficiency = table.opt_number("source_efficiency_percent", 1.0..=100.0);
    if energy.is_some() && efficiency.is_none() {
        reading.note(format!(
            "money: assumed source_efficiency_percent = {ASSUMED_SOURCE_EFFICIENCY_PERCENT} (common practice, no source)"
        ));
    }
    if !table.has("engineer_per_h") {
        let hours = [("teach_min_per_point", teach_point), ("touch_up_min_per_point", touch_up_point)];
        for (key, _) in
            hours.into_iter().chain([("commissioning_h", commissioning)]).filter(|it| it.1.is_some())
        {
            table.problem(key, "nothing says what this time costs", "write engineer_per_h".to_owned());
        }
    }
    let rework = rework(&table);
    let by_hand = table.opt_table("by_hand").and_then(by_hand);
    table.finish();
    Some(Money {
        currency: currency?,
        labour,
        attendance,
        cell,
        wire,
        gas,
        energy,
        source_efficiency: Based {
            value: units::percent(efficiency.unwrap_or(ASSUMED_SOURCE_EFFICIENCY_PERCENT)),
            basis: if efficiency.is_some() { Basis::File } else { Basis::Assumed },
        },
        consumables,
        rework,
        once: Once { investment, fixture, engineer, teach_point, touch_up_point, commissioning },
        yearly,
        payback_years,
        by_hand,
    })
}

/// Parts that are mended; nothing where the file says nothing of it.
fn rework(table: &Table<'_>) -> Rework {
    let keys = ["rework_percent", "rework_min"];
    if let [Some(has), Some(lacks)] = [true, false].map(|has| keys.iter().find(|key| table.has(key) == has)) {
        table.problem(has, "this needs the other one", format!("write {lacks} as well, or neither"));
    }
    let share = guess(table, keys[0], 0.0..=100.0, units::percent);
    let time = guess(table, keys[1], 0.0..=10_000.0, units::minutes);
    Rework { share: share.unwrap_or(Guess::NONE), time: time.unwrap_or(Guess::NONE) }
}

fn by_hand(table: Table<'_>) -> Option<ByHand> {
    let needed = |key: &str, bounds, si: fn(f64) -> f64| {
        if !table.has(key) {
            let right = "write a number, or [low, expected, high]".to_owned();
            table.problem(key, "this key is missing", right);
        }
        guess(&table, key, bounds, si)
    };
    let travel_speed = needed("travel_speed_mm_s", 0.1..=200.0, units::mm);
    let arc_share = needed("arc_share_percent", 1.0..=100.0, units::percent);
    let handling = needed("handling_s", place::DURATIONS_S, |seconds| seconds);
    table.finish();
    Some(ByHand { travel_speed: travel_speed?, arc_share: arc_share?, handling: handling? })
}

fn guess(table: &Table<'_>, key: &str, bounds: RangeInclusive<f64>, si: fn(f64) -> f64) -> Option<Guess> {
    table.opt_guess(key, bounds).map(|values| Guess(values.map(si)))
}

/// Without working time there is nothing to share anything out over.
fn needs_shift(root: &Table<'_>, table: &Table<'_>, name: &str) {
    if !root.has("shift") {
        let right = format!("write [shift] beside [{name}]");
        table.problem("", "there is no [shift] that says how long the cell works", right);
    }
}
