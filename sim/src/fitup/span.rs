//! Decides from where to where something may lie that is off by several errors.

use super::cause::{Cause, Law};

/// From where to where something may lie.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Span {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) mean: f64,
    /// Sum of the squares of the limits.
    pub(super) squares: f64,
}

impl Span {
    /// Errors with what each does; `taught`: means that touching up takes out are out.
    pub(super) fn of<'c>(errors: impl Iterator<Item = (&'c Cause, f64)>, taught: bool) -> Self {
        let mut span = Self::default();
        let mut limits = 0.0;
        let mut first = 0.0;
        for (cause, effect) in errors {
            let limit = match cause.law {
                Law::Disc { second: false, .. } => {
                    first = effect;
                    continue;
                }
                // A disc reaches as far in every direction.
                Law::Disc { radius, second: true } => radius * std::mem::take(&mut first).hypot(effect),
                Law::Normal { .. } | Law::Even { .. } => (effect * cause.law.limit()).abs(),
            };
            limits += limit;
            span.squares += limit * limit;
            if !(taught && cause.mean_taught) {
                span.mean += effect * cause.law.mean();
            }
        }
        span.low = span.mean - limits;
        span.high = span.mean + limits;
        span
    }

    pub(super) fn add(&mut self, other: &Self) {
        self.low += other.low;
        self.high += other.high;
        self.mean += other.mean;
        self.squares += other.squares;
    }

    pub(super) fn worst(&self) -> f64 {
        self.low.abs().max(self.high.abs())
    }

    /// Never more than the worst case.
    pub(super) fn squares(&self) -> f64 {
        (self.mean.abs() + self.squares.sqrt()).min(self.worst())
    }
}
