//! Cylinders, cut cones and tapered nozzles against boxes and meshes, held against the least distance among many points of their
//! surface, the best of them then shifted along it in ever smaller steps.
//!
//! No point of the one solid is nearer to the other than the distance between them, so the measured distance must never be more than
//! that of any point. How little less it must be is what the shifting leaves. Formulas: distance of a point to a box by clamping, to
//! a triangle by its three edges and its plane.

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

use super::*;
use crate::cell::Mesh;

/// What the shifting of the best point may leave, m.
const LEFT: f64 = 1e-7;

/// A cylinder or cut cone about z.
#[derive(Clone, Copy, Debug)]
struct Turned {
    low: f64,
    high: f64,
    half: f64,
}

impl Turned {
    fn solid(&self) -> Solid {
        if self.low == self.high {
            return Solid::Cylinder { radius: self.low, half_height: self.half };
        }
        Solid::Frustum { radius_low: self.low, radius_high: self.high, half_height: self.half }
    }

    /// A point of its surface: `along` runs from the middle of the low end (0) over its rim (1) and the high one's (2) to that
    /// one's middle (3), `round` is an angle.
    fn point(&self, along: f64, round: f64) -> Point3<f64> {
        let along = along.clamp(0.0, 3.0);
        let (radius, z) = if along < 1.0 {
            (self.low * along, -self.half)
        } else if along < 2.0 {
            (self.low + (self.high - self.low) * (along - 1.0), self.half * (2.0 * along - 3.0))
        } else {
            (self.high * (3.0 - along), self.half)
        };
        Point3::new(radius * round.cos(), radius * round.sin(), z)
    }

    fn holds(&self, point: &Point3<f64>) -> bool {
        let share = (point.z / self.half + 1.0) / 2.0;
        (0.0..=1.0).contains(&share) && point.coords.xy().norm() <= self.low + (self.high - self.low) * share
    }

    /// The least of `distance` over its surface, as near as it is found.
    fn least(&self, distance: impl Fn(&Point3<f64>) -> f64) -> f64 {
        let at = |place: [f64; 2]| distance(&self.point(place[0], place[1]));
        let grid =
            (0..=60).flat_map(|a| (0..90).map(move |r| [f64::from(a) / 20.0, f64::from(r) * TAU / 90.0]));
        let measured = grid.map(|place| (at(place), place));
        let mut best = measured.reduce(|best, next| if next.0 < best.0 { next } else { best }).unwrap();
        let mut step = 0.1;
        while step > 1e-9 {
            let directions = (0..16).map(|i| f64::from(i) * PI / 8.0);
            let tried = directions.map(|d| [best.1[0] + step * d.cos(), best.1[1] + step * d.sin()]);
            let next =
                tried.map(|place| (at(place), place)).reduce(|a, b| if b.0 < a.0 { b } else { a }).unwrap();
            if next.0 < best.0 {
                best = next;
            } else {
                step *= 0.5;
            }
        }
        best.0
    }
}

fn to_box(point: &Point3<f64>, half: &Vector3<f64>) -> f64 {
    (point.coords.abs() - half).sup(&Vector3::zeros()).norm()
}

fn to_segment(p: &Point3<f64>, a: &Point3<f64>, b: &Point3<f64>) -> f64 {
    let share = ((p - a).dot(&(b - a)) / (b - a).norm_squared()).clamp(0.0, 1.0);
    (p - (a + (b - a) * share)).norm()
}

fn to_triangle(p: &Point3<f64>, [a, b, c]: [&Point3<f64>; 3]) -> f64 {
    let normal = (b - a).cross(&(c - a)).normalize();
    let over = |from: &Point3<f64>, to: &Point3<f64>| (to - from).cross(&(p - from)).dot(&normal) >= 0.0;
    if over(a, b) && over(b, c) && over(c, a) {
        return (p - a).dot(&normal).abs();
    }
    to_segment(p, a, b).min(to_segment(p, b, c)).min(to_segment(p, c, a))
}

