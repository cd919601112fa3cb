//! Decides whether each space lies in the next: what really moves in the operating space, that in the restricted space, that in the
//! maximum space, and what the arm may take up in the safeguarded space (ISO 10218-2, 3.1.9).
//!
//! A limit that is drawn wider than the arm reaches is no fault: the inner space is looked at only where the arm can be at all. What it
//! reaches comes from stances on a grid over the ranges of axes 1 to 3 and of the axes that carry the arm; from the best of these the farthest
//! is searched in ever smaller steps of all axes. Of the surface of an inner space counts what lies within the outline that points of arm
//! and torch draw about axis 1, or, of an arm that is carried, within the ball about its foot; no higher and no lower than they get. Below the
//! floor nothing moves, so a space that stands on it needs no bottom. So it is found as well how near what the arm reaches of the restricted
//! space comes to devices and guards.

use std::collections::BTreeMap;

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose, Range};

use super::bodies::MovingBodies;
use super::extent::{corners, signed_distance};
use super::front::Front;
use super::gather::{Gathered, Nearest};
use super::upright::Counted;
use crate::cell::frames::{AxisKind, ExternalValues};
use crate::cell::{Cell, Region, Zone, ZoneId, ZoneRole};
use crate::units;

/// Step of the grid over axes 1 to 3, and where the arm is carried.
const AXIS_STEP_DEG: f64 = 10.0;
const CARRIED_STEP_DEG: f64 = 20.0;
/// Step of the grid over a turning axis that carries the arm.
const CARRIER_STEP_DEG: f64 = 45.0;
/// No more stances of the axes that carry it are looked at.
const MOST_CARRIED: usize = 81;
/// From so many stances of the grid, no two of them alike to within a step, the farthest is searched.
const STARTS: usize = 8;
/// First and last step of that search, rad or m.
const FIRST_STEP: f64 = 0.35;
const LAST_STEP: f64 = 1e-5;
/// Height of a slice of the outline about axis 1, m; of so many slices to each side the widest counts.
const SLICE: f64 = 0.05;
const SLICES: i32 = 2;
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
    /// How far any point of arm or torch gets from where the middle of its foot rests, m.
    pub reach: f64,
    /// By device or guard: from its field to what the arm reaches of the restricted space, m; negative where that passes it.
    pub to_restricted: BTreeMap<ZoneId, f64>,
    /// Spaces of which the arm reaches nothing, so that it was not looked in what they lie, with that.
    pub out_of_reach: Vec<[ZoneId; 2]>,
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
        let nearest = [toward.by_surface(cell, &reach), by_reach.map(|(past, _)| past)];
        Some((*zone, -nearest.into_iter().flatten().reduce(f64::max)?))
    });
    let to_restricted = to_restricted.collect();
    let mut out_of_reach = Vec::new();
    for (question, by_reach) in pairs.iter().zip(out_of_inner) {
        let Some(inner) = question.inner else { continue };
        let outer = question.outer;
        let by_surface = surface_out_of(cell, inner, outer, &reach);
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

/// How far the restricted space comes toward a field.
struct Toward<'z> {
    restricted: ZoneId,
    inner: (Inside<'z>, Pose),
    front: Front,
    front_from_world: Pose,
}

impl<'z> Toward<'z> {
    fn new(cell: &'z Cell, restricted: ZoneId, zone: ZoneId, front: Front) -> Self {
        let inner = &cell.zones[restricted.0];
        let inner = (Inside(&inner.region), zone_from_world(cell, inner));
        Self { restricted, inner, front, front_from_world: zone_from_world(cell, &cell.zones[zone.0]) }
    }

    /// How far past the field a ball about a point comes, m: negative before it.
    fn past(&self, radius: f64, point: &Point3<f64>) -> Option<f64> {
        Some(-self.front.distance(&[self.front_from_world * point], radius)?)
    }

    /// The same of what the arm may come to of the surface of the space.
    fn by_surface(&self, cell: &Cell, reach: &Reach) -> Option<f64> {
        let points = reached_surface(cell, self.restricted, reach);
        points.filter_map(|point| self.past(0.0, &point)).reduce(f64::max)
    }
}

/// How far something gets out of a zone: all that the arm reaches, or what of that lies in another zone.
#[derive(Clone, Copy)]
struct Question {
    inner: Option<ZoneId>,
    outer: ZoneId,
}

/// What the arm reaches.
struct Reach {
    /// Farthest point from where the middle of its foot rests, m.
    distance: f64,
    /// Of an arm that nothing carries, in its base frame: by slice along axis 1, how far from that axis it gets, m.
    outline: Option<BTreeMap<i32, f64>>,
    /// Lowest and highest point in the world, m.
    heights: [f64; 2],
    /// Of each question how far outside it gets, m, and where; then of each field how far past it.
    out_of: Vec<Option<(f64, Point3<f64>)>>,
}

/// Values of the axes, and of the external ones.
type Standing = (AxisValues, ExternalValues);

/// What is looked for, with `zone_from_world` of the zones at rest.
enum Sought<'z> {
    FromFoot(Point3<f64>),
    /// Upward, or downward by −1.
    High(f64),
    OutOf {
        inner: Option<(Inside<'z>, Pose)>,
        outer: (Counted, Pose),
        floor: f64,
    },
    Toward {
        toward: &'z Toward<'z>,
        floor: f64,
    },
}

/// An extent of which only what is in it counts.
#[derive(Clone, Copy)]
struct Inside<'z>(&'z Region);

