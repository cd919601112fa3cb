use std::path::Path;

use nalgebra::{Point3, Translation3, UnitQuaternion, Vector3};
use seamwright_kinematics::{AxisValues, Drive, Pose};

use super::*;
use crate::cell::frames::FrameId;
use crate::cell::read::read_cell;
use crate::cell::{Cell, Form, Offset, Piece, Presence, Role, SeamPath, Shape, Solid, StationId};
use crate::plan::clearance::Scene;
use crate::plan::{TorchAngles, station_from_tool};
use crate::schedule::Stance;
use crate::units::{deg, mm};

fn bracket() -> Cell {
    read_cell(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml")).unwrap()
}

fn at(cell: &Cell, degrees: [f64; 6]) -> Stance {
    Stance { axes: AxisValues::from(degrees.map(deg)), external: cell.frames.rest() }
}

#[test]
fn a_straight_move_is_exact_and_as_fast_as_asked() {
    let cell = bracket();
    let jogger = Jogger::new(&cell, StationId(0));
    let start = at(&cell, [10.0, -30.0, 40.0, 5.0, 60.0, -20.0]);
    let jogged = jogger.step(&start, Jog::Along(JogFrame::World, Vector3::x()), 0.1, 0.5);
    assert_eq!((jogged.stopped, jogged.slowed), (None, None));
    let (before, after) = (jogger.world_from_tool(&start), jogger.world_from_tool(&jogged.stance));
    let way = after.translation.vector - before.translation.vector;
    // 0.1 m/s for 0.5 s, by definition of speed.
    assert!((way - Vector3::x() * 0.05).norm() < 1e-9, "{way}");
    assert!(after.rotation.angle_to(&before.rotation) < 1e-9);
}

#[test]
fn turning_about_the_wire_end_leaves_it_where_it_is() {
    let cell = bracket();
    let jogger = Jogger::new(&cell, StationId(0));
    let start = at(&cell, [10.0, -30.0, 40.0, 5.0, 60.0, -20.0]);
    let jogged = jogger.step(&start, Jog::About(JogFrame::Tool, Vector3::y()), 0.25, 0.5);
    let (before, after) = (jogger.world_from_tool(&start), jogger.world_from_tool(&jogged.stance));
    assert!((after.translation.vector - before.translation.vector).norm() < 1e-9);
    assert!(after.rotation.angle_to(&before.rotation) > deg(3.0));
}

#[test]
fn a_wrong_tool_centre_makes_the_wire_end_wander_along_a_chord() {
    let cell = bracket();
    let mut jogger = Jogger::new(&cell, StationId(0));
    let error = Vector3::new(0.02, 0.0, 0.015);
    jogger.flange_from_tool.translation.vector += jogger.flange_from_tool.rotation * error;
    let mut now = at(&cell, [0.0, -40.0, 40.0, 0.0, 60.0, 0.0]);
    let before = jogger.world_from_tool(&now);
    for _ in 0..40 {
        now = jogger.step(&now, Jog::About(JogFrame::Tool, Vector3::y()), 0.25, 0.05).stance;
    }
    let after = jogger.world_from_tool(&now);
    let turned = after.rotation.angle_to(&before.rotation);
    let wandered = (after.translation.vector - before.translation.vector).norm();
    // A point at the distance r from the axis of a turn by φ moves along the chord 2 r sin(φ/2). The whole error stands square to
    // the tool's y, about which it turns.
    let chord = 2.0 * error.norm() * (turned / 2.0).sin();
    assert!(turned > deg(20.0));
    assert!((wandered - chord).abs() < 1e-7, "{wandered} {chord}");
}

#[test]
fn nothing_goes_faster_than_manual_control_allows() {
    let cell = bracket();
    let mut jogger = Jogger::new(&cell, StationId(0));
    jogger.around = Around::Nothing;
    for start in [[0.0, -40.0, 40.0, 0.0, 60.0, 0.0], [40.0, 60.0, -10.0, 30.0, -50.0, 90.0]] {
        let start = at(&cell, start);
        for axis in 0..6 {
            for speed in [0.05, 0.25, 3.0] {
                let jogged = jogger.step(&start, Jog::Axis(axis, 1.0), speed, 0.02);
                let way = jogger.world_from_tool(&jogged.stance).translation.vector
                    - jogger.world_from_tool(&start).translation.vector;
                let fastest = f64::min(speed, MANUAL_SPEED) * 0.02;
                assert!(way.norm() <= fastest * (1.0 + 1e-6), "axis {axis} at {speed}: {}", way.norm());
                assert!((jogged.stance.axes - start.axes).amax() <= MANUAL_TURN * 0.02 + 1e-12);
            }
        }
    }
}

#[test]
fn an_axis_stops_at_the_end_of_its_range_and_says_which_and_comes_back() {
    let cell = bracket();
    let jogger = Jogger::new(&cell, StationId(0));
    // The arm file gives axis 5 a range to 128 degrees.
    let start = at(&cell, [0.0, -40.0, 40.0, 0.0, 127.0, 0.0]);
    let jogged = jogger.step(&start, Jog::Axis(4, 1.0), 0.25, 3.0);
    assert_eq!(jogged.stopped, Some(Stop::Limit(Drive::Axis(4), deg(128.0))));
    let left = deg(128.0) - jogged.stance.axes[4];
    assert!((0.0..1e-4).contains(&left), "{left}");
    let back = jogger.step(&jogged.stance, Jog::Axis(4, -1.0), 0.25, 0.1);
    assert_eq!(back.stopped, None);
    assert!(back.stance.axes[4] < jogged.stance.axes[4] - deg(0.5));
}

#[test]
fn the_hose_stops_the_wrist_before_its_own_range_does() {
    let cell = bracket();
    let jogger = Jogger::new(&cell, StationId(0));
    // Torch file: axis 6 turns 220 degrees at most for the hose; arm file: 360.
    let start = at(&cell, [0.0, -40.0, 40.0, 0.0, 60.0, 219.0]);
    let jogged = jogger.step(&start, Jog::Axis(5, 1.0), 0.25, 1.0);
    assert_eq!(jogged.stopped, Some(Stop::Hose("hose limit on axis 6", deg(220.0))));
}

#[test]
fn a_contact_stops_the_arm_before_it_and_names_both_bodies() {
    let cell = bracket();
    let jogger = Jogger::new(&cell, StationId(0));
    let start = at(&cell, [0.0, -25.0, 45.0, 0.0, 55.0, 0.0]);
    let jogged = jogger.step(&start, Jog::Along(JogFrame::World, -Vector3::z()), 0.25, 4.0);
    let Some(Stop::Contact(_, other)) = &jogged.stopped else { panic!("{:?}", jogged.stopped) };
    // The distance to what stands below is measured apart from the jog, by the scene that the planner uses.
    let scene = Scene::new(&cell, StationId(0), &jogged.stance.external);
    let distance = scene.distance(&cell.arm.arm.forward(&jogged.stance.axes), None, 0.05);
    assert!(distance > 0.0 && distance < 1e-5, "{distance} m to {other}");
    let up = jogger.step(&jogged.stance, Jog::Along(JogFrame::World, Vector3::z()), 0.25, 0.2);
    assert_eq!(up.stopped, None);
}

/// A box of the surroundings, from corner to corner in the world (m).
fn block(name: &str, low: Point3<f64>, high: Point3<f64>) -> Shape {
    let middle = nalgebra::center(&low, &high);
    Shape {
        name: name.to_owned(),
        role: Role::Surroundings,
        presence: Presence::Always,
        station: None,
        frame: FrameId::WORLD,
        frame_from_shape: Pose::from_parts(middle.coords.into(), UnitQuaternion::identity()),
        solid: Solid::Box { half: (high - low) / 2.0 },
    }
}

#[test]
fn out_of_two_contacts_any_way_is_free_that_deepens_neither_even_where_the_other_is_then_the_deepest() {
    let mut cell = bracket();
    let start = at(&cell, [0.0, -40.0, 40.0, 0.0, 60.0, 0.0]);
    let tip = {
        let jogger = Jogger::new(&cell, StationId(0));
        Point3::from(jogger.world_from_tool(&start).translation.vector)
    };
    let from_tip = |x: f64, y: f64, z: f64| tip + Vector3::new(x, y, z).map(mm);
    // The wire's end is 5 mm inside the wall, out of which it comes along -x, and 4 mm inside the slab below, out of which it comes up.
    cell.shapes = vec![
        block("wall", from_tip(-5.0, -50.0, 2.0), from_tip(60.0, 50.0, 8.0)),
        block("slab", from_tip(-60.0, -50.0, -40.0), from_tip(60.0, 50.0, 4.0)),
    ];
    cell.seams.clear();
    let jogger = Jogger::new(&cell, StationId(0));
    let go = |from: &Stance, way: Vector3<f64>| {
        let jogged = jogger.step(from, Jog::Along(JogFrame::World, way), 0.01, 1.0);
        let moved = jogger.world_from_tool(&jogged.stance).translation.vector
            - jogger.world_from_tool(from).translation.vector;
        (jogged, moved)
    };
    let touches = |jogged: &Jogged, what: &str| matches!(&jogged.stopped, Some(Stop::Contact(_, other)) if other == what);
    let (out, moved) = go(&start, -Vector3::x());
    assert_eq!(out.stopped, None);
    assert!((moved + Vector3::x() * 0.01).norm() < 1e-9, "{moved}");
    // Deeper it goes into neither: not into the slab from there, nor into the wall from the start, and not back into the wall.
    for (from, way, what) in [
        (&out.stance, -Vector3::z(), "slab"),
        (&start, Vector3::x(), "wall"),
        (&out.stance, Vector3::x(), "wall"),
    ] {
        let (jogged, moved) = go(from, way);
        assert!(touches(&jogged, what), "{what}: {:?}", jogged.stopped);
        assert!(moved.norm() < 0.006, "{what}: {moved}");
    }
    let (up, _) = go(&out.stance, Vector3::z());
    assert_eq!(up.stopped, None);
}

#[test]
fn near_a_straight_wrist_the_tool_slows_and_stops_but_a_single_axis_goes_through() {
    let cell = bracket();
    let mut jogger = Jogger::new(&cell, StationId(0));
    jogger.around = Around::Nothing;
    let mut now = at(&cell, [0.0, -20.0, 20.0, 0.0, 3.0, 0.0]);
    let mut slowed = false;
    let mut stopped = None;
    for _ in 0..400 {
        let jogged = jogger.step(&now, Jog::About(JogFrame::Base, Vector3::z()), 0.25, 0.02);
        slowed |= jogged.slowed.is_some();
        // Exactness is not given up near the singularity: no axis is ever over its speed.
        for (axis, limit) in cell.arm.arm.axes().iter().map(|axis| axis.max_speed).enumerate() {
            assert!((jogged.stance.axes[axis] - now.axes[axis]).abs() <= limit * 0.02 * 1.2);
        }
        now = jogged.stance;
        if jogged.stopped.is_some() {
            stopped = jogged.stopped;
            break;
        }
    }
    assert!(slowed, "{stopped:?} at {now:?}");
    let through = jogger.step(&at(&cell, [0.0, -20.0, 20.0, 0.0, 3.0, 0.0]), Jog::Axis(4, -1.0), 0.25, 0.5);
    assert_eq!((through.stopped, through.slowed), (None, None));
    assert!(through.stance.axes[4] < 0.0);
}

#[test]
fn at_a_straight_wrist_a_turn_across_both_axes_is_refused_by_name() {
    let cell = bracket();
    let mut jogger = Jogger::new(&cell, StationId(0));
    jogger.around = Around::Nothing;
    // Axes 4 and 6 in one line: no rates of the axes turn the tool about the line square to axes 4 and 5.
    let straight = at(&cell, [0.0, -20.0, 20.0, 0.0, 0.0, 0.0]);
    let jogged = jogger.step(&straight, Jog::About(JogFrame::Base, Vector3::z()), 0.25, 0.1);
    assert!(matches!(jogged.stopped, Some(Stop::Singular(3 | 5))), "{:?}", jogged.stopped);
    assert_eq!(jogged.stance, straight);
}

#[test]
fn an_external_axis_is_jogged_and_stops_at_its_end() {
    let cell = bracket();
    let mut jogger = Jogger::new(&cell, StationId(0));
    jogger.around = Around::Nothing;
    let start = at(&cell, [0.0, -40.0, 40.0, 0.0, 60.0, 0.0]);
    // The cell file lets the table turn back to -10 degrees.
    let jogged = jogger.step(&start, Jog::External(0, -1.0), 0.25, 2.0);
    assert_eq!(jogged.stopped, Some(Stop::ExternalLimit(0, deg(-10.0))));
    assert!((jogged.stance.external[0] - deg(-10.0)).abs() < 1e-4);
}

#[test]
fn other_ways_hold_the_same_pose_inside_every_range() {
    let cell = bracket();
    let axes = at(&cell, [10.0, 0.0, 40.0, 20.0, 60.0, 0.0]).axes;
    let ways = other_ways(&cell, &axes);
    assert!(!ways.is_empty());
    let pose = cell.arm.arm.base_from_flange(&axes);
    for way in &ways {
        let there = cell.arm.arm.base_from_flange(way);
        assert!((there.translation.vector - pose.translation.vector).norm() < 1e-8);
        assert!(there.rotation.angle_to(&pose.rotation) < 1e-8);
        assert_eq!(cell.arm.arm.range_excess(way), None);
        assert!(cell.torch.dress.values(way).all(|(_, range, value)| range.excess(value) <= 0.0));
        assert!((way - axes).amax() > 1e-4);
    }
}

#[test]
fn a_tool_centre_is_found_from_touches_of_one_point() {
    let tool = Point3::new(0.1, -0.02, 0.36);
    let touched = Point3::new(0.7, 0.1, 0.5);
    let turns = [[0.1, 0.2, 0.3], [1.0, -0.4, 0.2], [-0.5, 0.9, 1.1], [0.3, 0.3, -1.4]];
    let poses: Vec<Pose> = turns
        .iter()
        .map(|turn| {
            let rotation = UnitQuaternion::from_scaled_axis(Vector3::from(*turn));
            Pose::from_parts(Translation3::from(touched - rotation * tool), rotation)
        })
        .collect();
    let found = tool_centre(&poses).unwrap();
    assert!((found.in_flange - tool).norm() < 1e-12 && (found.touched_in_base - touched).norm() < 1e-12);
    assert!(found.largest_miss < 1e-12);
    // Turned about one axis only, every place along that axis fits.
    let one_axis: Vec<Pose> = (0..4)
        .map(|i| {
            let rotation = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), 0.4 * f64::from(i));
            Pose::from_parts(Translation3::from(touched - rotation * tool), rotation)
        })
        .collect();
    assert_eq!(tool_centre(&one_axis), Err(TooFewPoses));
    assert_eq!(tool_centre(&poses[..2]), Err(TooFewPoses));
}

