//! Decides which whole turns of an axis vector lie within the ranges of axes and motors.

use std::f64::consts::TAU;

use crate::limits::ROUNDING;
use crate::{Arm, AxisValues, Range};

/// No more turns than this to either side are looked for, whatever the range.
const MOST_TURNS: f64 = 64.0;

/// Every whole-turn shift of an axis vector within the ranges; made by [`Arm::turns_in_range`].
#[derive(Clone, Debug)]
pub struct TurnsInRange<'a> {
    /// To ask what the ranges of the axes, each by itself, do not say.
    arm: Option<&'a Arm>,
    axes: AxisValues,
    first: [f64; 6],
    count: [u32; 6],
    next: Option<[u32; 6]>,
}

impl Iterator for TurnsInRange<'_> {
    type Item = AxisValues;

    fn next(&mut self) -> Option<AxisValues> {
        loop {
            let axes = self.next_by_axes()?;
            if self.arm.is_none_or(|arm| arm.range_excess(&axes).is_none()) {
                return Some(axes);
            }
        }
    }
}

impl TurnsInRange<'_> {
    /// The next shift within the ranges that each axis has by itself.
    fn next_by_axes(&mut self) -> Option<AxisValues> {
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
    /// Every vector that differs from `axes` (rad) by whole turns and lies in every range: of the axes, where they stand, and
    /// of the motors that turn them.
    ///
    /// Ordered by axis 1 first, axis 6 last, each ascending. Less than 1e-9 rad of an axis outside counts as inside.
    pub fn turns_in_range(&self, axes: &AxisValues) -> TurnsInRange<'_> {
        self.turns_within(axes, &[Range::ENDLESS; 6])
    }

    /// Those of [`Arm::turns_in_range`] that keep each axis within `windows` (rad) too.
    pub fn turns_within(&self, axes: &AxisValues, windows: &[Range; 6]) -> TurnsInRange<'_> {
        let mut first = [0.0; 6];
        let mut count = [0; 6];
        for (i, (axis, window)) in self.axes().iter().zip(windows).enumerate() {
            let turns = |end: f64| (end - axes[i]) / TAU;
            let (min, max) = (axis.range.min.max(window.min), axis.range.max.min(window.max));
            let low = turns(min - ROUNDING).ceil().max(-MOST_TURNS);
            let high = turns(max + ROUNDING).floor().min(MOST_TURNS);
            first[i] = low;
            // A value or range that is not a number gives no turns.
            count[i] = (0..).map_while(|k| (low + f64::from(k) <= high).then_some(k + 1)).last().unwrap_or(0);
        }
        let next = count.iter().all(|&count| count > 0).then_some([0; 6]);
        let arm = (!self.has_only_own_ranges()).then_some(self);
        TurnsInRange { arm, axes: *axes, first, count, next }
    }

    /// `axes` with each axis shifted by whole turns as near as possible to `near` (rad), whatever the ranges.
    #[must_use]
    pub fn nearest_turn(&self, axes: &AxisValues, near: &AxisValues) -> AxisValues {
        axes.zip_map(near, |value, near| value + TAU * ((near - value) / TAU).round())
    }
}
