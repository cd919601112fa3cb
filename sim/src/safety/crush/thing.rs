//! Decides between what somebody may be caught: everything that moves but the bare wire, and everything that stands. Of each the edges count,
//! along which the nearest point of one solid to another lies.

use std::collections::BTreeSet;

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::super::bodies::{AtArc, MovingBodies, name_in_cell, rounded_points};
use super::edges::Edges;
use super::wall::Wall;
use crate::cell::{Cell, Presence, Region, Solid, ZoneRole, pose_along};
use crate::units;

/// A point, as a ball, m.
pub(super) const POINT: f64 = 1e-6;
/// As thick as a flat guard counts, mm.
const SHEET_MM: f64 = 1.0;
/// Half of the floor's sides and half of its thickness, m: wider than any cell.
const FLOOR: [f64; 2] = [50.0, 0.5];

/// A solid, its edges and a ball about it, in its own frame.
pub(super) struct Thing {
    pub(super) name: String,
    form: Form,
    pub(super) edges: Edges,
    pub(super) rounding: f64,
    middle: Point3<f64>,
    radius: f64,
    pub(super) is_of_arm: bool,
    pub(super) at_arc: AtArc,
    /// Whether it is always there.
    stays: bool,
    /// The body that it moves like, of what moves.
    pub(super) body: Option<usize>,
    stands: Option<Pose>,
}

enum Form {
    Solid(Solid),
    /// A round bar with round ends between points of two bodies, each in the frame of what carries that body.
    Between([(usize, Point3<f64>); 2]),
}

/// Where a thing is: its pose in the world and, of a bar between two bodies, half of its length.
#[derive(Clone, Copy)]
pub(super) struct Placed {
    pub(super) world_from_thing: Pose,
    half_length: f64,
}

impl Thing {
    fn new(name: &str, solid: &Solid) -> Self {
        let (points, rounding) = match solid {
            Solid::Mesh(mesh) => (mesh.vertices.clone(), 0.0),
            _ => rounded_points(solid),
        };
        let count = points.len().max(1) as f64;
        let middle =
            Point3::from(points.iter().fold(Vector3::zeros(), |sum, point| sum + point.coords) / count);
        let radius = points.iter().map(|point| (point - middle).norm()).fold(0.0, f64::max) + rounding;
        Self {
            name: name.to_owned(),
            form: Form::Solid(solid.clone()),
            edges: Edges::new(lines(solid, &points)),
            rounding: rounding.max(POINT),
            middle,
            radius,
            is_of_arm: false,
            at_arc: AtArc::Nothing,
            stays: false,
            body: None,
            stands: None,
        }
    }

    /// Everything: what moves first.
    pub(super) fn all(cell: &Cell, bodies: &MovingBodies) -> Vec<Self> {
        let moving = bodies.bodies.iter().enumerate().filter(|(_, body)| body.at_arc != AtArc::Wire);
        let moving = moving.map(|(index, body)| Self {
            is_of_arm: body.is_of_arm(),
            at_arc: body.at_arc,
            stays: body.stays,
            body: Some(index),
            ..Self::new(&body.name, &body.solid)
        });
        moving.chain(hose_between(cell, bodies)).chain(standing(cell)).collect()
    }

    /// Where it is, with `world_from_carrier` of every body; none of those are needed of what stands.
    pub(super) fn placed(&self, bodies: &MovingBodies, carriers: &[Pose]) -> Placed {
        match (&self.form, self.body) {
            (Form::Between(ends), _) => {
                let [from, to] = ends.map(|(body, point)| carriers[body] * point);
                let along = to - from;
                let world_from_thing = pose_along(&nalgebra::center(&from, &to), &along);
                Placed { world_from_thing, half_length: along.norm() / 2.0 }
            }
            (Form::Solid(_), Some(body)) => {
                let world_from_thing = carriers[body] * bodies.bodies[body].carrier_from_solid;
                Placed { world_from_thing, half_length: 0.0 }
            }
            (Form::Solid(_), None) => {
                Placed { world_from_thing: self.stands.unwrap_or_else(Pose::identity), half_length: 0.0 }
            }
        }
    }

    /// As a solid, where it is.
    pub(super) fn solid(&self, placed: &Placed) -> Solid {
        match &self.form {
            Form::Solid(solid) => solid.clone(),
            Form::Between(_) => Solid::Capsule { radius: self.rounding, half_length: placed.half_length },
        }
    }

    /// The solid of what may keep somebody from something: no part, no arm, nothing that is taken away.
    pub(super) fn screen(&self) -> Option<&Solid> {
        match &self.form {
            Form::Solid(solid) if self.stays && self.at_arc == AtArc::Nothing => Some(solid),
            Form::Solid(_) | Form::Between(_) => None,
        }
    }

    /// Whether every straight line between two points of it stays in it.
    pub(super) fn is_convex(&self) -> bool {
        !matches!(self.form, Form::Solid(Solid::Mesh(_)))
    }

    /// Its edges where they are not always the same: those of a bar between two bodies.
    pub(super) fn own_edges(&self, placed: &Placed) -> Option<Edges> {
        matches!(self.form, Form::Between(_)).then(|| Edges::new(vec![ends(placed)]))
    }

    /// A ball about it in the world.
    pub(super) fn ball(&self, placed: &Placed) -> (Point3<f64>, f64) {
        (placed.world_from_thing * self.middle, self.radius + placed.half_length)
    }

