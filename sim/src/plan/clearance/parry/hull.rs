//! Decides how near the hull of some points comes to something convex, and where on it that is.
//!
//! As in `convex`, the library only proposes a direction: what is returned is the gap between two planes square to it, never more than the
//! distance.

use nalgebra::Point3;
use parry3d_f64::math::{Pose3, Vector};
use parry3d_f64::query::details::closest_points_support_map_support_map_with_params;
use parry3d_f64::query::gjk::{GJKResult, VoronoiSimplex};
use parry3d_f64::shape::SupportMap;

use super::convex::Turned;
use crate::units::{mm, to_mm};

/// Something convex.
#[derive(Clone, Debug)]
pub(crate) enum Extent {
    /// The hull of some points, m; there must be one.
    Hull(Hull),
    /// A cylinder about z whose middle is in the origin.
    Cylinder(Turned),
}

/// The hull of some points.
#[derive(Clone, Debug)]
pub(crate) struct Hull(Vec<Vector>);

impl Hull {
    /// None of no points.
    pub(crate) fn new<'p>(points: impl IntoIterator<Item = &'p Point3<f64>>) -> Option<Self> {
        let points =
            points.into_iter().map(|point| Vector::new(to_mm(point.x), to_mm(point.y), to_mm(point.z)));
        let points: Vec<Vector> = points.collect();
        (!points.is_empty()).then_some(Self(points))
    }

    /// Distance to an extent in the same frame, m, and which point of this hull is nearest; 0 and none where they touch or overlap.
    pub(crate) fn nearest_to(&self, extent: &Extent) -> (f64, Option<Point3<f64>>) {
        match extent {
            Extent::Hull(other) => nearest(self, other),
            Extent::Cylinder(turned) => nearest(self, turned),
        }
    }
}

impl Extent {
    /// A cylinder about z whose middle is in the origin, m.
    pub(crate) fn cylinder(radius: f64, half_height: f64) -> Self {
        Self::Cylinder(Turned { low: to_mm(radius), high: to_mm(radius), half: to_mm(half_height) })
    }
}

impl SupportMap for Hull {
    fn local_support_point(&self, direction: Vector) -> Vector {
        let farther = |most: (f64, Vector), point: &Vector| {
            let far = direction.dot(*point);
            if far > most.0 { (far, *point) } else { most }
        };
        self.0.iter().fold((f64::NEG_INFINITY, self.0[0]), farther).1
    }
}

fn nearest(hull: &Hull, other: &impl SupportMap) -> (f64, Option<Point3<f64>>) {
    let mut simplex = VoronoiSimplex::new();
    let start = hull.0[0] - other.local_support_point(hull.0[0]);
    let found = closest_points_support_map_support_map_with_params(
        &Pose3::IDENTITY,
        hull,
        other,
        f64::MAX,
        &mut simplex,
        Some(start),
    );
    let (direction, point) = match found {
        GJKResult::ClosestPoints(on_hull, on_other, _) => (on_other - on_hull, on_hull),
        // Without convergence the direction is arbitrary; then little or nothing is shown.
        GJKResult::NoIntersection(direction) | GJKResult::Proximity(direction) => {
            (direction, hull.local_support_point(direction))
        }
        GJKResult::Intersection => return (0.0, None),
    };
    let Some(direction) = direction.try_normalize() else { return (0.0, None) };
    let gap = direction.dot(other.local_support_point(-direction) - hull.local_support_point(direction));
    if gap > 0.0 { (mm(gap), Some(Point3::new(mm(point.x), mm(point.y), mm(point.z)))) } else { (0.0, None) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate 4 m long and wide at z = 0, a ball of no radius 0.3 m above its middle, a cylinder 0.2 m high from 0.5 m on.
    #[test]
    fn what_is_before_the_middle_of_a_face_is_as_near_as_the_face() {
        let corners =
            [[-2.0, -2.0], [2.0, -2.0], [2.0, 2.0], [-2.0, 2.0]].map(|[x, y]| Point3::new(x, y, 0.0));
        let plate = Hull::new(&corners).unwrap();
        let above = Extent::Hull(Hull::new(&[Point3::new(0.7, 0.3, 0.3)]).unwrap());
        let (gap, point) = plate.nearest_to(&above);
        assert!((gap - 0.3).abs() < 1e-9 && (point.unwrap() - Point3::new(0.7, 0.3, 0.0)).norm() < 1e-9);
        let raised = corners.map(|corner| Point3::new(corner.x, corner.y, -0.6));
        let (gap, _) = Hull::new(&raised).unwrap().nearest_to(&Extent::cylinder(0.4, 0.1));
        assert!((gap - 0.5).abs() < 1e-9, "{gap}");
        assert_eq!(plate.nearest_to(&Extent::cylinder(0.4, 0.1)), (0.0, None));
    }
}
