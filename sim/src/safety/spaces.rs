//! Decides whether each space lies in the next: what really moves in the operating space, that in the restricted space, that in the
//! maximum space, and what the arm may take up in the safeguarded space (ISO 10218-2, 3.1.9).
//!
//! A limit that is drawn wider than the arm reaches is no fault: the inner space is looked at only where the arm can be at all, by
//! `reach`. Below the floor nothing moves, so a space that stands on it needs no bottom. So it is found as well how near what the arm reaches
//! of the restricted space comes to devices and guards.

use std::collections::BTreeMap;

use nalgebra::Point3;
use rayon::prelude::*;

use super::bodies::MovingBodies;
use super::extent::signed_distance;
use super::front::Front;
use super::gather::{Gathered, Nearest};
use super::reach::{Question, Reach, Toward, farther, zone_from_world};
use super::upright::Counted;
use crate::cell::{Cell, Zone, ZoneId, ZoneRole};

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
    /// How far any point of arm or torch gets from where the middle of its foot rests, m.
    pub reach: f64,
    /// By device or guard: what the arm reaches of the restricted space that comes nearest to it; of a guard that is no flat field only where it
    /// stands in that.
    pub to_restricted: BTreeMap<ZoneId, ToRestricted>,
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
    let by_reach = maximum.into_iter().chain(unrestricted).map(|outer| Question { inner: None, outer });
    let pairs = present.windows(2).map(|pair| (pair[0], pair[1])).chain(restricted.zip(safeguarded));
    let by_reach: Vec<Question> = by_reach.collect();
    let pairs: Vec<Question> = pairs.map(|(inner, outer)| Question { inner: Some(inner), outer }).collect();
    let fronts: Vec<(ZoneId, Toward<'_>)> = restricted
        .into_iter()
        .flat_map(|restricted| {
            fronts(cell).map(move |(zone, front)| (zone, Toward::new(cell, restricted, zone, front)))
        })
        .collect();
    let reach = Reach::new(cell, bodies, &[by_reach.as_slice(), &pairs].concat(), &fronts);
    let inner = pairs.iter().filter_map(|question| question.inner).chain(restricted);
    let mut inner: Vec<ZoneId> = inner.collect();
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
    let (out_of, out_of_inner) = reach.out_of.split_at(by_reach.len());
    let (out_of_inner, past) = out_of_inner.split_at(pairs.len());
    let to_restricted = fronts.iter().zip(past).filter_map(|((zone, toward), by_reach)| {
        let by_surface =
            surface(toward.restricted).iter().filter_map(|point| Some((toward.past(0.0, point)?, *point)));
        let (past, point) = by_surface.chain(*by_reach).reduce(farther)?;
        Some((*zone, ToRestricted { distance: -past, point }))
    });
    let inside = restricted.into_iter().flat_map(|restricted| guards_inside(cell, restricted, &reach));
    let to_restricted = to_restricted.chain(inside).collect();
    let mut out_of_reach = Vec::new();
    for (question, by_reach) in pairs.iter().zip(out_of_inner) {
        let Some(inner) = question.inner else { continue };
        let outer = question.outer;
        let by_surface = surface_out_of(cell, surface(inner), outer);
        match [by_surface, *by_reach].into_iter().flatten().reduce(farther) {
            Some((out_by, point)) => {
                nest.push(Nested { inner: Inner::Zone(inner), outer, out_by, point, sweep: None });
            }
            None => out_of_reach.push([inner, outer]),
        }
    }
    for (question, out) in by_reach.iter().zip(out_of) {
        let outer = question.outer;
        let step = |(out_by, point)| Nested { inner: Inner::Reach, outer, out_by, point, sweep: None };
        nest.extend(out.map(step));
    }
    Some(Spaces { nest, reach: reach.distance, to_restricted, out_of_reach })
}

/// Guards, and devices that stop the arm, each with its side from which people come.
fn fronts(cell: &Cell) -> impl Iterator<Item = (ZoneId, Front)> {
    let stops_arm = |zone: &Zone| zone.device.as_ref().is_some_and(|device| device.stops_arm);
    let zones = cell.zones.iter().enumerate();
    let asked = zones.filter(move |(_, zone)| zone.role == ZoneRole::Guard || stops_arm(zone));
    asked.filter_map(|(index, zone)| Some((ZoneId(index), Front::of(zone)?)))
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
    let guards = zones.filter(|(_, zone)| zone.role == ZoneRole::Guard && Front::of(zone).is_none());
    guards.filter_map(|(index, _)| deepest(ZoneId(index))).collect()
}

/// How far what the arm may come to of the surface of a zone is out of another, m, and where.
fn surface_out_of(cell: &Cell, surface: &[Point3<f64>], outer: ZoneId) -> Option<(f64, Point3<f64>)> {
    let counted = Counted::new(cell, &cell.zones[outer.0]);
    let outer_from_world = zone_from_world(cell, &cell.zones[outer.0]);
    let out = |point: &Point3<f64>| (counted.signed_distance(&(outer_from_world * point)), *point);
    surface.iter().map(out).reduce(farther)
}
