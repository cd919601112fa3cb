//! Decides which arm a URDF gives: one that an arm file names, or one that stands where an arm file could.
//!
//! Of a URDF joints are read, and collision shapes (`urdf_shapes`). What it cannot say (accelerations, jerks, where the arm waits) is
//! assumed and noted, or asked for.

use std::path::{Path, PathBuf};

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{ArmFile, UrdfArm, arm_from_urdf};

use super::Reading;
use super::files::{beside, reason};

/// Whether a file is a URDF: by its name (`.urdf`, `.xml`) or by its first character.
pub(super) fn is_urdf(path: &Path, text: &str) -> bool {
    let by_name = path
        .extension()
        .is_some_and(|end| ["urdf", "xml"].into_iter().any(|urdf| end.eq_ignore_ascii_case(urdf)));
    // No TOML begins with it.
    by_name || text.trim_start().starts_with('<')
}

/// The arm of the URDF that `file` of a cell's `[arm]` names in the place of an arm file; none with every problem noted there.
pub(super) fn in_place_of_an_arm_file(table: &Table<'_>, text: &str) -> Option<(ArmFile, UrdfArm)> {
    let base = table.opt_text("base_link");
    let tip = table.opt_text("tip_link");
    let urdf = arm_from_urdf(text, base.as_deref(), tip.as_deref())
        .map_err(|error| table.problem("file", error.to_string(), error.hint()))
        .ok()?;
    let missing = urdf.missing_limits();
    for wrong in &missing {
        let right = "write an arm file that names the URDF and has six [[axis]] rows with min_deg, max_deg, max_speed_deg_s";
        table.problem("file", wrong.clone(), right.to_owned());
    }
    let too_long = refuse_millimetres(table, "file", &urdf);
    let file = ArmFile::of_urdf(&urdf);
    if let Err(reason) = file.arm.geometry() {
        let wrong = format!("the axis values for a given pose cannot be found for this arm: {reason}");
        table.problem("file", wrong, "check the geometry of the arm".to_owned());
    }
    (missing.is_empty() && !too_long).then_some((file, urdf))
}

/// The arm of the URDF that an arm file at `path` names, and where that is: absent, unsound, or read.
pub(super) fn named(
    reading: &Reading<'_>,
    root: &Table<'_>,
    path: &Path,
) -> Option<Option<(PathBuf, UrdfArm)>> {
    let named = root.opt_text("urdf");
    let base = root.opt_text("base_link");
    let tip = root.opt_text("tip_link");
    let named = named?;
    let urdf = beside(path, &named);
    let text = match reading.files.text(&urdf) {
        Ok(text) => text,
        Err(error) => {
            root.problem("urdf", reason(&error), None);
            return Some(None);
        }
    };
    match arm_from_urdf(&text, base.as_deref(), tip.as_deref()) {
        Ok(arm) if refuse_millimetres(root, "urdf", &arm) => Some(None),
        Ok(arm) => Some(Some((urdf, arm))),
        Err(error) => {
            root.problem("urdf", error.to_string(), error.hint());
            Some(None)
        }
    }
}

/// Whether the URDF that `key` names is so long that it cannot be in metres, which is then noted.
fn refuse_millimetres(table: &Table<'_>, key: &str, urdf: &UrdfArm) -> bool {
    let told = urdf.evidently_in_millimetres();
    let is_so = told.is_some();
    if let Some(wrong) = told {
        table.problem(key, wrong, "write the lengths of the URDF in metres: 1 mm is 0.001".to_owned());
    }
    is_so
}
