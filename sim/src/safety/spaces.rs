//! Decides whether each space lies in the next: what really moves in the operating space, that in the restricted space, that in the
//! maximum space, and what the arm may take up in the safeguarded space (ISO 10218-2, 3.1.9).
//!
//! A limit that is drawn wider than the arm reaches is no fault: the inner space is looked at only where the arm can be at all. How
//! far that is comes from stances on a grid over the ranges of its axes.

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose, Range};

use super::bodies::MovingBodies;
use super::extent::{corners, signed_distance};
use super::gather::{Gathered, Nearest};
use crate::cell::{Cell, Region, Zone, ZoneId, ZoneRole};
use crate::units;

/// Step of the grid over axes 1 to 3.
const AXIS_STEP_DEG: f64 = 10.0;
/// Step of the grid on the surface of a space.
const SURFACE_STEP_MM: f64 = 50.0;
/// What sticks out by no more than this is drawn on the edge, m.
pub const ON_THE_EDGE: f64 = 1e-6;

/// What lies inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Inner {
    /// All that moves over the schedule, stopping included.
    Sweep,
    /// A space.
    Zone(ZoneId),
    /// All that the arm reaches at any values of its axes.
    Reach,
}

/// One step of the nest.
#[derive(Clone, Debug, PartialEq)]
pub struct Nested {
    /// What should lie inside.
    pub inner: Inner,
    /// In what.
    pub outer: ZoneId,
    /// How far it sticks out, m; negative: the room that is left, as far as it is known.
    pub out_by: f64,
    /// Where in the world it sticks out farthest, or has least room.
    pub point: Point3<f64>,
    /// Body and moment, of the sweep.
    pub sweep: Option<Nearest>,
}

impl Nested {
    /// Whether it lies inside.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.out_by <= ON_THE_EDGE
    }
}

/// What is learnt of the spaces.
#[derive(Clone, Debug, PartialEq)]
pub struct Spaces {
    /// Every step that could be looked at.
    pub nest: Vec<Nested>,
    /// How far any point of arm or torch gets from the middle of its foot at stances of the grid, m.
    pub reach: f64,
}

/// Looks at every step of the nest.
#[must_use]
pub fn spaces(cell: &Cell, bodies: &MovingBodies, gathered: &[Gathered]) -> Option<Spaces> {
    let find = |role: ZoneRole| cell.zones.iter().position(|zone| zone.role == role).map(ZoneId);
    let chain = [ZoneRole::OperatingSpace, ZoneRole::RestrictedSpace, ZoneRole::MaximumSpace].map(find);
    let safeguarded = find(ZoneRole::SafeguardedSpace);
    let present: Vec<ZoneId> = chain.into_iter().flatten().collect();
    if present.is_empty() && safeguarded.is_none() {
        return None;
    }
    let [_, restricted, maximum] = chain;
    // What nothing restricts may be anywhere it reaches.
    let unrestricted = safeguarded.filter(|_| restricted.is_none());
    let by_reach: Vec<ZoneId> = maximum.into_iter().chain(unrestricted).collect();
    let Reach { distance: reach, out_of } = Reach::new(cell, bodies, &by_reach);
    let mut nest = Vec::new();
    for outer in present.iter().chain(&safeguarded) {
        if let Some(nearest) = &gathered[outer.0].outermost {
            nest.push(Nested {
                inner: Inner::Sweep,
                outer: *outer,
                out_by: nearest.distance,
                point: nearest.point,
                sweep: Some(nearest.clone()),
            });
        }
    }
    for pair in present.windows(2) {
        nest.extend(zone_in_zone(cell, pair[0], pair[1], reach));
    }
    for (outer, out) in by_reach.into_iter().zip(out_of) {
        let step = |(out_by, point)| Nested { inner: Inner::Reach, outer, out_by, point, sweep: None };
        nest.extend(out.map(step));
    }
    if let Some((inner, outer)) = restricted.zip(safeguarded) {
        nest.extend(zone_in_zone(cell, inner, outer, reach));
    }
    Some(Spaces { nest, reach })
}

/// How far the arm gets at stances on a grid, external axes at rest.
struct Reach {
    /// Farthest point from the middle of the foot, m.
    distance: f64,
    /// Of each zone that was asked about: how far outside it the arm gets, m, and where.
    out_of: Vec<Option<(f64, Point3<f64>)>>,
}

