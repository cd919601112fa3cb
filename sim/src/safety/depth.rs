//! Decides how near anything in the hull of some points comes to a zone, or how deep into it: the least signed distance of all of it, its faces
//! too, not only of its edges.
//!
//! An extent without a notch is looked at as a whole: where it is met, as one that is drawn in all round until it no longer is. One with a notch
//! is looked at in triangles, and how deep something is in it is what their own depth, its corners and its edges show: no more than it really is.

use earcut::Earcut;
use nalgebra::{Point2, Point3};

use super::closing::kept_by;
use super::extent::{is_convex, signed_distance};
use super::front::beyond;
use super::seen::along_edges;
use crate::cell::Region;
use crate::plan::clearance::{Extent, Hull};

/// How closely a depth is narrowed down, m; what is told is the upper end of it.
const DEPTH_STEP: f64 = 1e-7;

/// The extent of a zone and the convex pieces that make it, in the zone's frame.
#[derive(Clone, Debug)]
pub struct Deep {
    region: Region,
    pieces: Vec<Piece>,
}

/// A convex piece of an extent.
#[derive(Clone, Debug)]
struct Piece {
    shape: Shape,
    /// As it is drawn.
    whole: Extent,
}

#[derive(Clone, Debug)]
enum Shape {
    /// Upright on a convex polygon, counter-clockwise, between two heights; of a flat field on a line.
    Upright {
        corners: Vec<Point2<f64>>,
        heights: [f64; 2],
    },
    Cylinder {
        radius: f64,
        half_height: f64,
    },
}

impl Deep {
    /// Of an extent.
    #[must_use]
    pub fn new(region: &Region) -> Self {
        let flat = |x: f64, y: f64| Point2::new(x, y);
        let shapes = match region {
            Region::Box { half } => {
                let corners = vec![
                    flat(-half.x, -half.y),
                    flat(half.x, -half.y),
                    flat(half.x, half.y),
                    flat(-half.x, half.y),
                ];
                vec![Shape::Upright { corners, heights: [-half.z, half.z] }]
            }
            Region::Cylinder { radius, half_height } => {
                vec![Shape::Cylinder { radius: *radius, half_height: *half_height }]
            }
            Region::Outline { corners, height } => {
                let pieces = if is_convex(region) { vec![corners.clone()] } else { triangles(corners) };
                let heights = [0.0, *height];
                pieces.into_iter().map(|corners| Shape::Upright { corners, heights }).collect()
            }
            Region::Field { half_width, height } => {
                let corners = vec![flat(-half_width, 0.0), flat(*half_width, 0.0)];
                vec![Shape::Upright { corners, heights: [0.0, *height] }]
            }
        };
        let whole = |shape: Shape| Some(Piece { whole: shape.drawn_in(0.0)?, shape });
        Self { region: region.clone(), pieces: shapes.into_iter().filter_map(whole).collect() }
    }

    /// Signed distance of a point, m, as [`signed_distance`] has it.
    #[must_use]
    pub fn of_point(&self, point: &Point3<f64>) -> f64 {
        signed_distance(&self.region, point)
    }

    /// The least signed distance of anything in the hull of some points, m, and where that is; none without points.
    #[must_use]
    pub fn least(&self, points: &[Point3<f64>]) -> Option<(f64, Point3<f64>)> {
        if let [point] = points {
            return Some((self.of_point(point), *point));
        }
        let hull = Hull::new(points)?;
        let nearer = |least: (f64, Point3<f64>), other: (f64, Point3<f64>)| {
            if other.0 < least.0 { other } else { least }
        };
        let apart = self.pieces.iter().map(|piece| hull.nearest_to(&piece.whole));
        let (least, point) = apart.reduce(|least, other| if other.0 < least.0 { other } else { least })?;
        if let Some(point) = point {
            return Some((least, point));
        }
        let met = self.pieces.iter().filter_map(|piece| piece.depth(&hull));
        let deepest = if let [_] = self.pieces.as_slice() {
            met.reduce(nearer)
        } else {
            let edges = along_edges(points).into_iter();
            let edges = edges.map(|point| (self.of_point(&point), point));
            let met = met.map(|(_, point)| (self.of_point(&point), point));
            met.chain(edges).reduce(nearer)
        };
        deepest.or_else(|| points.first().map(|point| (0.0, *point)))
    }
}

