//! Decides what space is passed through on the path, as cubes: a picture of the operating space of ISO 10218, for the eye. What must
//! hold is asked of [`super::gather`], which looks at every body itself and at stopping too.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::bodies::{MovingBodies, MovingBody};
use crate::cell::{Cell, Mesh};
use crate::schedule::{Instant, PathRow, Running, Schedule};

/// The most cubes along an edge of what one body may take up: a shape of absurd size is left out of the picture.
const MOST_ALONG: f64 = 400.0;

/// Space that is passed through.
#[derive(Clone, Debug, PartialEq)]
pub struct Swept {
    /// Edge of a cube, m.
    pub edge: f64,
    /// Cubes by their number along x, y and z of the world: the cube `[0, 0, 0]` has its lowest corner in the origin.
    pub cubes: BTreeSet<[i32; 3]>,
}

/// Every cube of edge `edge` (m) that something that moves comes into on the path, looked at in its rows, no more often than things
/// move by half an edge. A body counts as the box about its points along the axes of what carries it, or as the bar it is; a cube is
/// taken in where its middle is in it or no farther away than half an edge.
#[must_use]
pub fn swept(cell: &Cell, schedule: &Schedule, path: &[PathRow], edge: f64) -> Swept {
    let bodies = MovingBodies::new(cell);
    let extents: Vec<Extent> = bodies.bodies.iter().map(Extent::of).collect();
    let instants = Running::round(schedule).instants(path);
    let all = |instant: &Instant| {
        let stance = &instant.motion.stance;
        bodies.world_from_carriers(cell, &stance.axes, &stance.external)
    };
    // Bodies that have not moved since they were looked at last take up nothing new.
    let mut last: Vec<Option<Pose>> = vec![None; extents.len()];
    let mut looks: Vec<(usize, Pose)> = Vec::new();
    for instant in &instants {
        for (body, pose) in all(instant).into_iter().enumerate() {
            let moved = last[body].is_none_or(|last| extents[body].goes_between(&last, &pose) >= 0.5 * edge);
            if moved {
                looks.push((body, pose));
                last[body] = Some(pose);
            }
        }
    }
    let cubes = looks
        .par_iter()
        .fold(BTreeSet::new, |mut cubes, (body, pose)| {
            extents[*body].take_up(pose, edge, &mut cubes);
            cubes
        })
        .reduce(BTreeSet::new, |mut all, other| {
            all.extend(other);
            all
        });
    Swept { edge, cubes }
}

impl Swept {
    /// The faces between what is passed through and what is not, outward, in the world.
    #[must_use]
    pub fn surface(&self) -> Mesh {
        let mut numbers: BTreeMap<[i32; 3], u32> = BTreeMap::new();
        let mut vertices = Vec::new();
        let mut triangles = Vec::new();
        let mut corner = |at: [i32; 3]| {
            *numbers.entry(at).or_insert_with(|| {
                vertices.push(Point3::from(at.map(|along| f64::from(along) * self.edge)));
                // A picture of more corners than this could not be drawn either.
                u32::try_from(vertices.len() - 1).unwrap_or(u32::MAX)
            })
        };
        for cube in &self.cubes {
            for axis in 0..3 {
                for side in [0, 1] {
                    let mut beside = *cube;
                    beside[axis] += 2 * side - 1;
                    if self.cubes.contains(&beside) {
                        continue;
                    }
                    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                    let mut at = |along_u: i32, along_v: i32| {
                        let mut place = *cube;
                        place[axis] += side;
                        place[u] += along_u;
                        place[v] += along_v;
                        corner(place)
                    };
                    let face = [at(0, 0), at(1, 0), at(1, 1), at(0, 1)];
                    let [a, b, c, d] = if side == 1 { face } else { [face[3], face[2], face[1], face[0]] };
                    triangles.extend([[a, b, c], [a, c, d]]);
                }
            }
        }
        Mesh { vertices, triangles, closed: true }
    }
}

/// What a body counts as, in its carrier's frame: everything within `radius` of a box.
struct Extent {
    middle: Point3<f64>,
    half: Vector3<f64>,
    radius: f64,
    /// Turns the frame in which the box lies straight into the carrier's.
    carrier_from_box: Pose,
}

impl Extent {
    fn of(body: &MovingBody) -> Self {
        let carrier_from_box = match body.points.as_slice() {
            // A bar is a box without width about its middle line.
            [from, to] => nalgebra::UnitQuaternion::rotation_between(&Vector3::z(), &(to - from))
                .map_or_else(Pose::identity, |turn| Pose::from_parts(from.coords.into(), turn)),
            _ => Pose::identity(),
        };
        let box_from_carrier = carrier_from_box.inverse();
        let mut low = Vector3::repeat(f64::INFINITY);
        let mut high = Vector3::repeat(f64::NEG_INFINITY);
        for point in &body.points {
            let own = (box_from_carrier * point).coords;
            low = low.inf(&own);
            high = high.sup(&own);
        }
        Self {
            middle: Point3::from((low + high) / 2.0),
            half: (high - low) / 2.0,
            radius: body.radius,
            carrier_from_box,
        }
    }

    /// How far any point of it goes from one pose of its carrier to another, m; at most so far.
    fn goes_between(&self, one: &Pose, other: &Pose) -> f64 {
        let middle = self.carrier_from_box * self.middle;
        let turn = one.rotation.angle_to(&other.rotation);
        (one * middle - other * middle).norm() + turn * (self.half.norm() + self.radius)
    }

    /// Adds the cubes that it takes up.
    fn take_up(&self, world_from_carrier: &Pose, edge: f64, cubes: &mut BTreeSet<[i32; 3]>) {
        let world_from_box = world_from_carrier * self.carrier_from_box;
        let box_from_world = world_from_box.inverse();
        let turn = world_from_box.rotation.to_rotation_matrix();
        let reach = turn.matrix().abs() * self.half + Vector3::repeat(self.radius + 0.5 * edge);
        let middle = (world_from_box * self.middle).coords;
        let (low, high) = ((middle - reach) / edge, (middle + reach) / edge);
        if !((high - low).max() <= MOST_ALONG && low.amax().max(high.amax()) < f64::from(i32::MAX / 2)) {
            return;
        }
        // Middles of cubes lie between whole numbers; both ends are far inside the range of `i32`.
        let [from, to] = [low, high].map(|end| end.map(|along| (along - 0.5).round() as i32));
        let within = self.radius + 0.5 * edge;
        for x in from.x..=to.x {
            for y in from.y..=to.y {
                for z in from.z..=to.z {
                    let centre = Point3::from([x, y, z].map(|along| (f64::from(along) + 0.5) * edge));
                    let own = (box_from_world * centre - self.middle).abs() - self.half;
                    if own.map(|beyond| beyond.max(0.0)).norm() <= within {
                        cubes.insert([x, y, z]);
                    }
                }
            }
        }
    }
}
