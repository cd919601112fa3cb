//! Arms of random geometry: there and back, differences, mirrors, moved bases, whole turns.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point3, Unit, UnitVector3, Vector3};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use seamwright_kinematics::description::{OriginAxis, origin_axes};
use seamwright_kinematics::{Arm, AxisValues, Pose, Range};
use seamwright_tests::arms::{WHOLE_TURNS, apart, arm, poses_apart};

pub(super) fn any_axes() -> impl Strategy<Value = AxisValues> {
    prop::array::uniform6(-PI..PI).prop_map(AxisValues::from)
}

pub(super) fn any_direction() -> impl Strategy<Value = UnitVector3<f64>> {
    prop::array::uniform3(-1.0..1.0_f64)
        .prop_filter_map("a direction has a length", |v| Unit::try_new(Vector3::from(v), 0.2))
}

pub(super) fn any_point() -> impl Strategy<Value = Vector3<f64>> {
    prop::array::uniform3(-1.0..1.0_f64).prop_map(Vector3::from)
}

fn any_pose() -> impl Strategy<Value = Pose> {
    (any_point(), prop::array::uniform3(-2.0..2.0_f64)).prop_map(|(at, turn)| Pose::new(at, turn.into()))
}

/// Six lines of a class that is solved, none of them degenerate; and a flange.
#[derive(Clone, Debug)]
pub(super) struct Geometry {
    lines: [OriginAxis; 6],
    flange: Pose,
}

impl Geometry {
    pub(super) fn arm(&self) -> Arm {
        arm("random", &origin_axes(&self.lines, &self.flange), WHOLE_TURNS)
    }
}

pub(super) fn any_geometry() -> impl Strategy<Value = Geometry> {
    prop_oneof![any_spherical_wrist(), any_three_parallel()]
}

/// Axes 2, 3 and 4 are parallel (either sense), 5 and 6 meet.
fn any_three_parallel() -> impl Strategy<Value = Geometry> {
    let directions = (prop::array::uniform4(any_direction()), any::<bool>(), any::<bool>());
    (directions, prop::array::uniform5(any_point()), any_pose()).prop_filter_map(
        "the arm lacks no freedom",
        |(([first, n, fifth, sixth], opposed3, opposed4), [foot, shoulder, elbow, fourth, wrist], flange)| {
            let sense = |opposed| if opposed { -n } else { n };
            let slanted = |a: &UnitVector3<f64>, b: &UnitVector3<f64>| a.cross(b).norm() > 0.3;
            let across = |v: Vector3<f64>| v.cross(&n).norm() > 0.2;
            let sound = slanted(&first, &n) && slanted(&n, &fifth) && slanted(&fifth, &sixth);
            let sound = sound && across(elbow - shoulder) && across(fourth - elbow);
            let line = |point, direction| OriginAxis { point, direction };
            let lines = [
                line(foot, first),
                line(shoulder, n),
                line(elbow, sense(opposed3)),
                line(fourth, sense(opposed4)),
                line(wrist - fifth.into_inner() * 0.2, fifth),
                line(wrist, sixth),
            ];
            sound.then_some(Geometry { lines, flange })
        },
    )
}

/// Axes 2 and 3 are parallel (either sense), 4 to 6 meet.
fn any_spherical_wrist() -> impl Strategy<Value = Geometry> {
    let directions =
        (any_direction(), any_direction(), any::<bool>(), prop::array::uniform3(any_direction()));
    (directions, prop::array::uniform4(any_point()), any_pose()).prop_filter_map(
        "the arm lacks no freedom",
        |((first, second, opposed, [fourth, fifth, sixth]), [foot, shoulder, elbow, wrist], flange)| {
            let third = if opposed { -second } else { second };
            let slanted = |a: &UnitVector3<f64>, b: &UnitVector3<f64>| a.cross(b).norm() > 0.3;
            let across = |v: Vector3<f64>| v.cross(&second).norm() > 0.2;
            let sound = slanted(&first, &second) && slanted(&fourth, &fifth) && slanted(&fifth, &sixth);
            let sound = sound && across(elbow - shoulder) && across(wrist - elbow);
            let line = |point, direction| OriginAxis { point, direction };
            let lines = [
                line(foot, first),
                line(shoulder, second),
                line(elbow, third),
                line(wrist + fourth.into_inner() * 0.3, fourth),
                line(wrist - fifth.into_inner() * 0.2, fifth),
                line(wrist, sixth),
            ];
            sound.then_some(Geometry { lines, flange })
        },
    )
}

