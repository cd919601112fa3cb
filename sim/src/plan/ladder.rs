//! Decides the best sequence of stances along a seam: a layered graph with a layer for each sample of the seam.
//!
//! Nodes are all stances of all torch poses tried in a layer; edges join stances that the arm can pass between without a jump and
//! without an axis over its speed at travel speed. Clearance is asked lazily: only of layers that a best path runs through.
//! Infeasible nodes keep what they violate, so that one minimax sweep over the same graph names the limit that binds.

use std::f64::consts::{PI, TAU};
use std::ops::Range;

use seamwright_kinematics::{Arm, AxisValues, Drive, SpeedUse};

use super::TorchAngles;
use super::violation::Violation;
use super::whole_turns::{are_whole_turns_apart, turns_between};
use crate::units;

/// What a path is charged for. Rates are per metre of seam and edge charges are lengths in axis space or turn, so that
/// refining the samples leaves a path's cost unchanged.
#[derive(Clone, Copy, Debug)]
pub struct Weights {
    /// Each of work, travel and CTWD away from its aim by its whole tolerance, per metre.
    pub off_aim: f64,
    /// An axis at the end of its range, falling to nothing at `near_limit`, per metre.
    pub axis_limit: f64,
    /// The same for hose limits, per metre.
    pub hose_limit: f64,
    /// Axis 5 at its singularity, falling to nothing at `near_singular`, per metre.
    pub singular: f64,
    /// Axis travel, per second that the axis would need at its speed limit.
    pub axis_travel: f64,
    /// Change of the turn about the wire, per radian.
    pub turn_change: f64,
    /// Axes away from home where the seam begins, per second as `axis_travel`: of ways that are a whole turn of an axis apart and
    /// else alike, the one nearer to home.
    pub from_home: f64,
    /// Clearance at what is asked, falling to nothing at `near_body` more, per metre.
    pub clearance: f64,
    /// rad.
    pub near_limit: f64,
    /// rad.
    pub near_singular: f64,
    /// m.
    pub near_body: f64,
}

/// The weights in use; they steer the choice among ways that hold and decide no verdict.
#[must_use]
pub fn weights() -> Weights {
    Weights {
        off_aim: 20.0,
        axis_limit: 10.0,
        hose_limit: 10.0,
        singular: 10.0,
        axis_travel: 1.0,
        turn_change: 0.5,
        from_home: 0.001,
        clearance: 10.0,
        near_limit: units::deg(15.0),
        near_singular: units::deg(15.0),
        near_body: units::mm(10.0),
    }
}

/// No continuous motion turns an axis further than this between two layers: the torch itself turns at most a step there.
pub(super) fn jump() -> f64 {
    units::deg(60.0)
}

/// Nodes at the end of one stitch from which the next may be entered: the cheapest so far.
const STITCH_ENTRIES: usize = 24;

/// A torch pose to try in every layer.
#[derive(Clone, Copy, Debug)]
pub(super) struct Choice {
    pub angles: TorchAngles,
    /// Cost of being off aim, per metre.
    pub rate: f64,
}

/// The poses to try, and which of them a path may go between.
pub(super) struct Choices {
    pub all: Vec<Choice>,
    /// For each choice, itself and its neighbours, ascending.
    pub neighbours: Vec<Vec<u32>>,
}

/// Where a layer lies on the seam.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rung {
    pub s: f64,
    pub run: usize,
    /// Time from the rung before at travel speed, s; infinite at the start of a run.
    pub time: f64,
    /// Length of seam it stands for, m.
    pub length: f64,
}

/// What is known of a node's clearance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Known {
    Unknown,
    Clear,
    Blocked,
    /// Blocked, and by how much.
    Measured(Violation),
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Node {
    pub choice: u32,
    pub axes: AxisValues,
    /// Limit of the arm itself that is not kept.
    pub violation: Option<Violation>,
    /// Whether the pose is out of reach, so that `axes` means nothing.
    pub unreachable: bool,
    pub rate: f64,
    pub known: Known,
    /// Whether another way is looked for than those through it.
    pub set_aside: bool,
}

impl Node {
    /// Whether a way may go through it, as far as is known.
    pub fn is_open(&self) -> bool {
        self.violation.is_none() && matches!(self.known, Known::Unknown | Known::Clear)
    }
}

