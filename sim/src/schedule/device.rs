//! Decides how long the arm takes from home to a device that serves its torch, and back.

use crate::cell::Cell;
use crate::motion::{AxisMove, AxisPath, LinearMove, Pace, ToolSpeed, Waypoint};
use crate::plan::{DeviceRoute, DeviceWay};

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

/// Every device way that holds, timed: the moves that lead there, and the same ones back.
pub(super) fn device_times(cell: &Cell, devices: &[DeviceWay]) -> Vec<DeviceTimes> {
    devices
        .iter()
        .filter_map(|device| {
            let route = device.way.as_ref().ok()?;
            let speed = cell.service[device.service].device.as_ref()?.approach_speed;
            Some(DeviceTimes {
                service: device.service,
                visit: device.station.0,
                ways: 2.0 * there(cell, route, speed),
                in_turn: route.clear_while_turning == Some(true),
            })
        })
        .collect()
}

fn there(cell: &Cell, route: &DeviceRoute, approach_speed: f64) -> f64 {
    let (arm, pace) = (&cell.arm.arm, Pace::of(&cell.arm));
    let moves = route.air.windows(2).map(|pair| AxisMove::new(arm, pair[0], pair[1], pace).duration());
    let points = route.approach.iter().map(|point| Waypoint { s: point.s, axes: point.axes });
    let tool = ToolSpeed { speed: approach_speed, slow: None };
    let approach =
        AxisPath::new(points).map_or(0.0, |path| LinearMove::new(arm, path, tool, pace).duration());
    // A stop after each move.
    let stops = route.air.len() as f64;
    moves.sum::<f64>() + approach + stops * cell.arm.settle
}