impl Inside<'_> {
    /// What counts of the radius of a ball about a point in the zone's frame, m; none outside.
    fn radius(&self, radius: f64, point: &Point3<f64>) -> Option<f64> {
        let depth = -signed_distance(self.0, point);
        (depth >= 0.0).then(|| radius.min(depth))
    }
}

impl Sought<'_> {
    /// How far the ball of `radius` about a point is what is sought, m; none where it does not count.
    fn at(&self, radius: f64, point: &Point3<f64>) -> Option<f64> {
        match self {
            Self::FromFoot(foot) => Some((point - foot).norm() + radius),
            Self::High(upward) => Some(upward * point.z + radius),
            Self::OutOf { floor, .. } | Self::Toward { floor, .. } if point.z < *floor => None,
            Self::OutOf { inner, outer: (counted, from_world), .. } => {
                let radius = match inner {
                    Some((inside, from_world)) => inside.radius(radius, &(from_world * point))?,
                    None => radius,
                };
                Some(counted.signed_distance(&(from_world * point)) + radius)
            }
            Self::Toward { toward, .. } => {
                let (inside, from_world) = &toward.inner;
                toward.past(inside.radius(radius, &(from_world * point))?, point)
            }
        }
    }
}

impl Reach {
    fn new(
        cell: &Cell,
        bodies: &MovingBodies,
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
        let sought: Vec<Sought<'_>> = out_of
            .chain(fronts.iter().map(|(_, toward)| Sought::Toward { toward, floor }))
            .chain([Sought::High(-1.0), Sought::High(1.0), Sought::FromFoot(foot(cell))])
            .collect();
        let carriers = carriers(cell);
        let stances = stances(cell, &carriers);
        let points = |(axes, external): &Standing| {
            let world = bodies.world_points(cell, axes, external).into_iter().zip(&bodies.bodies);
            let of_arm = world.filter(|(_, body)| body.is_of_arm());
            of_arm
                .flat_map(|(points, body)| points.into_iter().map(|point| (body.radius, point)))
                .collect::<Vec<_>>()
        };
        let best = |sought: &Sought<'_>, points: &[(f64, Point3<f64>)]| {
            let each = points.iter().filter_map(|(radius, point)| Some((sought.at(*radius, point)?, *point)));
            each.reduce(farther)
        };
        let of_stances: Vec<Vec<Option<f64>>> = stances
            .par_iter()
            .map(|standing| {
                let points = points(standing);
                sought.iter().map(|sought| best(sought, &points).map(|(out, _)| out)).collect()
            })
            .collect();
        let searched = |index: usize| {
            let starts = starts(&stances, |stance| of_stances[stance][index]);
            let at = |standing: &Standing| best(&sought[index], &points(standing));
            let found = starts.into_par_iter().filter_map(|start| climbed(cell, &carriers, start, &at));
            found.collect::<Vec<_>>().into_iter().reduce(farther)
        };
        let mut out_of: Vec<Option<(f64, Point3<f64>)>> = (0..sought.len()).map(searched).collect();
        let distance = out_of.pop().flatten().map_or(0.0, |(distance, _)| distance);
        let highest = out_of.pop().flatten().map_or(f64::INFINITY, |(height, _)| height);
        let lowest = out_of.pop().flatten().map_or(f64::NEG_INFINITY, |(depth, _)| -depth);
        let asks_for_surfaces =
            !fronts.is_empty() || questions.iter().any(|question| question.inner.is_some());
        let base_from_world = world_from_base(cell).inverse();
        let outline = (carriers.is_empty() && asks_for_surfaces).then(|| {
            let add = |mut outline: BTreeMap<i32, f64>, standing: &Standing| {
                for (radius, point) in points(standing) {
                    let own = base_from_world * point;
                    widen(&mut outline, slice(own.z), own.coords.xy().norm() + radius);
                }
                outline
            };
            let both = |mut one: BTreeMap<i32, f64>, other: BTreeMap<i32, f64>| {
                other.into_iter().for_each(|(slice, width)| widen(&mut one, slice, width));
                one
            };
            stances.par_iter().fold(BTreeMap::new, add).reduce(BTreeMap::new, both)
        });
        Self { distance, outline, heights: [lowest, highest], out_of }
    }

    /// Whether the arm may come to a point.
    fn has(&self, cell: &Cell, point: &Point3<f64>) -> bool {
        let [lowest, highest] = self.heights;
        if !(lowest..=highest).contains(&point.z) {
            return false;
        }
        let Some(outline) = &self.outline else { return (point - foot(cell)).norm() <= self.distance };
        let own = world_from_base(cell).inverse() * point;
        let at = slice(own.z);
        outline.range(at - SLICES..=at + SLICES).any(|(_, widest)| own.coords.xy().norm() <= *widest)
    }
}

