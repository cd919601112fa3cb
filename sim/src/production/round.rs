//! Decides when in a round of the cell arm, people and tables start where, and who waits for whom.
//!
//! The arm goes round the stations in file order. When it has left a station, that station is loaded (a fixture), or the table turns and
//! the side that then stands in front of the person is (a table); each person does what is theirs in the order in which the arm makes it
//! free. A table turns when the arm has gone on from the side before it and the side in front of the person is loaded; nothing at it begins
//! before it stands. Other axes go on to the next station's values when the arm has left. What they move with them stands while it is
//! loaded: its loading begins when they have stopped, and they wait until it is loaded. Where what was welded must cool, its loading begins
//! when it has, from when the arm left it.
//!
//! With R the arm's times, L the people's, X those of the table's turns, sides counted round:
//!
//! ```text
//! fixtures     period = max(ΣR, max over people ΣL, max over stations (R + L)), see `rhythm`, where no axis moves them
//! one fixture  period = R + X + L, X its axes' way back to where it is loaded
//! one table    period = Σ (max(R_i, L_(i+a)) + X_i), the side a ahead being loaded: everything at it starts when it stands
//! all else     the slowest circle of the rules above, as where something cools: no simpler form is known
//! ```

use super::circles::{Circles, Rule};
use super::cycle::StationTimes;
use super::layout::{Layout, LayoutKind};
use super::rhythm::{Bound, rhythm};

/// One round in the steady state: start times repeat with the period, s.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Round {
    pub(super) period: f64,
    pub(super) bound: Bound,
    /// When the arm starts at each station; 0 at the first, and within one period.
    pub(super) arm_starts: Vec<f64>,
    /// When each station is loaded by its person.
    pub(super) person_starts: Vec<f64>,
    /// When the axes start on their way from each station to the next; when the arm has left it, where none move.
    pub(super) way_starts: Vec<f64>,
    /// When the table starts to turn away from each station; none where it is no table.
    pub(super) turn_starts: Vec<Option<f64>>,
    /// The station that is loaded after the arm has left each one.
    pub(super) loaded_after: Vec<usize>,
    /// The circle that sets the period, where no closed form does.
    pub(super) pace: Vec<PaceStep>,
    /// Rounds that circle goes through.
    pub(super) pace_rounds: usize,
}

/// Something on the circle that sets the period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PaceStep {
    /// What.
    pub what: PaceOf,
    /// The station that is welded, loaded, or comes before the arm.
    pub station: usize,
    /// s.
    pub lasts: f64,
}

/// What takes time in a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaceOf {
    /// The arm's visit.
    Arm,
    /// External axes on to the next station's values.
    Way,
    /// What was welded cools.
    Cool,
    /// A table's turn.
    Turn,
    /// Loading.
    Load,
}

impl Round {
    /// When the axes go on that the arm stands still for when it has left station `at`.
    pub(super) fn axes_start(&self, layout: &Layout, at: usize) -> f64 {
        self.turn_starts[at].filter(|_| layout.only_table().is_some()).unwrap_or(self.way_starts[at])
    }

    /// What the table's turn away from station `from` takes of the `gap` seconds before `end`; it is over by then.
    fn turning(&self, stations: &[StationTimes], from: usize, end: f64, gap: f64) -> f64 {
        self.turn_starts[from].map_or(0.0, |start| self.of_gap(start, stations[from].index, end, gap))
    }

    /// What moves before the station that is freed by the visit `from` can be loaded takes of the `gap` seconds before `end`.
    fn moving_before_load(&self, stations: &[StationTimes], from: usize, end: f64, gap: f64) -> f64 {
        let times = &stations[from];
        let way = times.way_moves.contains(&self.loaded_after[from]);
        let way = if way { self.of_gap(self.way_starts[from], times.way, end, gap) } else { 0.0 };
        self.turning(stations, from, end, gap).max(way)
    }

    /// What of the `gap` seconds before `end` something takes that starts at `start`, lasts so long, and is over by then.
    fn of_gap(&self, start: f64, lasts: f64, end: f64, gap: f64) -> f64 {
        // Start times lie in rounds that need not be the same.
        let since = (end - start - lasts).rem_euclid(self.period);
        let since = if self.period - since < ROUNDING { 0.0 } else { since };
        (gap - since).clamp(0.0, lasts)
    }

    /// The same of the turn that brings the arm's next station.
    pub(super) fn turning_before_arm(
        &self,
        layout: &Layout,
        stations: &[StationTimes],
        next: usize,
        end: f64,
        gap: f64,
    ) -> f64 {
        let brings = |from: &usize| layout.next_side(*from).is_some_and(|side| side.0 == next);
        (0..stations.len()).find(brings).map_or(0.0, |from| self.turning(stations, from, end, gap))
    }
}

