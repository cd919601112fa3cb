//! Decides whether one seam can be welded: searches torch poses over the tolerances, from the simplest way to the most varied.
//!
//! Order of the search: angles at their aim with a constant turn about the wire; at their aim with a varying turn; constant off-aim
//! angles inside the tolerance, the least off first; everything varying; at last constant angles between those. So a seam gets as few
//! taught points as it allows.
//!
//! - `allowed`: how far a point of the torch moves within what is allowed
//! - `as_taught`: a way that was taught, as it stands
//! - `between_levels`: torch angles between those that are tried
//! - `branches`: the best way for each branch of the arm at start and end
//! - `external`, `external_laws`: how external axes stand or move meanwhile
//! - `levels`: the torch angles that are tried
//! - `joint_too_tight`: whether a bound shows that the nozzle does not fit into the joint
//! - `other_turns`: whole turns of the axes that a way comes to beyond those that are tried
//! - `weaving`: whether the axes can follow a weave
//! - `way`: a path of the search followed and turned into moves
//! - `slower`: the travel speed that would do where an axis is too slow
//! - `whether`: whether there is a way at all, before it is searched for
//! - `diagnosis`: the limit that binds where no way is found
//! - `out_of_reach`: whether a bound shows that a place is out of the arm's reach

mod allowed;
mod as_taught;
mod between_levels;
mod branches;
mod diagnosis;
mod external;
mod external_laws;
mod joint_too_tight;
mod levels;
mod other_turns;
mod out_of_reach;
mod slower;
mod way;
mod weaving;
mod whether;

pub(super) use external::search;
pub(super) use way::{Way, keeps};
pub(super) use whether::may_hold;

use std::collections::BTreeMap;

use seamwright_kinematics::{AxisValues, Pose};

use self::levels::{Levels, levels, levels_of_ends};
use self::way::Stretch;
use self::whether::Whether;
use super::ladder::{Choice, Choices, Known, Ladder, Layer, Node, Rung, rank, weights};
use super::proof::Unshown;
use super::setup::{Along, Setup};
use super::steps::Steps;
use super::torch_way::Law;
use super::trace::{Failure, Tracer};
use super::violation::{Limit, Violation};
use super::whole_turns::{WholeTurns, are_whole_turns_apart};
use super::{Binding, Effort, TorchAngles, Verdict, station_from_tool};
use crate::cell::{Bands, Procedure, Seam, SeamId, SeamPath, SeamPoint, WeldSpeed};
use crate::units;

/// What the search found.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub verdict: Verdict,
    /// Best first; empty unless the seam holds. Beyond `usual` those by other branches of the arm, best first again.
    pub ways: Vec<Way>,
    /// How many of them are looked at where the order is as the file says.
    pub usual: usize,
    pub binding: Option<Binding>,
    pub also: Vec<Binding>,
    /// Travel speed at which a way is found, m/s, where a speed limit stops it and slower travel alone helps.
    pub follows_at: Option<f64>,
    pub effort: Effort,
    /// Where the seam was taught and that was asked: what a search finds.
    pub replanned: Option<Box<Self>>,
}

/// Clearance queries spent on ways along which work angle, travel angle and CTWD all vary.
const MIXING_QUERIES: u64 = 12_000;

/// Ways kept for a seam, so that the way there through the air has a choice.
const WAYS: usize = 3;

/// Paths through one ladder that are followed before it is given up.
const MOST_TRACES: usize = 200;

/// Paths of one ladder whose weave is too fast for an axis before the others are given up: they weave alike.
const MOST_TOO_FAST: usize = 8;

/// Axes that are tried on all their turns for one seam where ways come to ends of ranges: each multiplies what is searched.
const MOST_OPENED: usize = 2;

/// What the places of a path must have to spare where it was not shown between them: with so much more than a finest step of the proof
/// moves anything, it is.
fn spare(steps: Steps) -> f64 {
    2.0 * steps.finest()
}

/// Two ways whose first axis values differ by more than this in some axis count as different.
fn different() -> f64 {
    units::deg(60.0)
}

