//! Decides what one station is to somebody who only knows tasks and moves: every seam is a task, every way over it a choice, and what leads
//! from one to the next takes as long as the schedule has it take.
//!
//! Before a move is planned, it is known to take no less than the straight way: each profile from rest to rest is quicker than any two that
//! make the same way by way of another place (its time is the least over u of u + y/u, u no less than x, or has one more such term for the
//! jerk, x and y being norms of the way; and norms of a sum are no more than the sums of norms).

use rayon::prelude::*;

use super::tour::{Asked, Choice, Effort, MOST_EXACT, Passage, Problem, Rules, Tour, standing};
use crate::cell::{Cell, SeamId, StationId};
use crate::motion::{AxisMove, ExternalMove};
use crate::plan::{Move, Passages, Searched, Stop};
use crate::schedule::{SeamTimes, duration_of, seam_times};

/// Moves planned of few seams before it is given up that the best order stands.
const MOST_PLANNED_OF_FEW: usize = 20_000;
/// The same of many.
const MOST_PLANNED: usize = 200;

/// An axis that goes no further stays: as the plan has it, rad.
const STAYS: f64 = 1e-9;

/// One way over one seam.
struct Over {
    /// Index of the search it comes from, and of the way in it.
    from: (usize, usize),
    start: Stop,
    end: Stop,
}

/// A station as tasks.
pub(super) struct Round<'a, 'c> {
    cell: &'c Cell,
    passages: &'a Passages<'c>,
    station: StationId,
    seams: Vec<SeamId>,
    /// Ways over each seam, in the order of `seams`, with what they take.
    over: Vec<Vec<(Over, Choice)>>,
}

/// An order that was found.
pub(super) struct Order {
    /// Seams and where their ways come from: which search, and which way in it.
    pub stops: Vec<(SeamId, (usize, usize))>,
    /// The arm's time from home and back again, s.
    pub time: f64,
    /// What no order can beat, s; 0 where that is not known.
    pub bound: f64,
    /// Moves through the air that were planned.
    pub planned: usize,
}

impl<'a, 'c> Round<'a, 'c> {
    /// `seams` of the station that hold, in the file's order; `searched`: where their ways are, the second of seams turned round.
    pub fn new(
        cell: &'c Cell,
        passages: &'a Passages<'c>,
        station: StationId,
        seams: &[SeamId],
        searched: &[&Searched],
    ) -> Self {
        let of_seam = |seam: &SeamId| {
            let mut over = Vec::new();
            for (search, searched) in searched.iter().enumerate() {
                for (way, legs) in searched.ways(*seam).enumerate() {
                    over.extend(timed(cell, passages, *seam, legs, (search, way)));
                }
            }
            over
        };
        Self { cell, passages, station, seams: seams.to_vec(), over: seams.par_iter().map(of_seam).collect() }
    }

    /// How many ways there are to choose from.
    pub fn ways(&self) -> usize {
        self.over.iter().map(Vec::len).sum()
    }

    /// The best ways in the order given, each from the search that is named with its seam; `None` where no clear way leads through all.
    pub fn in_order(&self, order: &[(SeamId, usize)]) -> Option<Order> {
        let of_search = |(seam, search): &(SeamId, usize)| {
            let index = self.seams.iter().position(|other| other == seam)?;
            Some((*seam, self.over[index].iter().filter(|way| way.0.from.0 == *search).collect()))
        };
        let tasks: Vec<(SeamId, Vec<&(Over, Choice)>)> = order.iter().filter_map(of_search).collect();
        let places: Vec<usize> = (0..tasks.len()).collect();
        self.best(&tasks, Asked::This(&places))
    }

    /// The quickest order, or a good one; `None` where there is none.
    pub fn quickest(&self, seed: u64) -> Option<Order> {
        let tasks: Vec<(SeamId, Vec<&(Over, Choice)>)> =
            self.seams.iter().zip(&self.over).map(|(seam, over)| (*seam, over.iter().collect())).collect();
        let near: Vec<usize> = (0..tasks.len()).collect();
        self.best(&tasks, Asked::Quickest(&near, seed))
    }

    /// By simple moves through the air; where these lead nowhere, by any.
    fn best(&self, tasks: &[(SeamId, Vec<&(Over, Choice)>)], asked: Asked<'_>) -> Option<Order> {
        if tasks.is_empty() || tasks.iter().any(|(_, over)| over.is_empty()) {
            return None;
        }
        [false, true].into_iter().find_map(|searching| self.stands(tasks, asked, searching))
    }

