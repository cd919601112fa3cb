//! Decides what a cell file says of its zones: what they are, where they are, and whose loading they belong to.

use seamwright_kinematics::document::Table;

use super::frames;
use super::names::Catalogue;
use super::region::{self, Kind};
use super::safety_device;
use crate::cell::frames::FrameId;
use crate::cell::{MountedArm, StationId, Zone, ZoneRole};

/// What zones refer to.
pub(super) struct Around<'a> {
    pub(super) tree: &'a frames::Read,
    pub(super) stations: &'a Catalogue<StationId>,
    /// None where its description is unsound.
    pub(super) arm: Option<&'a MountedArm>,
}

/// Reads all `[[zone]]` tables.
pub(super) fn read_all(root: &Table<'_>, around: &Around<'_>) -> Vec<Zone> {
    let mut names = Catalogue::new("zone");
    let mut zones: Vec<Zone> = Vec::new();
    for table in root.tables("zone") {
        let name = names.claim(&table);
        let zone = zone(&table, name.as_deref().unwrap_or_default(), around);
        if let Some(zone) = &zone
            && zone.role.is_space()
            && zones.iter().any(|other| other.role == zone.role)
        {
            let wrong = format!("there is a {} already", zone.role.name());
            table.problem("role", wrong, "draw one outline round both".to_owned());
        }
        table.finish();
        if let Some(name) = name {
            names.add(name, Some(()));
        }
        zones.extend(zone);
    }
    zones
}

fn zone(table: &Table<'_>, name: &str, around: &Around<'_>) -> Option<Zone> {
    let role = table.choice("role", &ZoneRole::WORDS);
    let frame = around.tree.refer(table, "on");
    let station =
        table.opt_text("station").and_then(|name| around.stations.look_up(table, "station", &name)).copied();
    let kind = region::kind(table);
    if let (Some(role), Some(kind)) = (role, kind) {
        check_kind(table, role, kind);
    }
    let found = region::read(table, kind, frame, around).zip(frame);
    let found = found.map(|((pose, region), frame)| (region::upright(pose, region, frame, around), frame));
    if let (Some(role), Some(frame)) = (role, frame) {
        check_stands(table, role, frame, around);
    }
    let Some(role) = role else {
        // It is not known which of these belong here.
        safety_device::KEYS.iter().chain(&["into"]).for_each(|key| table.excuse(key));
        return None;
    };
    let pose = found.as_ref().map(|((pose, _), _)| pose);
    let device = if role.is_device() {
        Some(safety_device::device(table, role, station, around, pose)?)
    } else {
        None
    };
    let guard = if role == ZoneRole::Guard { Some(safety_device::guard(table)?) } else { None };
    let ((frame_from_zone, region), frame) = found?;
    Some(Zone { name: name.to_owned(), role, frame, frame_from_zone, region, station, device, guard })
}

/// A space or place that an axis moved would count where that axis rests alone.
fn check_stands(table: &Table<'_>, role: ZoneRole, frame: FrameId, around: &Around<'_>) {
    let frames = &around.tree.frames;
    let mut axes = frames.axes.iter().enumerate().filter(|(axis, _)| frames.moves_with(frame, *axis));
    if let Some((_, axis)) = axes.next()
        && (role.is_space() || role == ZoneRole::OperatorPlace)
    {
        let (wrong, right) = if role.is_space() {
            ("this space moves with", "draw on the world all that it takes up at any value of that axis")
        } else {
            ("whoever stands there moves with", "draw on the world where people stand, one place for each")
        };
        table.problem("on", format!("{wrong} the axis `{}`", axis.name), right.to_owned());
    }
}

/// What is crossed is flat, and what something is in is not.
fn check_kind(table: &Table<'_>, role: ZoneRole, kind: Kind) {
    let crossed = matches!(role, ZoneRole::Curtain | ZoneRole::BeamGrid | ZoneRole::Gate);
    let either = matches!(role, ZoneRole::Guard | ZoneRole::TwoHandControl);
    let is_field = kind == Kind::Field;
    if crossed && !is_field {
        let wrong = format!("a {} is a flat field", role.name());
        table.problem("kind", wrong, "write kind = \"field\"".to_owned());
    } else if is_field && !crossed && !either {
        let wrong = format!("a {} is no flat field", role.name());
        table.problem("kind", wrong, "write \"box\", \"cylinder\" or \"outline\"".to_owned());
    }
}
