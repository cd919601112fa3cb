//! The arms that the checks are about: those of the published tables, and random ones.

use std::f64::consts::PI;
use std::path::Path;

use nalgebra::{Matrix3, Rotation3, UnitQuaternion, Vector3};
use seamwright_kinematics::description::{DhRow, Links, modified_dh, standard_dh};
use seamwright_kinematics::document::{Document, Problems};
use seamwright_kinematics::{Arm, Axis, AxisValues, Based, Basis, Pose, Range, confirm_solvable, read_arm};

use crate::{Row, rows};

/// An arm of `links` that may turn each axis through `ranges` (rad).
#[must_use]
pub fn arm(name: &str, links: &Links, ranges: [Range; 6]) -> Arm {
    let unlimited = Based { value: 1.0, basis: Basis::Assumed };
    let axes = std::array::from_fn(|i| Axis {
        origin: links.origin[i],
        direction: links.direction[i],
        range: ranges[i],
        max_speed: 1.0,
        max_acceleration: unlimited,
        max_jerk: unlimited,
    });
    Arm::new(name.to_owned(), axes, links.link6_from_flange)
}

/// One turn of every axis.
pub const WHOLE_TURNS: [Range; 6] = [Range { min: -PI, max: PI }; 6];

/// The arm `robot` of `published/kinematics/dh_parameters.csv`.
///
/// # Panics
/// If the table has not six rows of it.
#[must_use]
#[expect(clippy::unwrap_used, reason = "a check without its arm must fail")]
pub fn published(robot: &str) -> Arm {
    let rows: Vec<Row> = rows("published/kinematics/dh_parameters.csv")
        .into_iter()
        .filter(|row| row.text("robot") == robot)
        .collect();
    let dh = |row: &Row| DhRow {
        theta_offset: row.number("theta_offset_rad"),
        d: row.number("d_m"),
        a: row.number("a_m"),
        alpha: row.number("alpha_rad"),
    };
    let table: [DhRow; 6] = rows.iter().map(dh).collect::<Vec<_>>().try_into().unwrap();
    let links = match rows[0].text("convention") {
        "standard" => standard_dh(&table),
        _ => modified_dh(&table, Pose::identity()),
    };
    let ranges = std::array::from_fn(|i| Range {
        min: rows[i].opt_number("q_min").unwrap_or(-PI),
        max: rows[i].opt_number("q_max").unwrap_or(PI),
    });
    arm(robot, &links, ranges)
}

/// The names of the invented arms in `data/solution_sets`, in order.
///
/// # Panics
/// If the folder cannot be read.
#[must_use]
#[expect(clippy::unwrap_used, reason = "a check without its arms must fail")]
pub fn invented_names() -> Vec<String> {
    let files = std::fs::read_dir(solution_sets()).unwrap().map(|entry| entry.unwrap().path());
    let arms = files.filter(|path| path.extension().is_some_and(|end| end == "toml"));
    let mut names: Vec<String> =
        arms.map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned()).collect();
    names.sort();
    names
}

/// The arm of a file in `data/solution_sets`.
///
/// # Panics
/// If the file is missing or has problems, which are then printed.
#[must_use]
#[expect(clippy::unwrap_used, reason = "a check without its arm must fail")]
pub fn invented(name: &str) -> Arm {
    let text = std::fs::read_to_string(solution_sets().join(format!("{name}.toml"))).unwrap();
    let problems = Problems::default();
    let document = Document::parse(&format!("{name}.toml"), &text, &problems);
    let table = document.root(&problems);
    let arm = read_arm(&table, None);
    if let Some(file) = &arm {
        confirm_solvable(&table, &file.arm);
    }
    table.finish();
    drop(document);
    let problems: Vec<String> = problems.into_sorted().iter().map(ToString::to_string).collect();
    arm.map(|file| file.arm).filter(|_| problems.is_empty()).ok_or_else(|| problems.join("\n")).unwrap()
}

fn solution_sets() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/solution_sets")
}

/// The pose that a row writes as `r11` to `r33` and `px_m` to `pz_m`, each name with `prefix` before it.
#[must_use]
pub fn pose(row: &Row, prefix: &str) -> Pose {
    let number = |name: &str| row.number(&format!("{prefix}{name}"));
    let rotation = Rotation3::from_matrix_unchecked(matrix(row, prefix));
    let at = Vector3::new(number("px_m"), number("py_m"), number("pz_m"));
    Pose::from_parts(at.into(), UnitQuaternion::from_rotation_matrix(&rotation))
}

/// The matrix that a row writes as `r11` to `r33`, each name with `prefix` before it.
#[must_use]
pub fn matrix(row: &Row, prefix: &str) -> Matrix3<f64> {
    Matrix3::from_fn(|i, j| row.number(&format!("{prefix}r{}{}", i + 1, j + 1)))
}

/// Axis values from the six columns that `name` names by number, 1 to 6.
pub fn axis_values(row: &Row, name: impl Fn(usize) -> String) -> AxisValues {
    AxisValues::from_fn(|i, _| row.number(&name(i + 1)))
}

/// How far two axis vectors are apart at most in one axis, whole turns aside (rad).
#[must_use]
pub fn apart(one: &AxisValues, other: &AxisValues) -> f64 {
    (one - other).map(|angle| angle - 2.0 * PI * (angle / (2.0 * PI)).round()).amax()
}

/// How far two poses are apart: the greater of m and rad.
#[must_use]
pub fn poses_apart(one: &Pose, other: &Pose) -> f64 {
    let turn = (one.rotation.inverse() * other.rotation).scaled_axis().norm();
    (one.translation.vector - other.translation.vector).norm().max(turn)
}
