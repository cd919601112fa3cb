//! Decides what part of a guard, a solid or a field closes the way of people: where it reaches from low enough to high enough, seen from
//! above.
//!
//! What slopes closes only as far as both its edges let it. What leans out of the vertical is looked at along its slope, since nobody gets
//! through it for that.

use nalgebra::{Point2, Point3, Vector2, Vector3};
use seamwright_kinematics::Pose;

use super::extent::corners;
use crate::cell::Region;

/// Drawn such a height or width is of it, m.
pub(super) const ROUNDING: f64 = 1e-9;

/// Heights in the world that something must reach to close a way, m: down to the first, up to the other.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reaches {
    pub(super) down_to: f64,
    pub(super) up_to: f64,
}

/// What of the hull of some points in the world reaches from low to high where one looks along `upward`: the corners of a convex polygon on the
/// floor, counter-clockwise, of two where it is flat; none where nothing of it does.
pub(super) fn closing_part(
    points: &[Point3<f64>],
    upward: &Vector3<f64>,
    reaches: Reaches,
) -> Vec<Point2<f64>> {
    let on_floor = |point: Point3<f64>| (point - upward * (point.z / upward.z)).xy();
    let low = beyond(points, |point| reaches.down_to + ROUNDING - point.z);
    let high = beyond(points, |point| point.z - reaches.up_to + ROUNDING);
    let [low, high] = [low, high].map(|part| hull(part.into_iter().map(on_floor).collect()));
    both(&low, &high)
}

/// Convex pieces of an extent as points in its own frame, none wider than it is: the sides of an outline one by one.
pub(super) fn pieces(region: &Region) -> Vec<Vec<Point3<f64>>> {
    match region {
        Region::Outline { corners, height } => {
            let side = |at: usize| {
                let ends = [corners[at], corners[(at + 1) % corners.len()]];
                ends.iter().flat_map(|end| [0.0, *height].map(|z| Point3::new(end.x, end.y, z))).collect()
            };
            (0..corners.len()).map(side).collect()
        }
        Region::Cylinder { radius, .. } => {
            // Its corners stand about the circle, not on it.
            let onto = |point: Point3<f64>| {
                let flat = point.coords.xy() * (radius / point.coords.xy().norm());
                Point3::new(flat.x, flat.y, point.z)
            };
            vec![corners(region).into_iter().map(onto).collect()]
        }
        Region::Box { .. } | Region::Field { .. } => vec![corners(region)],
    }
}

/// Along which an extent is looked at: up its slope for a flat field, straight up for all else; none where a field lies flat.
pub(super) fn upward(region: &Region, world_from_zone: &Pose) -> Option<Vector3<f64>> {
    let Region::Field { .. } = region else { return Some(Vector3::z()) };
    let across = world_from_zone.rotation * Vector3::y();
    (Vector3::z() - across * across.z).try_normalize(1e-6)
}

/// Points whose hull is what of the hull of others is not below 0 by a measure that is linear.
fn beyond(points: &[Point3<f64>], measure: impl Fn(&Point3<f64>) -> f64) -> Vec<Point3<f64>> {
    let of: Vec<(f64, &Point3<f64>)> = points.iter().map(|point| (measure(point), point)).collect();
    let (kept, others): (Vec<_>, Vec<_>) = of.into_iter().partition(|(by, _)| *by >= 0.0);
    let crossings = kept
        .iter()
        .flat_map(|(a, from)| others.iter().map(move |(b, to)| *from + (*to - *from) * (a / (a - b))));
    kept.iter().map(|(_, point)| **point).chain(crossings).collect()
}

/// What two convex polygons have in common.
fn both(one: &[Point2<f64>], other: &[Point2<f64>]) -> Vec<Point2<f64>> {
    if one.is_empty() || other.is_empty() {
        return Vec::new();
    }
    if let [point] = other {
        return both_with_point(one, point);
    }
    let mut kept = one.to_vec();
    for (at, from) in other.iter().enumerate() {
        let to = other[(at + 1) % other.len()];
        let Some(along) = (to - from).try_normalize(0.0) else { continue };
        kept = kept_by(&kept, |point| along.perp(&(point - from)) + ROUNDING);
        // A flat one ends there as well.
        if other.len() == 2 {
            kept = kept_by(&kept, |point| along.dot(&(point - from)) + ROUNDING);
        }
    }
    hull(kept)
}

fn both_with_point(polygon: &[Point2<f64>], point: &Point2<f64>) -> Vec<Point2<f64>> {
    if let [only] = polygon {
        return if (only - point).norm() <= ROUNDING { vec![*point] } else { Vec::new() };
    }
    both(&[*point], polygon)
}

/// What of a convex polygon is not below 0 by a measure that is linear.
pub(super) fn kept_by(polygon: &[Point2<f64>], measure: impl Fn(&Point2<f64>) -> f64) -> Vec<Point2<f64>> {
    let mut kept = Vec::new();
    for (at, from) in polygon.iter().enumerate() {
        let to = &polygon[(at + 1) % polygon.len()];
        let (a, b) = (measure(from), measure(to));
        if a >= 0.0 {
            kept.push(*from);
        }
        if (a >= 0.0) != (b >= 0.0) {
            kept.push(from + (to - from) * (a / (a - b)));
        }
    }
    kept
}

