//! Decides how far a fixture may stray from where it is drawn before a seam's taught way no longer keeps every limit.
//!
//! The way stays as it is in the part: the same angles along the seam, the same turn about the wire, the same way the arm stands; only
//! the arm follows where the fixture went. So what is told is a lower bound: planned again, a seam may bear more. Sizes are scanned from
//! the smallest on, and the last before the first that fails counts.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::change::Change;
use crate::cell::{Cell, SeamId, StationId};
use crate::plan::{Plan, Searched};
use crate::units;

/// How far a fixture is shifted, mm.
pub const SHIFTS_MM: [f64; 10] = [1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0];
/// How far it is turned about its own z, degrees.
pub const TURNS_DEG: [f64; 6] = [0.2, 0.5, 1.0, 2.0, 3.0, 5.0];

/// How much a seam bears.
#[derive(Clone, Debug)]
pub struct Comfort {
    /// The seam.
    pub seam: SeamId,
    /// Toward +x, −x, +y, −y, +z, −z of the frame that its station stands on, m: every size tried up to this one holds. 0: not
    /// even the smallest does.
    pub shifts: [f64; 6],
    /// Turned about the station's z, counter-clockwise and clockwise seen from its +z, rad.
    pub turns: [f64; 2],
}

/// How much each seam that is welded bears, in the cell's order.
#[must_use]
pub fn comfort(cell: &Cell, searched: &Searched, plan: &Plan) -> Vec<Comfort> {
    let welded = plan.seams.iter().filter(|seam| plan.is_welded(seam.seam));
    let welded: Vec<(SeamId, usize)> = welded.filter_map(|seam| Some((seam.seam, seam.way?))).collect();
    let questions: Vec<(SeamId, usize, usize)> =
        welded.iter().flat_map(|(seam, way)| (0..8).map(move |direction| (*seam, *way, direction))).collect();
    let answers: Vec<f64> = questions
        .into_par_iter()
        .map(|(seam, way, direction)| {
            let station = cell.seams[seam.0].station;
            let holds = |size: &f64| {
                let changed = moved(station, direction, *size).made(cell);
                searched.keeps(&changed, seam, way)
            };
            sizes(direction).take_while(holds).last().unwrap_or(0.0)
        })
        .collect();
    welded
        .iter()
        .zip(answers.chunks(8))
        .map(|((seam, _), answers)| Comfort {
            seam: *seam,
            shifts: std::array::from_fn(|i| answers[i]),
            turns: [answers[6], answers[7]],
        })
        .collect()
}

/// Sizes tried in one of the eight directions, rising, m or rad.
fn sizes(direction: usize) -> impl Iterator<Item = f64> {
    let shift = direction < 6;
    let sizes: &'static [f64] = if shift { &SHIFTS_MM } else { &TURNS_DEG };
    sizes.iter().map(move |size| if shift { units::mm(*size) } else { units::deg(*size) })
}

fn moved(station: StationId, direction: usize, size: f64) -> Change {
    let sign = if direction.is_multiple_of(2) { 1.0 } else { -1.0 };
    match direction {
        0..6 => Change::Shift { station, by: Vector3::ith(direction / 2, sign * size) },
        _ => Change::Turn { station, by: sign * size },
    }
}
