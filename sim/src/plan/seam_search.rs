//! Decides whether one seam can be welded: searches torch poses over the tolerances, from the simplest way to the most varied, and
//! names the limit that binds where none is found.
//!
//! Order of the search: angles at their aim with a constant turn about the wire; at their aim with a varying turn; constant off-aim
//! angles inside the tolerance, the least off first; everything varying. So a seam gets as few taught points as it allows.

use seamwright_kinematics::AxisValues;

use super::ladder::{Choice, Choices, Known, Ladder, Layer, Node, Rung, turn_between, weights};
use super::setup::{Setup, Stance};
use super::trace::{Failure, Law, Tracer};
use super::violation::{Limit, Violation};
use super::{Binding, Effort, Margins, Move, MoveKind, PathPoint, TorchAngles, Verdict, station_from_tool};
use crate::cell::{Band, Seam, SeamId, SeamPath, SeamPoint};
use crate::units;

/// One way to weld a seam that keeps every limit at every sample.
#[derive(Clone, Debug)]
pub(super) struct Way {
    pub law: Law,
    /// Moves in groups; between two groups the arm goes through the air.
    pub legs: Vec<Vec<Move>>,
    pub margins: Margins,
    pub cost: f64,
}

impl Way {
    pub fn start(&self) -> &AxisValues {
        &self.legs[0][0].points[0].axes
    }

    pub fn end(&self) -> &AxisValues {
        let last = self.legs.last().and_then(|leg| leg.last()).and_then(|mv| mv.points.last());
        last.map_or_else(|| self.start(), |point| &point.axes)
    }
}

/// What the search found.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub verdict: Verdict,
    /// Best first; empty unless the seam holds.
    pub ways: Vec<Way>,
    pub binding: Option<Binding>,
    pub also: Vec<Binding>,
    pub effort: Effort,
}

/// Step of the turn about the wire.
fn turn_step() -> f64 {
    units::deg(10.0)
}

/// Times that the least bad path of a seam that fails is measured anew, at the angles aimed at; a quarter at others.
const DIAGNOSIS_ROUNDS: usize = 16;

/// Levels that the search for the limit that binds looks at.
const DIAGNOSIS_LEVELS: usize = 7;

/// Clearance queries spent on ways along which work angle, travel angle and CTWD all vary.
const MIXING_QUERIES: u64 = 12_000;

/// A seam that fails by less than this many bands is searched once more, with a quarter of the step of the turn.
const NEARLY: f64 = 10.0;

/// Levels of each of work angle, travel angle and CTWD: least, aim, most.
const LEVELS: [f64; 3] = [0.0, -1.0, 1.0];

/// Greatest distance between two layers.
fn layer_step() -> f64 {
    units::mm(10.0)
}

/// Greatest turn of the seam frame between two layers: what one step of the turn about the wire can take up.
fn layer_turn() -> f64 {
    units::deg(10.0)
}

/// Ways kept for a seam, so that the way there through the air has a choice.
const WAYS: usize = 3;

/// Paths through one ladder that are followed before it is given up.
const MOST_TRACES: usize = 200;

/// Two ways whose first axis values differ by more than this in some axis count as different.
fn different() -> f64 {
    units::deg(60.0)
}

/// Searches one seam; `setup` must be that of the seam.
pub(super) fn search(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath) -> Found {
    let seam = &setup.cell.seams[seam_id.0];
    let mut search = Search::new(setup, seam_id, seam, path);
    let mut found = search.run();
    found.effort = search.effort();
    found
}

/// Why a seam does not hold.
struct Diagnosis {
    found: Found,
    /// The level of the least bad path, where that fails by little.
    nearly: Option<usize>,
}

struct Search<'a, 'c> {
    tracer: Tracer<'a, 'c>,
    rungs: Vec<Rung>,
    points: Vec<SeamPoint>,
    max_speed: AxisValues,
    last_failure: Option<Failure>,
    turn_step: f64,
    /// Clearance queries after which nothing counts as clear any more.
    most_queries: u64,
    poses: u64,
    solutions: u64,
}