/// The hull of some points, counter-clockwise: from one of its corners always on to the point that has all others on its left.
///
/// Points are the same to within rounding, and in a line: chains over points in the order of their x would not bear that.
pub(super) fn hull(points: Vec<Point2<f64>>) -> Vec<Point2<f64>> {
    let farthest_from = |from: &Point2<f64>| {
        let far = |point: &Point2<f64>| (point - from).norm();
        points.iter().copied().reduce(|most, point| if far(&point) > far(&most) { point } else { most })
    };
    let Some(first) = points.first().and_then(farthest_from) else { return Vec::new() };
    let mut corners = vec![first];
    let mut from = first;
    for _ in 0..points.len() {
        let mut next = from;
        for point in &points {
            let (to, other): (Vector2<f64>, Vector2<f64>) = (next - from, point - from);
            let right = other.perp(&to);
            let in_line = ROUNDING * (to.norm() + other.norm());
            if right > in_line || (right >= -in_line && other.norm() > to.norm()) {
                next = *point;
            }
        }
        if (next - first).norm() <= ROUNDING || (next - from).norm() <= ROUNDING {
            break;
        }
        corners.push(next);
        from = next;
    }
    corners
}

#[cfg(test)]
mod tests {
    use super::*;

    const FENCE: Reaches = Reaches { down_to: 0.18, up_to: 1.0 };

    /// An upright parallelogram over the line from 0 to 4 m along x, its lower edge from one height to another.
    fn sloping(from: f64, to: f64, height: f64) -> Vec<Point3<f64>> {
        [(0.0, from), (4.0, to)]
            .iter()
            .flat_map(|(x, z)| [Point3::new(*x, 0.0, *z), Point3::new(*x, 0.0, z + height)])
            .collect()
    }

    fn ends(part: &[Point2<f64>]) -> Option<[f64; 2]> {
        let along = part.iter().map(|point| point.x);
        let (low, high) = (along.clone().reduce(f64::min)?, along.reduce(f64::max)?);
        Some([low, high])
    }

    #[test]
    fn what_slopes_closes_as_far_as_both_its_edges_let_it() {
        let part = |points: &[Point3<f64>]| ends(&closing_part(points, &Vector3::z(), FENCE));
        assert_eq!(part(&sloping(0.0, 0.0, 2.0)), Some([0.0, 4.0]));
        // Its lower edge rises by 0.3 m in each metre: at 0.18 m after 0.6 m.
        let rising = part(&sloping(0.0, 1.2, 2.0)).unwrap();
        assert!(rising[0] == 0.0 && (rising[1] - 0.6).abs() < 1e-6, "{rising:?}");
        // The upper edge falls from 1.6 m by 0.3 m in each metre: at 1 m after 2 m, and the lower one is below the floor there.
        let falling = part(&sloping(0.0, -1.2, 1.6)).unwrap();
        assert!(falling[0] == 0.0 && (falling[1] - 2.0).abs() < 1e-6, "{falling:?}");
        assert_eq!(part(&sloping(0.2, 0.2, 2.0)), None);
        assert_eq!(part(&sloping(0.0, 0.0, 0.9)), None);
    }

    /// Corners four times each, each off by a rounding: the hull has each once, however it is turned.
    #[test]
    fn the_hull_of_points_that_are_nearly_the_same_has_each_corner_once() {
        for step in 0..60 {
            let turned = nalgebra::Rotation2::new(f64::from(step) * std::f64::consts::PI / 30.0);
            for corners in
                [vec![[-1.5, -1.3], [-1.5, 1.3]], vec![[-1.5, -1.3], [0.5, -1.3], [0.5, 1.3], [-1.5, 1.3]]]
            {
                let corners: Vec<Point2<f64>> =
                    corners.into_iter().map(|at| turned * Point2::from(at)).collect();
                let middle = nalgebra::center(&corners[0], &corners[1]);
                let off = |at: usize| Vector2::new((at % 3) as f64 - 1.0, (at % 5) as f64 - 2.0) * 1e-16;
                let points = (0..4 * corners.len()).map(|at| corners[at % corners.len()] + off(at));
                let found = hull(points.chain([middle]).collect());
                assert_eq!(found.len(), corners.len(), "{step}: {found:?}");
                for corner in &corners {
                    assert!(found.iter().any(|point| (point - corner).norm() < 1e-12), "{step}: {found:?}");
                }
                let area =
                    (0..found.len()).map(|at| found[at].coords.perp(&found[(at + 1) % found.len()].coords));
                assert!((area.sum::<f64>() / 2.0 - if corners.len() == 4 { 5.2 } else { 0.0 }).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_plate_on_its_corner_closes_no_more_than_its_lower_corner() {
        // A square of 2 m in the plane x = 0 turned by 45 degrees, its lowest corner √2 m below its middle at 1 m: 0.18 m above the floor it is
        // (0.18 + √2 - 1) m wide to each side, and wider above.
        let corner = 2.0_f64.sqrt();
        let points = [(0.0, -corner), (corner, 0.0), (0.0, corner), (-corner, 0.0)];
        let points = points.map(|(y, z)| Point3::new(0.0, y, 1.0 + z));
        let part = closing_part(&points, &Vector3::z(), FENCE);
        let widest = part.iter().map(|point| point.y.abs()).fold(0.0, f64::max);
        assert!((widest - (0.18 + corner - 1.0)).abs() < 1e-6, "{part:?}");
    }

    #[test]
    fn a_fence_that_leans_closes_all_its_width() {
        // By 30 degrees out of the vertical about its lower edge.
        let up = Vector3::new(0.0, 0.5, 0.75_f64.sqrt());
        let at = |x: f64, far: f64| Point3::new(x, 0.0, 0.0) + up * far;
        let points = [at(0.0, 0.0), at(4.0, 0.0), at(4.0, 2.0), at(0.0, 2.0)];
        let part = closing_part(&points, &up, FENCE);
        assert!(ends(&part).is_some_and(|ends| ends == [0.0, 4.0]), "{part:?}");
    }
}
