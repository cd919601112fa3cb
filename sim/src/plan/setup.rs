//! Decides what stands still while a seam is welded, and which stances of the arm put the torch where it is wanted.

use std::borrow::Cow;

use nalgebra::Translation3;
use seamwright_kinematics::{AxisValues, Configuration, Pose, Solutions};

use super::ExternalLaw;
use super::clearance::Scene;
use super::steps::Steps;
use super::violation::{Limit, Violation};
use super::whole_turns::WholeTurns;
use crate::cell::{Cell, SeamId, Solid, StationId, frames::ExternalValues};

/// One station with the external axes at given values.
#[derive(Clone)]
pub(super) struct Setup<'c> {
    pub cell: &'c Cell,
    pub station: StationId,
    /// How many of the station's openings of clamps have been.
    pub openings: usize,
    pub external: ExternalValues,
    pub base_from_station: Pose,
    pub scene: Scene<'c>,
    /// For each axis, a distance (m) from its line within which everything that it moves stays.
    pub reach_beyond: AxisValues,
    /// On which whole turns the axes are tried.
    pub whole_turns: WholeTurns,
    tool_from_flange: Pose,
    only: Option<Configuration>,
}

/// One station with the external axes following a law along a seam.
pub(super) struct Along<'c> {
    /// Where the law begins.
    pub setup: Setup<'c>,
    pub law: ExternalLaw,
}

impl<'c> Along<'c> {
    pub fn new(setup: &Setup<'c>, law: ExternalLaw) -> Self {
        Self { setup: setup.at(law.start()), law }
    }

    /// The external axes stay where `setup` has them.
    pub fn held(setup: &Setup<'c>) -> Self {
        Self { setup: setup.clone(), law: ExternalLaw::held(setup.external.clone()) }
    }

    /// The setup at arc length `s` (m).
    pub fn at(&self, s: f64) -> Cow<'_, Setup<'c>> {
        if self.law.is_held() {
            Cow::Borrowed(&self.setup)
        } else {
            Cow::Owned(self.setup.at(&self.law.at(s)))
        }
    }
}

/// The arm with the torch at a wanted pose.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stance {
    /// Axis values, every axis on the turn meant.
    pub axes: AxisValues,
    /// The worst limit of the arm itself that is not kept; clearance is not looked at here.
    pub violation: Option<Violation>,
}

impl<'c> Setup<'c> {
    /// Where a seam is welded, its external axes as it says.
    pub fn of_seam(cell: &'c Cell, seam: SeamId, only: Option<Configuration>) -> Self {
        let seam = &cell.seams[seam.0];
        Self::after(cell, (seam.station, seam.openings), &seam.external, only)
    }

    /// After so many openings of the station's clamps.
    pub fn after(
        cell: &'c Cell,
        (station, openings): (StationId, usize),
        external: &[f64],
        only: Option<Configuration>,
    ) -> Self {
        Self {
            cell,
            station,
            openings,
            external: external.to_vec(),
            base_from_station: base_from_station(cell, station, external),
            scene: Scene::after(cell, station, openings, external),
            reach_beyond: reach_beyond(cell),
            whole_turns: WholeTurns::new(cell),
            tool_from_flange: cell.torch.flange_from_tool.inverse(),
            only,
        }
    }

    /// How fine a search looks here.
    pub fn steps(&self) -> Steps {
        Steps::of(self.cell)
    }

    /// The same station with the external axes at other values; shares every body with this one.
    pub fn at(&self, external: &[f64]) -> Self {
        Self {
            external: external.to_vec(),
            base_from_station: base_from_station(self.cell, self.station, external),
            scene: self.scene.at(external),
            ..*self
        }
    }

    /// `base_from_flange` for a wire end at `station_from_wire_end`, `ctwd` (m) below the contact tip.
    pub fn base_from_flange(&self, station_from_wire_end: &Pose, ctwd: f64) -> Pose {
        let wire_end_from_tool = Translation3::new(0.0, 0.0, self.cell.torch.nominal_ctwd - ctwd);
        self.base_from_station * station_from_wire_end * wire_end_from_tool * self.tool_from_flange
    }

