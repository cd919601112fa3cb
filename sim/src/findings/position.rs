//! Decides what is shown of the position in which a seam is welded.

use schemars::JsonSchema;
use seamwright_kinematics::units;
use serde::{Deserialize, Serialize};

use super::seam::SeamFindings;
use super::words::rounded;
use crate::cell::{Cell, Main, Production, Seam, WeldPosition};
use crate::plan::TaughtPoint;

/// The position of a weld, and where along the seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PositionFindings {
    /// Production position, as ASME IX and AWS D1.1 tabulate it (their limits from memory).
    pub position: Production,
    /// Angle of the weld axis from the level plane, 0 to 90.
    pub inclination_deg: f64,
    /// Angle of the weld face about its axis: 180 looking up, 0 looking down; 90 where the axis is upright and no direction is up.
    pub rotation_deg: f64,
    /// Angle by which travel rises; negative downhill.
    pub rises_deg: f64,
    /// The nearest main position of ISO 6947.
    pub main: Main,
    /// Slope from it.
    pub slope_deg: f64,
    /// Rotation from it, plus toward PA; 0 for PF and PG.
    pub turned_deg: f64,
    /// Where along the seam.
    pub at_mm: f64,
}

/// Greatest distance between two places that are looked at.
fn step() -> f64 {
    units::mm(10.0)
}

/// Greatest turn of the seam between them.
fn turn() -> f64 {
    units::deg(2.0)
}

impl PositionFindings {
    /// The least easy position along a seam.
    pub(super) fn worst(cell: &Cell, seam: &Seam, taught: &[TaughtPoint]) -> Option<Self> {
        let path = seam.path.as_ref()?;
        let station = cell.stations[seam.station.0].frame;
        let places = seam.runs.iter().flat_map(|run| path.samples(run.start, run.end, step(), turn()));
        let found = places.map(|s| {
            let external = external_at(seam, taught, s);
            let world_from_station = cell.frames.world_from(station, &external);
            (s, WeldPosition::of(&path.at(s), seam.joint, &world_from_station.rotation))
        });
        let worst =
            found.reduce(|worst, next| if next.1.production > worst.1.production { next } else { worst });
        worst.map(|(s, position)| Self {
            position: position.production,
            inclination_deg: deg(position.inclination),
            rotation_deg: deg(position.rotation),
            rises_deg: deg(position.rise.clamp(-1.0, 1.0).asin()),
            main: position.main,
            slope_deg: deg(position.slope),
            turned_deg: deg(position.turned),
            at_mm: rounded(units::to_mm(s), 6),
        })
    }
}

/// How many seams are welded in which position, from the easiest on; none where none has a position.
#[must_use]
pub fn positions_sentence(seams: &[SeamFindings]) -> Option<String> {
    let all = [Production::Flat, Production::Horizontal, Production::Vertical, Production::Overhead];
    let counts = all.into_iter().filter_map(|position| {
        let has =
            |seam: &&SeamFindings| seam.position.as_ref().is_some_and(|found| found.position == position);
        let count = seams.iter().filter(has).count();
        (count > 0).then(|| format!("{} {count}", position.name()))
    });
    let counts: Vec<String> = counts.collect();
    (!counts.is_empty()).then(|| {
        format!(
            "welding positions, the least easy of each seam: {} (limits of ASME IX and AWS D1.1, in part from memory)",
            counts.join(", ")
        )
    })
}

/// External axes at arc length `s`: straight between taught points, as the plan has them; as stated where there are none.
fn external_at(seam: &Seam, taught: &[TaughtPoint], s: f64) -> Vec<f64> {
    let mut own = taught.iter().filter(|point| !point.passed);
    let before = own.clone().rev().find(|point| point.s <= s);
    let after = own.find(|point| point.s >= s);
    match (before, after) {
        (Some(before), Some(after)) if after.s > before.s => {
            let share = (s - before.s) / (after.s - before.s);
            let between = |(a, b): (&f64, &f64)| a + (b - a) * share;
            before.external.iter().zip(&after.external).map(between).collect()
        }
        (Some(point), _) | (None, Some(point)) => point.external.clone(),
        (None, None) => seam.external.clone(),
    }
}

fn deg(radians: f64) -> f64 {
    rounded(units::to_deg(radians), 6)
}