/// Sums of times in another order differ by less, s.
const ROUNDING: f64 = 1e-6;

/// Times of every station, s (each at least 0), in the order in which the arm goes round.
#[derive(Clone, Debug)]
pub struct RoundTimes {
    /// The arm's.
    pub arm: Vec<f64>,
    /// Of the external axes on to the next station's values.
    pub way: Vec<f64>,
    /// The stations that they move; empty where they move none.
    pub way_moves: Vec<Vec<usize>>,
    /// Other stations that are moved while the arm is at each.
    pub moves: Vec<Vec<usize>>,
    /// How long what was welded cools before it is loaded, from when the arm has left it.
    pub cool: Vec<f64>,
    /// The person's.
    pub person: Vec<f64>,
    /// Who loads it, from 0.
    pub who: Vec<usize>,
    /// A table's turn to the side after this one.
    pub turn: Vec<f64>,
}

impl RoundTimes {
    fn of(layout: &Layout, stations: &[StationTimes], arm: impl Fn(&StationTimes) -> f64) -> Self {
        let turns = |at: usize| layout.next_side(at).is_some();
        let index = stations.iter().enumerate();
        Self {
            arm: stations.iter().map(arm).collect(),
            way: stations.iter().map(|station| station.way).collect(),
            way_moves: stations.iter().map(|station| station.way_moves.clone()).collect(),
            moves: stations.iter().map(|station| station.moves.clone()).collect(),
            cool: stations.iter().map(|station| station.cool).collect(),
            person: stations.iter().map(|station| station.balance.person).collect(),
            who: stations.iter().map(|station| station.who).collect(),
            turn: index.map(|(at, station)| if turns(at) { station.index } else { 0.0 }).collect(),
        }
    }

    /// Whether anything must cool.
    fn cools(&self) -> bool {
        self.cool.iter().any(|cool| *cool > 0.0)
    }

    /// Whether every fixture stands where it is all the time.
    fn nothing_moves(&self) -> bool {
        self.way.iter().all(|way| *way == 0.0) && self.moves.iter().all(Vec::is_empty)
    }
}

/// The period of a cell, s: a load from every station in the steady state, no time varying.
#[must_use]
pub fn round_period(layout: &Layout, times: &RoundTimes) -> f64 {
    by_kind(layout, times).period
}

/// The round, by the arm's time at each station.
pub(super) fn round(layout: &Layout, stations: &[StationTimes], arm: impl Fn(&StationTimes) -> f64) -> Round {
    by_kind(layout, &RoundTimes::of(layout, stations, arm))
}

fn by_kind(layout: &Layout, times: &RoundTimes) -> Round {
    match layout.kind() {
        _ if times.cools() => by_circles(layout, times),
        LayoutKind::OneFixture if times.way_moves[..] == [vec![0]] => fixtures(times),
        LayoutKind::OneFixture | LayoutKind::FixedFixtures if times.nothing_moves() => fixtures(times),
        LayoutKind::Table => one_table(layout, times),
        LayoutKind::OneFixture | LayoutKind::FixedFixtures | LayoutKind::Several => by_circles(layout, times),
    }
}

fn fixtures(times: &RoundTimes) -> Round {
    let arm: Vec<f64> = times.arm.iter().zip(&times.way).map(|(arm, way)| arm + way).collect();
    let found = rhythm(&arm, &times.person, &times.who);
    Round {
        way_starts: found.arm_starts.iter().zip(&times.arm).map(|(start, arm)| start + arm).collect(),
        period: found.period,
        bound: found.bound,
        arm_starts: found.arm_starts,
        person_starts: found.person_starts,
        turn_starts: vec![None; arm.len()],
        loaded_after: (0..arm.len()).collect(),
        pace: Vec::new(),
        pace_rounds: 0,
    }
}

