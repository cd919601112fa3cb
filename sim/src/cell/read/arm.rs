//! Decides which arm stands where, and what shapes its links have.

use std::path::Path;

use seamwright_kinematics::document::{Document, Table};
use seamwright_kinematics::{ArmFile, AxisValues, Based, Basis, UrdfArm, arm_from_urdf, read_arm};

use super::Reading;
use super::files::{beside, reason, shown};
use super::frames;
use super::place;
use super::shapes::{full_name, solids};
use crate::cell::{LinkShape, MountedArm};
use crate::units;

/// Share of data-sheet speed at which air moves run where a cell does not say: common practice, no source.
const ASSUMED_AIR_MOVE_PERCENT: f64 = 70.0;

/// Reads `[arm]` and the file it names.
pub(super) fn read(reading: &Reading<'_>, root: &Table<'_>, frames: &frames::Read) -> Option<MountedArm> {
    let Some(table) = root.opt_table("arm") else {
        if !root.has("arm") {
            root.problem("arm", "this table is missing", "write [arm] with file = \"...\"".to_owned());
        }
        return None;
    };
    let file = table.text("file");
    let frame = frames.refer(&table, "on");
    let frame_from_base = place::pose(&table);
    let home = table.opt_numbers::<6>("home_deg", place::ANGLES_DEG);
    let air = table.opt_number("air_move_percent", 1.0..=100.0);
    let ignored = table.opt_rows::<2>("ignored_pairs", 0.0..=6.0, 1).unwrap_or_default();
    let read = file.and_then(|file| arm_file(reading, &table, &file));
    let air_move_share = Based {
        value: units::percent(air.unwrap_or(ASSUMED_AIR_MOVE_PERCENT)),
        basis: if air.is_some() { Basis::File } else { Basis::Assumed },
    };
    if air.is_none() {
        reading.note(format!(
            "air moves are assumed to run at {ASSUMED_AIR_MOVE_PERCENT} % of data-sheet axis speed (common practice, no source)"
        ));
    }
    let (arm, shapes) = read?;
    let home = match home.map(|deg| AxisValues::from(deg.map(units::deg))).or(arm.home) {
        Some(home) => home,
        None => {
            let right = "write home_deg = [...] here or in the arm file".to_owned();
            table.problem("home_deg", "it is not said where the arm waits", right);
            return None;
        }
    };
    if let Some((axis, excess)) = arm.arm.range_excess(&home) {
        let wrong =
            format!("axis {} is {:.3} degrees outside its range here", axis + 1, units::to_deg(excess));
        table.problem("home_deg", wrong, None);
    }
    table.finish();
    if arm.path_deviation.basis == Basis::Assumed {
        reading.note(format!(
            "the controller is assumed to stray at most {} mm from a path (common practice, no source); every asked clearance grows by that",
            units::to_mm(arm.path_deviation.value)
        ));
    }
    if arm.arm.axes().iter().any(|axis| axis.max_acceleration.basis == Basis::Assumed) {
        reading.note(format!(
            "axis accelerations are assumed: full speed in {} s (common practice, no source)",
            seamwright_kinematics::ASSUMED_TIME_TO_SPEED
        ));
    }
    if arm.arm.axes().iter().any(|axis| axis.max_jerk.basis == Basis::Assumed) {
        reading.note(format!(
            "axis jerks are assumed: full acceleration in {} s (common practice, no source)",
            seamwright_kinematics::ASSUMED_TIME_TO_ACCELERATION
        ));
    }
    Some(MountedArm {
        arm: arm.arm,
        frame: frame?,
        frame_from_base,
        shapes,
        ignored_pairs: ignored.into_iter().map(|[a, b]| (a.min(b) as usize, a.max(b) as usize)).collect(),
        home,
        rated_load: arm.rated_load,
        path_deviation: arm.path_deviation,
        air_move_share,
    })
}

fn arm_file(reading: &Reading<'_>, table: &Table<'_>, file: &str) -> Option<(ArmFile, Vec<LinkShape>)> {
    let path = beside(table.file().as_ref(), file);
    let text = reading.files.text(&path).map_err(|error| table.problem("file", reason(&error), None)).ok()?;
    let document = Document::parse(&shown(&path), &text, reading.problems);
    let root = document.root(reading.problems);
    let urdf = urdf(reading, &root, &path);
    let arm = match urdf {
        Some(None) => {
            // Its problem is noted; without it the rest of the file cannot be judged.
            return None;
        }
        Some(Some(urdf)) => read_arm(&root, Some(&urdf)),
        None => read_arm(&root, None),
    };
    let shapes = link_shapes(reading, &root);
    root.finish();
    if shapes.is_empty() {
        reading.note(format!(
            "{}: the arm has no link shapes, so only its torch is checked for clearance",
            shown(&path)
        ));
    }
    Some((arm?, shapes))
}

/// The arm of the URDF that an arm file names: absent, unsound, or read.
fn urdf(reading: &Reading<'_>, root: &Table<'_>, path: &Path) -> Option<Option<UrdfArm>> {
    let named = root.opt_text("urdf");
    let base = root.opt_text("base_link");
    let tip = root.opt_text("tip_link");
    let named = named?;
    let text = match reading.files.text(&beside(path, &named)) {
        Ok(text) => text,
        Err(error) => {
            root.problem("urdf", reason(&error), None);
            return Some(None);
        }
    };
    match arm_from_urdf(&text, base.as_deref(), tip.as_deref()) {
        Ok(arm) => Some(Some(arm)),
        Err(error) => {
            root.problem("urdf", error.to_string(), error.hint());
            Some(None)
        }
    }
}

fn link_shapes(reading: &Reading<'_>, root: &Table<'_>) -> Vec<LinkShape> {
    let mut shapes = Vec::new();
    for table in root.tables("link_shape") {
        let name = table.text("name");
        if !table.has("link") {
            table.problem("link", "this key is missing", "write 0 (foot) to 6".to_owned());
        }
        let link = table.opt_whole("link", 0..=6);
        let solids = solids(reading, &table);
        table.finish();
        if let (Some(name), Some(link)) = (name, link) {
            shapes.extend(solids.into_iter().map(|(group, solid, pose)| LinkShape {
                name: full_name(&name, &group),
                link: link as usize,
                link_from_shape: pose,
                solid,
            }));
        }
    }
    shapes
}
