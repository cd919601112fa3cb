//! Decides the distance and the overlap of two convex cores, mm.
//!
//! The library's closest points only propose a direction. What is returned is the gap between two parallel planes square to
//! it, one touching each core: never more than the distance, whatever was proposed, and equal to it where the points are right.

use parry3d_f64::math::{Pose3, Vector};
use parry3d_f64::query::ClosestPoints;
use parry3d_f64::query::details::{
    closest_points_segment_segment, closest_points_support_map_support_map_with_params,
};
use parry3d_f64::query::gjk::{GJKResult, VoronoiSimplex};
use parry3d_f64::shape::{Cuboid, Segment, SupportMap, Triangle};

/// Steps of the pattern search for the least overlap.
const SEARCH_STEPS: usize = 40;

/// A convex core in its own frame.
#[derive(Clone, Debug)]
pub(super) enum Convex {
    /// Also a point, as a segment of no length.
    Segment(Segment),
    Box(Cuboid),
    Turned(Turned),
    Triangle(Triangle),
}

/// A cut cone about z, or a cylinder: exact, not a polygon.
#[derive(Clone, Debug)]
pub(crate) struct Turned {
    /// Radius at −z.
    pub(super) low: f64,
    /// Radius at +z.
    pub(super) high: f64,
    /// Half of its height.
    pub(super) half: f64,
}

impl SupportMap for Turned {
    fn local_support_point(&self, dir: Vector) -> Vector {
        let radial = (dir.x * dir.x + dir.y * dir.y).sqrt();
        let up = self.high * radial + self.half * dir.z >= self.low * radial - self.half * dir.z;
        let (radius, z) = if up { (self.high, self.half) } else { (self.low, -self.half) };
        if radial > 0.0 {
            Vector::new(radius * dir.x / radial, radius * dir.y / radial, z)
        } else {
            Vector::new(0.0, 0.0, z)
        }
    }
}

impl SupportMap for Convex {
    fn local_support_point(&self, dir: Vector) -> Vector {
        match self {
            Self::Segment(segment) => segment.local_support_point(dir),
            Self::Box(cuboid) => cuboid.local_support_point(dir),
            Self::Turned(turned) => turned.local_support_point(dir),
            Self::Triangle(triangle) => triangle.local_support_point(dir),
        }
    }
}

/// Distance of the cores where it is less than `within`; 0 where they touch or overlap.
pub(super) fn gap(first: &Convex, second: &Convex, first_from_second: &Pose3, within: f64) -> Option<f64> {
    if let (Convex::Segment(a), Convex::Segment(b)) = (first, second) {
        return match closest_points_segment_segment(first_from_second, a, b, within) {
            ClosestPoints::WithinMargin(on_a, on_b) => Some((first_from_second * on_b - on_a).length()),
            ClosestPoints::Intersecting => Some(0.0),
            ClosestPoints::Disjoint => None,
        };
    }
    if boxes_apart(first, second, first_from_second, within) {
        return None;
    }
    let mut simplex = VoronoiSimplex::new();
    let shown = match closest_points_support_map_support_map_with_params(
        first_from_second,
        first,
        second,
        within,
        &mut simplex,
        None,
    ) {
        GJKResult::Intersection => 0.0,
        GJKResult::ClosestPoints(on_first, on_second, _) => (on_second - on_first)
            .try_normalize()
            .map_or(0.0, |d| planes_apart(first, second, first_from_second, d)),
        // Without convergence the direction is arbitrary; then little or nothing is shown, and nothing is clear.
        GJKResult::NoIntersection(direction) | GJKResult::Proximity(direction) => {
            planes_apart(first, second, first_from_second, direction)
        }
    };
    (shown < within).then_some(shown.max(0.0))
}

/// Length of a translation that separates two cores that touch or overlap.
///
/// Translating by it along its direction brings the cores to either side of one plane. The direction is the best of the normals
/// of their flat faces, the crossings of their edges, the line between their middles and the normals of turned cores' flanks toward
/// each other; with a turned core it is then improved by a pattern search.
pub(super) fn overlap(first: &Convex, second: &Convex, first_from_second: &Pose3) -> f64 {
    let overlap_along = |d: Vector| -planes_apart(first, second, first_from_second, d);
    let ours = first.directions();
    let theirs = second.directions().into_iter().map(|d| first_from_second.rotation * d);
    let theirs: Vec<Vector> = theirs.collect();
    let crossings = ours.iter().flat_map(|a| theirs.iter().map(move |b| a.cross(*b)));
    let candidates = ours.iter().copied().chain(theirs.iter().copied()).chain(crossings);
    let between = first_from_second.translation;
    // The pattern search alone would stick where the rims of a flank's two ends touch the same plane.
    let flanks = [
        first.flank_toward(between),
        second.flank_toward(first_from_second.inverse().translation).map(|d| first_from_second.rotation * d),
    ];
    let candidates =
        candidates.chain([between]).chain(flanks.into_iter().flatten()).filter_map(Vector::try_normalize);
    let mut best = (f64::INFINITY, Vector::Z);
    for candidate in candidates {
        for direction in [candidate, -candidate] {
            let overlap = overlap_along(direction);
            if overlap < best.0 {
                best = (overlap, direction);
            }
        }
    }
    // Between flat-sided cores one of the candidates is the best there is.
    let axes = [
        first.is_turned().then_some(Vector::Z),
        second.is_turned().then(|| first_from_second.rotation * Vector::Z),
    ];
    let axes: Vec<Vector> = axes.into_iter().flatten().collect();
    if !axes.is_empty() {
        best = searched(best, &axes, overlap_along);
    }
    best.0.max(0.0)
}

