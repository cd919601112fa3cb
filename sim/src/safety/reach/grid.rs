//! Decides from which stances on a grid the farthest is searched: the best ones, found without looking at most of the grid. Of a block of it
//! nothing is farther than balls about the bodies at its middle, widened by how far they go in it.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::ops::Range as Span;

use nalgebra::Vector6;
use seamwright_kinematics::{AxisValues, Range};

use super::sought::Sought;
use super::{Arm, carriers, stance};
use crate::cell::Cell;
use crate::cell::frames::{AxisKind, ExternalValues};
use crate::safety::going::Going;
use crate::schedule::Stance;
use crate::units;

/// Step of the grid over axes 1 to 3, and where the arm is carried.
const AXIS_STEP_DEG: f64 = 10.0;
const CARRIED_STEP_DEG: f64 = 20.0;
/// Step of the grid over a turning axis that carries the arm.
const CARRIER_STEP_DEG: f64 = 45.0;
/// No more stances of the axes that carry it are looked at.
const MOST_CARRIED: usize = 81;
/// The axes of the grid, 0-based: axis 5 bends the wrist.
const AXES: [usize; 4] = [0, 1, 2, 4];
/// How far a turn of each of them moves the arm beside one of axis 1: only to part first what matters most.
const WEIGHTS: [f64; 4] = [1.0, 1.0, 1.0, 0.1];

/// Values on a grid over the ranges of axes 1 to 3 and of those that carry the arm, the wrist straight and bent all the way.
pub(super) struct Grid {
    outside: Vec<ExternalValues>,
    values: [Vec<f64>; 4],
    home: AxisValues,
}

/// Some stances side by side.
#[derive(Clone)]
struct Block {
    outside: usize,
    spans: [Span<usize>; 4],
}

/// A block by its bound, or a stance by how far it is.
struct Entry {
    far: f64,
    is_exact: bool,
    /// Of its first stance.
    number: usize,
    block: Block,
}

impl Grid {
    pub(super) fn new(cell: &Cell) -> Self {
        let carriers = carriers(cell);
        let step = units::deg(if carriers.is_empty() { AXIS_STEP_DEG } else { CARRIED_STEP_DEG });
        let axes = cell.arm.arm.axes();
        let [first, second, third] = [0, 1, 2].map(|axis| even(&axes[axis].range, step));
        let bent = axes[4].range;
        let fifth = [0.0, bent.min, bent.max];
        let fifth = fifth.into_iter().filter(|value| value.is_finite() && bent.excess(*value) <= 0.0);
        Self {
            outside: outside(cell, &carriers),
            values: [first, second, third, fifth.collect()],
            home: cell.arm.home,
        }
    }

    /// Every stance at rest; where axis 1 turns about the z axis of the base only those at one value of it, since the others draw the same
    /// outline about that.
    pub(super) fn stances_about_first(&self, cell: &Cell) -> Vec<Stance> {
        let first = &cell.arm.arm.axes()[0];
        let direction = first.origin.rotation * first.direction.into_inner();
        let off_axis = direction.xy().norm().max(first.origin.translation.vector.xy().norm());
        let firsts = if off_axis == 0.0 { 1 } else { self.values[0].len() };
        let spans = self.values.each_ref().map(|values| 0..values.len());
        let [_, second, third, fifth] = spans;
        let all = Block { outside: 0, spans: [0..firsts, second, third, fifth] };
        (0..all.count()).map(|number| self.stance(0, all.at(number))).collect()
    }

    /// The stances at which the arm is farthest, farthest first, no two of them alike to within a step of the grid; of equals the first.
    pub(super) fn best(&self, arm: Arm<'_>, sought: &Sought<'_>, count: usize) -> Vec<Stance> {
        let mut heap: BinaryHeap<Entry> = BinaryHeap::new();
        let spans = self.values.each_ref().map(|values| 0..values.len());
        for outside in 0..self.outside.len() {
            heap.extend(self.entry(arm, sought, Block { outside, spans: spans.clone() }));
        }
        let mut kept: Vec<(usize, Stance)> = Vec::new();
        while kept.len() < count
            && let Some(entry) = heap.pop()
        {
            if kept.iter().any(|(outside, stance)| self.is_alike(&entry.block, *outside, &stance.axes)) {
                continue;
            }
            let outside = entry.block.outside;
            match self.halves(&entry.block) {
                Some(halves) => {
                    heap.extend(halves.into_iter().filter_map(|half| self.entry(arm, sought, half)));
                }
                None if entry.is_exact => kept.push((outside, self.stance(outside, entry.block.at(0)))),
                None => {
                    let stance = self.stance(outside, entry.block.at(0));
                    let far = arm.farthest(sought, &stance, f64::NEG_INFINITY);
                    heap.extend(far.map(|(far, _)| Entry { far, is_exact: true, ..entry }));
                }
            }
        }
        kept.into_iter().map(|(_, stance)| stance).collect()
    }