    /// `station_from_wire_end` for given axis values.
    pub fn station_from_wire_end(&self, axes: &AxisValues, ctwd: f64) -> Pose {
        let tool_from_wire_end = Translation3::new(0.0, 0.0, ctwd - self.cell.torch.nominal_ctwd);
        self.base_from_station.inverse()
            * self.cell.arm.arm.base_from_flange(axes)
            * self.cell.torch.flange_from_tool
            * tool_from_wire_end
    }

    /// The same with the external axes at other values.
    pub fn station_from_wire_end_at(&self, external: &[f64], axes: &AxisValues, ctwd: f64) -> Pose {
        let base_from_station = base_from_station(self.cell, self.station, external);
        base_from_station.inverse() * self.base_from_station * self.station_from_wire_end(axes, ctwd)
    }

    /// Every stance for a flange pose: each solution on every turn `tried` inside the ranges, or on its nearest turn outside;
    /// where the pose is out of reach, one that says so.
    pub fn stances(&self, base_from_flange: &Pose, tried: &WholeTurns, stances: &mut Vec<Stance>) {
        let solutions = self.cell.arm.arm.inverse(base_from_flange, &self.cell.arm.home);
        self.stances_of(&solutions, tried, stances);
    }

    /// The same for many flange poses: `each` is told the place in `base_from_flange` and the stances there, in order.
    pub fn stances_each(
        &self,
        base_from_flange: &[Pose],
        tried: &WholeTurns,
        mut each: impl FnMut(usize, &[Stance]),
    ) {
        let mut stances = Vec::new();
        self.cell.arm.arm.inverse_each(base_from_flange, &self.cell.arm.home, |pose, solutions| {
            stances.clear();
            self.stances_of(solutions, tried, &mut stances);
            each(pose, &stances);
        });
    }

    fn stances_of(&self, solutions: &Solutions, tried: &WholeTurns, stances: &mut Vec<Stance>) {
        let arm = &self.cell.arm.arm;
        if let Some(shortfall) = solutions.shortfall {
            stances.push(Stance {
                axes: self.cell.arm.home,
                violation: Some(Violation::of_shortfall(&shortfall)),
            });
        }
        for solution in &solutions.all {
            if self.only.is_some_and(|only| arm.configuration(&solution.axes) != only) {
                continue;
            }
            let before = stances.len();
            let turns = arm.turns_within(&solution.axes, &tried.tried);
            stances.extend(turns.map(|axes| self.stance(axes)));
            if stances.len() == before {
                let other = arm.turns_in_range(&solution.axes).next();
                let nearest = || self.nearest_turn_to_ranges(&solution.axes);
                stances.push(self.stance(other.unwrap_or_else(nearest)));
            }
        }
    }

    /// The stance nearest to `near` that puts the flange there, whatever its limits.
    pub fn stance_near(&self, base_from_flange: &Pose, near: &AxisValues) -> Result<AxisValues, Violation> {
        let arm = &self.cell.arm.arm;
        let solutions = arm.inverse(base_from_flange, near);
        let nearest = solutions
            .all
            .iter()
            .map(|solution| arm.nearest_turn(&solution.axes, near))
            .min_by(|a, b| (a - near).amax().total_cmp(&(b - near).amax()));
        nearest.ok_or_else(|| match solutions.shortfall {
            Some(shortfall) => Violation::of_shortfall(&shortfall),
            None => Violation::of_jump(0, 0.0),
        })
    }

