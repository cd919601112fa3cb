//! Decides what arm and external axes do at one instant while the cell runs.
//!
//! The clock is that of the arm's own round, in which the arm stands while tables turn; where a cycle has tables turn while the arm is
//! elsewhere, it is that of this cycle. A clock beyond the cycle's period goes on into the next one. After that come the ways to devices that serve
//! the torch, one after the other: with external axes as they stand then, and where the file lets the arm go while its table turns, once more
//! with the table setting out when the arm does.

use super::table_turns::TableTurns;
use super::{EventKind, Motion, PathRow, ROW_INTERVAL, Schedule, ServiceWay};
use crate::cell::{SeamId, StationId};
use crate::motion::ExternalMove;

/// One instant, and how every axis stands and moves then.
#[derive(Clone, Debug)]
pub struct Instant {
    /// On the clock by which the cell runs, s.
    pub clock: f64,
    /// s from the start of the round, as in path.csv; while the arm waits in the cycle, that of the row at which it waits.
    pub t: f64,
    /// s from the start of the cycle, as in timeline.csv, where the clock is that of the cycle.
    pub in_cycle: Option<f64>,
    /// What is happening; while the arm waits in the cycle it is at the index.
    pub phase: EventKind,
    /// The station being visited; while external axes index, the one they leave.
    pub station: StationId,
    /// The seam it serves.
    pub seam: Option<SeamId>,
    /// Index into the cell's service stops, where the arm is on the way to a device, at it, or on the way back.
    pub service: Option<usize>,
    /// How every axis stands and moves.
    pub motion: Motion,
}

/// How a cycle goes in which tables turn while the arm is elsewhere.
#[derive(Clone, Debug)]
pub struct TablesApart {
    /// By visit: when the arm starts it, s from the start of the cycle.
    pub starts: Vec<f64>,
    /// By visit: how the external axes that turn no table go on to the next one, for which the arm waits.
    pub ways: Vec<ExternalMove>,
    /// By visit: when they do, s from the start of the cycle; where they must wait for someone who loads, later than the arm is done.
    pub way_starts: Vec<f64>,
    /// Every turn, and the period.
    pub turns: TableTurns,
}

/// When what carries stations turns or slides.
#[derive(Clone, Debug)]
pub enum Turns {
    /// Not known, since there is no cycle: as the arm's own round has it.
    Unknown,
    /// While the arm stands and waits for it.
    ArmStands,
    /// One table, while the arm stands or is on the way to a device for which the file lets it go then.
    OneTable,
    /// While the arm is elsewhere.
    Apart(TablesApart),
}

/// The cell as it runs.
#[derive(Clone, Debug)]
pub struct Running<'s> {
    schedule: &'s Schedule,
    turns: Turns,
    ways: Vec<Way<'s>>,
}

/// A way to a device.
#[derive(Clone, Debug)]
struct Way<'s> {
    /// How much later it is on the clock than in the schedule, s.
    later: f64,
    way: &'s ServiceWay,
    /// Of the table, which sets out when the arm does.
    turn: Option<&'s ExternalMove>,
}

impl<'s> Running<'s> {
    /// By the arm's own round, every way to a device with external axes standing.
    #[must_use]
    pub fn round(schedule: &'s Schedule) -> Self {
        let ways = schedule.service_ways.iter();
        let ways = ways.map(|way| Way { later: 0.0, way, turn: None }).collect();
        Self { schedule, turns: Turns::Unknown, ways }
    }

    /// By a cycle in which tables turn so.
    #[must_use]
    pub fn new(schedule: &'s Schedule, turns: Turns) -> Self {
        let is_one_table = matches!(turns, Turns::OneTable);
        let mut running = Self { turns, ..Self::round(schedule) };
        let end_of_round = schedule.round().last().copied().unwrap_or_default();
        let end = running.apart().map_or(end_of_round, |apart| 2.0 * apart.turns.period);
        running.ways.iter_mut().for_each(|way| way.later = end - end_of_round);
        let mut start = running.ways.last().map_or(end, Way::end);
        for (way, times) in schedule.service_ways.iter().zip(&schedule.devices) {
            let turn = schedule.visits[times.visit].changeover.external_move();
            let Some(turn) = turn.filter(|turn| is_one_table && times.in_turn && turn.duration() > 0.0)
            else {
                continue;
            };
            let way = Way { later: start - way.start, way, turn: Some(turn) };
            start = way.end();
            running.ways.push(way);
        }
        running
    }

    /// When what carries stations turns or slides.
    #[must_use]
    pub fn turns(&self) -> &Turns {
        &self.turns
    }

    /// Whether the arm is seen on a way to a device while a table turns.
    #[must_use]
    pub fn serves_in_turns(&self) -> bool {
        self.ways.iter().any(|way| way.turn.is_some())
    }

    fn apart(&self) -> Option<&TablesApart> {
        match &self.turns {
            Turns::Apart(apart) => Some(apart),
            Turns::Unknown | Turns::ArmStands | Turns::OneTable => None,
        }
    }

    /// The instant at `clock` (s). None where nothing was planned then.
    #[must_use]
    pub fn at(&self, clock: f64) -> Option<Instant> {
        if let Some(way) = self.ways.iter().rev().find(|way| way.start() < clock) {
            return way.at(clock);
        }
        match self.apart() {
            Some(apart) => self.in_cycle(apart, clock),
            None => self.in_round(clock),
        }
    }

