//! Decides whether each space lies in the next: what really moves in the operating space, that in the restricted space, that in the
//! maximum space, and what the arm may take up in the safeguarded space (ISO 10218-2, 3.1.9). Of what moves only arm and torch count in the
//! restricted and the maximum space, which are the robot's.
//!
//! A limit that is drawn wider than the arm reaches is no fault: the inner space is looked at only where the arm can be at all, by
//! `reach`. Below the floor nothing moves, so a space that stands on it needs no bottom. So it is found as well how near what the arm reaches
//! of the restricted space comes to devices and guards.

use std::collections::BTreeMap;

use nalgebra::{Point2, Point3};
use rayon::prelude::*;

use super::bodies::MovingBodies;
use super::closers::stands;
use super::extent::{corners, is_convex, signed_distance};
use super::front::Front;
use super::gather::{Gathered, Nearest};
use super::guard_ends::open_ends;
use super::reach::{Reach, Toward, farther, zone_from_world};
use super::upright::Counted;
use crate::cell::{Cell, Zone, ZoneId, ZoneRole};

/// What sticks out by no more than this is drawn on the edge, m.
pub const ON_THE_EDGE: f64 = 1e-6;

/// What is reached to within this is reached, m.
const ROUNDING: f64 = 1e-12;

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
    /// How far any point of arm or torch gets from where the middle of its foot rests, m.
    pub reach: f64,
    /// By device or guard: what the arm reaches of the restricted space that comes nearest to it; of a guard that is no flat field only where it
    /// stands in that.
    pub to_restricted: BTreeMap<ZoneId, ToRestricted>,
    /// By flat guard: how near what the arm reaches of the restricted space comes to its open ends, seen from above, m.
    pub ends_to_restricted: BTreeMap<ZoneId, f64>,
    /// Spaces of which the arm reaches nothing, so that it was not looked in what they lie, with that.
    pub out_of_reach: Vec<[ZoneId; 2]>,
}

/// How near to a device or guard what the arm reaches of the restricted space comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToRestricted {
    /// From the field, m; negative where it passes that.
    pub distance: f64,
    /// Where in the world.
    pub point: Point3<f64>,
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
    let pairs = present.windows(2).map(|pair| [pair[0], pair[1]]);
    let pairs: Vec<[ZoneId; 2]> = pairs.chain(restricted.zip(safeguarded).map(|(a, b)| [a, b])).collect();
    let reach = Reach::new(cell, bodies);
    let mut inner: Vec<ZoneId> = pairs.iter().map(|[inner, _]| *inner).chain(restricted).collect();
    inner.sort_unstable();
    inner.dedup();
    let surfaces: BTreeMap<ZoneId, Vec<Point3<f64>>> =
        inner.into_par_iter().map(|zone| (zone, reach.surface_of(zone))).collect();
    let surface = |zone: ZoneId| surfaces.get(&zone).map_or(&[][..], Vec::as_slice);
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
    let fronts: Vec<(ZoneId, ZoneId, Front)> = restricted
        .into_iter()
        .flat_map(|restricted| fronts(cell).map(move |(zone, front)| (restricted, zone, front)))
        .collect();
    let to_front = |(restricted, zone, front): (ZoneId, ZoneId, Front)| {
        let toward = Toward::new(cell, restricted, zone, front);
        let past = |point: &Point3<f64>| Some((toward.past(0.0, point)?, *point));
        let by_surface = surface(restricted).iter().filter_map(past).reduce(farther);
        let searched = || reach.past(&toward);
        let (past, point) = most(by_surface, toward.most_past(), searched)?;
        Some((zone, ToRestricted { distance: -past, point }))
    };
    let to_fronts: Vec<Option<(ZoneId, ToRestricted)>> = fronts.into_par_iter().map(to_front).collect();
    let inside = restricted.into_iter().flat_map(|restricted| guards_inside(cell, restricted, &reach));
    let to_restricted = to_fronts.into_iter().flatten().chain(inside).collect();
    let of_restricted = restricted.map_or(&[][..], surface);
    let ends_to_restricted = (0..cell.zones.len()).map(ZoneId).filter_map(|guard| {
        let ends = ends_in_world(cell, guard);
        let to_ends = of_restricted.iter().flat_map(|point| ends.iter().map(|end| (point.xy() - end).norm()));
        to_ends.reduce(f64::min).map(|nearest| (guard, nearest))
    });
    let ends_to_restricted = ends_to_restricted.collect();
    let out_of_outer = |&[inner, outer]: &[ZoneId; 2]| {
        let [by_surface, by_corners] = out_of(cell, [inner, outer], surface(inner));
        let can_be = by_corners.map_or(f64::INFINITY, |(out, _)| out);
        most(by_surface, can_be, || reach.out_of(Some(inner), outer))
    };
    let of_pairs: Vec<Option<(f64, Point3<f64>)>> = pairs.par_iter().map(out_of_outer).collect();
    let mut out_of_reach = Vec::new();
    for (&[inner, outer], out) in pairs.iter().zip(of_pairs) {
        match out {
            Some((out_by, point)) => {
                nest.push(Nested { inner: Inner::Zone(inner), outer, out_by, point, sweep: None });
            }
            None => out_of_reach.push([inner, outer]),
        }
    }
    for outer in by_reach {
        let step = |(out_by, point)| Nested { inner: Inner::Reach, outer, out_by, point, sweep: None };
        nest.extend(reach.out_of(None, outer).map(step));
    }
    Some(Spaces { nest, reach: reach.distance, to_restricted, ends_to_restricted, out_of_reach })
}