fn one_table(layout: &Layout, times: &RoundTimes) -> Round {
    let RoundTimes { arm, person, who, turn, .. } = times;
    let sides = arm.len();
    let loaded = |side: usize| layout.loaded_beside(side);
    let steps: Vec<f64> = (0..sides).map(|side| arm[side].max(person[loaded(side)]) + turn[side]).collect();
    let mut arm_starts = vec![0.0; sides];
    let mut person_starts = vec![0.0; sides];
    let mut time = 0.0;
    for side in 0..sides {
        arm_starts[side] = time;
        person_starts[loaded(side)] = time;
        time += steps[side];
    }
    let ends = |side: usize| arm_starts[side] + steps[side];
    let bound = if sides == 2 {
        // Both change places together, which two fixtures at their fastest do as well.
        rhythm(arm, person, who).bound
    } else if (0..sides).all(|side| arm[side] >= person[loaded(side)]) {
        Bound::Arm
    } else if (0..sides).all(|side| arm[side] <= person[loaded(side)]) {
        Bound::Person
    } else {
        Bound::InTurn
    };
    Round {
        period: steps.iter().sum(),
        bound,
        way_starts: (0..sides).map(|side| arm_starts[side] + arm[side]).collect(),
        turn_starts: (0..sides).map(|side| Some(ends(side) - turn[side])).collect(),
        arm_starts,
        person_starts,
        loaded_after: (0..sides).map(|side| layout.loaded_after(side)).collect(),
        pace: Vec::new(),
        pace_rounds: 0,
    }
}

/// What follows a visit of the arm: the visit itself, the axes on to the next station, the turn of its table, what is loaded then, and what
/// was welded cooling, each once a round.
#[derive(Clone, Copy)]
enum Thing {
    Arm(usize),
    Way(usize),
    Turn(usize),
    Load(usize),
    Cool(usize),
}

impl Thing {
    fn node(self) -> usize {
        match self {
            Self::Arm(visit) => 5 * visit,
            Self::Way(visit) => 5 * visit + 1,
            Self::Turn(visit) => 5 * visit + 2,
            Self::Load(visit) => 5 * visit + 3,
            Self::Cool(visit) => 5 * visit + 4,
        }
    }

    fn of(node: usize) -> Self {
        let visit = node / 5;
        match node % 5 {
            0 => Self::Arm(visit),
            1 => Self::Way(visit),
            2 => Self::Turn(visit),
            3 => Self::Load(visit),
            _ => Self::Cool(visit),
        }
    }
}

/// How long each thing lasts, and the rules between them.
fn rules(layout: &Layout, times: &RoundTimes) -> (Vec<f64>, Vec<Rule>) {
    let count = times.arm.len();
    let loaded: Vec<usize> = (0..count).map(|visit| layout.loaded_after(visit)).collect();
    let mut lasts = Vec::new();
    let mut rules = Vec::new();
    let mut rule = |from: Thing, to: Thing, wraps| {
        rules.push(Rule { from: from.node(), to: to.node(), wraps });
    };
    for visit in 0..count {
        let person = times.person[loaded[visit]];
        lasts.extend([times.arm[visit], times.way[visit], times.turn[visit], person, times.cool[visit]]);
        rule(Thing::Arm(visit), Thing::Way(visit), false);
        rule(Thing::Way(visit), Thing::Arm((visit + 1) % count), visit + 1 == count);
        // What is moved is loaded before it is moved again, and stands until then.
        let frees = |station: &usize| (0..count).find(|visit| loaded[*visit] == *station);
        for from in times.way_moves[visit].iter().filter_map(frees) {
            rule(Thing::Load(from), Thing::Way(visit), visit <= from);
        }
        for from in times.moves[visit].iter().filter_map(frees) {
            rule(Thing::Load(from), Thing::Arm(visit), visit <= from);
        }
        if times.cool[visit] > 0.0 {
            rule(Thing::Arm(visit), Thing::Cool(visit), false);
            if let Some(load) = frees(&visit) {
                rule(Thing::Cool(visit), Thing::Load(load), load < visit);
            }
        }
        match layout.next_side(visit) {
            None => {
                let moved = times.way_moves[visit].contains(&visit);
                rule(if moved { Thing::Way(visit) } else { Thing::Arm(visit) }, Thing::Load(visit), false);
                rule(Thing::Load(visit), Thing::Arm(visit), true);
            }
            Some((next, wraps)) => {
                rule(Thing::Way(visit), Thing::Turn(visit), false);
                rule(Thing::Turn(visit), Thing::Load(visit), false);
                rule(Thing::Turn(visit), Thing::Arm(next), wraps);
                rule(Thing::Load(visit), Thing::Turn(next), wraps);
            }
        }
        let theirs = |other: &usize| times.who[loaded[*other]] == times.who[loaded[visit]];
        let (next, wraps) = match (visit + 1..count).find(theirs) {
            Some(next) => (next, false),
            None => ((0..=visit).find(theirs).unwrap_or(visit), true),
        };
        rule(Thing::Load(visit), Thing::Load(next), wraps);
    }
    (lasts, rules)
}

