//! Decides the rows of path.csv on the ways to devices that serve the torch, which follow those of the round.

use seamwright_kinematics::AxisValues;

use super::{CLEARANCE_CAP, LEAST_STEP, PathRow, ROW_INTERVAL, Table};
use crate::cell::{Cell, Presence, StationId};
use crate::plan::Plan;
use crate::plan::clearance::Scene;
use crate::schedule::device::PieceOf;
use crate::schedule::service_way::{Leg, ServicePhase, ServiceWay};
use crate::schedule::{EventKind, Schedule};

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
    for way in &schedule.service_ways {
        let Some(at) = &cell.service[way.service].device else { continue };
        let visit = &plan.visits[way.station.0];
        let touched = without(cell, way.station, &at.touches);
        let openings = visit.openings_at(cell, visit.moves.len());
        let scene = |cell| Scene::after(cell, way.station, openings, &way.external);
        let told = Told { table: &table, way, scenes: [scene(cell), scene(&touched)] };
        for row in told.rows() {
            if rows.last().is_none_or(|last| row.row.t >= last.row.t + LEAST_STEP) && row.row.t > way.start {
                rows.push(row);
            }
        }
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

/// A way as its rows tell it.
struct Told<'t> {
    table: &'t Table<'t>,
    way: &'t ServiceWay,
    /// In the air, and where something may be touched.
    scenes: [Scene<'t>; 2],
}

impl Told<'_> {
    fn rows(&self) -> Vec<ServiceRow> {
        let mut rows = Vec::new();
        for leg in &self.way.legs {
            let steps = leg.steps(ROW_INTERVAL);
            // Durations are seconds to minutes: the count fits.
            rows.extend((0..steps as u32).map(|step| self.row(leg, leg.duration * f64::from(step) / steps)));
        }
        rows.extend(self.way.legs.last().map(|leg| self.row(leg, leg.duration)));
        rows
    }

    /// The row `t` seconds after the leg's start.
    fn row(&self, leg: &Leg, t: f64) -> ServiceRow {
        let of_piece = leg.of_piece(t);
        let axes = leg.piece.of.at(of_piece);
        let speed = match &leg.piece.of {
            _ if leg.phase == ServicePhase::Work => 0.0,
            PieceOf::Axis(axis_move) => self.table.speed_of_axes(&axes, &axis_move.rates_at(of_piece)),
            PieceOf::Linear(linear_move) => linear_move.tool_speed_at(of_piece),
            PieceOf::Standing(_) => 0.0,
        };
        let scene = &self.scenes[usize::from(leg.phase != ServicePhase::Air)];
        let clearance = scene.distance(&self.table.cell.arm.arm.forward(&axes), None, CLEARANCE_CAP);
        let row = self.path_row(&axes, self.way.start + leg.start + t, speed, clearance);
        ServiceRow { service: self.way.service, phase: leg.phase, row }
    }

    fn path_row(&self, axes: &AxisValues, t: f64, speed: f64, clearance: f64) -> PathRow {
        let cell = self.table.cell;
        let external = &self.way.external;
        let world_from_flange = self.table.world_from_base(external) * cell.arm.arm.base_from_flange(axes);
        PathRow {
            t,
            phase: EventKind::AirMove,
            station: self.way.station,
            seam: None,
            place: None,
            axes: *axes,
            external: external.clone(),
            world_from_wire_end: world_from_flange * cell.torch.flange_from_tool,
            ctwd: cell.torch.nominal_ctwd,
            speed,
            clearance,
        }
    }
}
