//! Decides how narrow the gap between two things is, as they stand, where somebody may be caught in it.
//!
//! Looked for along the edges of both, those first that may be nearest: each edge is halved where its distance to the other thing is least, until
//! what is left of it is a point. A point counts where the middle of the gap beside it is within reach.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::edges::{Edges, Held};
use super::queue::Queue;
use super::thing::{POINT, Placed, Thing};
use super::within_reach::{Counts, Walls, WithinReach};
use super::{Limb, WIDEST};
use crate::cell::{Solid, pose_along};
use crate::plan::clearance::Still;

/// No longer than this a piece of an edge is a point, m.
const SHORT: f64 = 4e-3;
/// To see on which side of a point another thing is, the point is moved by so much, m.
const GRADIENT_STEP: f64 = 1e-4;

/// A thing where it stands.
pub(super) struct Located<'t> {
    thing: &'t Thing,
    placed: Placed,
    still: Still,
    /// About it, in the world.
    pub(super) ball: (Point3<f64>, f64),
}

impl<'t> Located<'t> {
    pub(super) fn new(thing: &'t Thing, placed: Placed) -> Self {
        let still = Still::new([(&thing.solid(&placed), placed.world_from_thing)]);
        Self { thing, placed, still, ball: thing.ball(&placed) }
    }

    /// Whether a point is inside it.
    pub(super) fn holds(&self, point: &Point3<f64>) -> bool {
        let at = Pose::translation(point.x, point.y, point.z);
        self.still.gap(&Still::new([(&Solid::Sphere { radius: POINT }, at)]), POINT).is_some()
    }

    /// Least gap to another, m, where it is less than `within`.
    pub(super) fn gap(&self, other: &Self, within: f64) -> Option<f64> {
        self.still.gap(&other.still, within)
    }
}

/// A gap in which somebody may be caught.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Narrow {
    /// m; 0 where they touch.
    pub(super) gap: f64,
    pub(super) limb: Limb,
    /// Its middle in the world.
    pub(super) point: Point3<f64>,
}

