//! Decides what a solid looks like from one side: the convex outline of its projection.
//!
//! Exact for every solid but a mesh with hollows, which is drawn as its convex outline.

use std::f64::consts::TAU;

use nalgebra::{Point2, Point3};
use seamwright_kinematics::Pose;

use crate::cell::Solid;

/// Points on each drawn circle.
const CIRCLE_POINTS: usize = 48;

/// From where the cell is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum View {
    /// From above: world x to the right, y up the sheet.
    Plan,
    /// From the side of negative y: world x to the right, z up the sheet.
    Side,
}

impl View {
    /// Where a point of the world is seen, m.
    pub(super) fn project(self, point: &Point3<f64>) -> Point2<f64> {
        match self {
            Self::Plan => Point2::new(point.x, point.y),
            Self::Side => Point2::new(point.x, point.z),
        }
    }
}

/// The outline of `solid` standing at `world_from_shape`, as seen; corners counter-clockwise, m.
pub(super) fn outline(view: View, world_from_shape: &Pose, solid: &Solid) -> Vec<Point2<f64>> {
    hull(skin(solid).iter().map(|point| view.project(&(world_from_shape * point))).collect())
}

/// Points whose convex hull is the solid's (round ones: inside it by less than a fifth of a percent of their radius).
fn skin(solid: &Solid) -> Vec<Point3<f64>> {
    match solid {
        Solid::Box { half } => {
            let side = |bit: usize, half: f64| if bit == 0 { -half } else { half };
            (0..8)
                .map(|i| Point3::new(side(i & 1, half.x), side(i & 2, half.y), side(i & 4, half.z)))
                .collect()
        }
        Solid::Cylinder { radius, half_height } => {
            circle(*radius, -half_height).chain(circle(*radius, *half_height)).collect()
        }
        Solid::Frustum { radius_low, radius_high, half_height } => {
            circle(*radius_low, -half_height).chain(circle(*radius_high, *half_height)).collect()
        }
        Solid::Capsule { radius, half_length } => ball(*radius)
            .flat_map(|point| {
                [-half_length, *half_length].map(|z| Point3::new(point.x, point.y, point.z + z))
            })
            .collect(),
        Solid::Sphere { radius } => ball(*radius).collect(),
        Solid::Mesh(mesh) => mesh.vertices.clone(),
    }
}

/// A circle about the z axis.
fn circle(radius: f64, z: f64) -> impl Iterator<Item = Point3<f64>> {
    (0..CIRCLE_POINTS).map(move |step| {
        let (sin, cos) = (TAU * step as f64 / CIRCLE_POINTS as f64).sin_cos();
        Point3::new(radius * cos, radius * sin, z)
    })
}

/// Circles of latitude of a ball about the origin.
fn ball(radius: f64) -> impl Iterator<Item = Point3<f64>> {
    (0..=CIRCLE_POINTS / 2).flat_map(move |step| {
        let (sin, cos) = (TAU * step as f64 / CIRCLE_POINTS as f64).sin_cos();
        circle(radius * sin, radius * cos)
    })
}

/// The corners of the convex hull, counter-clockwise. Method: A. M. Andrew, "Another efficient algorithm for convex hulls in
/// two dimensions", 1979 (from memory): the lower and the upper chain of the points in order.
fn hull(mut points: Vec<Point2<f64>>) -> Vec<Point2<f64>> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let mut corners = chain(points.iter());
    let upper = chain(points.iter().rev());
    corners.pop();
    corners.extend(upper);
    corners.pop();
    corners
}

fn chain<'p>(points: impl Iterator<Item = &'p Point2<f64>>) -> Vec<Point2<f64>> {
    let mut chain: Vec<Point2<f64>> = Vec::new();
    for point in points {
        while let [.., before, last] = chain.as_slice() {
            if (last - before).perp(&(point - last)) > 0.0 {
                break;
            }
            chain.pop();
        }
        chain.push(*point);
    }
    chain
}

#[cfg(test)]
mod tests {
    use nalgebra::{Translation3, UnitQuaternion, Vector3};

    use super::*;

    fn area(corners: &[Point2<f64>]) -> f64 {
        let next = corners.iter().cycle().skip(1);
        corners.iter().zip(next).map(|(a, b)| a.coords.perp(&b.coords) / 2.0).sum()
    }

    /// The shadow of a unit cube seen along its space diagonal is a regular hexagon of area √3 (school geometry).
    #[test]
    fn a_cube_seen_along_its_diagonal_is_a_hexagon() {
        let diagonal_up =
            UnitQuaternion::rotation_between(&Vector3::new(1.0, 1.0, 1.0), &Vector3::z()).unwrap();
        let pose = Pose::from_parts(Translation3::new(3.0, -2.0, 1.0), diagonal_up);
        let corners = outline(View::Plan, &pose, &Solid::Box { half: Vector3::repeat(0.5) });
        // Two of the eight corners fall on the centre.
        assert_eq!(corners.len(), 6);
        assert!((area(&corners) - 3.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_lying_cylinder_is_a_rectangle_and_a_standing_one_a_circle() {
        let solid = Solid::Cylinder { radius: 0.1, half_height: 0.3 };
        let standing = outline(View::Plan, &Pose::identity(), &solid);
        let side = outline(View::Side, &Pose::identity(), &solid);
        assert!((area(&standing) / (TAU / 2.0 * 0.01) - 1.0).abs() < 0.004);
        assert!((area(&side) - 0.2 * 0.6).abs() < 1e-12);
    }

    #[test]
    fn points_in_a_line_have_an_outline_without_area() {
        let line = hull((0..5).map(|i| Point2::new(f64::from(i), 0.0)).collect());
        assert_eq!(line, [Point2::new(0.0, 0.0), Point2::new(4.0, 0.0)]);
    }
}