pub(super) struct Layer {
    pub rung: Rung,
    /// Grouped by choice.
    pub nodes: Vec<Node>,
    /// Where in `nodes` each group of stances begins that are of one choice and whole turns of axes apart; and where the last ends.
    groups: Vec<u32>,
    /// Of each node the whole turns from the first of its group, see [`turns_between`]: ascending within the group.
    turns: Vec<i64>,
    /// `groups[first[c]..first[c + 1]]` belong to choice `c`.
    first: Vec<u32>,
}

pub(super) struct Ladder<'a> {
    pub layers: Vec<Layer>,
    pub choices: &'a Choices,
    pub arm: &'a Arm,
    pub max_speed: AxisValues,
    pub home: AxisValues,
}

/// What a search for the least bad path finds.
pub(super) enum LeastBad {
    /// It is shown to reach the bound, or there is no path.
    TooBad,
    /// A path that violates nothing, as far as layers alone are asked.
    Nothing,
    /// The path, and the worst limit along it.
    Path(Vec<usize>, Worst),
}

/// The worst limit along the least bad path.
#[derive(Clone, Copy, Debug)]
pub(super) struct Worst {
    pub violation: Violation,
    pub layer: usize,
}

impl Layer {
    /// A layer of nodes that are grouped by choice, of `choices` in all.
    pub fn new(rung: Rung, nodes: Vec<Node>, choices: usize) -> Self {
        let mut groups: Vec<u32> = Vec::new();
        let mut first: Vec<u32> = Vec::with_capacity(choices + 1);
        let mut turns: Vec<i64> = Vec::with_capacity(nodes.len());
        let mut begin = 0;
        for (index, node) in nodes.iter().enumerate() {
            let is_new = first.len() <= node.choice as usize;
            first.resize(first.len().max(node.choice as usize + 1), groups.len() as u32);
            let mut from_first = turns_between(&nodes[begin].axes, &node.axes);
            let goes_on = !is_new
                && are_whole_turns_apart(&nodes[begin].axes, &node.axes)
                && turns.last().is_some_and(|last| *last < from_first);
            if !goes_on {
                groups.push(index as u32);
                (begin, from_first) = (index, 0);
            }
            turns.push(from_first);
        }
        first.resize(choices + 1, groups.len() as u32);
        groups.push(nodes.len() as u32);
        Self { rung, nodes, groups, turns, first }
    }

    /// The nodes of a choice.
    pub fn of(&self, choice: u32) -> &[Node] {
        let [from, to] = [choice, choice + 1].map(|choice| self.groups[self.first[choice as usize] as usize]);
        &self.nodes[from as usize..to as usize]
    }

    /// Where in `nodes` the groups of a choice are.
    fn groups_of(&self, choice: u32) -> impl Iterator<Item = Range<usize>> {
        let groups = self.first[choice as usize] as usize..self.first[choice as usize + 1] as usize;
        groups.map(|group| self.groups[group] as usize..self.groups[group + 1] as usize)
    }

    /// Of a group, the stance on the whole turns next to `axes` (rad), if it is there.
    fn on_turns_next_to(&self, group: &Range<usize>, axes: &AxisValues) -> Option<usize> {
        if group.len() == 1 {
            return Some(group.start);
        }
        let turns = turns_between(&self.nodes[group.start].axes, axes);
        self.turns[group.clone()].binary_search(&turns).ok().map(|at| group.start + at)
    }
}

