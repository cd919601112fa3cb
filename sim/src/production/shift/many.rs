//! Decides what many shifts have in common: the mean with its confidence interval, how much single shifts differ, where the time
//! went, and the indicators of ISO 22400-2.

use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::ledger::{ArmTime, PeopleTime};
use super::model::ShiftModel;
use super::play::play;

/// Share of the cases in which the true mean lies in a [`Mean`]'s interval.
pub const CONFIDENCE: f64 = 0.95;

/// A mean over shifts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    /// The mean.
    pub mean: f64,
    /// Half the width of the interval that holds the true mean in [`CONFIDENCE`] of the cases (Student's t).
    pub within: f64,
}

/// What many shifts of one model came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Shifts {
    /// How many were played.
    pub shifts: u32,
    /// Parts in each, in order.
    pub parts_each: Vec<u64>,
    /// Good parts in each, in order.
    pub good_each: Vec<u64>,
    /// Parts finished in a shift.
    pub parts: Mean,
    /// Good parts in a shift.
    pub good: Mean,
    /// One shift in twenty makes fewer parts.
    pub parts_poor: u64,
    /// Half of the shifts make fewer.
    pub parts_middling: u64,
    /// One shift in twenty makes more.
    pub parts_rich: u64,
    /// Where the arm's time went, mean over shifts, s.
    pub arm: ArmTime,
    /// Where the people's time went, mean over shifts, s.
    pub people: PeopleTime,
    /// Time in which the arm should work, s.
    pub planned: f64,
    /// Time of a part if nothing waits and nothing stops, s.
    pub ideal: f64,
    /// Indicators over all shifts together.
    pub oee: Oee,
}

/// Overall equipment effectiveness as ISO 22400-2 names its parts (names and formulas from memory): shares of 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oee {
    /// Actual production time over planned busy time. Lost here: stoppages, regular stops, the light curtain.
    pub availability: f64,
    /// Planned run time of an item times items made, over actual production time. Lost here: waiting, the end of the shift.
    pub effectiveness: f64,
    /// Good items over items made.
    pub quality_ratio: f64,
}

impl Oee {
    /// From `planned` and `run` time (s), the `ideal` time of an item (s), and items made and good.
    #[must_use]
    pub fn of(planned: f64, run: f64, ideal: f64, made: f64, good: f64) -> Self {
        Self {
            availability: run / planned,
            effectiveness: if run > 0.0 { ideal * made / run } else { 0.0 },
            quality_ratio: if made > 0.0 { good / made } else { 1.0 },
        }
    }

    /// The product of the three.
    #[must_use]
    pub fn index(&self) -> f64 {
        self.availability * self.effectiveness * self.quality_ratio
    }
}

impl Mean {
    /// Of `values`; an interval without end where there is only one.
    #[must_use]
    pub fn of(values: &[f64]) -> Self {
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
        let deviation = (squares / (count - 1.0)).sqrt();
        // An error is fewer than two values: nothing is known of how they vary.
        let t = StudentsT::new(0.0, 1.0, count - 1.0)
            .map_or(f64::INFINITY, |law| law.inverse_cdf((1.0 + CONFIDENCE) / 2.0));
        // No spread is no doubt, whatever t.
        Self { mean, within: if deviation == 0.0 { 0.0 } else { t * deviation / count.sqrt() } }
    }
}

/// Plays `shifts` shifts (at least 1). `ideal` is the time of a part if nothing waits and nothing stops, s. After each `one_more` is
/// called, from any thread.
#[must_use]
pub fn many(model: &ShiftModel, seed: u64, shifts: u32, ideal: f64, one_more: &(dyn Fn() + Sync)) -> Shifts {
    let shifts = shifts.max(1);
    let play_one = |shift| {
        let played = play(model, seed, shift);
        one_more();
        played
    };
    let played: Vec<_> = (0..u64::from(shifts)).into_par_iter().map(play_one).collect();
    let (mut arm, mut people) = (ArmTime::default(), PeopleTime::default());
    for one in &played {
        arm += one.arm;
        people += one.people;
    }
    // Parts of a shift are few: the numbers are exact.
    let parts: Vec<f64> = played.iter().map(|one| one.parts as f64).collect();
    let good: Vec<f64> = played.iter().map(|one| one.good as f64).collect();
    let (made, sound) = (parts.iter().sum::<f64>(), good.iter().sum::<f64>());
    let all = f64::from(shifts);
    // A load that is finished into a break takes that much of it.
    let planned = model.length * all - arm.breaks;
    let lost = arm.stopped + arm.service + arm.curtain;
    let parts_each: Vec<u64> = played.iter().map(|one| one.parts).collect();
    let good_each = played.iter().map(|one| one.good).collect();
    let mut sorted = parts_each.clone();
    sorted.sort_unstable();
    let rank = |share: f64| sorted[((share * all) as usize).min(sorted.len() - 1)];
    Shifts {
        shifts,
        parts: Mean::of(&parts),
        good: Mean::of(&good),
        parts_poor: rank(0.05),
        parts_middling: rank(0.5),
        parts_rich: rank(0.95),
        arm: arm.over(all),
        people: people.over(all),
        planned: planned / all,
        ideal,
        oee: Oee::of(planned, planned - lost, ideal, made, sound),
        parts_each,
        good_each,
    }
}
