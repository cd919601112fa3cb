//! Decides the best order of few tasks: all sets of tasks done and choices last taken, from the end back (Held and Karp 1962, A dynamic
//! programming approach to sequencing problems); where tasks must rest, labels forward, with that table as what is left at least.
//!
//! A label is a way to have done a set of tasks. One that is nowhere earlier than another of the same set and end is dropped, as is one
//! that cannot beat the best tour known.

use std::collections::BTreeMap;

use super::{Passage, Problem, ROUNDING, Solved, Tour, in_order};

/// Labels after which the search ends without a proof.
const MOST_LABELS: usize = 1_000_000;

/// The best tour; `near` is an order that may serve to begin with.
pub(super) fn solved(problem: &Problem, near: &[usize]) -> Solved {
    let count = problem.choices.len();
    let table = Table::new(problem);
    let first = (0..count)
        .filter(|stop| problem.may_follow(|_| false, None, problem.task_of[*stop]))
        .map(|stop| (table.whole(problem, stop), stop))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((bound, first)) = first.filter(|(bound, _)| bound.is_finite()) else {
        return Solved { tour: None, bound: f64::INFINITY };
    };
    let tour = problem.tour(table.followed(problem, first));
    match tour {
        Some(tour) if tour.time <= bound + ROUNDING => Solved { bound: tour.time, tour: Some(tour) },
        tour => with_rests(problem, &table, tour, near, bound),
    }
}

/// What is left at least, without rests, by tasks done and choice last taken.
struct Table {
    count: usize,
    left: Vec<f64>,
}

impl Table {
    fn new(problem: &Problem) -> Self {
        let (tasks, count) = (problem.tasks(), problem.choices.len());
        let all = (1_usize << tasks) - 1;
        let mut left = vec![f64::INFINITY; (all + 1) * count];
        left[all * count..].copy_from_slice(&problem.come);
        let mut value = vec![f64::INFINITY; count];
        for done in (1..all).rev() {
            let is_done = |task: usize| done & (1 << task) != 0;
            if !(0..tasks).all(|task| !is_done(task) || problem.earlier[task].iter().all(|e| is_done(*e))) {
                continue;
            }
            for (stop, value) in value.iter_mut().enumerate() {
                let with = done | (1 << problem.task_of[stop]);
                *value = problem.choices[stop].own() + left[with * count + stop];
            }
            for last in (0..tasks).filter(|task| is_done(*task)) {
                let next: Vec<usize> = (0..tasks)
                    .filter(|task| !is_done(*task) && problem.may_follow(is_done, Some(last), *task))
                    .collect();
                for stop in problem.of_task(last) {
                    let row = &problem.between[stop * count..(stop + 1) * count];
                    let mut best = f64::INFINITY;
                    for task in &next {
                        for to in problem.of_task(*task) {
                            best = best.min(row[to] + value[to]);
                        }
                    }
                    left[done * count + stop] = best;
                }
            }
        }
        Self { count, left }
    }

    fn left(&self, done: usize, stop: usize) -> f64 {
        self.left[done * self.count + stop]
    }

    fn whole(&self, problem: &Problem, stop: usize) -> f64 {
        problem.leave[stop] + problem.choices[stop].own() + self.left(1 << problem.task_of[stop], stop)
    }

    /// The best tour that begins with `stop`.
    fn followed(&self, problem: &Problem, stop: usize) -> Vec<usize> {
        let (mut stops, mut done) = (vec![stop], 1_usize << problem.task_of[stop]);
        while stops.len() < problem.tasks() {
            let from = stops[stops.len() - 1];
            let is_done = |task: usize| done & (1 << task) != 0;
            let next = (0..self.count)
                .filter(|to| {
                    let task = problem.task_of[*to];
                    !is_done(task) && problem.may_follow(is_done, Some(problem.task_of[from]), task)
                })
                .map(|to| {
                    let left = self.left(done | (1 << problem.task_of[to]), to);
                    let own = problem.choices[to].own();
                    (problem.duration(Passage::Between(from, to)) + own + left, to)
                })
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, to)) = next else { break };
            stops.push(to);
            done |= 1 << problem.task_of[to];
        }
        stops
    }
}

/// A way to have done some tasks.
struct Label {
    time: f64,
    /// For each task, until when its work must rest.
    ready: Vec<f64>,
    parent: Option<usize>,
    stop: usize,
}