impl<'a, 'c> Search<'a, 'c> {
    fn new(setup: &'a Setup<'c>, seam_id: SeamId, seam: &'a Seam, path: &'a SeamPath) -> Self {
        let speed = seam.procedure.travel_speed;
        let mut rungs: Vec<Rung> = Vec::new();
        for (run, stretch) in seam.runs.iter().enumerate() {
            let samples = path.samples(stretch.start, stretch.end, layer_step(), layer_turn());
            for (i, &s) in samples.iter().enumerate() {
                let before = i.checked_sub(1).map_or(0.0, |before| s - samples[before]);
                let after = samples.get(i + 1).map_or(0.0, |after| after - s);
                let time = if i == 0 { f64::INFINITY } else { before / speed };
                rungs.push(Rung { s, run, time, length: 0.5 * (before + after) });
            }
        }
        let points = rungs.iter().map(|rung| path.at(rung.s)).collect();
        let axes = setup.cell.arm.arm.axes();
        Self {
            tracer: Tracer { setup, seam_id, seam, path, hint: None, clearance_queries: 0, poses: 0 },
            rungs,
            points,
            max_speed: AxisValues::from_fn(|i, _| axes[i].max_speed),
            last_failure: None,
            turn_step: turn_step(),
            most_queries: u64::MAX,
            poses: 0,
            solutions: 0,
        }
    }

    fn effort(&self) -> Effort {
        Effort {
            turn_step_deg: units::to_deg(turn_step()),
            levels: LEVELS.len(),
            layer_step_mm: units::to_mm(layer_step()),
            check_step_mm: units::to_mm(super::trace::check_step()),
            poses: self.poses + self.tracer.poses,
            solutions: self.solutions,
            clearance_queries: self.tracer.clearance_queries,
        }
    }

    fn run(&mut self) -> Found {
        if let Some(failure) = self.joint_too_tight() {
            let binding = self.binding(failure);
            return self.found(Verdict::NotFound, Vec::new(), Some(binding), Vec::new());
        }
        let levels = self.levels();
        let mut ways = self.ways(&levels[..1], false);
        if ways.is_empty() {
            ways = self.ways(&levels[..1], true);
        }
        for level in 1..levels.len() {
            if !ways.is_empty() {
                break;
            }
            ways = self.ways(&levels[level..=level], true);
        }
        if ways.is_empty() && levels.len() > 1 {
            self.most_queries = self.tracer.clearance_queries + MIXING_QUERIES;
            if self.hope_in_mixing(&levels) {
                ways = self.ways(&levels, true);
            }
            self.most_queries = u64::MAX;
        }
        if !ways.is_empty() {
            return self.found(Verdict::Holds, ways, None, Vec::new());
        }
        let diagnosis = self.diagnose(&levels);
        if let Some(level) = diagnosis.nearly {
            self.turn_step = 0.25 * turn_step();
            for level in [0, level] {
                let ways = self.ways(&levels[level..=level], true);
                if !ways.is_empty() {
                    return self.found(Verdict::Holds, ways, None, Vec::new());
                }
            }
        }
        diagnosis.found
    }

    fn found(&self, verdict: Verdict, ways: Vec<Way>, binding: Option<Binding>, also: Vec<Binding>) -> Found {
        Found { verdict, ways, binding, also, effort: Effort::default() }
    }

    /// Work, travel and CTWD within their tolerances: at their aim first, then the least off first.
    fn levels(&self) -> Vec<(TorchAngles, f64)> {
        let procedure = &self.tracer.seam.procedure;
        let values = |band: &Band| {
            let count = if band.tolerance > 0.0 { LEVELS.len() } else { 1 };
            LEVELS[..count]
                .iter()
                .map(move |share| (band.aim + share * band.tolerance, share.abs()))
                .collect()
        };
        let (work, travel, ctwd): (Vec<_>, Vec<_>, Vec<_>) =
            (values(&procedure.work), values(&procedure.travel), values(&procedure.ctwd));
        let mut levels = Vec::new();
        for (work, work_off) in &work {
            for (travel, travel_off) in &travel {
                for (ctwd, ctwd_off) in &ctwd {
                    let angles = TorchAngles { work: *work, travel: *travel, turn: 0.0, ctwd: *ctwd };
                    levels.push((angles, (work_off + travel_off + ctwd_off) * weights().off_aim));
                }
            }
        }
        levels.sort_by(|a, b| a.1.total_cmp(&b.1));
        levels
    }

