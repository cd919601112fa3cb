//! Decides which holes the meshes of a part have drawn along a direction.
//!
//! A hole is a wall of triangles along that direction, joined corner to corner, that goes once round and looks inward, whatever its
//! outline. Holes that open to an edge, or that taper, are none here. The corners of what is drawn of a round
//! lie on it, so that a hole whose corners do is as wide as these lie apart, and not as its flats; of less than eight flats it is no round.
//!
//! The middle of a hole with a keyway, or with a flat, is that of its round, which is known where it goes more than half around. Of a hole
//! that is not round, it is that of its wall, where the hole reaches as far both ways from there in all directions, else that of the widest
//! round that fits into it.

use nalgebra::{Matrix3, Point3, Unit, Vector3};

use super::contact::square_to;
use crate::cell::{Mesh, Shape, Solid};
use crate::units::mm;

/// Half the width of the widest hole that a pin may stand in, mm, but for the middle of a round one.
pub(super) const HOLE_MM: f64 = 30.0;
/// Corners lie on a round that is no farther off, mm.
const ROUND_MM: f64 = 0.05;
/// Share of a turn of which a round is known: more than the end of a slot.
const KNOWN: f64 = 0.55;
/// A flat of a round takes no more of a turn, rad: an eighth.
const FLAT: f64 = 0.79;
/// Places on a hole's wall from which its round, and where a pin may stand in it, are sought.
pub(super) const STARTS: usize = 24;
/// A hole reaches as far both ways from its middle to within so much, mm.
const EVEN_MM: f64 = 0.2;
/// Ways in which that is asked.
const WAYS: usize = 16;
/// What is clear of a wall to within so much is clear of it, mm.
pub(super) const PUSHED_MM: f64 = 1e-3;
/// Times that something is pushed off the nearest wall before there counts to be no place for it.
const PUSHES: usize = 100;
/// Walls that hang together and are more, are not asked whether they cover each other.
const MOST_WALLS: usize = 512;
/// Cosine from which two walls look the same way.
const ALIKE: f64 = 1.0 - 1e-9;
/// Corners and lines that are no farther apart are the same, mm.
const SAME_MM: f64 = 1e-3;
/// Sine of the angle that a wall may lean off the direction: one degree.
const LEANS: f64 = 0.0175;
/// Neighbouring pieces of a wall turn by no more where not every one goes on in another, rad: a square hole has four.
const CORNER: f64 = 1.75;

/// A hole that a mesh has drawn.
#[derive(Debug)]
pub(super) struct Hole {
    /// A point of its middle line.
    pub(super) middle: Point3<f64>,
    /// Whether that is where a pin is meant to stand, as far as its shape tells.
    pub(super) is_even: bool,
    /// Whether its round goes more than half around.
    pub(super) is_round: bool,
    /// Radius of its round, m, where it has nothing else.
    pub(super) radius: Option<f64>,
    pub(super) walls: Vec<Wall>,
    axis: Unit<Vector3<f64>>,
    /// From where to where it goes along that, m from the origin.
    along: [f64; 2],
}

/// A piece of a hole's wall: two of its corners as far apart as any, square to the hole, and the unit vector into the hole.
#[derive(Debug)]
pub(super) struct Wall {
    pub(super) corners: [Point3<f64>; 2],
    pub(super) inward: Vector3<f64>,
}

impl Hole {
    /// How far a point is from the nearest wall, square to the hole, m; negative beside the hole.
    pub(super) fn room_at(&self, at: &Point3<f64>) -> f64 {
        self.nearest_wall(at).0
    }

