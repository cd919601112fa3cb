//! Decides what the file says of the times around an arc and between arm and person.

use seamwright_kinematics::document::Table;

use super::place;
use crate::cell::{ArcElements, NearPart, Signals};
use crate::units;

/// What an arc costs besides what every procedure says.
pub(super) fn arc(table: &Table<'_>) -> ArcElements {
    let seconds = |key: &str| table.opt_number(key, 0.0..=30.0);
    let share = table.opt_number("arc_retry_percent", 0.0..=100.0);
    let retry = seconds("arc_retry_s");
    for (key, other, missing) in [
        ("arc_retry_percent", "arc_retry_s", share.is_some() && retry.is_none() && !table.has("arc_retry_s")),
        (
            "arc_retry_s",
            "arc_retry_percent",
            retry.is_some() && share.is_none() && !table.has("arc_retry_percent"),
        ),
    ] {
        if missing {
            table.problem(
                key,
                format!("{other} is missing"),
                format!("write {other} as well, or leave both out"),
            );
        }
    }
    ArcElements {
        run_in: seconds("run_in_s").unwrap_or(0.0),
        retry_share: share.map_or(0.0, units::percent),
        retry: retry.unwrap_or(0.0),
        burn_back: seconds("burn_back_s").unwrap_or(0.0),
        wire_check: seconds("wire_check_s").unwrap_or(0.0),
        leaves_in_gas: table.opt_flag("gas_after_while_leaving").unwrap_or(false),
    }
}

/// Where the wire end goes slower, near the part.
pub(super) fn near_part(table: &Table<'_>) -> Option<NearPart> {
    if !table.has("slow_zone_mm") && !table.has("slow_zone_speed_mm_s") {
        table.excuse("slow_zone_mm");
        table.excuse("slow_zone_speed_mm_s");
        return None;
    }
    let distance = table.number("slow_zone_mm", 0.1..=1000.0).map(units::mm);
    let speed = table.number("slow_zone_speed_mm_s", 1.0..=2000.0).map(units::mm);
    Some(NearPart { distance: distance?, speed: speed? })
}

/// What passes between arm and cell at a station.
pub(super) fn signals(table: &Table<'_>) -> Signals {
    let seconds = |key: &str| table.opt_number(key, place::DURATIONS_S).unwrap_or(0.0);
    Signals { start: seconds("start_signal_s"), arm_clear: seconds("arm_clear_s") }
}