/// Searches one seam with the external axes following a law along it.
fn search_along(along: &Along<'_>, seam_id: SeamId, path: &SeamPath, branches: bool) -> Found {
    let seam = &along.setup.cell.seams[seam_id.0];
    let mut search = Search::new(along, seam_id, seam, path);
    search.branches = branches;
    let found = search.run();
    let follows_at = slower::follows_at(seam, &found, |slower| {
        let mut search = Search::new(along, seam_id, slower, path);
        search.ask_only_whether();
        !search.ways_that_hold(true).is_empty()
    });
    Found { effort: search.effort(), follows_at, ..found }
}

/// What was tried in one ladder.
#[derive(Default)]
struct Tries {
    traces: usize,
    too_fast: usize,
}

/// A stance whose clearance was asked.
#[derive(Clone, Copy)]
struct LastClear {
    layer: usize,
    choice: u32,
    axes: AxisValues,
    spare: f64,
    clears: bool,
}

struct Search<'a, 'c> {
    tracer: Tracer<'a, 'c>,
    steps: Steps,
    rungs: Vec<Rung>,
    points: Vec<SeamPoint>,
    max_speed: AxisValues,
    last_failure: Option<Failure>,
    turn_step: f64,
    /// Clearance queries after which nothing counts as clear any more.
    most_queries: u64,
    /// Different ways after which no more are looked for.
    most_ways: usize,
    /// Clearance that the places of a path must have beyond what is asked, m.
    spare: f64,
    /// Whether a path was found whose clearance is not shown between its places.
    unshown: bool,
    /// Where nothing is asked but whether there is a way: what is remembered of what can be part of one.
    whether: Option<Whether>,
    /// The layer that shut out an angle last.
    shut: Option<usize>,
    /// A layer and angles, their turn aside, of which it was asked whether what is round about the wire keeps its clearance there.
    last_round: Option<(usize, TorchAngles, bool)>,
    /// Whether what cannot be part of a way is left out before it is searched for: where nothing names what binds.
    open_alone: bool,
    /// On which whole turns the axes are tried.
    whole_turns: WholeTurns,
    /// An axis (0-based) that a way brings near an end of its range, beyond the turns on which it is tried.
    near_end: Option<usize>,
    /// Whether ranges and hose limits of axes that are tried on some turns alone count as endless.
    without_ends: bool,
    /// The last stance whose clearance was asked, and what it was.
    last_clear: Option<LastClear>,
    /// Stretches between two layers that were followed, and whether they hold: paths of one ladder and of the next have most in common.
    followed: BTreeMap<Stretch, Result<(), Failure>>,
    /// The last node whose clearance was measured, in its layer, and what it falls short.
    last_measured: Option<(usize, Node, Option<Violation>)>,
    /// Whether ways by every other branch of the arm are kept too.
    branches: bool,
    /// Those ways.
    by_other_branches: Vec<Way>,
    poses: u64,
    solutions: u64,
}

impl<'a, 'c> Search<'a, 'c> {
    fn new(along: &'a Along<'c>, seam_id: SeamId, seam: &'a Seam, path: &'a SeamPath) -> Self {
        let speed = WeldSpeed::new(seam, path);
        let steps = along.setup.steps();
        let mut rungs: Vec<Rung> = Vec::new();
        for (run, stretch) in seam.runs.iter().enumerate() {
            let mut samples = path.samples(stretch.start, stretch.end, steps.layer(), steps.layer_turn());
            samples.extend(seam.procedure.band_changes(stretch));
            samples.sort_by(f64::total_cmp);
            samples.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
            for (i, &s) in samples.iter().enumerate() {
                let before = i.checked_sub(1).map_or(0.0, |before| s - samples[before]);
                let after = samples.get(i + 1).map_or(0.0, |after| after - s);
                let time = if i == 0 { f64::INFINITY } else { before / speed.least(s - before, s) };
                rungs.push(Rung { s, run, time, length: 0.5 * (before + after) });
            }
        }
        let points = rungs.iter().map(|rung| path.at(rung.s)).collect();
        let axes = along.setup.cell.arm.arm.axes();
        Self {
            tracer: Tracer { seam, ..Tracer::serving(along, seam_id, path) },
            steps,
            rungs,
            points,
            max_speed: AxisValues::from_fn(|i, _| axes[i].max_speed),
            last_failure: None,
            turn_step: steps.turn(),
            most_queries: u64::MAX,
            most_ways: WAYS,
            spare: 0.0,
            unshown: false,
            whether: None,
            shut: None,
            last_round: None,
            open_alone: false,
            whole_turns: along.setup.whole_turns,
            near_end: None,
            without_ends: false,
            last_clear: None,
            followed: BTreeMap::new(),
            last_measured: None,
            branches: false,
            by_other_branches: Vec::new(),
            poses: 0,
            solutions: 0,
        }
    }

