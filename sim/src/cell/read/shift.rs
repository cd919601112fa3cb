//! Decides what `[shift]` says: working time, and what comes between when a shift is played through.

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Based, Basis};

use super::Reading;
use super::names::Catalogue;
use super::place;
use crate::cell::{Break, Clock, Curtain, Law, Shift, ShiftPlay, Start, Stoppage, Stopped};
use crate::units;

/// Share of a shift in which a cell is able to run, where the file does not say: common practice, no source.
const ASSUMED_AVAILABILITY_PERCENT: f64 = 85.0;

/// More shifts tell no more than these.
const MOST_SHIFTS: u32 = 100_000;

/// The shift, and how it is played through.
pub(super) fn read(reading: &Reading<'_>, root: &Table<'_>) -> Option<(Shift, Option<ShiftPlay>)> {
    let table = root.opt_table("shift")?;
    let length = table.number("hours", 0.1..=24.0).map(units::hours);
    let untimed_breaks = table.opt_number("break_min", 0.0..=1440.0).map_or(0.0, units::minutes);
    let availability = table.opt_number("availability_percent", 1.0..=100.0);
    let shifts = table.opt_whole("replications", 2..=MOST_SHIFTS);
    if availability.is_none() {
        reading.note(format!(
            "availability of {ASSUMED_AVAILABILITY_PERCENT} % is assumed (common practice, no source)"
        ));
    }
    let breaks = breaks(&table, length);
    let all_breaks = untimed_breaks + breaks.iter().map(|pause| pause.duration).sum::<f64>();
    if length.is_some_and(|length| all_breaks >= length) {
        let key = if table.has("break_min") { "break_min" } else { "break" };
        table.problem(key, "the breaks are as long as the shift", "make them shorter".to_owned());
    }
    let start = table.opt_choice("begins", &[("empty", Start::Empty), ("loaded", Start::Loaded)]);
    let scrap = table.opt_number("scrap_percent", 0.0..=99.0).map_or(0.0, units::percent);
    let stoppages = stoppages(&table);
    let curtain = table.opt_table("curtain").and_then(|curtain| {
        let share = curtain.number("trip_percent", 0.0..=100.0).map(units::percent);
        let clear = curtain.number("clear_s", place::DURATIONS_S);
        curtain.finish();
        Some(Curtain { share: share?, clear: clear? })
    });
    if !table.has("replications") {
        for key in ["begins", "scrap_percent", "stoppage", "curtain"].iter().filter(|key| table.has(key)) {
            let right = "write how many shifts are played through, such as replications = 1000".to_owned();
            table.problem(key, "this counts only where a shift is played through", right);
        }
    }
    table.finish();
    let shift = Shift {
        length: length?,
        breaks: all_breaks,
        availability: Based {
            value: units::percent(availability.unwrap_or(ASSUMED_AVAILABILITY_PERCENT)),
            basis: if availability.is_some() { Basis::File } else { Basis::Assumed },
        },
    };
    let play = shifts.map(|shifts| ShiftPlay {
        shifts,
        start: start.unwrap_or(Start::Empty),
        breaks,
        untimed_breaks,
        stoppages,
        curtain,
        scrap,
    });
    Some((shift, play))
}

/// Breaks at stated times, by start.
/// Shifts of a day as `table` says: with `shift` no more than a day has room for.
pub(super) fn shifts_per_day(table: &Table<'_>, shift: Option<&(Shift, Option<ShiftPlay>)>) -> f64 {
    let shifts = table.opt_number("shifts_per_day", 0.1..=10.0).unwrap_or(1.0);
    if let Some((Shift { length, .. }, _)) = shift
        && length * shifts > units::hours(24.0) + 1e-6
    {
        let wrong = format!("{shifts} shifts of {} h are longer than a day", units::to_hours(*length));
        table.problem("shifts_per_day", wrong, "write shifts that fit into 24 h".to_owned());
    }
    shifts
}

fn breaks(shift: &Table<'_>, length: Option<f64>) -> Vec<Break> {
    let mut breaks: Vec<Break> = Vec::new();
    for table in shift.tables("break") {
        let start = table.number("after_min", 0.0..=1440.0).map(units::minutes);
        let duration = table.number("duration_min", 0.1..=1440.0).map(units::minutes);
        let arm_works_on = table.opt_flag("arm_works_on").unwrap_or(false);
        if let (Some(start), Some(duration)) = (start, duration) {
            let end = start + duration;
            if length.is_some_and(|length| end > length) {
                table.problem("after_min", "this break ends after the shift", "begin it earlier".to_owned());
            }
            if breaks.iter().any(|other| start < other.start + other.duration && other.start < end) {
                let right = "let the one end before the other begins".to_owned();
                table.problem("after_min", "this break and one before it overlap", right);
            }
            breaks.push(Break { start, duration, arm_works_on });
        }
        table.finish();
    }
    breaks.sort_by(|one, other| one.start.total_cmp(&other.start));
    breaks
}

fn stoppages(shift: &Table<'_>) -> Vec<Stoppage> {
    let mut names = Catalogue::new("stoppage");
    let mut stoppages = Vec::new();
    for table in shift.tables("stoppage") {
        let name = names.claim(&table);
        let stops = table.opt_choice("stops", &[("arm", Stopped::Arm), ("people", Stopped::People)]);
        let clock = table.opt_choice("clock", &[("shift", Clock::Shift), ("arc", Clock::Arc)]);
        let between = table.number("between_min", 0.1..=1e6).map(units::minutes);
        let repair = table.number("repair_min", 0.0..=1440.0).map(units::minutes);
        let regular = table.opt_flag("regular").unwrap_or(false);
        if stops == Some(Stopped::People) && clock == Some(Clock::Arc) {
            let right = "write clock = \"shift\", or leave it out".to_owned();
            table.problem("clock", "arc time says nothing about what stops people", right);
        }
        table.finish();
        let Some(name) = name else { continue };
        names.add(name.clone(), Some(()));
        if let (Some(between), Some(repair)) = (between, repair) {
            let laws: [fn(f64) -> Law; 2] =
                if regular { [Law::UnderWay, Law::Fixed] } else { [Law::Exponential, Law::Exponential] };
            stoppages.push(Stoppage {
                name,
                stops: stops.unwrap_or(Stopped::Arm),
                clock: clock.unwrap_or(Clock::Shift),
                between: laws[0](between),
                repair: laws[1](repair),
            });
        }
    }
    stoppages
}