impl Ladder<'_> {
    /// The cheapest path of node indices, one a layer, all of whose nodes keep every limit; `None` where there is none.
    ///
    /// `check` asks the clearance of a node.
    pub fn cheapest(&mut self, check: &mut impl FnMut(usize, &Node) -> Known) -> Option<Vec<usize>> {
        loop {
            let path = self.cheapest_as_known()?;
            let mut settled = true;
            for (layer, &index) in path.iter().enumerate() {
                if self.layers[layer].nodes[index].known != Known::Unknown {
                    continue;
                }
                let known = check(layer, &self.layers[layer].nodes[index]);
                self.layers[layer].nodes[index].known = known;
                if known != Known::Clear {
                    settled = false;
                    self.check_layer(layer, check);
                }
            }
            if settled {
                return Some(path);
            }
        }
    }

    /// Leaves in layer `k` only the nodes that some node of the layer before leads to; whether any is left.
    pub fn keep_reached(&mut self, k: usize) -> bool {
        let layer = &self.layers[k];
        if k == 0 {
            return !layer.nodes.is_empty();
        }
        let weights = weights();
        // Where a stitch begins all that is left of the layer before leads to it.
        let begins = layer.rung.time.is_infinite() && !self.layers[k - 1].nodes.is_empty();
        let any: &[usize] = if begins { &[0] } else { &[] };
        let reached = |node: &&Node| {
            let mut before = self.before(k, node, any);
            before.any(|(_, before)| self.edge_cost(before, node, &layer.rung, &weights).is_some())
        };
        let nodes: Vec<Node> = layer.nodes.iter().filter(reached).copied().collect();
        let left = !nodes.is_empty();
        self.layers[k] = Layer::new(layer.rung, nodes, self.choices.all.len());
        left
    }

    /// Where one node of a layer is blocked its neighbours often are too: asking the whole layer saves many sweeps.
    fn check_layer(&mut self, layer: usize, check: &mut impl FnMut(usize, &Node) -> Known) {
        for node in &mut self.layers[layer].nodes {
            if node.violation.is_none() && !node.set_aside && node.known == Known::Unknown {
                node.known = check(layer, node);
            }
        }
    }

    fn cheapest_as_known(&self) -> Option<Vec<usize>> {
        let weights = weights();
        let mut costs: Vec<f64> = Vec::new();
        let mut parents: Vec<Vec<u32>> = Vec::with_capacity(self.layers.len());
        for (k, layer) in self.layers.iter().enumerate() {
            let mut next = vec![f64::INFINITY; layer.nodes.len()];
            let mut parent = vec![0_u32; layer.nodes.len()];
            let any = self.cheapest_before(k, &costs, STITCH_ENTRIES);
            for (index, node) in layer.nodes.iter().enumerate() {
                if node.set_aside || !node.is_open() {
                    continue;
                }
                let own = node.rate * layer.rung.length;
                if k == 0 {
                    let travel = (node.axes - self.home).abs().component_div(&self.max_speed).sum();
                    next[index] = own + weights.from_home * travel;
                    continue;
                }
                for (from, before) in self.before(k, node, &any) {
                    let so_far = costs[from];
                    if !is_less(so_far + own, next[index]) {
                        continue;
                    }
                    let Some(edge) = self.edge_cost(before, node, &layer.rung, &weights) else { continue };
                    if is_less(so_far + own + edge, next[index]) {
                        next[index] = so_far + own + edge;
                        parent[index] = from as u32;
                    }
                }
            }
            if next.iter().all(|cost| cost.is_infinite()) {
                return None;
            }
            costs = next;
            parents.push(parent);
        }
        Some(trace_back(&parents, first_of_least(costs)?))
    }

    /// The path whose worst violation is least, and that violation, unless it is shown to reach `bound` bands.
    ///
    /// Clearances are measured along the best path so far, `rounds` times at most; the last path is then measured all along and
    /// counts as the least bad found.
    pub fn least_bad(
        &mut self,
        bound: f64,
        rounds: usize,
        measure: &mut impl FnMut(usize, &Node) -> Known,
    ) -> LeastBad {
        for round in 0..=rounds {
            let Some(path) = self.least_bad_as_known() else { break };
            let worst = self.worst_of(&path);
            if worst.is_some_and(|worst| worst.violation.bands() >= bound) {
                break;
            }
            let mut settled = true;
            for (layer, &index) in path.iter().enumerate() {
                let node = &self.layers[layer].nodes[index];
                if matches!(node.known, Known::Unknown | Known::Blocked) {
                    self.layers[layer].nodes[index].known = measure(layer, node);
                    settled = false;
                }
            }
            if settled || round == rounds {
                return match self.worst_of(&path) {
                    None => LeastBad::Nothing,
                    Some(worst) if worst.violation.bands() < bound => LeastBad::Path(path, worst),
                    Some(_) => LeastBad::TooBad,
                };
            }
        }
        LeastBad::TooBad
    }

    fn least_bad_as_known(&self) -> Option<Vec<usize>> {
        let mut values: Vec<f64> = Vec::new();
        let mut parents: Vec<Vec<u32>> = Vec::with_capacity(self.layers.len());
        for (k, layer) in self.layers.iter().enumerate() {
            let mut next = vec![f64::INFINITY; layer.nodes.len()];
            let mut parent = vec![0_u32; layer.nodes.len()];
            let any = self.cheapest_before(k, &values, 1);
            let least = self.least_of_groups_before(k, &values);
            for (index, node) in layer.nodes.iter().enumerate() {
                let own =
                    violation_of(node).map_or(0.0, |violation| violation.bands()).max(doubt(node.known));
                if k == 0 {
                    next[index] = own;
                    continue;
                }
                let before = &self.layers[k - 1];
                let mut best = (f64::INFINITY, 0);
                let enter = |from: usize, best: &mut (f64, u32)| {
                    let so_far = values[from].max(own);
                    if so_far >= best.0 {
                        return;
                    }
                    let edge = self.edge_violation(&before.nodes[from], node, &layer.rung);
                    let worst = so_far.max(edge.map_or(0.0, |edge| edge.bands()));
                    if worst < best.0 {
                        *best = (worst, from as u32);
                    }
                };
                for (from, _) in self.before(k, node, &any) {
                    enter(from, &mut best);
                }
                // From other turns some axis jumps by half a turn or more.
                for group in self.groups_before(k, node.choice).filter(|group| group.len() > 1) {
                    if least[group.start].max(own).max(half_turn()) < best.0 {
                        group.for_each(|from| enter(from, &mut best));
                    }
                }
                (next[index], parent[index]) = best;
            }
            values = next;
            parents.push(parent);
        }
        let last = (0..values.len()).min_by(|a, b| values[*a].total_cmp(&values[*b]))?;
        values[last].is_finite().then(|| trace_back(&parents, last))
    }

    /// Every limit not kept along `path`, by layer.
    pub fn violations(&self, path: &[usize]) -> Vec<Option<Violation>> {
        let mut all = Vec::with_capacity(path.len());
        for (k, &index) in path.iter().enumerate() {
            let node = &self.layers[k].nodes[index];
            let edge = (k > 0)
                .then(|| {
                    self.edge_violation(&self.layers[k - 1].nodes[path[k - 1]], node, &self.layers[k].rung)
                })
                .flatten();
            all.push(match violation_of(node) {
                Some(own) => Some(own.worse(edge)),
                None => edge,
            });
        }
        all
    }

    fn worst_of(&self, path: &[usize]) -> Option<Worst> {
        let violations = self.violations(path);
        let all = violations
            .iter()
            .enumerate()
            .filter_map(|(layer, violation)| violation.map(|violation| Worst { violation, layer }));
        all.reduce(|worst, next| if next.violation.exceeds(&worst.violation) { next } else { worst })
    }

    /// The nodes of the layer before that `node` in layer `k` may be entered from without a jump: of those of neighbouring choices the ones
    /// on the turns next to it; where a stitch begins, any, since the torch is lifted before it, of which `cheapest` are the ones worth
    /// trying.
    fn before<'s>(
        &'s self,
        k: usize,
        node: &'s Node,
        cheapest: &'s [usize],
    ) -> impl Iterator<Item = (usize, &'s Node)> {
        let layer = &self.layers[k - 1];
        let groups = self.groups_before(k, node.choice);
        let nearest = groups.filter_map(|group| layer.on_turns_next_to(&group, &node.axes));
        nearest.chain(cheapest.iter().copied()).map(|index| (index, &layer.nodes[index]))
    }

    /// Where in the layer before the groups are of the choices next to one in layer `k`; none where a stitch begins.
    fn groups_before(&self, k: usize, choice: u32) -> impl Iterator<Item = Range<usize>> {
        let goes_on = self.layers[k].rung.time.is_finite();
        let neighbours: &[u32] = if goes_on { &self.choices.neighbours[choice as usize] } else { &[] };
        neighbours.iter().flat_map(move |&choice| self.layers[k - 1].groups_of(choice))
    }

    /// The least of `values` in each group of the layer before, at the group's first node.
    fn least_of_groups_before(&self, k: usize, values: &[f64]) -> Vec<f64> {
        let mut least = values.to_vec();
        let groups = k.checked_sub(1).map_or(&[][..], |before| &self.layers[before].groups);
        for pair in groups.windows(2) {
            let [start, end] = [pair[0], pair[1]].map(|at| at as usize);
            least[start] = values[start..end].iter().copied().fold(f64::INFINITY, f64::min);
        }
        least
    }

    /// Where a stitch begins in layer `k`: the nodes of the layer before with the least values, at most `count`.
    fn cheapest_before(&self, k: usize, values: &[f64], count: usize) -> Vec<usize> {
        if k == 0 || self.layers[k].rung.time.is_finite() {
            return Vec::new();
        }
        let mut order: Vec<usize> = (0..values.len()).filter(|i| values[*i].is_finite()).collect();
        order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
        order.truncate(count);
        order
    }

    /// How far each axis may go between the rung before and this one, rad.
    pub fn allowed(&self, axis: usize, rung: &Rung) -> f64 {
        if rung.time.is_finite() { jump().min(self.max_speed[axis] * rung.time) } else { f64::INFINITY }
    }

    /// Motors coupled to several axes that a step would have to turn faster than they can.
    fn motors_too_fast(&self, step: &AxisValues, rung: &Rung) -> impl Iterator<Item = SpeedUse> + use<'_> {
        // Most arms have none: then nothing is worked out.
        let arm = self.arm.motors().is_some().then_some(self.arm);
        let rates = step / rung.time;
        let motors = arm.into_iter().flat_map(move |arm| arm.speed_uses(&rates));
        motors.filter(|at| matches!(at.drive, Drive::Motor(_)) && at.share() > 1.0)
    }

    fn edge_cost(&self, from: &Node, to: &Node, rung: &Rung, weights: &Weights) -> Option<f64> {
        let step = to.axes - from.axes;
        let mut travel = 0.0;
        for axis in 0..6 {
            if step[axis].abs() > self.allowed(axis, rung) {
                return None;
            }
            travel += step[axis].abs() / self.max_speed[axis];
        }
        if self.motors_too_fast(&step, rung).next().is_some() {
            return None;
        }
        let turns = [from, to].map(|node| self.choices.all[node.choice as usize].angles.turn);
        Some(weights.axis_travel * travel + weights.turn_change * turn_between(turns[0], turns[1]).abs())
    }

    fn edge_violation(&self, from: &Node, to: &Node, rung: &Rung) -> Option<Violation> {
        if from.unreachable || to.unreachable {
            return None;
        }
        let step = to.axes - from.axes;
        let mut worst: Option<Violation> = None;
        for axis in 0..6 {
            let (size, allowed) = (step[axis].abs(), self.allowed(axis, rung));
            if size <= allowed {
                continue;
            }
            let speed = self.max_speed[axis] * rung.time;
            let violation = if allowed < jump() {
                Violation::of_speed(Drive::Axis(axis), size / speed, self.max_speed[axis])
            } else {
                Violation::of_jump(axis, size)
            };
            worst = Some(violation.worse(worst));
        }
        for over in self.motors_too_fast(&step, rung) {
            worst = Some(Violation::of_speed(over.drive, over.share(), over.limit).worse(worst));
        }
        worst
    }
}

