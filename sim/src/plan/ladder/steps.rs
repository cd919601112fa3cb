//! Decides what leads from a stance of one layer to one of the next: the arm passes without a jump and no axis is over its speed.

use std::f64::consts::{PI, TAU};

use seamwright_kinematics::{AxisValues, Drive, SpeedUse};

use super::{Ladder, Node, Rung, Weights, jump, turn_between};
use crate::plan::violation::Violation;
use crate::plan::whole_turns::{add_turns, whole_turns};

/// The step from a group of stances to one of the next layer, on the turns that bring the two next to one another.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct Step {
    /// rad.
    axes: AxisValues,
    /// A stance is entered from the one of the other group on as many turns as its own and these, see [`turns_between`].
    ///
    /// [`turns_between`]: crate::plan::whole_turns::turns_between
    pub(super) turns: i64,
}

impl Ladder<'_> {
    /// How far each axis may go between the rung before and this one, rad.
    pub fn allowed(&self, rung: &Rung) -> AxisValues {
        if rung.time.is_infinite() {
            return AxisValues::repeat(f64::INFINITY);
        }
        self.max_speed.map(|speed| jump().min(speed * rung.time))
    }

    /// The groups of the layer before whose choices are next to that of a node in layer `k`; none where a stitch begins.
    pub(super) fn groups_before(&self, k: usize, choice: u32) -> impl Iterator<Item = usize> {
        let goes_on = self.layers[k].rung.time.is_finite();
        let neighbours: &[u32] = if goes_on { &self.choices.neighbours[choice as usize] } else { &[] };
        neighbours.iter().flat_map(move |&choice| self.layers[k - 1].groups_of(choice))
    }

    /// The step from a group of the layer before to one of layer `k`, if no axis goes farther than `allowed` (rad).
    pub fn step(&self, k: usize, before: usize, group: usize, allowed: &AxisValues) -> Option<Step> {
        let (from, to) = (&self.layers[k - 1].firsts[before], &self.layers[k].firsts[group]);
        let mut step = Step { axes: AxisValues::zeros(), turns: 0 };
        for axis in 0..6 {
            let apart = to[axis] - from[axis];
            let whole = whole_turns(apart);
            step.axes[axis] = apart - TAU * whole;
            if step.axes[axis].abs() > allowed[axis] {
                return None;
            }
            step.turns = add_turns(step.turns, whole);
        }
        Some(step)
    }

    /// The step from a group of the layer before to one of layer `k`, whatever the axes must do, and how many bands it is too much.
    pub(super) fn any_step(&self, k: usize, before: usize, group: usize) -> (Step, f64) {
        let endless = AxisValues::repeat(f64::INFINITY);
        let step = self.step(k, before, group, &endless).expect("no step is farther than endless");
        if self.layers[k - 1].is_unreachable(before) || self.layers[k].is_unreachable(group) {
            return (step, 0.0);
        }
        let violation = self.step_violation(&step.axes, &self.layers[k].rung);
        (step, violation.map_or(0.0, |violation| violation.bands()))
    }

    /// What a step between two groups that goes no farther than is allowed costs; `None` where a motor would be too fast.
    pub(super) fn step_cost(
        &self,
        k: usize,
        step: &Step,
        choices: [u32; 2],
        weights: &Weights,
    ) -> Option<f64> {
        let too_fast = self.motors_too_fast(&step.axes, &self.layers[k].rung).next().is_some();
        (!too_fast).then(|| self.cost_of(&step.axes, choices, weights))
    }

    /// What it costs to go from one node to another with the torch lifted.
    pub(super) fn lift_cost(&self, from: &Node, to: &Node, weights: &Weights) -> f64 {
        self.cost_of(&(to.axes - from.axes), [from.choice, to.choice], weights)
    }

    fn cost_of(&self, step: &AxisValues, choices: [u32; 2], weights: &Weights) -> f64 {
        let travel = step.abs().component_div(&self.max_speed).sum();
        let [from, to] = choices.map(|choice| self.choices.all[choice as usize].angles.turn);
        weights.axis_travel * travel + weights.turn_change * turn_between(from, to).abs()
    }

    /// The worst that a path violates between two nodes.
    pub(super) fn edge_violation(&self, from: &Node, to: &Node, rung: &Rung) -> Option<Violation> {
        let are_reached = !from.unreachable && !to.unreachable;
        are_reached.then(|| self.step_violation(&(to.axes - from.axes), rung)).flatten()
    }

    fn step_violation(&self, step: &AxisValues, rung: &Rung) -> Option<Violation> {
        let allowed = self.allowed(rung);
        let too_far = (0..6).filter(|axis| step[*axis].abs() > allowed[*axis]);
        let mut worst = too_far
            .map(|axis| self.axis_violation(axis, step[axis].abs(), rung))
            .reduce(|worst, next| next.worse(Some(worst)));
        for over in self.motors_too_fast(step, rung) {
            worst = Some(Violation::of_speed(over.drive, over.share(), over.limit).worse(worst));
        }
        worst
    }

    /// What is violated where an axis goes farther (rad) than is allowed.
    fn axis_violation(&self, axis: usize, size: f64, rung: &Rung) -> Violation {
        let in_time = self.max_speed[axis] * rung.time;
        if in_time < jump() {
            Violation::of_speed(Drive::Axis(axis), size / in_time, self.max_speed[axis])
        } else {
            Violation::of_long_step(axis, size, in_time)
        }
    }

    /// Bands of a step on which some axis goes half a turn, less what rounding can make: none to another turn than the nearest has fewer.
    pub(super) fn bands_of_half_turn(&self, rung: &Rung) -> f64 {
        let bands = (0..6).map(|axis| self.axis_violation(axis, PI, rung).bands());
        bands.fold(f64::INFINITY, f64::min) - 1e-3
    }

    /// Motors coupled to several axes that a step would have to turn faster than they can.
    fn motors_too_fast(&self, step: &AxisValues, rung: &Rung) -> impl Iterator<Item = SpeedUse> + use<'_> {
        // Most arms have none: then nothing is worked out.
        let arm = self.arm.motors().is_some().then_some(self.arm);
        let rates = step / rung.time;
        let motors = arm.into_iter().flat_map(move |arm| arm.speed_uses(&rates));
        motors.filter(|at| matches!(at.drive, Drive::Motor(_)) && at.share() > 1.0)
    }

    /// Where a stitch begins in layer `k`: the nodes of the layer before with the least values, at most `count`. The torch is lifted
    /// before it, so any leads there.
    pub(super) fn cheapest_before(&self, k: usize, values: &[f64], count: usize) -> Vec<usize> {
        if k == 0 || self.layers[k].rung.time.is_finite() {
            return Vec::new();
        }
        let mut order: Vec<usize> = (0..values.len()).filter(|i| values[*i].is_finite()).collect();
        order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
        order.truncate(count);
        order
    }

    /// The least of `values` in each group of the layer before.
    pub(super) fn least_of_groups_before(&self, k: usize, values: &[f64]) -> Vec<f64> {
        let Some(before) = k.checked_sub(1).map(|before| &self.layers[before]) else { return Vec::new() };
        let least = |group| values[before.group(group)].iter().copied().fold(f64::INFINITY, f64::min);
        (0..before.group_count()).map(least).collect()
    }
}
