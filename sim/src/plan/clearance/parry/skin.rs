//! Decides the distance of a body to a mesh, and whether it lies inside one, mm.
//!
//! The collision library sees only the skin of a mesh. A closed mesh is solid here: what does not touch the skin but has a
//! point inside is inside as a whole. Inside is where the skin winds around a point a number of times other than zero.

use std::sync::{Arc, Mutex, PoisonError, Weak};

use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::{Pose3, Vector};
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy, BvhNode};
use parry3d_f64::shape::Triangle;

use super::Sought;
use super::convex::{self, Convex};
use crate::cell::Mesh;
use crate::units::to_mm;

/// Most directions that [`Skin::normals_near`] gives.
const MOST_NORMALS: usize = 12;

/// The triangles of a mesh in a tree of boxes.
#[derive(Debug)]
pub(super) struct Skin {
    corners: Vec<Vector>,
    triangles: Vec<[u32; 3]>,
    closed: bool,
    /// One corner of each connected piece.
    pieces: Vec<Vector>,
    tree: Bvh,
}

/// The skin of `mesh`. Made once for each mesh, since one mesh stands in many scenes.
pub(super) fn of(mesh: &Arc<Mesh>) -> Arc<Skin> {
    static MADE: Mutex<Vec<(Weak<Mesh>, Arc<Skin>)>> = Mutex::new(Vec::new());
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    made.retain(|(mesh, _)| mesh.strong_count() > 0);
    if let Some((_, skin)) = made.iter().find(|(known, _)| known.as_ptr() == Arc::as_ptr(mesh)) {
        return Arc::clone(skin);
    }
    let skin = Arc::new(Skin::new(mesh));
    made.push((Arc::downgrade(mesh), Arc::clone(&skin)));
    skin
}

impl Skin {
    fn new(mesh: &Mesh) -> Self {
        let corners: Vec<Vector> =
            mesh.vertices.iter().map(|p| Vector::new(to_mm(p.x), to_mm(p.y), to_mm(p.z))).collect();
        let mut skin = Self {
            pieces: pieces(&corners, &mesh.triangles),
            triangles: mesh.triangles.clone(),
            closed: mesh.closed,
            tree: Bvh::new(),
            corners,
        };
        let boxes: Vec<Aabb> =
            (0..mesh.triangles.len()).map(|i| skin.triangle(i as u32).local_aabb()).collect();
        skin.tree = Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes);
        skin
    }

    /// Bounds in a frame, low and high corner.
    pub(super) fn bounds(&self, frame_from_skin: &Pose3) -> (Vector, Vector) {
        let own = self.tree.root_aabb();
        let bounds = own.transform_by(frame_from_skin);
        (bounds.mins, bounds.maxs)
    }

    /// Distance of a convex core, where it is sought; 0 where it touches, overlaps or lies inside.
    pub(super) fn gap_to_convex(
        &self,
        convex: &Convex,
        skin_from_convex: &Pose3,
        sought: Sought,
    ) -> Option<f64> {
        let to_skin = self.gap_to_triangles(convex, skin_from_convex, sought);
        if to_skin != Some(0.0) && self.contains(skin_from_convex.translation) {
            return Some(0.0);
        }
        to_skin
    }

    /// Distance of another mesh, where it is sought; 0 where they touch, overlap or one has the other inside.
    pub(super) fn gap_to_skin(&self, other: &Self, self_from_other: &Pose3, sought: Sought) -> Option<f64> {
        let bounds = other.bounds(self_from_other);
        let other_from_self = self_from_other.inverse();
        let found = self.tree.find_best(
            sought.within,
            |node, _| boxes_apart(node, bounds),
            |index, within| {
                let triangle = Convex::Triangle(self.triangle(index));
                other.gap_to_triangles(&triangle, &other_from_self, Sought { within, ..sought })
            },
        );
        let gap = found.map(|(_, gap)| gap);
        if gap != Some(0.0)
            && (other.pieces.iter().any(|corner| self.contains(self_from_other * *corner))
                || self.pieces.iter().any(|corner| other.contains(other_from_self * *corner)))
        {
            return Some(0.0);
        }
        gap
    }

    /// Normals of triangles that meet the box from `low` to `high`, no two alike.
    pub(super) fn normals_near(&self, low: Vector, high: Vector) -> Vec<Vector> {
        let mut normals: Vec<Vector> = Vec::new();
        for index in self.tree.leaves(|node| boxes_apart(node, (low, high)) <= 0.0) {
            if let Some(normal) = self.triangle(index).normal()
                && normals.iter().all(|known| known.dot(normal) < 0.99)
            {
                normals.push(normal);
                if normals.len() == MOST_NORMALS {
                    break;
                }
            }
        }
        normals
    }

    fn gap_to_triangles(&self, convex: &Convex, skin_from_convex: &Pose3, sought: Sought) -> Option<f64> {
        let bounds = convex::bounds(convex, skin_from_convex);
        let bar = Bar::around(convex, skin_from_convex);
        let found = self.tree.find_best(
            sought.within,
            |node, within| {
                let apart = boxes_apart(node, bounds);
                if apart < within { bar.apart(node).max(apart) } else { apart }
            },
            |index, within| {
                let triangle = Convex::Triangle(self.triangle(index));
                let gap = convex::gap(&triangle, convex, skin_from_convex, within)?;
                Some(if gap <= sought.enough { 0.0 } else { gap })
            },
        );
        found.map(|(_, gap)| gap)
    }

    /// Whether a closed mesh has `point` inside.
    ///
    /// Counts, with sign, how often a ray along +z leaves the solid. Whether the ray passes a triangle is decided edge by edge in the
    /// projection along z, with each edge taken in the same order from both of its triangles, so that no ray slips between two.
    fn contains(&self, point: Vector) -> bool {
        let on_ray = |node: &BvhNode| {
            let (low, high) = (node.mins(), node.maxs());
            low.x <= point.x
                && point.x <= high.x
                && low.y <= point.y
                && point.y <= high.y
                && point.z <= high.z
        };
        if !self.closed {
            return false;
        }
        let turns: i32 = self.tree.leaves(on_ray).map(|index| self.turns_above(index, point)).sum();
        turns != 0
    }

    /// How often the outline of a triangle above `point` winds around it, seen from above: 1 for a face that looks up.
    fn turns_above(&self, index: u32, point: Vector) -> i32 {
        let ids = self.triangles[index as usize];
        let mut turns = 0;
        for (from, to) in [(ids[0], ids[1]), (ids[1], ids[2]), (ids[2], ids[0])] {
            let (from_y, to_y) = (self.corner(from).y, self.corner(to).y);
            if (from_y <= point.y) == (to_y <= point.y) {
                continue;
            }
            let upward = to_y > from_y;
            // Seen along the upward edge the point is to the left; the same sum whichever triangle asks.
            let (low, high) = if upward {
                (self.corner(from), self.corner(to))
            } else {
                (self.corner(to), self.corner(from))
            };
            let left = (high.x - low.x) * (point.y - low.y) - (high.y - low.y) * (point.x - low.x) > 0.0;
            if left {
                turns += if upward { 1 } else { -1 };
            }
        }
        if turns == 0 {
            return 0;
        }
        let Triangle { a, b, c } = self.triangle(index);
        let normal = (b - a).cross(c - a);
        let above = normal.dot(a - point) * normal.z.signum() > 0.0;
        if above { turns } else { 0 }
    }

    fn triangle(&self, index: u32) -> Triangle {
        let [a, b, c] = self.triangles[index as usize].map(|corner| self.corner(corner));
        Triangle::new(a, b, c)
    }

    fn corner(&self, index: u32) -> Vector {
        self.corners[index as usize]
    }
}

