//! Decides which holes the meshes of a part have drawn along a direction.
//!
//! A hole is a wall of triangles along that direction, joined corner to corner, that goes once round its middle and looks inward
//! everywhere: round, long or square. Holes that open to an edge, that taper, or that are wider than any pin are none here.

use nalgebra::{Point3, Unit, Vector3};

use super::contact::square_to;
use crate::cell::{Mesh, Shape, Solid};
use crate::units::mm;

/// Half the width of the widest hole that a pin may stand in, mm.
pub(super) const HOLE_MM: f64 = 30.0;
/// Sine of the angle that a wall may lean off the direction: one degree.
const LEANS: f64 = 0.0175;
/// Neighbouring pieces of a wall turn by no more, rad: a square hole has four.
const CORNER: f64 = 1.75;

/// A hole that a mesh has drawn.
#[derive(Debug)]
pub(super) struct Hole {
    /// A point of its middle line.
    pub(super) middle: Point3<f64>,
    walls: Vec<Wall>,
    /// From where to where it goes along the direction, m from the origin.
    along: [f64; 2],
}

/// A piece of a hole's wall: two of its corners as far apart as any, square to the hole, and the unit vector into the hole.
#[derive(Debug)]
struct Wall {
    corners: [Point3<f64>; 2],
    inward: Vector3<f64>,
}

impl Hole {
    /// How far a point is from the nearest wall, square to the hole, m; negative beside the hole.
    pub(super) fn room_at(&self, at: &Point3<f64>) -> f64 {
        self.walls.iter().map(|wall| (at - wall.corners[0]).dot(&wall.inward)).fold(f64::INFINITY, f64::min)
    }

    /// How far it reaches from its middle, m.
    pub(super) fn reach(&self, way: &Vector3<f64>) -> f64 {
        let corners = self.walls.iter().flat_map(|wall| wall.corners);
        corners.map(|corner| (corner - self.middle).dot(way)).fold(0.0, f64::max)
    }

    /// Whether it comes within `within` (m) of a height along its direction.
    pub(super) fn is_near(&self, height: f64, within: f64) -> bool {
        self.along[0] - within <= height && height <= self.along[1] + within
    }
}

/// All holes along a direction, or against it.
pub(super) fn drawn_holes(shapes: &[Shape], direction: &Unit<Vector3<f64>>) -> Vec<Hole> {
    let meshes = shapes.iter().filter_map(|shape| match &shape.solid {
        Solid::Mesh(mesh) => Some((mesh, shape)),
        _ => None,
    });
    meshes.flat_map(|(mesh, shape)| of_mesh(mesh, shape, direction)).collect()
}

fn of_mesh(mesh: &Mesh, shape: &Shape, direction: &Unit<Vector3<f64>>) -> Vec<Hole> {
    let own = shape.frame_from_shape.rotation.inverse() * direction.into_inner();
    let mut groups = Groups::new(mesh.vertices.len());
    let mut walls: Vec<(&[u32; 3], Vector3<f64>)> = Vec::new();
    for triangle in &mesh.triangles {
        let Some(normal) = crate::cell::mesh::normal(&mesh.vertices, triangle) else { continue };
        if normal.dot(&own).abs() < LEANS {
            groups.join(triangle[0], triangle[1]);
            groups.join(triangle[1], triangle[2]);
            walls.push((triangle, shape.frame_from_shape.rotation * normal));
        }
    }
    let mut of_group: Vec<(u32, usize)> =
        walls.iter().enumerate().map(|(index, (triangle, _))| (groups.of(triangle[0]), index)).collect();
    of_group.sort_unstable();
    of_group
        .chunk_by(|a, b| a.0 == b.0)
        .filter_map(|group| {
            let walls = group.iter().map(|(_, index)| {
                let (triangle, normal) = walls[*index];
                (triangle.map(|corner| shape.frame_from_shape * mesh.vertices[corner as usize]), normal)
            });
            hole(&walls.collect::<Vec<_>>(), direction)
        })
        .collect()
}

/// The hole that triangles which hang together are the wall of, with their normals.
fn hole(triangles: &[([Point3<f64>; 3], Vector3<f64>)], direction: &Unit<Vector3<f64>>) -> Option<Hole> {
    let [first, second] = square_to(direction);
    let mut turns: Vec<f64> =
        triangles.iter().map(|(_, inward)| inward.dot(&second).atan2(inward.dot(&first))).collect();
    turns.sort_by(f64::total_cmp);
    let back = turns.first()? + std::f64::consts::TAU;
    let next = turns.iter().skip(1).copied().chain([back]);
    if turns.iter().zip(next).any(|(one, next)| next - one > CORNER) {
        return None;
    }
    let heights = || triangles.iter().flat_map(|(corners, _)| corners).map(|at| at.coords.dot(direction));
    let along = [heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max)];
    let flat = |at: &Point3<f64>| at - direction.into_inner() * at.coords.dot(direction);
    let walls: Vec<Wall> = triangles
        .iter()
        .filter_map(|(corners, inward)| {
            let around = direction.cross(inward);
            let by = |at: &&Point3<f64>| at.coords.dot(&around);
            let far = corners.iter().max_by(|a, b| by(a).total_cmp(&by(b)))?;
            let near = corners.iter().min_by(|a, b| by(a).total_cmp(&by(b)))?;
            Some(Wall { corners: [flat(near), flat(far)], inward: *inward })
        })
        .collect();
    // Weighed by width and not by area, so that a slanting end does not move the middle.
    let mut width = 0.0;
    let mut middle = Vector3::zeros();
    for Wall { corners: [near, far], .. } in &walls {
        let own = (far - near).norm();
        width += own;
        middle += (near.coords + far.coords) * (0.5 * own);
    }
    let middle = Point3::from(middle / width);
    let middle = middle + direction.into_inner() * (0.5 * (along[0] + along[1]));
    let hole = Hole { middle, walls, along };
    let room = hole.room_at(&middle);
    (room > 0.0 && room < mm(HOLE_MM)).then_some(hole)
}

/// Which corners hang together.
struct Groups {
    parent: Vec<u32>,
}

impl Groups {
    fn new(count: usize) -> Self {
        Self { parent: (0..count as u32).collect() }
    }

    fn of(&mut self, mut of: u32) -> u32 {
        while self.parent[of as usize] != of {
            let above = self.parent[self.parent[of as usize] as usize];
            self.parent[of as usize] = above;
            of = above;
        }
        of
    }

    fn join(&mut self, one: u32, other: u32) {
        let (one, other) = (self.of(one), self.of(other));
        self.parent[one.max(other) as usize] = one.min(other);
    }
}