    /// A block with its bound; none where nothing in it counts.
    fn entry(&self, arm: Arm<'_>, sought: &Sought<'_>, block: Block) -> Option<Entry> {
        let middle = block.spans.each_ref().map(|span| usize::midpoint(span.start, span.end - 1));
        let here = self.stance(block.outside, middle);
        let mut off = Vector6::zeros();
        for (axis, ((values, span), middle)) in
            AXES.into_iter().zip(self.values.iter().zip(&block.spans).zip(middle))
        {
            off[axis] = (values[span.end - 1] - values[middle]).max(values[middle] - values[span.start]);
        }
        let off = stance(off, &vec![0.0; here.external.len()]);
        let going = Going::new(arm.cell, &here);
        let bound = arm.bodies().map(|body| {
            let middle = going.world_from_carrier(body) * body.middle;
            sought.bound(body.reach + going.farthest(body, &middle, &off), &middle)
        });
        let far = bound.fold(f64::NEG_INFINITY, f64::max);
        let first = block.spans.each_ref().map(|span| span.start);
        let number = first
            .iter()
            .zip(&self.values)
            .fold(block.outside, |number, (at, values)| number * values.len() + at);
        (far > f64::NEG_INFINITY).then_some(Entry { far, is_exact: false, number, block })
    }

    /// Parts a block where it is widest; none of a single stance.
    fn halves(&self, block: &Block) -> Option<[Block; 2]> {
        let width = |axis: usize| {
            let (values, span) = (&self.values[axis], &block.spans[axis]);
            (values[span.end - 1] - values[span.start]) * WEIGHTS[axis]
        };
        let parted = (0..4).filter(|axis| block.spans[*axis].len() > 1);
        let axis =
            parted.reduce(|widest, other| if width(other) > width(widest) { other } else { widest })?;
        let Span { start, end } = block.spans[axis];
        let middle = usize::midpoint(start, end);
        Some([start..middle, middle..end].map(|span| {
            let mut half = block.clone();
            half.spans[axis] = span;
            half
        }))
    }

    /// Whether every stance of a block is like another one.
    fn is_alike(&self, block: &Block, outside: usize, other: &AxisValues) -> bool {
        let near =
            |value: f64, axis: usize| (value - other[axis]).abs() <= units::deg(CARRIED_STEP_DEG) * 1.01;
        self.outside[block.outside] == self.outside[outside]
            && AXES.into_iter().zip(self.values.iter().zip(&block.spans)).all(|(axis, (values, span))| {
                near(values[span.start], axis) && near(values[span.end - 1], axis)
            })
    }

    fn stance(&self, outside: usize, [a, b, c, e]: [usize; 4]) -> Stance {
        let [first, second, third, fifth] = &self.values;
        let axes = AxisValues::new(first[a], second[b], third[c], self.home[3], fifth[e], self.home[5]);
        stance(axes, &self.outside[outside])
    }
}

impl Block {
    fn count(&self) -> usize {
        self.spans.iter().map(Span::len).product()
    }

    /// Indices of its stances, axis 5 the quickest.
    fn at(&self, number: usize) -> [usize; 4] {
        let mut rest = number;
        let mut at = [0; 4];
        for axis in (0..4).rev() {
            let span = &self.spans[axis];
            at[axis] = span.start + rest % span.len();
            rest /= span.len();
        }
        at
    }
}

impl Ord for Entry {
    /// The heap gives out the farthest first; of equals a block before what may be in it, then the first.
    fn cmp(&self, other: &Self) -> Ordering {
        let far = self.far.total_cmp(&other.far);
        far.then(other.is_exact.cmp(&self.is_exact)).then(other.number.cmp(&self.number))
    }
}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Entry {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Entry {}

/// Even values over a range; of an axis that turns without end all round.
fn even(range: &Range, step: f64) -> Vec<f64> {
    let (min, max) = if range.min.is_finite() && range.max.is_finite() {
        (range.min, range.max.min(range.min + std::f64::consts::TAU))
    } else {
        (-std::f64::consts::PI, std::f64::consts::PI)
    };
    let steps = ((max - min) / step).ceil().max(1.0) as u32;
    (0..=steps).map(|step| min + (max - min) * f64::from(step) / f64::from(steps)).collect()
}

/// Values of the external axes: of those that carry the arm on a grid, of all others at rest.
fn outside(cell: &Cell, carriers: &[usize]) -> Vec<ExternalValues> {
    let mut outside = vec![cell.frames.rest()];
    for &axis in carriers {
        let external = &cell.frames.axes[axis];
        let Range { min, max, .. } = external.range;
        let values = match external.kind {
            AxisKind::Turn => even(&external.range, units::deg(CARRIER_STEP_DEG)),
            // What sticks out of something without a notch does so most at an end.
            AxisKind::Slide if min.is_finite() && max.is_finite() => vec![min, external.rest, max],
            AxisKind::Slide => vec![external.rest],
        };
        let few = outside.len() * values.len() <= MOST_CARRIED;
        let values = if few { values } else { vec![external.rest] };
        outside = outside
            .iter()
            .flat_map(|others| {
                values.iter().map(move |value| {
                    let mut external = others.clone();
                    external[axis] = *value;
                    external
                })
            })
            .collect();
    }
    outside
}
