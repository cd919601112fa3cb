//! Decides which arm stands where, and what shapes its links have.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use seamwright_kinematics::document::{Document, Table};
use seamwright_kinematics::{
    ASSUMED_TIME_TO_ACCELERATION, ASSUMED_TIME_TO_SPEED, Arm, ArmFile, AxisValues, Based, Basis, UrdfArm,
    confirm_solvable, load_share, read_arm,
};

use super::Reading;
use super::files::{beside, reason};
use super::frames;
use super::loads;
use super::names;
use super::place;
use super::shapes::{full_name, solids};
use super::stopping;
use super::urdf;
use super::urdf_shapes;
use crate::cell::{ArmLooks, ArmRatings, Calibration, LinkShape, MountedArm, StoppingRow};
use crate::units;

/// Pace of air moves, as a share of what the axes allow, where a cell does not say: common practice, no source.
const ASSUMED_AIR_MOVE_PERCENT: f64 = 70.0;

const PRACTICE: &str = "(common practice, no source)";

/// What the arm's own file says.
struct FromFile {
    arm: ArmFile,
    shapes: Vec<LinkShape>,
    looks: Option<ArmLooks>,
    ignored_pairs: Vec<(usize, usize)>,
    stopping: [Vec<StoppingRow>; 6],
    ratings: ArmRatings,
}

/// Reads `[arm]` and the file it names.
///
/// What `calibration` has is put in the place of what it replaces, and is then no assumption any more.
pub(super) fn read(
    reading: &Reading<'_>,
    root: &Table<'_>,
    frames: &frames::Read,
    calibration: Option<&Calibration>,
) -> Option<MountedArm> {
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
    let home = home.map(|deg| AxisValues::from(deg.map(units::deg)));
    let air = table.opt_number("air_move_percent", 1.0..=100.0);
    let air_tool_speed = table.opt_number("air_tool_speed_mm_s", 1.0..=100_000.0).map(units::mm);
    if air_tool_speed.is_some() && table.has("air_rounding_mm") {
        let right =
            "write one of the two: corners rounded in the air are timed by the limits of the axes alone";
        table.problem(
            "air_tool_speed_mm_s",
            "air moves with `air_rounding_mm` keep no tool speed".to_owned(),
            Some(right.to_owned()),
        );
    }
    let air_rounding = table.opt_number("air_rounding_mm", 0.0..=1000.0).map_or(0.0, units::mm);
    let air_with_external = table.opt_flag("air_with_external").unwrap_or(false);
    let settle = table.opt_number("settle_s", 0.0..=10.0).unwrap_or(0.0);
    let mut ignored_pairs = ignored_pairs(&table);
    let forearm_load = loads::on_forearm(&table);
    let from_file = file.and_then(|file| arm_file(reading, &table, &file));
    let home = from_file.as_ref().and_then(|read| home_of(&table, home, &read.arm));
    let own_stops = stopping::arm_rows(&table, from_file.as_ref().map(|read| &read.arm.arm));
    table.finish();
    let FromFile { arm, shapes, looks, ignored_pairs: by_file, stopping: file_stops, ratings } = from_file?;
    let has_check_pose = arm.has_check_pose;
    ignored_pairs.extend(by_file);
    ignored_pairs.sort_unstable();
    ignored_pairs.dedup();
    let mut mounted = MountedArm {
        arm: arm.arm,
        frame: frame?,
        frame_from_base,
        shapes,
        looks,
        ignored_pairs,
        home: home?,
        // Slowed evenly, as `motion::Pace` has it, until a measured arm says otherwise.
        pace_power: 2.0,
        air_rounding,
        air_tool_speed,
        air_with_external,
        settle,
        load_shares: arm.load_shares,
        rated_load: arm.rated_load,
        ratings,
        forearm_load,
        path_deviation: arm.path_deviation,
        air_move_share: Based {
            value: units::percent(air.unwrap_or(ASSUMED_AIR_MOVE_PERCENT)),
            basis: if air.is_some() { Basis::File } else { Basis::Assumed },
        },
        stopping: stopping::or_else(own_stops, file_stops),
    };
    if let Some(calibration) = calibration {
        if calibration.arm != mounted.arm.name() {
            let wrong =
                format!("`{}` was measured, the arm here is `{}`", calibration.arm, mounted.arm.name());
            root.problem("calibration", wrong, "measure this arm, or leave the key out".to_owned());
        }
        calibration.apply_to_arm(&mut mounted);
    }
    note_assumptions(reading, &mounted, has_check_pose);
    Some(mounted)
}

