//! Decides a good order of many tasks: from the order given, stretches of up to three tasks are moved or turned round, and stretches of
//! any length turned round, as long as that makes the tour quicker; then the order is shaken a little and the same is tried again.

use std::ops::Range;

use super::{Problem, ROUNDING, Solved, Tour, in_order};
use crate::streams::{even, stream};

/// Orders worked out in all.
const MOST_ORDERS: usize = 20_000;

/// Times that the order is shaken: at first, and where it is asked again with some moves slower than they seemed.
pub(super) const SHAKES: [usize; 2] = [24, 1];

/// The longest stretch that is moved.
const LONGEST_MOVED: usize = 3;

struct Search<'p> {
    problem: &'p Problem,
    orders: usize,
    /// Room for [`Search::chosen`].
    times: [Vec<f64>; 2],
}

/// A good tour; its bound is left at 0, see `bound`. `shakes`: how often the order is shaken; `round`: how often was asked before.
pub(super) fn solved(problem: &Problem, near: &[usize], seed: u64, shakes: usize, round: u64) -> Solved {
    let mut search = Search { problem, orders: 0, times: Default::default() };
    let start = if problem.keeps_rules(near) { near.to_vec() } else { search.any_order() };
    let Some(mut best) = in_order::quick(problem, &start) else { return Solved { tour: None, bound: 0.0 } };
    best = search.improved(best);
    let mut random = stream(seed, round, "order of many tasks");
    for _ in 0..shakes {
        let order = search.tasks_of(&best);
        let shaken = shaken(&order, &mut || even(&mut random));
        if !problem.keeps_rules(&shaken) {
            continue;
        }
        if let Some(tour) = in_order::quick(problem, &shaken) {
            let tour = search.improved(tour);
            if tour.time < best.time - ROUNDING {
                best = tour;
            }
        }
    }
    let order = search.tasks_of(&best);
    let best = in_order::best(problem, &order)
        .map(|(tour, _)| tour)
        .filter(|tour| tour.time < best.time)
        .unwrap_or(best);
    Solved { tour: Some(best), bound: 0.0 }
}

/// The two halves of a stretch change places.
fn shaken(order: &[usize], even: &mut impl FnMut() -> f64) -> Vec<usize> {
    let mut cuts: Vec<usize> = (0..3).map(|_| 1 + (even() * (order.len() - 1) as f64) as usize).collect();
    cuts.sort_unstable();
    let [a, b, c] = [cuts[0], cuts[1], cuts[2]];
    [&order[..a], &order[b..c], &order[a..b], &order[c..]].concat()
}