fn with_rests(problem: &Problem, table: &Table, without: Option<Tour>, near: &[usize], bound: f64) -> Solved {
    let mut orders: Vec<Vec<usize>> = vec![near.to_vec()];
    orders.extend(without.map(|tour| tour.stops.iter().map(|stop| problem.task_of[*stop]).collect()));
    let known = orders.iter().filter(|order| problem.keeps_rules(order));
    let known = known.filter_map(|order| in_order::best(problem, order)).map(|(tour, _)| tour);
    let mut best = known.min_by(|a, b| a.time.total_cmp(&b.time));
    let tasks = problem.tasks();
    // From when a task's work may begin to the end of the tour, at least.
    let tails: Vec<f64> = (0..tasks)
        .map(|task| {
            let of =
                problem.of_task(task).map(|stop| problem.choices[stop].work + problem.choices[stop].after);
            of.fold(f64::INFINITY, f64::min) + problem.come.iter().copied().fold(f64::INFINITY, f64::min)
        })
        .collect();
    let mut labels: Vec<Label> = Vec::new();
    let mut layer: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    let begin = Label { time: 0.0, ready: vec![f64::NEG_INFINITY; tasks], parent: None, stop: 0 };
    let mut steps: Vec<(usize, Label)> = (0..problem.choices.len())
        .filter(|stop| problem.may_follow(|_| false, None, problem.task_of[*stop]))
        .map(|stop| (0, stepped(problem, &begin, None, stop, Passage::First(stop))))
        .collect();
    for _ in 0..tasks {
        layer.clear();
        // The quickest first: it drops most of the others.
        steps.sort_by(|a, b| a.1.time.total_cmp(&b.1.time));
        for (before, label) in steps {
            let task = problem.task_of[label.stop];
            let done = before | (1 << task);
            let open = (0..tasks).filter(|task| done & (1 << task) == 0);
            let rested = open.map(|task| label.ready[task] + tails[task]).fold(0.0, f64::max);
            let at_least = (label.time + table.left(done, label.stop)).max(rested);
            if !at_least.is_finite() || best.as_ref().is_some_and(|best| at_least > best.time - ROUNDING) {
                continue;
            }
            let same = layer.entry((done, label.stop)).or_default();
            let nowhere_later = |other: &Label| {
                other.time <= label.time + ROUNDING
                    && (0..tasks).all(|task| {
                        done & (1 << task) != 0
                            || other.ready[task] <= label.ready[task].max(label.time) + ROUNDING
                    })
            };
            if same.iter().any(|other| nowhere_later(&labels[*other])) {
                continue;
            }
            same.push(labels.len());
            labels.push(label);
            if labels.len() > MOST_LABELS {
                return Solved { tour: best, bound };
            }
        }
        steps = Vec::new();
        for ((done, stop), same) in &layer {
            let is_done = |task: usize| done & (1 << task) != 0;
            for label in same {
                for to in 0..problem.choices.len() {
                    let task = problem.task_of[to];
                    if is_done(task) || !problem.may_follow(is_done, Some(problem.task_of[*stop]), task) {
                        continue;
                    }
                    let passage = Passage::Between(*stop, to);
                    let next = stepped(problem, &labels[*label], Some(*label), to, passage);
                    if next.time.is_finite() {
                        steps.push((*done, next));
                    }
                }
            }
        }
    }
    let home = |label: &usize| labels[*label].time + problem.come[labels[*label].stop];
    let last = layer.values().flatten().min_by(|a, b| home(a).total_cmp(&home(b)));
    if let Some(last) = last.filter(|last| best.as_ref().is_none_or(|best| home(last) < best.time)) {
        let mut stops = Vec::with_capacity(tasks);
        let mut at = Some(*last);
        while let Some(label) = at {
            stops.push(labels[label].stop);
            at = labels[label].parent;
        }
        stops.reverse();
        best = problem.tour(stops);
    }
    let bound = best.as_ref().map_or(f64::INFINITY, |best| best.time);
    Solved { tour: best, bound }
}

fn stepped(problem: &Problem, from: &Label, parent: Option<usize>, stop: usize, passage: Passage) -> Label {
    let (task, choice) = (problem.task_of[stop], problem.choices[stop]);
    let there = from.time + problem.duration(passage) + choice.before;
    let end = there.max(from.ready[task]) + choice.work;
    let mut ready = from.ready.clone();
    for (first, second, rest) in &problem.rules.rest {
        if *first == task {
            ready[*second] = ready[*second].max(end + rest);
        }
    }
    Label { time: end + choice.after, ready, parent, stop }
}