    /// Turns about the wire to try; the whole circle where the turn is free.
    fn turns(&self) -> Vec<f64> {
        match &self.tracer.seam.procedure.turn {
            None => {
                let count = (std::f64::consts::TAU / self.turn_step).round() as usize;
                (0..count).map(|i| i as f64 * self.turn_step).collect()
            }
            Some(band) => {
                let half = (band.tolerance / self.turn_step).ceil() as i32;
                let step = if half == 0 { 0.0 } else { band.tolerance / f64::from(half) };
                (-half..=half).map(|i| band.aim + f64::from(i) * step).collect()
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
        let reach = if turning { (turn_step() / self.turn_step).round() as usize } else { 0 };
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

    fn ladder<'l>(&mut self, choices: &'l Choices) -> Ladder<'l> {
        let mut layers = Vec::with_capacity(self.rungs.len());
        let mut stances = Vec::new();
        for k in 0..self.rungs.len() {
            layers.push(self.layer(k, choices, &mut stances));
        }
        Ladder { layers, choices, max_speed: self.max_speed }
    }

    fn layer(&mut self, k: usize, choices: &Choices, stances: &mut Vec<Stance>) -> Layer {
        let setup = self.tracer.setup;
        let mut nodes = Vec::new();
        let mut first = Vec::with_capacity(choices.all.len() + 1);
        for (index, choice) in choices.all.iter().enumerate() {
            first.push(nodes.len() as u32);
            stances.clear();
            let wire_end = station_from_tool(&self.points[k], &choice.angles);
            setup.stances(&setup.base_from_flange(&wire_end, choice.angles.ctwd), stances);
            self.poses += 1;
            for stance in stances.iter() {
                let unreachable = matches!(stance.violation.map(|v| v.limit), Some(Limit::Reach(_)));
                self.solutions += u64::from(!unreachable);
                nodes.push(Node {
                    choice: index as u32,
                    axes: stance.axes,
                    violation: stance.violation,
                    unreachable,
                    rate: choice.rate + self.stance_rate(&stance.axes),
                    known: Known::Unknown,
                });
            }
        }
        first.push(nodes.len() as u32);
        Layer { rung: self.rungs[k], nodes, first }
    }

    /// Cost per metre of being near the limits of the arm.
    fn stance_rate(&self, axes: &AxisValues) -> f64 {
        let weights = weights();
        let barrier = |margin: f64, near: f64| (1.0 - margin / near).clamp(0.0, 2.0).powi(2);
        let arm = &self.tracer.setup.cell.arm.arm;
        let ranges: f64 = arm
            .axes()
            .iter()
            .enumerate()
            .map(|(i, axis)| barrier(axis.range.margin(axes[i]), weights.near_limit))
            .sum();
        let dress = &self.tracer.setup.cell.torch.dress;
        let hose: f64 = dress
            .values(axes)
            .map(|(_, range, value)| barrier(range.margin(value), weights.near_limit))
            .sum();
        let wrist = barrier(arm.singularity(axes).wrist, weights.near_singular);
        weights.axis_limit * ranges + weights.hose_limit * hose + weights.singular * wrist
    }

    /// Different ways that hold, best first.
    fn ways(&mut self, levels: &[(TorchAngles, f64)], turning: bool) -> Vec<Way> {
        let choices = self.choices(levels, turning);
        let mut ladder = self.ladder(&choices);
        let mut ways: Vec<Way> = Vec::new();
        // Each turn of this loop either keeps a way and sets its kind aside, or blocks at least one node.
        for _ in 0..MOST_TRACES {
            if ways.len() == WAYS {
                break;
            }
            let path = {
                let mut check = |k: usize, node: &Node| self.check(k, node, &choices);
                ladder.cheapest(&mut check)
            };
            let Some(path) = path else { break };
            match self.way(&ladder, &path) {
                Ok(way) => {
                    let start = ladder.layers[0].nodes[path[0]].axes;
                    for node in &mut ladder.layers[0].nodes {
                        if (node.axes - start).amax() < different() {
                            node.known = Known::Blocked;
                        }
                    }
                    ways.push(way);
                }
                Err(failure) => {
                    let layer = self.layer_near(failure.s);
                    ladder.layers[layer].nodes[path[layer]].known = Known::Blocked;
                    self.last_failure = Some(failure);
                }
            }
        }
        ways.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        ways
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
        if !self.tracer.clears(&node.axes) {
            return Known::Blocked;
        }
        match self.ways_in_and_out(k, node, choices) {
            Ok(()) => Known::Clear,
            Err(failure) => {
                self.last_failure = Some(failure);
                Known::Blocked
            }
        }
    }

    fn measure(&mut self, k: usize, node: &Node, choices: &Choices) -> Known {
        if let Some(violation) = self.tracer.clearance_violation_roughly(&node.axes) {
            return Known::Measured(violation);
        }
        for (distance, _) in self.ways_at(k) {
            let law = Law { points: vec![(self.rungs[k].s, choices.all[node.choice as usize].angles)] };
            let failure = match node.violation {
                None => {
                    self.tracer.leave(&law, self.rungs[k].s, distance, &node.axes).err().map(|f| f.violation)
                }
                // An axis is beyond its limit already; what else is in the way is asked at a few places.
                Some(_) => self.tracer.blocked_on_leaving(&law, self.rungs[k].s, distance, &node.axes),
            };
            if let Some(violation) = failure {
                return Known::Measured(violation);
            }
        }
        Known::Clear
    }

    fn ways_in_and_out(&mut self, k: usize, node: &Node, choices: &Choices) -> Result<(), Failure> {
        for (distance, sign) in self.ways_at(k) {
            let law = Law { points: vec![(self.rungs[k].s, choices.all[node.choice as usize].angles)] };
            let s = self.rungs[k].s;
            let outside = |failure: Failure| Failure { s: s + sign * failure.s, ..failure };
            self.tracer.leave(&law, s, distance, &node.axes).map_err(outside)?;
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

    /// Follows the path found, with as few changes of angle as it takes, and measures its margins.
    fn way(&mut self, ladder: &Ladder<'_>, path: &[usize]) -> Result<Way, Failure> {
        let angles = unwrapped(ladder, path);
        let starts: Vec<AxisValues> =
            path.iter().enumerate().map(|(k, &i)| ladder.layers[k].nodes[i].axes).collect();
        let law = self.fewest_points(&angles, &starts)?;
        let way = self.legs(&law, &starts)?;
        Ok(self.refine(way))
    }

    /// The law with the fewest points that passes close enough to the angles found and keeps every limit.
    fn fewest_points(&mut self, angles: &[TorchAngles], starts: &[AxisValues]) -> Result<Law, Failure> {
        let last = angles.len() - 1;
        let mut law = Law { points: vec![(self.rungs[0].s, angles[0])] };
        let mut at = 0;
        while at < last {
            let mut reach = last;
            loop {
                let piece = Law {
                    points: vec![law.points[law.points.len() - 1], (self.rungs[reach].s, angles[reach])],
                };
                match self.weld_between(&piece, at, reach, starts) {
                    Ok(()) => break,
                    Err(failure) if reach == at + 1 => return Err(failure),
                    Err(_) => reach = at + (reach - at).div_ceil(2),
                }
            }
            law.points.push((self.rungs[reach].s, angles[reach]));
            at = reach;
        }
        Ok(merge_constant(law))
    }

    /// Whether the weld holds by `law` from layer `from` to layer `to`.
    fn weld_between(
        &mut self,
        law: &Law,
        from: usize,
        to: usize,
        starts: &[AxisValues],
    ) -> Result<(), Failure> {
        let mut k = from;
        while k < to {
            let run = self.rungs[k].run;
            let end = (k..=to).rev().find(|i| self.rungs[*i].run == run).unwrap_or(k);
            if end > k {
                let stretch = crate::cell::Run { start: self.rungs[k].s, end: self.rungs[end].s };
                let points = self.tracer.weld(law, stretch, &starts[k])?;
                let reached = points.last().map_or(starts[end], |point| point.axes);
                let off = reached - starts[end];
                if off.amax() > super::ladder::jump() {
                    return Err(Failure {
                        violation: Violation::of_jump(off.iamax(), off.amax()),
                        s: stretch.end,
                    });
                }
            }
            k = end + 1;
        }
        Ok(())
    }

    /// All moves of the seam by `law`.
    fn legs(&mut self, law: &Law, starts: &[AxisValues]) -> Result<Way, Failure> {
        let procedure = &self.tracer.seam.procedure;
        let runs = &self.tracer.seam.runs;
        let mut legs: Vec<Vec<Move>> = vec![Vec::new()];
        let mut cost = 0.0;
        for (index, run) in runs.iter().enumerate() {
            let first = self.rungs.iter().position(|rung| rung.run == index).unwrap_or(0);
            let weld = self.tracer.weld(law, *run, &starts[first])?;
            let (start, end) = (weld[0].axes, weld[weld.len() - 1].axes);
            cost += self.cost(law, &weld);
            let lifted =
                |distance: f64, s: f64, axes: &AxisValues, tracer: &mut Tracer<'_, '_>, sign: f64| {
                    tracer.leave(law, s, distance, axes).map_err(|f| Failure { s: s + sign * f.s, ..f })
                };
            let way_in = |out: Vec<PathPoint>| {
                let length = out.last().map_or(0.0, |point| point.s);
                out.into_iter()
                    .rev()
                    .map(|point| PathPoint { s: length - point.s, ..point })
                    .collect::<Vec<_>>()
            };
            let mut in_distance = procedure.approach;
            if index > 0 {
                // Lifted along the seam from the stitch before, or out and round through the air where that is blocked.
                let from = runs[index - 1].end;
                let before =
                    legs.last().and_then(|leg| leg.last()).and_then(|mv| mv.points.last()).map(|p| p.axes);
                let before = before.unwrap_or(start);
                let lift = procedure.stitch_lift;
                let shift = lifted(lift, from, &before, &mut self.tracer, 1.0).and_then(|out| {
                    let top = out.last().map_or(before, |point| point.axes);
                    let along = self.tracer.shift(law, (from, run.start), lift, &top)?;
                    let landed = along.last().map_or(top, |point| point.axes);
                    let down = lifted(lift, run.start, &start, &mut self.tracer, -1.0)?;
                    let meets = down.last().is_some_and(|point| (point.axes - landed).amax() < 1e-6);
                    Ok((out, along, meets))
                });
                match shift {
                    Ok((out, along, true)) => {
                        if let Some(leg) = legs.last_mut() {
                            leg.push(self.make(MoveKind::Retract, out));
                            leg.push(self.make(MoveKind::Shift, along));
                        }
                        in_distance = lift;
                    }
                    _ => {
                        let out = lifted(procedure.retract, from, &before, &mut self.tracer, 1.0)?;
                        if let Some(leg) = legs.last_mut() {
                            leg.push(self.make(MoveKind::Retract, out));
                        }
                        legs.push(Vec::new());
                    }
                }
            }
            let way_in = way_in(lifted(in_distance, run.start, &start, &mut self.tracer, -1.0)?);
            let mut moves =
                vec![self.make(MoveKind::Approach, way_in), self.make(MoveKind::Weld { run: index }, weld)];
            if index + 1 == runs.len() {
                let out = lifted(procedure.retract, run.end, &end, &mut self.tracer, 1.0)?;
                moves.push(self.make(MoveKind::Retract, out));
            }
            if let Some(leg) = legs.last_mut() {
                leg.append(&mut moves);
            }
        }
        let margins = self.margins(&legs);
        cost += self.clearance_cost(&margins);
        Ok(Way { law: law.clone(), legs, margins, cost })
    }

    fn make(&self, kind: MoveKind, points: Vec<PathPoint>) -> Move {
        let external = self.tracer.setup.external.clone();
        Move { kind, seam: Some(self.tracer.seam_id), external, points }
    }

    fn margins(&mut self, legs: &[Vec<Move>]) -> Margins {
        let runs = &self.tracer.seam.runs;
        let speed = self.tracer.seam.procedure.travel_speed;
        let mut points: Vec<(f64, Option<f64>, &PathPoint)> = Vec::new();
        let mut seam_end = 0.0;
        let (first, last) = (runs[0].start, runs[runs.len() - 1].end);
        for mv in legs.iter().flatten() {
            let length = mv.points.last().map_or(0.0, |point| point.s);
            for point in &mv.points {
                points.push(match mv.kind {
                    MoveKind::Weld { run } => {
                        seam_end = runs[run].end;
                        (point.s, Some(speed), point)
                    }
                    // Before the seam and beyond it the way in and out is counted on; between stitches it is their gap.
                    MoveKind::Approach if seam_end == 0.0 => (first - (length - point.s), None, point),
                    MoveKind::Retract if seam_end >= last => (last + point.s, None, point),
                    _ => (seam_end, None, point),
                });
            }
        }
        let empty = Margins {
            axis: (0, 0.0, 0.0),
            hose: None,
            clearance: None,
            wrist: (0.0, 0.0),
            speed: (0, 0.0, 0.0),
        };
        self.tracer.margins(points.into_iter()).unwrap_or(empty)
    }

    /// Cost of a weld as followed, by the ladder's own weights.
    fn cost(&self, law: &Law, weld: &[PathPoint]) -> f64 {
        let weights = weights();
        let procedure = &self.tracer.seam.procedure;
        let off = |band: &Band, value: f64| {
            if band.tolerance > 0.0 { ((value - band.aim) / band.tolerance).abs() } else { 0.0 }
        };
        let mut cost = 0.0;
        for pair in weld.windows(2) {
            let length = pair[1].s - pair[0].s;
            let angles = law.at(pair[1].s);
            let off_aim = off(&procedure.work, angles.work)
                + off(&procedure.travel, angles.travel)
                + off(&procedure.ctwd, angles.ctwd);
            cost += (off_aim * weights.off_aim + self.stance_rate(&pair[1].axes)) * length;
            let step = pair[1].axes - pair[0].axes;
            cost += weights.axis_travel * step.abs().component_div(&self.max_speed).sum();
        }
        cost
    }

    fn clearance_cost(&self, margins: &Margins) -> f64 {
        let weights = weights();
        let length = self.tracer.seam.weld_length();
        margins.clearance.as_ref().map_or(0.0, |tightest| {
            let spare = tightest.distance - tightest.asked;
            weights.clearance * (1.0 - spare / weights.near_body).clamp(0.0, 1.0).powi(2) * length
        })
    }

    /// Moves a constant turn off its grid while that makes the way cheaper.
    fn refine(&mut self, way: Way) -> Way {
        if self.tracer.seam.procedure.turn.is_some() || way.law.points.len() > 1 {
            return way;
        }
        let mut best = way;
        let mut step = 0.5 * turn_step();
        for _ in 0..3 {
            for sign in [1.0, -1.0] {
                let mut law = best.law.clone();
                for (_, angles) in &mut law.points {
                    angles.turn += sign * step;
                }
                let starts: Vec<AxisValues> = self.starts_of(&best);
                if let Ok(other) = self.legs(&law, &starts)
                    && other.cost < best.cost - 1e-9
                {
                    best = other;
                    break;
                }
            }
            step *= 0.5;
        }
        best
    }

    /// Axis values of a way at each rung.
    fn starts_of(&self, way: &Way) -> Vec<AxisValues> {
        let mut points: Vec<&PathPoint> = Vec::new();
        for mv in way.legs.iter().flatten() {
            if matches!(mv.kind, MoveKind::Weld { .. }) {
                points.extend(&mv.points);
            }
        }
        let nearest = |s: f64| {
            let after = points.partition_point(|point| point.s < s - 1e-9).min(points.len() - 1);
            points[after].axes
        };
        self.rungs.iter().map(|rung| nearest(rung.s)).collect()
    }

    /// Where every layer alone has a torch pose that clears, though no constant level serves all layers.
    fn hope_in_mixing(&mut self, levels: &[(TorchAngles, f64)]) -> bool {
        let choices = self.choices(levels, false);
        let mut stances = Vec::new();
        (0..self.rungs.len()).all(|k| {
            let layer = self.layer(k, &choices, &mut stances);
            layer
                .nodes
                .iter()
                .any(|node| node.violation.is_none() && self.check(k, node, &choices) == Known::Clear)
        })
    }

    /// Whether the nozzle fits into the joint at no allowed angle, with no arm in the way.
    fn joint_too_tight(&mut self) -> Option<Failure> {
        let setup = self.tracer.setup;
        let levels = self.levels();
        let mut worst: Option<Failure> = None;
        for k in 0..self.rungs.len() {
            if self.points[k].in_corner {
                continue;
            }
            let mut best: Option<Violation> = None;
            for (angles, _) in &levels {
                let wire_end = station_from_tool(&self.points[k], angles);
                let base_from_flange = setup.base_from_flange(&wire_end, angles.ctwd);
                let gap = setup.scene.front_in_joint(&base_from_flange, self.tracer.seam_id);
                let Some(violation) = gap.and_then(|gap| Violation::of_gap(&gap, Limit::JointTooTight))
                else {
                    best = None;
                    break;
                };
                if best.is_none_or(|best| violation.amount < best.amount) {
                    best = Some(violation);
                }
            }
            if let Some(violation) = best
                && worst.is_none_or(|worst| violation.amount > worst.violation.amount)
            {
                worst = Some(Failure { violation, s: self.rungs[k].s });
            }
        }
        worst
    }

    /// Names what binds: the worst limit along the least bad path over all levels.
    fn diagnose(&mut self, levels: &[(TorchAngles, f64)]) -> Diagnosis {
        let mut best: Option<(f64, Failure, Vec<Option<Violation>>)> = None;
        let mut nearly = None;
        // The least off first: aim, then one of work, travel and CTWD at an end of its tolerance.
        for level in 0..levels.len().min(DIAGNOSIS_LEVELS) {
            let choices = self.choices(&levels[level..=level], true);
            let mut ladder = self.ladder(&choices);
            let rounds = if level == 0 { DIAGNOSIS_ROUNDS } else { DIAGNOSIS_ROUNDS / 4 };
            let bound = best.as_ref().map_or(f64::INFINITY, |(bands, ..)| *bands);
            let least_bad = {
                let mut measure = |k: usize, node: &Node| self.measure(k, node, &choices);
                ladder.least_bad(bound, rounds, &mut measure)
            };
            if let Some((path, worst)) = least_bad {
                // The sweep ranks by rough depths; the limit that binds is measured.
                let node = &ladder.layers[worst.layer].nodes[path[worst.layer]];
                let measured = match worst.violation.limit {
                    Limit::Clearance(_) => self.tracer.clearance_violation(&node.axes),
                    _ => None,
                };
                let violation = measured.unwrap_or(worst.violation);
                let failure = Failure { violation, s: self.rungs[worst.layer].s };
                best = Some((worst.violation.bands(), failure, ladder.violations(&path)));
                nearly = (worst.violation.bands() < NEARLY).then_some(level);
            }
        }
        let Some((_, failure, violations)) = best else {
            // Every layer can be passed alone: what failed lies between them, on the way in, or on the way out.
            let binding = self.last_failure.map(|failure| self.binding(failure));
            let found = self.found(Verdict::NotFound, Vec::new(), binding, Vec::new());
            return Diagnosis { found, nearly: Some(0) };
        };
        let verdict = if self.beyond_reach(&failure) { Verdict::CannotHold } else { Verdict::NotFound };
        let mut stretches = self.stretches(&violations);
        let main = stretches.iter().position(|binding| binding.from <= failure.s && failure.s <= binding.to);
        let binding = main.map(|main| stretches.remove(main)).unwrap_or_else(|| self.binding(failure));
        Diagnosis { found: self.found(verdict, Vec::new(), Some(binding), stretches), nearly }
    }

    /// Runs of layers whose path violates one and the same limit, each at its worst.
    fn stretches(&self, violations: &[Option<Violation>]) -> Vec<Binding> {
        let mut stretches: Vec<(Binding, Limit)> = Vec::new();
        let mut open = false;
        for (k, violation) in violations.iter().enumerate() {
            let Some(violation) = violation else {
                open = false;
                continue;
            };
            let next = self.binding(Failure { violation: *violation, s: self.rungs[k].s });
            match stretches.last_mut() {
                Some((binding, limit)) if open && *limit == violation.limit => {
                    binding.to = next.to;
                    if next.amount > binding.amount {
                        *binding = Binding { from: binding.from, to: next.to, ..next };
                    }
                }
                _ => stretches.push((next, violation.limit)),
            }
            open = true;
        }
        stretches.into_iter().map(|(binding, _)| binding).collect()
    }

    fn binding(&self, failure: Failure) -> Binding {
        let length = self.tracer.path.length();
        Binding {
            constraint: failure.violation.constraint(&self.tracer.setup.scene),
            amount: failure.violation.amount,
            limit: failure.violation.bound,
            at: failure.s,
            from: failure.s,
            to: failure.s,
            point: self.tracer.path.at(failure.s.clamp(0.0, length)).point,
        }
    }

    /// Whether a bound shows that the wire end itself is out of reach, whatever the torch's angles.
    ///
    /// The wire end is never further from the origin of link 2 than the links, flange and torch laid end to end, and that origin
    /// stays on a circle about axis 1.
    fn beyond_reach(&self, failure: &Failure) -> bool {
        let Limit::Reach(_) = failure.violation.limit else { return false };
        let setup = self.tracer.setup;
        let arm = &setup.cell.arm.arm;
        let axes = arm.axes();
        let torch = &setup.cell.torch;
        let slack = (self.tracer.seam.procedure.ctwd.aim - torch.nominal_ctwd).abs()
            + self.tracer.seam.procedure.ctwd.tolerance;
        let span: f64 = axes[2..].iter().map(|axis| axis.origin.translation.vector.norm()).sum::<f64>()
            + (arm.link6_from_flange() * torch.flange_from_tool).translation.vector.norm()
            + slack;
        let point = setup.base_from_station * self.tracer.path.at(failure.s).point;
        let in_link1_frame = axes[0].origin.inverse() * point;
        let direction = axes[0].direction.into_inner();
        let cylinder = |v: nalgebra::Vector3<f64>| {
            let height = v.dot(&direction);
            ((v - direction * height).norm(), height)
        };
        let (radius, height) = cylinder(in_link1_frame.coords);
        let (link2_radius, link2_height) = cylinder(axes[1].origin.translation.vector);
        (radius - link2_radius).hypot(height - link2_height) > span
    }
}

/// Torch angles of a path with its turns made continuous.
fn unwrapped(ladder: &Ladder<'_>, path: &[usize]) -> Vec<TorchAngles> {
    let mut angles: Vec<TorchAngles> = Vec::with_capacity(path.len());
    for (k, &index) in path.iter().enumerate() {
        let mut next = ladder.choices.all[ladder.layers[k].nodes[index].choice as usize].angles;
        if let Some(before) = angles.last() {
            next.turn = before.turn + turn_between(before.turn, next.turn);
        }
        angles.push(next);
    }
    angles
}

/// A law whose points all have the same angles needs only one of them.
fn merge_constant(mut law: Law) -> Law {
    if law.points.iter().all(|(_, angles)| *angles == law.points[0].1) {
        law.points.truncate(1);
    }
    law
}
