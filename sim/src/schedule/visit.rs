//! Decides the timeline of one visit: what the arm does from home over all seams of a station and back home.

use seamwright_kinematics::AxisValues;

use crate::{
    cell::{Cell, MountedArm, Procedure, SeamId, StationId, frames::ExternalValues},
    motion::{AxisMove, AxisPath, ExternalMove, LinearMove, Waypoint},
    plan::{BlockedBy, ExternalLaw, Move, MoveKind, Visit},
};

/// Air time that each run of a seam given by length only is taken to need, s: common practice (1 to 3 s), no source.
pub const ASSUMED_AIR_TIME: f64 = 2.0;

/// What the arm is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EventKind {
    /// Planned air move.
    AirMove,
    /// Air time of a seam given by length only, by a stated rule of thumb.
    AssumedAirMove,
    /// Straight to the start of a weld.
    Approach,
    /// Gas flows, the torch stands.
    GasBefore,
    /// From the order to weld until the arc burns and travel begins.
    ArcStart,
    /// Arc on, torch travelling.
    Weld,
    /// Crater fill, the torch stands.
    Crater,
    /// Burn-back and gas after the arc, the torch stands.
    GasAfter,
    /// Straight away from the end of a weld.
    Retract,
    /// Lifted, from one stitch to the next.
    Shift,
    /// The arm stands while external axes move within a visit.
    Position,
    /// The arm stands at home while external axes go from one station's values to the next one's.
    Index,
}

impl EventKind {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::AirMove => "air_move",
            Self::AssumedAirMove => "assumed_air_move",
            Self::Approach => "approach",
            Self::GasBefore => "gas_before",
            Self::ArcStart => "arc_start",
            Self::Weld => "weld",
            Self::Crater => "crater",
            Self::GasAfter => "gas_after",
            Self::Retract => "retract",
            Self::Shift => "shift",
            Self::Position => "position",
            Self::Index => "index",
        }
    }
}

/// One thing that happens.
#[derive(Clone, Debug)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// The seam it serves.
    pub seam: Option<SeamId>,
    /// Index into the visit's planned moves: the move itself, or the weld that a standing time belongs to. `None` where
    /// nothing was planned.
    pub planned_move: Option<usize>,
    /// Start, s from the start of the visit.
    pub start: f64,
    /// How long it takes, s.
    pub duration: f64,
    /// How long it would take with every axis at its limits in the air, s.
    pub least_possible: f64,
    course: Course,
}

/// A number for every axis: where all stand, or how fast.
#[derive(Clone, Debug, PartialEq)]
pub struct Stance {
    /// Arm axes, rad (as rates rad/s, as accelerations rad/s²).
    pub axes: AxisValues,
    /// External axes, rad or m, in the order of the cell's axes.
    pub external: ExternalValues,
}

/// How arm and external axes stand and move at one instant.
///
/// Rates and accelerations are the derivatives of where they stand. On a weld they are those of a way of constant travel
/// speed: its first and last instant, at which the torch would have to start and stop at once, count as if it travelled.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// Where every axis stands.
    pub stance: Stance,
    /// How fast every axis moves.
    pub rates: Stance,
    /// How fast those change.
    pub accelerations: Stance,
}

/// How the arm moves during an event.
#[derive(Clone, Debug)]
pub(super) enum Course {
    Axis(AxisMove, ExternalValues),
    Linear(LinearMove, ExternalValues),
    /// At constant speed.
    Weld {
        path: AxisPath,
        travel_speed: f64,
        external: ExternalLaw,
    },
    Standing(Stance),
    External(AxisValues, ExternalMove),
    /// Nothing was planned.
    Unknown,
}

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
}

/// What the arm's time at a station goes into, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Times {
    /// Arc on and travelling.
    pub arc: f64,
    /// Gas, arc start, crater: the torch stands at the seam.
    pub arc_ends: f64,
    /// Ways in, out, and from stitch to stitch.
    pub ways: f64,
    /// Air moves, assumed ones included.
    pub air: f64,
    /// The arm stands while external axes move.
    pub external: f64,
}

impl Times {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.arc + self.arc_ends + self.ways + self.air + self.external
    }
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