    fn stands(
        &self,
        tasks: &[(SeamId, Vec<&(Over, Choice)>)],
        asked: Asked<'_>,
        searching: bool,
    ) -> Option<Order> {
        let choices: Vec<Vec<Choice>> =
            tasks.iter().map(|(_, over)| over.iter().map(|way| way.1).collect()).collect();
        let ways: Vec<(SeamId, &Over)> =
            tasks.iter().flat_map(|(seam, over)| over.iter().map(|way| (*seam, &way.0))).collect();
        let count = ways.len();
        let at_least: Vec<Vec<f64>> = (0..count)
            .into_par_iter()
            .map(|from| {
                let to = |to: usize| match ways[from].0 == ways[to].0 {
                    true => f64::INFINITY,
                    false => self.straight(&ways[from].1.end, &ways[to].1.start),
                };
                (0..count).map(to).collect()
            })
            .collect();
        let waiting = self.passages.waiting(self.station);
        let seams: Vec<SeamId> = tasks.iter().map(|(seam, _)| *seam).collect();
        let mut problem = Problem::new(&choices, self.rules(&seams), |passage| match passage {
            Passage::First(to) => self.straight(&waiting, &ways[to].1.start),
            Passage::Between(from, to) => at_least[from][to],
            Passage::Last(from) => {
                let end = &ways[from].1.end;
                let home = Stop { external: end.external.clone(), ..waiting.clone() };
                self.straight(end, &home) + self.changeover(end)
            }
        });
        let is_open = matches!(asked, Asked::Quickest(..));
        let most_planned =
            if is_open && seams.len() > MOST_EXACT { MOST_PLANNED } else { MOST_PLANNED_OF_FEW };
        let mut plan = |passages: &[Passage]| -> Vec<f64> {
            passages.par_iter().map(|passage| self.planned(*passage, &waiting, &ways, searching)).collect()
        };
        let found = standing(&mut problem, asked, Effort { most_planned, bound: is_open }, &mut plan);
        let Tour { stops, time } = found.tour?;
        let stops = stops.iter().map(|stop| (ways[*stop].0, ways[*stop].1.from)).collect();
        Some(Order { stops, time, bound: found.bound, planned: found.planned })
    }

    /// How long a move takes as planned, s; infinite where no way is clear.
    fn planned(&self, passage: Passage, waiting: &Stop, ways: &[(SeamId, &Over)], searching: bool) -> f64 {
        let to = |seam: SeamId, from: &Stop, to: &Stop| match searching {
            true => self.passages.to(seam, from, to),
            false => self.passages.simply_to(seam, from, to),
        };
        let (found, more) = match passage {
            Passage::First(next) => (to(ways[next].0, waiting, &ways[next].1.start), 0.0),
            Passage::Between(last, next) => (to(ways[next].0, &ways[last].1.end, &ways[next].1.start), 0.0),
            Passage::Last(last) => {
                let (seam, Over { end, .. }) = ways[last];
                let home = match searching {
                    true => self.passages.home(seam, end),
                    false => self.passages.simply_home(seam, end),
                };
                (home, self.changeover(end))
            }
        };
        found.map_or(f64::INFINITY, |found| duration_of(self.cell, &found.moves) + more)
    }

    /// The least that a move may take, s.
    fn straight(&self, from: &Stop, to: &Stop) -> f64 {
        let arm = &self.cell.arm;
        let turning = if from.external == to.external {
            0.0
        } else {
            ExternalMove::new(&self.cell.frames.axes, &from.external, &to.external).duration()
        };
        if (to.axes - from.axes).amax() < STAYS {
            return turning;
        }
        turning
            + AxisMove::new(&arm.arm, from.axes, to.axes, arm.air_move_share.value).duration()
            + arm.settle
    }

    /// What the external axes take to where the next visit begins, s.
    fn changeover(&self, end: &Stop) -> f64 {
        let next = &self.cell.stations[(self.station.0 + 1) % self.cell.stations.len()].external;
        ExternalMove::new(&self.cell.frames.axes, &end.external, next).duration()
    }

    fn rules(&self, seams: &[SeamId]) -> Rules {
        let mut rules = Rules::default();
        for (one, seam) in seams.iter().enumerate() {
            for (other, next) in seams.iter().enumerate().filter(|(other, _)| *other != one) {
                let (seam, next) = (&self.cell.seams[seam.0], &self.cell.seams[next.0]);
                if seam.comes_before(next).is_some() {
                    rules.before.push((one, other));
                }
                if one < other && seam.balances(next) {
                    rules.together.push((one, other));
                }
                let rest = seam.cools_before(next);
                if rest > 0.0 {
                    rules.rest.push((one, other, rest));
                }
            }
        }
        rules
    }
}

/// A way over a seam with what it takes; `None` where the arm does not get from one of its parts to the next.
fn timed(
    cell: &Cell,
    passages: &Passages<'_>,
    seam: SeamId,
    legs: &[Vec<Move>],
    from: (usize, usize),
) -> Option<(Over, Choice)> {
    let moves = passages.over(seam, legs)?.moves;
    let (first, last) = (moves.first()?, moves.last()?);
    let start = Stop { axes: first.points.first()?.axes, external: first.external_start() };
    let end = Stop { axes: last.points.last()?.axes, external: last.external_end() };
    let SeamTimes { before, work, after } = seam_times(cell, &moves);
    Some((Over { from, start, end }, Choice { before, work, after }))
}