    /// The same, and the way from that wall into the hole; no way from the middle of a round.
    fn nearest_wall(&self, at: &Point3<f64>) -> (f64, Vector3<f64>) {
        let flat = |off: Vector3<f64>| off - self.axis.into_inner() * off.dot(&self.axis);
        if let Some(radius) = self.radius {
            let off = flat(self.middle - at);
            let away = off.norm();
            return (radius - away, off.try_normalize(0.0).unwrap_or_default());
        }
        let mut nearest = (f64::INFINITY, 0.0_f64, Vector3::zeros());
        for Wall { corners: [near, far], inward } in &self.walls {
            let off = flat(at - near);
            let along = far - near;
            let share = (off.dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
            let from_wall = off - along * share;
            let away = from_wall.norm();
            let inside = off.dot(inward);
            // Two walls that meet are as near at their corner: the one that is seen less askew tells the side.
            let is_same = (away - nearest.0).abs() < 1e-9;
            if (is_same && inside.abs() > nearest.1.abs()) || (!is_same && away < nearest.0) {
                let way = from_wall.try_normalize(1e-9).map_or(*inward, |way| way * inside.signum());
                nearest = (away, inside, way);
            }
        }
        (nearest.0.copysign(nearest.1), nearest.2)
    }

    /// How something round of this radius about a point must go to be clear of the nearest wall; none where it is.
    fn pushes(&self, at: &Point3<f64>, radius: f64) -> Option<Vector3<f64>> {
        let (room, inward) = self.nearest_wall(at);
        (room < radius - mm(PUSHED_MM)).then(|| inward * (radius - room))
    }

    /// Where something round of this radius comes to lie that is pushed off the walls from a point on; none where that ends nowhere.
    pub(super) fn clear(&self, from: &Point3<f64>, radius: f64) -> Option<Point3<f64>> {
        let mut place = *from;
        for _ in 0..PUSHES {
            match self.pushes(&place, radius) {
                Some(by) => place += by,
                None => return Some(place),
            }
        }
        None
    }

    /// Where the widest round fits into it, as far as pushing one off the walls finds that.
    fn widest(&self) -> Point3<f64> {
        let most = self.reach(&self.axis.cross(&self.walls[0].inward)) + self.reach(&self.walls[0].inward);
        let beside = self.walls.iter().map(|wall| nalgebra::center(&wall.corners[0], &wall.corners[1]));
        let every = self.walls.len().div_ceil(STARTS);
        let starts = std::iter::once(self.middle).chain(beside.step_by(every));
        let mut found = (self.middle, 0.0_f64);
        for start in starts {
            let mut radius = [1.01 * found.1 + mm(SAME_MM), most];
            let Some(mut place) = self.clear(&start, radius[0]) else { continue };
            while radius[1] - radius[0] > mm(SAME_MM) {
                let wider = 0.5 * (radius[0] + radius[1]);
                match self.clear(&place, wider) {
                    Some(next) => (place, radius[0]) = (next, wider),
                    None => radius[1] = wider,
                }
            }
            found = (place, self.room_at(&place));
        }
        found.0
    }

    /// Half the width of what goes through its middle, m.
    pub(super) fn half_width(&self) -> f64 {
        self.room_at(&self.middle)
    }

    /// Whether it is wider than what a pin may stand in anywhere.
    pub(super) fn is_wide(&self) -> bool {
        self.half_width() >= mm(HOLE_MM)
    }

    /// From wall to wall through a point in the hole along a way square to it, m.
    pub(super) fn chord(&self, at: &Point3<f64>, way: &Vector3<f64>) -> f64 {
        let beside = self.axis.cross(way);
        if let Some(radius) = self.radius {
            let off = (at - self.middle).dot(&beside);
            return 2.0 * (radius * radius - off * off).max(0.0).sqrt();
        }
        let mut ends = [f64::NEG_INFINITY, f64::INFINITY];
        for wall in &self.walls {
            let [(near, side), (far, other)] = wall.corners.map(|corner| {
                let off = corner - at;
                (off.dot(way), off.dot(&beside))
            });
            if (side <= 0.0) != (other <= 0.0) {
                let crossing = near - side * (far - near) / (other - side);
                let end = usize::from(crossing > 0.0);
                ends[end] = if end == 0 { ends[0].max(crossing) } else { ends[1].min(crossing) };
            }
        }
        ends[1] - ends[0]
    }

    /// How far it reaches from its middle, m.
    pub(super) fn reach(&self, way: &Vector3<f64>) -> f64 {
        let corners = self.walls.iter().flat_map(|wall| wall.corners);
        corners.map(|corner| (corner - self.middle).dot(way)).fold(0.0, f64::max)
    }

    /// Whether something that reaches from and to so far along its direction, m from the origin, is in it for a piece.
    pub(super) fn meets(&self, [from, to]: [f64; 2]) -> bool {
        from < self.along[1] && self.along[0] < to
    }

    /// The same in a part that is turned, or mirrored, about the origin, if the hole lies along the same axis then.
    pub(super) fn turned(&self, turned: &Matrix3<f64>) -> Option<Self> {
        let side = (turned * self.axis.into_inner()).dot(&self.axis);
        let point = |at: &Point3<f64>| Point3::from(turned * at.coords);
        let wall = |wall: &Wall| Wall {
            corners: [point(&wall.corners[0]), point(&wall.corners[1])],
            inward: turned * wall.inward,
        };
        let along = if side > 0.0 { self.along } else { [-self.along[1], -self.along[0]] };
        (side.abs() > ALIKE).then(|| Self {
            middle: point(&self.middle),
            walls: self.walls.iter().map(wall).collect(),
            along,
            ..*self
        })
    }

    /// Whether it and another lie one behind the other along their axis, and not beside each other.
    pub(super) fn is_behind(&self, other: &Self) -> bool {
        self.along[1] <= other.along[0] + mm(SAME_MM) || other.along[1] <= self.along[0] + mm(SAME_MM)
    }

    /// How a point must go along it to be at a height at which it is.
    pub(super) fn off_height(&self, at: &Point3<f64>) -> Vector3<f64> {
        let height = at.coords.dot(&self.axis);
        self.axis.into_inner() * (height.clamp(self.along[0], self.along[1]) - height)
    }

    /// Whether it comes within `within` (m) of the height of a point.
    pub(super) fn is_near(&self, at: &Point3<f64>, within: f64) -> bool {
        let height = at.coords.dot(&self.axis);
        self.along[0] - within <= height && height <= self.along[1] + within
    }
}

/// Those of the holes along a direction, or against it, that are no wider than what a pin may stand in anywhere.
pub(super) fn pin_holes(shapes: &[Shape], direction: &Unit<Vector3<f64>>) -> Vec<Hole> {
    drawn_holes(shapes, direction).into_iter().filter(|hole| !hole.is_wide()).collect()
}

/// Of holes one behind the other around a point, the narrowest, of equals that which is nearest: the pin's, whatever mouths it has.
pub(super) fn around<'h>(
    holes: impl IntoIterator<Item = &'h Hole>,
    at: &Point3<f64>,
    within: f64,
) -> Option<&'h Hole> {
    let around = holes.into_iter().filter(|hole| hole.is_near(at, within) && hole.room_at(at) > 0.0);
    let rank = |hole: &Hole| ((hole.half_width() / mm(SAME_MM)).round(), hole.off_height(at).norm());
    around
        .map(|hole| (rank(hole), hole))
        .min_by(|(a, _), (b, _)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(_, hole)| hole)
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
        .flat_map(|group| {
            let walls = group.iter().map(|(_, index)| {
                let (triangle, normal) = walls[*index];
                (triangle.map(|corner| shape.frame_from_shape * mesh.vertices[corner as usize]), normal)
            });
            holes(&walls.collect::<Vec<_>>(), direction)
        })
        .collect()
}

