//! Decides what a calibration file says, which `seamwright calibrate` writes and a cell names as `calibration`.

use seamwright_kinematics::document::{Document, Table};

use super::Reading;
use super::files::{beside, reason};
use crate::cell::Calibration;
use crate::units;

/// Pace of air moves that is believed, percent of what the axes allow.
const PACE_PERCENT: std::ops::RangeInclusive<f64> = 1.0..=100.0;

/// Reads the file that the cell names; none where it names none.
pub(super) fn read(reading: &Reading<'_>, root: &Table<'_>) -> Option<Calibration> {
    let path = beside(root.file().as_ref(), &root.opt_text("calibration")?);
    let text =
        reading.files.text(&path).map_err(|error| root.problem("calibration", reason(&error), None)).ok()?;
    let document = Document::parse(&path.to_string_lossy(), &text, reading.problems);
    let table = document.root(reading.problems);
    super::header(&table);
    let arm = table.text("arm");
    let measurements = table.whole("measurements", 1..=1_000_000);
    let residual = |key| table.opt_number(key, 0.0..=1000.0).map(units::percent);
    let [moves_residual, welds_residual, stations_residual] =
        ["moves_residual_percent", "welds_residual_percent", "stations_residual_percent"].map(residual);
    let moves_promised = residual("moves_promised_percent");
    let alike_off = ["moves_off_percent", "welds_off_percent"].map(residual);
    let only_station = table.opt_text("only_station");
    let freedom = table.whole("degrees_of_freedom", 1..=1_000_000);
    let kind_freedom =
        ["moves_freedom", "welds_freedom", "stations_freedom"].map(|key| table.opt_number(key, 0.1..=1e6));
    let replaces = table.opt_table("replaces");
    let mut calibration = Calibration::default();
    if let Some(replaces) = replaces {
        calibration.air_move_share =
            replaces.opt_number("air_move_percent", PACE_PERCENT).map(units::percent);
        calibration.pace_power = replaces.opt_number("acceleration_power", 0.0..=3.0);
        let six = |key, most| replaces.opt_numbers::<6>(key, 0.1..=most).map(|six| six.map(units::deg));
        calibration.acceleration = six("max_acceleration_deg_s2", 1e6);
        calibration.jerk = six("max_jerk_deg_s3", 1e9);
        calibration.settle = replaces.opt_number("settle_s", 0.0..=60.0);
        calibration.arc_start_added = replaces.opt_number("arc_start_added_s", -60.0..=60.0);
        replaces.finish();
    }
    table.finish();
    Some(Calibration {
        arm: arm?,
        measurements: measurements?,
        moves_residual,
        moves_promised,
        welds_residual,
        stations_residual,
        alike_off,
        only_station,
        freedom: freedom?,
        kind_freedom,
        ..calibration
    })
}
