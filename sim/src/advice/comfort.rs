//! Decides how far a fixture may stray from where it is drawn before a seam's taught way no longer keeps every limit.
//!
//! The way stays as it is in the part: the same angles along the seam, the same turn about the wire, the same way the arm stands; only
//! the arm follows where the fixture went. So what is told is a lower bound: planned again, a seam may bear more. Sizes are scanned from
//! the smallest on, and the last before the first that fails counts. None counts on the way to which the fixture, or what lies in it, would come to stand
//! in something: it goes as far as it is from the next thing at a time (conservative advancement), so that nothing thin is stepped over. What it touches as drawn it slides along, but not deeper
//! into it; downward what bears it is taken to go with it.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::change::Change;
use super::fouling::{Beside, lever};
use crate::cell::frames::FrameId;
use crate::cell::{Cell, SeamId, ShapeId, StationId};
use crate::plan::{Plan, Searched};
use crate::units;

/// How far a fixture is shifted, mm.
pub const SHIFTS_MM: [f64; 10] = [1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0];
/// How far it is turned about its own z, degrees.
pub const TURNS_DEG: [f64; 6] = [0.2, 0.5, 1.0, 2.0, 3.0, 5.0];

/// Least step in which a fixture is moved on, m: thinner things may be stepped over.
fn least_step() -> f64 {
    units::mm(0.05)
}

/// Greatest step in which it is moved along something that it touches as drawn, m.
fn sliding_step() -> f64 {
    units::mm(1.0)
}

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
    /// What bears the fixture and is taken to go with it toward −z.
    pub bearing: Vec<ShapeId>,
    /// What the fixture overlaps as drawn: how far it goes deeper into that is told by the least way out of it.
    pub overlapped: Vec<ShapeId>,
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
                let change = moved(station, direction, *size);
                searched.keeps(&with_bearing(cell, &change, &free.bearing), seam, way)
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
            bearing: free[cell.seams[seam.0].station.0][DOWN].bearing.clone(),
            overlapped: Beside::of(cell, cell.seams[seam.0].station, sliding_step()).overlapped(),
        })
        .collect()
}

/// How many sizes in one direction leave a fixture clear of what stands, what it stands in at the next, and what goes with it.
struct Free {
    sizes: usize,
    met: Option<ShapeId>,
    bearing: Vec<ShapeId>,
}

/// Of the eight directions that toward −z.
const DOWN: usize = 5;

fn free(cell: &Cell, station: StationId, direction: usize) -> Free {
    let last = sizes(direction).last().unwrap_or(0.0);
    // Nothing goes farther for a metre, or radian, of the size.
    let lever = if direction < 6 { 1.0 } else { lever(cell, station) };
    let moved = |size: f64| moved(station, direction, size).made(cell);
    let mut beside = Beside::of(cell, station, last * lever + sliding_step());
    let mut bearing = Vec::new();
    if direction == DOWN {
        bearing = beside.bearing(&moved(sliding_step()));
        beside = beside.without(&bearing);
    }
    let mut size = 0.0;
    let mut after = moved(size);
    for (index, next) in sizes(direction).enumerate() {
        while size < next {
            let (room, slides) = beside.room(&after, (last - size) * lever);
            let step = room.max(least_step()).min(if slides { sliding_step() } else { f64::INFINITY });
            size = (size + step / lever).min(next);
            after = moved(size);
            if let Some(met) = beside.met(&after) {
                return Free { sizes: index, met: Some(met), bearing };
            }
        }
    }
    Free { sizes: sizes(direction).count(), met: None, bearing }
}

/// The cell with a shift made, and what bears the fixture gone with it.
fn with_bearing(cell: &Cell, change: &Change, bearing: &[ShapeId]) -> Cell {
    let mut changed = change.made(cell);
    let Change::Shift { station, by } = change else { return changed };
    let station = &cell.stations[station.0];
    let world_from = |frame: FrameId| cell.frames.world_from(frame, &station.external);
    let parent = cell.frames.frames[station.frame.0].parent.unwrap_or(station.frame);
    let in_world = world_from(parent).rotation * by;
    for shape in bearing {
        let shape = &mut changed.shapes[shape.0];
        shape.frame_from_shape.translation.vector += world_from(shape.frame).rotation.inverse() * in_world;
    }
    changed
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
