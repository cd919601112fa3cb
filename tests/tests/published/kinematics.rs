//! Forward kinematics, Jacobian, all inverse solutions and rotations against reference libraries.

use nalgebra::{Matrix6, Point3, Quaternion, Rotation3, UnitQuaternion, Vector3, Vector6};
use seamwright_kinematics::document::{Document, Problems};
use seamwright_kinematics::placement::{read_rotation, rotation_zyx};
use seamwright_kinematics::{AxisValues, ReachBound, Travel, units};
use seamwright_tests::arms::{apart, axis_values, matrix, pose, published};
use seamwright_tests::{Row, rows};

/// Of forward kinematics and Jacobian: the tables print 15 significant digits of values of order 1.
const EXACT: f64 = 1e-12;

fn q(row: &Row) -> AxisValues {
    axis_values(row, |i| format!("q{i}"))
}

#[test]
fn the_flange_stands_where_reference_libraries_put_it() {
    let rows = rows("published/kinematics/fk.csv");
    assert!(rows.len() >= 30);
    for row in rows {
        let base_from_flange = published(row.text("robot")).base_from_flange(&q(&row));
        let at = Vector3::new(row.number("px_m"), row.number("py_m"), row.number("pz_m"));
        assert!((base_from_flange.translation.vector - at).amax() < EXACT, "{row}: {base_from_flange}");
        let rotation = base_from_flange.rotation.to_rotation_matrix().into_inner();
        assert!((rotation - matrix(&row, "")).amax() < EXACT, "{row}: {base_from_flange}");
    }
}

#[test]
fn the_jacobian_is_that_of_reference_libraries() {
    let rows = rows("published/kinematics/jacobian.csv");
    assert!(rows.len() >= 20);
    for row in rows {
        let jacobian = published(row.text("robot")).jacobian(&q(&row), &Point3::origin());
        let expected = Matrix6::from_fn(|i, j| row.number(&format!("J{}{}", i + 1, j + 1)));
        assert!((jacobian - expected).amax() < EXACT, "{row}: {jacobian}");
        let twist = Vector6::new(0.010, 0.0, 0.0, 0.0, 0.0, 0.0);
        let rates = published(row.text("robot")).axis_rates(&q(&row), &Point3::origin(), &twist);
        let rates = rates.expect("no row is exactly singular");
        let expected = axis_values(&row, |i| format!("qdot{i}_for_vx_0.010_m_s"));
        // Printed with 12 significant digits; the worst conditioned row loses four.
        assert!((rates - expected).amax() < 1e-8 * expected.amax(), "{row}: {rates}");
    }
}

#[test]
fn singular_values_manipulability_and_condition_are_those_of_reference_libraries() {
    for row in rows("published/kinematics/jacobian.csv") {
        // The table mixes metres and radians: a characteristic length of 1 m.
        let dexterity = published(row.text("robot")).dexterity(&q(&row), &Point3::origin(), 1.0);
        // Printed with 12 significant digits (the condition with 10); the Jacobian itself is right to 1e-15 of a value of 1,
        // which the least singular values feel.
        for (i, value) in dexterity.singular_values.iter().enumerate() {
            let expected = row.number(&format!("sigma{}", i + 1));
            assert!((value - expected).abs() < 1e-11 * expected + 1e-14, "{row}: {dexterity:?}");
        }
        let expected = row.number("manipulability_sqrt_det_JJt");
        let lost = 1e-15 * dexterity.condition;
        assert!(
            (dexterity.manipulability - expected).abs() < (1e-11 + lost) * expected,
            "{row}: {dexterity:?}"
        );
        let expected = row.number("cond");
        assert!((dexterity.condition - expected).abs() < (1e-9 + lost) * expected, "{row}: {dexterity:?}");
    }
}

/// The solutions a case has in the table.
fn expected_solutions(case: &Row) -> Vec<(AxisValues, Row)> {
    rows("published/kinematics/ik_solutions.csv")
        .into_iter()
        .filter(|row| row.text("robot") == case.text("robot") && row.text("case") == case.text("case"))
        .map(|row| (axis_values(&row, |i| format!("q{i}_rad")), row))
        .collect()
}

