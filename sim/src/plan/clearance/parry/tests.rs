//! Distances against an independent collision library: convex search compared with `coal` 3.0.3, worst 7e-11 m.

mod brute_force;
mod overlaps;

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use super::*;
use crate::units;

/// Metres and degrees.
enum Other {
    Box { at: [f64; 3], size: [f64; 3], zyx: [f64; 3] },
    Capsule { from: [f64; 3], to: [f64; 3], radius: f64 },
}

fn capsule(from: [f64; 3], to: [f64; 3], radius: f64) -> (Form, Pose) {
    let (from, to) = (Point3::from(from), Point3::from(to));
    let direction = Unit::new_normalize(to - from);
    let rotation = UnitQuaternion::rotation_between_axis(&Vector3::z_axis(), &direction).unwrap();
    let solid = Solid::Capsule { radius, half_length: (to - from).norm() / 2.0 };
    (Form::new(&solid), Pose::from_parts(nalgebra::center(&from, &to).coords.into(), rotation))
}

#[test]
fn distances_are_those_of_an_independent_library() {
    type Row = (&'static str, [f64; 3], [f64; 3], f64, Other, f64);
    let rows: Vec<Row> = vec![
        (
            "cap_box_side",
            [0.0, 0.0, 0.5],
            [0.0, 0.0, 1.0],
            0.05,
            Other::Box { at: [0.4, 0.0, 0.7], size: [0.2, 0.2, 0.2], zyx: [0.0, 0.0, 0.0] },
            0.25,
        ),
        (
            "cap_box_edge",
            [0.0, 0.0, 0.0],
            [0.3, 0.3, 0.4],
            0.04,
            Other::Box { at: [0.8, 0.2, 0.2], size: [0.4, 0.3, 0.2], zyx: [30.0, 0.0, 0.0] },
            0.239846667176,
        ),
        (
            "cap_box_tilted",
            [-0.2, 0.1, 0.9],
            [0.5, 0.0, 0.6],
            0.06,
            Other::Box { at: [0.3, 0.5, 0.3], size: [0.5, 0.2, 0.4], zyx: [-10.0, 35.0, 20.0] },
            0.297309888822,
        ),
        (
            "torch_over_plate",
            [0.9, 0.0, 0.525],
            [0.75, 0.0, 0.8],
            0.02,
            Other::Box { at: [0.9, 0.0, 0.485], size: [1.0, 1.0, 0.01], zyx: [0.0, 0.0, 0.0] },
            0.015,
        ),
        (
            "nozzle_clamp",
            [0.6, 0.1, 0.42],
            [0.55, 0.1, 0.7],
            0.011,
            Other::Box { at: [0.66, 0.1, 0.47], size: [0.04, 0.06, 0.1], zyx: [45.0, 0.0, 0.0] },
            0.0146390193432,
        ),
        (
            "touching_zero_gap",
            [0.0, 0.0, 0.0],
            [0.0, 0.0, 1.0],
            0.1,
            Other::Box { at: [0.3, 0.0, 0.5], size: [0.4, 0.4, 0.4], zyx: [0.0, 0.0, 0.0] },
            0.0,
        ),
        (
            "far",
            [0.0, 0.0, 0.0],
            [0.0, 0.0, 0.5],
            0.05,
            Other::Box { at: [3.0, 4.0, 0.25], size: [1.0, 1.0, 1.0], zyx: [0.0, 0.0, 0.0] },
            4.25116263352,
        ),
        (
            "parallel",
            [0.0, 0.0, 0.0],
            [0.0, 0.0, 1.0],
            0.05,
            Other::Capsule { from: [0.3, 0.0, 0.0], to: [0.3, 0.0, 1.0], radius: 0.05 },
            0.2,
        ),
        (
            "crossing_lines",
            [-0.5, 0.0, 0.0],
            [0.5, 0.0, 0.0],
            0.03,
            Other::Capsule { from: [0.0, -0.5, 0.2], to: [0.0, 0.5, 0.2], radius: 0.04 },
            0.13,
        ),
        (
            "skew",
            [0.0, 0.0, 0.0],
            [0.4, 0.3, 0.5],
            0.05,
            Other::Capsule { from: [0.6, -0.1, 0.1], to: [0.5, 0.5, 0.9], radius: 0.07 },
            0.0441057374661,
        ),
        (
            "end_to_end",
            [0.0, 0.0, 0.0],
            [0.0, 0.0, 0.4],
            0.05,
            Other::Capsule { from: [0.0, 0.1, 0.7], to: [0.0, 0.1, 1.2], radius: 0.06 },
            0.206227766017,
        ),
    ];
    for (case, from, to, radius, other, expected) in rows {
        let (first, first_at) = capsule(from, to, radius);
        let (second, second_at) = match other {
            Other::Capsule { from, to, radius } => capsule(from, to, radius),
            Other::Box { at, size, zyx } => {
                let [z, y, x] = zyx.map(units::deg);
                let solid = Solid::Box { half: Vector3::from(size) / 2.0 };
                let rotation = UnitQuaternion::from_euler_angles(x, y, z);
                (Form::new(&solid), Pose::from_parts(Vector3::from(at).into(), rotation))
            }
        };
        let first = Located { form: &first, placed: &first.place(&first_at) };
        let second = Located { form: &second, placed: &second.place(&second_at) };
        let distance = first.distance(&second, 10.0).unwrap();
        assert!((distance - expected).abs() < 1e-9, "{case}: {distance} is not {expected}");
    }
}
