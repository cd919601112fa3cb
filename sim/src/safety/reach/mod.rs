//! Decides where the arm can be at any values of its axes, and how far that gets out of a space or toward a field.
//!
//! Looked for from the best stances of a `grid` over the ranges of axes 1 to 3 and of the axes that carry the arm, in ever smaller steps of
//! all axes. Of the surface of a space counts what lies within the outline that points of arm and torch draw about axis 1, or, of an arm that
//! is carried, within the ball about its foot; no higher and no lower than they get.

mod grid;
mod outline;
mod sought;
mod surface;

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose, Range};

use super::bodies::{MovingBodies, MovingBody};
use super::going::Going;
use super::spaces::ON_THE_EDGE;
use super::upright::Counted;
use crate::cell::{Cell, Zone, ZoneId};
use crate::schedule::Stance;
use grid::Grid;
use outline::Outline;
pub(super) use sought::Toward;
use sought::{Inside, Sought};

/// From so many stances of the grid, no two of them alike to within a step, the farthest is searched.
const STARTS: usize = 8;
/// First and last step of that search, rad or m.
const FIRST_STEP: f64 = 0.35;
const LAST_STEP: f64 = 1e-5;

/// How far something gets out of a zone: all that the arm reaches, or what of that lies in another zone.
#[derive(Clone, Copy)]
pub(super) struct Question {
    pub(super) inner: Option<ZoneId>,
    pub(super) outer: ZoneId,
}

/// What the arm reaches.
pub(super) struct Reach<'c> {
    cell: &'c Cell,
    base_from_world: Pose,
    /// Farthest point from where the middle of its foot rests, m.
    pub(super) distance: f64,
    /// Of an arm that nothing carries, in its base frame.
    outline: Option<Outline>,
    /// Lowest and highest point in the world, m.
    heights: [f64; 2],
    /// Of each question how far outside it gets, m, and where; then of each field how far past it.
    pub(super) out_of: Vec<Option<(f64, Point3<f64>)>>,
}

/// Arm and torch at any values of the axes.
#[derive(Clone, Copy)]
struct Arm<'c> {
    cell: &'c Cell,
    bodies: &'c MovingBodies,
}

impl<'c> Arm<'c> {
    fn bodies(self) -> impl Iterator<Item = &'c MovingBody> {
        self.bodies.bodies.iter().filter(|body| body.is_of_arm())
    }

    /// The farthest of all points at a stance, where it is beyond `than`.
    fn farthest(self, sought: &Sought<'_>, stance: &Stance, than: f64) -> Option<(f64, Point3<f64>)> {
        let going = Going::new(self.cell, stance);
        let mut best: Option<(f64, Point3<f64>)> = None;
        for body in self.bodies() {
            let most = |best: &Option<(f64, Point3<f64>)>| best.map_or(than, |(farthest, _)| farthest);
            let pose = going.world_from_carrier(body);
            if sought.bound(body.reach, &(pose * body.middle)) <= most(&best) {
                continue;
            }
            for point in &body.points {
                let point = pose * point;
                if let Some(far) = sought.at(body.radius, &point)
                    && far > most(&best)
                {
                    best = Some((far, point));
                }
            }
        }
        best
    }

    /// The farthest that is found from a stance by going on along one axis after the other, in ever smaller steps.
    fn climbed(self, sought: &Sought<'_>, start: Stance) -> Option<(f64, Point3<f64>)> {
        let within = |range: &Range, value: f64| value.clamp(range.min, range.max);
        let arm = self.cell.arm.arm.axes();
        let carriers = carriers(self.cell);
        let mut best = self.farthest(sought, &start, f64::NEG_INFINITY)?;
        let mut here = start;
        let mut step = FIRST_STEP;
        while step > LAST_STEP {
            let mut went = false;
            for variable in 0..6 + carriers.len() {
                for by in [step, -step] {
                    let mut next = here.clone();
                    if variable < 6 {
                        next.axes[variable] = within(&arm[variable].range, here.axes[variable] + by);
                    } else {
                        let axis = carriers[variable - 6];
                        next.external[axis] =
                            within(&self.cell.frames.axes[axis].range, here.external[axis] + by);
                    }
                    if let Some(found) = self.farthest(sought, &next, best.0) {
                        (here, best, went) = (next, found, true);
                    }
                }
            }
            if !went {
                step /= 2.0;
            }
        }
        Some(best)
    }
}

