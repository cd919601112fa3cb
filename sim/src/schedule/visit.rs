//! Decides the timeline of one visit: what the arm does from home over all seams of a station and back home.

use std::collections::BTreeMap;

use nalgebra::Point3;
use seamwright_kinematics::{Axis, AxisValues};

use super::event::{Course, Event, EventKind, Stance};
use super::times::Times;
use crate::cell::frames::ExternalAxis;
use crate::cell::{Cell, Procedure, SeamId, StationId};
use crate::motion::{
    AirWay, AxisLimits, AxisMove, AxisPath, ExternalMove, Limits, LinearMove, Pace, SlowZone, ToolSpeed,
    Waypoint, WeldAxes, WeldPace, WeldWay, arm_axes, greatest_rate,
};
use crate::plan::{BlockedBy, Move, MoveKind, Visit};

/// Air time that each run of a seam given by length only is taken to need, s: common practice (1 to 3 s), no source.
pub const ASSUMED_AIR_TIME: f64 = 2.0;

/// One visit of the arm to a station.
#[derive(Clone, Debug)]
pub struct VisitSchedule {
    /// The station.
    pub station: StationId,
    /// In order; each begins where the one before ends.
    pub events: Vec<Event>,
    /// What follows the visit: the external axes go to where the next visit begins; of no duration where they stay.
    pub changeover: Event,
    /// Which of the station's seams the times cover.
    pub coverage: Coverage,
    /// Whether a clear way home was found after the last seam; where not, it is not in the times.
    pub comes_home: bool,
    least_possible: f64,
}

/// Which of a station's seams are in the times.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Coverage {
    /// Seams of the station.
    pub seams: usize,
    /// Seams that are in the times, those by length only included.
    pub timed: usize,
    /// Seams that are timed by their length only: no way of the arm was planned for them.
    pub by_length_only: usize,
    /// Metres of weld of all seams.
    pub weld_length: f64,
    /// Metres of weld that are in the times.
    pub timed_weld_length: f64,
    /// Metres of all seams as drawn.
    pub drawn_length: f64,
}

impl Coverage {
    /// Whether every seam is in the times.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        self.timed == self.seams
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            seams: self.seams + other.seams,
            timed: self.timed + other.timed,
            by_length_only: self.by_length_only + other.by_length_only,
            weld_length: self.weld_length + other.weld_length,
            timed_weld_length: self.timed_weld_length + other.timed_weld_length,
            drawn_length: self.drawn_length + other.drawn_length,
        }
    }
}

impl VisitSchedule {
    /// The arm's time at the station, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.events.last().map_or(0.0, Event::end)
    }

    /// The arm's time at the station with the axes at their limits in the air, s.
    #[must_use]
    pub fn least_possible(&self) -> f64 {
        self.least_possible
    }

    /// What the time goes into.
    #[must_use]
    pub fn times(&self) -> Times {
        let mut times = Times::default();
        let mut moved = EventKind::AirMove;
        for event in &self.events {
            // Coming to rest belongs to the move before it.
            let kind = if event.kind == EventKind::Settle { moved } else { event.kind };
            moved = kind;
            times.add(kind.goes_into(), event.duration);
        }
        times
    }

    /// The event at `t` (s from the start of the visit) by its index, and how everything stands then.
    ///
    /// The last event after the end; `None` in a visit without events.
    #[must_use]
    pub fn at(&self, t: f64) -> Option<(usize, Option<Stance>)> {
        let index = self.events.partition_point(|event| event.start <= t).max(1) - 1;
        let event = self.events.get(index)?;
        Some((index, event.at((t - event.start).clamp(0.0, event.duration))))
    }
}

/// Time of some moves of one seam by themselves, s: arc start, crater and gas of their welds included.
#[must_use]
pub fn duration_of(cell: &Cell, moves: &[Move]) -> f64 {
    let mut timeline = Timeline::new(cell);
    for (index, planned) in moves.iter().enumerate() {
        timeline.add_move(index, planned);
    }
    timeline.time
}

