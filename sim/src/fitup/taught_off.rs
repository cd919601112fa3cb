//! Decides how far a way that was taught puts the wire off the joint as it is drawn.
//!
//! It does so on every part alike, as long as the points are used as they stand. Whoever touches them up brings the wire onto the joint of
//! the part that lies there, and so takes it away.

use nalgebra::Vector3;

use super::cause::{Law, What};
use super::local::Local;
use super::shift::own;
use crate::cell::{Seam, SeamId};
use crate::plan::{OffRoot, Plan, Verdict};

/// How far across the joint lies from the taught wire at each of these arc lengths, m. None where the seam was not taught; an error where that
/// does not hold.
pub(super) fn taught_off(
    seam: &Seam,
    plan: &Plan,
    id: SeamId,
    s: &[f64],
) -> Result<Option<Vec<f64>>, String> {
    if seam.taught.is_none() {
        return Ok(None);
    }
    let planned = plan.seams.iter().find(|planned| planned.seam == id);
    let held = planned.filter(|planned| planned.verdict == Verdict::Holds);
    let beside = held.and_then(|planned| planned.beside.as_ref());
    let samples = beside.map_or(&[][..], |beside| &beside.off_root);
    let off: Option<Vec<f64>> = s.iter().map(|s| between(samples, *s)).collect();
    off.map(Some).ok_or_else(|| "it does not hold as it was taught".to_owned())
}

/// What the taught way does, as an error that is always as large.
pub(super) fn always(off: &[f64], searches: usize) -> Local {
    let one = Law::Even { low: 1.0, high: 1.0 };
    Local {
        cause: own(What::TaughtWay, "", one, true),
        is_of_joint: false,
        by: off.iter().map(|across| Vector3::new(*across, 0.0, 0.0)).collect(),
        opens: vec![0.0; off.len()],
        found: vec![0.0; searches],
    }
}

/// Between the samples on either side; beyond the ends as at the end.
fn between(samples: &[OffRoot], s: f64) -> Option<f64> {
    let next = samples.partition_point(|sample| sample.s < s);
    let (before, after) = (samples.get(next.saturating_sub(1))?, samples.get(next).or(samples.last())?);
    let length = after.s - before.s;
    let share = if length > 0.0 { ((s - before.s) / length).clamp(0.0, 1.0) } else { 0.0 };
    Some(before.across + share * (after.across - before.across))
}
