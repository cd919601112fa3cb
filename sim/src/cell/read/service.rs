//! Decides what the file says of regular stops, and of the devices that the arm goes to for them.

use seamwright_kinematics::document::Table;

use super::Reading;
use super::frames;
use super::names::Catalogue;
use super::place;
use crate::cell::frames::FrameId;
use crate::cell::{ServiceDevice, ServiceStop, Shape, ShapeId};
use crate::units;

/// Way in to a device, mm, and speed on it, mm/s, where the file does not say: common practice, no source.
const ASSUMED_APPROACH_MM: f64 = 50.0;
const ASSUMED_APPROACH_SPEED_MM_S: f64 = 100.0;
/// What only a device has.
const DEVICE_KEYS: [&str; 8] = [
    "on",
    "rotation_zyx_deg",
    "quaternion_wxyz",
    "any_turn",
    "approach_mm",
    "approach_speed_mm_s",
    "touches",
    "during_turn",
];

/// Reads all `[[service]]` tables; `surroundings` are the shapes of the file's own `[[shape]]`, first in the cell.
pub(super) fn read_all(
    reading: &Reading<'_>,
    root: &Table<'_>,
    frames: &frames::Read,
    surroundings: &[Shape],
) -> Vec<ServiceStop> {
    let mut names = Catalogue::new("service");
    let mut stops = Vec::new();
    for table in root.tables("service") {
        let name = names.claim(&table);
        let duration = table.number("duration_s", place::DURATIONS_S);
        let every_loads = table.whole("every_loads", 1..=1_000_000);
        let device = device(reading, &table, frames, surroundings, name.as_deref().unwrap_or_default());
        table.finish();
        if let Some(name) = name {
            names.add(name.clone(), Some(()));
            if let (Some(duration), Some(every_loads)) = (duration, every_loads) {
                stops.push(ServiceStop { name, duration, every_loads, device });
            }
        }
    }
    stops
}

fn device(
    reading: &Reading<'_>,
    table: &Table<'_>,
    frames: &frames::Read,
    surroundings: &[Shape],
    name: &str,
) -> Option<ServiceDevice> {
    if !table.has("at_mm") {
        table.excuse("at_mm");
        for key in DEVICE_KEYS {
            if table.has(key) {
                let right =
                    "write at_mm, where the wire end stands at the device, or leave this out".to_owned();
                table.problem(key, "it is not said where the device is", right);
            }
            table.excuse(key);
        }
        return None;
    }
    let frame = frames.refer(table, "on").unwrap_or(FrameId::WORLD);
    let frame_from_wire_end = place::pose(table);
    let any_turn = table.opt_flag("any_turn").unwrap_or(true);
    let approach = table.opt_number("approach_mm", 1.0..=1000.0);
    let approach_speed = table.opt_number("approach_speed_mm_s", 1.0..=2000.0);
    if approach.is_none() || approach_speed.is_none() {
        reading.note(format!(
            "service {name}: approach_mm = {} and approach_speed_mm_s = {} (assumed where the file does not say: common practice, no source)",
            approach.unwrap_or(ASSUMED_APPROACH_MM),
            approach_speed.unwrap_or(ASSUMED_APPROACH_SPEED_MM_S)
        ));
    }
    let touches =
        table.texts("touches").iter().flat_map(|touched| named(table, surroundings, touched)).collect();
    Some(ServiceDevice {
        frame,
        frame_from_wire_end,
        any_turn,
        approach: units::mm(approach.unwrap_or(ASSUMED_APPROACH_MM)),
        approach_speed: units::mm(approach_speed.unwrap_or(ASSUMED_APPROACH_SPEED_MM_S)),
        touches,
        during_turn: table.opt_flag("during_turn").unwrap_or(false),
    })
}

/// The shapes of a `[[shape]]`: one, or all groups of a mesh.
fn named(table: &Table<'_>, surroundings: &[Shape], name: &str) -> Vec<ShapeId> {
    let mut known = Catalogue::new("shape");
    let mut found = Vec::new();
    for (index, shape) in surroundings.iter().enumerate() {
        let is_group = shape.name.strip_prefix(name).is_some_and(|rest| rest.starts_with('.'));
        if shape.name == name || is_group {
            found.push(ShapeId(index));
        }
        known.add(shape.name.clone(), Some(()));
    }
    if found.is_empty() {
        known.refer(table, "touches", name);
    }
    found
}
