//! Decides what arm, table and person do side by side over one full cycle.
//!
//! The cycle begins when the arm starts at the first station, in the steady rhythm, with every load taking its mean time and
//! no regular stop due. What the person begins in one cycle may end in the next.

use super::cycle::{Cycle, StationTimes};
use super::rhythm::next_of;
use super::round::Round;
use crate::cell::{Cell, SeamId, StationId};
use crate::schedule::{EventKind, Schedule};

/// Who acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    /// The arm.
    Arm,
    /// A table or positioner on its way from one station's values to the next.
    Table,
    /// The person.
    Person,
}

impl Who {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Arm => "arm",
            Self::Table => "table",
            Self::Person => "person",
        }
    }
}

/// What someone does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Activity {
    /// The arm, or the table.
    Event(EventKind),
    /// The person.
    Step(PersonStep),
    /// Nothing: the other one is not ready.
    Wait,
}

impl Activity {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Event(kind) => kind.name(),
            Self::Step(step) => step.name(),
            Self::Wait => "wait",
        }
    }
}

/// What the person does at a station, in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PersonStep {
    /// Waits until the welded part has cooled, nothing else being missing.
    Cool,
    /// Takes the finished part out.
    Unload,
    /// Puts the next parts in.
    Load,
    /// Sensors make sure that every part is in its place.
    PartPresent,
    /// Works the clamps; their opening is counted here too.
    Clamp,
    /// Walks out of the guarded space.
    Leave,
    /// Steps back and acknowledges.
    Acknowledge,
}

impl PersonStep {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Cool => "cool",
            Self::Unload => "unload",
            Self::Load => "load",
            Self::PartPresent => "part_present",
            Self::Clamp => "clamp",
            Self::Leave => "leave",
            Self::Acknowledge => "acknowledge",
        }
    }
}

/// One activity.
#[derive(Clone, Debug, PartialEq)]
pub struct TimelineRow {
    /// Who.
    pub who: Who,
    /// What.
    pub activity: Activity,
    /// Where; of a wait or an index, the station that comes next.
    pub station: StationId,
    /// Which person, from 0; none for arm and table.
    pub person: Option<usize>,
    /// The seam it serves.
    pub seam: Option<SeamId>,
    /// s from the start of the cycle.
    pub start: f64,
    /// s.
    pub duration: f64,
}

/// Waits shorter than this are rounding, s.
const LEAST_WAIT: f64 = 1e-6;

/// One full cycle, by start; at equal starts the arm first, then the table, then the person.
#[must_use]
pub fn timeline(cell: &Cell, schedule: &Schedule, cycle: &Cycle) -> Vec<TimelineRow> {
    let round = cycle.round();
    let count = cycle.stations.len();
    let mut rows = Vec::new();
    for (at, (visit, station)) in schedule.visits.iter().zip(&cycle.stations).enumerate() {
        let next = (at + 1) % count;
        let next_start = if next == 0 { cycle.period } else { round.arm_starts[next] };
        let own = Lane { who: Who::Arm, station: visit.station, person: None };
        let start = round.arm_starts[at];
        for event in &visit.events {
            rows.push(own.row(Activity::Event(event.kind), event.seam, start + event.start, event.duration));
        }
        let end = start + visit.duration();
        let coming = |who| Lane { who, station: schedule.visits[next].station, person: None };
        let turn = Activity::Event(EventKind::Index);
        let way_start = round.way_starts[at];
        if station.way > 0.0 {
            rows.push(coming(Who::Table).row(turn, None, way_start, station.way));
        }
        let wait = way_start - end;
        rows.extend((wait > LEAST_WAIT).then(|| coming(Who::Arm).row(Activity::Wait, None, end, wait)));
        if let Some((turn_start, (side, _))) = round.turn_starts[at].zip(cycle.layout.next_side(at))
            && station.index > 0.0
        {
            let lane = Lane { who: Who::Table, station: schedule.visits[side].station, person: None };
            rows.push(lane.row(turn, None, turn_start.rem_euclid(cycle.period), station.index));
        }
        let free = way_start + station.way;
        // Only for a table that is on its way to the next station the arm does not wait: that is the turn.
        let wait = next_start
            - round.turning_before_arm(&cycle.layout, &cycle.stations, next, next_start, next_start - free)
            - free;
        rows.extend((wait > LEAST_WAIT).then(|| coming(Who::Arm).row(Activity::Wait, None, free, wait)));
    }
    let who: Vec<usize> = round.loaded_after.iter().map(|station| cycle.stations[*station].who).collect();
    for (at, station) in round.loaded_after.iter().enumerate() {
        let times = &cycle.stations[*station];
        add_person(cell, times, round.person_starts[*station], cycle.period, &mut rows);
        let (next, wrap) = next_of(&who, at, cycle.period);
        let next = round.loaded_after[next];
        let next_start = round.person_starts[next] + wrap;
        let end = round.person_starts[*station] + times.balance.person;
        let lane = Lane { who: Who::Person, station: cycle.stations[next].station, person: Some(times.who) };
        let wait = (next_start - end).rem_euclid(cycle.period);
        if wait > LEAST_WAIT && wait < cycle.period - LEAST_WAIT {
            let cools = cools_before_load(cycle, &round, next).min(wait);
            let parts = [(Activity::Wait, end, wait - cools), (COOLS, next_start - cools, cools)];
            rows.extend(parts.into_iter().filter(|(.., duration)| *duration > LEAST_WAIT).map(
                |(activity, start, duration)| {
                    lane.row(activity, None, start.rem_euclid(cycle.period), duration)
                },
            ));
        }
    }
    rows.sort_by(|one, other| one.start.total_cmp(&other.start).then(one.who.cmp(&other.who)));
    rows
}