/// The arm with what its load leaves of its limits, where its file says that.
pub(super) fn loaded(reading: &Reading<'_>, mounted: MountedArm, load: f64) -> MountedArm {
    let Some(share) = load_share(&mounted.load_shares, load) else { return mounted };
    reading.note(format!(
        "with {load} kg on its flange the arm file leaves the arm {:.1} % of its speeds and {:.1} % of its accelerations",
        units::to_percent(share.speed),
        units::to_percent(share.acceleration)
    ));
    MountedArm { arm: mounted.arm.slowed(&share), ..mounted }
}

/// Where the arm waits: as the cell says, else as the arm file does.
fn home_of(table: &Table<'_>, written: Option<AxisValues>, arm: &ArmFile) -> Option<AxisValues> {
    let home = written.or(arm.home);
    if home.is_none() && !table.has("home_deg") {
        let right = "write home_deg = [...] here or in the arm file".to_owned();
        table.problem("home_deg", "it is not said where the arm waits", right);
    }
    if let Some((drive, excess)) = written.and_then(|home| arm.arm.range_excess(&home)) {
        let excess = units::to_deg(excess);
        let wrong = format!("{drive} is {excess:.3} degrees outside its range here");
        table.problem("home_deg", wrong, "write a pose that the arm can take".to_owned());
    }
    home
}

fn note_assumptions(reading: &Reading<'_>, arm: &MountedArm, has_check_pose: bool) {
    if arm.air_move_share.basis == Basis::Assumed {
        reading.note(format!(
            "air moves are assumed to run at {ASSUMED_AIR_MOVE_PERCENT} % of the pace that the axes allow {PRACTICE}"
        ));
    }
    if !has_check_pose {
        reading.note("the arm file has no check pose, so its dimensions are not confirmed by any".to_owned());
    }
    if arm.path_deviation.basis == Basis::Assumed {
        let deviation = units::to_mm(arm.path_deviation.value);
        reading.note(format!(
            "the controller is assumed to stray at most {deviation} mm from a path {PRACTICE}; every asked clearance grows by that"
        ));
    }
    for note in assumed_limits(&arm.arm) {
        reading.note(note);
    }
}

/// What is assumed of the axes of an arm, and what may be a slip of the pen, one sentence each.
pub(super) fn assumed_limits(arm: &Arm) -> Vec<String> {
    let mut notes = Vec::new();
    for (i, axis) in arm.axes().iter().enumerate() {
        let [min, max] = [axis.range.min, axis.range.max].map(units::to_deg);
        // The numbers that a whole turn to either side has in radians.
        if min.abs().max(max.abs()) <= TAU {
            let axis = i + 1;
            notes.push(format!(
                "axis {axis} turns from {min:.2}° to {max:.2}° only: was its range written in radians?"
            ));
        }
    }
    if arm.axes().iter().any(|axis| axis.max_acceleration.basis == Basis::Assumed) {
        notes.push(format!(
            "axis accelerations are assumed: full speed in {ASSUMED_TIME_TO_SPEED} s {PRACTICE}"
        ));
    }
    if arm.axes().iter().any(|axis| axis.max_jerk.basis == Basis::Assumed) {
        notes.push(format!(
            "axis jerks are assumed: full acceleration in {ASSUMED_TIME_TO_ACCELERATION} s {PRACTICE}"
        ));
    }
    notes
}

