//! Decides how far a fixture may stray from where it is drawn before a seam's taught way no longer keeps every limit.
//!
//! The way stays as it is in the part: the same angles along the seam, the same turn about the wire, the same way the arm stands; only
//! the arm follows where the fixture went. So what is told is a lower bound: planned again, a seam may bear more. Sizes are scanned from
//! the smallest on, and the last before the first that fails counts. None counts with which the fixture, or what lies in it, would stand
//! in something; what it touches as drawn, such as the table that carries it, is taken to go with it.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::change::Change;
use super::fouling::runs_into;
use crate::cell::{Cell, SeamId, ShapeId, StationId};
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
    /// What the fixture would stand in at the next size, of the six shifts and the two turns, where that is what ends them.
    pub met: [Option<ShapeId>; 8],
}

/// How much each seam that is welded bears, in the cell's order.
#[must_use]
pub fn comfort(cell: &Cell, searched: &Searched, plan: &Plan) -> Vec<Comfort> {
    let welded = plan.seams.iter().filter(|seam| plan.is_welded(seam.seam));
    let welded: Vec<(SeamId, usize)> = welded.filter_map(|seam| Some((seam.seam, seam.way?))).collect();
    let questions: Vec<(SeamId, usize, usize)> =
        welded.iter().flat_map(|(seam, way)| (0..8).map(move |direction| (*seam, *way, direction))).collect();
    let free: Vec<[Free; 8]> = (0..cell.stations.len())
        .into_par_iter()
        .map(|station| std::array::from_fn(|direction| free(cell, StationId(station), direction)))
        .collect();
    let answers: Vec<(f64, Option<ShapeId>)> = questions
        .into_par_iter()
        .map(|(seam, way, direction)| {
            let station = cell.seams[seam.0].station;
            let free = &free[station.0][direction];
            let holds = |size: &f64| {
                let changed = moved(station, direction, *size).made(cell);
                searched.keeps(&changed, seam, way)
            };
            let kept = sizes(direction).take(free.sizes).take_while(holds).count();
            let met = free.met.filter(|_| kept == free.sizes);
            (sizes(direction).take(kept).last().unwrap_or(0.0), met)
        })
        .collect();
    welded
        .iter()
        .zip(answers.chunks(8))
        .map(|((seam, _), answers)| Comfort {
            seam: *seam,
            shifts: std::array::from_fn(|i| answers[i].0),
            turns: [answers[6].0, answers[7].0],
            met: std::array::from_fn(|i| answers[i].1),
        })
        .collect()
}

/// How many sizes in one direction leave a fixture clear of what stands, and what it stands in at the next.
struct Free {
    sizes: usize,
    met: Option<ShapeId>,
}

fn free(cell: &Cell, station: StationId, direction: usize) -> Free {
    let all = sizes(direction).count();
    let meets = |size: f64| runs_into(cell, &moved(station, direction, size).made(cell), station);
    let first = sizes(direction).enumerate().find_map(|(index, size)| Some((index, meets(size)?)));
    first.map_or(Free { sizes: all, met: None }, |(sizes, met)| Free { sizes, met: Some(met) })
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