impl Event {
    /// When it ends, s from the start of the visit.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.start + self.duration
    }

    /// How arm and external axes stand `t` seconds after the event's start; `None` where nothing was planned.
    #[must_use]
    pub fn at(&self, t: f64) -> Option<Stance> {
        match &self.course {
            Course::Axis(axis_move, external) => {
                Some(Stance { axes: axis_move.at(t), external: external.clone() })
            }
            Course::Linear(linear_move, external) => {
                Some(Stance { axes: linear_move.at(t), external: external.clone() })
            }
            Course::Weld { path, travel_speed, external } => {
                let s = path.start() + travel_speed * t;
                Some(Stance { axes: path.at(s), external: external.at(s) })
            }
            Course::Standing(stance) => Some(stance.clone()),
            Course::External(axes, external_move) => {
                Some(Stance { axes: *axes, external: external_move.at(t) })
            }
            Course::Unknown => None,
        }
    }

    /// Whether the external axis with this index moves in it.
    #[must_use]
    pub fn moves_external(&self, axis: usize) -> bool {
        match &self.course {
            Course::External(_, external_move) => external_move.moves(axis),
            Course::Weld { external, .. } => external.moves(axis),
            Course::Axis(..) | Course::Linear(..) | Course::Standing(_) | Course::Unknown => false,
        }
    }

    /// The same with speeds and accelerations.
    #[must_use]
    pub fn motion_at(&self, t: f64) -> Option<Motion> {
        let stance = self.at(t)?;
        let external_still = vec![0.0; stance.external.len()];
        let still = Stance { axes: AxisValues::zeros(), external: external_still.clone() };
        let (rates, accelerations) = match &self.course {
            Course::Axis(axis_move, _) => (
                Stance { axes: axis_move.rates_at(t), external: external_still.clone() },
                Stance { axes: axis_move.accelerations_at(t), external: external_still },
            ),
            Course::Linear(linear_move, _) => (
                Stance { axes: linear_move.rates_at(t), external: external_still.clone() },
                Stance { axes: linear_move.accelerations_at(t), external: external_still },
            ),
            Course::Weld { path, travel_speed, external } => {
                let s = path.start() + travel_speed * t;
                let [first, second, _] = path.derivatives(s);
                let per_s = external.rates_at(s);
                (
                    Stance {
                        axes: first * *travel_speed,
                        external: per_s.into_iter().map(|rate| rate * travel_speed).collect(),
                    },
                    Stance { axes: second * travel_speed.powi(2), external: external_still },
                )
            }
            Course::External(_, external_move) => (
                Stance { axes: AxisValues::zeros(), external: external_move.rates_at(t) },
                Stance { axes: AxisValues::zeros(), external: external_move.accelerations_at(t) },
            ),
            Course::Standing(_) | Course::Unknown => (still.clone(), still),
        };
        Some(Motion { stance, rates, accelerations })
    }

    pub(super) fn course(&self) -> &Course {
        &self.course
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
        self.events.iter().map(|event| event.least_possible).sum()
    }

    /// What the time goes into.
    #[must_use]
    pub fn times(&self) -> Times {
        let mut times = Times::default();
        for event in &self.events {
            let part = match event.kind {
                EventKind::Weld => &mut times.arc,
                EventKind::GasBefore | EventKind::ArcStart | EventKind::Crater | EventKind::GasAfter => {
                    &mut times.arc_ends
                }
                EventKind::Approach | EventKind::Retract | EventKind::Shift => &mut times.ways,
                EventKind::AirMove | EventKind::AssumedAirMove => &mut times.air,
                EventKind::Position | EventKind::Index => &mut times.external,
            };
            *part += event.duration;
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

/// Times one visit; `next` is the visit that follows.
pub(super) fn schedule_visit(cell: &Cell, visit: &Visit, next: &Visit) -> VisitSchedule {
    let mut timeline = Timeline { cell, events: Vec::new(), time: 0.0 };
    for (index, planned) in visit.moves.iter().enumerate() {
        timeline.add_move(index, planned);
    }
    let at_station = cell.seams.iter().enumerate().filter(|(_, seam)| seam.station == visit.station);
    for (index, _) in at_station.filter(|(_, seam)| seam.path.is_none()) {
        timeline.add_by_length(SeamId(index));
    }
    VisitSchedule {
        station: visit.station,
        coverage: coverage(cell, visit.station, &timeline.events),
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
}

/// What an event is about.
#[derive(Clone, Copy)]
struct Subject {
    seam: Option<SeamId>,
    planned_move: Option<usize>,
}

impl<'c> Timeline<'c> {
    fn add_move(&mut self, index: usize, planned: &Move) {
        let subject = Subject { seam: planned.seam, planned_move: Some(index) };
        let path = axis_path(planned);
        let (first, last) = (path.at(f64::NEG_INFINITY), path.at(f64::INFINITY));
        match &planned.kind {
            MoveKind::Axis => {
                let pace = self.cell.arm.air_move_share.value;
                let axis_move = AxisMove::new(&self.cell.arm.arm, first, last, pace);
                let (duration, least) = (axis_move.duration(), axis_move.least_possible());
                let course = Course::Axis(axis_move, planned.external_start());
                self.push(EventKind::AirMove, subject, duration, least, course);
            }
            MoveKind::Approach => self.add_way(EventKind::Approach, subject, path, planned),
            MoveKind::Retract => self.add_way(EventKind::Retract, subject, path, planned),
            MoveKind::Shift => self.add_way(EventKind::Shift, subject, path, planned),
            MoveKind::Weld { .. } => {
                let procedure = self.procedure(subject);
                let travel_speed = procedure.travel_speed;
                let duration = path.length() / travel_speed;
                let stands = [(first, planned.external_start()), (last, planned.external_end())]
                    .map(|(axes, external)| Course::Standing(Stance { axes, external }));
                let course = Course::Weld { path, travel_speed, external: planned.external.clone() };
                self.add_arc(subject, procedure, (duration, course), stands);
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

    /// Way in, way out, or shift.
    fn add_way(&mut self, kind: EventKind, subject: Subject, path: AxisPath, planned: &Move) {
        let procedure = self.procedure(subject);
        let MountedArm { arm, air_move_share: pace, .. } = &self.cell.arm;
        let linear_move = LinearMove::new(arm, path, procedure.approach_speed, pace.value);
        let (duration, least) = (linear_move.duration(), linear_move.least_possible());
        self.push(kind, subject, duration, least, Course::Linear(linear_move, planned.external_start()));
    }

    /// A seam given by length only.
    fn add_by_length(&mut self, id: SeamId) {
        let seam = &self.cell.seams[id.0];
        let subject = Subject { seam: Some(id), planned_move: None };
        for run in &seam.runs {
            // A rule of thumb is no bound: the least possible counts none of it.
            self.push(EventKind::AssumedAirMove, subject, ASSUMED_AIR_TIME, 0.0, Course::Unknown);
            let duration = run.length() / seam.procedure.travel_speed;
            let weld = (duration, Course::Unknown);
            self.add_arc(subject, &seam.procedure, weld, [Course::Unknown, Course::Unknown]);
        }
    }

    /// From gas before to gas after: `weld` with its duration, and how the torch stands before and after it.
    fn add_arc(&mut self, subject: Subject, procedure: &Procedure, weld: (f64, Course), stands: [Course; 2]) {
        let [before, after] = stands;
        let events = [
            (EventKind::GasBefore, procedure.gas_before, before.clone()),
            (EventKind::ArcStart, procedure.arc_start, before),
            (EventKind::Weld, weld.0, weld.1),
            (EventKind::Crater, procedure.crater, after.clone()),
            (EventKind::GasAfter, procedure.gas_after, after),
        ];
        for (kind, duration, course) in events {
            self.push(kind, subject, duration, duration, course);
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
        }
    }

    fn procedure(&self, subject: Subject) -> &'c Procedure {
        let SeamId(index) =
            subject.seam.expect("every way in or out and every weld of a plan belongs to a seam");
        &self.cell.seams[index].procedure
    }
}

fn axis_path(planned: &Move) -> AxisPath {
    AxisPath::new(planned.points.iter().map(|point| Waypoint { s: point.s, axes: point.axes }))
        .expect("every move of a plan has points")
}
