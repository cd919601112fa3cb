//! Decides the best sequence of stances along a seam: a layered graph with a layer for each sample of the seam.
//!
//! Nodes are all stances of all torch poses tried in a layer; edges join stances that the arm can pass between without a jump and
//! without an axis over its speed at travel speed. Stances of a torch pose that are whole turns of axes apart form a group: what leads
//! from one to a stance of the next layer leads, as many turns on, from each of them.
//!
//! - `steps`: what leads from one layer to the next
//! - `cheapest`: the cheapest path that keeps every limit. Clearance is asked lazily: only of layers that a best path runs through
//! - `least_bad`: the path whose worst violation is least. Infeasible nodes keep what they violate, so that one minimax sweep over the
//!   same graph names the limit that binds

mod cheapest;
mod least_bad;
mod steps;

use std::f64::consts::{PI, TAU};
use std::ops::Range;

use seamwright_kinematics::{Arm, AxisValues};

pub(super) use self::least_bad::LeastBad;
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
    /// The axis values of the first node of each group, rad.
    firsts: Vec<AxisValues>,
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
        let firsts = groups.iter().map(|begin| nodes[*begin as usize].axes).collect();
        groups.push(nodes.len() as u32);
        Self { rung, nodes, groups, firsts, turns, first }
    }

    /// How many groups there are.
    pub fn group_count(&self) -> usize {
        self.groups.len() - 1
    }

    /// Where in `nodes` a group is.
    pub fn group(&self, group: usize) -> Range<usize> {
        self.groups[group] as usize..self.groups[group + 1] as usize
    }

    /// Where in `nodes` the group is that a node belongs to.
    fn group_around(&self, node: usize) -> Range<usize> {
        self.group(self.groups.partition_point(|begin| *begin as usize <= node) - 1)
    }

    /// The groups of a choice.
    pub fn groups_of(&self, choice: u32) -> Range<usize> {
        self.first[choice as usize] as usize..self.first[choice as usize + 1] as usize
    }

    /// The choice of the nodes of a group.
    pub fn choice_of(&self, group: usize) -> u32 {
        self.nodes[self.groups[group] as usize].choice
    }

    /// Whether a group is of a pose out of reach: then it is one node, on no turn.
    fn is_unreachable(&self, group: usize) -> bool {
        self.nodes[self.groups[group] as usize].unreachable
    }

    /// The stance of a group that is so many whole turns from its first, see [`turns_between`], if it is there.
    fn on_turns(&self, group: usize, turns: i64) -> Option<usize> {
        let nodes = self.group(group);
        self.turns[nodes.clone()].binary_search(&turns).ok().map(|at| nodes.start + at)
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

fn trace_back(parents: &[Vec<u32>], last: usize) -> Vec<usize> {
    let mut path = vec![last];
    for parent in parents.iter().skip(1).rev() {
        path.push(parent[path[path.len() - 1]] as usize);
    }
    path.reverse();
    path
}