/// Time of a visit that is none of the arm's planned moves, s: signals, and seams given by length only.
#[must_use]
pub fn time_without_moves(cell: &Cell, station: StationId) -> f64 {
    let visit = Visit {
        station,
        moves: Vec::new(),
        left_out: Vec::new(),
        blocked: Vec::new(),
        roundings: Vec::new(),
    };
    schedule_visit(cell, &visit, &visit).duration()
}

/// What one seam takes by itself, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamTimes {
    /// From coming to where its moves begin until the way in to its first arc begins.
    pub before: f64,
    /// From there until its last arc is out.
    pub work: f64,
    /// From there until its moves end.
    pub after: f64,
}

/// Times of the moves of one seam by themselves.
#[must_use]
pub fn seam_times(cell: &Cell, moves: &[Move]) -> SeamTimes {
    let mut timeline = Timeline::new(cell);
    let mut before = None;
    for (index, planned) in moves.iter().enumerate() {
        if planned.kind == MoveKind::Approach {
            before.get_or_insert(timeline.time);
        }
        timeline.add_move(index, planned);
    }
    let whole = timeline.time;
    let before = before.unwrap_or(0.0);
    let out = timeline.arc_ends.values().map(|ends| ends[0]).fold(before, f64::max);
    SeamTimes { before, work: out - before, after: whole - out }
}

/// Times one visit; `next` is the visit that follows.
pub(super) fn schedule_visit(cell: &Cell, visit: &Visit, next: &Visit) -> VisitSchedule {
    let mut timeline = Timeline::new(cell);
    let signals = cell.stations[visit.station.0].signals;
    let wait = |axes: Option<AxisValues>, external| {
        Course::Standing(Stance { axes: axes.unwrap_or(cell.arm.home), external })
    };
    let nothing = Subject { seam: None, planned_move: None };
    let first = visit.moves.first().and_then(|planned| planned.points.first()).map(|point| point.axes);
    let course = wait(first, visit.external_start(cell));
    timeline.push(EventKind::StartSignal, nothing, signals.start, signals.start, course);
    let mut index = 0;
    while let Some(planned) = visit.moves.get(index) {
        timeline.open_clamps(visit, index);
        let passed = timeline.add_rounded(visit, index);
        if passed == 0 {
            timeline.add_move(index, planned);
        }
        index += passed.max(1);
    }
    let at_station = cell.seams.iter().enumerate().filter(|(_, seam)| seam.station == visit.station);
    for (index, _) in at_station.filter(|(_, seam)| seam.path.is_none()) {
        timeline.add_by_length(SeamId(index));
    }
    let last = visit.moves.last().and_then(|planned| planned.points.last()).map(|point| point.axes);
    let course = wait(last, visit.external_end(cell));
    timeline.push(EventKind::ArmClear, nothing, signals.arm_clear, signals.arm_clear, course);
    VisitSchedule {
        station: visit.station,
        coverage: coverage(cell, visit.station, &timeline.events),
        least_possible: timeline.least_time,
        changeover: timeline.changeover(visit, next),
        comes_home: !visit
            .blocked
            .iter()
            .any(|blocked| blocked.to.is_none() && !matches!(blocked.by, BlockedBy::Turning(..))),
        events: timeline.events,
    }
}

fn coverage(cell: &Cell, station: StationId, events: &[Event]) -> Coverage {
    let at_station = cell.seams.iter().enumerate().filter(|(_, seam)| seam.station == station);
    at_station.fold(Coverage::default(), |sum, (index, seam)| {
        let is_timed =
            events.iter().any(|event| event.kind == EventKind::Weld && event.seam == Some(SeamId(index)));
        sum.plus(&Coverage {
            seams: 1,
            timed: usize::from(is_timed),
            by_length_only: usize::from(is_timed && seam.path.is_none()),
            weld_length: seam.weld_length(),
            timed_weld_length: if is_timed { seam.weld_length() } else { 0.0 },
            drawn_length: seam.drawn_length,
        })
    })
}

