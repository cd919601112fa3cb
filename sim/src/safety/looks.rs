//! Decides at which of all instants and stops something is least, without looking at most of them: where every body is at every instant,
//! and how far from there it goes at most in a whole stretch of them, stops included. What is too far off then is not looked at.
//!
//! The answer is the one that looking everywhere gives. Of equals the first in time counts, then the first body.

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::bodies::{MovingBodies, MovingBody};
use super::gather::{Nearest, arm_moves, turns};
use super::going::{Going, goes_between};
use super::seen::{Asked, Seen};
use super::stopping::Stops;
use super::stretch::Stretch;
use super::sweep::{Look, stop_looks};
use crate::cell::{Cell, StationId};
use crate::schedule::{Instant, Stance};

/// In a stretch in which a body goes farther than this its points are not looked at, since its halves tell more, m.
const FAR: f64 = 0.5;

/// Where everything is.
pub(super) struct Looks<'r> {
    cell: &'r Cell,
    bodies: &'r MovingBodies,
    instants: &'r [Instant],
    stops: &'r Stops,
    /// Of each instant.
    at: Vec<At>,
    /// Of each stretch, how far every body goes in it at most from the instant in its middle, m.
    spread: Vec<Vec<f64>>,
    /// Of each sort of instants one that stands for it.
    sorts: Vec<usize>,
    /// Sorts that occur in each stretch.
    occurring: Vec<Vec<usize>>,
}

/// Body by body.
struct At {
    world_from_carriers: Vec<Pose>,
    /// How far each goes at most in the stop that is ordered then, m.
    stopping: Vec<f64>,
}

/// What moves at an instant and what watches: alike in all that [`Seen::asks`] asks.
#[derive(PartialEq)]
struct Sort {
    at: Option<StationId>,
    arm_moves: bool,
    turning: Vec<bool>,
}

impl Sort {
    fn of(instant: &Instant) -> Self {
        let axes = 0..instant.motion.rates.external.len();
        Self {
            at: instant.service.is_none().then_some(instant.station),
            arm_moves: arm_moves(instant),
            turning: axes.map(|axis| turns(instant, axis)).collect(),
        }
    }
}

impl<'r> Looks<'r> {
    pub(super) fn new(
        cell: &'r Cell,
        bodies: &'r MovingBodies,
        instants: &'r [Instant],
        stops: &'r Stops,
    ) -> Self {
        let at = instants.par_iter().map(|instant| At::new(cell, bodies, stops, instant)).collect();
        let (mut sorts, mut known): (Vec<usize>, Vec<Sort>) = (Vec::new(), Vec::new());
        let mut sort_of = |(index, instant): (usize, &Instant)| {
            let sort = Sort::of(instant);
            known.iter().position(|other| *other == sort).unwrap_or_else(|| {
                known.push(sort);
                sorts.push(index);
                sorts.len() - 1
            })
        };
        let of_instants: Vec<usize> = instants.iter().enumerate().map(&mut sort_of).collect();
        let numbers = Stretch::numbers(instants.len());
        let (spread, occurring) = (vec![Vec::new(); numbers], vec![Vec::new(); numbers]);
        let mut looks = Self { cell, bodies, instants, stops, at, spread, sorts, occurring };
        if let Some(all) = Stretch::all(instants.len()) {
            looks.gather(all, &of_instants);
        }
        looks
    }

    /// Gathers how far everything goes in a stretch, and which sorts occur in it.
    fn gather(&mut self, stretch: Stretch, sorts: &[usize]) {
        let middle = stretch.middle();
        let Some(halves) = stretch.halves() else {
            self.spread[stretch.number].clone_from(&self.at[middle].stopping);
            self.occurring[stretch.number] = vec![sorts[middle]];
            return;
        };
        halves.into_iter().for_each(|half| self.gather(half, sorts));
        let goes = |body: usize| {
            let here = &self.at[middle].world_from_carriers[body];
            let goes = halves.map(|half| {
                let there = &self.at[half.middle()].world_from_carriers[body];
                goes_between(&self.bodies.bodies[body], here, there) + self.spread[half.number][body]
            });
            goes[0].max(goes[1])
        };
        let spread = (0..self.bodies.bodies.len()).map(goes).collect();
        let [mut occurring, others] = halves.map(|half| self.occurring[half.number].clone());
        occurring.extend(others);
        occurring.sort_unstable();
        occurring.dedup();
        (self.spread[stretch.number], self.occurring[stretch.number]) = (spread, occurring);
    }

    /// The answer to a question about a zone; none where nothing is asked about.
    pub(super) fn least(&self, seen: &Seen<'_>, asked: Asked) -> Option<Nearest> {
        let mut best = None;
        for (index, body) in self.bodies.bodies.iter().enumerate() {
            let counts = |&sort: &usize| seen.asks(asked, body, &self.instants[sort]);
            let counts: Vec<bool> = self.sorts.iter().map(counts).collect();
            let mut search = Search { looks: self, seen, asked, index, body, counts, best };
            if let Some(all) = Stretch::all(self.instants.len()) {
                search.stretch(all, f64::NEG_INFINITY);
            }
            best = search.best;
        }
        best.map(|best| best.nearest)
    }
}