/// The holes that triangles which hang together are the walls of, with their normals.
fn holes(triangles: &[([Point3<f64>; 3], Vector3<f64>)], direction: &Unit<Vector3<f64>>) -> Vec<Hole> {
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
    parted(walls).into_iter().filter_map(|walls| hole(walls, along, direction)).collect()
}

/// Walls taken apart where two cover each other and look opposite ways: so meshes that are drawn up from flat areas have them between holes
/// whose sides lie on one line, and nothing is there. What is left hangs together corner to corner.
fn parted(walls: Vec<Wall>) -> Vec<Vec<Wall>> {
    if walls.len() > MOST_WALLS {
        return vec![walls];
    }
    let left: Vec<Vec<[f64; 2]>> = walls.iter().map(|wall| uncovered(wall, &walls)).collect();
    if left.iter().all(|shares| *shares == [[0.0, 1.0]]) {
        return vec![walls];
    }
    let pieces = walls.iter().zip(left).flat_map(|(wall, shares)| {
        let [near, far] = wall.corners;
        shares.into_iter().map(move |share| Wall {
            corners: share.map(|share| near + (far - near) * share),
            inward: wall.inward,
        })
    });
    let pieces: Vec<Wall> = pieces.collect();
    let mut groups = Groups::new(pieces.len());
    for (index, one) in pieces.iter().enumerate() {
        for (before, other) in pieces[..index].iter().enumerate() {
            let near = |a: &Point3<f64>| other.corners.iter().any(|b| (a - b).norm() < mm(SAME_MM));
            if one.corners.iter().any(near) {
                groups.join(index as u32, before as u32);
            }
        }
    }
    let mut parts: Vec<(u32, Vec<Wall>)> = Vec::new();
    for (index, piece) in pieces.into_iter().enumerate() {
        let group = groups.of(index as u32);
        match parts.iter_mut().find(|(known, _)| *known == group) {
            Some((_, walls)) => walls.push(piece),
            None => parts.push((group, vec![piece])),
        }
    }
    parts.into_iter().map(|(_, walls)| walls).collect()
}

