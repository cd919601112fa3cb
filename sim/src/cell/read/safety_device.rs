//! Decides what a zone says of the device that watches it, or of the guard that it is.

use nalgebra::UnitVector3;
use seamwright_kinematics::Pose;
use seamwright_kinematics::document::Table;

use super::place;
use super::zone::Around;
use crate::cell::{Active, Detection, Device, Guard, Opening, OpeningShape, StationId, ZoneRole};
use crate::units;

/// Every key that only a device or a guard has.
pub(super) const KEYS: [&str; 13] = [
    "resolution_mm",
    "beams",
    "response_s",
    "stops",
    "active",
    "start_from_outside",
    "reach_over_mm",
    "reach_under_mm",
    "reach_through_mm",
    "reach_around_mm",
    "intrusion_mm",
    "opening",
    "opening_mm",
];

/// How `stops` names the arm.
const ARM: &str = "arm";
/// Resolutions of fields, mm.
const RESOLUTIONS_MM: std::ops::RangeInclusive<f64> = 5.0..=300.0;
/// Responses of devices, s.
const RESPONSES_S: std::ops::RangeInclusive<f64> = 0.001..=5.0;
/// A way with more than this share upright is none along the field.
const UPRIGHT: f64 = 0.2;
/// Intrusion distances, mm.
const INTRUSIONS_MM: std::ops::RangeInclusive<f64> = 0.0..=3000.0;

/// The device of a zone; `frame_from_zone` is none where its place is unsound.
pub(super) fn device(
    table: &Table<'_>,
    role: ZoneRole,
    station: Option<StationId>,
    around: &Around<'_>,
    frame_from_zone: Option<&Pose>,
) -> Option<Device> {
    let by_contact = matches!(role, ZoneRole::Gate | ZoneRole::TwoHandControl);
    let detection = match role {
        ZoneRole::Curtain | ZoneRole::ScannerField => {
            table.number("resolution_mm", RESOLUTIONS_MM).map(units::mm).map(Detection::Resolution)
        }
        ZoneRole::BeamGrid => table.whole("beams", 1..=4).map(Detection::Beams),
        _ => Some(Detection::Contact),
    };
    let response = if by_contact {
        table.opt_number("response_s", RESPONSES_S)
    } else {
        table.number("response_s", RESPONSES_S)
    };
    let reach_over = reach_over(table);
    if reach_over.is_some() && !matches!(role, ZoneRole::Curtain | ZoneRole::BeamGrid) {
        let right = "leave it out: only a curtain or beam grid is held against it".to_owned();
        table.problem("reach_over_mm", format!("a {} has no such key", role.name()), right);
    }
    let intrusion = table.opt_number("intrusion_mm", INTRUSIONS_MM).map(units::mm);
    if intrusion.is_some() && !by_contact {
        let right = "leave it out: it follows from resolution_mm or beams".to_owned();
        table.problem("intrusion_mm", format!("a {} has no such key", role.name()), right);
    }
    // Of an upright field the place says it.
    let into = if role == ZoneRole::ScannerField { into(table, frame_from_zone) } else { Some(None) };
    let stops = stops(table, around);
    let active = table.opt_choice(
        "active",
        &[
            ("always", Active::Always),
            ("while_axes_move", Active::WhileAxesMove),
            ("while_arm_here", Active::WhileArmHere),
        ],
    );
    let starts_from_outside = table.opt_flag("start_from_outside");
    let (stops_arm, stops_axes) = stops?;
    if starts_from_outside.is_some() && (active == Some(Active::Always) || !table.has("active")) {
        let right = "leave it out: what it has stopped waits until it is reset".to_owned();
        table.problem("start_from_outside", "it watches all the time", right);
    }
    let active = active.unwrap_or(Active::Always);
    if active == Active::WhileAxesMove && stops_axes.is_empty() {
        let right = "name the axis in stops".to_owned();
        table.problem("active", "it stops no external axis", right);
    }
    if active == Active::WhileArmHere && station.is_none() && !table.has("station") {
        let right = "write station = the one that is loaded through it".to_owned();
        table.problem("active", "it is not said whose side this is", right);
    }
    Some(Device {
        detection: detection?,
        response,
        stops_arm,
        stops_axes,
        active,
        starts_from_outside: starts_from_outside.unwrap_or(false),
        reach_over,
        into: into?,
        intrusion,
    })
}

/// The way a person walks into a scanner field, in its own frame.
fn into(table: &Table<'_>, frame_from_zone: Option<&Pose>) -> Option<Option<UnitVector3<f64>>> {
    let direction = place::direction(table, "into")?;
    let own = frame_from_zone?.rotation.inverse() * direction;
    if own.z.abs() > UPRIGHT {
        let right = "write a direction along the field".to_owned();
        table.problem("into", "nobody walks in from above or below", right);
        return None;
    }
    Some(Some(own))
}

/// The guard that a zone is.
pub(super) fn guard(table: &Table<'_>) -> Option<Guard> {
    let reach_over = reach_over(table);
    let [reach_under, reach_through, reach_around] =
        ["reach_under_mm", "reach_through_mm", "reach_around_mm"]
            .map(|key| table.opt_number(key, INTRUSIONS_MM).map(units::mm));
    let shape = table.opt_choice(
        "opening",
        &[("slot", OpeningShape::Slot), ("square", OpeningShape::Square), ("round", OpeningShape::Round)],
    );
    let size = table.opt_number("opening_mm", 0.1..=1000.0).map(units::mm);
    if table.has("opening") != table.has("opening_mm") {
        let right = "write opening and opening_mm, or neither where the guard is closed".to_owned();
        let key = if table.has("opening") { "opening_mm" } else { "opening" };
        table.problem(key, "this key is missing", right);
        return None;
    }
    if reach_through.is_some() && shape.is_none() && !table.has("opening") {
        let right = "write opening and opening_mm, or leave it out where the guard is closed".to_owned();
        table.problem("reach_through_mm", "this guard has no openings", right);
    }
    let opening = shape.zip(size).map(|(shape, size)| Opening { shape, size });
    let faces_foot = !table.has("into");
    Some(Guard { reach_over, reach_under, reach_through, reach_around, opening, faces_foot })
}

fn reach_over(table: &Table<'_>) -> Option<f64> {
    table.opt_number("reach_over_mm", INTRUSIONS_MM).map(units::mm)
}

/// What a device stops: the arm or not, and which external axes by index; everything where the file does not say.
fn stops(table: &Table<'_>, around: &Around<'_>) -> Option<(bool, Vec<usize>)> {
    let axes = &around.tree.frames.axes;
    if !table.has("stops") {
        table.excuse("stops");
        return Some((true, (0..axes.len()).collect()));
    }
    let mut arm = false;
    let mut stopped = Vec::new();
    for name in table.texts("stops") {
        if name == ARM {
            arm = true;
        } else {
            stopped.push(around.tree.refer_axis(table, "stops", &name)?);
        }
    }
    if !arm && stopped.is_empty() {
        let right = "write \"arm\" or names of external axes".to_owned();
        table.problem("stops", "this device stops nothing", right);
        return None;
    }
    stopped.sort_unstable();
    stopped.dedup();
    Some((arm, stopped))
}