/// A closed lump about the origin with bumps and hollows, 70 to 130 mm in radius.
fn lump() -> Mesh {
    let (rings, around) = (9_u32, 14_u32);
    let place = |ring: u32, i: u32| {
        let (polar, azimuth) =
            (PI * f64::from(ring) / f64::from(rings + 1), TAU * f64::from(i) / f64::from(around));
        let radius = 0.1 + 0.03 * (3.0 * azimuth).sin() * (2.0 * polar).sin();
        let (sin, cos) = polar.sin_cos();
        Point3::from(Vector3::new(sin * azimuth.cos(), sin * azimuth.sin(), cos) * radius)
    };
    let mut vertices = vec![Point3::new(0.0, 0.0, 0.1)];
    vertices.extend(
        (1..=rings).flat_map(|ring| (0..around).map(move |i| (ring, i))).map(|(ring, i)| place(ring, i)),
    );
    vertices.push(Point3::new(0.0, 0.0, -0.1));
    let corner = |ring: u32, i: u32| 1 + (ring - 1) * around + i % around;
    let last = vertices.len() as u32 - 1;
    let mut triangles = Vec::new();
    for i in 0..around {
        triangles.push([0, corner(1, i), corner(1, i + 1)]);
        triangles.push([last, corner(rings, i + 1), corner(rings, i)]);
        for ring in 1..rings {
            triangles.push([corner(ring, i), corner(ring + 1, i), corner(ring + 1, i + 1)]);
            triangles.push([corner(ring, i), corner(ring + 1, i + 1), corner(ring, i + 1)]);
        }
    }
    Mesh { vertices, triangles, closed: true }
}

fn measured(other: &Solid, turned: &Turned, other_from_turned: &Pose) -> f64 {
    let (other, turned) = (Form::new(other), Form::new(&turned.solid()));
    // Both stand askew in the base frame, so that nothing is measured along its axes by luck.
    let base_from_other = Pose::new(Vector3::new(0.7, -0.4, 0.9), Vector3::new(0.4, -1.1, 0.8));
    let (placed_other, placed_turned) =
        (other.place(&base_from_other), turned.place(&(base_from_other * other_from_turned)));
    let other = Located { form: &other, placed: &placed_other };
    other.distance(&Located { form: &turned, placed: &placed_turned }, 10.0).unwrap()
}

fn assert_least(measured: f64, sampled: f64) {
    assert!(measured <= sampled + 1e-12, "{measured} m is more than the {sampled} m of a point");
    assert!(sampled - measured <= LEFT, "{measured} m is less than the {sampled} m of the nearest point");
}

fn turned() -> impl Strategy<Value = Turned> {
    let radius = 0.005..0.06_f64;
    (radius.clone(), radius, 0.002..0.08_f64, 0..3).prop_map(|(low, high, half, kind)| match kind {
        0 => Turned { low, high: low, half },
        _ => Turned { low, high, half },
    })
}

/// Somewhere from `least` to 400 mm from the origin, turned anyhow; one in four squarely.
fn places(least: f64) -> impl Strategy<Value = Pose> {
    let turn = prop_oneof![
        3 => prop::array::uniform3(-3.0..3.0_f64),
        1 => prop::array::uniform3((0..3).prop_map(|quarters| f64::from(quarters) * PI / 2.0)),
    ];
    (least..0.4_f64, -1.0..1.0_f64, 0.0..TAU, turn).prop_map(|(far, z, azimuth, turn)| {
        let level = (1.0 - z * z).sqrt();
        let at = Vector3::new(level * azimuth.cos(), level * azimuth.sin(), z) * far;
        Pose::new(at, Vector3::from(turn))
    })
}

fn config(cases: u32) -> Config {
    Config { cases, rng_seed: RngSeed::Fixed(1), failure_persistence: None, ..Config::default() }
}

proptest! {
    #![proptest_config(config(250))]

    #[test]
    fn no_point_of_a_turned_solid_is_nearer_to_a_box_than_measured(
        turned in turned(), place in places(0.0), half in prop::array::uniform3(0.004..0.15_f64)
    ) {
        let half = Vector3::from(half);
        let measured = measured(&Solid::Box { half }, &turned, &place);
        let sampled = turned.least(|point| to_box(&(place * point), &half));
        if measured > 0.0 {
            assert_least(measured, sampled);
        } else {
            // The surfaces cross, or the one solid holds the other and so its middle.
            let middle = Point3::from(place.translation.vector);
            let within = to_box(&middle, &half) == 0.0 || turned.holds(&place.inverse_transform_point(&Point3::origin()));
            prop_assert!(sampled <= LEFT || within, "{sampled} m");
        }
    }
}

proptest! {
    #![proptest_config(config(60))]

    #[test]
    fn no_point_of_a_turned_solid_is_nearer_to_a_mesh_than_measured(turned in turned(), place in places(0.14)) {
        let mesh = lump();
        let sampled = turned.least(|point| {
            let point = place * point;
            let corners = mesh.triangles.iter().map(|t| t.map(|i| &mesh.vertices[i as usize]));
            corners.map(|corners| to_triangle(&point, corners)).fold(f64::INFINITY, f64::min)
        });
        let measured = measured(&Solid::Mesh(Arc::new(mesh.clone())), &turned, &place);
        if measured > 0.0 {
            assert_least(measured, sampled);
        } else {
            // The middle of the solid lies outside the lump, so that the surfaces cross.
            prop_assert!(sampled < 1e-3, "{sampled} m");
        }
    }
}
