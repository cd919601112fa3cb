//! Decides on which whole turns of its axes the arm is tried.
//!
//! An axis that makes whole turns leaves everything where it was: only the ends of its range and of the hose's tell one turn from
//! another. So an axis that can make many is tried on the few next to home, and beyond them where a way comes to; where all axes
//! together can make many, one that makes two by itself too. A way on other turns is one of these with whole turns added, unless an
//! end of the range comes near on one of them and not on the other: then that axis is tried on all its turns, as far as the search has
//! it (`seam_search`: two axes of a seam, and where there might be a way without the end). Limits that bind several axes together bar
//! this; their axes are always tried on every turn.

use std::f64::consts::{PI, TAU};

use seamwright_kinematics::{AxisValues, Range};

use crate::cell::Cell;

/// Turns next to home that are tried, where the axis has as many more to either side as [`SPARE`] says.
const NEXT_TO_HOME: f64 = 3.0;
/// So many axes at most are tried on that many turns; where more could be, each is tried on one.
const MOST_AXES: usize = 3;
/// Turns to either end of a range within which the end may bind a way that goes on from there, straight in or out.
const SPARE: f64 = 1.0;
/// Where all axes together can be on no more turns than this, one of less than [`SPARE`] beyond the turn next to home is tried on all.
const FEW: f64 = 8.0;
/// Where they can be on more, an axis of this many turns is tried on one of them: any way that turns it by no more than one itself is
/// within its range on some turn. One that comes to an end of the range from there has it tried on all after all.
const TWO: f64 = 2.0;
/// A range this little short of a number of turns has that many.
const ROUNDING: f64 = 1e-9;
/// No axis is followed over more turns than this to either side, whatever its range.
const MOST_TURNS: f64 = 64.0;

/// The values on which each axis is tried.
#[derive(Clone, Copy, Debug)]
pub(super) struct WholeTurns {
    /// Where every stance is looked for, rad.
    pub tried: [Range; 6],
    /// Where any is worth looking for: its range, and no further past what the hose allows than another turn would be.
    kept: [Range; 6],
    /// Where no end of the range or of the hose's comes near.
    spare: [Range; 6],
}

/// Where a way is that left the values tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beyond {
    /// No axis is outside them.
    Not,
    /// Some are, far from the ends of their ranges.
    OnOtherTurns,
    /// This one is near an end of its range, or past it.
    NearEnd(usize),
}

impl WholeTurns {
    pub fn new(cell: &Cell) -> Self {
        let arm = &cell.arm.arm;
        let dress = &cell.torch.dress;
        let range = |axis: usize| {
            let Range { min, max } = arm.axes()[axis].range;
            Range { min: min.max(-MOST_TURNS * TAU), max: max.min(MOST_TURNS * TAU) }
        };
        let hose = [None, None, None, dress.axis4, None, dress.axis6];
        let kept: [Range; 6] =
            std::array::from_fn(|i| hose[i].map_or(range(i), |hose| within_a_turn_of(range(i), hose)));
        let free: [Range; 6] = std::array::from_fn(|i| match hose[i] {
            Some(hose) => Range { min: range(i).min.max(hose.min), max: range(i).max.min(hose.max) },
            None => range(i),
        });
        let turns = |range: &Range| (range.max - range.min) / TAU;
        let bound = bound_together(cell);
        let unbound = |i: &usize| !bound[*i];
        let all: f64 =
            (0..6).filter(unbound).map(|i| (turns(&free[i]) + ROUNDING).floor().max(1.0)).product();
        let least = if all > FEW { TWO - ROUNDING } else { 1.0 + 2.0 * SPARE };
        let many = |i: &usize| unbound(i) && turns(&free[*i]) >= least;
        let spare = |i: usize| if turns(&free[i]) > 1.0 + 2.0 * SPARE { SPARE } else { 0.0 };
        let count = (0..6).filter(many).count();
        let tried = std::array::from_fn(|i| {
            if !many(&i) {
                return kept[i];
            }
            let as_many = count <= MOST_AXES && turns(&free[i]) > NEXT_TO_HOME + 2.0 * SPARE;
            let half = 0.5 * TAU * if as_many { NEXT_TO_HOME } else { 1.0 };
            let from_end = half + spare(i).max(0.5) * TAU;
            let middle = cell.arm.home[i].max(free[i].min + from_end).min(free[i].max - from_end);
            Range { min: middle - half, max: middle + half }
        });
        let spare = std::array::from_fn(|i| {
            let Range { min, max } = free[i];
            Range { min: min + spare(i) * TAU, max: max - spare(i) * TAU }
        });
        Self { tried, kept, spare }
    }

    /// Whether every axis is tried on all its turns.
    pub fn are_all(&self) -> bool {
        self.tried == self.kept
    }