/// Events so far.
struct Timeline<'c> {
    cell: &'c Cell,
    events: Vec<Event>,
    time: f64,
    /// The same if everything took the least possible; what is then sooner at a weld that must wait for another to cool waits longer.
    least_time: f64,
    /// When the arc of each seam went out last, by either clock.
    arc_ends: BTreeMap<SeamId, [f64; 2]>,
    /// Openings of the station's clamps that have been.
    openings: usize,
}

/// What an event is about.
#[derive(Clone, Copy)]
struct Subject {
    seam: Option<SeamId>,
    planned_move: Option<usize>,
}

impl<'c> Timeline<'c> {
    fn new(cell: &'c Cell) -> Self {
        Self { cell, events: Vec::new(), time: 0.0, least_time: 0.0, arc_ends: BTreeMap::new(), openings: 0 }
    }

    /// Before a move: the clamps open that must be by then, and the arm waits where it is.
    fn open_clamps(&mut self, visit: &Visit, index: usize) {
        let due = visit.openings_at(self.cell, index);
        let opening = self.cell.stations[visit.station.0].openings.get(self.openings..due);
        let (Some(opening), Some(planned)) = (opening, visit.moves.get(index)) else { return };
        self.openings = due;
        let time = opening.iter().map(|opening| opening.time).sum();
        let stands = Stance { axes: planned.points[0].axes, external: planned.external_start() };
        let subject = Subject { seam: planned.seam, planned_move: Some(index) };
        self.push(EventKind::ClampsOpen, subject, time, time, Course::Standing(stands));
    }

    fn add_move(&mut self, index: usize, planned: &Move) {
        let subject = Subject { seam: planned.seam, planned_move: Some(index) };
        let path = axis_path(planned);
        let (first, last) = (path.at(f64::NEG_INFINITY), path.at(f64::INFINITY));
        match &planned.kind {
            MoveKind::Axis => {
                let arm = &self.cell.arm;
                let others = self.going_along(planned);
                let axis_move = AxisMove::with_others(&arm.arm, first, last, Pace::of(arm), &others);
                let (duration, least) = (axis_move.duration(), axis_move.least_possible());
                let course = Course::Axis(axis_move, planned.external.clone());
                self.push(EventKind::AirMove, subject, duration, least, course);
                self.settle(subject, last, planned);
            }
            MoveKind::AirStraight { .. } => {
                let own = self.procedure(subject).approach_speed;
                let speed = self.cell.arm.air_tool_speed.map_or(own, |most| own.min(most));
                let tool = ToolSpeed { speed, slow: None };
                self.add_linear(EventKind::AirMove, subject, path, planned, tool);
            }
            MoveKind::Approach => {
                let stance = Stance { axes: first, external: planned.external_start() };
                self.wait_to_begin(subject, Course::Standing(stance));
                self.add_way(EventKind::Approach, subject, path, planned);
            }
            MoveKind::Retract => self.add_way(EventKind::Retract, subject, path, planned),
            MoveKind::SearchWay { .. } => self.add_way(EventKind::SearchWay, subject, path, planned),
            MoveKind::Search { search } => {
                let speed = subject.seam.map_or(0.0, |seam| self.cell.seams[seam.0].searches[*search].speed);
                self.add_linear(EventKind::Search, subject, path, planned, ToolSpeed { speed, slow: None });
            }
            MoveKind::Shift => self.add_way(EventKind::Shift, subject, path, planned),
            MoveKind::Weld { .. } => {
                let procedure = self.procedure(subject);
                let way = weld_way(planned);
                let pace = self.weld_pace(&way, procedure, procedure.weave.is_some());
                let duration = pace.duration();
                let stands = [(first, planned.external_start()), (last, planned.external_end())]
                    .map(|(axes, external)| Course::Standing(Stance { axes, external }));
                let course = Course::Weld { way, pace, external: planned.external.clone() };
                let [before, after] = stands;
                self.add_arc_start(subject, procedure, before);
                self.push(EventKind::Weld, subject, duration, duration, course);
                // Where the torch goes back first, the crater is filled there.
                if procedure.crater_back <= 0.0 {
                    self.add_arc_end(subject, procedure, after);
                }
            }
            MoveKind::CraterBack { .. } => {
                let procedure = self.procedure(subject);
                let external = planned.external.clone();
                let way = weld_way(planned);
                let pace = self.weld_pace(&way, procedure, false);
                let duration = pace.duration();
                let after = Course::Standing(Stance { axes: last, external: planned.external_end() });
                let course = Course::Weld { way, pace, external };
                self.push(EventKind::CraterBack, subject, duration, duration, course);
                self.add_arc_end(subject, procedure, after);
            }
            MoveKind::Position { to } => {
                let external_move = ExternalMove::new(&self.cell.frames.axes, &planned.external_start(), to);
                let duration = external_move.duration();
                self.push(
                    EventKind::Position,
                    subject,
                    duration,
                    duration,
                    Course::External(first, external_move),
                );
            }
        }
    }