    fn effort(&self) -> Effort {
        Effort {
            turn_step_deg: units::to_deg(self.steps.turn()),
            levels: 1 + 2 * self.steps.levels_a_side() as usize,
            layer_step_mm: units::to_mm(self.steps.layer()),
            check_step_mm: units::to_mm(self.steps.check()),
            air_step_mm: units::to_mm(self.steps.air()),
            finest_step_mm: units::to_mm(self.steps.finest()),
            detour_tries: super::detour::TRIES,
            poses: self.poses + self.tracer.poses,
            solutions: self.solutions,
            clearance_queries: self.tracer.clearance_queries,
        }
    }

    fn run(&mut self) -> Found {
        if let Some(found) = self.joint_too_tight() {
            return found;
        }
        let ways = self.ways_that_hold(true);
        if !ways.is_empty() {
            return self.found(Verdict::Holds, ways, None, Vec::new());
        }
        let ends = self.few_levels();
        self.whole_turns = self.tracer.along.setup.whole_turns;
        let diagnosis = self.diagnose(&ends);
        if diagnosis.found.verdict == Verdict::CannotHold {
            return diagnosis.found;
        }
        self.open_alone = true;
        let mut ways = self.ways_between_levels();
        if ways.is_empty()
            && let Some(level) = diagnosis.nearly
        {
            self.turn_step = 0.25 * self.steps.turn();
            ways = self.ways(&ends[..1], true);
            if ways.is_empty() && level > 0 {
                ways = self.ways(&ends[level..=level], true);
            }
        }
        self.open_alone = false;
        match diagnosis.nearly {
            _ if !ways.is_empty() => self.found(Verdict::Holds, ways, None, Vec::new()),
            Some(level) => self.diagnose_more_finely(diagnosis, &ends[level]),
            None => diagnosis.found,
        }
    }

    /// Ways at angles at their aim; if there are none and `off_aim`, at others inside the tolerances.
    fn ways_that_hold(&mut self, off_aim: bool) -> Vec<Way> {
        let ends = self.few_levels();
        let aim = ends[..1].to_vec();
        let mut ways = Vec::new();
        if self.may_serve(&aim) {
            // Ways on which the torch may turn include those on which it does not.
            if self.whether.is_none() {
                ways = self.ways(&aim, false);
            }
            if ways.is_empty() {
                ways = self.ways(&aim, true);
            }
        }
        if !off_aim || !ways.is_empty() {
            return ways;
        }
        // Most of the other angles fail where nearly nothing is left.
        self.open_alone = true;
        let ways = self.ways_off_aim(&ends);
        self.open_alone = self.whether.is_some();
        ways
    }

    fn ways_off_aim(&mut self, ends: &Levels) -> Vec<Way> {
        let mut ways = Vec::new();
        for level in self.all_levels(&self.between_ends()).into_iter().skip(1) {
            if !ways.is_empty() {
                break;
            }
            let level = vec![level];
            if self.may_serve(&level) {
                ways = self.ways(&level, true);
            }
        }
        if ways.is_empty()
            && let Some(at_ends) = &self.tracer.seam.procedure.ends
        {
            let levels = levels_of_ends(&self.between_ends(), &at_ends.bands);
            if self.may_serve(&levels) {
                ways = self.ways(&levels, true);
            }
        }
        if ways.is_empty() && ends.len() > 1 {
            self.most_queries = self.tracer.clearance_queries + self.mixing_queries();
            if self.every_layer_passes(ends) {
                ways = self.ways(ends, true);
            }
            self.most_queries = u64::MAX;
        }
        ways
    }

