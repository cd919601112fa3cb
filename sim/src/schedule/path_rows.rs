//! Decides the rows of path.csv: where arm, external axes and wire end are, moment by moment.
//!
//! Time runs as the arm does its round without waiting for anyone: one station after the other, each followed by the move of
//! the external axes to the next. A weld has a row at every point of its plan, both ends included. Everything else has rows
//! at most 20 ms apart (while the torch stands: one at its start and one half way); the moment at which it ends belongs to
//! what follows. Events for which nothing was planned have no rows.
//!
//! Every row is forward kinematics of its own axis values, so that it is true by itself. On a weld the axis values are the
//! plan's exact ones but about places at which rates would change at once (`motion::WeldWay`); on the ways in and out they go smoothly through the plan's exact ones. The wire end stands at the
//! planned CTWD on a weld and on the ways that serve it (a shift keeps that of the weld it leaves), and at the torch's
//! nominal one in air moves.

mod service_rows;

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose};

use super::event::Course;
use super::{Event, EventKind, Motion, Schedule, Stance};
use crate::cell::frames::{AxisKind, ExternalValues};
use crate::cell::{Cell, SeamId, StationId};
use crate::plan::clearance::{AtSeam, Scene};
use crate::plan::{Move, MoveKind, PathPoint, Plan, TorchAngles, Visit};

pub use service_rows::{ServiceRow, service_rows};

/// Longest time between two rows while anything but a weld moves, s.
pub(crate) const ROW_INTERVAL: f64 = 0.02;

/// Rows nearer in time than this would not rise in a file with six decimals of a second.
const LEAST_STEP: f64 = 1.1e-6;

/// Clearance is exact below this and this above, m.
pub const CLEARANCE_CAP: f64 = 0.05;

/// One moment.
#[derive(Clone, Debug)]
pub struct PathRow {
    /// s from the start of the round; rises from row to row.
    pub t: f64,
    /// What is happening.
    pub phase: EventKind,
    /// The station being visited; while external axes index, the one they leave.
    pub station: StationId,
    /// The seam it serves; of an air move the one it leads to.
    pub seam: Option<SeamId>,
    /// The place on the seam; on a weld and while the torch stands at its ends.
    pub place: Option<Place>,
    /// Arm axes, rad, unwrapped.
    pub axes: AxisValues,
    /// External axes, rad or m.
    pub external: ExternalValues,
    /// Orientation of the tool frame, origin at the wire end.
    pub world_from_wire_end: Pose,
    /// Contact tip to wire end, m.
    pub ctwd: f64,
    /// Speed of the wire end, m/s: along the seam on a weld, in the world elsewhere.
    pub speed: f64,
    /// Least distance over all pairs of bodies that are checked, m; [`CLEARANCE_CAP`] where it is more.
    pub clearance: f64,
}

/// Where on its seam the torch is, and how it stands against it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Pass, from 1.
    pub pass: u32,
    /// Arc length along the seam, m.
    pub s: f64,
    /// Torch angles, as planned.
    pub angles: TorchAngles,
}

/// The rows of one round.
#[must_use]
pub fn path_rows(cell: &Cell, plan: &Plan, schedule: &Schedule) -> Vec<PathRow> {
    let mut table = Table { cell, rows: Vec::new() };
    let mut subjects = Vec::new();
    for ((visit, scheduled), start) in plan.visits.iter().zip(&schedule.visits).zip(schedule.round()) {
        let events =
            scheduled.events.iter().chain([&scheduled.changeover]).filter(|event| event.duration > 0.0);
        subjects.extend(events.map(|event| Subject {
            visit,
            station: scheduled.station,
            event,
            start: start + event.start,
        }));
    }
    for (index, subject) in subjects.iter().enumerate() {
        let next = subjects.get(index + 1);
        table.add_event(subject, next.is_some_and(|next| next.event.at(0.0).is_some()));
    }
    measure_clearance(cell, &mut table.rows);
    let mut rows: Vec<PathRow> = table.rows.into_iter().map(|served| served.row).collect();
    count_on(cell, &mut rows);
    rows
}