    /// How fast the torch goes along a weld. A weave keeps travel speed: its own accelerations were looked at when it was planned, and
    /// the corners of one with corners are the controller's.
    fn weld_pace(&self, way: &WeldWay, procedure: &Procedure, weaves: bool) -> WeldPace {
        let speed = procedure.travel_speed;
        if weaves {
            return WeldPace::even(way, speed);
        }
        let (arm, moved) = (&self.cell.arm.arm, &self.cell.frames.axes);
        let limit = |of_arm: &dyn Fn(&Axis) -> f64, of_external: &dyn Fn(&ExternalAxis) -> f64| {
            arm.axes().iter().map(of_arm).chain(moved.iter().map(of_external)).collect()
        };
        let axes = WeldAxes {
            limits: AxisLimits {
                speed: limit(&|axis| axis.max_speed, &|axis| axis.max_speed),
                acceleration: limit(&|axis| axis.max_acceleration.value, &|axis| axis.max_acceleration),
                jerk: limit(&|axis| axis.max_jerk.value, &|_| f64::INFINITY),
            },
            of_motors: &|s| 1.0 / arm.least_time(&arm_axes(&way.derivatives(s)[0])),
        };
        WeldPace::new(way, speed, &axes)
    }

    /// Limits of the external axes that go along with an air move and of the wire end, of the share of the way.
    fn going_along(&self, planned: &Move) -> Vec<Limits> {
        let [first, last] = [0, planned.points.len() - 1].map(|at| planned.points[at].axes);
        let (from, to) = (planned.external_start(), planned.external_end());
        let ways = self.cell.frames.axes.iter().zip(from.iter().zip(&to));
        let moving = ways.map(|(axis, (from, to))| (axis, (to - from).abs())).filter(|(_, way)| *way > 0.0);
        moving
            .map(|(axis, way)| Limits {
                speed: axis.max_speed / way,
                acceleration: axis.max_acceleration / way,
                jerk: f64::INFINITY,
            })
            .chain(tool_speed_limit(self.cell, &first, &last))
            .collect()
    }

    /// The air moves from `first` on that the arm makes without stopping between them, as one event; how many, or 0.
    fn add_rounded(&mut self, visit: &Visit, first: usize) -> usize {
        let rounding = |after: usize| visit.roundings.iter().find(|rounding| rounding.after == after);
        let count = (first..).take_while(|after| rounding(*after).is_some()).count() + 1;
        let (Some(moves), true) = (visit.moves.get(first..first + count), count > 1) else { return 0 };
        let arm = &self.cell.arm;
        let pace = Pace::of(arm);
        let ends = |planned: &Move| {
            [&planned.points[0], &planned.points[planned.points.len() - 1]].map(|point| point.axes)
        };
        let places: Vec<AxisValues> = moves
            .iter()
            .take(1)
            .map(|first| ends(first)[0])
            .chain(moves.iter().map(|planned| ends(planned)[1]))
            .collect();
        let overlaps: Vec<f64> = (first..first + count - 1)
            .map(|after| rounding(after).map_or(0.0, |rounding| rounding.overlap))
            .collect();
        let Some(way) = AirWay::new(&arm.arm, &places, &overlaps, pace) else { return 0 };
        let last = &moves[count - 1];
        let subject = Subject { seam: last.seam, planned_move: Some(first) };
        let (duration, least) = (way.duration(), way.least_possible());
        let course = Course::Air(Box::new(way), last.external_start());
        self.push(EventKind::AirMove, subject, duration, least, course);
        self.settle(subject, ends(last)[1], last);
        count
    }

