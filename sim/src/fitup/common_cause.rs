//! Decides what errors that no body has do to a seam: places of fixtures, stops of axes, the tool centre point.

use std::ops::Range;

use nalgebra::{DMatrix, Vector3};

use super::cause::{Cause, Law, What};
use super::scheme::Scheme;
use super::seam_frame::Frame;
use super::shift::{Raw, own};
use crate::cell::{Body, Cell, Seam, StationId, frames::AxisKind};

/// Errors that no body has: places of fixtures, stops of axes, the tool centre point.
pub(super) struct Common {
    causes: Range<usize>,
    /// Errors of a station's fixture place in x, y and z: the first of three causes.
    fixtures: Vec<(StationId, usize)>,
    /// Axis and cause.
    axes: Vec<(usize, usize)>,
    tool: usize,
}

impl Common {
    pub(super) fn new(cell: &Cell, scheme: &Scheme, causes: &mut Vec<Cause>) -> Self {
        let variation = &scheme.variation;
        let tolerance = |limit| Law::tolerance(limit, variation.sigmas);
        let first = causes.len();
        let mut common = Self { causes: first..first, fixtures: Vec::new(), axes: Vec::new(), tool: first };
        for name in ["x", "y", "z"] {
            causes.push(own(What::ToolCentre, name, tolerance(variation.tool_centre), true));
        }
        for (index, station) in cell.stations.iter().enumerate() {
            if scheme.bodies.iter().any(|body| body.station == StationId(index)) {
                common.fixtures.push((StationId(index), causes.len()));
                for name in ["x", "y", "z"] {
                    let whose = format!("{} ({name})", station.name);
                    causes.push(own(What::FixturePlace, &whose, tolerance(variation.fixture), true));
                }
            }
        }
        for (index, axis) in cell.frames.axes.iter().enumerate() {
            let carries = |body: &Body| {
                let station = &cell.stations[body.station.0];
                cell.frames.moves_with(station.frame, index) != cell.frames.moves_with(cell.arm.frame, index)
            };
            // A slide of which nothing is stated is told as not counted: tracks differ too much for an assumption.
            let assumed = (axis.kind == AxisKind::Turn).then_some(variation.index);
            let Some(off) = scheme.axes[index].or(assumed) else { continue };
            if scheme.bodies.iter().any(carries) {
                common.axes.push((index, causes.len()));
                causes.push(own(What::Index, &axis.name, tolerance(off), false));
            }
        }
        common.causes = first..causes.len();
        common
    }

    pub(super) fn term(&self, cell: &Cell, seam: &Seam, points: &[&Frame]) -> Raw {
        /// Small enough that the motion is straight, large enough that it is not lost in rounding, rad or m.
        const SMALL: f64 = 1e-6;
        let count = self.causes.len();
        let station = &cell.stations[seam.station.0];
        let base_from_station = |external: &[f64]| {
            let world_from_base = cell.frames.world_from(cell.arm.frame, external) * cell.arm.frame_from_base;
            world_from_base.inverse() * cell.frames.world_from(station.frame, external)
        };
        let mut rows = DMatrix::zeros(3 * points.len(), count);
        let column = |cause: usize| cause - self.causes.start;
        for (point, frame) in points.iter().enumerate() {
            let mut put = |cause: usize, way: Vector3<f64>| {
                rows.view_mut((3 * point, column(cause)), (3, 1)).copy_from(&way);
            };
            for axis in 0..3 {
                put(self.tool + axis, -frame.tool.column(axis));
                for (_, first) in self.fixtures.iter().filter(|(of, _)| *of == seam.station) {
                    put(first + axis, Vector3::ith(axis, 1.0));
                }
            }
            for (axis, cause) in &self.axes {
                let still = base_from_station(&frame.external).inverse();
                let mut turned = frame.external.clone();
                turned[*axis] += SMALL;
                let moved = still * base_from_station(&turned) * frame.at;
                put(*cause, (moved - frame.at) / SMALL);
            }
        }
        let gaps = DMatrix::zeros(points.len(), count);
        Raw { body: None, causes: self.causes.clone(), rows, gaps }
    }
}
