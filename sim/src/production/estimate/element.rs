//! Decides what a load goes into by the element method, and how long each element takes: low, expected, high, with its source.
//!
//! The method sums arc time, what surrounds each arc, moves and handling, as "Estimating robot cycle times" (robotwelding.co.uk)
//! describes. Elements of one cause are off together (whoever welds slower than thought does so on every seam), elements
//! of different causes are off independently. Figures without a printed source say so.

use super::speed;
use crate::cell::{Carried, CarriedBy, RoughJob};
use crate::production::Range;

/// Whose time an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whose {
    /// The arm's.
    Arm,
    /// The person's.
    Person,
    /// The table's: both stop for it.
    Table,
}

/// What an element depends on. The order is that of a cycle, as it is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// How fast is welded.
    TravelSpeed,
    /// Gas, arc start, crater, burn-back.
    ArcEnds,
    /// Moves from seam to seam.
    AirMoves,
    /// Touch searches.
    Searches,
    /// Torch cleaning.
    Cleaning,
    /// The table's turn.
    Index,
    /// Walking.
    Walking,
    /// Picking up and placing by hand.
    Handling,
    /// Lifting with a hoist.
    Hoisting,
    /// Clamps.
    Clamping,
    /// Stepping back and acknowledging.
    Acknowledging,
    /// Share of the working time in which the cell is able to run.
    Availability,
    /// What such an estimate misses in itself.
    Method,
}

impl Cause {
    /// All of them, in their order.
    pub const ALL: [Self; 13] = [
        Self::TravelSpeed,
        Self::ArcEnds,
        Self::AirMoves,
        Self::Searches,
        Self::Cleaning,
        Self::Index,
        Self::Walking,
        Self::Handling,
        Self::Hoisting,
        Self::Clamping,
        Self::Acknowledging,
        Self::Availability,
        Self::Method,
    ];
}

/// Something that takes time in every load.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Name of the row it comes from; none where it comes from several.
    pub row: Option<String>,
    /// What it depends on.
    pub cause: Cause,
    /// Whose time it is.
    pub whose: Whose,
    /// How often it comes in a load; of a weld its length, m.
    pub quantity: f64,
    /// What one of them takes, s; of a weld a metre, s/m.
    pub each: Range,
    /// Where `each` comes from.
    pub source: &'static str,
}

impl Element {
    /// Time in a load, s.
    #[must_use]
    pub fn total(&self) -> Range {
        self.each * self.quantity
    }
}

const FROM_MEMORY_PRACTICE: &str = "common practice, from memory";
const NO_SOURCE: &str = "common practice, no source";

/// Gas before, arc start, crater, gas after: 0.1 to 0.5, 0.3 to 0.5, 0.3 to 1.0, 0.5 to 1.0 s; expected is what the
/// detailed check assumes, 0.3 + 0.4 + 0.5 + 0.5 s.
const ARC_ENDS: Range = Range { low: 1.2, expected: 1.7, high: 3.0 };
/// Air move to an arc, approach included.
const AIR_MOVE: Range = Range { low: 1.0, expected: 2.0, high: 3.0 };
/// Touch search in one direction.
const SEARCH: Range = Range { low: 2.0, expected: 3.0, high: 4.0 };
/// Nozzle cleaning with spray and wire cut; 5 to 10 s by themselves, with the way there and back.
const CLEANING: Range = Range { low: 5.0, expected: 8.0, high: 15.0 };
/// Arc time after which it comes; "every few parts to several times on one large part" (weldingmag.com).
const CLEANING_INTERVAL: Range = Range { low: 1800.0, expected: 900.0, high: 300.0 };
/// Half a turn of a table: 3 to 6 s light, up to 10 s heavy.
const INDEX: Range = Range { low: 3.0, expected: 5.0, high: 10.0 };
/// A metre of walking, s/m: a pace of 1 m in 0.9 to 1.2 s.
const WALK: Range = Range { low: 0.9, expected: 1.05, high: 1.2 };
/// Pick up and place a small thing.
const HANDLE_LIGHT: Range = Range { low: 3.0, expected: 4.0, high: 5.0 };
/// Pick up and place a thing that takes two hands.
const HANDLE_HEAVY: Range = Range { low: 5.0, expected: 8.0, high: 15.0 };
/// From this weight (kg) a thing takes two hands and care.
const HEAVY: f64 = 5.0;
/// Attach, lift, bring, set down, detach.
const HOIST: Range = Range { low: 40.0, expected: 75.0, high: 150.0 };
/// Close or open one toggle clamp.
const TOGGLE: Range = Range { low: 1.5, expected: 2.0, high: 2.5 };
/// Close or open whatever clamps are on one valve.
const VALVE: Range = Range { low: 1.0, expected: 1.5, high: 3.0 };
/// Step back and acknowledge.
const ACKNOWLEDGE: Range = Range { low: 1.0, expected: 2.0, high: 4.0 };

