//! Decides whether the arm at one place keeps clear of a table that turns at another meanwhile.
//!
//! Plans are made with every table standing. Here all rows of `path.csv` but most are passed over, and at the others the tables that
//! may turn then are looked at all over their turns: enough to find what meets, not a proof that nothing does.

use rayon::prelude::*;

use super::cycle::Cycle;
use super::layout::LayoutKind;
use crate::cell::{Cell, SeamId, StationId};
use crate::plan::clearance::{AtSeam, Scene};
use crate::schedule::{PathRow, serves_a_weld};
use crate::units;

/// A table looked at while the arm is at a station of another place.
#[derive(Clone, Debug, PartialEq)]
pub struct BesideTurn {
    /// The station.
    pub station: StationId,
    /// The table's axis.
    pub axis: usize,
    /// How many rows were looked at; none where nothing is planned.
    pub looked_at: usize,
    /// Where it is worst, if somewhere less is kept than is asked.
    pub meets: Option<Meets>,
}

/// Two bodies nearer to each other than is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Meets {
    /// Their names.
    pub bodies: (String, String),
    /// m short of what is asked.
    pub short: f64,
    /// Where the table's axis is, rad.
    pub at: f64,
    /// The seam that the arm serves.
    pub seam: Option<SeamId>,
}

/// Of so many rows one is looked at.
const ROWS: usize = 5;

/// From place to place of a table's turn.
fn step() -> f64 {
    units::deg(5.0)
}

/// Every station with every table of another place, in that order; none where tables stand alone.
#[must_use]
pub fn beside_turns(cell: &Cell, cycle: &Cycle, path: &[PathRow]) -> Vec<BesideTurn> {
    if cycle.layout.kind() != LayoutKind::Several {
        return Vec::new();
    }
    let mut found = Vec::new();
    for station in 0..cycle.stations.len() {
        let (own, _) = cycle.layout.place_of(station);
        let others = cycle.layout.places.iter().enumerate().filter(|(place, _)| *place != own);
        for (_, place) in others {
            let Some(table) = place.table else { continue };
            let sides: Vec<f64> =
                place.stations.iter().map(|side| cell.stations[*side].external[table.axis]).collect();
            let at = StationId(station);
            let of_station = || path.iter().filter(|row| row.station == at);
            // At a station without a planned way the path has the arm at home alone.
            let is_planned = of_station().any(|row| row.seam.is_some());
            let rows: Vec<&PathRow> = of_station().filter(|_| is_planned).step_by(ROWS).collect();
            let meets = meets(cell, at, table.axis, &sides, &rows);
            found.push(BesideTurn { station: at, axis: table.axis, looked_at: rows.len(), meets });
        }
    }
    found
}

fn meets(cell: &Cell, station: StationId, axis: usize, sides: &[f64], rows: &[&PathRow]) -> Option<Meets> {
    let (least, most) = sides
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), side| (low.min(*side), high.max(*side)));
    let steps = ((most - least) / step()).ceil().max(1.0);
    let openings = cell.stations[station.0].openings.len();
    let scenes: Vec<Scene<'_>> = (0..=openings)
        .map(|after| Scene::after(cell, station, after, &cell.stations[station.0].external))
        .collect();
    // As planned, what a row keeps is known; only what a turn makes worse is the turn's.
    let seen = |row: &&PathRow| {
        let at_seam =
            row.seam.filter(|_| serves_a_weld(row.phase)).map(|seam| AtSeam { seam, ctwd: row.ctwd });
        let scene = &scenes[row.seam.map_or(openings, |seam| cell.seams[seam.0].openings)];
        let forward = cell.arm.arm.forward(&row.axes);
        let planned = scene.at(&row.external).tightest(&forward, at_seam, 0.0);
        let mut limit = planned.map_or(0.0, |gap| gap.margin()) - 1e-9;
        let mut worst = None;
        // Ranges are bounded by the reader: the count fits.
        for place in 0..=steps as u32 {
            let mut external = row.external.clone();
            external[axis] = least + (most - least) * f64::from(place) / steps;
            let turned = scene.at(&external);
            if let Some(gap) = turned.tightest(&forward, at_seam, limit) {
                limit = gap.margin();
                let (bodies, at) = (turned.pair_names(gap.pair), external[axis]);
                worst = Some(Meets { bodies, short: -gap.margin(), at, seam: row.seam });
            }
        }
        worst
    };
    let worst: Vec<Option<Meets>> = rows.par_iter().map(seen).collect();
    worst.into_iter().flatten().fold(None, |worst: Option<Meets>, next| match worst {
        Some(worst) if worst.short >= next.short => Some(worst),
        _ => Some(next),
    })
}