fn widen(outline: &mut BTreeMap<i32, f64>, slice: i32, width: f64) {
    let widest = outline.entry(slice).or_insert(0.0);
    *widest = widest.max(width);
}

fn slice(height: f64) -> i32 {
    // Heights are a few metres.
    (height / SLICE).floor() as i32
}

/// The best stances by a value, best first, no two of them alike to within a step of the grid.
fn starts(stances: &[Standing], value: impl Fn(usize) -> Option<f64>) -> Vec<Standing> {
    let mut order: Vec<(usize, f64)> =
        (0..stances.len()).filter_map(|stance| Some((stance, value(stance)?))).collect();
    // A stable sort: of equals the first counts.
    order.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut kept: Vec<Standing> = Vec::new();
    for (stance, _) in order {
        let (axes, external) = &stances[stance];
        let alike = |(other, outside): &Standing| {
            (axes - other).amax() <= units::deg(CARRIED_STEP_DEG) * 1.01 && external == outside
        };
        if !kept.iter().any(alike) {
            kept.push(stances[stance].clone());
        }
        if kept.len() == STARTS {
            break;
        }
    }
    kept
}

/// The farthest that is found from a stance by going on along one axis after the other, in ever smaller steps.
fn climbed(
    cell: &Cell,
    carriers: &[usize],
    start: Standing,
    at: &impl Fn(&Standing) -> Option<(f64, Point3<f64>)>,
) -> Option<(f64, Point3<f64>)> {
    let within = |range: &Range, value: f64| value.clamp(range.min, range.max);
    let arm = cell.arm.arm.axes();
    let (mut here, mut best) = (start.clone(), at(&start)?);
    let mut step = FIRST_STEP;
    while step > LAST_STEP {
        let mut went = false;
        for variable in 0..6 + carriers.len() {
            for by in [step, -step] {
                let mut next = here.clone();
                if variable < 6 {
                    next.0[variable] = within(&arm[variable].range, here.0[variable] + by);
                } else {
                    let axis = carriers[variable - 6];
                    next.1[axis] = within(&cell.frames.axes[axis].range, here.1[axis] + by);
                }
                if let Some(found) = at(&next)
                    && found.0 > best.0
                {
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

/// External axes that carry the arm.
fn carriers(cell: &Cell) -> Vec<usize> {
    (0..cell.frames.axes.len()).filter(|&axis| cell.frames.moves_with(cell.arm.frame, axis)).collect()
}

/// Even values over a range; of an axis that turns without end all round.
fn even(range: &Range, step: f64) -> Vec<f64> {
    let (min, max) = if range.min.is_finite() && range.max.is_finite() {
        (range.min, range.max.min(range.min + std::f64::consts::TAU))
    } else {
        (-std::f64::consts::PI, std::f64::consts::PI)
    };
    let steps = ((max - min) / step).ceil().max(1.0) as u32;
    (0..=steps).map(|step| min + (max - min) * f64::from(step) / f64::from(steps)).collect()
}

/// Values on a grid over the ranges of axes 1 to 3 and of those that carry the arm, the wrist straight and bent all the way.
fn stances(cell: &Cell, carriers: &[usize]) -> Vec<Standing> {
    let mut outside = vec![cell.frames.rest()];
    for &axis in carriers {
        let external = &cell.frames.axes[axis];
        let Range { min, max, .. } = external.range;
        let values = match external.kind {
            AxisKind::Turn => even(&external.range, units::deg(CARRIER_STEP_DEG)),
            // What sticks out of something without a notch does so most at an end.
            AxisKind::Slide if min.is_finite() && max.is_finite() => vec![min, external.rest, max],
            AxisKind::Slide => vec![external.rest],
        };
        let few = outside.len() * values.len() <= MOST_CARRIED;
        let values = if few { values } else { vec![external.rest] };
        outside = outside
            .iter()
            .flat_map(|others| {
                values.iter().map(move |value| {
                    let mut external = others.clone();
                    external[axis] = *value;
                    external
                })
            })
            .collect();
    }
    let step = units::deg(if carriers.is_empty() { AXIS_STEP_DEG } else { CARRIED_STEP_DEG });
    let axes = cell.arm.arm.axes();
    let [first, second, third] = [0, 1, 2].map(|axis| even(&axes[axis].range, step));
    let bent = axes[4].range;
    let fifth: Vec<f64> = [0.0, bent.min, bent.max]
        .into_iter()
        .filter(|value| value.is_finite() && bent.excess(*value) <= 0.0)
        .collect();
    let home = cell.arm.home;
    let mut all = Vec::with_capacity(outside.len() * first.len() * second.len() * third.len() * fifth.len());
    for external in &outside {
        for a in &first {
            for b in &second {
                for c in &third {
                    all.extend(
                        fifth
                            .iter()
                            .map(|e| (AxisValues::new(*a, *b, *c, home[3], *e, home[5]), external.clone())),
                    );
                }
            }
        }
    }
    all
}

/// `world_from_base`, external axes at rest.
fn world_from_base(cell: &Cell) -> Pose {
    cell.frames.world_from(cell.arm.frame, &cell.frames.rest()) * cell.arm.frame_from_base
}

/// The middle of the arm's foot in the world, external axes at rest.
fn foot(cell: &Cell) -> Point3<f64> {
    world_from_base(cell) * Point3::origin()
}

/// How far what the arm may come to of the surface of one zone is out of another, m, and where.
fn surface_out_of(cell: &Cell, inner: ZoneId, outer: ZoneId, reach: &Reach) -> Option<(f64, Point3<f64>)> {
    let counted = Counted::new(cell, &cell.zones[outer.0]);
    let outer_from_world = zone_from_world(cell, &cell.zones[outer.0]);
    reached_surface(cell, inner, reach)
        .map(|point| (counted.signed_distance(&(outer_from_world * point)), point))
        .reduce(farther)
}

/// Points of the surface of a zone to which the arm may come, in the world, none below the floor.
fn reached_surface(cell: &Cell, zone: ZoneId, reach: &Reach) -> impl Iterator<Item = Point3<f64>> {
    let floor = cell.safeguarding.floor - ON_THE_EDGE;
    let world_from_zone = zone_from_world(cell, &cell.zones[zone.0]).inverse();
    let points = surface(&cell.zones[zone.0].region).into_iter().map(move |point| world_from_zone * point);
    points.filter(move |point| point.z >= floor && reach.has(cell, point))
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
    let mut points = match region {
        // Its corners stand about the circle, not on it.
        Region::Cylinder { radius, .. } => own
            .iter()
            .map(|corner| {
                let flat = corner.coords.xy();
                let on_it = flat * (radius / flat.norm());
                Point3::new(on_it.x, on_it.y, corner.z)
            })
            .collect(),
        _ => own.clone(),
    };
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
