//! Decides how far moves may be off that are unlike those measured: what measured times do not carry is promised no surer than without them.
//!
//! Two things make measured moves poor witnesses of others. A quantity that they cannot tell, as acceleration and jerk by long moves, may be off by
//! what is plausible: what that does to moves of every axis, short and long, comes on top of what measured moves are off by. And axes
//! that have no say in any measured move were not measured at all: a move of theirs is promised as if nothing had been.

use super::{Fit, Measured, Model, Pace, Quantity};
use crate::motion::AxisMove;
use crate::production::cycle::UNCALIBRATED_SHARE;
use crate::units;

/// Lengths of moves of each axis for which a calibration is to be good, degrees: judgement, no source.
const LENGTHS_DEG: [f64; 3] = [10.0, 40.0, 120.0];

/// An axis that would take this share of a move's time by itself has a say in it: judgement, no source.
const A_SAY: f64 = 0.5;

/// A change of a factor by this share of what is plausible is small.
const SMALL: f64 = 1e-3;

/// Errors that add up to 95 of 100, in standard deviations.
const WITHIN_95: f64 = 1.96;

impl Model<'_> {
    /// Which axes have a say in at least one measured move: by themselves they would take half as long as the slowest, or longer.
    pub(super) fn axes_that_have_a_say(&self) -> [bool; 6] {
        let mut heard = [false; 6];
        for index in self.of_kind(0) {
            let Measured::Move { from, to, .. } = &self.measured[index].what else { continue };
            let alone: [f64; 6] = std::array::from_fn(|axis| {
                let mut only = *from;
                only[axis] = to[axis];
                AxisMove::new(&self.cell.arm.arm, *from, only, 1.0).duration()
            });
            let slowest = alone.iter().copied().fold(0.0, f64::max);
            for (heard, alone) in heard.iter_mut().zip(alone) {
                *heard |= alone > 0.0 && alone >= A_SAY * slowest;
            }
        }
        heard
    }

    /// To what share any moves are promised where measured ones would promise `share`.
    pub(super) fn of_other_moves(&self, fitted: &Fit, share: f64, heard: [bool; 6]) -> f64 {
        let unsure = (WITHIN_95 * self.unsure_of_moves(fitted)).min(UNCALIBRATED_SHARE);
        let measured = share.max(unsure);
        // Six axes: the count is exact.
        let witnessed = heard.iter().filter(|heard| **heard).count() as f64 / heard.len() as f64;
        witnessed * measured + (1.0 - witnessed) * measured.max(UNCALIBRATED_SHARE)
    }

    /// Standard deviation, as a share, that the values of all quantities leave to moves of each axis, short and long: root of the mean
    /// square.
    fn unsure_of_moves(&self, fitted: &Fit) -> f64 {
        let changes: Vec<Vec<f64>> = (0..Quantity::ALL.len())
            .map(|at| {
                let with = |sign: f64| {
                    let mut values = fitted.values.clone();
                    values[at] += sign * SMALL * Quantity::ALL[at].factor().plausible;
                    self.reference_times(&values)
                };
                with(1.0).iter().zip(with(-1.0)).map(|(up, down)| (up / down).ln() / (2.0 * SMALL)).collect()
            })
            .collect();
        let count = LENGTHS_DEG.len() * 6;
        let variance = |which: usize| {
            let pairs = (0..changes.len()).flat_map(|one| (0..changes.len()).map(move |other| (one, other)));
            pairs
                .map(|(one, other)| changes[one][which] * changes[other][which] * fitted.unsure[(one, other)])
                .sum::<f64>()
        };
        let sum: f64 = (0..count).map(|which| variance(which).max(0.0)).sum();
        (sum / count as f64).sqrt()
    }

    /// Times of moves of each axis alone, of every length, at the cell's own pace, s.
    fn reference_times(&self, values: &[f64]) -> Vec<f64> {
        let mut cell = self.cell.clone();
        self.calibration(values, |_| true).apply(&mut cell);
        let pace = Pace::of(&cell.arm);
        let home = cell.arm.home;
        let move_of = |axis: usize, length: f64| {
            let mut to = home;
            to[axis] += units::deg(length);
            AxisMove::new(&cell.arm.arm, home, to, pace).duration() + cell.arm.settle
        };
        (0..6).flat_map(|axis| LENGTHS_DEG.map(|length| move_of(axis, length))).collect()
    }
}