    /// What was found where nothing is asked but whether there are ways.
    fn holding(&mut self, ways: Vec<Way>) -> Found {
        let verdict = if ways.is_empty() { Verdict::NotFound } else { Verdict::Holds };
        let effort = self.effort();
        Found { effort, ..self.found(verdict, ways, None, Vec::new()) }
    }

    /// Of `count` layers spread over the seam, how many have a stance at the angles aimed at that keeps every limit, and the least
    /// costs for a metre of those stances, added up.
    fn passable(&mut self, count: usize) -> (usize, f64) {
        let choices = self.choices(&self.few_levels()[..1], false);
        let last = self.rungs.len() - 1;
        let (mut passable, mut strain) = (0, 0.0);
        for place in 0..count {
            let k = place * last / (count - 1).max(1);
            let layer = self.layer(k, &choices);
            let mut open: Vec<&Node> = layer.nodes.iter().filter(|node| node.violation.is_none()).collect();
            open.sort_by(|a, b| a.rate.total_cmp(&b.rate));
            if let Some(node) = open.into_iter().find(|node| self.check(k, node, &choices) == Known::Clear) {
                passable += 1;
                strain += node.rate;
            }
        }
        (passable, strain)
    }

    fn found(
        &mut self,
        verdict: Verdict,
        mut ways: Vec<Way>,
        binding: Option<Binding>,
        also: Vec<Binding>,
    ) -> Found {
        let usual = ways.len();
        ways.append(&mut self.by_other_branches);
        let effort = Effort::default();
        Found { verdict, ways, usual, binding, also, follows_at: None, effort, replanned: None }
    }

    /// What holds on the weld away from its ends, so that it serves all along.
    fn between_ends(&self) -> Bands {
        let Procedure { work, travel, ctwd, .. } = self.tracer.seam.procedure;
        Bands { work, travel, ctwd }
    }

    /// Torch angles at their aims and at few steps to the ends of their tolerances, the least off first.
    fn few_levels(&self) -> Levels {
        levels(&self.between_ends(), self.steps.levels_a_side(), None)
    }

    /// The same with as many steps in between as a wide tolerance asks.
    fn all_levels(&self, bands: &Bands) -> Levels {
        levels(bands, self.steps.levels_a_side(), Some(self.steps.level()))
    }

    /// Clearance queries that are spent where everything varies: turns and layers are as many more as the steps are finer.
    fn mixing_queries(&self) -> u64 {
        MIXING_QUERIES * self.steps.more(2)
    }

    /// What holds at a layer.
    fn bands_at(&self, k: usize) -> Bands {
        let seam = self.tracer.seam;
        seam.procedure.bands(&seam.runs[self.rungs[k].run], self.rungs[k].s)
    }

    /// Turns about the wire to try; the whole circle where the turn is free.
    fn turns(&self) -> Vec<f64> {
        match &self.tracer.seam.procedure.turn {
            None => {
                let count = (std::f64::consts::TAU / self.turn_step).round() as usize;
                (0..count).map(|i| i as f64 * self.turn_step).collect()
            }
            Some(band) => {
                let steps = |tolerance: f64| {
                    let count = (tolerance / self.turn_step).ceil() as i32;
                    (1..=count).map(move |i| tolerance * f64::from(i) / f64::from(count))
                };
                let below = steps(band.below).collect::<Vec<f64>>().into_iter().rev().map(|off| -off);
                below.chain([0.0]).chain(steps(band.above)).map(|off| band.aim + off).collect()
            }
        }
    }