impl<'c> Reach<'c> {
    pub(super) fn new(
        cell: &'c Cell,
        bodies: &'c MovingBodies,
        questions: &[Question],
        fronts: &[(ZoneId, Toward<'_>)],
    ) -> Self {
        let from_world = |zone: ZoneId| zone_from_world(cell, &cell.zones[zone.0]);
        let inner = |zone: ZoneId| (Inside(&cell.zones[zone.0].region), from_world(zone));
        let outer = |zone: ZoneId| (Counted::new(cell, &cell.zones[zone.0]), from_world(zone));
        let floor = cell.safeguarding.floor - ON_THE_EDGE;
        let out_of = questions.iter().map(|question| Sought::OutOf {
            inner: question.inner.map(inner),
            outer: outer(question.outer),
            floor,
        });
        let foot = world_from_base(cell) * Point3::origin();
        let sought: Vec<Sought<'_>> = out_of
            .chain(fronts.iter().map(|(_, toward)| Sought::Toward { toward, floor }))
            .chain([Sought::High(-1.0), Sought::High(1.0), Sought::FromFoot(foot)])
            .collect();
        let arm = Arm { cell, bodies };
        let grid = Grid::new(cell);
        let searched = |sought: &Sought<'_>| {
            let starts = grid.best(arm, sought, STARTS).into_par_iter();
            let found: Vec<_> = starts.filter_map(|start| arm.climbed(sought, start)).collect();
            found.into_iter().reduce(farther)
        };
        let mut out_of: Vec<Option<(f64, Point3<f64>)>> = sought.par_iter().map(searched).collect();
        let distance = out_of.pop().flatten().map_or(0.0, |(distance, _)| distance);
        let highest = out_of.pop().flatten().map_or(f64::INFINITY, |(height, _)| height);
        let lowest = out_of.pop().flatten().map_or(f64::NEG_INFINITY, |(depth, _)| -depth);
        let asks_for_surfaces =
            !fronts.is_empty() || questions.iter().any(|question| question.inner.is_some());
        let outline = (carriers(cell).is_empty() && asks_for_surfaces)
            .then(|| Outline::new(arm, &grid.stances_about_first(cell), distance));
        let base_from_world = world_from_base(cell).inverse();
        Self { cell, base_from_world, distance, outline, heights: [lowest, highest], out_of }
    }

    /// Points of the surface of a zone to which the arm may come, in the world, none below the floor.
    pub(super) fn surface_of(&self, zone: ZoneId) -> Vec<Point3<f64>> {
        let floor = self.cell.safeguarding.floor - ON_THE_EDGE;
        let zone = &self.cell.zones[zone.0];
        let world_from_zone = zone_from_world(self.cell, zone).inverse();
        let points = surface::points(&zone.region).into_iter().map(|point| world_from_zone * point);
        points.filter(|point| point.z >= floor && self.has(point)).collect()
    }

    /// Whether the arm may come to a point.
    fn has(&self, point: &Point3<f64>) -> bool {
        let [lowest, highest] = self.heights;
        if !(lowest..=highest).contains(&point.z) {
            return false;
        }
        let own = self.base_from_world * point;
        self.outline.as_ref().map_or(own.coords.norm() <= self.distance, |outline| outline.has(&own))
    }
}

/// External axes that carry the arm.
fn carriers(cell: &Cell) -> Vec<usize> {
    (0..cell.frames.axes.len()).filter(|&axis| cell.frames.moves_with(cell.arm.frame, axis)).collect()
}

/// `world_from_base`, external axes at rest.
fn world_from_base(cell: &Cell) -> Pose {
    cell.frames.world_from(cell.arm.frame, &cell.frames.rest()) * cell.arm.frame_from_base
}

/// The farther one; of equals the first.
pub(super) fn farther(most: (f64, Point3<f64>), other: (f64, Point3<f64>)) -> (f64, Point3<f64>) {
    if other.0 > most.0 { other } else { most }
}

/// `zone_from_world`, external axes at rest.
pub(super) fn zone_from_world(cell: &Cell, zone: &Zone) -> Pose {
    (cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone).inverse()
}

/// Axis values and those of the external axes.
fn stance(axes: AxisValues, external: &[f64]) -> Stance {
    Stance { axes, external: external.into() }
}