/// From which to which share of a wall no other covers it that looks the opposite way.
fn uncovered(wall: &Wall, walls: &[Wall]) -> Vec<[f64; 2]> {
    let [near, far] = wall.corners;
    let along = far - near;
    let mut left = vec![[0.0, 1.0]];
    for other in walls {
        let opposite = other.inward.dot(&wall.inward) < -ALIKE;
        if !opposite || (other.corners[0] - near).dot(&wall.inward).abs() > mm(SAME_MM) {
            continue;
        }
        let [a, b] = other.corners.map(|corner| (corner - near).dot(&along) / along.norm_squared());
        let (from, to) = (a.min(b), a.max(b));
        let parts =
            left.iter().flat_map(|&[start, end]: &[f64; 2]| [[start, end.min(from)], [to.max(start), end]]);
        left = parts.filter(|[start, end]| (end - start) * along.norm() > mm(SAME_MM)).collect();
    }
    left
}

/// The hole that has these walls and goes from where to where along a direction.
fn hole(walls: Vec<Wall>, along: [f64; 2], direction: &Unit<Vector3<f64>>) -> Option<Hole> {
    let [first, second] = square_to(direction);
    if !look_inward(&walls, &first) {
        return None;
    }
    let turn = |wall: &Wall| wall.inward.dot(&second).atan2(wall.inward.dot(&first));
    let mut turns: Vec<f64> = walls.iter().map(turn).collect();
    turns.sort_by(f64::total_cmp);
    let back = turns.first()? + std::f64::consts::TAU;
    let next = turns.iter().skip(1).copied().chain([back]);
    if turns.iter().zip(next).any(|(one, next)| next - one > CORNER) && !is_closed(&walls) {
        return None;
    }
    let at_height = direction.into_inner() * (0.5 * (along[0] + along[1]));
    if let Some((middle, radius, share)) = round(&walls, direction) {
        let whole = share > 0.99
            && walls
                .iter()
                .flat_map(|wall| wall.corners)
                .all(|corner| ((corner - middle).norm() - radius).abs() < mm(ROUND_MM));
        let middle = middle + at_height;
        let radius = whole.then_some(radius);
        let hole = Hole { middle, is_even: true, is_round: true, radius, walls, axis: *direction, along };
        return (hole.half_width() > 0.0).then_some(hole);
    }
    // Weighed by width and not by area, so that a slanting end does not move the middle.
    let mut width = 0.0;
    let mut middle = Vector3::zeros();
    for Wall { corners: [near, far], .. } in &walls {
        let own = (far - near).norm();
        width += own;
        middle += (near.coords + far.coords) * (0.5 * own);
    }
    let middle = Point3::from(middle / width) + at_height;
    let mut hole =
        Hole { middle, is_even: false, is_round: false, radius: None, walls, axis: *direction, along };
    hole.is_even = hole.half_width() > 0.0
        && (0..WAYS).all(|step| {
            let (sin, cos) = (step as f64 * std::f64::consts::PI / WAYS as f64).sin_cos();
            let way = first * cos + second * sin;
            (hole.reach(&way) - hole.reach(&-way)).abs() < mm(EVEN_MM)
        });
    if !hole.is_even {
        hole.middle = hole.widest();
    }
    (hole.half_width() > 0.0).then_some(hole)
}

/// Whether each piece of a wall goes on in another at both ends.
fn is_closed(walls: &[Wall]) -> bool {
    let meets = |end: usize, at: &Point3<f64>| {
        walls.iter().any(|wall| {
            let off = wall.corners.map(|corner| (at - corner).norm());
            let length = (wall.corners[1] - wall.corners[0]).norm();
            let is_within =
                off[0] + off[1] - length < mm(SAME_MM) && off.iter().all(|off| *off > mm(SAME_MM));
            off[1 - end] < mm(SAME_MM) || is_within
        })
    };
    walls.len() <= MOST_WALLS && walls.iter().all(|wall| (0..2).all(|end| meets(end, &wall.corners[end])))
}

/// Whether walls look at each other, and not all round to the outside: where they lie farthest out they look back in.
fn look_inward(walls: &[Wall], way: &Vector3<f64>) -> bool {
    let out = |wall: &Wall| wall.corners.map(|corner| corner.coords.dot(way));
    let farthest = walls.iter().flat_map(out).fold(f64::NEG_INFINITY, f64::max);
    let outermost = walls.iter().filter(|wall| out(wall).iter().any(|out| farthest - out < mm(SAME_MM)));
    outermost.map(|wall| wall.inward.dot(way)).sum::<f64>() < 0.0
}

