//! Decides what comes out of a shift.

use crate::cell::Shift;

/// What one shift makes.
///
/// Counted are whole cycles only, a load from every station: one that is begun but not finished at the end does not count.
/// After a break the cell goes on where it stopped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShiftOutput {
    /// Time in which the cell runs: length less breaks, times availability, s.
    pub productive: f64,
    /// Whole cycles.
    pub cycles: u64,
    /// Finished parts.
    pub parts: u64,
    /// Parts if every cycle took the longest promised time.
    pub parts_at_least: u64,
    /// Parts if every cycle took the shortest promised time.
    pub parts_at_most: u64,
}

impl ShiftOutput {
    /// What `shift` makes with `parts_per_cycle` in cycles of `period` s (above 0), promised between `low` and `high`.
    #[must_use]
    pub fn of(shift: &Shift, parts_per_cycle: u64, [low, period, high]: [f64; 3]) -> Self {
        let productive = (shift.length - shift.breaks).max(0.0) * shift.availability.value;
        // Whole cycles; the last one is not lost to rounding of a sum.
        let cycles = |period: f64| (productive / period + 1e-9).floor() as u64;
        Self {
            productive,
            cycles: cycles(period),
            parts: cycles(period) * parts_per_cycle,
            parts_at_least: cycles(high) * parts_per_cycle,
            parts_at_most: cycles(low) * parts_per_cycle,
        }
    }
}