    fn choices(&self, levels: &[(TorchAngles, f64)], turning: bool) -> Choices {
        let turns = self.turns();
        let free = self.tracer.seam.procedure.turn.is_none();
        let mut all = Vec::with_capacity(levels.len() * turns.len());
        for (angles, rate) in levels {
            for turn in &turns {
                all.push(Choice { angles: TorchAngles { turn: *turn, ..*angles }, rate: *rate });
            }
        }
        // Between two layers the turn may change as far as the seam frame may turn there.
        let reach = if turning { (self.steps.turn() / self.turn_step).round() as usize } else { 0 };
        let step_of = |a: usize, b: usize| {
            let apart = a.abs_diff(b);
            if free { apart.min(turns.len() - apart) } else { apart }
        };
        // One of work, travel and CTWD changes at a time, from aim to either end of its tolerance or back.
        let near = |a: &TorchAngles, b: &TorchAngles| {
            let changes = [(a.work, b.work), (a.travel, b.travel), (a.ctwd, b.ctwd)];
            changes.iter().filter(|(a, b)| a != b).count() <= 1
        };
        let neighbours = (0..all.len())
            .map(|a| {
                let (level_a, turn_a) = (a / turns.len(), a % turns.len());
                (0..all.len())
                    .filter(|b| {
                        let (level_b, turn_b) = (b / turns.len(), b % turns.len());
                        step_of(turn_a, turn_b) <= reach && near(&levels[level_a].0, &levels[level_b].0)
                    })
                    .map(|b| b as u32)
                    .collect()
            })
            .collect();
        Choices { all, neighbours }
    }