/// What turns without end counts on from row to row: that one station is at 240 degrees and the next at -120 is no turn.
fn count_on(cell: &Cell, rows: &mut [PathRow]) {
    for (index, axis) in cell.frames.axes.iter().enumerate().filter(|(_, axis)| axis.is_endless()) {
        let mut before = rows.first().map_or(0.0, |row| row.external[index]);
        for row in rows.iter_mut() {
            row.external[index] = axis.counted_on(before, row.external[index]);
            before = row.external[index];
        }
    }
}

/// Fills in the clearance of every row.
fn measure_clearance(cell: &Cell, rows: &mut [Served]) {
    let of_station = |station: usize| -> Vec<Scene<'_>> {
        let at = &cell.stations[station];
        let after = |openings| Scene::after(cell, StationId(station), openings, &at.external);
        (0..=at.openings.len()).map(after).collect()
    };
    let scenes: Vec<Vec<Scene<'_>>> = (0..cell.stations.len()).into_par_iter().map(of_station).collect();
    // One placing of the bodies serves all rows in a line between which no external axis moves.
    let standing = |one: &Served, other: &Served| {
        one.row.station == other.row.station
            && one.openings == other.openings
            && one.row.external == other.row.external
    };
    rows.chunk_by_mut(standing).collect::<Vec<_>>().into_par_iter().for_each(|rows| {
        let scene = scenes[rows[0].row.station.0][rows[0].openings].at(&rows[0].row.external);
        rows.par_iter_mut().for_each(|Served { row, seam, .. }| {
            let at_seam = seam.map(|seam| AtSeam { seam, ctwd: row.ctwd });
            row.clearance = scene.distance(&cell.arm.arm.forward(&row.axes), at_seam, CLEARANCE_CAP);
        });
    });
}

/// Whether the torch is at its seam or on the short way in or out, where its front may come near the joint.
pub(crate) fn serves_a_weld(phase: EventKind) -> bool {
    match phase {
        EventKind::Approach
        | EventKind::SearchWay
        | EventKind::Search
        | EventKind::GasBefore
        | EventKind::RunIn
        | EventKind::ArcStart
        | EventKind::ArcRetry
        | EventKind::Weld
        | EventKind::CraterBack
        | EventKind::Crater
        | EventKind::BurnBack
        | EventKind::WireCheck
        | EventKind::GasAfter
        | EventKind::Retract
        | EventKind::Shift => true,
        EventKind::AirMove
        | EventKind::AssumedAirMove
        | EventKind::Interpass
        | EventKind::Cooling
        | EventKind::Position
        | EventKind::Index
        | EventKind::Settle
        | EventKind::StartSignal
        | EventKind::ArmClear
        | EventKind::ClampsOpen => false,
    }
}

/// An event in its visit.
struct Subject<'a> {
    visit: &'a Visit,
    station: StationId,
    event: &'a Event,
    /// s from the start of the round.
    start: f64,
}

impl Subject<'_> {
    /// What happens; coming to rest counts as the move before it.
    fn kind(&self) -> EventKind {
        let planned = self.event.planned_move.and_then(|own| self.visit.moves.get(own));
        match (self.event.kind, planned.map(|planned| &planned.kind)) {
            (EventKind::Settle, Some(MoveKind::Approach)) => EventKind::Approach,
            (EventKind::Settle, Some(MoveKind::Retract)) => EventKind::Retract,
            (EventKind::Settle, Some(MoveKind::Shift)) => EventKind::Shift,
            (EventKind::Settle, Some(MoveKind::SearchWay { .. })) => EventKind::SearchWay,
            (EventKind::Settle, Some(MoveKind::Search { .. })) => EventKind::Search,
            (kind, _) => kind,
        }
    }

    /// How many openings of the station's clamps have been.
    fn openings(&self, cell: &Cell) -> usize {
        match (self.event.planned_move, self.event.kind) {
            (Some(index), _) => self.visit.openings_at(cell, index),
            (None, EventKind::StartSignal) => 0,
            (None, _) => self.visit.openings_at(cell, self.visit.moves.len()),
        }
    }

    /// The weld's points where the event is a weld or serves one: the next weld's for a way in, else the last one's.
    fn served_weld(&self) -> Option<&[PathPoint]> {
        let moves = &self.visit.moves;
        let own = self.event.planned_move?;
        let is_weld =
            |planned: &&Move| matches!(planned.kind, MoveKind::Weld { .. } | MoveKind::CraterBack { .. });
        let weld = match self.kind() {
            EventKind::Approach | EventKind::SearchWay | EventKind::Search => {
                moves[own..].iter().find(is_weld)
            }
            kind if serves_a_weld(kind) => moves[..=own].iter().rev().find(is_weld),
            _ => None,
        };
        weld.map(|planned| planned.points.as_slice())
    }

    /// The end of the weld at which the torch is, goes to, or comes from.
    fn weld_end(&self) -> Option<&PathPoint> {
        let weld = self.served_weld()?;
        match self.kind() {
            EventKind::SearchWay
            | EventKind::Search
            | EventKind::Approach
            | EventKind::GasBefore
            | EventKind::RunIn
            | EventKind::ArcStart
            | EventKind::ArcRetry => weld.first(),
            _ => weld.last(),
        }
    }
}