impl Piece {
    /// Minus how deep something in a hull that meets it lies in it, m, and where; none where the deepest is not found since it meets nothing.
    fn depth(&self, hull: &Hull) -> Option<(f64, Point3<f64>)> {
        if hull.nearest_to(&self.whole).1.is_some() {
            return None;
        }
        let (mut met, mut beyond, mut nearest) = (0.0, self.shape.widest(), None);
        while beyond - met > DEPTH_STEP {
            let middle = f64::midpoint(met, beyond);
            match self.shape.drawn_in(middle).map(|inner| hull.nearest_to(&inner).1) {
                Some(None) => met = middle,
                apart => (beyond, nearest) = (middle, apart.flatten()),
            }
        }
        // Where it holds what is deepest in the piece, nothing of that was ever apart from it.
        Some((-beyond, nearest.or_else(|| self.shape.middle(met))?))
    }
}

impl Shape {
    /// No piece is drawn in by more than this before nothing of it is left, m.
    fn widest(&self) -> f64 {
        match self {
            Self::Upright { corners, heights } => {
                let across = corners.iter().flat_map(|a| corners.iter().map(move |b| (a - b).norm()));
                across.fold(0.0, f64::max).min(heights[1] - heights[0])
            }
            Self::Cylinder { radius, half_height } => radius.min(*half_height),
        }
    }

    /// The middle of what is so deep in it.
    fn middle(&self, by: f64) -> Option<Point3<f64>> {
        let Self::Upright { corners, heights } = self else { return Some(Point3::origin()) };
        let left = inner(corners, by);
        let sum = left.iter().map(|corner| corner.coords).reduce(|sum, corner| sum + corner)?;
        let middle = sum / left.len() as f64;
        Some(Point3::new(middle.x, middle.y, f64::midpoint(heights[0], heights[1])))
    }

    /// All of it that is at least so deep in it; none where nothing is.
    fn drawn_in(&self, by: f64) -> Option<Extent> {
        match self {
            Self::Upright { corners, heights } => {
                let [low, high] = [heights[0] + by, heights[1] - by];
                let flat = if by > 0.0 { inner(corners, by) } else { corners.clone() };
                let upright = flat.iter().flat_map(|at| [low, high].map(|z| Point3::new(at.x, at.y, z)));
                let upright: Vec<Point3<f64>> = upright.collect();
                (low <= high).then(|| Hull::new(&upright).map(Extent::Hull)).flatten()
            }
            Self::Cylinder { radius, half_height } => {
                let (radius, half_height) = (radius - by, half_height - by);
                (radius >= 0.0 && half_height >= 0.0).then(|| Extent::cylinder(radius, half_height))
            }
        }
    }
}

/// What of a convex polygon is at least so far from each of its sides; nothing of a line.
fn inner(corners: &[Point2<f64>], by: f64) -> Vec<Point2<f64>> {
    if corners.len() < 3 {
        return Vec::new();
    }
    (0..corners.len()).fold(corners.to_vec(), |left, at| {
        let side = [corners[at], corners[(at + 1) % corners.len()]];
        kept_by(&left, |point| -beyond(&side, point) - by)
    })
}