    /// The worst limit of the arm itself that `axes` does not keep.
    pub fn axis_violation(&self, axes: &AxisValues) -> Option<Violation> {
        let ranges = self.cell.arm.arm.range_uses(axes).filter_map(|at| Violation::of_range_use(&at));
        let hose = self.cell.torch.dress.values(axes);
        let hose =
            hose.filter_map(|(name, range, value)| Violation::of_range(&range, value, Limit::Hose(name)));
        ranges.chain(hose).reduce(|worst, next| worst.worse(Some(next)))
    }

    fn stance(&self, axes: AxisValues) -> Stance {
        Stance { axes, violation: self.axis_violation(&axes) }
    }

    /// Each axis on the whole turn that lies least outside its own range; motors are not asked.
    fn nearest_turn_to_ranges(&self, axes: &AxisValues) -> AxisValues {
        let ranges = self.cell.arm.arm.axes();
        AxisValues::from_fn(|i, _| {
            let middle = 0.5 * (ranges[i].range.min + ranges[i].range.max);
            // That of an endless range is no number.
            let middle = if middle.is_finite() { middle } else { axes[i] };
            axes[i] + ((middle - axes[i]) / std::f64::consts::TAU).round() * std::f64::consts::TAU
        })
    }
}

fn base_from_station(cell: &Cell, station: StationId, external: &[f64]) -> Pose {
    let world_from_base = cell.frames.world_from(cell.arm.frame, external) * cell.arm.frame_from_base;
    world_from_base.inverse() * cell.frames.world_from(cell.stations[station.0].frame, external)
}

/// For each axis, a distance (m) from its line within which everything that it moves stays: shapes of its own link, and beyond the
/// next axis whatever that one moves.
fn reach_beyond(cell: &Cell) -> AxisValues {
    let arm = &cell.arm.arm;
    let own = |link: usize| {
        let shapes = cell.arm.shapes.iter().filter(move |shape| shape.link == link);
        shapes.map(|shape| farthest(&shape.link_from_shape, &shape.solid)).fold(0.0, f64::max)
    };
    let torch = cell.torch.shapes.iter();
    let torch =
        torch.map(|shape| farthest(&(arm.link6_from_flange() * shape.flange_from_shape), &shape.solid));
    let mut reach = AxisValues::repeat(torch.fold(own(6), f64::max));
    for i in (0..5).rev() {
        let beyond = reach[i + 1] + arm.axes()[i + 1].origin.translation.vector.norm();
        reach[i] = beyond.max(own(i + 1));
    }
    reach
}

/// Distance from the link's origin that no point of a shape on it exceeds, m.
fn farthest(link_from_shape: &Pose, solid: &Solid) -> f64 {
    link_from_shape.translation.vector.norm() + solid.farthest_point()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::{LinkShape, read::read_cell};

    /// A long bar at the elbow: the step of air moves must be set by its end, not by the line of links.
    #[test]
    fn every_corner_of_arm_and_torch_stays_within_the_reach_of_each_axis_that_moves_it() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let mut cell = read_cell(&file).unwrap();
        cell.arm.shapes.push(LinkShape {
            name: "bar".to_owned(),
            link: 3,
            link_from_shape: Pose::translation(-1.5, 0.0, 0.0),
            solid: Solid::Box { half: nalgebra::Vector3::new(1.5, 0.02, 0.02) },
        });
        let reach = reach_beyond(&cell);
        let farthest_corner = nalgebra::Vector3::new(3.0_f64, 0.02, 0.02).norm();
        assert!(reach[2] >= farthest_corner, "axis 3 reaches {} m, the bar {farthest_corner} m", reach[2]);
        assert!(reach[3] < 1.5, "axis 4 does not move the bar, but is said to reach {} m", reach[3]);
        let forward = cell.arm.arm.forward(&cell.arm.home);
        let wire_end = forward.base_from_flange * cell.torch.flange_from_tool;
        for axis in 0..6 {
            let from_axis = forward.base_from_link[axis + 1].inverse() * wire_end;
            assert!(reach[axis] >= from_axis.translation.vector.norm(), "axis {} to the wire end", axis + 1);
        }
    }
}
