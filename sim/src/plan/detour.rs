//! Decides a way through the air where no simple one is clear: two trees in axis space, one from each end, grow toward places drawn at
//! random and toward each other until they meet; what they find is then made shorter.
//!
//! Kuffner, LaValle, "RRT-Connect: An efficient approach to single-query path planning", ICRA 2000. Effort is counted in tries. The
//! same seed, ends and cell give the same way.

use rand_chacha::ChaCha8Rng;
use seamwright_kinematics::{AxisValues, Range};

use crate::streams::{even, stream};
use crate::units;

/// Places drawn before it is given up.
pub(super) const TRIES: u64 = 1000;

/// Attempts at making a way shorter.
const SHORTENINGS: usize = 150;

/// The most that a point of arm or torch goes in one step of a tree.
fn step() -> f64 {
    units::mm(400.0)
}

/// How far beyond both ends and home an axis is looked at.
fn beyond() -> f64 {
    units::deg(60.0)
}

/// What a way must keep, and how long it takes.
pub(super) trait Air {
    /// Whether the straight move keeps every limit all the way.
    fn is_clear(&mut self, from: &AxisValues, to: &AxisValues) -> bool;
    /// The most that any point of arm and torch goes on a straight move, m.
    fn way(&self, from: &AxisValues, to: &AxisValues) -> f64;
    /// Time that a straight move takes at least, s.
    fn least_time(&self, from: &AxisValues, to: &AxisValues) -> f64;
}

/// A clear way from `from` to `to` through as few places as it takes, both included; `None` where none is found in [`TRIES`].
///
/// `ranges`: of each axis. `home`: a place worth passing.
pub(super) fn detour(
    air: &mut impl Air,
    ranges: &[Range; 6],
    (from, to): (&AxisValues, &AxisValues),
    home: &AxisValues,
    seed: u64,
) -> Option<Vec<AxisValues>> {
    let mut random = stream(seed, 0, &ends(from, to));
    let (low, high) = (from.inf(to).inf(home), from.sup(to).sup(home));
    let space: [Range; 6] = std::array::from_fn(|i| Range {
        min: (low[i] - beyond()).max(ranges[i].min),
        max: (high[i] + beyond()).min(ranges[i].max),
    });
    let mut trees = [Tree::at(from), Tree::at(to)];
    for attempt in 0..TRIES {
        // Home first, from either end: the place that is most often clear.
        let goal = if attempt < 2 { *home } else { drawn(&space, &mut random) };
        let growing = (attempt % 2) as usize;
        let Some(new) = trees[growing].grow_toward(air, &goal) else { continue };
        let reached = trees[growing].places[new];
        if let Some(met) = trees[1 - growing].connect_to(air, &reached) {
            let (forth, back) = if growing == 0 { (new, met) } else { (met, new) };
            let mut way = trees[0].back_from(forth);
            way.reverse();
            // The places where they meet are one and the same.
            way.extend(trees[1].back_from(back).into_iter().skip(1));
            shorten(air, &mut way, &mut random);
            return Some(way);
        }
    }
    None
}

/// Places that are known to be reached by straight clear moves from a first one.
struct Tree {
    places: Vec<AxisValues>,
    /// The place each was reached from; of the first, itself.
    parents: Vec<usize>,
}

impl Tree {
    fn at(place: &AxisValues) -> Self {
        Self { places: vec![*place], parents: vec![0] }
    }

    fn nearest(&self, air: &impl Air, goal: &AxisValues) -> usize {
        let mut nearest = (f64::INFINITY, 0);
        for (i, place) in self.places.iter().enumerate() {
            let way = air.way(place, goal);
            if way < nearest.0 {
                nearest = (way, i);
            }
        }
        nearest.1
    }

    /// One step from the nearest place toward `goal`; the new place, where that is clear.
    fn grow_toward(&mut self, air: &mut impl Air, goal: &AxisValues) -> Option<usize> {
        let near = self.nearest(air, goal);
        self.grow_from(near, air, goal)
    }

    fn grow_from(&mut self, near: usize, air: &mut impl Air, goal: &AxisValues) -> Option<usize> {
        let start = self.places[near];
        let way = air.way(&start, goal);
        if way <= 0.0 {
            return Some(near);
        }
        let next = if way <= step() { *goal } else { start.lerp(goal, step() / way) };
        air.is_clear(&start, &next).then(|| {
            self.places.push(next);
            self.parents.push(near);
            self.places.len() - 1
        })
    }