    /// Way in, way out, or shift.
    fn add_way(&mut self, kind: EventKind, subject: Subject, path: AxisPath, planned: &Move) {
        let procedure = self.procedure(subject);
        let length = path.length();
        // A shift goes along the seam, near the part all the way.
        let slow = procedure.near_part.map(|near| match kind {
            EventKind::Approach => SlowZone { from: length - near.distance, to: length, speed: near.speed },
            EventKind::Retract => SlowZone { from: 0.0, to: near.distance, speed: near.speed },
            _ => SlowZone { from: 0.0, to: length, speed: near.speed },
        });
        let tool = ToolSpeed { speed: procedure.approach_speed, slow };
        self.add_linear(kind, subject, path, planned, tool);
    }

    /// The wire end straight on, as fast as `tool` says where the axes can follow.
    fn add_linear(
        &mut self,
        kind: EventKind,
        subject: Subject,
        path: AxisPath,
        planned: &Move,
        tool: ToolSpeed,
    ) {
        let arm = &self.cell.arm;
        let last = path.at(f64::INFINITY);
        let linear_move = LinearMove::new(&arm.arm, path, tool, Pace::of(arm));
        let (duration, least) = (linear_move.duration(), linear_move.least_possible());
        self.push(kind, subject, duration, least, Course::Linear(linear_move, planned.external_start()));
        self.settle(subject, last, planned);
    }

    /// The arm comes to rest after a move.
    fn settle(&mut self, subject: Subject, axes: AxisValues, planned: &Move) {
        let settle = self.cell.arm.settle;
        let course = Course::Standing(Stance { axes, external: planned.external_end() });
        self.push(EventKind::Settle, subject, settle, settle, course);
    }

    /// Waits at the first arc of a seam until the time since the end of the pass before has come, and its neighbours have cooled.
    fn wait_to_begin(&mut self, subject: Subject, course: Course) {
        let Some(seam) = subject.seam.filter(|seam| !self.arc_ends.contains_key(seam)) else { return };
        let this = &self.cell.seams[seam.0];
        let waits = self.arc_ends.iter().filter_map(|(before, end)| {
            let before = &self.cell.seams[before.0];
            let cools = before.cools_before(this);
            let [wait, least] = [end[0] - self.time, end[1] - self.least_time].map(|since| since + cools);
            (cools > 0.0).then_some((wait, least, before.row == this.row && before.copy == this.copy))
        });
        let waits: Vec<(f64, f64, bool)> = waits.collect();
        let least = waits.iter().map(|wait| wait.1).fold(0.0, f64::max);
        let longest = waits.iter().max_by(|a, b| a.0.total_cmp(&b.0)).filter(|longest| longest.0 > 0.0);
        match longest {
            Some((wait, _, for_pass)) => {
                let kind = if *for_pass { EventKind::Interpass } else { EventKind::Cooling };
                self.push(kind, subject, *wait, least, course);
            }
            // What has cooled by now may not have if all before had been quicker.
            None => self.least_time += least,
        }
    }

    /// A seam given by length only.
    fn add_by_length(&mut self, id: SeamId) {
        let seam = &self.cell.seams[id.0];
        let subject = Subject { seam: Some(id), planned_move: None };
        for run in &seam.runs {
            // A rule of thumb is no bound: the least possible counts none of it.
            self.push(EventKind::AssumedAirMove, subject, ASSUMED_AIR_TIME, 0.0, Course::Unknown);
            self.wait_to_begin(subject, Course::Unknown);
            let duration = run.length() / seam.procedure.travel_speed;
            let back = seam.procedure.crater_back / seam.procedure.travel_speed;
            self.add_arc_start(subject, &seam.procedure, Course::Unknown);
            self.push(EventKind::Weld, subject, duration, duration, Course::Unknown);
            self.push(EventKind::CraterBack, subject, back, back, Course::Unknown);
            self.add_arc_end(subject, &seam.procedure, Course::Unknown);
        }
    }

