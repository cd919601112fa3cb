//! Decides where in a drawn hole the axis of a round pin may stand: everywhere its radius off the walls.
//!
//! That is given as convex areas, which may cover each other. In a hole without inner corners one is all of it. Else each is grown from a
//! place at which the pin is clear: of the walls that nothing yet keeps it off, the nearest limits it, along itself where the place lies
//! on its inner side, or square to the way to its nearest point.

use nalgebra::{Point3, Unit, Vector2, Vector3};

use super::contact::square_to;
use super::convex::Convex;
use super::drawn_holes::{Hole, PUSHED_MM, STARTS};
use crate::units::mm;

/// A plane square to pins, with two directions in it.
pub(super) struct Plane([Vector3<f64>; 2]);

impl Plane {
    pub(super) fn square_to(axis: &Unit<Vector3<f64>>) -> Self {
        Self(square_to(axis))
    }

    pub(super) fn of(&self, vector: &Vector3<f64>) -> Vector2<f64> {
        Vector2::new(vector.dot(&self.0[0]), vector.dot(&self.0[1]))
    }

    pub(super) fn out_of(&self, vector: &Vector2<f64>) -> Vector3<f64> {
        self.0[0] * vector.x + self.0[1] * vector.y
    }
}

/// A wall as the plane sees it.
struct Wall {
    ends: [Vector2<f64>; 2],
    inward: Vector2<f64>,
}

/// Where the axis of a pin of this radius (m) may stand in a hole; nowhere where it does not fit.
pub(super) fn places(hole: &Hole, radius: f64, plane: &Plane) -> Vec<Convex> {
    let radius = radius - mm(PUSHED_MM);
    if let Some(round) = hole.radius {
        let free = round - radius;
        let middle = plane.of(&hole.middle.coords);
        return if free > 0.0 { vec![Convex::round(middle, free)] } else { Vec::new() };
    }
    let walls: Vec<Wall> = hole
        .walls
        .iter()
        .map(|wall| Wall {
            ends: wall.corners.map(|corner| plane.of(&corner.coords)),
            inward: plane.of(&wall.inward),
        })
        .collect();
    let mut found: Vec<Convex> = Vec::new();
    let beside =
        walls.iter().map(|wall| (wall.ends[0] + wall.ends[1]) / 2.0 + wall.inward * (radius + mm(PUSHED_MM)));
    let every = walls.len().div_ceil(STARTS);
    for start in std::iter::once(plane.of(&hole.middle.coords)).chain(beside.step_by(every)) {
        let is_known = |place: &Vector2<f64>| found.iter().any(|area| area.contains(place));
        if is_known(&start) {
            continue;
        }
        let clear = hole.clear(&Point3::from(plane.out_of(&start)), radius + mm(PUSHED_MM));
        if let Some(place) = clear.map(|place| plane.of(&place.coords)).filter(|place| !is_known(place)) {
            found.extend(grown(&place, radius, &walls));
        }
    }
    found
}

/// The area around a clear place in which the pin is clear of all walls, and that is convex.
fn grown(place: &Vector2<f64>, radius: f64, walls: &[Wall]) -> Option<Convex> {
    let mut by_distance: Vec<(f64, Vector2<f64>, &Wall)> = walls
        .iter()
        .map(|wall| {
            let nearest = nearest(wall, place);
            ((place - nearest).norm(), nearest, wall)
        })
        .collect();
    by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
    let farthest = by_distance.last()?.0;
    let mut area = Convex::square(2.0 * farthest).away_from(place);
    let mut kept_off: Vec<(Vector2<f64>, f64)> = Vec::new();
    for (away, nearest, wall) in by_distance {
        if kept_off.iter().any(|(along, most)| wall.ends.iter().all(|end| end.dot(along) <= *most)) {
            continue;
        }
        let is_within = (place - wall.ends[0]).dot(&wall.inward) >= radius;
        let along = if is_within { wall.inward } else { (place - nearest) / away };
        let most = nearest.dot(&along).max(wall.ends[0].dot(&along)).max(wall.ends[1].dot(&along));
        area = area.cut(&along, most + radius)?;
        kept_off.push((along, most + mm(PUSHED_MM)));
    }
    Some(area)
}

fn nearest(wall: &Wall, place: &Vector2<f64>) -> Vector2<f64> {
    let [near, far] = wall.ends;
    let along = far - near;
    let share = ((place - near).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
    near + along * share
}