/// The least of `overlap_along` and its direction that a pattern search about the axes of turned cores finds from `best` on.
fn searched(
    mut best: (f64, Vector),
    axes: &[Vector],
    overlap_along: impl Fn(Vector) -> f64,
) -> (f64, Vector) {
    let mut step = 0.25;
    for _ in 0..SEARCH_STEPS {
        let turns = axes.iter().flat_map(|axis| ring(best.1, *axis));
        let tried = turns.map(|turn| (best.1 + turn * step).normalize()).map(|d| (overlap_along(d), d));
        let least = tried.fold(best, |least, d| if d.0 < least.0 { d } else { least });
        if least.0 < best.0 {
            best = least;
        } else {
            step /= 2.0;
        }
    }
    best
}

/// Directions square to `direction` and between them: around `axis`, along it and askew. The overlap with a turned core has its least
/// value on an edge, where the core's flat end or flank comes to bear, and that edge runs around the core's axis.
fn ring(direction: Vector, axis: Vector) -> impl Iterator<Item = Vector> {
    let around = axis.cross(direction).try_normalize().unwrap_or_else(|| direction.any_orthonormal_vector());
    let along = direction.cross(around);
    [-1.0, 0.0, 1.0].into_iter().flat_map(move |a| [-1.0, 0.0, 1.0].map(|b| around * a + along * b))
}

/// Bounds of a core in a frame, its low and its high corner.
pub(super) fn bounds(convex: &Convex, frame_from_core: &Pose3) -> (Vector, Vector) {
    match convex {
        Convex::Segment(Segment { a, b }) => {
            let (a, b) = (frame_from_core * *a, frame_from_core * *b);
            (a.min(b), a.max(b))
        }
        Convex::Triangle(Triangle { a, b, c }) => {
            let [a, b, c] = [a, b, c].map(|corner| frame_from_core * *corner);
            (a.min(b).min(c), a.max(b).max(c))
        }
        Convex::Box(Cuboid { half_extents: half }) => {
            let [x, y, z] = [Vector::X * half.x, Vector::Y * half.y, Vector::Z * half.z]
                .map(|edge| (frame_from_core.rotation * edge).abs());
            let reach = x + y + z;
            (frame_from_core.translation - reach, frame_from_core.translation + reach)
        }
        Convex::Turned(Turned { low, high, half }) => {
            let axis = frame_from_core.rotation * Vector::Z;
            // A disc square to the axis reaches as far along x, y and z as the sine of their angles to the axis says.
            let sine = (Vector::ONE - axis * axis).max(Vector::ZERO).map(f64::sqrt);
            let (at_low, at_high) =
                (frame_from_core.translation - axis * *half, frame_from_core.translation + axis * *half);
            let lowest = (at_low - sine * *low).min(at_high - sine * *high);
            (lowest, (at_low + sine * *low).max(at_high + sine * *high))
        }
    }
}

/// Whether boxes around the cores along the first core's axes, or along the second's, are at least `within` apart: then so are they.
fn boxes_apart(first: &Convex, second: &Convex, first_from_second: &Pose3, within: f64) -> bool {
    let apart = |one: &Convex, other: &Convex, one_from_other: &Pose3| {
        let (low, high) = bounds(one, &Pose3::IDENTITY);
        let (other_low, other_high) = bounds(other, one_from_other);
        (other_low - high).max(low - other_high).max(Vector::ZERO).length_squared() >= within * within
    };
    apart(first, second, first_from_second) || apart(second, first, &first_from_second.inverse())
}

impl Convex {
    /// Start, end and radius of a round bar with round ends that holds it.
    pub(super) fn bar(&self) -> (Vector, Vector, f64) {
        match self {
            Self::Segment(segment) => (segment.a, segment.b, 0.0),
            Self::Box(Cuboid { half_extents: half }) => {
                let longest = [Vector::X * half.x, Vector::Y * half.y, Vector::Z * half.z].into_iter().fold(
                    Vector::ZERO,
                    |longest, axis| if axis.length() > longest.length() { axis } else { longest },
                );
                (-longest, longest, (*half - longest).length())
            }
            Self::Turned(Turned { low, high, half }) => {
                (Vector::Z * -half, Vector::Z * *half, low.max(*high))
            }
            Self::Triangle(Triangle { a, b, c }) => {
                let middle = (a + b + c) / 3.0;
                let radius = [a, b, c].map(|corner| middle.distance(*corner)).into_iter().fold(0.0, f64::max);
                (middle, middle, radius)
            }
        }
    }

    fn is_turned(&self) -> bool {
        matches!(self, Self::Turned(_))
    }

    /// Of a turned core the normal of its flank on the side where `point` is, of any length, both in its frame.
    fn flank_toward(&self, point: Vector) -> Option<Vector> {
        let Self::Turned(Turned { low, high, half }) = self else { return None };
        let across = Vector::new(point.x, point.y, 0.0).try_normalize()?;
        Some(across * (2.0 * half) + Vector::Z * (low - high))
    }

    /// Normals of its flat faces and directions of its edges.
    fn directions(&self) -> Vec<Vector> {
        match self {
            Self::Segment(segment) => vec![segment.b - segment.a],
            Self::Box(_) => vec![Vector::X, Vector::Y, Vector::Z],
            Self::Turned(_) => vec![Vector::Z],
            Self::Triangle(Triangle { a, b, c }) => vec![b - a, c - b, a - c, (b - a).cross(c - a)],
        }
    }
}

/// Gap along `direction` (first to second, unit length, in the first core's frame) between planes square to it that touch the
/// cores; negative where the cores overlap along it.
fn planes_apart(first: &Convex, second: &Convex, first_from_second: &Pose3, direction: Vector) -> f64 {
    let on_first = first.local_support_point(direction);
    let on_second = second.support_point(first_from_second, -direction);
    direction.dot(on_second - on_first)
}