    fn ladder<'l>(&mut self, choices: &'l Choices) -> Ladder<'l>
    where
        'a: 'l,
    {
        let arm = &self.tracer.along.setup.cell.arm;
        let layers = Vec::with_capacity(self.rungs.len());
        let mut ladder = Ladder { layers, choices, arm: &arm.arm, max_speed: self.max_speed, home: arm.home };
        for k in 0..self.rungs.len() {
            ladder.layers.push(self.layer(k, choices));
            self.follow_to_other_turns(&mut ladder);
            // Above a layer that nothing leads to there is no path.
            if self.open_alone && !ladder.keep_reached(k) {
                break;
            }
        }
        ladder
    }

    fn layer(&mut self, k: usize, choices: &Choices) -> Layer {
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let bands = self.bands_at(k);
        if self.open_alone {
            return self.open_layer(k, choices);
        }
        // What is allowed near the ends alone is not to be had between them.
        let allowed: Vec<usize> = (0..choices.all.len())
            .filter(|index| Violation::of_angles(&bands, &choices.all[*index].angles).is_none())
            .collect();
        let flange = |index: &usize| {
            let angles = &choices.all[*index].angles;
            setup.base_from_flange(&station_from_tool(&self.points[k], angles), angles.ctwd)
        };
        let base_from_flange: Vec<Pose> = allowed.iter().map(flange).collect();
        let mut nodes: Vec<Node> = Vec::new();
        setup.stances_each(&base_from_flange, &self.whole_turns, |pose, stances| {
            let index = allowed[pose];
            let angles = &choices.all[index].angles;
            nodes.extend(stances.iter().map(|stance| {
                let unreachable = matches!(stance.violation.map(|v| v.limit), Some(Limit::Reach(_)));
                let too_fast =
                    if unreachable { None } else { self.too_fast_to_weave(k, &setup, &stance.axes, angles) };
                Node {
                    choice: index as u32,
                    axes: stance.axes,
                    violation: stance.violation.map_or(too_fast, |own| Some(own.worse(too_fast))),
                    unreachable,
                    rate: choices.all[index].rate + self.stance_rate(&stance.axes),
                    known: Known::Unknown,
                    set_aside: false,
                }
            }));
        });
        self.poses += allowed.len() as u64;
        self.solutions += nodes.iter().filter(|node| !node.unreachable).count() as u64;
        Layer::new(self.rungs[k], nodes, choices.all.len())
    }

    /// Cost per metre of being near the limits of the arm.
    fn stance_rate(&self, axes: &AxisValues) -> f64 {
        let weights = weights();
        let barrier = |margin: f64, near: f64| (1.0 - margin / near).clamp(0.0, 2.0).powi(2);
        let arm = &self.tracer.along.setup.cell.arm.arm;
        let ranges: f64 =
            arm.range_uses(axes).map(|at| barrier(at.margin() / at.per_axis, weights.near_limit)).sum();
        let dress = &self.tracer.along.setup.cell.torch.dress;
        let hose: f64 = dress
            .values(axes)
            .map(|(_, range, value)| barrier(range.margin(value), weights.near_limit))
            .sum();
        let wrist = barrier(arm.singularity(axes).wrist, weights.near_singular);
        weights.axis_limit * ranges + weights.hose_limit * hose + weights.singular * wrist
    }

    /// Different ways that hold, best first. Where those that keep just what is asked at their places are not shown to keep it between
    /// them, ways are looked for that keep a little more.
    fn ways(&mut self, levels: &[(TorchAngles, f64)], turning: bool) -> Vec<Way> {
        self.unshown = false;
        let ways = self.ways_as_asked(levels, turning);
        if !ways.is_empty() || !self.unshown {
            return ways;
        }
        self.spare = spare(self.steps);
        if self.is_last_resort() {
            self.most_queries = self.tracer.clearance_queries + self.mixing_queries();
        }
        let ways = self.ways_as_asked(levels, turning);
        self.spare = 0.0;
        ways
    }

    fn ways_as_asked(&mut self, levels: &[(TorchAngles, f64)], turning: bool) -> Vec<Way> {
        loop {
            self.near_end = None;
            let ways = self.ways_on_turns_tried(levels, turning);
            let Some(axis) = self.near_end.filter(|_| ways.is_empty()) else { return ways };
            let opened = self.tracer.along.setup.whole_turns.count() - self.whole_turns.count();
            if self.is_last_resort() || opened >= MOST_OPENED || !self.may_hold_without_ends(levels, turning)
            {
                return ways;
            }
            self.whole_turns = self.whole_turns.with_all_of(axis);
            self.forget_stances();
        }
    }

    /// Whether all angles vary: then the search is kept short.
    fn is_last_resort(&self) -> bool {
        self.most_queries < u64::MAX
    }

    fn ways_on_turns_tried(&mut self, levels: &[(TorchAngles, f64)], turning: bool) -> Vec<Way> {
        let choices = self.choices(levels, turning);
        let mut ladder = self.ladder(&choices);
        let mut ways: Vec<Way> = Vec::new();
        let mut tries = Tries::default();
        while ways.len() < self.most_ways {
            let Some((way, path)) = self.next_way(&mut ladder, &choices, &mut tries, true) else { break };
            let start = ladder.layers[0].nodes[path[0]].axes;
            for node in &mut ladder.layers[0].nodes {
                if (node.axes - start).amax() < different() {
                    node.set_aside |= node.is_open();
                }
            }
            ways.push(way);
        }
        if self.branches && !ways.is_empty() {
            self.by_other_branches = self.ways_by_other_branches(&mut ladder, &choices, &ways, &mut tries);
        }
        ways.sort_by(|a, b| rank(a.cost).total_cmp(&rank(b.cost)));
        ways
    }

    /// The cheapest way through what is left of a ladder that holds as it is followed.
    fn next_way(
        &mut self,
        ladder: &mut Ladder<'_>,
        choices: &Choices,
        tries: &mut Tries,
        refined: bool,
    ) -> Option<(Way, Vec<usize>)> {
        // Each turn of this loop blocks at least one node.
        while tries.traces < MOST_TRACES * self.steps.more(1) as usize && tries.too_fast < MOST_TOO_FAST {
            tries.traces += 1;
            let path = {
                let mut check = |k: usize, node: &Node| self.check(k, node, choices);
                ladder.cheapest(&mut check)?
            };
            match self.way(ladder, &path, refined) {
                Ok(way) => return Some((way, path)),
                Err(failure) => {
                    self.unshown |= matches!(failure.violation.limit, Limit::Unshown(Unshown::Clearance(_)));
                    let is_too_fast = matches!(failure.violation.limit, Limit::AxisAcceleration(_));
                    tries.too_fast += usize::from(is_too_fast);
                    let layer = self.layer_near(failure.s);
                    let fails_at_every_turn = self.fails_at_every_turn(&failure, &choices.all);
                    ladder.layers[layer].nodes[path[layer]].known = Known::Blocked;
                    self.note(failure);
                    if fails_at_every_turn {
                        return None;
                    }
                }
            }
        }
        None
    }

    /// Whether every path through a ladder fails where one did: all its angles but the turn are the same, and what is too near is round about
    /// the wire, so that it is as near at every turn.
    fn fails_at_every_turn(&self, failure: &Failure, choices: &[Choice]) -> bool {
        let Limit::Clearance(pair) = failure.violation.limit else { return false };
        let unturned = |choice: &Choice| TorchAngles { turn: 0.0, ..choice.angles };
        self.tracer.along.setup.scene.is_round_about_the_wire(pair)
            && choices.iter().all(|choice| unturned(choice) == unturned(&choices[0]))
    }

    fn layer_near(&self, s: f64) -> usize {
        let after = self.rungs.partition_point(|rung| rung.s < s);
        after.min(self.rungs.len() - 1)
    }

    /// Clearance of a node; at the ends of a run, of the way in and out too.
    fn check(&mut self, k: usize, node: &Node, choices: &Choices) -> Known {
        if self.tracer.clearance_queries > self.most_queries {
            return Known::Blocked;
        }
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let ctwd = choices.all[node.choice as usize].angles.ctwd;
        if !self.clears(k, node, &setup, ctwd) {
            return Known::Blocked;
        }
        match self.ways_in_and_out(k, &choices.all[node.choice as usize].angles, &node.axes) {
            Ok(()) => Known::Clear,
            Err(failure) => {
                let at_end = self.note(failure);
                if at_end && self.without_ends { Known::Clear } else { Known::Blocked }
            }
        }
    }

    /// Whether everything keeps its clearance at a node. One that is whole turns of the node asked before has its answer.
    fn clears(&mut self, k: usize, node: &Node, setup: &Setup<'_>, ctwd: f64) -> bool {
        let same = self.last_clear.filter(|last| {
            (last.layer, last.choice, last.spare) == (k, node.choice, self.spare)
                && are_whole_turns_apart(&last.axes, &node.axes)
        });
        if let Some(last) = same {
            self.tracer.clearance_queries += 1;
            return last.clears;
        }
        let clears = self.tracer.clears_by(setup, &node.axes, ctwd, self.spare);
        let Node { choice, axes, .. } = *node;
        self.last_clear = Some(LastClear { layer: k, choice, axes, spare: self.spare, clears });
        clears
    }

    fn ways_in_and_out(&mut self, k: usize, angles: &TorchAngles, axes: &AxisValues) -> Result<(), Failure> {
        for (distance, sign) in self.ways_at(k) {
            let law = Law { points: vec![(self.rungs[k].s, *angles)] };
            let s = self.rungs[k].s;
            let outside = |failure: Failure| Failure { s: s + sign * failure.s, ..failure };
            self.tracer.leave(&law, s, distance, axes).map_err(outside)?;
        }
        Ok(())
    }

    /// Lengths of the ways in (−1) and out (1) at a layer that begins or ends a run.
    fn ways_at(&self, k: usize) -> impl Iterator<Item = (f64, f64)> + use<> {
        let last = self.rungs.len() - 1;
        let procedure = &self.tracer.seam.procedure;
        let run = self.rungs[k].run;
        let first_of_run = k == 0 || self.rungs[k - 1].run != run;
        let last_of_run = k == last || self.rungs[k + 1].run != run;
        let way_in = first_of_run.then_some(if k == 0 { procedure.approach } else { procedure.stitch_lift });
        let way_out =
            last_of_run.then_some(if k == last { procedure.retract } else { procedure.stitch_lift });
        way_in.map(|distance| (distance, -1.0)).into_iter().chain(way_out.map(|distance| (distance, 1.0)))
    }
}