impl Reach {
    fn new(cell: &Cell, bodies: &MovingBodies, zones: &[ZoneId]) -> Self {
        let external = cell.frames.rest();
        let foot = foot(cell);
        let zones: Vec<(&Region, Pose)> = zones
            .iter()
            .map(|zone| &cell.zones[zone.0])
            .map(|zone| (&zone.region, zone_from_world(cell, zone)))
            .collect();
        let at = |axes: &AxisValues| {
            let points = bodies.world_points(cell, axes, &external);
            let of_arm = || bodies.bodies.iter().zip(&points).filter(|(body, _)| body.is_of_arm());
            let each =
                || of_arm().flat_map(|(body, points)| points.iter().map(|point| (body.radius, *point)));
            let distance = each().map(|(radius, point)| (point - foot).norm() + radius).fold(0.0, f64::max);
            let out_of = zones.iter().map(|(region, zone_from_world)| {
                let out = |(radius, point): (f64, Point3<f64>)| {
                    (signed_distance(region, &(zone_from_world * point)) + radius, point)
                };
                each().map(out).reduce(farther)
            });
            Self { distance, out_of: out_of.collect() }
        };
        let of_stances: Vec<Self> = stances(cell).par_iter().map(at).collect();
        let nothing = Self { distance: 0.0, out_of: vec![None; zones.len()] };
        of_stances.into_iter().fold(nothing, |most, other| Self {
            distance: most.distance.max(other.distance),
            out_of: most
                .out_of
                .into_iter()
                .zip(other.out_of)
                .map(|(most, other)| [most, other].into_iter().flatten().reduce(farther))
                .collect(),
        })
    }
}

/// Axis values on a grid over the ranges of axes 1 to 3, the wrist straight and bent all the way.
fn stances(cell: &Cell) -> Vec<AxisValues> {
    let axes = cell.arm.arm.axes();
    let values = |range: &Range| -> Vec<f64> {
        // An axis that turns without end is all round.
        let (min, max) = if range.min.is_finite() && range.max.is_finite() {
            (range.min, range.max.min(range.min + std::f64::consts::TAU))
        } else {
            (-std::f64::consts::PI, std::f64::consts::PI)
        };
        let steps = ((max - min) / units::deg(AXIS_STEP_DEG)).ceil().max(1.0) as u32;
        (0..=steps).map(|step| min + (max - min) * f64::from(step) / f64::from(steps)).collect()
    };
    let [first, second, third] = [0, 1, 2].map(|axis| values(&axes[axis].range));
    let bent = axes[4].range;
    let fifth: Vec<f64> = [0.0, bent.min, bent.max]
        .into_iter()
        .filter(|value| value.is_finite() && bent.excess(*value) <= 0.0)
        .collect();
    let home = cell.arm.home;
    let mut all = Vec::with_capacity(first.len() * second.len() * third.len() * fifth.len());
    for a in &first {
        for b in &second {
            for c in &third {
                all.extend(fifth.iter().map(|e| AxisValues::new(*a, *b, *c, home[3], *e, home[5])));
            }
        }
    }
    all
}

/// The middle of the arm's foot in the world, external axes at rest.
fn foot(cell: &Cell) -> Point3<f64> {
    cell.frames.world_from(cell.arm.frame, &cell.frames.rest()) * cell.arm.frame_from_base * Point3::origin()
}

fn zone_in_zone(cell: &Cell, inner: ZoneId, outer: ZoneId, reach: f64) -> Option<Nested> {
    let [inner_zone, outer_zone] = [inner, outer].map(|zone| &cell.zones[zone.0]);
    let rest = cell.frames.rest();
    let world_from_inner = cell.frames.world_from(inner_zone.frame, &rest) * inner_zone.frame_from_zone;
    let outer_from_world = zone_from_world(cell, outer_zone);
    let foot = foot(cell);
    let (out_by, point) = surface(&inner_zone.region)
        .into_iter()
        .map(|point| world_from_inner * point)
        .filter(|point| (point - foot).norm() <= reach)
        .map(|point| (signed_distance(&outer_zone.region, &(outer_from_world * point)), point))
        .reduce(farther)?;
    Some(Nested { inner: Inner::Zone(inner), outer, out_by, point, sweep: None })
}

fn farther(most: (f64, Point3<f64>), other: (f64, Point3<f64>)) -> (f64, Point3<f64>) {
    if other.0 > most.0 { other } else { most }
}

fn zone_from_world(cell: &Cell, zone: &Zone) -> Pose {
    (cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone).inverse()
}

/// Points of a space on a grid, corners included: a surface is reached from inside as well.
fn surface(region: &Region) -> Vec<Point3<f64>> {
    let own = corners(region);
    let fold = |of: fn(f64, f64) -> f64| {
        own.iter().fold(own[0], |kept, corner| Point3::from(kept.coords.zip_map(&corner.coords, of)))
    };
    let (low, high) = (fold(f64::min), fold(f64::max));
    let steps = (high - low).map(|side| (side / units::mm(SURFACE_STEP_MM)).ceil().clamp(1.0, 120.0));
    let at = |axis: usize, step: u32| low[axis] + (high[axis] - low[axis]) * f64::from(step) / steps[axis];
    let count = |axis: usize| steps[axis] as u32;
    let mut points = own.clone();
    for x in 0..=count(0) {
        for y in 0..=count(1) {
            for z in 0..=count(2) {
                let point = Point3::new(at(0, x), at(1, y), at(2, z));
                // Only what is near the surface: the rest lies between.
                let depth = signed_distance(region, &point);
                if (-units::mm(SURFACE_STEP_MM)..=0.0).contains(&depth) {
                    points.push(point);
                }
            }
        }
    }
    points
}