    /// How far any point of it is at most from where it was, m.
    pub(super) fn goes(&self, from: &Placed, to: &Placed) -> f64 {
        if let Form::Between(_) = self.form {
            let [a, b] = [from, to].map(|placed| ends(placed).map(|end| placed.world_from_thing * end));
            return (a[0] - b[0]).norm().max((a[1] - b[1]).norm());
        }
        let (a, b) = (&from.world_from_thing, &to.world_from_thing);
        (a * self.middle - b * self.middle).norm() + a.rotation.angle_to(&b.rotation) * self.radius
    }
}

fn ends(placed: &Placed) -> [Point3<f64>; 2] {
    [-placed.half_length, placed.half_length].map(|z| Point3::new(0.0, 0.0, z))
}

/// The edges of a solid whose points are given, and of a box the lines between any two corners, which run across its faces.
fn lines(solid: &Solid, points: &[Point3<f64>]) -> Vec<[Point3<f64>; 2]> {
    match solid {
        Solid::Mesh(mesh) => {
            let pairs = mesh.triangles.iter().flat_map(|[a, b, c]| [[a, b], [b, c], [c, a]]);
            let pairs: BTreeSet<[u32; 2]> = pairs.map(|[a, b]| [*a.min(b), *a.max(b)]).collect();
            pairs.into_iter().map(|pair| pair.map(|corner| mesh.vertices[corner as usize])).collect()
        }
        Solid::Cylinder { .. } | Solid::Frustum { .. } => {
            let half = points.len() / 2;
            let line = |a: usize, b: usize| [points[a], points[b]];
            (0..half)
                .flat_map(|corner| {
                    let next = (corner + 1) % half;
                    [line(corner, next), line(half + corner, half + next), line(corner, half + corner)]
                })
                .collect()
        }
        Solid::Sphere { .. } => points.iter().map(|point| [*point; 2]).collect(),
        Solid::Box { .. } | Solid::Capsule { .. } => {
            let pairs = (0..points.len()).flat_map(|a| (a + 1..points.len()).map(move |b| [a, b]));
            pairs.map(|pair| pair.map(|corner| points[corner])).collect()
        }
    }
}

/// The hose from the forearm to the torch, straight.
fn hose_between(cell: &Cell, bodies: &MovingBodies) -> Option<Thing> {
    let hose = cell.torch.hose.as_ref()?;
    let [forearm, torch] = bodies.hose_ends()?;
    let ends = [(forearm, *hose.forearm.last()?), (torch, *hose.torch.first()?)];
    let bar = Solid::Capsule { radius: hose.radius, half_length: 0.0 };
    let form = Form::Between(ends);
    Some(Thing { form, is_of_arm: true, body: Some(torch), ..Thing::new("hose", &bar) })
}

/// What stands: shapes that no axis moves, the arm's foot, guards, and the floor.
fn standing(cell: &Cell) -> Vec<Thing> {
    let rest = cell.frames.rest();
    let moves = |frame| (0..cell.frames.axes.len()).any(|axis| cell.frames.moves_with(frame, axis));
    let stood = |name: &str, solid: &Solid, at: Pose| Thing { stands: Some(at), ..Thing::new(name, solid) };
    let shapes = cell.shapes.iter().filter(|shape| !moves(shape.frame)).map(|shape| {
        let world_from_shape = cell.frames.world_from(shape.frame, &rest) * shape.frame_from_shape;
        let name = name_in_cell(cell, shape);
        let (at_arc, stays) = (AtArc::of(shape.role), shape.presence == Presence::Always);
        Thing { at_arc, stays, ..stood(&name, &shape.solid, world_from_shape) }
    });
    let world_from_base = cell.frames.world_from(cell.arm.frame, &rest) * cell.arm.frame_from_base;
    let foot = cell.arm.shapes.iter().filter(|shape| shape.link == 0 && !moves(cell.arm.frame));
    let foot = foot.map(|shape| {
        let at = world_from_base * shape.link_from_shape;
        Thing { is_of_arm: true, ..stood(&shape.name, &shape.solid, at) }
    });
    let volumes = cell.zones.iter().filter(|zone| zone.role == ZoneRole::Guard && !moves(zone.frame));
    let volumes = volumes.filter_map(|zone| {
        let solid = match &zone.region {
            Region::Box { half } => Solid::Box { half: *half },
            Region::Cylinder { radius, half_height } => {
                Solid::Cylinder { radius: *radius, half_height: *half_height }
            }
            // As walls, below.
            Region::Field { .. } | Region::Outline { .. } => return None,
        };
        let world_from_zone = cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
        Some(stood(&zone.name, &solid, world_from_zone))
    });
    let walls = Wall::of_guards(cell).into_iter().map(|(zone, wall)| {
        let (sheet, at) = wall.sheet(units::mm(SHEET_MM));
        stood(&cell.zones[zone.0].name, &sheet, at)
    });
    let floor = Solid::Box { half: Vector3::new(FLOOR[0], FLOOR[0], FLOOR[1]) };
    let top = Pose::translation(0.0, 0.0, cell.safeguarding.floor - FLOOR[1]);
    // Only what comes down to the floor is looked at, not the floor's own edges.
    let floor = Thing { edges: Edges::new(Vec::new()), ..stood("the floor", &floor, top) };
    shapes.chain(foot).chain(volumes).chain(walls).chain([floor]).collect()
}
