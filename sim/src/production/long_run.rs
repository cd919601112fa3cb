//! Decides how long a cycle is in the mean over many: with regular stops, and with load times that vary.
//!
//! A stop comes when the arm has finished the load that makes its number full, and the person goes on meanwhile. In a step in which the arm
//! needs R, a stop that is due S, and the person L for what is loaded meanwhile, of normally distributed L:
//!
//! ```text
//! one fixture                        R + E[max(S, L)]
//! a table                            E[max(R + S, L)] + X, X its turn, which waits for a stop
//! two fixtures, one person, no stop  E[max(R, L)]
//! ```
//!
//! For all else no such form is known (at fixtures the person goes on where the arm has left, whatever it does then): the rules of a shift
//! are played until what they do repeats, with load times that do not vary.

use super::balance::expected_wait;
use super::cycle::StationTimes;
use super::layout::{Layout, LayoutKind};
use super::service::StopTimes;
use super::shift::{ShiftModel, play};
use super::undisturbed::undisturbed;
use crate::cell::Cell;

/// Long-run means look at no more loads than this; regular stops rarely need more until they repeat.
const MOST_LOADS: u64 = 1_000_000;

/// Loads that are played through, at most.
const MOST_PLAYED: u64 = 100_000;

/// Times that what repeats is played: to get into step, and again for the mean. Two or three places that take turns repeat after so many.
const REPEATED: u64 = 12;

/// A mean over many cycles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LongRun {
    /// Mean period, s.
    pub period: f64,
    /// Whether it counts the waits that varying load times cause.
    pub counts_spread: bool,
}

/// The mean period of a cell whose plain `period` (s) this is.
pub(super) fn long_run(
    cell: &Cell,
    layout: &Layout,
    stations: &[StationTimes],
    stops: &[StopTimes],
    period: f64,
) -> LongRun {
    let one_person = stations.iter().all(|station| station.who == 0);
    let steps = match layout.kind() {
        LayoutKind::OneFixture | LayoutKind::Table => true,
        LayoutKind::FixedFixtures => stations.len() == 2 && one_person && stops.is_empty(),
        LayoutKind::Several => false,
    };
    if steps {
        return LongRun { period: mean_of_steps(cell, layout, stations, stops), counts_spread: true };
    }
    let period = if stops.is_empty() { period } else { mean_as_played(cell, layout, stations, stops) };
    LongRun { period, counts_spread: false }
}

fn mean_of_steps(cell: &Cell, layout: &Layout, stations: &[StationTimes], stops: &[StopTimes]) -> f64 {
    let kind = layout.kind();
    let loads = until_repeated(stations, stops).min(MOST_LOADS);
    let mut total = 0.0;
    let sides = (0..stations.len()).cycle();
    for (load, at) in (1..=loads).zip(sides) {
        let welded = &stations[at];
        let due = stops.iter().filter(|stop| load.is_multiple_of(u64::from(stop.every_loads)));
        let due: f64 = due.map(|stop| stop.after[at].arm()).sum();
        let beside = if kind == LayoutKind::OneFixture { at } else { layout.loaded_beside(at) };
        let spread = cell.stations[stations[beside].station.0].loading.spread.value;
        let person = stations[beside].balance.person;
        total += match kind {
            LayoutKind::OneFixture if due == 0.0 => welded.arm + welded.index + person,
            LayoutKind::OneFixture => welded.arm + welded.index + due + expected_wait(due, person, spread),
            LayoutKind::Table => {
                let arm = welded.arm + due;
                arm + expected_wait(arm, person, spread) + welded.index
            }
            LayoutKind::FixedFixtures | LayoutKind::Several => {
                let arm = welded.arm + welded.index;
                arm + expected_wait(arm, person, spread)
            }
        };
    }
    // Stations are few: the number is exact.
    stations.len() as f64 * total / loads as f64
}

fn mean_as_played(cell: &Cell, layout: &Layout, stations: &[StationTimes], stops: &[StopTimes]) -> f64 {
    let loads = (REPEATED * until_repeated(stations, stops)).min(MOST_PLAYED);
    let mut model = undisturbed(cell, layout, stations, stops);
    let sides = || model.places.iter().flat_map(|place| &place.sides);
    let round: f64 = sides().map(|side| side.arm + side.turn + side.person_time()).sum();
    let longest_stops: f64 =
        model.services.iter().flat_map(|stop| stop.after.iter().copied().reduce(f64::max)).sum();
    // No load takes longer than everything one after the other.
    let length = 2.0 * (loads + 1) as f64 * (round + longest_stops);
    for side in model.places.iter_mut().flat_map(|place| &mut place.sides) {
        side.spread = 0.0;
    }
    let finished = play(&ShiftModel { length, ..model }, 0, 0).finished;
    let at = |load: u64| finished.get(load as usize).copied();
    let both = at(loads).zip(at(2 * loads));
    // Stations are few: the number is exact.
    both.map_or(0.0, |(first, last)| (last - first) / loads as f64 * stations.len() as f64)
}

/// Loads after which the regular stops come as they did.
fn until_repeated(stations: &[StationTimes], stops: &[StopTimes]) -> u64 {
    let each = stops.iter().map(|stop| u64::from(stop.every_loads));
    each.fold(stations.len() as u64, least_common_multiple)
}

/// Saturates where the product is out of range.
fn least_common_multiple(a: u64, b: u64) -> u64 {
    let (mut divisor, mut rest) = (a, b);
    while rest != 0 {
        (divisor, rest) = (rest, divisor % rest);
    }
    (a / divisor).saturating_mul(b)
}
