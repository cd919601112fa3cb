//! Decides what an arm file, a URDF or a torch file says by itself, where no cell names it.

use std::path::Path;

use seamwright_kinematics::document::{Document, Problem};
use seamwright_kinematics::{Arm, AxisValues, UrdfError, arm_from_urdf};

use super::files::Disk;
use super::loads;
use super::urdf::is_urdf;
use super::{Reading, arm, stopping, torch};
use crate::cell::Torch;

/// An arm without a cell around it. Link shapes are not read.
#[derive(Clone, Debug)]
pub struct ArmAlone {
    /// Axes and limits; from a URDF they may be infinite.
    pub arm: Arm,
    /// Axis values at rest, rad, where stated.
    pub home: Option<AxisValues>,
    /// Rated load at the flange, kg, where stated.
    pub rated_load: Option<f64>,
    /// Reach as its maker states it, m, where stated.
    pub stated_reach: Option<f64>,
    /// Whether the file has a check pose, which then agreed.
    pub has_check_pose: bool,
    /// What only a URDF has, where its file is one.
    pub urdf: Option<UrdfNames>,
    /// What is assumed, for the findings: one sentence each.
    pub notes: Vec<String>,
}

/// Names in a URDF.
#[derive(Clone, Debug)]
pub struct UrdfNames {
    /// The link that is the base.
    pub base: String,
    /// The link that is the flange.
    pub flange: String,
    /// The joint that is each axis.
    pub axes: [String; 6],
}

/// Which links of a URDF to take, where that is said.
#[derive(Clone, Copy, Debug, Default)]
pub struct UrdfLinks<'l> {
    /// The base; else the root link.
    pub base: Option<&'l str>,
    /// The flange; else the only end with six moving joints before it.
    pub tip: Option<&'l str>,
}

/// Reads an arm from an arm file or from a URDF, which is known by its name (`.urdf`, `.xml`) or by its first character.
///
/// # Errors
/// Every problem of the file and of those it names, sorted by file and line.
pub fn read_arm(path: &Path, links: UrdfLinks<'_>) -> Result<ArmAlone, Vec<Problem>> {
    super::read_with(path, &Disk, |reading, text| {
        if is_urdf(path, text) { urdf(reading, text, links) } else { arm_file(reading, text, links) }
    })
}

/// Reads a torch file.
///
/// # Errors
/// Every problem of the file and of those it names, sorted by file and line.
pub fn read_torch(path: &Path) -> Result<Torch, Vec<Problem>> {
    super::read_with(path, &Disk, |reading, text| torch::from_text(reading, path, text))
}

fn problem(reading: &Reading<'_>, key: &str, value: Option<&str>, wrong: String, right: Option<String>) {
    reading.problems.add(Problem {
        file: reading.file.to_string_lossy().into_owned(),
        line: None,
        key: key.to_owned(),
        value: value.map(str::to_owned),
        wrong,
        right,
    });
}

fn arm_file(reading: &Reading<'_>, text: &str, links: UrdfLinks<'_>) -> Option<ArmAlone> {
    for (option, link) in [("--base", links.base), ("--tip", links.tip)] {
        if let Some(link) = link {
            let wrong = "this chooses a link of a URDF, and the file is an arm file".to_owned();
            let right = "write base_link and tip_link beside urdf in the file".to_owned();
            problem(reading, option, Some(link), wrong, Some(right));
        }
    }
    let document = Document::parse(&reading.file.to_string_lossy(), text, reading.problems);
    let root = document.root(reading.problems);
    let read = arm::axes_of(reading, &root, reading.file);
    let file = read.as_ref().map(|(file, _)| file);
    // What only a cell uses is judged all the same, but for link shapes: their meshes need not be at hand.
    arm::ignored_pairs(&root);
    loads::of_arm(&root);
    stopping::arm_rows(&root, file.map(|file| &file.arm));
    root.excuse("link_shape");
    root.finish();
    let (file, urdf) = read?;
    let mut notes = arm::assumed_limits(&file.arm);
    if let Some((_, urdf)) = urdf {
        notes.extend(urdf.evidently_in_millimetres().into_iter().chain(urdf.left_to_the_format));
    }
    Some(ArmAlone {
        notes,
        arm: file.arm,
        home: file.home,
        rated_load: file.rated_load,
        stated_reach: file.reach,
        has_check_pose: file.has_check_pose,
        urdf: None,
    })
}

fn urdf(reading: &Reading<'_>, text: &str, links: UrdfLinks<'_>) -> Option<ArmAlone> {
    let urdf = arm_from_urdf(text, links.base, links.tip)
        .map_err(|error| problem(reading, "", None, error.to_string(), hint(&error)))
        .ok()?;
    let arm = urdf.arm();
    let mut notes: Vec<String> = urdf.evidently_in_millimetres().into_iter().collect();
    notes.extend(urdf.left_to_the_format.iter().cloned());
    notes.extend(arm::assumed_limits(&arm));
    for (i, axis) in urdf.axes.iter().enumerate() {
        let (axis_number, joint) = (i + 1, &axis.name);
        if axis.range.is_none() {
            notes.push(format!(
                "the URDF gives axis {axis_number} (`{joint}`) no range: every turn of it counts as in range"
            ));
        }
        if axis.max_speed.is_none() {
            notes.push(format!("the URDF gives axis {axis_number} (`{joint}`) no speed limit"));
        }
    }
    let axes = urdf.axes.map(|axis| axis.name);
    Some(ArmAlone {
        arm,
        home: None,
        rated_load: None,
        stated_reach: None,
        has_check_pose: false,
        urdf: Some(UrdfNames { base: urdf.base, flange: urdf.tip, axes }),
        notes,
    })
}

/// What to do next, in the words of the command line.
fn hint(error: &UrdfError) -> Option<String> {
    error.hint().map(|hint| hint.replace("`base_link`", "--base").replace("`tip_link`", "--tip"))
}