/// Triangles that make a polygon, counter-clockwise.
fn triangles(corners: &[Point2<f64>]) -> Vec<Vec<Point2<f64>>> {
    let mut indices = Vec::<u32>::new();
    Earcut::new().earcut(corners.iter().map(|corner| [corner.x, corner.y]), &[], &mut indices);
    let triangle = |of: &[u32]| {
        let [a, b, c] = [0, 1, 2].map(|at| corners[of[at] as usize]);
        if beyond(&[a, b], &c) > 0.0 { vec![a, c, b] } else { vec![a, b, c] }
    };
    indices.chunks_exact(3).map(triangle).collect()
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector3;

    use super::*;

    fn block(low: [f64; 3], high: [f64; 3]) -> Vec<Point3<f64>> {
        let of = |corner: usize, axis: usize| if corner >> axis & 1 == 0 { low[axis] } else { high[axis] };
        (0..8).map(|corner| Point3::new(of(corner, 0), of(corner, 1), of(corner, 2))).collect()
    }

    fn ell() -> Region {
        let corners = [[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [2.0, 2.0], [2.0, 4.0], [0.0, 4.0]];
        Region::Outline { corners: corners.map(Point2::from).to_vec(), height: 1.0 }
    }

    /// Against looking at 40³ points of each block: the least of these is no less, and no more than what a step of the grid makes.
    #[test]
    fn the_least_is_what_looking_at_every_point_finds() {
        let square = [[-1.0, -1.0], [1.0, -1.0], [1.5, 0.5], [0.0, 1.0]].map(Point2::from).to_vec();
        let regions = [
            Region::Box { half: Vector3::new(0.3, 0.5, 0.4) },
            Region::Cylinder { radius: 0.6, half_height: 0.4 },
            Region::Outline { corners: square, height: 2.0 },
            ell(),
            Region::Field { half_width: 0.5, height: 1.0 },
        ];
        let blocks = [
            ([0.6, -3.0, -3.0], [0.9, 3.0, 3.0]),
            ([0.2, -3.0, -3.0], [0.9, 3.0, 3.0]),
            ([-5.0, -5.0, -5.0], [5.0, 5.0, 5.0]),
            ([1.9, 2.1, 0.2], [3.9, 5.0, 0.9]),
            ([-2.0, 0.1, 0.1], [-0.5, 0.2, 0.3]),
            ([-1.0, -2.0, 1.2], [3.0, 3.0, 1.6]),
        ];
        for region in &regions {
            for (low, high) in blocks {
                let (least, point) = Deep::new(region).least(&block(low, high)).unwrap();
                let mut seen = f64::INFINITY;
                let at =
                    |axis: usize, step: u32| low[axis] + (high[axis] - low[axis]) * f64::from(step) / 40.0;
                for step in 0..41_u32.pow(3) {
                    let here = Point3::new(at(0, step % 41), at(1, step / 41 % 41), at(2, step / 1681));
                    seen = seen.min(signed_distance(region, &here));
                }
                let step: f64 = (0..3).map(|axis| ((high[axis] - low[axis]) / 80.0).powi(2)).sum();
                assert!(seen - least <= step.sqrt() + 1e-6, "{region:?} {low:?}: {least}, not {seen}");
                // How deep something is in a notched one is only not overstated.
                let is_least = least <= seen + 1e-9 || (least < 0.0 && !is_convex(region));
                assert!(is_least, "{region:?} {low:?}: {least}, not {seen}");
                let there = signed_distance(region, &point);
                // Of a flat field that is met it is only known that it is.
                let is_known = least > 0.0 || !matches!(region, Region::Field { .. });
                assert!(
                    !is_known || (there - least).abs() < 1e-6,
                    "{region:?} {low:?}: {there} there, not {least}"
                );
            }
        }
    }

    #[test]
    fn the_triangles_of_a_polygon_are_as_large_as_it() {
        let Region::Outline { corners, .. } = ell() else { unreachable!() };
        let area = |corners: &[Point2<f64>]| {
            let pair = |at: usize| (corners[at].coords, corners[(at + 1) % corners.len()].coords);
            (0..corners.len()).map(|at| pair(at).0.perp(&pair(at).1)).sum::<f64>() / 2.0
        };
        let pieces = triangles(&corners);
        assert_eq!(pieces.len(), 4);
        assert!((pieces.iter().map(|piece| area(piece)).sum::<f64>() - 12.0).abs() < 1e-12);
    }
}