    fn in_round(&self, t: f64) -> Option<Instant> {
        let moment = self.schedule.at(t)?;
        let (phase, station, seam) = (moment.phase, moment.station, moment.seam);
        Some(Instant {
            clock: t,
            t,
            in_cycle: None,
            phase,
            station,
            seam,
            service: None,
            motion: moment.motion?,
        })
    }

    fn in_cycle(&self, apart: &TablesApart, clock: f64) -> Option<Instant> {
        let time = clock.rem_euclid(apart.turns.period);
        let visit = apart.starts.partition_point(|start| *start <= time).max(1) - 1;
        let (start, scheduled) = (apart.starts.get(visit)?, self.schedule.visits.get(visit)?);
        let round_start = self.schedule.round()[visit];
        let (since, lasts) = (time - start, scheduled.duration());
        // Where the arm is for a seam that was not planned is not known: as if it stood where the visit ends.
        let planned = (since < lasts).then(|| self.in_round(round_start + since)).flatten();
        let mut instant = planned.or_else(|| self.after_visit(apart, visit, time))?;
        for (axis, turning) in apart.turns.at(time) {
            instant.motion.stance.external[axis] = turning.value;
            instant.motion.rates.external[axis] = turning.rate;
            instant.motion.accelerations.external[axis] = turning.acceleration;
        }
        Some(Instant { clock, in_cycle: Some(time), ..instant })
    }

    /// At a time of the cycle (s) at which the arm is done with a visit: external axes go on, and the arm waits.
    fn after_visit(&self, apart: &TablesApart, visit: usize, time: f64) -> Option<Instant> {
        let since = (time - apart.way_starts.get(visit)?).max(0.0);
        let scheduled = &self.schedule.visits[visit];
        let (changeover, way) = (&scheduled.changeover, apart.ways.get(visit)?);
        let done = self.schedule.round()[visit] + scheduled.duration();
        let mut motion = changeover.motion_at(0.0)?;
        motion.stance.external = way.at(since);
        motion.rates.external = way.rates_at(since);
        motion.accelerations.external = way.accelerations_at(since);
        let t = done + since.min(changeover.duration);
        let (phase, station) = (EventKind::Index, scheduled.station);
        Some(Instant { clock: since, t, in_cycle: None, phase, station, seam: None, service: None, motion })
    }

    /// Every instant of the rows of path.csv at which the cell comes to them, of what tables do meanwhile, and of the ways to devices: on all of them no
    /// farther apart than rows are.
    #[must_use]
    pub fn instants(&self, rows: &[PathRow]) -> Vec<Instant> {
        let of_ways = self.ways.iter().flat_map(Way::clocks);
        self.clocks(rows).into_iter().chain(of_ways).filter_map(|clock| self.at(clock)).collect()
    }

    /// Those of the round, or of one cycle, in their order.
    fn clocks(&self, rows: &[PathRow]) -> Vec<f64> {
        let Some(apart) = self.apart() else { return rows.iter().map(|row| row.t).collect() };
        let round = self.schedule.round();
        let of_row = |row: &PathRow| {
            let visit = round.partition_point(|start| *start <= row.t).max(1) - 1;
            let (start, since) = (apart.starts.get(visit)?, row.t - round[visit]);
            (since <= self.schedule.visits[visit].duration()).then_some(start + since)
        };
        let of_ways = apart.way_starts.iter().zip(&apart.ways).flat_map(|(start, way)| over(*start, way));
        let of_turns = apart.turns.turns.iter().flat_map(|turn| over(turn.start, &turn.course));
        let within = |clock: f64| clock.rem_euclid(apart.turns.period);
        in_order(rows.iter().filter_map(of_row).chain(of_ways).chain(of_turns).map(within).collect())
    }
}

impl Way<'_> {
    fn start(&self) -> f64 {
        self.way.start + self.later
    }

    fn end(&self) -> f64 {
        let turns = self.turn.map_or(0.0, ExternalMove::duration);
        self.start() + self.way.duration().max(turns)
    }

    fn at(&self, clock: f64) -> Option<Instant> {
        let t = clock - self.later;
        let mut motion = self.way.motion_at(t)?;
        if let Some(turn) = self.turn {
            let since = t - self.way.start;
            motion.stance.external = turn.at(since);
            motion.rates.external = turn.rates_at(since);
            motion.accelerations.external = turn.accelerations_at(since);
        }
        let (phase, station, service) = (EventKind::AirMove, self.way.station, Some(self.way.service));
        Some(Instant { clock, t, in_cycle: None, phase, station, seam: None, service, motion })
    }

    fn clocks(&self) -> Vec<f64> {
        let of_way = self.way.times(ROW_INTERVAL).into_iter().map(|t| t + self.later);
        let Some(turn) = self.turn else { return of_way.collect() };
        in_order(of_way.chain(over(self.start(), turn)).collect())
    }
}

/// Each once.
fn in_order(mut clocks: Vec<f64>) -> Vec<f64> {
    clocks.sort_by(f64::total_cmp);
    clocks.dedup();
    clocks
}

/// From `start` on as far apart as rows are at most, until a move is over; none where nothing moves.
fn over(start: f64, course: &ExternalMove) -> impl Iterator<Item = f64> + use<> {
    let duration = course.duration();
    let steps = (duration / ROW_INTERVAL).ceil();
    // Durations are seconds to minutes: the count fits.
    let moves = duration > 0.0;
    (0..=steps as u32).filter(move |_| moves).map(move |step| start + duration * f64::from(step) / steps)
}
