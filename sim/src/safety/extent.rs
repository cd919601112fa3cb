//! Decides how far a point lies outside the extent of a zone, or how deep inside.

use nalgebra::{Point2, Point3, Vector2};

use crate::cell::Region;

/// Signed distance of a point from a zone's extent, m, both in the zone's frame: how far outside, or minus how deep inside.
///
/// Exact outside and inside for boxes, cylinders and outlines; of a flat field it is how far the point is from the rectangle.
#[must_use]
pub fn signed_distance(region: &Region, point: &Point3<f64>) -> f64 {
    match region {
        Region::Box { half } => {
            let beyond = point.coords.abs() - half;
            let outside = beyond.map(|c| c.max(0.0)).norm();
            outside + beyond.max().min(0.0)
        }
        Region::Cylinder { radius, half_height } => {
            let round = point.coords.xy().norm() - radius;
            both(round, point.z.abs() - half_height)
        }
        Region::Outline { corners, height } => {
            both(from_outline(corners, &point.xy()), (-point.z).max(point.z - height))
        }
        Region::Field { half_width, height } => {
            let beside = (point.x.abs() - half_width).max(0.0);
            let above = (-point.z).max(point.z - height).max(0.0);
            beside.hypot(above).hypot(point.y)
        }
    }
}

/// Distances from two extents that are square to each other, as one.
fn both(one: f64, other: f64) -> f64 {
    one.max(0.0).hypot(other.max(0.0)) + one.max(other).min(0.0)
}

/// Signed distance from a polygon that runs counter-clockwise.
fn from_outline(corners: &[Point2<f64>], point: &Point2<f64>) -> f64 {
    let mut nearest = f64::INFINITY;
    let mut inside = false;
    for (index, a) in corners.iter().enumerate() {
        let b = &corners[(index + 1) % corners.len()];
        let along: Vector2<f64> = b - a;
        let share = ((point - a).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
        nearest = nearest.min((point - (a + along * share)).norm());
        // Sides that a ray toward +x passes.
        if (a.y > point.y) != (b.y > point.y) {
            let x = a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x);
            inside ^= point.x < x;
        }
    }
    if inside { -nearest } else { nearest }
}

/// Points in the zone's frame in whose hull its extent lies; a circle is a polygon about it, at most 0.13 % of its radius too wide.
#[must_use]
pub fn corners(region: &Region) -> Vec<Point3<f64>> {
    const ROUND: usize = 64;
    let upright = |flat: &[Point2<f64>], low: f64, high: f64| {
        flat.iter().flat_map(|point| [low, high].map(|z| Point3::new(point.x, point.y, z))).collect()
    };
    match region {
        Region::Box { half } => {
            let flat = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
            upright(&flat.map(|(x, y)| Point2::new(x * half.x, y * half.y)), -half.z, half.z)
        }
        Region::Cylinder { radius, half_height } => {
            let radius = radius / (std::f64::consts::PI / ROUND as f64).cos();
            let rim: Vec<Point2<f64>> = (0..ROUND)
                .map(|corner| {
                    let (sin, cos) = (std::f64::consts::TAU * corner as f64 / ROUND as f64).sin_cos();
                    Point2::new(radius * cos, radius * sin)
                })
                .collect();
            upright(&rim, -half_height, *half_height)
        }
        Region::Outline { corners, height } => upright(corners, 0.0, *height),
        Region::Field { half_width, height } => {
            upright(&[Point2::new(-half_width, 0.0), Point2::new(*half_width, 0.0)], 0.0, *height)
        }
    }
}

/// Whether every straight line between two points of an extent stays in it.
#[must_use]
pub fn is_convex(region: &Region) -> bool {
    let Region::Outline { corners, .. } = region else { return true };
    let count = corners.len();
    (0..count).all(|at| {
        let (a, b, c) = (corners[at], corners[(at + 1) % count], corners[(at + 2) % count]);
        (b - a).perp(&(c - b)) >= 0.0
    })
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector3;

    use super::*;

    fn square() -> Region {
        let corners = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(Point2::from).to_vec();
        Region::Outline { corners, height: 2.0 }
    }

    #[test]
    fn a_square_outline_is_the_box_of_its_size() {
        let cube = Region::Box { half: Vector3::new(1.0, 1.0, 1.0) };
        for k in 0..4000 {
            let at = |n: u32| f64::from((k * n + 17) % 401) / 100.0 - 2.0;
            let point = Point3::new(at(7), at(13), at(29));
            let raised = Point3::new(point.x, point.y, point.z + 1.0);
            let (of_box, of_outline) = (signed_distance(&cube, &point), signed_distance(&square(), &raised));
            assert!((of_box - of_outline).abs() < 1e-12, "{point}: {of_box} {of_outline}");
        }
    }

    #[test]
    fn distances_are_those_of_the_textbook() {
        let cases = [
            (square(), [2.0, 2.0, 3.0], 3.0_f64.sqrt()),
            (square(), [0.0, 0.0, 1.0], -1.0),
            (square(), [0.9, 0.0, 1.0], -0.1),
            (Region::Cylinder { radius: 1.0, half_height: 0.5 }, [3.0, 4.0, 0.0], 4.0),
            (Region::Cylinder { radius: 1.0, half_height: 0.5 }, [0.6, 0.8, 2.5], 2.0),
            (Region::Cylinder { radius: 1.0, half_height: 0.5 }, [4.0, 0.0, 4.5], 5.0),
            (Region::Field { half_width: 1.0, height: 2.0 }, [4.0, 4.0, 1.0], 5.0),
        ];
        for (region, point, expected) in cases {
            let found = signed_distance(&region, &Point3::from(point));
            assert!((found - expected).abs() < 1e-12, "{region:?} {point:?}: {found}, not {expected}");
        }
    }

    #[test]
    fn a_notch_is_outside() {
        let corners = [[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [2.0, 2.0], [2.0, 4.0], [0.0, 4.0]];
        let ell = Region::Outline { corners: corners.map(Point2::from).to_vec(), height: 1.0 };
        assert!(!is_convex(&ell) && is_convex(&square()));
        let distance = signed_distance(&ell, &Point3::new(3.0, 3.5, 0.5));
        assert!((distance - 1.0).abs() < 1e-12, "{distance}");
        assert!(signed_distance(&ell, &Point3::new(1.0, 3.0, 0.5)) < 0.0);
    }
}