impl At {
    fn new(cell: &Cell, bodies: &MovingBodies, stops: &Stops, instant: &Instant) -> Self {
        let stance = &instant.motion.stance;
        let going = Going::new(cell, stance);
        let poses = bodies.bodies.iter().map(|body| going.world_from_carrier(body));
        let world_from_carriers: Vec<Pose> = poses.collect();
        let stop = stops.from(&instant.motion);
        let off = Stance {
            axes: std::array::from_fn(|axis| stop.arm[axis].way).into(),
            external: stop.outside.iter().map(|braking| braking.way).collect(),
        };
        let goes = |(body, pose): (&MovingBody, &Pose)| going.farthest(body, &(pose * body.middle), &off);
        let stopping = if stop.time() > 0.0 {
            bodies.bodies.iter().zip(&world_from_carriers).map(goes).collect()
        } else {
            vec![0.0; bodies.bodies.len()]
        };
        Self { world_from_carriers, stopping }
    }
}

/// The least that is known.
struct Best {
    value: f64,
    instant: usize,
    /// Which look at the stop, from 1 on; 0 on the path.
    step: usize,
    nearest: Nearest,
}

/// Over all looks at one body.
struct Search<'s, 'r> {
    looks: &'s Looks<'r>,
    seen: &'s Seen<'s>,
    asked: Asked,
    index: usize,
    body: &'s MovingBody,
    /// Whether it is asked about, by sort of the instant.
    counts: Vec<bool>,
    best: Option<Best>,
}

impl Search<'_, '_> {
    /// Whether nothing from an instant on that is no less than `bound` counts any more.
    fn is_beaten(&self, bound: f64, from: usize) -> bool {
        let beats = |best: &Best| bound > best.value || (bound >= best.value && from > best.instant);
        self.best.as_ref().is_some_and(beats)
    }

    fn points(&self, instant: usize) -> Vec<Point3<f64>> {
        self.body.in_world(&self.looks.at[instant].world_from_carriers[self.index])
    }

    /// The bound of a stretch by a ball about all that the body takes up in it.
    fn ball(&self, stretch: Stretch) -> f64 {
        let middle = self.looks.at[stretch.middle()].world_from_carriers[self.index] * self.body.middle;
        let spread = self.looks.spread[stretch.number][self.index];
        self.seen.bound(self.asked, &[middle], self.body.reach + spread)
    }

    fn stretch(&mut self, stretch: Stretch, bound: f64) {
        let occurring = &self.looks.occurring[stretch.number];
        if self.is_beaten(bound, stretch.from) || !occurring.iter().any(|sort| self.counts[*sort]) {
            return;
        }
        let spread = self.looks.spread[stretch.number][self.index];
        if spread < FAR {
            let points = self.points(stretch.middle());
            let bound = self.seen.bound(self.asked, &points, self.body.radius + spread);
            if self.is_beaten(bound, stretch.from) {
                return;
            }
        }
        let Some(halves) = stretch.halves() else { return self.instant(stretch.middle()) };
        let mut halves = halves.map(|half| (self.ball(half), half));
        if halves[1].0 < halves[0].0 {
            halves.swap(0, 1);
        }
        halves.into_iter().for_each(|(bound, half)| self.stretch(half, bound));
    }

    /// Looks at an instant, and at the stop that is ordered then.
    fn instant(&mut self, index: usize) {
        let instant = &self.looks.instants[index];
        let points = self.points(index);
        let look = Look { instant, index, stopping_for: 0.0, stance: &instant.motion.stance };
        self.look(&look, 0, &points);
        let spread = self.looks.at[index].stopping[self.index];
        let bound = self.seen.bound(self.asked, &points, self.body.radius + spread);
        if spread <= 0.0 || self.is_beaten(bound, index) {
            return;
        }
        for (step, (stopping_for, stance)) in stop_looks(self.looks.stops, instant).enumerate() {
            let world_from_carrier = Going::new(self.looks.cell, &stance).world_from_carrier(self.body);
            let ball = world_from_carrier * self.body.middle;
            if !self.is_beaten(self.seen.bound(self.asked, &[ball], self.body.reach), index) {
                let look = Look { instant, index, stopping_for, stance: &stance };
                self.look(&look, step + 1, &self.body.in_world(&world_from_carrier));
            }
        }
    }

    fn look(&mut self, look: &Look<'_>, step: usize, points: &[Point3<f64>]) {
        let most = self.best.as_ref().map_or(f64::INFINITY, |best| best.value);
        let Some(nearest) = self.seen.found(self.asked, self.body, points, look, most) else { return };
        let value = self.asked.value(nearest.distance);
        let is_first = |best: &Best| value < best.value || (look.index, step) < (best.instant, best.step);
        if self.best.as_ref().is_none_or(is_first) {
            self.best = Some(Best { value, instant: look.index, step, nearest });
        }
    }
}
