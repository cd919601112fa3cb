//! Decides which whole turns of an axis vector lie within the axis ranges, and how far one lies outside.

use std::f64::consts::TAU;

use crate::{Arm, AxisValues};

/// A value that far (rad) outside a range counts as inside: rounding in the file and in the solver.
const ROUNDING: f64 = 1e-9;
/// No more turns than this to either side are looked for, whatever the range.
const MOST_TURNS: f64 = 64.0;

/// Every whole-turn shift of an axis vector within the axis ranges; made by [`Arm::turns_in_range`].
#[derive(Clone, Debug)]
pub struct TurnsInRange {
    axes: AxisValues,
    first: [f64; 6],
    count: [u32; 6],
    next: Option<[u32; 6]>,
}

impl Iterator for TurnsInRange {
    type Item = AxisValues;

    fn next(&mut self) -> Option<AxisValues> {
        let turns = self.next?;
        self.next = (0..6).rev().find(|&i| turns[i] + 1 < self.count[i]).map(|i| {
            let mut next = turns;
            next[i] += 1;
            next[i + 1..].fill(0);
            next
        });
        Some(AxisValues::from_fn(|i, _| self.axes[i] + TAU * (self.first[i] + f64::from(turns[i]))))
    }
}

impl Arm {
    /// Every vector that differs from `axes` (rad) by whole turns and lies in every axis's range.
    ///
    /// Ordered by axis 1 first, axis 6 last, each ascending. A value less than 1e-9 rad outside counts as inside.
    pub fn turns_in_range(&self, axes: &AxisValues) -> TurnsInRange {
        let mut first = [0.0; 6];
        let mut count = [0; 6];
        for (i, axis) in self.axes().iter().enumerate() {
            let turns = |end: f64| (end - axes[i]) / TAU;
            let low = turns(axis.range.min - ROUNDING).ceil().max(-MOST_TURNS);
            let high = turns(axis.range.max + ROUNDING).floor().min(MOST_TURNS);
            first[i] = low;
            // A value or range that is not a number gives no turns.
            count[i] = (0..).map_while(|k| (low + f64::from(k) <= high).then_some(k + 1)).last().unwrap_or(0);
        }
        let next = count.iter().all(|&count| count > 0).then_some([0; 6]);
        TurnsInRange { axes: *axes, first, count, next }
    }

    /// `axes` with each axis shifted by whole turns as near as possible to `near` (rad), whatever the ranges.
    #[must_use]
    pub fn nearest_turn(&self, axes: &AxisValues, near: &AxisValues) -> AxisValues {
        axes.zip_map(near, |value, near| value + TAU * ((near - value) / TAU).round())
    }

    /// The axis (0-based) that lies farthest outside its range, and by how much (rad); none where all lie inside.
    ///
    /// Less than 1e-9 rad outside counts as inside.
    #[must_use]
    pub fn range_excess(&self, axes: &AxisValues) -> Option<(usize, f64)> {
        let excess = self.axes().iter().enumerate().map(|(i, axis)| (i, axis.range.excess(axes[i])));
        excess
            .filter(|(_, excess)| *excess > ROUNDING)
            .reduce(|most, next| if next.1 > most.1 { next } else { most })
    }
}
