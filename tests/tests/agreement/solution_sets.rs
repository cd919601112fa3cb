//! Whole solution sets from the Python libraries `eaik` and `ssik`, as `data/solution_sets/README.md` tells.
//!
//! Here: every arm file there reads, and our forward kinematics leads every listed solution to its pose.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use nalgebra::{Quaternion, UnitQuaternion, Vector3};
use seamwright_kinematics::{AxisValues, Pose, units};
use seamwright_tests::arms::{apart, axis_values, invented, poses_apart};
use seamwright_tests::{Row, rows};

fn pose(row: &Row) -> Pose {
    let [w, x, y, z] = ["qw", "qx", "qy", "qz"].map(|part| row.number(part));
    let at = Vector3::from(["x_mm", "y_mm", "z_mm"].map(|part| units::mm(row.number(part))));
    Pose::from_parts(at.into(), UnitQuaternion::new_normalize(Quaternion::new(w, x, y, z)))
}

#[test]
fn every_listed_solution_leads_to_its_pose_in_our_forward_kinematics() {
    let key = |row: &Row| (row.text("arm").to_owned(), row.text("pose").to_owned());
    let poses: BTreeMap<_, _> =
        rows("solution_sets/poses.csv").iter().map(|row| (key(row), pose(row))).collect();
    let mut arms = BTreeMap::new();
    for (arm, _) in poses.keys() {
        arms.entry(arm.clone()).or_insert_with(|| invented(arm));
    }
    for row in rows("solution_sets/solutions.csv") {
        let arm = &arms[row.text("arm")];
        let axes = axis_values(&row, |i| format!("axis{i}_rad"));
        let off = poses_apart(&arm.base_from_flange(&axes), &poses[&key(&row)]);
        assert!(off < 1e-9, "{row}: {off:e}");
        let some_turn_is_inside = (0..6).all(|i| {
            let range = arm.axes()[i].range;
            (-12..=12).any(|turn| range.excess(axes[i] + 2.0 * PI * f64::from(turn)) <= 0.0)
        });
        assert_eq!(some_turn_is_inside, row.number("in_range") > 0.0, "{row}");
    }
}

#[test]
fn every_pose_has_the_listed_solutions_and_no_other() {
    let key = |row: &Row| (row.text("arm").to_owned(), row.text("pose").to_owned());
    let mut listed: BTreeMap<_, Vec<AxisValues>> = BTreeMap::new();
    for row in rows("solution_sets/solutions.csv") {
        listed.entry(key(&row)).or_default().push(axis_values(&row, |i| format!("axis{i}_rad")));
    }
    let mut arms = BTreeMap::new();
    let mut wrong = Vec::new();
    for row in rows("solution_sets/poses.csv") {
        let arm = arms.entry(row.text("arm").to_owned()).or_insert_with_key(|name| invented(name));
        let pose = pose(&row);
        let found = arm.inverse(&pose, &AxisValues::zeros());
        let expected = listed.get(&key(&row)).map_or(&[][..], Vec::as_slice);
        let lacks =
            expected.iter().filter(|one| !found.all.iter().any(|own| apart(&own.axes, one) < 1e-6)).count();
        let more =
            found.all.iter().filter(|own| !expected.iter().any(|one| apart(&own.axes, one) < 1e-6)).count();
        if lacks + more + found.unresolved > 0 {
            wrong.push(format!(
                "{} {} ({}): {lacks} lacking, {more} more, {} unresolved, of {}",
                row.text("arm"),
                row.text("pose"),
                row.text("kind"),
                found.unresolved,
                expected.len()
            ));
        }
        for own in &found.all {
            let off = poses_apart(&arm.base_from_flange(&own.axes), &pose);
            assert!(off < 1e-10, "{row}: {off:e}");
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
