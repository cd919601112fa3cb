//! Whole solution sets against the closed form of `rs-opw-kinematics`, forward kinematics against `k`.

use std::f64::consts::PI;
use std::fmt::Write;

use nalgebra::{Quaternion, UnitQuaternion, UnitVector3, Vector3};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use rs_opw_kinematics::kinematic_traits::{Kinematics, Pose as OpwPose};
use rs_opw_kinematics::kinematics_impl::OPWKinematics;
use rs_opw_kinematics::parameters::opw_kinematics::Parameters;
use seamwright_kinematics::description::{OriginAxis, origin_axes};
use seamwright_kinematics::{Arm, AxisValues, Pose, arm_from_urdf};
use seamwright_tests::arms::{WHOLE_TURNS, apart, arm, poses_apart};

fn any_axes() -> impl Strategy<Value = AxisValues> {
    prop::array::uniform6(-PI..PI).prop_map(AxisValues::from)
}

/// Dimensions of the usual arm in the letters of Brandstötter, Angerer and Hofbaur, as `rs-opw-kinematics` has them.
fn any_usual_arm() -> impl Strategy<Value = Parameters> {
    let offset = -0.25..0.25_f64;
    let length = 0.2..1.2_f64;
    let reversed = prop::array::uniform6(prop::sample::select(vec![-1_i8, 1]));
    let sizes =
        (offset.clone(), offset.clone(), offset, length.clone(), length.clone(), length, 0.0..0.3_f64);
    (sizes, prop::array::uniform6(-1.5..1.5_f64), reversed).prop_map(|(sizes, offsets, sign_corrections)| {
        let (a1, a2, b, c1, c2, c3, c4) = sizes;
        Parameters { a1, a2, b, c1, c2, c3, c4, offsets, sign_corrections, dof: 6 }
    })
}

/// The same arm as lines: upright at its own zero, axes 1, 4 and 6 up, axes 2, 3 and 5 along y.
fn as_lines(p: &Parameters) -> Arm {
    let (z, y) = (Vector3::z(), Vector3::y());
    let wrist = [p.a1 + p.a2, p.b, p.c1 + p.c2 + p.c3];
    let points = [[0.0; 3], [p.a1, 0.0, p.c1], [p.a1, 0.0, p.c1 + p.c2], wrist, wrist, wrist];
    let directions = [z, y, y, z, y, z];
    let axes = std::array::from_fn(|i| OriginAxis {
        point: Vector3::from(points[i]),
        direction: UnitVector3::new_normalize(directions[i]),
    });
    let flange = Pose::translation(wrist[0], wrist[1], wrist[2] + p.c4);
    let mut links = origin_axes(&axes, &flange);
    // That library's axis value is sign · (angle + offset).
    for i in 0..6 {
        let turn = Vector3::from(links.direction[i].into_inner()) * -p.offsets[i];
        links.origin[i] *= Pose::rotation(turn);
        if p.sign_corrections[i] < 0 {
            links.direction[i] = -links.direction[i];
        }
    }
    arm("usual", &links, WHOLE_TURNS)
}

fn from_opw(pose: &OpwPose) -> Pose {
    let (t, r) = (pose.translation, pose.rotation);
    let rotation = UnitQuaternion::new_normalize(Quaternion::new(r.w, r.x, r.y, r.z));
    Pose::from_parts(Vector3::new(t.x, t.y, t.z).into(), rotation)
}

