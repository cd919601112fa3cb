//! Decides where everything is on the ways to devices that serve the torch: rows that follow those of the round.
//!
//! Each way is told once after the weld of each station, one after the other, with the external axes as that visit leaves them: from home
//! to the device, the work, and back the same way in the same time.

use seamwright_kinematics::AxisValues;

use super::{CLEARANCE_CAP, LEAST_STEP, PathRow, ROW_INTERVAL, Table};
use crate::cell::frames::ExternalValues;
use crate::cell::{Cell, Presence, StationId};
use crate::plan::clearance::Scene;
use crate::plan::{DeviceRoute, Plan};
use crate::schedule::device::{Piece, PieceOf, way_there};
use crate::schedule::{EventKind, Schedule};

/// What the arm does for a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ServicePhase {
    /// Through the air, to it or home.
    Air,
    /// Straight in along the wire.
    In,
    /// It stands there.
    Work,
    /// Straight out.
    Out,
}

impl ServicePhase {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Air => "service_air",
            Self::In => "service_in",
            Self::Work => "service",
            Self::Out => "service_out",
        }
    }
}

/// One moment of a way to a device.
#[derive(Clone, Debug)]
pub struct ServiceRow {
    /// Index into the cell's service stops.
    pub service: usize,
    /// What the arm does.
    pub phase: ServicePhase,
    /// Where everything is; times go on after the round. On the straight way and at the device the clearance leaves out what may be
    /// touched there.
    pub row: PathRow,
}

/// The rows of every way to a device that holds.
#[must_use]
pub fn service_rows(cell: &Cell, plan: &Plan, schedule: &Schedule) -> Vec<ServiceRow> {
    let table = Table { cell, rows: Vec::new() };
    let mut rows: Vec<ServiceRow> = Vec::new();
    let mut start = schedule.round().last().copied().unwrap_or_default();
    for device in &plan.devices {
        let service = &cell.service[device.service];
        let (Ok(route), Some(at)) = (&device.way, &service.device) else { continue };
        let visit = &plan.visits[device.station.0];
        let way = Way {
            table: &table,
            station: device.station,
            openings: visit.openings_at(cell, visit.moves.len()),
            external: visit.external_end(cell),
            touched: without(cell, device.station, &at.touches),
        };
        let mut moments = way.moments(route, at.approach_speed, service.duration);
        for moment in &mut moments {
            moment.row.t += start;
        }
        let there = moments.last().map_or(start, |last| last.row.t);
        for moment in moments {
            if rows.last().is_none_or(|last| moment.row.t >= last.row.t + LEAST_STEP) && moment.row.t > start
            {
                rows.push(ServiceRow { service: device.service, ..moment });
            }
        }
        start = there;
    }
    rows
}

/// The cell as if shapes were not there while `station` is welded.
fn without(cell: &Cell, station: StationId, touched: &[crate::cell::ShapeId]) -> Cell {
    let mut cell = cell.clone();
    for shape in touched {
        let shape = &mut cell.shapes[shape.0];
        (shape.station, shape.presence) = (Some(station), Presence::Empty);
    }
    cell
}

/// What does not change on a way.
struct Way<'t> {
    table: &'t Table<'t>,
    station: StationId,
    openings: usize,
    external: ExternalValues,
    touched: Cell,
}

/// A piece as it is gone over, there or back; or the work, of which it is where the arm stands.
struct Leg<'p> {
    piece: &'p Piece,
    phase: ServicePhase,
    duration: f64,
}

impl<'p> Leg<'p> {
    /// `straight`: what it is where the piece is the straight way in.
    fn over(piece: &'p Piece, straight: ServicePhase) -> Self {
        let phase = if piece.straight { straight } else { ServicePhase::Air };
        Self { piece, phase, duration: piece.duration }
    }

    /// The instant of its piece `t` seconds after the leg's start.
    fn of_piece(&self, t: f64) -> f64 {
        match self.phase {
            ServicePhase::Work => self.piece.duration,
            _ => t,
        }
    }

    /// At most so far apart as rows are.
    fn steps(&self) -> f64 {
        let stands = self.phase == ServicePhase::Work || matches!(self.piece.of, PieceOf::Standing(_));
        if stands { 2.0 } else { (self.duration / ROW_INTERVAL).ceil().max(2.0) }
    }
}

impl Way<'_> {
    /// There, the work, and back; times from 0.
    fn moments(&self, route: &DeviceRoute, speed: f64, work: f64) -> Vec<ServiceRow> {
        let scene = |cell| Scene::after(cell, self.station, self.openings, &self.external);
        let scenes = [scene(self.table.cell), scene(&self.touched)];
        let pieces = way_there(self.table.cell, route, speed);
        let there = pieces.iter().map(|piece| (Leg::over(piece, ServicePhase::In), false));
        let stays = pieces.last().map(|piece| Leg { piece, phase: ServicePhase::Work, duration: work });
        let back = pieces.iter().rev().map(|piece| (Leg::over(piece, ServicePhase::Out), true));
        let (mut rows, mut start, mut home) = (Vec::new(), 0.0, None);
        // A wait of no time is none, and no row is told of it.
        let legs =
            there.chain(stays.map(|leg| (leg, false))).chain(back).filter(|(leg, _)| leg.duration > 0.0);
        for (leg, reversed) in legs {
            let steps = leg.steps();
            let moment = |t: f64| {
                let t_of_piece = if reversed { leg.duration - t } else { leg.of_piece(t) };
                self.moment(&scenes, &leg, t_of_piece, start + t)
            };
            // Durations are seconds to minutes: the count fits.
            rows.extend((0..steps as u32).map(|step| moment(leg.duration * f64::from(step) / steps)));
            home = Some(moment(leg.duration));
            start += leg.duration;
        }
        rows.extend(home);
        rows
    }

    fn moment(&self, scenes: &[Scene<'_>; 2], leg: &Leg<'_>, t: f64, at: f64) -> ServiceRow {
        let axes = leg.piece.of.at(t);
        let speed = match &leg.piece.of {
            _ if leg.phase == ServicePhase::Work => 0.0,
            PieceOf::Axis(axis_move) => self.table.speed_of_axes(&axes, &axis_move.rates_at(t)),
            PieceOf::Linear(linear_move) => linear_move.tool_speed_at(t),
            PieceOf::Standing(_) => 0.0,
        };
        let scene = &scenes[usize::from(leg.phase != ServicePhase::Air)];
        let clearance = scene.distance(&self.table.cell.arm.arm.forward(&axes), None, CLEARANCE_CAP);
        ServiceRow { service: 0, phase: leg.phase, row: self.row(&axes, at, speed, clearance) }
    }

    fn row(&self, axes: &AxisValues, t: f64, speed: f64, clearance: f64) -> PathRow {
        let cell = self.table.cell;
        let world_from_flange =
            self.table.world_from_base(&self.external) * cell.arm.arm.base_from_flange(axes);
        PathRow {
            t,
            phase: EventKind::AirMove,
            station: self.station,
            seam: None,
            place: None,
            axes: *axes,
            external: self.external.clone(),
            world_from_wire_end: world_from_flange * cell.torch.flange_from_tool,
            ctwd: cell.torch.nominal_ctwd,
            speed,
            clearance,
        }
    }
}
