//! Decides the load time that suits the arm: the one at which nobody waits, and the one that leaves room for its spread.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use super::rhythm::{rhythm, sum_of};

/// Waiting for the person that still counts as small: share of the arm's round.
pub const SMALL_WAIT_SHARE: f64 = 0.01;

/// How the person's time at one station suits the arm, s. All of it: unload, load, clamps, acknowledge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    /// As the file states it.
    pub person: f64,
    /// The longest that does not lengthen the cycle, times at the other stations being as they are: there the person's time
    /// and the arm's balance exactly. `None` for one fixture, where every second of loading counts.
    pub balanced: Option<f64>,
    /// Whether the arm waits for other loads if this one takes no time at all.
    pub waits_for_others: bool,
    /// The mean for which the arm waits [`SMALL_WAIT_SHARE`] of the time on average, load times varying as the file states.
    /// `None` where there is none, and where it is not known: for one fixture, for more than two, and
    /// for two that two people load.
    pub small_wait: Option<f64>,
}

/// The longest time (s) of the person at station `at` with which the round is no longer than with no time there at all.
///
/// `arm`, `person` and `who` as in [`rhythm`]. With two stations it is the arm's time at the other one.
#[must_use]
pub(super) fn longest_unnoticed(arm: &[f64], person: &[f64], who: &[usize], at: usize) -> Option<f64> {
    if arm.len() < 2 {
        return None;
    }
    let mut others = person.to_vec();
    others[at] = 0.0;
    let shortest = rhythm(arm, &others, who).period;
    Some((shortest - sum_of(&others, who, who[at])).min(shortest - arm[at]))
}

/// How long the arm waits on average (s) for a load that takes `mean` with standard deviation `spread`, normally distributed,
/// when it has something to do for `arm` seconds meanwhile.
///
/// E[(L − R)⁺] = σ·φ(z) + (μ − R)·Φ(z), z = (μ − R)/σ; with no spread the plain difference, where there is one. Checked
/// against a simulation: tests/agreement.
#[must_use]
pub fn expected_wait(arm: f64, mean: f64, spread: f64) -> f64 {
    let late = mean - arm;
    // An error is a spread that is not above 0 or not a number: no spread.
    Normal::new(0.0, 1.0).ok().filter(|_| spread > 0.0).map_or(late.max(0.0), |normal| {
        let z = late / spread;
        (spread * normal.pdf(z) + late * normal.cdf(z)).max(0.0)
    })
}

/// The mean load time (s) for which the arm waits [`SMALL_WAIT_SHARE`] of the time on average.
///
/// The arm works for `arm` seconds while the load goes on, and `index` seconds pass before it can start again; the wait
/// counts into the time it is a share of. `spread` has the standard deviation (s) at a mean, which does not fall with it. `None` where
/// the spread alone makes the arm wait more.
#[must_use]
pub fn load_for_small_wait(arm: f64, index: f64, spread: impl Fn(f64) -> f64) -> Option<f64> {
    let allowed = SMALL_WAIT_SHARE / (1.0 - SMALL_WAIT_SHARE) * (arm + index);
    if expected_wait(arm, 0.0, spread(0.0)) > allowed {
        return None;
    }
    // The wait rises with the mean, and a mean longer by what is allowed makes at least that wait.
    let (mut low, mut high) = (0.0, arm + allowed);
    // Halving a time of hours sixty times is far below a microsecond.
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if expected_wait(arm, middle, spread(middle)) > allowed {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(low)
}
