//! Decides how long a cycle is in the mean over many: with regular stops, and with load times that vary.
//!
//! A stop comes when the arm has finished the load that makes its number full, and the person goes on meanwhile. In a step in which the arm
//! needs R, a stop that is due S, and the person L for what is loaded meanwhile, of normally distributed L:
//!
//! ```text
//! one fixture                        R + E[max(S, K + L)], R with its axes' way back, K what it still cools then
//! a table                            E[max(R + S, L)] + X, X its turn, which waits for a stop
//! two fixtures, one person, no stop  E[max(R, L)], where no axis moves them
//! two fixtures that change places    as a table, X the way of the axes that move both
//! ```
//!
//! Of L no more varies than hands do, H of mean h and the deviation σ, and they take no less than no time: with the fixed rest C of it L is
//! C + max(0, H), and so max(R, L) = max(M, C + H) with M = max(R, C).
//!
//! For all else no such form is known (at fixtures the person goes on where the arm has left, whatever it does then): the rules of a shift
//! are played, until what they do repeats, or where load times vary in so many samples that their mean is told to about a thousandth.

use rayon::prelude::*;

use super::balance::expected_wait;
use super::cycle::{StationTimes, change_places};
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

/// Loads of a sample at least where load times vary. What such a sample's mean scatters was measured on four cells whose loads vary by
/// up to 20 s of a cycle of 100 s: a standard deviation of 0.17 % of the cycle.
const SCATTERED: u64 = 20_000;

/// Samples of them, each with draws of its own: of all together the mean scatters by a quarter of that.
const SAMPLES: u64 = 16;

/// Loads before each sample at least, to get into step.
const INTO_STEP: u64 = 2_000;

/// The mean period, s, with varying load times and regular stops of a cell whose plain `period` (s) this is.
pub(super) fn long_run(
    cell: &Cell,
    layout: &Layout,
    stations: &[StationTimes],
    stops: &[StopTimes],
    period: f64,
) -> f64 {
    let one_person = stations.iter().all(|station| station.who == 0);
    let nothing_moves = stations.iter().all(|station| station.way == 0.0 && station.moves.is_empty());
    let cools = stations.iter().any(|station| station.cool > 0.0);
    let steps = match layout.kind() {
        LayoutKind::FixedFixtures | LayoutKind::Table if cools => false,
        LayoutKind::OneFixture => {
            stations.iter().all(|station| station.way == 0.0 || station.way_moves[..] == [0])
        }
        LayoutKind::Table => true,
        LayoutKind::FixedFixtures => {
            change_places(stations) || stations.len() == 2 && one_person && stops.is_empty() && nothing_moves
        }
        LayoutKind::Several => false,
    };
    if steps {
        return mean_of_steps(cell, layout, stations, stops);
    }
    let varies = stations.iter().any(|station| cell.stations[station.station.0].loading.spread.value > 0.0);
    if stops.is_empty() && !varies { period } else { mean_as_played(cell, layout, stations, stops, varies) }
}

fn mean_of_steps(cell: &Cell, layout: &Layout, stations: &[StationTimes], stops: &[StopTimes]) -> f64 {
    let kind = layout.kind();
    let turns = kind == LayoutKind::Table || change_places(stations);
    let loads = until_repeated(stations, stops).min(MOST_LOADS);
    let mut total = 0.0;
    let sides = (0..stations.len()).cycle();
    for (load, at) in (1..=loads).zip(sides) {
        let welded = &stations[at];
        let due = stops.iter().filter(|stop| load.is_multiple_of(u64::from(stop.every_loads)));
        let due: f64 = due.map(|stop| stop.after[at].arm()).sum();
        let beside = if kind == LayoutKind::OneFixture { at } else { layout.loaded_beside(at) };
        let loading = &cell.stations[stations[beside].station.0].loading;
        let still_cools = (stations[beside].cool - welded.index).max(0.0);
        let hands = stations[beside].balance.person;
        let (person, fixed) = (still_cools + hands, still_cools + hands * loading.fixed_share());
        let longer_of = |arm: f64| {
            let least = arm.max(fixed);
            least + expected_wait(least, person, loading.spread.value)
        };
        total += welded.index
            + match kind {
                LayoutKind::OneFixture => welded.arm + longer_of(due),
                _ if turns => longer_of(welded.arm + due),
                _ => longer_of(welded.arm),
            };
    }
    // Stations are few: the number is exact.
    stations.len() as f64 * total / loads as f64
}

fn mean_as_played(
    cell: &Cell,
    layout: &Layout,
    stations: &[StationTimes],
    stops: &[StopTimes],
    varies: bool,
) -> f64 {
    let until_repeated = until_repeated(stations, stops);
    let at_least = |loads: u64| {
        let times = if varies { loads.div_ceil(until_repeated) } else { 0 };
        times.max(REPEATED).saturating_mul(until_repeated).min(MOST_PLAYED)
    };
    let (before, loads) = (at_least(INTO_STEP), at_least(SCATTERED));
    let model = undisturbed(cell, layout, stations, stops);
    let sides = || model.places.iter().flat_map(|place| &place.sides);
    let round: f64 = sides()
        .map(|side| side.arm + side.way + side.turn + side.cool + side.person_time() + side.spread)
        .sum();
    let longest_stops: f64 =
        model.services.iter().flat_map(|stop| stop.after.iter().copied().reduce(f64::max)).sum();
    // No load takes longer in the mean than everything one after the other, hands that take no less than no time included.
    let length = (before + loads + 2) as f64 * (round + longest_stops);
    let model = ShiftModel { length, ..model };
    let sample = |sample: u64| {
        let finished = play(&model, 0, sample).finished;
        let at = |load: u64| finished.get(load as usize).copied();
        let both = at(before).zip(at(before + loads));
        both.map_or(0.0, |(first, last)| (last - first) / loads as f64)
    };
    let samples: Vec<f64> = (0..if varies { SAMPLES } else { 1 }).into_par_iter().map(sample).collect();
    // Samples and stations are few: the numbers are exact.
    samples.iter().sum::<f64>() / samples.len() as f64 * stations.len() as f64
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