/// A round bar with round ends that holds a convex core: closer than its box where it is long and stands askew.
struct Bar {
    start: Vector,
    along: Vector,
    length_squared: f64,
    radius: f64,
}

impl Bar {
    fn around(convex: &Convex, frame_from_core: &Pose3) -> Self {
        let (start, end, radius) = convex.bar();
        let (start, end) = (frame_from_core * start, frame_from_core * end);
        Self { start, along: end - start, length_squared: start.distance_squared(end), radius }
    }

    /// No more than the distance of the bar and a node's box; negative where the ball around the box meets it.
    fn apart(&self, node: &BvhNode) -> f64 {
        let (low, high) = (node.mins(), node.maxs());
        let from_start = (low + high) / 2.0 - self.start;
        let share = (from_start.dot(self.along) / self.length_squared.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        from_start.distance(self.along * share) - self.radius - low.distance(high) / 2.0
    }
}

/// Distance of a node's box and a box given by its corners.
fn boxes_apart(node: &BvhNode, (low, high): (Vector, Vector)) -> f64 {
    (node.mins() - high).max(low - node.maxs()).max(Vector::ZERO).length()
}

/// One corner of each connected piece.
fn pieces(corners: &[Vector], triangles: &[[u32; 3]]) -> Vec<Vector> {
    let mut leader: Vec<u32> = (0..corners.len() as u32).collect();
    for triangle in triangles {
        let [a, b, c] = triangle.map(|corner| leader_of(&mut leader, corner));
        let first = a.min(b).min(c);
        for other in [a, b, c] {
            leader[other as usize] = first;
        }
    }
    let mut used: Vec<u32> = triangles.iter().map(|triangle| leader_of(&mut leader, triangle[0])).collect();
    used.sort_unstable();
    used.dedup();
    used.into_iter().map(|index| corners[index as usize]).collect()
}

/// The first corner of the piece that `corner` belongs to.
fn leader_of(leader: &mut [u32], mut corner: u32) -> u32 {
    while leader[corner as usize] != corner {
        leader[corner as usize] = leader[leader[corner as usize] as usize];
        corner = leader[corner as usize];
    }
    corner
}
