//! A cell and its mirror image hold alike and take the same time.
//!
//! Every frame is reflected in the plane y = 0 of its parent and of its own, so that poses stay proper and the tool's +X still points
//! toward the flange: P becomes M·P·M. An axis keeps its values when its direction d, right-handed, becomes −M·d.

use std::sync::Arc;

use nalgebra::{Matrix3, Point3, Rotation3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::{Arm, Axis, Pose};
use seamwright_sim::cell::frames::AxisKind;
use seamwright_sim::cell::{Band, Cell, Form, Mesh, Piece, Solid};
use serde_json::Value;

use crate::{assert_near, checked, scene, scene_with_seams};

fn vector(v: &Vector3<f64>) -> Vector3<f64> {
    Vector3::new(v.x, -v.y, v.z)
}

fn unit(v: &Unit<Vector3<f64>>) -> Unit<Vector3<f64>> {
    Unit::new_unchecked(vector(v))
}

fn point(p: &Point3<f64>) -> Point3<f64> {
    Point3::from(vector(&p.coords))
}

fn pose(p: &Pose) -> Pose {
    let mirror = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, 1.0));
    let rotation = mirror * p.rotation.to_rotation_matrix().matrix() * mirror;
    let rotation = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(rotation));
    Pose::from_parts(vector(&p.translation.vector).into(), rotation)
}

/// Every solid but a mesh is its own image.
fn solid(solid: &Solid) -> Solid {
    match solid {
        Solid::Mesh(mesh) => Solid::Mesh(Arc::new(Mesh {
            vertices: mesh.vertices.iter().map(point).collect(),
            triangles: mesh.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect(),
            closed: mesh.closed,
        })),
        other => other.clone(),
    }
}

fn arm(arm: &Arm) -> Arm {
    let axes = std::array::from_fn(|i| {
        let axis = arm.axes()[i].clone();
        Axis { origin: pose(&axis.origin), direction: -unit(&axis.direction), ..axis }
    });
    Arm::new(arm.name().to_owned(), axes, pose(arm.link6_from_flange()))
}

fn piece(piece: &Piece) -> Piece {
    let form = match &piece.form {
        Form::Line { end } => Form::Line { end: point(end) },
        Form::Arc { centre, axis, sweep } => {
            Form::Arc { centre: point(centre), axis: -unit(axis), sweep: *sweep }
        }
    };
    Piece { start: point(&piece.start), form, n1: unit(&piece.n1), b: unit(&piece.b), lean: piece.lean }
}

fn mirrored(cell: &Cell) -> Cell {
    let mut cell = cell.clone();
    for frame in &mut cell.frames.frames {
        frame.parent_from_frame = pose(&frame.parent_from_frame);
    }
    for axis in &mut cell.frames.axes {
        let direction = unit(&axis.direction);
        axis.direction = if axis.kind == AxisKind::Turn { -direction } else { direction };
    }
    cell.arm.arm = arm(&cell.arm.arm);
    cell.arm.frame_from_base = pose(&cell.arm.frame_from_base);
    for shape in &mut cell.arm.shapes {
        shape.link_from_shape = pose(&shape.link_from_shape);
        shape.solid = solid(&shape.solid);
    }
    cell.torch.flange_from_tool = pose(&cell.torch.flange_from_tool);
    for shape in &mut cell.torch.shapes {
        shape.flange_from_shape = pose(&shape.flange_from_shape);
        shape.solid = solid(&shape.solid);
    }
    for shape in &mut cell.shapes {
        shape.frame_from_shape = pose(&shape.frame_from_shape);
        shape.solid = solid(&shape.solid);
    }
    for seam in &mut cell.seams {
        if let Some(path) = &mut seam.path {
            path.pieces = path.pieces.iter().map(piece).collect();
        }
        seam.approach = seam.approach.as_ref().map(unit);
        seam.procedure.turn =
            seam.procedure.turn.map(|turn| Band { aim: -turn.aim, below: turn.above, above: turn.below });
    }
    cell
}

/// Keys of the findings that tell a place, a hand or a count of work done: a mirror changes them. What stops a seam is compared apart:
/// of several least bad ways rounding takes one, so that only its worst place is the same in both.
const CHANGED: [&str; 7] =
    ["xyz_mm", "quaternion_wxyz", "turn_deg", "configuration", "effort", "stops", "reason"];

/// Every number, word and answer of the findings that a mirror leaves alone is the same in both.
fn assert_same(at: &str, a: &Value, b: &Value) {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => assert_near(at, a.as_f64().unwrap(), b.as_f64().unwrap()),
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{at}");
            for (i, (a, b)) in a.iter().zip(b).enumerate() {
                assert_same(&format!("{at}[{i}]"), a, b);
            }
        }
        (Value::Object(a), Value::Object(b)) => {
            assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>(), "{at}");
            for (key, a) in a.iter().filter(|(key, _)| !CHANGED.contains(&key.as_str())) {
                assert_same(&format!("{at}.{key}"), a, &b[key]);
            }
        }
        _ => assert_eq!(a, b, "{at}"),
    }
}

fn assert_mirror_changes_nothing(cell: &Cell) {
    let (plain, image) = (checked(cell), checked(&mirrored(cell)));
    let findings =
        |checked: &seamwright_sim::check::Checked| serde_json::to_value(&checked.findings).unwrap();
    assert_same(&cell.name, &findings(&plain), &findings(&image));
    for (a, b) in plain.plan.seams.iter().zip(&image.plan.seams) {
        let (Some(a), Some(b)) = (&a.binding, &b.binding) else { continue };
        assert_eq!(a.constraint, b.constraint);
        assert_near("amount", a.amount, b.amount);
        assert_near("place", a.at, b.at);
    }
    for (a, b) in plain.schedule.visits.iter().zip(&image.schedule.visits) {
        assert_near("visit", a.duration(), b.duration());
    }
    assert_eq!(plain.path.len(), image.path.len());
}

#[test]
fn a_mirror_image_of_the_starter_holds_alike_and_takes_the_same_time() {
    assert_mirror_changes_nothing(&scene("gate-bracket/cell.toml"));
}

#[test]
fn a_mirror_image_of_the_positioner_and_its_circle_holds_alike_and_takes_the_same_time() {
    assert_mirror_changes_nothing(&scene("round-flange/cell.toml"));
}

#[test]
fn a_mirror_image_of_what_is_blocked_is_blocked_by_the_same_things_as_much() {
    let names = [
        "near pedestal, near side",
        "near motor bar, far side",
        "suction pipe",
        "far lug, motor end, far side",
        "pump plate lap, near half",
        "drain boss",
        "plate butt",
    ];
    let cell = scene_with_seams("pump-skid/first-draft.toml", &names);
    assert!(cell.seams.iter().any(|seam| seam.procedure.turn.is_some()));
    assert_mirror_changes_nothing(&cell);
}