#[test]
fn all_inverse_solutions_and_no_others_are_found() {
    let mut checked = 0;
    for case in rows("published/kinematics/ik_cases.csv") {
        let arm = published(case.text("robot"));
        let geometry = arm.geometry();
        assert!(geometry.is_ok(), "{case}: {geometry:?}");
        checked += 1;
        let found = arm.inverse(&pose(&case, ""), &AxisValues::zeros());
        assert_eq!(found.all.len(), case.number("n_solutions") as usize, "{case}: {found:?}");
        assert_eq!(found.shortfall.is_some(), found.all.is_empty(), "{case}: {found:?}");
        let in_range = found.all.iter().filter(|s| arm.turns_in_range(&s.axes).next().is_some()).count();
        // The table knows no ranges for the arms with three parallel axes.
        if let Some(stated) = case.opt_number("n_within_limits") {
            assert_eq!(in_range, stated as usize, "{case}: {found:?}");
        }
        // Nearly singular cases lose digits in the table itself, which prints poses with 15.
        let tolerance = if case.text("case").starts_with("near_") { 1e-6 } else { 1e-8 };
        let expected = expected_solutions(&case);
        assert_eq!(expected.len(), found.all.len(), "{case}");
        for (axes, row) in expected {
            let likeness = found.all.iter().map(|solution| apart(&solution.axes, &axes));
            let nearest = likeness.fold(f64::INFINITY, f64::min);
            assert!(nearest < tolerance, "{row}: nearest is {nearest} off in {found:?}");
            let within = arm.turns_in_range(&axes).next().is_some();
            if let Some(stated) = row.opt_number("within_limits") {
                assert_eq!(within, stated == 1.0, "{row}");
            }
        }
    }
    assert!(checked >= 24, "{checked}");
}

#[test]
fn an_unreachable_pose_names_the_bound_that_stops_it() {
    let bounds = [
        ("puma560_std", "too_far", ReachBound::TooFar),
        ("puma560_std", "inside_shoulder_cylinder", ReachBound::TooNearAxis1),
        ("gen6_std", "too_far", ReachBound::TooFar),
        ("irb140_std", "too_far", ReachBound::TooFar),
        ("ur5_std", "too_far", ReachBound::TooFar),
        ("ur5_std", "inside_shoulder_cylinder", ReachBound::TooNearAxis1),
    ];
    let cases = rows("published/kinematics/ik_cases.csv");
    for (robot, name, bound) in bounds {
        let case = cases.iter().find(|case| case.text("robot") == robot && case.text("case") == name);
        let case = case.expect("the table has this case");
        let found = published(robot).inverse(&pose(case, ""), &AxisValues::zeros());
        let shortfall = found.shortfall.expect("out of reach");
        assert_eq!(shortfall.bound, bound, "{case}: {shortfall:?}");
        assert!(shortfall.distance > 1e-6, "{case}: {shortfall:?}");
    }
}

/// The tool point of the seam path in the flange frame, m (same source).
const TOOL_POINT: [f64; 3] = [0.06, 0.0, 0.33];

