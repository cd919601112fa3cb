//! Decides at which travel speed a seam holds that an axis or motor is too slow for: the highest at which a way is found, of a falling
//! row and of speeds halfway between the first that serves and the one above it.

use super::Found;
use crate::cell::Seam;
use crate::plan::{Binding, Constraint, NotShown};
use crate::units;

/// Speeds tried.
const SPEEDS: usize = 12;

/// Each is so much of the one before.
const SLOWER: f64 = 0.85;

/// Halvings of the step between the first that serves and the one above: told to 1 % or so.
const HALVINGS: usize = 4;

/// Speeds are told to this, m/s: the one that is told is the one at which a way was found.
fn told_to() -> f64 {
    units::mm(0.1)
}

/// The highest travel speed (m/s) tried at which `holds` finds a way; none where no speed limit stops the seam, nor a weave too fast for an axis, or slower travel alone does not
/// help.
///
/// The first is that at which the worst of the limits that were passed is just kept where it was measured.
pub(super) fn follows_at(seam: &Seam, found: &Found, holds: impl Fn(&Seam) -> bool) -> Option<f64> {
    let too_fast = |binding: &Binding| match binding.constraint {
        Constraint::AxisSpeed(_) | Constraint::MotorSpeed(_) => Some(1.0 + binding.amount),
        // That of a weave grows with the square of the speed.
        Constraint::AxisAcceleration(_) => Some((1.0 + binding.amount).sqrt()),
        // Kept where it was measured, by next to nothing.
        Constraint::NotShown(NotShown::Speed(_)) => Some(1.0),
        _ => None,
    };
    let worst = found.binding.iter().chain(&found.also).filter_map(too_fast).reduce(f64::max)?;
    let asked = seam.procedure.travel_speed;
    let first = asked / worst;
    let told = |speed: f64| (speed / told_to() + 1e-9).floor() * told_to();
    let mut speeds: Vec<f64> = (0..SPEEDS)
        .map(|step| told(first * SLOWER.powi(step as i32)))
        .filter(|speed| *speed > 0.0 && *speed < asked)
        .collect();
    speeds.dedup();
    let serves = |speed: f64| {
        let mut slower = seam.clone();
        slower.procedure.travel_speed = speed;
        holds(&slower)
    };
    let found = speeds.iter().position(|speed| serves(*speed))?;
    let (mut slow, mut fast) = (speeds[found], found.checked_sub(1).map_or(asked, |above| speeds[above]));
    for _ in 0..HALVINGS {
        let middle = told(0.5 * (slow + fast));
        if middle <= slow {
            break;
        }
        *(if serves(middle) { &mut slow } else { &mut fast }) = middle;
    }
    Some(slow)
}
