//! Decides through what space everything moves over the schedule, stopping included: the operating space of ISO 10218.
//!
//! Every instant of the path is looked at, and from each the way that everything would go on if a stop were ordered then, each axis
//! braking by itself. A stop that is held on the path sweeps nothing that the path does not.

use super::stopping::Stops;
use crate::schedule::{Instant, Stance};
use crate::units;

/// Between two looks at a stop no axis of the arm turns by more than this.
const STOP_STEP_DEG: f64 = 1.5;
/// Looks at one stop: at least where external axes move, and at most.
const STOP_LOOKS: [f64; 2] = [8.0, 40.0];

/// When a look is, and how everything stands.
#[derive(Clone, Copy, Debug)]
pub struct Look<'l> {
    /// The instant of the schedule, or the instant at which a stop was ordered.
    pub instant: &'l Instant,
    /// Index of that instant.
    pub index: usize,
    /// How long after the order, s; 0 on the path.
    pub stopping_for: f64,
    /// How everything stands.
    pub stance: &'l Stance,
}

/// Looks at the stop that is ordered at an instant: times since then, s, and how everything stands.
pub(super) fn stop_looks(stops: &Stops, instant: &Instant) -> impl Iterator<Item = (f64, Stance)> {
    let stop = stops.from(&instant.motion);
    let turn = stop.arm.iter().map(|braking| braking.way).fold(0.0, f64::max);
    let external_moves = stop.outside.iter().any(|braking| braking.way > 0.0);
    let time = stop.time();
    let [least, most] = STOP_LOOKS;
    let looks = (turn / units::deg(STOP_STEP_DEG)).ceil().max(if external_moves { least } else { 1.0 });
    // No more than `STOP_LOOKS` has: the count fits.
    let looks = if time > 0.0 { looks.min(most) as u32 } else { 0 };
    (1..=looks).map(move |step| {
        let t = time * f64::from(step) / f64::from(looks);
        (t, stop.at(t))
    })
}