/// The shorter way round from one turn to the other, rad.
pub(super) fn turn_between(from: f64, to: f64) -> f64 {
    let turn = (to - from).rem_euclid(TAU);
    if turn > PI { turn - TAU } else { turn }
}

/// Costs that differ by less are even, so that rounding chooses no way.
const EVEN: f64 = 1e-9;

/// A cost to sort by: even ones stay in their order.
pub(super) fn rank(cost: f64) -> f64 {
    (cost / EVEN).round()
}

/// Whether one cost is less than another by more than rounding can make.
fn is_less(one: f64, other: f64) -> bool {
    one < other - EVEN
}

/// Where the least cost stands; of even ones the first.
pub(super) fn first_of_least(costs: impl IntoIterator<Item = f64>) -> Option<usize> {
    let all = costs.into_iter().enumerate();
    all.reduce(|least, next| if is_less(next.1, least.1) { next } else { least }).map(|(index, _)| index)
}

/// Bands of a jump by half a turn, less what rounding can make: no other turn than the nearest is fewer away.
fn half_turn() -> f64 {
    Violation::of_jump(0, PI).bands() - 1e-3
}

/// Bands that a node not yet measured counts for at least: what is known to be clear is gone through first.
fn doubt(known: Known) -> f64 {
    match known {
        Known::Clear | Known::Measured(_) => 0.0,
        Known::Unknown => 1e-6,
        Known::Blocked => 1e-3,
    }
}

fn violation_of(node: &Node) -> Option<Violation> {
    match (node.violation, node.known) {
        (Some(own), Known::Measured(clearance)) => Some(own.worse(Some(clearance))),
        (None, Known::Measured(clearance)) => Some(clearance),
        (own, _) => own,
    }
}

fn trace_back(parents: &[Vec<u32>], last: usize) -> Vec<usize> {
    let mut path = vec![last];
    for parent in parents.iter().skip(1).rev() {
        path.push(parent[path[path.len() - 1]] as usize);
    }
    path.reverse();
    path
}
