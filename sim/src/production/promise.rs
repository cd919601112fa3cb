//! Decides how far the mean cycle may be from the one that was worked out, and so what is promised.
//!
//! Nothing calibrated: [`UNCALIBRATED_SHARE`] of everything. With measured times each part of the arm's time is promised by how well
//! its kind was fitted: air moves by moves, arcs by welds, all of it by whole stations. What was not measured keeps the wide
//! share: the person, external axes and regular stops always. A residual that is wide makes a promise that is wide, wider than without
//! one if need be.

use super::calibration::promised_share;
use super::cycle::{StationTimes, UNCALIBRATED_SHARE};
use super::service::{StopTime, StopTimes};
use crate::cell::{Calibration, StationId};

/// What stations and regular stops may take.
#[derive(Clone, Debug)]
pub(super) struct TimesOff {
    pub(super) stations: Vec<StationTimes>,
    pub(super) stops: Vec<StopTimes>,
}

/// At the short end of what is promised and at the long one.
pub(super) fn at_ends<'n>(
    calibration: Option<&Calibration>,
    stations: &[StationTimes],
    stops: &[StopTimes],
    name: &dyn Fn(StationId) -> &'n str,
) -> [TimesOff; 2] {
    let was_measured = |station: &StationTimes| {
        calibration.and_then(|all| all.only_station.as_ref()).is_none_or(|only| only == name(station.station))
    };
    [-1.0, 1.0].map(|sign| TimesOff {
        stations: stations
            .iter()
            .map(|station| off(station, calibration, was_measured(station), sign))
            .collect(),
        stops: stops.iter().map(|stop| stop_off(stop, sign)).collect(),
    })
}

/// Shortest and longest mean period, s, of a cell whose mean period with times as worked out is `period`; `period_of` gives it with
/// the times `at_ends`.
pub(super) fn promised(
    calibration: Option<&Calibration>,
    period: f64,
    at_ends: &[TimesOff; 2],
    period_of: impl Fn(&TimesOff) -> f64,
) -> [f64; 2] {
    match calibration {
        // All of it is off alike, the spread of load times too.
        None => [-1.0, 1.0].map(|sign| period * (1.0 + sign * UNCALIBRATED_SHARE)),
        Some(_) => at_ends.each_ref().map(period_of),
    }
}

fn stop_off(stop: &StopTimes, sign: f64) -> StopTimes {
    let times = 1.0 + sign * UNCALIBRATED_SHARE;
    let after = stop.after.iter().map(|after| StopTime {
        work: times * after.work,
        ways: times * after.ways,
        in_turn: times * after.in_turn,
    });
    StopTimes { after: after.collect(), ..stop.clone() }
}

/// The station with each of its times off by its share, all in the direction of `sign`; `was_measured` says whether whole stations that were
/// measured tell of it.
fn off(
    station: &StationTimes,
    calibration: Option<&Calibration>,
    was_measured: bool,
    sign: f64,
) -> StationTimes {
    let tells = |kind: usize| kind != 2 || was_measured;
    let known = |kind: usize| calibration.filter(|_| tells(kind)).and_then(|all| promised_share(all, kind));
    let share = |kind: usize| known(kind).unwrap_or(UNCALIBRATED_SHARE);
    // No time is less than none.
    let times = |time: f64, share: f64| time * (1.0 + sign * share).max(0.0);
    let (all, air) = (station.arm, station.times.air);
    let arcs = station.times.arc + station.times.arc_ends + station.times.cooling;
    let mut station = station.clone();
    if let Some(share) = known(2) {
        station.arm = times(all, share);
        station.times.arc = times(station.times.arc, share);
    } else {
        station.arm =
            times(air, share(0)) + times(arcs, share(1)) + times(all - air - arcs, UNCALIBRATED_SHARE);
        station.times.arc = times(station.times.arc, share(1));
    }
    station.index = times(station.index, UNCALIBRATED_SHARE);
    station.way = times(station.way, UNCALIBRATED_SHARE);
    station.cool = times(station.cool, UNCALIBRATED_SHARE);
    station.balance.person = times(station.balance.person, UNCALIBRATED_SHARE);
    station
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::production::Balance;
    use crate::schedule::{Coverage, Times};

    fn station() -> StationTimes {
        StationTimes {
            station: StationId(0),
            who: 0,
            arm: 100.0,
            times: Times { arc: 50.0, arc_ends: 10.0, air: 20.0, ways: 20.0, ..Times::default() },
            least_possible: 0.0,
            index: 0.0,
            way: 0.0,
            way_moves: Vec::new(),
            way_axes: Vec::new(),
            moves: Vec::new(),
            cool: 0.0,
            balance: Balance { person: 40.0, balanced: None, waits_for_others: false, small_wait: None },
            parts_per_load: 1,
            coverage: Coverage::default(),
        }
    }

    /// One fixture: arm and person in turn.
    fn period_of(times: &TimesOff) -> f64 {
        times.stations.iter().map(|station| station.arm + station.balance.person).sum()
    }

    fn promised_by(calibration: Option<&Calibration>) -> [f64; 2] {
        let at_ends = at_ends(calibration, &[station()], &[], &|_| "A");
        promised(calibration, 140.0, &at_ends, period_of).map(|time| (time * 1e6).round() / 1e6)
    }

    #[test]
    fn without_measured_times_everything_is_off_by_the_wide_share() {
        assert_eq!(promised_by(None), [119.0, 161.0]);
    }

    /// Student's t for ten degrees of freedom is 2.228139. Moves of 1 % are promised to 2.228139 % of 20 s; the rest, 80 s of the arm and
    /// 40 s of the person, keeps 15 %: 0.445628 + 18 = 18.445628.
    #[test]
    fn what_was_not_measured_keeps_the_wide_share() {
        let moves = Calibration { moves_residual: Some(0.01), freedom: 10, ..Calibration::default() };
        assert_eq!(promised_by(Some(&moves)), [121.554372, 158.445628]);
        // Welds of 0.5 % too: 60 s · 1.114069 % instead of 9 s.
        let welds = Calibration { welds_residual: Some(0.005), ..moves.clone() };
        assert_eq!(promised_by(Some(&welds)), [129.885931, 150.114069]);
        // With whole stations of 1 % the ways are fitted too: 100 · 0.02228139 + 40 · 0.15 = 8.228139.
        let whole = Calibration { stations_residual: Some(0.01), ..moves };
        assert_eq!(promised_by(Some(&whole)), [131.771861, 148.228139]);
    }

    /// Whole stations of 1 %, but of another one: 15 % of everything.
    #[test]
    fn one_station_that_was_measured_tells_of_no_other() {
        let of = |only: &str| {
            let only_station = Some(only.to_owned());
            promised_by(Some(&Calibration {
                stations_residual: Some(0.01),
                freedom: 10,
                only_station,
                ..Calibration::default()
            }))
        };
        assert_eq!(of("A"), [131.771861, 148.228139]);
        assert_eq!(of("B"), [119.0, 161.0]);
    }

    #[test]
    fn a_bad_fit_promises_no_more_than_none() {
        let bad = Calibration { stations_residual: Some(0.2), freedom: 3, ..Calibration::default() };
        let [low, high] = promised_by(Some(&bad));
        assert!(low < 119.0 && high > 161.0, "{low} {high}");
    }
}