/// Pairs of links that are not checked against each other, the lower first.
pub(super) fn ignored_pairs(table: &Table<'_>) -> Vec<(usize, usize)> {
    let key = "ignored_pairs";
    let pairs = table.opt_rows::<2>(key, 0.0..=6.0, 0).unwrap_or_default();
    if pairs.iter().any(|[a, b]| a.fract() != 0.0 || b.fract() != 0.0 || a == b) {
        let right = "write pairs of two different links from 0 (foot) to 6, such as [[1, 3]]".to_owned();
        table.problem(key, "one of these is no pair of links", right);
    }
    pairs.into_iter().map(|[a, b]| (a.min(b) as usize, a.max(b) as usize)).collect()
}

fn arm_file(reading: &Reading<'_>, table: &Table<'_>, file: &str) -> Option<FromFile> {
    let path = beside(table.file().as_ref(), file);
    let text = reading.files.text(&path).map_err(|error| table.problem("file", reason(&error), None)).ok()?;
    if urdf::is_urdf(&path, &text) {
        let (arm, urdf) = urdf::in_place_of_an_arm_file(table, &text)?;
        let shapes = urdf_shapes::of_links(reading, &path, &urdf);
        if shapes.is_empty() {
            note_no_shapes(reading, &path);
        }
        let (stopping, ratings) = Default::default();
        let looks = looks_by(path, urdf);
        return Some(FromFile { arm, shapes, looks, ignored_pairs: Vec::new(), stopping, ratings });
    }
    let document = Document::parse(&path.to_string_lossy(), &text, reading.problems);
    let root = document.root(reading.problems);
    let (arm, urdf) = axes_of(reading, &root, &path).unzip();
    if let Some(arm) = &arm {
        confirm_solvable(&root, &arm.arm);
    }
    let mut shapes = link_shapes(reading, &root);
    let mut looks = None;
    if let Some((path, urdf)) = urdf.flatten() {
        if !root.has("link_shape") {
            shapes = urdf_shapes::of_links(reading, &path, &urdf);
        }
        looks = looks_by(path, urdf);
    }
    let ignored_pairs = ignored_pairs(&root);
    let stopping = stopping::arm_rows(&root, arm.as_ref().map(|read| &read.arm));
    let ratings = loads::of_arm(&root);
    root.finish();
    if shapes.is_empty() {
        note_no_shapes(reading, &path);
    }
    Some(FromFile { arm: arm?, shapes, looks, ignored_pairs, stopping, ratings })
}

/// How its links look; none where the URDF has no visual elements.
fn looks_by(urdf: PathBuf, read: UrdfArm) -> Option<ArmLooks> {
    (!read.visuals.is_empty()).then_some(ArmLooks { urdf, visuals: read.visuals })
}

fn note_no_shapes(reading: &Reading<'_>, path: &Path) {
    let file = reading.seen_from_cell(path);
    reading.note(format!("{file}: the arm has no link shapes, so only its torch is checked for clearance"));
}

/// What an arm file at `path` says of its axes, those of a URDF it names included; and that URDF, with where it is.
pub(super) fn axes_of(
    reading: &Reading<'_>,
    root: &Table<'_>,
    path: &Path,
) -> Option<(ArmFile, Option<(PathBuf, UrdfArm)>)> {
    let urdf = match urdf::named(reading, root, path) {
        // Its problem is noted; without it the rest of the file cannot be judged, so no key of it is unknown.
        Some(None) => {
            let _ = root.keys();
            return None;
        }
        urdf => urdf.flatten(),
    };
    let file = read_arm(root, urdf.as_ref().map(|(_, urdf)| urdf))?;
    Some((file, urdf))
}

fn link_shapes(reading: &Reading<'_>, root: &Table<'_>) -> Vec<LinkShape> {
    let mut shapes = Vec::new();
    for table in root.tables("link_shape") {
        let name = names::read(&table);
        let link = table.whole("link", 0..=6);
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