/// Middle, square to the hole, and radius (m) of the round on which the corners of most of its wall lie, and over what share of a turn.
fn round(walls: &[Wall], direction: &Unit<Vector3<f64>>) -> Option<(Point3<f64>, f64, f64)> {
    let [first, second] = square_to(direction);
    let turn = |way: &Vector3<f64>| way.dot(&second).atan2(way.dot(&first));
    let mut by_turn: Vec<(f64, &Wall)> = walls.iter().map(|wall| (turn(&wall.inward), wall)).collect();
    by_turn.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = by_turn.len();
    let starts = (0..count.min(STARTS)).map(|start| start * count / count.min(STARTS));
    let found = starts.filter_map(|start| {
        let on = [0, 1, 2].map(|third| by_turn[(start + third * count / 3) % count].1.corners[0]);
        let middle = equally_far(&on)?;
        let radius = (on[0] - middle).norm();
        let is_on = |corner: &Point3<f64>| ((corner - middle).norm() - radius).abs() < mm(ROUND_MM);
        let is_flat = |[near, far]: &[Point3<f64>; 2]| (near - middle).angle(&(far - middle)) < FLAT;
        let mut pieces: Vec<[f64; 2]> = walls
            .iter()
            .filter(|wall| wall.corners.iter().all(is_on) && is_flat(&wall.corners))
            .filter(|wall| wall.inward.dot(&(middle - wall.corners[0])) > 0.0)
            .map(|wall| {
                let [near, far] = wall.corners.map(|corner| corner - middle);
                // Who goes along `direction × inward` leaves the middle at the right.
                let from = turn(&far).rem_euclid(std::f64::consts::TAU);
                [from, from + far.angle(&near)]
            })
            .collect();
        pieces.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let (mut covered, mut up_to) = (0.0, f64::NEG_INFINITY);
        for [from, to] in pieces {
            covered += (to - from.max(up_to)).max(0.0);
            up_to = up_to.max(to);
        }
        Some((middle, radius, covered / std::f64::consts::TAU))
    });
    found.filter(|(.., share)| *share > KNOWN).max_by(|a, b| a.2.total_cmp(&b.2))
}

/// The point of their plane that is equally far from three points.
fn equally_far([a, b, c]: &[Point3<f64>; 3]) -> Option<Point3<f64>> {
    let (to_b, to_c) = (b - a, c - a);
    let square = to_b.cross(&to_c);
    let twice = 2.0 * square.norm_squared();
    let off = (square.cross(&to_b) * to_c.norm_squared() + to_c.cross(&square) * to_b.norm_squared()) / twice;
    off.iter().all(|part| part.is_finite()).then(|| a + off)
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Two squares of 2 mm, 10 mm from each other, their lower sides on one line: along that one wall goes from the far corner of the one to
    /// the far corner of the other, and one back between them. The middles lie 10 mm apart, each 1 mm from its walls.
    #[test]
    fn holes_between_which_two_walls_cover_each_other_are_two() {
        let wall = |[x, y]: [f64; 2], [to_x, to_y]: [f64; 2]| {
            let [near, far] = [Point3::new(x, y, 0.0), Point3::new(to_x, to_y, 0.0)];
            let inward = Vector3::z().cross(&(far - near)).normalize();
            ([near, far, far + Vector3::z()].map(|at| Point3::from(at.coords * 1e-3)), inward)
        };
        let mut triangles = vec![wall([-6.0, 0.0], [6.0, 0.0]), wall([4.0, 0.0], [-4.0, 0.0])];
        for x in [-5.0, 5.0] {
            triangles.extend([
                wall([x + 1.0, 0.0], [x + 1.0, 2.0]),
                wall([x + 1.0, 2.0], [x - 1.0, 2.0]),
                wall([x - 1.0, 2.0], [x - 1.0, 0.0]),
            ]);
        }
        let found = holes(&triangles, &Vector3::z_axis());
        assert_eq!(found.len(), 2);
        assert!(((found[0].middle - found[1].middle).norm() - mm(10.0)).abs() < 1e-12);
        assert!(found.iter().all(|hole| (hole.half_width() - mm(1.0)).abs() < 1e-12), "{found:?}");
    }
}