/// The smallest singular value of the Jacobian: how far the arm is from any singularity.
fn conditioning(arm: &Arm, axes: &AxisValues) -> f64 {
    let jacobian = arm.jacobian(axes, &Point3::origin());
    jacobian.singular_values().min()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

    #[test]
    fn every_solution_reaches_the_pose_and_the_generating_axes_are_among_them(
        geometry in any_geometry(), axes in any_axes(),
    ) {
        let arm = geometry.arm();
        prop_assert!(arm.geometry().is_ok(), "{:?}", arm.geometry());
        let pose = arm.base_from_flange(&axes);
        let found = arm.inverse(&pose, &AxisValues::zeros());
        for (i, solution) in found.all.iter().enumerate() {
            let off = poses_apart(&arm.base_from_flange(&solution.axes), &pose);
            prop_assert!(off < 1e-10, "{solution:?} is {off:e} off");
            prop_assert!(solution.axes.iter().all(|angle| *angle > -PI && *angle <= PI), "{solution:?}");
            let twin = found.all[..i].iter().any(|other| apart(&other.axes, &solution.axes) < 1e-6);
            prop_assert!(!twin, "{solution:?} is twice in {found:?}");
        }
        let near = found.all.iter().map(|solution| apart(&solution.axes, &axes)).fold(f64::INFINITY, f64::min);
        let tolerance = 1e-11 / conditioning(&arm, &axes).powi(2);
        prop_assert!(near < tolerance.max(1e-9), "{axes} is {near:e} from the nearest of {found:?}");
    }

    #[test]
    fn a_shortfall_is_no_more_than_the_way_to_a_place_that_is_reached(
        geometry in any_three_parallel(), axes in any_axes(), by in any_point(),
    ) {
        // Square wrists, which can turn every way wherever axis 1 is.
        let mut geometry = geometry;
        let n = geometry.lines[1].direction;
        let fifth = UnitVector3::new_normalize(n.cross(&geometry.lines[4].direction));
        geometry.lines[4].direction = fifth;
        geometry.lines[5].direction = n;
        geometry.lines[4].point = geometry.lines[5].point;
        let arm = geometry.arm();
        // Issue 3: where axis 6 is nearly parallel to axes 2 to 4, the nearest place can be passed over.
        if arm.singularity(&axes).wrist < 0.3 {
            return Ok(());
        }
        let mut pose = arm.base_from_flange(&axes);
        pose.translation.vector += by * 3.0;
        let found = arm.inverse(&pose, &axes);
        prop_assert_eq!(found.shortfall.is_some(), found.all.is_empty());
        if let Some(shortfall) = found.shortfall {
            prop_assert!(shortfall.distance > 0.0 && shortfall.distance < by.norm() * 3.0 + 1e-6, "{shortfall:?} {}", by.norm() * 3.0);
        }
    }

    /// With axis 6 parallel to axes 2 to 4 the arm can move while its flange rests.
    #[test]
    fn with_axis_6_parallel_to_three_others_it_keeps_its_value(
        geometry in any_three_parallel(), axes in any_axes(), square in any_direction(),
    ) {
        // Axes 5 and 6 square, so that axis 6 can become parallel: here at axis 5 = 0.
        let mut geometry = geometry;
        let n = geometry.lines[1].direction;
        let fifth = UnitVector3::try_new(n.cross(&square), 0.1);
        prop_assume!(fifth.is_some());
        geometry.lines[4].direction = fifth.unwrap_or(n);
        geometry.lines[5].direction = n;
        geometry.lines[4].point = geometry.lines[5].point;
        let arm = geometry.arm();
        let mut axes = axes;
        axes[4] = 0.0;
        let pose = arm.base_from_flange(&axes);
        prop_assume!(arm.singularity(&axes).shoulder > 1e-3);
        for kept in [axes[5], 0.3] {
            let found = arm.inverse(&pose, &AxisValues::new(0.0, 0.0, 0.0, 0.0, 0.0, kept)).all;
            let free: Vec<_> = found.iter().filter(|solution| solution.free_axis == Some(5)).collect();
            prop_assert!(!free.is_empty(), "{found:?}");
            for solution in &found {
                let off = poses_apart(&arm.base_from_flange(&solution.axes), &pose);
                prop_assert!(off < 1e-9, "{solution:?} is {off:e} off");
            }
            if kept == axes[5] {
                let near = found.iter().map(|solution| apart(&solution.axes, &axes));
                let near = near.fold(f64::INFINITY, f64::min);
                prop_assert!(near < 1e-6, "{axes} is {near:e} from the nearest of {found:?}");
            }
        }
    }

    #[test]
    fn the_jacobian_is_the_difference_of_neighbouring_poses(
        geometry in any_geometry(), axes in any_axes(), point in any_point(),
    ) {
        let arm = geometry.arm();
        let step = 1e-6;
        let jacobian = arm.jacobian(&axes, &point.into());
        for i in 0..6 {
            let at = |by: f64| {
                let mut moved = axes;
                moved[i] += by;
                arm.base_from_flange(&moved)
            };
            let (before, after) = (at(-step), at(step));
            let linear = (after * Point3::from(point) - before * Point3::from(point)) / (2.0 * step);
            let angular = (after.rotation * before.rotation.inverse()).scaled_axis() / (2.0 * step);
            let column = jacobian.column(i);
            // Rounding of 1e-16 over the step, and the step squared.
            prop_assert!((column.fixed_rows::<3>(0) - linear).amax() < 1e-8, "axis {}: {linear}", i + 1);
            prop_assert!((column.fixed_rows::<3>(3) - angular).amax() < 1e-8, "axis {}: {angular}", i + 1);
        }
    }

    #[test]
    fn a_mirrored_arm_has_the_mirrored_solutions(geometry in any_geometry(), axes in any_axes()) {
        // Reflected in the plane y = 0 the axes turn the other way, so every solution changes its sign.
        let flip = |v: Vector3<f64>| Vector3::new(v.x, -v.y, v.z);
        let flipped = |pose: &Pose| {
            let turn = pose.rotation.scaled_axis();
            Pose::new(flip(pose.translation.vector), Vector3::new(-turn.x, turn.y, -turn.z))
        };
        let mirror = Geometry {
            lines: geometry.lines.map(|line| OriginAxis {
                point: flip(line.point),
                direction: UnitVector3::new_normalize(flip(line.direction.into_inner())),
            }),
            flange: flipped(&geometry.flange),
        };
        let (arm, mirror) = (geometry.arm(), mirror.arm());
        prop_assume!(conditioning(&arm, &axes) > 1e-3);
        let pose = arm.base_from_flange(&axes);
        let found = arm.inverse(&pose, &axes).all;
        prop_assume!(found.iter().all(|solution| conditioning(&arm, &solution.axes) > 1e-3));
        let mirrored = mirror.inverse(&flipped(&pose), &-axes).all;
        prop_assert_eq!(found.len(), mirrored.len());
        for solution in found {
            let twin = mirrored.iter().any(|other| apart(&other.axes, &-solution.axes) < 1e-6);
            prop_assert!(twin, "{solution:?} has no mirror image in {mirrored:?}");
        }
    }

    #[test]
    fn moving_the_whole_arm_changes_no_solution(geometry in any_geometry(), axes in any_axes(), by in any_pose()) {
        let moved = Geometry {
            lines: geometry.lines.map(|line| OriginAxis {
                point: (by * Point3::from(line.point)).coords,
                direction: by.rotation * line.direction,
            }),
            flange: by * geometry.flange,
        };
        let (arm, moved) = (geometry.arm(), moved.arm());
        prop_assume!(conditioning(&arm, &axes) > 1e-3);
        let pose = arm.base_from_flange(&axes);
        let found = arm.inverse(&pose, &axes).all;
        prop_assume!(found.iter().all(|solution| conditioning(&arm, &solution.axes) > 1e-3));
        let again = moved.inverse(&(by * pose), &axes).all;
        prop_assert_eq!(found.len(), again.len());
        for (one, other) in found.iter().zip(&again) {
            let known = again.iter().any(|again| apart(&again.axes, &one.axes) < 1e-6);
            prop_assert!(known, "{one:?} is not in {again:?}, {other:?}");
        }
    }

    #[test]
    fn the_configuration_tells_all_solutions_of_a_pose_apart(geometry in any_geometry(), axes in any_axes()) {
        let arm = geometry.arm();
        let found = arm.inverse(&arm.base_from_flange(&axes), &axes).all;
        prop_assume!(found.iter().all(|solution| conditioning(&arm, &solution.axes) > 1e-3));
        for (i, solution) in found.iter().enumerate() {
            let words = arm.configuration(&solution.axes);
            let same = found[..i].iter().find(|other| arm.configuration(&other.axes) == words);
            prop_assert!(same.is_none(), "{words:?} is {solution:?} and {same:?}");
        }
    }

    #[test]
    fn turns_in_range_are_all_of_them_and_nothing_else(
        axes in prop::array::uniform6(-20.0..20.0_f64), ends in prop::array::uniform6((-15.0..15.0_f64, 0.0..20.0_f64)),
    ) {
        let geometry = origin_axes(&[OriginAxis { point: Vector3::zeros(), direction: Vector3::z_axis() }; 6], &Pose::identity());
        let ranges = ends.map(|(min, width)| Range { min, max: min + width });
        let arm = arm("any", &geometry, ranges);
        let axes = AxisValues::from(axes);
        let turns: Vec<AxisValues> = arm.turns_in_range(&axes).collect();
        let expected: usize = (0..6)
            .map(|i| (-12..=12).filter(|turn| ranges[i].excess(axes[i] + TAU * f64::from(*turn)) == 0.0).count())
            .product();
        prop_assert_eq!(turns.len(), expected);
        for pair in turns.windows(2) {
            prop_assert!(pair[0].as_slice() < pair[1].as_slice(), "{} {}", pair[0], pair[1]);
        }
        for turn in turns {
            prop_assert!(arm.range_excess(&turn).is_none() && apart(&turn, &axes) < 1e-12);
        }
        let near = arm.nearest_turn(&axes, &AxisValues::zeros());
        prop_assert!(near.amax() <= PI + 1e-12 && apart(&near, &axes) < 1e-12);
    }

    #[test]
    fn no_pose_gives_a_number_that_is_none(
        geometry in any_geometry(), numbers in prop::array::uniform7(any::<f64>()), near in prop::array::uniform6(any::<f64>()),
    ) {
        let [x, y, z, w, i, j, k] = numbers;
        let rotation = nalgebra::UnitQuaternion::new_unchecked(nalgebra::Quaternion::new(w, i, j, k));
        let pose = Pose::from_parts(Vector3::new(x, y, z).into(), rotation);
        let found = geometry.arm().inverse(&pose, &AxisValues::from(near));
        for solution in found.all {
            prop_assert!(solution.axes.iter().all(|angle| angle.is_finite()), "{solution:?}");
        }
        prop_assert!(found.shortfall.is_none_or(|shortfall| !shortfall.distance.is_nan()), "{:?}", found.shortfall);
    }
}

