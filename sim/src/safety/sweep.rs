//! Decides through what space everything moves over the schedule, stopping included: the operating space of ISO 10218.
//!
//! Every instant of the path is looked at, and from each the way that everything would go on if a stop were ordered then, each axis
//! braking by itself. A stop that is held on the path sweeps nothing that the path does not.

use nalgebra::Point3;
use rayon::prelude::*;

use super::bodies::MovingBodies;
use super::instants::Instant;
use super::stopping::Stops;
use crate::cell::Cell;
use crate::schedule::Stance;
use crate::units;

/// Between two looks at a stop no axis of the arm turns by more than this.
const STOP_STEP_DEG: f64 = 1.5;
/// Nor are there more looks at one stop than this.
const MOST_LOOKS: u32 = 40;

/// Where everything is at one look.
pub struct Look<'l> {
    /// The instant of the schedule, or the instant at which a stop was ordered.
    pub instant: &'l Instant,
    /// Index of that instant.
    pub index: usize,
    /// How long after the order, s; 0 on the path.
    pub stopping_for: f64,
    /// How everything stands.
    pub stance: &'l Stance,
    /// Points of every moving body in the world, in the order of the bodies.
    pub points: &'l [Vec<Point3<f64>>],
}

/// Looks at all instants and the stops from them; what is gathered of each instant comes back in their order.
pub fn sweep<T: Send>(
    cell: &Cell,
    bodies: &MovingBodies,
    instants: &[Instant],
    stops: &Stops,
    new: impl Fn() -> T + Sync,
    look: impl Fn(&mut T, &Look<'_>) + Sync,
) -> Vec<T> {
    let see = |index: usize, instant: &Instant| {
        let mut gathered = new();
        let mut at = |stopping_for: f64, stance: &Stance| {
            let points = bodies.world_points(cell, &stance.axes, &stance.external);
            look(&mut gathered, &Look { instant, index, stopping_for, stance, points: &points });
        };
        at(0.0, &instant.motion.stance);
        let stop = stops.from(&instant.motion);
        let turn = stop.arm.iter().map(|braking| braking.way).fold(0.0, f64::max);
        let external_moves = stop.outside.iter().any(|braking| braking.way > 0.0);
        let time = stop.time();
        if time > 0.0 {
            let looks = (turn / units::deg(STOP_STEP_DEG)).ceil().max(if external_moves { 8.0 } else { 1.0 });
            // At most `MOST_LOOKS`: the count fits.
            let looks = looks.min(f64::from(MOST_LOOKS)) as u32;
            for step in 1..=looks {
                let t = time * f64::from(step) / f64::from(looks);
                at(t, &stop.at(t));
            }
        }
        gathered
    };
    instants.par_iter().enumerate().map(|(index, instant)| see(index, instant)).collect()
}
