//! Decides what the reader of an estimate is cautioned of: what in the table cannot be, or not so, and what goes for every result.

use seamwright_kinematics::units::to_per_minute;

use super::caution::CAUTIONS;
use super::words::{counted, fixed};
use crate::cell::{Carried, CarriedBy, RoughJob, RoughSeam};
use crate::production::estimate::{MOST_BY_HAND, wire_feed};

/// Wire feeders go no faster, m/min: common practice, no source.
const MOST_FEED_M_MIN: f64 = 25.0;

/// One for each thing that is too heavy to be lifted by hand, each seam that is too fast for any wire, and persons who have nothing to do;
/// then the usual ones.
pub(super) fn of(job: &RoughJob) -> Vec<String> {
    let heavy = job.loaded.iter().chain(&job.unloaded).filter_map(too_heavy);
    let fast = job.seams.iter().filter_map(too_fast);
    heavy.chain(fast).chain(idle_persons(job)).chain(CAUTIONS.map(str::to_owned)).collect()
}

fn too_heavy(carried: &Carried) -> Option<String> {
    let mass = carried.mass.filter(|mass| carried.by == CarriedBy::Hand && *mass > MOST_BY_HAND)?;
    Some(format!(
        "{} is lifted by hand with {} kg: over the {} kg of the NIOSH lifting equation's load constant (from memory); a \
         competent person must judge the lift, and a hoist takes longer.",
        carried.name,
        fixed(mass, 1),
        fixed(MOST_BY_HAND, 0)
    ))
}

fn too_fast(seam: &RoughSeam) -> Option<String> {
    let feed = to_per_minute(wire_feed(seam.size?, seam.speed?));
    (feed > MOST_FEED_M_MIN).then(|| {
        format!(
            "{} at its speed_mm_s would take {} m/min of 1.2 mm wire: over the {} m/min that feeders reach (common practice, no \
             source); in one pass the wire cannot fill it at that speed, and cycle, parts and cost rest on it.",
            seam.name,
            fixed(feed, 0),
            fixed(MOST_FEED_M_MIN, 0)
        )
    })
}

/// Persons without a station of their own.
fn idle_persons(job: &RoughJob) -> Option<String> {
    let (persons, stations) = (job.given.persons?, job.given.station_count());
    (persons > stations).then(|| {
        format!(
            "{persons} persons and {}: who has no station of their own shortens nothing here and waits for nobody, but is paid.",
            counted(u64::from(stations), "station")
        )
    })
}