const COOLS: Activity = Activity::Step(PersonStep::Cool);

/// For how long before a station is loaded nothing is missing but that what was welded has cooled, s.
fn cools_before_load(cycle: &Cycle, round: &Round, station: usize) -> f64 {
    let times = &cycle.stations[station];
    let start = round.person_starts[station];
    let since = |time: f64| (start - time + LEAST_WAIT).rem_euclid(cycle.period) - LEAST_WAIT;
    let left = round.arm_starts[station] + times.arm;
    if times.cool <= 0.0 || since(left + times.cool) > LEAST_WAIT {
        return 0.0;
    }
    let by = round.loaded_after.iter().position(|loaded| *loaded == station).unwrap_or(station);
    let freed = &cycle.stations[by];
    let way = round.way_starts[by] + freed.way;
    let stands = match round.turn_starts[by] {
        Some(turn) => turn + freed.index,
        None if freed.way_moves.contains(&station) => way,
        None => left,
    };
    since(stands).min(times.cool)
}

/// The time of the round (as in path.csv and `Schedule::at`) that belongs to a time of the cycle, both in s.
///
/// The round stands still while the arm waits: before external axes go on where they must wait for someone who loads, and after they
/// have gone where the next visit needs them. Where tables turn while the arm is at another place, the arm alone is as the round has
/// it; [`super::ArmDay::stance`] knows the tables. Times outside the cycle are taken to its ends.
#[must_use]
pub fn round_time(schedule: &Schedule, cycle: &Cycle, t: f64) -> f64 {
    let round = cycle.round();
    let starts = &round.arm_starts;
    let at = starts.partition_point(|start| *start <= t).max(1) - 1;
    let (Some(visit), Some(start)) = (schedule.visits.get(at), starts.get(at)) else { return 0.0 };
    let round_start = schedule.round()[at];
    let (duration, index) = (visit.duration(), visit.changeover.duration);
    let since = (t - start).max(0.0);
    if since <= duration {
        return round_start + since;
    }
    round_start + duration + (t - round.axes_start(&cycle.layout, at)).clamp(0.0, index)
}

/// The person's steps at one station, each taken back into the cycle by its start.
fn add_person(cell: &Cell, station: &StationTimes, start: f64, period: f64, rows: &mut Vec<TimelineRow>) {
    let loading = &cell.stations[station.station.0].loading;
    let steps = [
        (PersonStep::Unload, loading.unload),
        (PersonStep::Load, loading.load),
        (PersonStep::PartPresent, loading.part_present),
        (PersonStep::Clamp, loading.clamping),
        (PersonStep::Leave, loading.leave),
        (PersonStep::Acknowledge, loading.acknowledge),
    ];
    let lane = Lane { who: Who::Person, station: station.station, person: Some(station.who) };
    let mut time = start;
    for (step, duration) in steps.into_iter().filter(|(_, duration)| *duration > 0.0) {
        rows.push(lane.row(Activity::Step(step), None, time.rem_euclid(period), duration));
        time += duration;
    }
}

/// Who acts where.
#[derive(Clone, Copy)]
struct Lane {
    who: Who,
    station: StationId,
    person: Option<usize>,
}

impl Lane {
    fn row(self, activity: Activity, seam: Option<SeamId>, start: f64, duration: f64) -> TimelineRow {
        let Self { who, station, person } = self;
        TimelineRow { who, activity, station, person, seam, start, duration }
    }
}