/// The narrowest of the gaps between two things, `apart` (m) from each other, that count and whose middle nothing fills; the first wins of equal ones.
pub(super) fn narrowest(
    reach: &WithinReach<'_>,
    walls: Walls<'_>,
    pair: [&Located<'_>; 2],
    apart: f64,
    counts: Counts,
    is_filled: &dyn Fn(&Point3<f64>) -> bool,
) -> Option<Narrow> {
    let own = pair.map(|located| located.thing.own_edges(&located.placed));
    let edges: [&Edges; 2] = std::array::from_fn(|of| own[of].as_ref().unwrap_or(&pair[of].thing.edges));
    let mut search = Search { reach, walls, pair, edges, apart, counts, is_filled, queue: Queue::new() };
    for of in 0..2 {
        search.add_group(of, 0);
    }
    while let Some((of, piece)) = search.queue.pop() {
        match piece {
            Piece::Group(group) => match edges[of].group(group).map(|group| group.holds.clone()) {
                Some(Held::Groups(parts)) => parts.into_iter().for_each(|part| search.add_group(of, part)),
                Some(Held::Edges(range)) => range.for_each(|edge| search.add_edge(of, edges[of].line(edge))),
                None => {}
            },
            Piece::Line(line) => search.measure(of, line),
            Piece::Measured(line, gap) => search.halve(of, line, gap),
            Piece::Gap(narrow) => return Some(narrow),
        }
    }
    None
}

struct Search<'s, 't> {
    reach: &'s WithinReach<'s>,
    walls: Walls<'s>,
    pair: [&'s Located<'t>; 2],
    edges: [&'s Edges; 2],
    apart: f64,
    counts: Counts,
    is_filled: &'s dyn Fn(&Point3<f64>) -> bool,
    /// Of each piece whose edge it is.
    queue: Queue<(usize, Piece)>,
}

/// What may hold the narrowest gap; lines are in the world.
enum Piece {
    Group(usize),
    Line([Point3<f64>; 2]),
    Measured([Point3<f64>; 2], f64),
    Gap(Narrow),
}

impl Search<'_, '_> {
    fn add_group(&mut self, of: usize, index: usize) {
        let Some(group) = self.edges[of].group(index) else { return };
        let middle = self.pair[of].placed.world_from_thing * group.middle;
        self.add(of, &middle, group.radius, Piece::Group(index));
    }

    fn add_edge(&mut self, of: usize, line: [Point3<f64>; 2]) {
        let line = line.map(|end| self.pair[of].placed.world_from_thing * end);
        self.add(of, &nalgebra::center(&line[0], &line[1]), half(&line), Piece::Line(line));
    }

    /// Adds what lies in a ball, unless it cannot count.
    fn add(&mut self, of: usize, middle: &Point3<f64>, radius: f64, piece: Piece) {
        let rounding = self.pair[of].thing.rounding;
        let (other, other_radius) = &self.pair[1 - of].ball;
        let between = (middle - other).norm() - radius - rounding - other_radius;
        if let Some(gap) = self.reach.least_gap(
            (middle, radius + rounding),
            between.max(self.apart),
            self.counts,
            self.walls,
        ) {
            // Of pieces that are alike the shorter one is nearer to an answer.
            self.queue.push(gap, radius, (of, piece));
        }
    }

    /// Takes the distance of a piece of an edge to the other thing.
    fn measure(&mut self, of: usize, line: [Point3<f64>; 2]) {
        let along = line[1] - line[0];
        let (middle, half) = (nalgebra::center(&line[0], &line[1]), half(&line));
        let (thing, other) = (self.pair[of].thing, self.pair[1 - of]);
        let bar = Solid::Capsule { radius: thing.rounding, half_length: half };
        let bar = Still::new([(&bar, pose_along(&middle, &along))]);
        let Some(gap) = bar.gap(&other.still, WIDEST) else { return };
        let gap = gap.max(self.apart);
        // Of a convex thing the nearest point goes no farther than the point to which it is nearest, and so what is between goes no farther than
        // twice as far where the point is the middle of a ball.
        let at_most = self.reach.least_gap((&middle, half + thing.rounding), gap, self.counts, self.walls);
        let point = at_most.filter(|_| other.thing.is_convex()).and_then(|_| self.middle_of_gap(of, &middle));
        let least = match point {
            Some(point) => {
                let around = 2.0 * half + GRADIENT_STEP + if gap > 0.0 { 0.0 } else { 2.0 * thing.rounding };
                self.reach.least_gap_at((&point, around), gap, self.counts, self.walls)
            }
            None => at_most,
        };
        if let Some(least) = least {
            self.queue.push(least, half, (of, Piece::Measured(line, gap)));
        }
    }

    /// Halves a piece of an edge, or takes it as a point.
    fn halve(&mut self, of: usize, line: [Point3<f64>; 2], gap: f64) {
        let middle = nalgebra::center(&line[0], &line[1]);
        if 2.0 * half(&line) > SHORT {
            for part in [[line[0], middle], [middle, line[1]]] {
                let of_part = nalgebra::center(&part[0], &part[1]);
                let around = half(&part) + self.pair[of].thing.rounding;
                if let Some(gap) = self.reach.least_gap((&of_part, around), gap, self.counts, self.walls) {
                    self.queue.push(gap, half(&part), (of, Piece::Line(part)));
                }
            }
            return;
        }
        let Some(point) = self.middle_of_gap(of, &middle) else { return };
        let Some(limb) = self.reach.limb(&point, self.walls) else { return };
        if self.counts.has(limb, gap) && !(self.is_filled)(&point) {
            self.queue.push(gap, 0.0, (of, Piece::Gap(Narrow { gap, limb, point })));
        }
    }

    /// The middle of the gap between a point of an edge and the other thing, which lies where the distance falls; none where they are farther
    /// apart than counts.
    fn middle_of_gap(&self, of: usize, point: &Point3<f64>) -> Option<Point3<f64>> {
        let rounding = self.pair[of].thing.rounding;
        let ball = Solid::Sphere { radius: rounding };
        let gap_at = |point: Point3<f64>, within: f64| {
            let ball = Still::new([(&ball, Pose::translation(point.x, point.y, point.z))]);
            ball.gap(&self.pair[1 - of].still, within)
        };
        let here = gap_at(*point, 2.0 * WIDEST)?;
        // From both sides, so that a mirrored pair has the mirrored point.
        let away = Vector3::from_fn(|axis, _| {
            let there = |step: f64| gap_at(point + Vector3::ith(axis, step), here + 3.0 * GRADIENT_STEP);
            let sides = there(GRADIENT_STEP).zip(there(-GRADIENT_STEP));
            sides.map_or(0.0, |(after, before)| after - before)
        });
        let toward = away.try_normalize(f64::EPSILON).map_or_else(Vector3::zeros, |away| -away);
        let rounding = if rounding > POINT { rounding } else { 0.0 };
        Some(point + toward * (rounding + here / 2.0))
    }
}

fn half(line: &[Point3<f64>; 2]) -> f64 {
    (line[1] - line[0]).norm() / 2.0
}
