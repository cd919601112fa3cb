//! Decides how a calibration stands on the screen, and what stands in the file that later runs use.

use std::fmt::Write;

use seamwright_kinematics::units::{to_deg, to_percent};

use super::page::{Page, STRONG};
use super::tables;
use crate::cell::Calibration;
use crate::findings::CalibrationFindings;
use crate::findings::words::{LengthUnit, fixed};

/// The whole text.
#[must_use]
pub fn text(findings: &CalibrationFindings) -> String {
    let mut page = Page::new(LengthUnit::Millimetre);
    page.line(&format!("{STRONG}{}, arm {}{STRONG:#}", findings.cell, findings.arm));
    page.line("");
    page.wrapped(
        "Before",
        &format!("measured times were off by {} %", fixed(findings.off_before_percent(), 1)),
    );
    page.wrapped("Now", &findings.quality.sentence());
    if let Some(worst) = findings.worst() {
        let off = fixed(worst.off_percent, 1);
        page.wrapped("Worst", &format!("line {}, {}: off by {off} %", worst.line, worst.what));
    }
    page.heading("What was fitted");
    for quantity in &findings.quantities {
        page.item(&quantity.sentence);
    }
    page.heading("Measured and fitted times");
    page.table(&tables::measurements(&findings.measurements));
    page.list("What this rests on", &findings.rests_on);
    page.text
}

/// How a calibration file begins, so that no other file is written over.
const HEAD: &str = "# Fitted to measured times";

/// Whether `text` is that of a file that [`file()`] made.
#[must_use]
pub fn is_calibration(text: &str) -> bool {
    text.starts_with(HEAD)
}

/// The file that a cell names as `calibration`: what is in it replaces what other files state or what is assumed.
#[must_use]
pub fn file(calibration: &Calibration, findings: &CalibrationFindings) -> String {
    let mut text = String::new();
    // Writing into a String cannot fail.
    let mut line = |line: &str| {
        let _ = writeln!(text, "{line}");
    };
    line(&format!("{HEAD}; {}.", findings.quality.sentence()));
    line("format = 1");
    line(&format!("name = {}", quoted(&format!("calibration of {}", findings.cell))));
    line(&format!("arm = {}", quoted(&calibration.arm)));
    line(&format!("measurements = {}", calibration.measurements));
    for (at, kind) in ["moves", "welds", "stations"].into_iter().enumerate() {
        if let Some((residual, freedom)) = calibration.of_kind(at) {
            line(&format!("{kind}_residual_percent = {}", to_percent(residual)));
            line(&format!("{kind}_freedom = {freedom}"));
        }
    }
    for (kind, off) in ["moves", "welds"].into_iter().zip(calibration.alike_off) {
        if let Some(off) = off {
            line(&format!("{kind}_off_percent = {}", to_percent(off)));
        }
    }
    if let Some(station) = &calibration.only_station {
        line(&format!("only_station = {}", quoted(station)));
    }
    if let Some(promised) = calibration.moves_promised {
        line(&format!("moves_promised_percent = {}", to_percent(promised)));
    }
    line(&format!("degrees_of_freedom = {}", calibration.freedom));
    line("");
    line("# What other files state, and what is assumed, gives way to this.");
    line("[replaces]");
    for quantity in &findings.quantities {
        line(&format!("# {}", quantity.sentence));
    }
    let six = |values: [f64; 6]| values.map(|value| to_deg(value).to_string()).join(", ");
    if let Some(share) = calibration.air_move_share {
        line(&format!("air_move_percent = {}", to_percent(share)));
    }
    if let Some(power) = calibration.pace_power {
        line(&format!("acceleration_power = {power}"));
    }
    if let Some(acceleration) = calibration.acceleration {
        line(&format!("max_acceleration_deg_s2 = [{}]", six(acceleration)));
    }
    if let Some(jerk) = calibration.jerk {
        line(&format!("max_jerk_deg_s3 = [{}]", six(jerk)));
    }
    if let Some(settle) = calibration.settle {
        line(&format!("settle_s = {settle}"));
    }
    if let Some(added) = calibration.arc_start_added {
        line(&format!("arc_start_added_s = {added}"));
    }
    text
}

/// As TOML writes a text: names hold no control characters.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
