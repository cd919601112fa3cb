//! Decides which welds lie on one another: a seam that was copied and not moved is welded, and counted, twice.

use nalgebra::Point3;

use super::{Cell, Seam, SeamId, SeamPoint};
use crate::units;

/// Welds nearer to each other than this, their open sides no farther apart than so much, lie on one another.
const NEAR_MM: f64 = 0.5;
const SAME_SIDE_DEG: f64 = 45.0;
/// Less of it is where two welds meet, cross or overlap at their ends.
const MEETS_MM: f64 = 10.0;
/// Welds are looked at in steps.
const STEP_MM: f64 = 2.0;

/// The other seam of its station on whose weld most of a seam's own lies, and how much of it (m); passes of one weld are not counted.
#[must_use]
pub fn welded_over(cell: &Cell, id: SeamId) -> Option<(SeamId, f64)> {
    let own = &cell.seams[id.0];
    let samples = weld(own);
    let [low, high] = extent(&samples)?;
    let others = cell.seams.iter().enumerate().filter(|(other, seam)| {
        *other != id.0 && seam.station == own.station && [seam.row, seam.copy] != [own.row, own.copy]
    });
    let covered = others.filter_map(|(other, seam)| {
        let near =
            |a: &Point3<f64>, b: &Point3<f64>| (0..3).all(|axis| a[axis] <= b[axis] + units::mm(NEAR_MM));
        let theirs = weld(seam);
        let [their_low, their_high] = extent(&theirs)?;
        let lies = |at: &&SeamPoint| theirs.windows(2).any(|ends| lies_on(at, ends));
        let count = if near(&low, &their_high) && near(&their_low, &high) {
            samples.iter().filter(lies).count()
        } else {
            0
        };
        Some((SeamId(other), units::mm(STEP_MM) * count as f64))
    });
    let most = covered.reduce(|most, next| if next.1 > most.1 { next } else { most });
    most.filter(|(_, length)| *length >= units::mm(MEETS_MM))
}

/// Places along a weld, in the middle of each step.
fn weld(seam: &Seam) -> Vec<SeamPoint> {
    let Some(path) = &seam.path else { return Vec::new() };
    let of_run = |run: &super::Run| {
        let steps = (run.length() / units::mm(STEP_MM)).ceil().clamp(1.0, 1e5) as u32;
        let (start, step) = (run.start, run.length() / f64::from(steps));
        (0..steps).map(move |at| path.at(start + step * (f64::from(at) + 0.5)))
    };
    seam.runs.iter().flat_map(of_run).collect()
}

fn extent(samples: &[SeamPoint]) -> Option<[Point3<f64>; 2]> {
    let mut points = samples.iter().map(|at| at.point);
    let first = points.next()?;
    Some(points.fold([first, first], |[low, high], point| [low.inf(&point), high.sup(&point)]))
}

/// Whether a place lies on the line between two neighbours along another weld, where that is no gap between stitches, on the same side.
fn lies_on(at: &SeamPoint, ends: &[SeamPoint]) -> bool {
    let [from, to] = ends else { return false };
    let along = to.point - from.point;
    if along.norm() > 1.5 * units::mm(STEP_MM) {
        return false;
    }
    let share = ((at.point - from.point).dot(&along) / along.norm_squared().max(1e-18)).clamp(0.0, 1.0);
    let off = (at.point - (from.point + along * share)).norm();
    let open = |point: &SeamPoint| point.n1 + point.b;
    off <= units::mm(NEAR_MM) && open(at).angle(&open(from)) <= units::deg(SAME_SIDE_DEG)
}