/// The least distance of the wrist centre from `wanted` that turning axes 1 to 3 can give: a grid, then ever smaller
/// steps from its best places.
fn nearest_wrist_centre(arm: &Arm, wrist_in_flange: &Point3<f64>, wanted: &Point3<f64>) -> f64 {
    const STEPS: usize = 12;
    let off = |[a, b, c]: [f64; 3]| {
        let axes = AxisValues::new(a, b, c, 0.0, 0.0, 0.0);
        (arm.base_from_flange(&axes) * wrist_in_flange - wanted).norm()
    };
    let turn = |i: usize| i as f64 * TAU / STEPS as f64;
    let grid = (0..STEPS.pow(3)).map(|i| [turn(i % STEPS), turn(i / STEPS % STEPS), turn(i / STEPS / STEPS)]);
    let mut grid: Vec<(f64, [f64; 3])> = grid.map(|axes| (off(axes), axes)).collect();
    grid.sort_by(|a, b| a.0.total_cmp(&b.0));
    let descend = |(mut least, mut axes): (f64, [f64; 3])| {
        let mut step = TAU / STEPS as f64 / 2.0;
        while step > 1e-6 {
            let tries = (0..27).map(|i| {
                std::array::from_fn(|k| axes[k] + step * ([i % 3, i / 3 % 3, i / 9][k] as f64 - 1.0))
            });
            let best =
                tries.map(|axes| (off(axes), axes)).fold((least, axes), |a, b| if b.0 < a.0 { b } else { a });
            if best.0 < least {
                (least, axes) = best;
            } else {
                step /= 2.0;
            }
        }
        least
    };
    grid.into_iter().take(12).map(descend).fold(f64::INFINITY, f64::min)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

    #[test]
    fn a_shortfall_is_the_distance_to_the_nearest_wrist_centre(
        geometry in any_spherical_wrist(), at in prop::array::uniform3(-3.0..3.0_f64),
    ) {
        let arm = geometry.arm();
        let pose = Pose::from_parts(Vector3::from(at).into(), geometry.flange.rotation);
        let Some(shortfall) = arm.inverse(&pose, &AxisValues::zeros()).shortfall else { return Ok(()) };
        let wrist_in_flange = geometry.flange.inverse() * Point3::from(geometry.lines[5].point);
        let nearest = nearest_wrist_centre(&arm, &wrist_in_flange, &(pose * wrist_in_flange));
        prop_assert!((shortfall.distance - nearest).abs() < 1e-5, "{shortfall:?}, but {nearest} can be had");
    }
}