struct Table<'c> {
    cell: &'c Cell,
    rows: Vec<Served>,
}

/// A row, and the seam where the torch is there or on the short way in or out.
struct Served {
    row: PathRow,
    seam: Option<SeamId>,
    /// How many openings of the station's clamps have been.
    openings: usize,
}

/// A row without what follows from its axis values.
struct RowMoment {
    t: f64,
    stance: Stance,
    place: Option<Place>,
    ctwd: f64,
    speed: f64,
}

impl Table<'_> {
    /// Adds the rows of an event; that of its end too where nothing that has rows is `followed` by it.
    fn add_event(&mut self, subject: &Subject<'_>, followed: bool) {
        let event = subject.event;
        if let Course::Weld { way, pace, .. } = &event.course {
            let points = subject.served_weld().unwrap_or_default();
            for point in points {
                let since = pace.when(point.s);
                let moment = RowMoment {
                    t: subject.start + since,
                    stance: Stance::of_row(&way.at(point.s)),
                    place: self.place(subject, point),
                    ctwd: self.ctwd(Some(point)),
                    speed: pace.along(since).speed,
                };
                self.add(subject, moment);
            }
            return;
        }
        let stands = matches!(&event.course, Course::Standing(_));
        let steps = if stands { 2.0 } else { (event.duration / ROW_INTERVAL).ceil().max(2.0) };
        // Durations are seconds to minutes: the count fits.
        for step in 0..steps as u32 {
            self.add_at(subject, event.duration * f64::from(step) / steps);
        }
        if !followed {
            self.add_at(subject, event.duration);
        }
    }

    /// Adds the row of anything but a weld, `t` seconds after the event's start.
    fn add_at(&mut self, subject: &Subject<'_>, t: f64) {
        let event = subject.event;
        let Some(stance) = event.at(t) else { return };
        let end = subject.weld_end();
        let ctwd = self.ctwd(end);
        let speed = match &event.course {
            Course::Axis(_, external) if !external.is_held() => {
                event.motion_at(t).map_or(0.0, |motion| self.speed_of_all(&motion))
            }
            Course::Axis(axis_move, _) => self.speed_of_axes(&stance.axes, &axis_move.rates_at(t)),
            Course::Air(way, _) => self.speed_of_axes(&stance.axes, &way.rates_at(t)[0]),
            Course::Linear(linear_move, _) => linear_move.tool_speed_at(t),
            Course::External(_, external_move) => {
                self.velocity_of_mount(&stance, &external_move.rates_at(t)).norm()
            }
            Course::Weld { .. } | Course::Standing(_) | Course::Unknown => 0.0,
        };
        let stands = matches!(&event.course, Course::Standing(_));
        let at_seam = stands
            && !matches!(
                subject.kind(),
                EventKind::Retract | EventKind::Shift | EventKind::SearchWay | EventKind::Search
            );
        let place = end.filter(|_| at_seam).and_then(|point| self.place(subject, point));
        self.add(subject, RowMoment { t: subject.start + t, stance, place, ctwd, speed });
    }

    fn add(&mut self, subject: &Subject<'_>, moment: RowMoment) {
        if self.rows.last().is_some_and(|last| moment.t < last.row.t + LEAST_STEP) {
            return;
        }
        let RowMoment { t, stance, place, ctwd, speed } = moment;
        let world_from_flange =
            self.world_from_base(&stance.external) * self.cell.arm.arm.base_from_flange(&stance.axes);
        let tool_from_wire_end = Pose::translation(0.0, 0.0, ctwd - self.cell.torch.nominal_ctwd);
        let world_from_wire_end = world_from_flange * self.cell.torch.flange_from_tool * tool_from_wire_end;
        let row = PathRow {
            t,
            phase: subject.event.kind,
            station: subject.station,
            seam: subject.event.seam,
            place,
            axes: stance.axes,
            external: stance.external,
            world_from_wire_end,
            ctwd,
            speed,
            clearance: CLEARANCE_CAP,
        };
        let seam = subject.event.seam.filter(|_| serves_a_weld(subject.kind()));
        self.rows.push(Served { row, seam, openings: subject.openings(self.cell) });
    }

    /// Speed of the wire end at the nominal CTWD, m/s, when the axes at `axes` turn at `rates`.
    fn speed_of_axes(&self, axes: &AxisValues, rates: &AxisValues) -> f64 {
        let wire_end_in_flange = Point3::from(self.cell.torch.flange_from_tool.translation.vector);
        let twist = self.cell.arm.arm.jacobian(axes, &wire_end_in_flange) * rates;
        twist.fixed_rows::<3>(0).norm()
    }

    /// Speed of the wire end at the nominal CTWD in the world, m/s, while arm and external axes move.
    fn speed_of_all(&self, motion: &Motion) -> f64 {
        let wire_end_in_flange = Point3::from(self.cell.torch.flange_from_tool.translation.vector);
        let twist = self.cell.arm.arm.jacobian(&motion.stance.axes, &wire_end_in_flange) * motion.rates.axes;
        let own = self.world_from_base(&motion.stance.external).rotation * twist.fixed_rows::<3>(0);
        (own + self.velocity_of_mount(&motion.stance, &motion.rates.external)).norm()
    }

    /// Velocity of the wire end in the world, m/s, by the external axes that carry the arm alone, moving at `rates`.
    fn velocity_of_mount(&self, stance: &Stance, rates: &[f64]) -> Vector3<f64> {
        let frames = &self.cell.frames;
        let wire_end = self.world_from_base(&stance.external)
            * self.cell.arm.arm.base_from_flange(&stance.axes)
            * Point3::from(self.cell.torch.flange_from_tool.translation.vector);
        let mut velocity = Vector3::zeros();
        let mut next = Some(self.cell.arm.frame);
        while let Some(id) = next {
            let frame = &frames.frames[id.0];
            if let Some(axis) = frame.axis {
                let world_from_frame = frames.world_from(id, &stance.external);
                let direction = world_from_frame.rotation * frames.axes[axis].direction.into_inner();
                velocity += rates[axis]
                    * match frames.axes[axis].kind {
                        AxisKind::Turn => {
                            direction.cross(&(wire_end.coords - world_from_frame.translation.vector))
                        }
                        AxisKind::Slide => direction,
                    };
            }
            next = frame.parent;
        }
        velocity
    }

    fn place(&self, subject: &Subject<'_>, point: &PathPoint) -> Option<Place> {
        let seam = &self.cell.seams[subject.event.seam?.0];
        let own = subject.event.planned_move.map(|own| &subject.visit.moves[own].kind);
        let s = match own {
            Some(MoveKind::CraterBack { run }) => seam.runs[*run].end - point.s,
            _ => point.s,
        };
        point.angles.map(|angles| Place { pass: seam.pass, s, angles })
    }

    fn ctwd(&self, weld_end: Option<&PathPoint>) -> f64 {
        weld_end.and_then(|point| point.angles).map_or(self.cell.torch.nominal_ctwd, |angles| angles.ctwd)
    }

    fn world_from_base(&self, external: &[f64]) -> Pose {
        self.cell.frames.world_from(self.cell.arm.frame, external) * self.cell.arm.frame_from_base
    }
}