    /// What comes before travel, the torch standing as `before`.
    fn add_arc_start(&mut self, subject: Subject, procedure: &Procedure, before: Course) {
        let arc = &procedure.arc;
        let events = [
            (EventKind::GasBefore, procedure.gas_before),
            (EventKind::RunIn, arc.run_in),
            (EventKind::ArcStart, procedure.arc_start),
            (EventKind::ArcRetry, arc.mean_retry()),
        ];
        for (kind, duration) in events {
            self.push(kind, subject, duration, duration, before.clone());
        }
    }

    /// What comes after it, the torch standing as `after`.
    fn add_arc_end(&mut self, subject: Subject, procedure: &Procedure, after: Course) {
        let arc = &procedure.arc;
        let gas_after = if arc.leaves_in_gas { 0.0 } else { procedure.gas_after };
        let events = [
            (EventKind::Crater, procedure.crater),
            (EventKind::BurnBack, arc.burn_back),
            (EventKind::WireCheck, arc.wire_check),
            (EventKind::GasAfter, gas_after),
        ];
        for (kind, duration) in events {
            self.push(kind, subject, duration, duration, after.clone());
        }
    }

    /// From where `visit` leaves the external axes to where `next` begins.
    fn changeover(&self, visit: &Visit, next: &Visit) -> Event {
        let (from, to) = (visit.external_end(self.cell), next.external_start(self.cell));
        let external_move = ExternalMove::new(&self.cell.frames.axes, &from, &to);
        let duration = external_move.duration();
        let last_point = visit.moves.last().and_then(|planned| planned.points.last());
        Event {
            kind: EventKind::Index,
            seam: None,
            planned_move: None,
            start: self.time,
            duration,
            least_possible: duration,
            course: Course::External(
                last_point.map_or(self.cell.arm.home, |point| point.axes),
                external_move,
            ),
        }
    }

    /// Adds an event; one of no duration is left out.
    fn push(
        &mut self,
        kind: EventKind,
        subject: Subject,
        duration: f64,
        least_possible: f64,
        course: Course,
    ) {
        if duration > 0.0 {
            let Subject { seam, planned_move } = subject;
            let start = self.time;
            self.events.push(Event { kind, seam, planned_move, start, duration, least_possible, course });
            self.time += duration;
            self.least_time += least_possible;
            if let (EventKind::Weld | EventKind::CraterBack | EventKind::Crater, Some(seam)) = (kind, seam) {
                self.arc_ends.insert(seam, [self.time, self.least_time]);
            }
        }
    }

    fn procedure(&self, subject: Subject) -> &'c Procedure {
        let SeamId(index) =
            subject.seam.expect("every way in or out and every weld of a plan belongs to a seam");
        &self.cell.seams[index].procedure
    }
}

/// What the tool speed limit of air moves, where there is one, leaves of the share of a straight way in axis space: the speed of the wire
/// end as the arm moves it.
pub(super) fn tool_speed_limit(cell: &Cell, from: &AxisValues, to: &AxisValues) -> Option<Limits> {
    let most = cell.arm.air_tool_speed?;
    let wire_end = Point3::from(cell.torch.flange_from_tool.translation.vector);
    let rate = greatest_rate(&cell.arm.arm, &wire_end, from, to);
    let (acceleration, jerk) = (f64::INFINITY, f64::INFINITY);
    (rate > 0.0).then(|| Limits { speed: most / rate, acceleration, jerk })
}

/// Arm and external axes along a weld.
fn weld_way(planned: &Move) -> WeldWay {
    WeldWay::new(planned.rows(), &planned.bends).expect("every move of a plan has points")
}

fn axis_path(planned: &Move) -> AxisPath {
    AxisPath::new(planned.points.iter().map(|point| Waypoint { s: point.s, axes: point.axes }))
        .expect("every move of a plan has points")
}
