//! Decides how far straight ways between points taught by hand stray from the seam they are to weld.

use nalgebra::Point3;

use crate::cell::SeamPath;

/// Places along the seam that are looked at: so far apart at most, m, and with so little turn between them, rad.
const STEP: f64 = 0.001;
const TURN: f64 = 0.02;

/// The largest distance (m) of any point of the seam from the straight ways between `points` (station frame), in the order in
/// which they were taught; none for fewer than two.
#[must_use]
pub fn off_seam(path: &SeamPath, points: &[Point3<f64>]) -> Option<f64> {
    if points.len() < 2 {
        return None;
    }
    let to_way = |at: Point3<f64>| {
        points.windows(2).map(|way| to_segment(&at, &way[0], &way[1])).fold(f64::INFINITY, f64::min)
    };
    let samples = path.samples(0.0, path.length(), STEP, TURN);
    Some(samples.into_iter().map(|s| to_way(path.at(s).point)).fold(0.0, f64::max))
}

fn to_segment(at: &Point3<f64>, start: &Point3<f64>, end: &Point3<f64>) -> f64 {
    let way = end - start;
    let length = way.norm_squared();
    let share = if length > 0.0 { ((at - start).dot(&way) / length).clamp(0.0, 1.0) } else { 0.0 };
    (at - (start + way * share)).norm()
}
