//! Decides how long the arm takes from home to a device that serves its torch, and back.

use seamwright_kinematics::AxisValues;

use super::service_way::ServiceWay;
use super::visit::tool_speed_limit;
use crate::cell::Cell;
use crate::motion::{AxisMove, AxisPath, Limits, LinearMove, Pace, ToolSpeed, Waypoint};
use crate::plan::{DeviceRoute, Plan};

/// The times of the way to one device, after the weld of one station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeviceTimes {
    /// Index into the cell's service stops.
    pub service: usize,
    /// Index of the visit that it follows.
    pub visit: usize,
    /// There and back, s.
    pub ways: f64,
    /// Whether the way is clear while external axes go on to the next station, and the file lets the arm go then.
    pub in_turn: bool,
}

/// Every device way that holds, one after the other from `start` (s), and how long each takes.
pub(super) fn service_ways(cell: &Cell, plan: &Plan, mut start: f64) -> (Vec<ServiceWay>, Vec<DeviceTimes>) {
    let (mut ways, mut times) = (Vec::new(), Vec::new());
    for device in &plan.devices {
        let (Some(way), Ok(route)) = (ServiceWay::new(cell, plan, device, start), &device.way) else {
            continue;
        };
        start += way.duration();
        times.push(DeviceTimes {
            service: device.service,
            visit: device.station.0,
            ways: way.ways(),
            in_turn: route.while_turning == Some(Ok(())),
        });
        ways.push(way);
    }
    (ways, times)
}

/// A piece of the way to a device: a move, or coming to rest after one.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) of: PieceOf,
    /// s.
    pub(super) duration: f64,
    /// Whether it belongs to the straight way in.
    pub(super) straight: bool,
}

/// How the arm goes over it.
#[derive(Clone, Debug)]
pub(super) enum PieceOf {
    Axis(AxisMove),
    Linear(LinearMove),
    Standing(AxisValues),
}

impl PieceOf {
    /// Axis values `t` seconds after its start.
    pub(super) fn at(&self, t: f64) -> AxisValues {
        match self {
            Self::Axis(axis_move) => axis_move.at(t),
            Self::Linear(linear_move) => linear_move.at(t),
            Self::Standing(axes) => *axes,
        }
    }
}

/// The way from home to a device, piece by piece, with a stop after each move.
pub(super) fn way_there(cell: &Cell, route: &DeviceRoute, approach_speed: f64) -> Vec<Piece> {
    let (arm, pace) = (&cell.arm.arm, Pace::of(&cell.arm));
    let mut pieces = Vec::new();
    let mut add = |of: PieceOf, duration: f64, straight: bool| {
        let end = of.at(duration);
        pieces.push(Piece { of, duration, straight });
        pieces.push(Piece { of: PieceOf::Standing(end), duration: cell.arm.settle, straight });
    };
    for pair in route.air.windows(2) {
        let others: Vec<Limits> = tool_speed_limit(cell, &pair[0], &pair[1]).into_iter().collect();
        let axis_move = AxisMove::with_others(arm, pair[0], pair[1], pace, &others);
        let duration = axis_move.duration();
        add(PieceOf::Axis(axis_move), duration, false);
    }
    let points = route.approach.iter().map(|point| Waypoint { s: point.s, axes: point.axes });
    let tool = ToolSpeed { speed: approach_speed, slow: None };
    if let Some(path) = AxisPath::new(points) {
        let linear_move = LinearMove::new(arm, path, tool, pace);
        let duration = linear_move.duration();
        add(PieceOf::Linear(linear_move), duration, true);
    }
    pieces
}
