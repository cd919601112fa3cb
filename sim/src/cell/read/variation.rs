//! Decides what `[variation]` says: what differs from part to part, person to person and day to day. What it leaves out is assumed.

use std::ops::RangeInclusive;

use seamwright_kinematics::document::Table;

use super::Reading;
use crate::cell::Variation;
use crate::units;

/// Reads `[variation]`. What is assumed is noted only where a fixture has locators, for only then it is used.
pub(super) fn read(reading: &Reading<'_>, root: &Table<'_>, is_used: bool) -> Variation {
    let table = root.opt_table("variation");
    let mut assumed = Vec::new();
    let mut number = |key: &str, bounds: RangeInclusive<f64>, usual: f64| {
        let written = table.as_ref().and_then(|table| table.opt_number(key, bounds));
        if written.is_none() {
            assumed.push(format!("{key} = {usual}"));
        }
        written.unwrap_or(usual)
    };
    let mut mm = |key: &str, usual: f64| units::mm(number(key, 0.0..=50.0, usual));
    // Where a figure has a source it stands beside it; all others are common practice without one.
    let loading = mm("loading_mm", 0.1);
    let joint = mm("joint_mm", 0.3);
    let gap = mm("gap_mm", 0.5);
    let fixture = mm("fixture_mm", 0.2);
    // Weak source: garageweld.com gives 0.05 to 0.2 mm for arc welding arms.
    let arm_repeatability = mm("arm_repeatability_mm", 0.1);
    // Slamani, Nubiola, Bonev, Industrial Robot 39(1) 2012, abstract: better than 0.65 mm for one arm, not calibrated.
    let arm_accuracy = mm("arm_accuracy_mm", 0.65);
    let tool_centre = mm("tool_centre_mm", 0.3);
    let wire = mm("wire_mm", 0.2);
    let search = mm("search_mm", 0.3);
    // Text on through-arc sensing, very probably Pires, Loureiro, Bölmsjö, Welding Robots, 2006, ch. 3: about 0.25 mm.
    let tracking = mm("tracking_mm", 0.25);
    let tracking_reach = mm("tracking_reach_mm", 3.0);
    let index = units::deg(number("index_deg", 0.0..=5.0, 0.01));
    let warmer = number("warmer_k", 0.0..=1000.0, 0.0);
    let micro_per_k = number("expansion_um_m_k", 0.0..=100.0, 12.0);
    let search_time = number("search_s", 0.0..=60.0, 3.0);
    let sigmas = number("sigmas_in_tolerance", 1.0..=6.0, 3.0);
    let asked = units::percent(number("asked_percent", 0.0..=100.0, 99.0));
    let programs = table
        .as_ref()
        .and_then(|table| table.opt_choice("programs", &[("touched_up", false), ("downloaded", true)]));
    if programs.is_none() {
        assumed.push("programs = touched_up".to_owned());
    }
    let parts = table.as_ref().and_then(|table| table.opt_whole("parts", 1000..=10_000_000));
    if let Some(table) = table {
        table.finish();
    }
    if is_used && !assumed.is_empty() {
        reading.note(format!("variation: assumed {} (common practice, no source)", assumed.join(", ")));
    }
    Variation {
        downloaded: programs.unwrap_or(false),
        parts: parts.unwrap_or(100_000),
        asked,
        sigmas,
        loading,
        joint,
        gap,
        fixture,
        index,
        arm_repeatability,
        arm_accuracy,
        tool_centre,
        wire,
        warmer,
        expansion: units::mm(units::mm(micro_per_k)),
        search,
        search_time,
        tracking,
        tracking_reach,
    }
}
