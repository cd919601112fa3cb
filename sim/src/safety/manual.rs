//! Decides how long proving the program takes at reduced speed, and how fast the wire end would otherwise be.
//!
//! In manual mode the tool centre point, here the wire end, goes at most 250 mm/s (ISO 10218-1; OSHA Technical Manual, section IV,
//! chapter 4). The schedule is played again with that cap, row by row: what is slower, as seams are, stays as it is.

use crate::cell::Cell;
use crate::plan::Plan;
use crate::schedule::PathRow;

/// Greatest speed of the wire end in manual mode, m/s.
pub const REDUCED_SPEED: f64 = 0.25;

/// Proving the program by hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manual {
    /// Greatest speed of the wire end in the schedule, m/s.
    pub fastest: f64,
    /// The schedule as planned, s.
    pub planned: f64,
    /// Played at reduced speed, s.
    pub played: f64,
    /// Points to teach.
    pub points: usize,
    /// Teaching them and playing them once, s.
    pub proving: f64,
}

/// Plays the schedule at reduced speed; none where it has no rows.
#[must_use]
pub fn manual(cell: &Cell, plan: &Plan, rows: &[PathRow]) -> Option<Manual> {
    let (first, last) = (rows.first()?, rows.last()?);
    let mut played = 0.0;
    for pair in rows.windows(2) {
        let time = pair[1].t - pair[0].t;
        let at = |row: &PathRow| row.world_from_wire_end.translation.vector;
        let mean = (at(&pair[1]) - at(&pair[0])).norm() / time;
        // Of the interval's speeds the greatest: it is never played too fast.
        let speed = mean.max(pair[0].speed).max(pair[1].speed);
        played += time * (speed / REDUCED_SPEED).max(1.0);
    }
    let points = plan.seams.iter().map(|seam| seam.taught.len()).sum();
    // Points are few: the number is exact.
    let teaching = cell.safeguarding.teaching.value * points as f64;
    Some(Manual {
        fastest: rows.iter().map(|row| row.speed).fold(0.0, f64::max),
        planned: last.t - first.t,
        played,
        points,
        proving: teaching + played,
    })
}
