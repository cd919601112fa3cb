//! Decides where the arm can be at any values of its axes, and how far that gets out of a space or toward a field.
//!
//! Looked for from the best stances of a `grid` over the ranges of axes 1 to 3 and of the axes that carry the arm, in ever smaller steps of
//! all axes. Of the surface of a space counts what lies within the outline that points of arm and torch draw about axis 1, wherever on a level
//! track that is, or, of an arm that is carried otherwise, within the ball about its foot; no higher and no lower than they get.

mod grid;
mod outline;
mod sought;
mod surface;

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose, Range};

use super::bodies::{MovingBodies, MovingBody};
use super::going::Going;
use super::spaces::ON_THE_EDGE;
use super::upright::Counted;
use crate::cell::frames::AxisKind;
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
/// A track that rises by no more is level, m.
const ROUNDING: f64 = 1e-9;

/// What the arm reaches.
pub(super) struct Reach<'c> {
    cell: &'c Cell,
    base_from_world: Pose,
    /// Farthest point from where the middle of its foot rests, m.
    pub(super) distance: f64,
    /// Of an arm that nothing carries, or one level track, in its base frame.
    outline: Option<Outline>,
    /// From where its foot rests to both ends of a track that carries it, in its base frame, m.
    track: [Vector3<f64>; 2],
    /// Lowest and highest point in the world, m.
    heights: [f64; 2],
    arm: Arm<'c>,
    grid: Grid,
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

    /// The farthest that is found from the best stances of the grid.
    fn searched(self, grid: &Grid, sought: &Sought<'_>) -> Option<(f64, Point3<f64>)> {
        let starts = grid.best(self, sought, STARTS).into_par_iter();
        let found: Vec<_> = starts.filter_map(|start| self.climbed(sought, start)).collect();
        found.into_iter().reduce(farther)
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
    pub(super) fn new(cell: &'c Cell, bodies: &'c MovingBodies) -> Self {
        let (arm, grid) = (Arm { cell, bodies }, Grid::new(cell));
        let foot = world_from_base(cell) * Point3::origin();
        let ends = [Sought::High(-1.0), Sought::High(1.0), Sought::FromFoot(foot)];
        let ends: Vec<Option<f64>> = ends.par_iter().map(|end| Some(arm.searched(&grid, end)?.0)).collect();
        let distance = ends[2].unwrap_or(0.0);
        let track = track(cell);
        let outline = track.map(|_| Outline::new(arm, &grid.stances_about_first(cell), distance));
        let track = track.unwrap_or_default();
        let heights = [ends[0].map_or(f64::NEG_INFINITY, |depth| -depth), ends[1].unwrap_or(f64::INFINITY)];
        let base_from_world = world_from_base(cell).inverse();
        Self { cell, base_from_world, distance, outline, track, heights, arm, grid }
    }

    /// How far the arm gets out of a zone, m, and where: with all that it reaches, or with what of that lies in another zone.
    pub(super) fn out_of(&self, inner: Option<ZoneId>, outer: ZoneId) -> Option<(f64, Point3<f64>)> {
        let from_world = |zone: ZoneId| zone_from_world(self.cell, &self.cell.zones[zone.0]);
        let inside = |zone: ZoneId| (Inside(&self.cell.zones[zone.0].region), from_world(zone));
        let outer = (Counted::new(self.cell, &self.cell.zones[outer.0]), from_world(outer));
        self.arm.searched(&self.grid, &Sought::OutOf { inner: inner.map(inside), outer, floor: self.floor() })
    }

    /// How far what the arm reaches of the restricted space comes past a field, m, and where.
    pub(super) fn past(&self, toward: &Toward<'_>) -> Option<(f64, Point3<f64>)> {
        self.arm.searched(&self.grid, &Sought::Toward { toward, floor: self.floor() })
    }

    fn floor(&self) -> f64 {
        self.cell.safeguarding.floor - ON_THE_EDGE
    }

    /// Points of the surface of a zone to which the arm may come, in the world, none below the floor.
    pub(super) fn surface_of(&self, zone: ZoneId) -> Vec<Point3<f64>> {
        let zone = &self.cell.zones[zone.0];
        let world_from_zone = zone_from_world(self.cell, zone).inverse();
        let points = surface::points(&zone.region).into_iter().map(|point| world_from_zone * point);
        points.filter(|point| point.z >= self.floor() && self.has(point)).collect()
    }

    /// Whether the arm may come to a point.
    fn has(&self, point: &Point3<f64>) -> bool {
        let [lowest, highest] = self.heights;
        if !(lowest..=highest).contains(&point.z) {
            return false;
        }
        let own = self.base_from_world * point;
        let Some(outline) = &self.outline else { return own.coords.norm() <= self.distance };
        // From where on the track it is nearest.
        let along = self.track[1] - self.track[0];
        let share = along.dot(&(own.coords - self.track[0])) / along.norm_squared();
        let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        outline.has(&(own - self.track[0] - along * share))
    }
}

/// External axes that carry the arm.
fn carriers(cell: &Cell) -> Vec<usize> {
    (0..cell.frames.axes.len()).filter(|&axis| cell.frames.moves_with(cell.arm.frame, axis)).collect()
}

/// From where the foot of the arm rests to both ends of the track that carries it, in its base frame, m: the same where nothing does. None where more than
/// one axis does, or one that turns it or lifts it.
fn track(cell: &Cell) -> Option<[Vector3<f64>; 2]> {
    let carriers = carriers(cell);
    let [axis] = carriers.as_slice() else { return carriers.is_empty().then(Default::default) };
    let external = &cell.frames.axes[*axis];
    let Range { min, max, .. } = external.range;
    let base_from_world = world_from_base(cell).inverse();
    let foot_at = |value: f64| {
        let mut at = cell.frames.rest();
        at[*axis] = value;
        base_from_world
            * cell.frames.world_from(cell.arm.frame, &at)
            * cell.arm.frame_from_base
            * Point3::origin()
    };
    let ends = [min, max].map(|end| foot_at(end).coords);
    let is_level = (ends[1] - ends[0]).z.abs() <= ROUNDING;
    (external.kind == AxisKind::Slide && min.is_finite() && max.is_finite() && is_level).then_some(ends)
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