impl Search<'_> {
    fn tasks_of(&self, tour: &Tour) -> Vec<usize> {
        tour.stops.iter().map(|stop| self.problem.task_of[*stop]).collect()
    }

    /// Tasks one after the other, each the first that may follow.
    fn any_order(&self) -> Vec<usize> {
        let tasks = self.problem.tasks();
        let (mut order, mut done) = (Vec::new(), vec![false; tasks]);
        while let Some(next) = (0..tasks).find(|task| {
            !done[*task] && self.problem.may_follow(|other| done[other], order.last().copied(), *task)
        }) {
            done[next] = true;
            order.push(next);
        }
        order
    }

    /// Changed as long as that helps.
    fn improved(&mut self, mut tour: Tour) -> Tour {
        let count = tour.stops.len();
        loop {
            let before = tour.time;
            for from in 0..count {
                for to in from + 1..=count {
                    let places =
                        if to - from <= LONGEST_MOVED { 0..count - (to - from) + 1 } else { from..from + 1 };
                    for place in places {
                        for turned in [false, true] {
                            if self.orders >= MOST_ORDERS {
                                return tour;
                            }
                            if let Some(better) = self.better(&tour, from..to, place, turned) {
                                tour = better;
                            }
                        }
                    }
                }
            }
            if tour.time >= before - ROUNDING {
                return tour;
            }
        }
    }

    /// The tour with a stretch moved to another place among the rest, or turned round, where that is quicker.
    fn better(&mut self, tour: &Tour, stretch: Range<usize>, place: usize, turned: bool) -> Option<Tour> {
        if (place == stretch.start && !turned) || (turned && stretch.len() == 1) {
            return None;
        }
        if self.problem.rules.rest.is_empty() && !self.gains(&tour.stops, &stretch, place, turned) {
            return None;
        }
        let order = self.tasks_of(tour);
        let mut moved = order[stretch.clone()].to_vec();
        if turned {
            moved.reverse();
        }
        let rest = [&order[..stretch.start], &order[stretch.end..]].concat();
        let next = [&rest[..place], &moved, &rest[place..]].concat();
        if !self.problem.keeps_rules(&next) {
            return None;
        }
        self.orders += 1;
        in_order::quick(self.problem, &next).filter(|found| found.time < tour.time - ROUNDING)
    }

    /// Whether it is quicker while all other tasks keep their choices, those of the stretch being chosen anew.
    fn gains(&mut self, stops: &[usize], stretch: &Range<usize>, place: usize, turned: bool) -> bool {
        let before = stretch.start.checked_sub(1).map(|at| stops[at]);
        let after = stops.get(stretch.end).copied();
        let mut gone = self.through(before, &stops[stretch.clone()], after);
        let mut come = 0.0;
        let (left, right) = if place == stretch.start {
            (before, after)
        } else {
            // Places are counted among the rest.
            let of_rest =
                |at: usize| stops.get(if at < stretch.start { at } else { at + stretch.len() }).copied();
            let (left, right) = (place.checked_sub(1).and_then(of_rest), of_rest(place));
            gone += self.through(left, &[], right);
            come += self.through(before, &[], after);
            (left, right)
        };
        come + self.chosen(left, (&stops[stretch.clone()], turned), right) < gone - ROUNDING
    }

    /// The time from one choice by way of others to another; none is home.
    fn through(&self, from: Option<usize>, stops: &[usize], to: Option<usize>) -> f64 {
        let mut time = 0.0;
        let mut last = from;
        for stop in stops {
            time += self.between(last, Some(*stop)) + self.problem.choices[*stop].own();
            last = Some(*stop);
        }
        time + self.between(last, to)
    }

    /// The least time from one choice over the tasks of others, turned round or not, to another; none is home.
    fn chosen(&mut self, from: Option<usize>, (stops, turned): (&[usize], bool), to: Option<usize>) -> f64 {
        let problem = self.problem;
        let [mut times, mut next] = std::mem::take(&mut self.times);
        let mut last = 0..0;
        for place in 0..stops.len() {
            let stop = stops[if turned { stops.len() - 1 - place } else { place }];
            let here = problem.of_task(problem.task_of[stop]);
            next.clear();
            next.extend(here.clone().map(|stop| {
                let so_far = last
                    .clone()
                    .zip(&times)
                    .map(|(from, time)| time + problem.between[from * problem.choices.len() + stop]);
                let first = if place == 0 { self.between(from, Some(stop)) } else { f64::INFINITY };
                so_far.fold(first, f64::min) + problem.choices[stop].own()
            }));
            std::mem::swap(&mut times, &mut next);
            last = here;
        }
        let ends = last.zip(&times).map(|(stop, time)| time + self.between(Some(stop), to));
        let least = ends.fold(f64::INFINITY, f64::min);
        self.times = [times, next];
        least
    }

    fn between(&self, from: Option<usize>, to: Option<usize>) -> f64 {
        match (from, to) {
            (None, Some(to)) => self.problem.leave[to],
            (Some(from), Some(to)) => self.problem.between[from * self.problem.choices.len() + to],
            (Some(from), None) => self.problem.come[from],
            (None, None) => 0.0,
        }
    }
}