fn by_circles(layout: &Layout, times: &RoundTimes) -> Round {
    let count = times.arm.len();
    let (lasts, rules) = rules(layout, times);
    let circles = Circles { lasts, rules: &rules };
    let slowest = circles.slowest();
    let root = slowest.circle.first().copied().unwrap_or(0);
    let (starts, _) = circles.starts_from(root, slowest.period);
    let first = starts[Thing::Arm(0).node()];
    let at = |thing: Thing| starts[thing.node()] - first;
    let loaded_after: Vec<usize> = (0..count).map(|visit| layout.loaded_after(visit)).collect();
    let mut person_starts = vec![0.0; count];
    for (visit, station) in loaded_after.iter().enumerate() {
        person_starts[*station] = at(Thing::Load(visit));
    }
    let turns = |visit: usize| layout.next_side(visit).map(|_| at(Thing::Turn(visit)));
    let lasts = &circles.lasts;
    let step = |node: &usize| {
        let (what, station) = match Thing::of(*node) {
            Thing::Arm(visit) => (PaceOf::Arm, visit),
            Thing::Way(visit) => (PaceOf::Way, (visit + 1) % count),
            Thing::Turn(visit) => (PaceOf::Turn, layout.next_side(visit).map_or(visit, |next| next.0)),
            Thing::Load(visit) => (PaceOf::Load, loaded_after[visit]),
            Thing::Cool(visit) => (PaceOf::Cool, visit),
        };
        PaceStep { what, station, lasts: lasts[*node] }
    };
    let pace: Vec<PaceStep> = slowest.circle.iter().map(step).filter(|step| step.lasts > 0.0).collect();
    let total: f64 = pace.iter().map(|step| step.lasts).sum();
    Round {
        period: slowest.period,
        bound: bound(&pace),
        arm_starts: (0..count).map(|visit| at(Thing::Arm(visit))).collect(),
        person_starts,
        way_starts: (0..count).map(|visit| at(Thing::Way(visit))).collect(),
        turn_starts: (0..count).map(turns).collect(),
        loaded_after,
        // Rounds are few: the quotient of a circle's time and its mean is one of them but for rounding.
        pace_rounds: (total / slowest.period).round().max(1.0) as usize,
        pace,
    }
}

/// Who is on the circle that sets the period.
fn bound(pace: &[PaceStep]) -> Bound {
    let any = |what: PaceOf| pace.iter().any(|step| step.what == what);
    let mut not_on_its_way = pace.iter().filter(|step| step.what != PaceOf::Way);
    let one = not_on_its_way.next().map(|step| step.station);
    // A turn that nothing but the arm waits for is the arm's pace, and one that only loading waits for the person's.
    if !any(PaceOf::Load) {
        Bound::Arm
    } else if !any(PaceOf::Arm) {
        Bound::Person
    } else {
        one.filter(|one| not_on_its_way.all(|step| step.station == *one && step.what != PaceOf::Turn))
            .map_or(Bound::InTurn, Bound::Station)
    }
}

/// The longest time (s) of the person at a station with which the round of several places is no longer than with no time there at all.
pub(super) fn longest_unnoticed(layout: &Layout, stations: &[StationTimes], at: usize) -> f64 {
    let mut times = RoundTimes::of(layout, stations, |station| station.arm);
    times.person[at] = 0.0;
    let (lasts, rules) = rules(layout, &times);
    let circles = Circles { lasts, rules: &rules };
    let frees = (0..stations.len()).find(|visit| layout.loaded_after(*visit) == at).unwrap_or(at);
    circles.starts_from(Thing::Load(frees).node(), circles.slowest().period).1.max(0.0)
}

/// How long arm and people wait in a round, s: what lies between one thing and the next, less what of it a table or other axes move.
pub(super) fn waits(layout: &Layout, stations: &[StationTimes], round: &Round) -> [f64; 2] {
    let count = stations.len();
    let mut waits = [0.0; 2];
    for visit in 0..count {
        let next = (visit + 1) % count;
        let start = round.arm_starts[next] + if next == 0 { round.period } else { 0.0 };
        let gap = start - round.arm_starts[visit] - stations[visit].arm - stations[visit].way;
        waits[0] += (gap - round.turning_before_arm(layout, stations, next, start, gap)).max(0.0);
        let who = |visit: usize| stations[round.loaded_after[visit]].who;
        let later = (visit + 1..visit + 1 + count).map(|other| other % count);
        let theirs = later.into_iter().find(|other| who(*other) == who(visit)).unwrap_or(visit);
        let (own, follows) = (round.loaded_after[visit], round.loaded_after[theirs]);
        let start = round.person_starts[follows] + if theirs <= visit { round.period } else { 0.0 };
        let gap = start - round.person_starts[own] - stations[own].balance.person;
        waits[1] += (gap - round.moving_before_load(stations, theirs, start, gap)).max(0.0);
    }
    waits
}