/// The load constant of the NIOSH lifting equation, kg, from memory: more should not be lifted by one person even in the
/// easiest stance.
pub const MOST_BY_HAND: f64 = 23.0;

/// Everything that takes time in a load of `job`; elements that take none are left out.
#[must_use]
pub fn elements(job: &RoughJob) -> Vec<Element> {
    let parts = f64::from(job.given.parts_per_load.unwrap_or(1));
    let mut elements = Vec::new();
    let mut add = |row: Option<&str>, cause, whose, quantity: f64, each, source| {
        if quantity > 0.0 {
            elements.push(Element { row: row.map(str::to_owned), cause, whose, quantity, each, source });
        }
    };
    let (mut arcs, mut searches, mut arc_time) = (0.0, 0.0, 0.0);
    for seam in &job.seams {
        let (time, source) = match (seam.speed, seam.size) {
            (Some(speed), _) => (Range::known(1.0 / speed), "travel speed as given"),
            (None, Some(size)) => (speed::time_per_length(size), speed::SOURCE),
            // Refused when the table is read.
            (None, None) => continue,
        };
        let length = seam.weld_length() * parts;
        add(Some(&seam.name), Cause::TravelSpeed, Whose::Arm, length, time, source);
        arcs += seam.arcs() * parts;
        searches += f64::from(seam.count) * f64::from(seam.searches) * parts;
        arc_time += time.expected * length;
    }
    add(None, Cause::ArcEnds, Whose::Arm, arcs, ARC_ENDS, FROM_MEMORY_PRACTICE);
    add(None, Cause::AirMoves, Whose::Arm, arcs, AIR_MOVE, FROM_MEMORY_PRACTICE);
    add(None, Cause::Searches, Whose::Arm, searches, SEARCH, FROM_MEMORY_PRACTICE);
    add(None, Cause::Cleaning, Whose::Arm, 1.0, cleaning(arc_time), CLEANING_SOURCE);
    if job.given.two_sided_table == Some(true) {
        add(None, Cause::Index, Whose::Table, 1.0, INDEX, FROM_MEMORY_PRACTICE);
    }
    for carried in job.loaded.iter().chain(&job.unloaded) {
        let (row, times) = (Some(carried.name.as_str()), f64::from(carried.count) * parts);
        // There and back.
        let metres = 2.0 * carried.walk * times;
        add(row, Cause::Walking, Whose::Person, metres, WALK, FROM_MEMORY_PRACTICE);
        let (cause, each, source) = handling(carried);
        add(row, cause, Whose::Person, times, each, source);
    }
    for clamp in &job.clamps {
        let (each, times, source) = if clamp.by_air {
            (VALVE, 1.0, NO_SOURCE)
        } else {
            (TOGGLE, f64::from(clamp.count), FROM_MEMORY_PRACTICE)
        };
        // Closed once and opened once.
        let times = 2.0 * times * parts;
        add(Some(&clamp.name), Cause::Clamping, Whose::Person, times, each, source);
    }
    add(None, Cause::Acknowledging, Whose::Person, 1.0, ACKNOWLEDGE, NO_SOURCE);
    elements
}

const CLEANING_SOURCE: &str = "5 to 15 s after every 30 to 5 min of arc: common practice, no source";

/// Cleaning that falls to `arc_time` (s) of arc.
fn cleaning(arc_time: f64) -> Range {
    let of = |duration: f64, interval: f64| duration * arc_time / interval;
    Range {
        low: of(CLEANING.low, CLEANING_INTERVAL.low),
        expected: of(CLEANING.expected, CLEANING_INTERVAL.expected),
        high: of(CLEANING.high, CLEANING_INTERVAL.high),
    }
}

fn handling(carried: &Carried) -> (Cause, Range, &'static str) {
    match carried.by {
        CarriedBy::Hoist => (Cause::Hoisting, HOIST, NO_SOURCE),
        CarriedBy::Hand if carried.mass.is_some_and(|mass| mass > HEAVY) => {
            (Cause::Handling, HANDLE_HEAVY, NO_SOURCE)
        }
        CarriedBy::Hand => (Cause::Handling, HANDLE_LIGHT, FROM_MEMORY_PRACTICE),
    }
}
