//! Decides at which travel speed a seam holds that an axis or motor is too slow for: the highest of a falling row at which a way is
//! found.

use super::Found;
use crate::cell::Seam;
use crate::plan::{Binding, Constraint};
use crate::units;

/// Speeds tried.
const SPEEDS: usize = 12;

/// Each is so much of the one before.
const SLOWER: f64 = 0.85;

/// Speeds are told to this, m/s: the one that is told is the one at which a way was found.
fn told_to() -> f64 {
    units::mm(0.1)
}

/// The highest travel speed (m/s) tried at which `holds` finds a way; none where no speed limit stops the seam, or slower travel alone does not
/// help.
///
/// The first is that at which the worst of the limits that were passed is just kept where it was measured.
pub(super) fn follows_at(seam: &Seam, found: &Found, holds: impl Fn(&Seam) -> bool) -> Option<f64> {
    let too_fast = |binding: &Binding| {
        let speed = matches!(binding.constraint, Constraint::AxisSpeed(_) | Constraint::MotorSpeed(_));
        speed.then_some(binding.amount)
    };
    let worst = found.binding.iter().chain(&found.also).filter_map(too_fast).reduce(f64::max)?;
    let first = seam.procedure.travel_speed / (1.0 + worst);
    let mut speeds: Vec<f64> = (0..SPEEDS)
        .map(|step| (first * SLOWER.powi(step as i32) / told_to() + 1e-9).floor() * told_to())
        .filter(|speed| *speed > 0.0)
        .collect();
    speeds.dedup();
    speeds.into_iter().find(|speed| {
        let mut slower = seam.clone();
        slower.procedure.travel_speed = *speed;
        holds(&slower)
    })
}
