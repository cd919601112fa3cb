//! Decides the best tour where a move's duration is known only once it was planned, and what is known before is the least that it may take.
//!
//! The best tour by what is known is looked for, more is learnt of those of its moves that were not planned, and the same asked again, until
//! the best tour has no move that was not planned: then it is the best by all durations as planned, since no other can turn out quicker than
//! it seems. Of a move a nearer least is learnt first, and only where its tour is still the best is it planned.

use std::collections::BTreeSet;

use super::{MOST_EXACT, Passage, Problem, ROUNDING, Tour, bound, in_order, solved};

/// In which order.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Asked<'o> {
    /// The quickest; one to begin with, and where random numbers begin.
    Quickest(&'o [usize], u64),
    /// This one.
    This(&'o [usize]),
}

/// How far to go.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Effort {
    /// Whether a nearer least of moves is learnt before they are planned. A search that finds no more than good tours is led astray by it:
    /// what it looked into seems slower than what it did not.
    pub nearer: bool,
    /// Moves planned before it is given up.
    pub most_planned: usize,
    /// Whether a bound is wanted where the best tour is not shown.
    pub bound: bool,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Found {
    /// The best tour all of whose moves were planned; none where there is none.
    pub tour: Option<Tour>,
    /// What no tour can beat, s: the tour's own time where it is shown to be the best; 0 where it was not asked for.
    pub bound: f64,
    /// Moves planned.
    pub planned: usize,
}

/// What can be learnt of moves.
pub(crate) trait Moves {
    /// The least that each may take, nearer than what is known from the start; less than that counts for nothing.
    fn nearer(&self, passages: &[Passage]) -> Vec<f64>;
    /// How long each takes, no less than the least; infinite where there is no way.
    fn planned(&self, passages: &[Passage]) -> Vec<f64>;
}

/// The best tour; in `problem` as much is left as was learnt of its moves.
pub(crate) fn standing(problem: &mut Problem, asked: Asked<'_>, effort: Effort, moves: &impl Moves) -> Found {
    let mut nearer: BTreeSet<Passage> = BTreeSet::new();
    let mut planned: BTreeSet<Passage> = BTreeSet::new();
    let mut best: Option<Tour> = None;
    let mut near: Vec<usize> = match asked {
        Asked::Quickest(order, _) | Asked::This(order) => order.to_vec(),
    };
    let is_exact = matches!(asked, Asked::This(_)) || problem.tasks() <= MOST_EXACT;
    let mut round = 0;
    let at_least = loop {
        let (tour, at_least) = match asked {
            Asked::This(order) => {
                let found = in_order::best(problem, order);
                let at_least = found
                    .as_ref()
                    .map_or(f64::INFINITY, |(tour, exact)| if *exact { tour.time } else { 0.0 });
                (found.map(|(tour, _)| tour), at_least)
            }
            Asked::Quickest(_, seed) => {
                let found = solved(problem, &near, seed, round);
                (found.tour, found.bound)
            }
        };
        let beaten = |tour: &Tour| best.as_ref().is_none_or(|best| tour.time < best.time - ROUNDING);
        // Else nothing that is known so far lets hope for more.
        let Some(tour) = tour.filter(beaten) else { break at_least };
        let of_tour = Problem::passages(&tour.stops);
        near = tour.stops.iter().map(|stop| problem.place(*stop).0).collect();
        let unknown = |known: &BTreeSet<Passage>| -> Vec<Passage> {
            of_tour.iter().copied().filter(|passage| !known.contains(passage)).collect()
        };
        let first = if effort.nearer { unknown(&nearer) } else { Vec::new() };
        for (passage, least) in first.iter().zip(moves.nearer(&first)) {
            problem.set(*passage, problem.duration(*passage).max(least));
        }
        nearer.extend(first);
        round += 1;
        if problem.time(&tour.stops) > tour.time + ROUNDING {
            continue;
        }
        let open = unknown(&planned);
        if best.is_some() && planned.len() + open.len() > effort.most_planned {
            break at_least;
        }
        let was_planned = open.is_empty();
        for (passage, duration) in open.iter().zip(moves.planned(&open)) {
            problem.set(*passage, duration);
        }
        planned.extend(open);
        let found = problem
            .tour(tour.stops)
            .filter(|found| best.as_ref().is_none_or(|best| found.time < best.time - ROUNDING));
        // One that was planned whole and is no better by its own times would only come again.
        if was_planned && found.is_none() {
            break at_least;
        }
        best = found.or(best);
    };
    let known = best.as_ref().map_or(f64::INFINITY, |best| best.time);
    let bound = if is_exact { at_least.min(known) } else { left_open(problem, effort, known) };
    Found { tour: best, bound, planned: planned.len() }
}

fn left_open(problem: &Problem, effort: Effort, known: f64) -> f64 {
    if effort.bound && known.is_finite() { bound::bound(problem, known) } else { 0.0 }
}