#[test]
fn a_seam_is_followed_on_one_branch_with_the_axis_rates_of_the_reference() {
    let arm = published("gen6_std");
    let rows = rows("published/kinematics/seam_path_gen6.csv");
    assert_eq!(rows.len(), 21);
    let tool = |row: &Row| Vector3::from(["tcp_x_m", "tcp_y_m", "tcp_z_m"].map(|name| row.number(name)));
    let travel = (tool(&rows[20]) - tool(&rows[0])).normalize() * 0.008;
    let mut before = q(&rows[0]);
    for row in rows {
        let found = arm.inverse(&pose(&row, "f_"), &before);
        assert_eq!(found.all.len(), row.number("n_solutions") as usize, "{row}");
        let in_range = found.all.iter().filter(|s| arm.turns_in_range(&s.axes).next().is_some()).count();
        assert_eq!(in_range, row.number("n_within_limits") as usize, "{row}");
        let nearest =
            found.all.iter().min_by(|a, b| apart(&a.axes, &before).total_cmp(&apart(&b.axes, &before)));
        let axes = arm.nearest_turn(&nearest.expect("the seam is reached").axes, &before);
        // The branch prints 12 decimals.
        assert!((axes - q(&row)).amax() < 1e-10, "{row}: {axes}");
        let point = Point3::from(TOOL_POINT);
        assert!((arm.base_from_flange(&axes) * point - Point3::from(tool(&row))).amax() < 1e-10, "{row}");
        let twist = Vector6::new(travel.x, travel.y, travel.z, 0.0, 0.0, 0.0);
        let rates = arm.axis_rates(&axes, &point, &twist).expect("the seam is not singular");
        let expected = axis_values(&row, |i| format!("qd{i}_rad_s"));
        // Printed with 9 significant digits.
        assert!((rates - expected).amax() < 1e-9, "{row}: {rates:?}");
        let near = |travel| arm.singularity_rates(&axes, &point, travel).expect("the seam is not singular");
        let (along, worst) = (near(Travel::Along(travel)), near(Travel::AnyDirection(0.008)));
        let kinds = [
            (along.shoulder, worst.shoulder, [0, 0]),
            (along.elbow, worst.elbow, [1, 2]),
            (along.wrist, worst.wrist, [3, 5]),
        ];
        for (along, worst, axes) in kinds {
            let (along, worst) = along.zip(worst).expect("this arm has every kind");
            let fastest = axes.map(|axis: usize| expected[axis].abs()).into_iter().fold(0.0, f64::max);
            assert!((along.rate - fastest).abs() < 1e-9 && axes.contains(&along.axis), "{row}: {along:?}");
            assert!(worst.rate >= along.rate - 1e-12, "{row}: {worst:?} {along:?}");
        }
        before = axes;
    }
}

#[test]
fn a_rotation_in_a_file_is_the_one_it_names() {
    let rows = rows("published/kinematics/rotations.csv");
    assert!(rows.len() >= 7);
    for row in rows {
        let [x, y, z] = ["roll_x_deg", "pitch_y_deg", "yaw_z_deg"].map(|name| row.number(name));
        let [w, i, j, k] = ["qw", "qx", "qy", "qz"].map(|name| row.number(name));
        let by_angles = rotation_in(&format!("rotation_zyx_deg = [{z:?}, {y:?}, {x:?}]"));
        let by_quaternion = rotation_in(&format!("quaternion_wxyz = [{w:?}, {i:?}, {j:?}, {k:?}]"));
        let expected = matrix(&row, "");
        // The table prints 12 significant digits.
        for read in [by_angles, by_quaternion] {
            assert!((read.to_rotation_matrix().matrix() - expected).amax() < 1e-11, "{row}: {read}");
        }
        if y.abs() < 89.0 {
            let angles = Vector3::from(rotation_zyx(&by_quaternion).map(units::to_deg));
            assert!((angles - Vector3::new(z, y, x)).amax() < 1e-9, "{row}: {angles}");
        }
        let expected = Quaternion::new(w, i, j, k);
        let quaternion = by_angles.into_inner();
        assert!((quaternion - expected).norm().min((quaternion + expected).norm()) < 1e-11, "{row}");
        let vector = Vector3::from(["rotvec_x", "rotvec_y", "rotvec_z"].map(|name| row.number(name)));
        let by_vector = Rotation3::new(vector);
        let off = UnitQuaternion::from_rotation_matrix(&by_vector).angle_to(&by_angles);
        assert!(off < 1e-9, "{row}: {off}");
    }
}

fn rotation_in(text: &str) -> UnitQuaternion<f64> {
    let problems = Problems::default();
    let document = Document::parse("rotation.toml", text, &problems);
    let rotation = read_rotation(&document.root(&problems));
    assert!(problems.is_empty(), "{problems:?}");
    rotation
}