    /// Whether an axis (0-based) is tried on some of its turns alone.
    pub fn are_some_of(&self, axis: usize) -> bool {
        self.tried[axis] != self.kept[axis]
    }

    /// How many axes are tried on some of their turns alone.
    pub fn count(&self) -> usize {
        (0..6).filter(|axis| self.are_some_of(*axis)).count()
    }

    /// The same with an axis (0-based) tried on all its turns.
    pub fn with_all_of(mut self, axis: usize) -> Self {
        self.tried[axis] = self.kept[axis];
        self
    }

    /// `axes` (rad) with those that are tried on some turns alone on the turns nearest to `near`, if each axis (0-based) may go the step
    /// from there.
    pub fn nearest(
        &self,
        axes: &AxisValues,
        near: &AxisValues,
        may_go: impl Fn(usize, f64) -> bool,
    ) -> Option<AxisValues> {
        let mut on_nearest = *axes;
        for i in 0..6 {
            if self.are_some_of(i) {
                on_nearest[i] += TAU * whole_turns(near[i] - axes[i]);
            }
            if !may_go(i, on_nearest[i] - near[i]) {
                return None;
            }
        }
        Some(on_nearest)
    }

    /// Whether each axis that is tried on some turns alone is on the first of them, so that of stances that are whole turns of these apart
    /// one stands for all.
    pub fn is_on_first(&self, axes: &AxisValues) -> bool {
        (0..6).all(|i| !self.are_some_of(i) || axes[i] < self.tried[i].min + TAU)
    }

    /// Whether some axis is no farther than `step` (rad) from values on which it is not tried.
    pub fn is_near_end(&self, axes: &AxisValues, step: f64) -> bool {
        (0..6).any(|i| self.are_some_of(i) && self.tried[i].margin(axes[i]) < step)
    }

    pub fn beyond(&self, axes: &AxisValues) -> Beyond {
        let mut beyond = Beyond::Not;
        for i in (0..6).filter(|i| self.tried[*i].excess(axes[*i]) > 0.0) {
            if self.spare[i].excess(axes[i]) > 0.0 {
                return Beyond::NearEnd(i);
            }
            beyond = Beyond::OnOtherTurns;
        }
        beyond
    }
}

/// The whole turns nearest to an angle (rad).
pub(super) fn whole_turns(angle: f64) -> f64 {
    /// Added to a number, it leaves none of the digits behind the point: much quicker than a call of `round`.
    const NO_DIGITS: f64 = 1.5 * (1_u64 << 52) as f64;
    (angle * (1.0 / TAU) + NO_DIGITS) - NO_DIGITS
}

/// Whether two stances put every link in the same place.
pub(super) fn are_whole_turns_apart(one: &AxisValues, other: &AxisValues) -> bool {
    (other - one).iter().all(|step| (step - TAU * whole_turns(*step)).abs() < 1e-9)
}

/// The whole turns that bring each axis of `from` next to where it is in `to`, as one number: axis 1 counts first, axis 6 last, so that
/// numbers of stances that are whole turns apart ascend as they do, and add up as the turns do.
pub(super) fn turns_between(from: &AxisValues, to: &AxisValues) -> i64 {
    (to - from).iter().fold(0, |all, step| add_turns(all, whole_turns(*step)))
}

/// The number of [`turns_between`] with the turns of one axis more.
pub(super) fn add_turns(of_axes_before: i64, turns: f64) -> i64 {
    /// More than twice the turns of any range.
    const BASE: i64 = 1024;
    of_axes_before * BASE + turns as i64
}

/// What of `range` is no more than half a turn past the `hose`'s, but a whole turn at least where the range has one: past it by more,
/// another turn is nearer.
fn within_a_turn_of(range: Range, hose: Range) -> Range {
    let (min, max) = (range.min.max(hose.min - PI), range.max.min(hose.max + PI));
    if max - min >= TAU {
        return Range { min, max };
    }
    let min = min.min(range.max - TAU).max(range.min);
    Range { min, max: (min + TAU).min(range.max) }
}

/// Of each axis, whether a limit depends on it and on others.
fn bound_together(cell: &Cell) -> [bool; 6] {
    let arm = &cell.arm.arm;
    let mut bound = [false; 6];
    if cell.torch.dress.axis4_plus_axis6.is_some() {
        bound[3] = true;
        bound[5] = true;
    }
    for dependent in arm.dependent_ranges() {
        bound[dependent.axis()] = true;
        bound[dependent.by_axis()] = true;
    }
    if let (Some(coupling), Some(motors)) = (arm.coupling(), arm.motors()) {
        for (i, bound) in bound.iter_mut().enumerate() {
            let turns = coupling.motor_rates(&AxisValues::ith(i, 1.0));
            *bound |= motors.iter().zip(&turns).any(|(motor, turns)| motor.range.is_some() && *turns != 0.0);
        }
    }
    bound
}