fn to_opw(pose: &Pose) -> OpwPose {
    let (t, r) = (pose.translation.vector, pose.rotation);
    OpwPose::from_parts(glam::DVec3::new(t.x, t.y, t.z), glam::DQuat::from_xyzw(r.i, r.j, r.k, r.w))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

    #[test]
    fn the_usual_arm_has_the_solutions_that_its_own_closed_form_has(p in any_usual_arm(), axes in any_axes()) {
        let (ours, theirs) = (as_lines(&p), OPWKinematics::new(p));
        let pose = ours.base_from_flange(&axes);
        let forward = theirs.forward(&axes.into());
        prop_assert!(poses_apart(&pose, &from_opw(&forward)) < 1e-12, "{pose} {}", from_opw(&forward));
        let found = ours.inverse(&pose, &axes).all;
        let expected = theirs.inverse(&to_opw(&pose));
        let expected: Vec<AxisValues> = expected.into_iter().map(AxisValues::from).collect();
        // At singularities the other library chooses other representatives, and near them it gives up digits.
        let is_clear = |axes: &AxisValues| {
            let near = ours.singularity(axes);
            near.wrist.min(near.elbow).min(near.shoulder) > 1e-3
        };
        for solution in found.iter().map(|solution| solution.axes).filter(is_clear) {
            let known = expected.iter().any(|other| apart(other, &solution) < 1e-6);
            prop_assert!(known, "only we have {solution}; they have {expected:?}");
        }
        for other in expected.iter().filter(|axes| is_clear(axes)) {
            let known = found.iter().any(|solution| apart(&solution.axes, other) < 1e-6);
            prop_assert!(known, "we lack {other}; we have {found:?}");
        }
    }

    #[test]
    fn a_pose_out_of_reach_has_no_solution_in_either_library(p in any_usual_arm(), at in prop::array::uniform3(-3.0..3.0_f64), turn in prop::array::uniform3(-2.0..2.0_f64)) {
        let ours = as_lines(&p);
        let pose = Pose::new(Vector3::from(at), Vector3::from(turn));
        let found = ours.inverse(&pose, &AxisValues::zeros());
        let expected = OPWKinematics::new(p).inverse(&to_opw(&pose));
        prop_assert_eq!(found.all.is_empty(), expected.is_empty(), "{:?} {:?}", found, expected);
    }

    #[test]
    fn an_arm_read_from_a_urdf_moves_as_k_moves_it(
        origins in prop::array::uniform8(prop::array::uniform6(-2.0..2.0_f64)),
        directions in prop::array::uniform6(prop::array::uniform3(-1.0..1.0_f64)),
        axes in any_axes(), fixed in 0..8_usize,
    ) {
        prop_assume!(directions.iter().all(|direction| Vector3::from(*direction).norm() > 0.1));
        let text = urdf(&origins, &directions, fixed);
        let read = arm_from_urdf(&text, None, None).map_err(|error| TestCaseError::fail(error.to_string()))?;
        let ours = arm(&read.name, &read.links, WHOLE_TURNS).base_from_flange(&axes);
        let robot = urdf_rs::read_from_string(&text).map_err(|error| TestCaseError::fail(error.to_string()))?;
        let chain = k::Chain::<f64>::from(robot);
        chain.set_joint_positions_unchecked(axes.as_slice());
        chain.update_transforms();
        let tip = chain.find("joint8").and_then(k::Node::world_transform).expect("the last joint is placed");
        let (t, r) = (tip.translation.vector, tip.rotation.coords);
        let rotation = UnitQuaternion::new_normalize(Quaternion::new(r.w, r.x, r.y, r.z));
        let theirs = Pose::from_parts(Vector3::new(t.x, t.y, t.z).into(), rotation);
        prop_assert!(poses_apart(&ours, &theirs) < 1e-12, "{ours} {theirs}");
    }
}

/// Eight joints in a row: the last one and number `fixed` (0 to 7) are fixed, and one more where these are the same.
fn urdf(origins: &[[f64; 6]; 8], directions: &[[f64; 3]; 6], fixed: usize) -> String {
    let other = if fixed == 7 { 3 } else { fixed };
    let mut text = "<robot name=\"random\"><link name=\"link0\"/>".to_owned();
    let mut turning = directions.iter();
    for (i, [x, y, z, roll, pitch, yaw]) in origins.iter().enumerate() {
        let number = i + 1;
        let (kind, [a, b, c]) = match turning.as_slice() {
            [direction, ..] if i != 7 && i != other => {
                turning.next();
                ("revolute", *direction)
            }
            _ => ("fixed", [0.0, 0.0, 1.0]),
        };
        let _ = write!(
            text,
            "<link name=\"link{number}\"/><joint name=\"joint{number}\" type=\"{kind}\"><parent link=\"link{i}\"/>\
             <child link=\"link{number}\"/><origin xyz=\"{x} {y} {z}\" rpy=\"{roll} {pitch} {yaw}\"/>\
             <axis xyz=\"{a} {b} {c}\"/><limit lower=\"-4\" upper=\"4\" effort=\"0\" velocity=\"1\"/></joint>"
        );
    }
    text + "</robot>"
}