/// Guards, and devices that stop the arm, each with its side from which people come.
fn fronts(cell: &Cell) -> impl Iterator<Item = (ZoneId, Front)> + '_ {
    let stops_arm = |zone: &Zone| zone.device.as_ref().is_some_and(|device| device.stops_arm);
    let zones = cell.zones.iter().enumerate();
    let asked = zones.filter(move |(_, zone)| zone.role == ZoneRole::Guard || stops_arm(zone));
    asked.filter_map(|(index, zone)| Some((ZoneId(index), Front::in_cell(cell, zone)?)))
}

/// The open ends of a flat guard that no axis moves, seen from above.
fn ends_in_world(cell: &Cell, guard: ZoneId) -> Vec<Point2<f64>> {
    let zone = &cell.zones[guard.0];
    if zone.role != ZoneRole::Guard || !stands(cell, zone.frame) {
        return Vec::new();
    }
    let world_from_zone = zone_from_world(cell, zone).inverse();
    open_ends(cell, zone).into_iter().map(|end| (world_from_zone * Point3::new(end, 0.0, 0.0)).xy()).collect()
}

/// Guards that are no flat field, so that nothing can pass them, and stand where the arm may come to in the restricted space; how deep.
fn guards_inside(cell: &Cell, restricted: ZoneId, reach: &Reach<'_>) -> Vec<(ZoneId, ToRestricted)> {
    let space = &cell.zones[restricted.0];
    let restricted_from_world = zone_from_world(cell, space);
    let deepest = |guard: ZoneId| {
        let depth =
            |point: Point3<f64>| (-signed_distance(&space.region, &(restricted_from_world * point)), point);
        let (depth, point) = reach.surface_of(guard).into_iter().map(depth).reduce(farther)?;
        (depth > ON_THE_EDGE).then_some((guard, ToRestricted { distance: -depth, point }))
    };
    let zones = cell.zones.iter().enumerate();
    let guards = zones.filter(|(_, zone)| zone.role == ZoneRole::Guard && Front::of(cell, zone).is_none());
    guards.filter_map(|(index, _)| deepest(ZoneId(index))).collect()
}

/// The farther of what is known and what is searched, which is left out where no more `can_be`.
fn most(
    known: Option<(f64, Point3<f64>)>,
    can_be: f64,
    searched: impl FnOnce() -> Option<(f64, Point3<f64>)>,
) -> Option<(f64, Point3<f64>)> {
    if known.is_some_and(|(known, _)| known >= can_be - ROUNDING) {
        return known;
    }
    known.into_iter().chain(searched()).reduce(farther)
}

/// How far what the arm may come to of the surface of a zone is out of another, m, and where; and of one without a notch the same of the
/// corners of all that lies in the inner one, whether it comes there or not.
fn out_of(
    cell: &Cell,
    [inner, outer]: [ZoneId; 2],
    surface: &[Point3<f64>],
) -> [Option<(f64, Point3<f64>)>; 2] {
    let [inner, outer] = [inner, outer].map(|zone| &cell.zones[zone.0]);
    let counted = Counted::new(cell, outer);
    let outer_from_world = zone_from_world(cell, outer);
    let out = |point: Point3<f64>| (counted.signed_distance(&(outer_from_world * point)), point);
    let world_from_inner = zone_from_world(cell, inner).inverse();
    let own = corners(&inner.region).into_iter().filter(|_| is_convex(&outer.region));
    let by_corners = own.map(|corner| out(world_from_inner * corner)).reduce(farther);
    [surface.iter().map(|point| out(*point)).reduce(farther), by_corners]
}