    /// Step after step from the nearest place to `goal`; the place there, where all of them are clear.
    fn connect_to(&mut self, air: &mut impl Air, goal: &AxisValues) -> Option<usize> {
        let mut at = self.nearest(air, goal);
        while self.places[at] != *goal {
            at = self.grow_from(at, air, goal)?;
        }
        Some(at)
    }

    /// The places from one back to the first.
    fn back_from(&self, mut at: usize) -> Vec<AxisValues> {
        let mut way = vec![self.places[at]];
        while self.parents[at] != at {
            at = self.parents[at];
            way.push(self.places[at]);
        }
        way
    }
}

/// Leaves out what is not needed, then cuts corners between places drawn at random, then leaves out again.
fn shorten(air: &mut impl Air, way: &mut Vec<AxisValues>, random: &mut ChaCha8Rng) {
    leave_out(air, way);
    for _ in 0..SHORTENINGS {
        if way.len() < 3 {
            return;
        }
        let mut place = || {
            let along = even(random) * (way.len() - 1) as f64;
            let index = (along.floor() as usize).min(way.len() - 2);
            (index, way[index].lerp(&way[index + 1], along - index as f64))
        };
        let (mut first, mut second) = (place(), place());
        if first.0 > second.0 {
            std::mem::swap(&mut first, &mut second);
        }
        if first.0 == second.0 {
            continue;
        }
        let replaced: Vec<AxisValues> = std::iter::once(first.1)
            .chain(way[first.0 + 1..=second.0].iter().copied())
            .chain([second.1])
            .collect();
        let before: f64 = replaced.windows(2).map(|pair| air.least_time(&pair[0], &pair[1])).sum();
        if air.least_time(&first.1, &second.1) < before - 1e-6 && air.is_clear(&first.1, &second.1) {
            way.splice(first.0 + 1..=second.0, [first.1, second.1]);
        }
    }
    leave_out(air, way);
}

/// From each place straight to the farthest that can be reached, where that takes no longer.
fn leave_out(air: &mut impl Air, way: &mut Vec<AxisValues>) {
    let mut at = 0;
    while at + 2 < way.len() {
        let farther = (at + 2..way.len()).rev().find(|&other| {
            let (from, to) = (way[at], way[other]);
            air.is_clear(&from, &to)
        });
        if let Some(other) = farther {
            way.drain(at + 1..other);
        }
        at += 1;
    }
}

fn drawn(space: &[Range; 6], random: &mut ChaCha8Rng) -> AxisValues {
    AxisValues::from_fn(|i, _| space[i].min + (space[i].max - space[i].min) * even(random))
}

/// What a detour leads from and to, to a billionth: the last bits of an axis value decide nothing.
fn ends(from: &AxisValues, to: &AxisValues) -> String {
    let values: Vec<String> = from.iter().chain(to.iter()).map(|value| format!("{value:.9}")).collect();
    format!("detour {}", values.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Only axes 1 and 2 matter: a wall at axis 1 = 0 from axis 2 = -0.5 upward must be passed below.
    struct Wall {
        asked: u64,
    }

    impl Wall {
        fn is_free(at: &AxisValues) -> bool {
            at[0].abs() > 0.1 || at[1] < -0.5
        }
    }

    impl Air for Wall {
        fn is_clear(&mut self, from: &AxisValues, to: &AxisValues) -> bool {
            self.asked += 1;
            (0..=200).all(|i| Self::is_free(&from.lerp(to, f64::from(i) / 200.0)))
        }

        fn way(&self, from: &AxisValues, to: &AxisValues) -> f64 {
            (to - from).norm()
        }

        fn least_time(&self, from: &AxisValues, to: &AxisValues) -> f64 {
            (to - from).amax()
        }
    }

    fn around(seed: u64, low: f64) -> Option<Vec<AxisValues>> {
        let ends = [-0.8, 0.8].map(|x| AxisValues::new(x, 0.0, 0.0, 0.0, 0.0, 0.0));
        let ranges = [Range { min: low, max: 1.5 }; 6];
        detour(&mut Wall { asked: 0 }, &ranges, (&ends[0], &ends[1]), &ends[0], seed)
    }

    #[test]
    fn a_way_round_a_wall_is_found_with_few_places_and_the_same_each_time() {
        let way = around(1, -1.5).unwrap();
        assert!((3..=5).contains(&way.len()), "{way:?}");
        let mut air = Wall { asked: 0 };
        assert!(way.windows(2).all(|pair| air.is_clear(&pair[0], &pair[1])), "{way:?}");
        assert_eq!(around(1, -1.5), Some(way));
    }

    #[test]
    fn where_the_range_ends_above_the_gap_no_way_is_found() {
        assert_eq!(around(1, -0.45), None);
    }
}