#[test]
fn a_torch_placed_at_given_angles_is_measured_at_them() {
    let cell = bracket();
    for seam in [0, 4] {
        let path = cell.seams[seam].path.as_ref().unwrap();
        for (share, angles) in [
            (0.5, TorchAngles { work: deg(45.0), travel: deg(8.0), turn: 0.7, ctwd: mm(15.0) }),
            (0.2, TorchAngles { work: deg(38.0), travel: deg(-5.0), turn: -2.0, ctwd: mm(15.0) }),
        ] {
            let s = path.length() * share;
            let on = station_from_tool(&path.at(s), &angles);
            // The torch drawn back along the wire by 3 mm: CTWD grows by as much, angles stay.
            let back = on * Pose::translation(0.0, 0.0, mm(-3.0));
            let found = against_joint(path, &back, mm(15.0));
            assert!((found.s - s).abs() < 1e-6, "{} {s}", found.s);
            assert!(found.beside < 1e-6);
            assert!((found.angles.ctwd - mm(18.0)).abs() < 1e-6);
            // Off a long straight seam the nearest root point is square to it: by the part of 3 mm that is square to travel.
            assert!((found.distance - mm(3.0) * angles.travel.cos()).abs() < 1e-6);
            assert!((found.angles.work - angles.work).abs() < 1e-6);
            assert!((found.angles.travel - angles.travel).abs() < 1e-6);
        }
    }
}

#[test]
fn chords_of_an_arc_miss_it_by_the_sagitta() {
    let (radius, sweep) = (0.1, deg(60.0));
    let piece = Piece {
        start: Point3::new(radius, 0.0, 0.0),
        form: Form::Arc { centre: Point3::origin(), axis: Vector3::z_axis(), sweep },
        n1: Vector3::z_axis(),
        b: Vector3::x_axis(),
        lean: 0.0,
    };
    let path = SeamPath { pieces: vec![piece], corner_zone: 0.0, offset: Offset::default(), reach: [0.0; 2] };
    let point = |share: f64| path.at(path.length() * share).point;
    // Sagitta r (1 − cos(φ/2)) of a chord over φ.
    let sagitta = |parts: f64| radius * (1.0 - (sweep / parts / 2.0).cos());
    let two = off_seam(&path, &[point(0.0), point(1.0)]).unwrap();
    assert!((two - sagitta(1.0)).abs() < 1e-5, "{two}");
    let three = off_seam(&path, &[point(0.0), point(0.5), point(1.0)]).unwrap();
    assert!((three - sagitta(2.0)).abs() < 1e-5, "{three}");
    assert_eq!(off_seam(&path, &[point(0.0)]), None);
}
