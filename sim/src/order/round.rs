//! Decides what one station is to somebody who only knows tasks and moves: every seam is a task, every way over it a choice, and what leads
//! from one to the next takes as long as the schedule has it take.
//!
//! Before a move is planned, it is known to take no less than the straight way: each profile from rest to rest is quicker than any two that
//! make the same way by way of another place (its time is the least over u of u + y/u, u no less than x, or has one more such term for the
//! jerk, x and y being norms of the way; and norms of a sum are no more than the sums of norms). Where the straight way is blocked, it takes
//! no less than the quickest of the simple ways round, of which most are blocked too.

use rayon::prelude::*;
use seamwright_kinematics::AxisValues;

use super::tour::{Asked, Choice, Effort, MOST_EXACT, Moves, Passage, Problem, Rules, Tour, standing};
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
        let are_many = is_open && seams.len() > MOST_EXACT;
        let most_planned = if are_many { MOST_PLANNED } else { MOST_PLANNED_OF_FEW };
        let moves = OfRound { round: self, waiting, ways: &ways, searching };
        let effort = Effort { nearer: !are_many, most_planned, bound: is_open };
        let found = standing(&mut problem, asked, effort, &moves);
        let Tour { stops, time } = found.tour?;
        let stops = stops.iter().map(|stop| (ways[*stop].0, ways[*stop].1.from)).collect();
        Some(Order { stops, time, bound: found.bound, planned: found.planned })
    }

    /// The least that a move may take, s.
    fn straight(&self, from: &Stop, to: &Stop) -> f64 {
        let turning = if from.external == to.external {
            0.0
        } else {
            ExternalMove::new(&self.cell.frames.axes, &from.external, &to.external).duration()
        };
        turning + self.air(&from.axes, &to.axes)
    }

    /// A straight move of the arm alone, s.
    fn air(&self, from: &AxisValues, to: &AxisValues) -> f64 {
        if (to - from).amax() < STAYS {
            return 0.0;
        }
        let arm = &self.cell.arm;
        AxisMove::new(&arm.arm, *from, *to, arm.air_move_share.value).duration() + arm.settle
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

/// The moves of a round.
struct OfRound<'r, 'a, 'c> {
    round: &'r Round<'a, 'c>,
    waiting: Stop,
    ways: &'r [(SeamId, &'r Over)],
    /// Whether ways are searched for where no simple one is clear.
    searching: bool,
}

impl OfRound<'_, '_, '_> {
    /// The seam that a move serves, where it begins, and where it ends; none for home.
    fn ends(&self, passage: Passage) -> (SeamId, &Stop, Option<&Stop>) {
        let way = |index: usize| (self.ways[index].0, self.ways[index].1);
        match passage {
            Passage::First(to) => (way(to).0, &self.waiting, Some(&way(to).1.start)),
            Passage::Between(from, to) => (way(to).0, &way(from).1.end, Some(&way(to).1.start)),
            Passage::Last(from) => (way(from).0, &way(from).1.end, None),
        }
    }

    /// What follows it, s.
    fn after(&self, (_, from, to): (SeamId, &Stop, Option<&Stop>)) -> f64 {
        if to.is_some() { 0.0 } else { self.round.changeover(from) }
    }

    fn nearer(&self, passage: Passage) -> f64 {
        let ends @ (seam, from, to) = self.ends(passage);
        let ways_out = if self.searching { None } else { self.round.passages.ways_out(seam, from, to) };
        let Some([out, into]) = ways_out else { return 0.0 };
        let round = self.round;
        let time =
            |way: &[AxisValues]| -> f64 { way.windows(2).map(|pair| round.air(&pair[0], &pair[1])).sum() };
        let timed = |ways: Vec<Vec<AxisValues>>| -> Vec<(f64, AxisValues, bool)> {
            let timed = |way: Vec<AxisValues>| Some((time(&way), *way.last()?, way.len() == 1));
            ways.into_iter().filter_map(timed).collect()
        };
        let (out, into, home) = (timed(out), timed(into), round.cell.arm.home);
        let to_home = |ways: &[(f64, AxisValues, bool)]| {
            ways.iter().map(|(time, end, _)| time + round.air(end, &home)).fold(f64::INFINITY, f64::min)
        };
        let mut least = to_home(&out) + to_home(&into);
        for (time, end, stays) in &out {
            for (other_time, other, other_stays) in &into {
                if time + other_time < least && !(*stays && *other_stays) {
                    least = least.min(time + round.air(end, other) + other_time);
                }
            }
        }
        least + self.after(ends)
    }

    fn planned(&self, passage: Passage) -> f64 {
        let (passages, ends) = (self.round.passages, self.ends(passage));
        let found = match (ends, self.searching) {
            ((seam, from, Some(to)), true) => passages.to(seam, from, to),
            ((seam, from, Some(to)), false) => passages.simply_to(seam, from, to),
            ((seam, from, None), true) => passages.home(seam, from),
            ((seam, from, None), false) => passages.simply_home(seam, from),
        };
        found.map_or(f64::INFINITY, |found| duration_of(self.round.cell, &found.moves) + self.after(ends))
    }
}

impl Moves for OfRound<'_, '_, '_> {
    fn nearer(&self, passages: &[Passage]) -> Vec<f64> {
        passages.par_iter().map(|passage| self.nearer(*passage)).collect()
    }

    fn planned(&self, passages: &[Passage]) -> Vec<f64> {
        passages.par_iter().map(|passage| self.planned(*passage)).collect()
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
