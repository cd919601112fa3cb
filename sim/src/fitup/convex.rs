//! Convex areas in a plane: what is left of one, where two meet, and which ways of a length lead from one into another.

use std::f64::consts::TAU;

use nalgebra::Vector2;

use crate::units::mm;

/// Corners of what is round.
const CORNERS: usize = 32;
/// Corners that are no farther apart are one, mm.
const SAME_MM: f64 = 1e-6;
/// Directions in which the farthest places of an area are looked for.
const WAYS: usize = 8;
/// A place at its edge is taken so far in, as a share of the way to the middle.
const INWARD: f64 = 0.05;

/// Where something may be: its corners counter-clockwise, m.
#[derive(Clone, Debug)]
pub(super) struct Convex {
    corners: Vec<Vector2<f64>>,
}

impl Convex {
    /// A square with its middle at the origin.
    pub(super) fn square(half: f64) -> Self {
        Self {
            corners: [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
                .map(|(x, y)| Vector2::new(x, y) * half)
                .into(),
        }
    }

    /// A round, but for what its flats take of it.
    pub(super) fn round(middle: Vector2<f64>, radius: f64) -> Self {
        let corner = |step: usize| {
            let (sin, cos) = (step as f64 * TAU / CORNERS as f64).sin_cos();
            middle + Vector2::new(cos, sin) * radius
        };
        Self { corners: (0..CORNERS).map(corner).collect() }
    }

    /// The part of it that goes along a unit vector at least so far, m; none where it does nowhere.
    pub(super) fn cut(&self, along: &Vector2<f64>, least: f64) -> Option<Self> {
        let beyond = |corner: &Vector2<f64>| corner.dot(along) - least;
        if self.corners.iter().all(|corner| beyond(corner) >= 0.0) {
            return Some(self.clone());
        }
        let mut corners: Vec<Vector2<f64>> = Vec::new();
        for (index, corner) in self.corners.iter().enumerate() {
            let next = self.corners[(index + 1) % self.corners.len()];
            let (here, there) = (beyond(corner), beyond(&next));
            if here >= 0.0 {
                corners.push(*corner);
            }
            if (here >= 0.0) != (there >= 0.0) {
                corners.push(corner + (next - corner) * (here / (here - there)));
            }
        }
        corners.dedup_by(|a, b| (*a - *b).norm() < mm(SAME_MM));
        (!corners.is_empty()).then_some(Self { corners })
    }

    /// Where both are; none where they do not meet.
    pub(super) fn meeting(&self, other: &Self) -> Option<Self> {
        let all = self.sides().chain(other.sides());
        if all.into_iter().any(|(out, most)| self.least(&out) > most || other.least(&out) > most) {
            return None;
        }
        other.sides().try_fold(self.clone(), |left, (out, most)| left.cut(&-out, -most))
    }

    /// `place` less each place of it.
    pub(super) fn away_from(&self, place: &Vector2<f64>) -> Self {
        Self { corners: self.corners.iter().map(|corner| place - corner).collect() }
    }

    /// Whether a place is in it, or on its edge but for rounding.
    pub(super) fn contains(&self, place: &Vector2<f64>) -> bool {
        self.sides().all(|(out, most)| place.dot(&out) <= most + mm(SAME_MM))
    }

    /// Its middle, and its farthest places.
    pub(super) fn places(&self) -> Vec<Vector2<f64>> {
        let middle = self.corners.iter().sum::<Vector2<f64>>() / self.corners.len() as f64;
        let mut places = vec![middle];
        for step in 0..WAYS {
            let (sin, cos) = (step as f64 * TAU / WAYS as f64).sin_cos();
            let way = Vector2::new(cos, sin);
            let farthest = self.corners.iter().max_by(|a, b| a.dot(&way).total_cmp(&b.dot(&way)));
            let place = farthest.map_or(middle, |corner| corner + (middle - corner) * INWARD);
            places.push(place);
        }
        places
    }

    /// From where to where, rad from the first axis, the ways of this length (m) go that lead from a place in it to one in another.
    ///
    /// Those ways fill a convex area, the Minkowski sum of the other with the mirror image of this one: its sides are those of both, and
    /// along each it reaches as far as the other does less what this one does at least.
    pub(super) fn turns_to(&self, other: &Self, length: f64) -> Vec<[f64; 2]> {
        let out = other.sides().map(|(out, _)| out).chain(self.sides().map(|(out, _)| -out));
        let limits: Vec<(Vector2<f64>, f64)> =
            out.map(|out| (out, other.most(&out) - self.least(&out))).collect();
        if limits.iter().any(|(_, most)| *most < -length) {
            return Vec::new();
        }
        let ends = limits.iter().filter(|(_, most)| *most < length).flat_map(|(out, most)| {
            let (middle, half) = (out.y.atan2(out.x), (most / length).acos());
            [middle - half, middle + half].map(|turn| turn.rem_euclid(TAU))
        });
        let mut ends: Vec<f64> = ends.collect();
        ends.sort_by(f64::total_cmp);
        let leads = |turn: f64| {
            let way = Vector2::new(turn.cos(), turn.sin()) * length;
            limits.iter().all(|(out, most)| way.dot(out) <= *most)
        };
        let Some(first) = ends.first().copied() else {
            return if leads(0.0) { vec![[0.0, TAU]] } else { Vec::new() };
        };
        let next = ends.iter().skip(1).copied().chain([first + TAU]);
        let between = ends.iter().copied().zip(next).filter(|(from, to)| leads(0.5 * (from + to)));
        let mut turns: Vec<[f64; 2]> = Vec::new();
        for (from, to) in between {
            match turns.last_mut() {
                Some([_, end]) if *end == from => *end = to,
                _ => turns.push([from, to]),
            }
        }
        turns
    }

    /// Its sides: which way each looks out, and how far that way it lies.
    fn sides(&self) -> impl Iterator<Item = (Vector2<f64>, f64)> {
        self.corners.iter().enumerate().filter_map(|(index, corner)| {
            let along = self.corners[(index + 1) % self.corners.len()] - corner;
            let out = Vector2::new(along.y, -along.x).try_normalize(mm(SAME_MM))?;
            Some((out, corner.dot(&out)))
        })
    }

    fn most(&self, way: &Vector2<f64>) -> f64 {
        self.corners.iter().map(|corner| corner.dot(way)).fold(f64::NEG_INFINITY, f64::max)
    }

    fn least(&self, way: &Vector2<f64>) -> f64 {
        -self.most(&-way)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, y: f64) -> Vector2<f64> {
        Vector2::new(mm(x), mm(y))
    }

    /// From one square of side 2 to one whose middle is 10 to the right, ways go 8 to 12 along and 2 up or down at most: of length 10 those
    /// up to asin(2/10), of 8 only the one straight on, and of 12.2 (√(12² + 2²) = 12.166) and 7.9 none.
    #[test]
    fn ways_between_two_squares_turn_as_far_as_their_corners_let_them() {
        let near = Convex::square(mm(1.0));
        let far = near.away_from(&at(10.0, 0.0));
        let turns = |length: f64| {
            let mut turns = near.turns_to(&far, mm(length));
            turns.retain(|[from, to]| to - from > 1e-7);
            turns
        };
        let [[from, to]] = turns(10.0)[..] else { panic!("{:?}", turns(10.0)) };
        let widest = 0.2_f64.asin();
        assert!((from - (TAU - widest)).abs() < 1e-9 && (to - TAU - widest).abs() < 1e-9, "{from} {to}");
        assert!(turns(7.9).is_empty() && turns(12.2).is_empty());
        // 12.1 passes the end of the area in the middle, where it is 12 along: acos(12/12.1) up to asin(2/12.1), on either side.
        let [low, high] = turns(12.1)[..] else { panic!("{:?}", turns(12.1)) };
        let (inner, outer) = ((12.0_f64 / 12.1).acos(), (2.0_f64 / 12.1).asin());
        assert!((high[0] - (TAU - outer)).abs() < 1e-9 && (high[1] - (TAU - inner)).abs() < 1e-9, "{high:?}");
        assert!((low[0] - inner).abs() < 1e-9 && (low[1] - outer).abs() < 1e-9, "{low:?}");
    }

    /// Two squares of side 2 whose middles lie 1.5 apart both ways meet in one of side 0.5.
    #[test]
    fn two_areas_meet_where_both_are() {
        let near = Convex::square(mm(1.0));
        let met = near.meeting(&near.away_from(&at(1.5, 1.5))).unwrap();
        assert!(met.contains(&at(0.75, 0.75)) && !met.contains(&at(0.4, 0.75)));
        assert!(near.meeting(&near.away_from(&at(2.1, 0.0))).is_none());
    }
}
