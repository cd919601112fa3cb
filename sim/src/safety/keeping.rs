//! Decides whether other devices keep people from what moves: before they are in an operator place, or once they have come through the
//! field of a device.

use std::collections::BTreeMap;
use std::sync::{Arc, RwLock};

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use super::bodies::MovingBody;
use super::extent::{corners, signed_distance};
use super::floor_plan::{FloorPlan, Walked};
use super::front::Front;
use super::gather::{stops, watches};
use super::spaces::ON_THE_EDGE;
use crate::cell::{Active, Cell, Device, Zone, ZoneId, ZoneRole};
use crate::schedule::Instant;
use crate::units;

/// Whether a device keeps people from what moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// Whoever comes there has broken a field that stops it.
    Yes,
    /// The way leads through such a field, but nothing that is drawn closes the way around it, or only a device that is off then, or whose
    /// times are not known; or they may have come while that field did not watch.
    Perhaps,
    /// None does.
    No,
}

/// How somebody comes to an operator place past the devices that stop something then.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Past {
    /// Those of them behind whose field the place lies.
    pub stopping: Vec<ZoneId>,
    /// Other devices through whose field the way leads; none where nothing that is drawn closes it.
    pub through: Vec<ZoneId>,
    /// Where nobody comes past those: which of them one may have come through while they did not watch.
    pub while_off: Vec<ZoneId>,
}

/// A place or a device, with the others whose field one breaks on the way.
pub(super) struct Keeping<'c> {
    cell: &'c Cell,
    zone: &'c Zone,
    others: Vec<Other<'c>>,
    /// Of other zones there is none.
    plan: Option<FloorPlan>,
    /// Squares of the plan in which an operator place is.
    squares: Vec<usize>,
    /// Where people get to while some of the others stop what moves, by their bits and those of others that may.
    walked: RwLock<BTreeMap<[u64; 2], Arc<Ways>>>,
}

/// Where people get to, whether that is anywhere in the place, and whether that is certain.
struct Ways {
    walked: Walked,
    reach_place: bool,
    are_sure: bool,
}

/// Another device whose times are known.
struct Other<'c> {
    id: ZoneId,
    device: &'c Device,
    zone: &'c Zone,
    /// Of a place: whether it lies behind the field or reaches through it. Of a device: whether its field stands so near that it is always
    /// broken as well.
    is_before: bool,
    /// Of an upright field.
    field_from_world: Option<Pose>,
}

impl Other<'_> {
    /// Whether what it stops goes for nobody who has come through its field: it watches all the time, or what was loaded behind it sets out
    /// from outside, or a place lies in its field, so that who is there is seen as soon as it watches.
    fn misses_nobody(&self) -> bool {
        let lies_about_place = self.is_before && self.zone.role == ZoneRole::ScannerField;
        self.device.active == Active::Always || self.device.starts_from_outside || lies_about_place
    }

    /// Whether it is before a place, and before a point in that where it stands upright.
    fn is_before(&self, point: &Point3<f64>) -> bool {
        self.is_before
            && self
                .field_from_world
                .is_none_or(|field_from_world| (field_from_world * point).y >= -ON_THE_EDGE)
    }
}

impl<'c> Keeping<'c> {
    pub(super) fn new(cell: &'c Cell, zone: &'c Zone) -> Self {
        let is_asked = zone.role == ZoneRole::OperatorPlace || zone.device.is_some();
        let plan = is_asked.then(|| FloorPlan::new(cell));
        let other = |(index, other): (usize, &'c Zone)| {
            let device = other.device.as_ref().filter(|device| device.response.is_some())?;
            let has_field = plan.as_ref()?.has_field(ZoneId(index)) && !std::ptr::eq(other, zone);
            let is_before = match zone.role {
                ZoneRole::OperatorPlace => lies_behind(cell, zone, other),
                _ => lies_in_the_way_of(cell, other, zone),
            };
            let is_upright = matches!(Front::of(cell, other), Some(Front::Upright { .. }));
            let field_from_world = is_upright.then(|| {
                (cell.frames.world_from(other.frame, &cell.frames.rest()) * other.frame_from_zone).inverse()
            });
            has_field.then_some(Other { id: ZoneId(index), device, zone: other, is_before, field_from_world })
        };
        Self {
            cell,
            zone,
            others: cell.zones.iter().enumerate().filter_map(other).take(u64::BITS as usize).collect(),
            squares: plan.as_ref().map_or_else(Vec::new, |plan| plan.of_zone(cell, zone)),
            plan,
            walked: RwLock::default(),
        }
    }

    /// Bits of the others that stop, at an instant, all that moves a body then; and of those that would but do not watch.
    fn stopping(&self, body: &MovingBody, instant: &Instant) -> [u64; 2] {
        let mut bits = [0, 0];
        for (index, other) in self.others.iter().enumerate() {
            if stops(other.device, body, instant) {
                bits[usize::from(!watches(other.device, other.zone, instant))] |= 1 << index;
            }
        }
        bits
    }

    fn of_bits(&self, bits: u64) -> impl Iterator<Item = &Other<'c>> {
        let others = self.others.iter().enumerate();
        others.filter(move |(index, _)| bits & 1 << index != 0).map(|(_, other)| other)
    }

    /// Of the bits of some others those that nobody comes through unseen.
    fn missing_nobody(&self, bits: u64) -> u64 {
        let others = self.others.iter().enumerate();
        others.filter(|(_, other)| other.misses_nobody()).fold(0, |kept, (index, _)| kept | bits & 1 << index)
    }

    fn ids(&self, bits: u64) -> Vec<ZoneId> {
        self.of_bits(bits).map(|other| other.id).collect()
    }

    /// Where people get to who break none of the fields of some others: from outside, or through the device's own field.
    fn ways(&self, plan: &FloorPlan, bits: [u64; 2]) -> Arc<Ways> {
        let known = || self.walked.read().ok()?.get(&bits).cloned();
        if let Some(ways) = known() {
            return ways;
        }
        let [stopping, off] = bits;
        let closed = self.ids(stopping);
        let is_place = self.zone.role == ZoneRole::OperatorPlace;
        let walked =
            if is_place { plan.from_outside(&closed) } else { plan.through(self.cell, self.zone, &closed) };
        let reach_place = walked.has_any(&self.squares);
        let reaches = |closed: &[ZoneId]| plan.from_outside(closed).has_any(&self.squares);
        let are_sure = !is_place || !reach_place || {
            let all = plan.fields();
            let untimed = all.iter().filter(|id| self.others.iter().all(|other| other.id != **id));
            let perhaps: Vec<ZoneId> = closed.iter().chain(untimed).copied().chain(self.ids(off)).collect();
            !reaches(&all) && reaches(&perhaps)
        };
        let ways = Arc::new(Ways { walked, reach_place, are_sure });
        if let Ok(mut all) = self.walked.write() {
            all.insert(bits, ways.clone());
        }
        ways
    }

    /// Whether devices keep whoever is in an operator place from a body that moves at an instant: they have stopped it when somebody is there.
    pub(super) fn kept_from_place(&self, body: &MovingBody, instant: &Instant) -> Kept {
        let bits = self.stopping(body, instant);
        let Some(plan) = self.plan.as_ref().filter(|_| bits[0] != 0) else { return Kept::No };
        let ways = self.ways(plan, bits);
        if !ways.reach_place {
            let whoever_came = [self.missing_nobody(bits[0]), 0];
            return if self.ways(plan, whoever_came).reach_place { Kept::Perhaps } else { Kept::Yes };
        }
        let is_before = self.of_bits(bits[0]).any(|other| other.is_before);
        if is_before && !ways.are_sure { Kept::Perhaps } else { Kept::No }
    }

    /// How somebody comes to an operator place at an instant past the devices that stop a body then.
    pub(super) fn past(&self, body: &MovingBody, instant: &Instant) -> Past {
        let Some(plan) = &self.plan else { return Past::default() };
        let bits = self.stopping(body, instant);
        if !self.ways(plan, bits).reach_place {
            let while_off = self.ids(bits[0] & !self.missing_nobody(bits[0]));
            return Past { while_off, ..Past::default() };
        }
        let [bits, _] = bits;
        let stopping = self.of_bits(bits).filter(|other| other.is_before).map(|other| other.id).collect();
        let (all, closed) = (plan.fields(), self.ids(bits));
        let leads_through = |open: &ZoneId| {
            let others: Vec<ZoneId> = all.iter().copied().filter(|id| id != open).collect();
            plan.from_outside(&others).has_any(&self.squares)
        };
        let through = if plan.from_outside(&all).has_any(&self.squares) {
            Vec::new()
        } else {
            all.iter().copied().filter(|id| !closed.contains(id)).filter(leads_through).collect()
        };
        Past { stopping, through, while_off: Vec::new() }
    }

    /// Whether it is not known if devices keep whoever is at a point of an operator place from a body that moves at an instant: one of
    /// those that stop it stands before the place and the point, or all who are there have come while they did not watch.
    pub(super) fn is_kept_perhaps(&self, body: &MovingBody, instant: &Instant, point: &Point3<f64>) -> bool {
        let bits = self.stopping(body, instant);
        let Some(plan) = self.plan.as_ref().filter(|_| self.kept_from_place(body, instant) == Kept::Perhaps)
        else {
            return false;
        };
        !self.ways(plan, bits).reach_place || self.of_bits(bits[0]).any(|other| other.is_before(point))
    }

    /// Devices behind whose field an operator place lies, though nothing that is drawn closes the way around it.
    pub(super) fn gone_around(&self) -> Vec<ZoneId> {
        let Some(plan) = &self.plan else { return Vec::new() };
        if !plan.from_outside(&plan.fields()).has_any(&self.squares) {
            return Vec::new();
        }
        self.others.iter().filter(|other| other.is_before).map(|other| other.id).collect()
    }

    /// Whether somebody who has come through a device's field gets to a body that moves at an instant without breaking another field that
    /// stops it.
    pub(super) fn is_come_to(&self, body: &MovingBody, points: &[Point3<f64>], instant: &Instant) -> bool {
        let [bits, _] = self.stopping(body, instant);
        let Some(plan) = &self.plan else { return true };
        let is_before = self.of_bits(bits).any(|other| other.is_before);
        !is_before && plan.gets_to(&self.ways(plan, [bits, 0]).walked, points, body.radius)
    }
}

/// How somebody comes to an operator place at an instant past the devices that stop a body then.
#[must_use]
pub fn past(cell: &Cell, place: &Zone, body: &MovingBody, instant: &Instant) -> Past {
    Keeping::new(cell, place).past(body, instant)
}

/// Devices behind whose field an operator place lies, though nothing that is drawn closes the way around it; of other zones none.
#[must_use]
pub fn gone_around(cell: &Cell, zone: &Zone) -> Vec<ZoneId> {
    if zone.role != ZoneRole::OperatorPlace {
        return Vec::new();
    }
    Keeping::new(cell, zone).gone_around()
}

/// Whether whoever comes through `zone` has to come through the upright field `other` too: that is as wide, and neither behind it nor so
/// far before it that one could stand between.
fn lies_in_the_way_of(cell: &Cell, other: &Zone, zone: &Zone) -> bool {
    /// Two fields at one place may be drawn so far apart, mm.
    const BESIDE_MM: f64 = 75.0;
    let Some(Front::Upright { half_width }) = Front::of(cell, other) else { return false };
    let rest = cell.frames.rest();
    let world_from = |zone: &Zone| cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
    let other_from_zone = world_from(other).inverse() * world_from(zone);
    matches!(zone.region, crate::cell::Region::Field { .. })
        && corners(&zone.region).into_iter().map(|corner| other_from_zone * corner).all(|corner| {
            corner.x.abs() <= half_width + ON_THE_EDGE && corner.y.abs() <= units::mm(BESIDE_MM)
        })
}

/// Whether an operator place lies behind an upright field or reaches through it, no wider than that, or lies in a field that lies; not where
/// they are of different stations.
#[must_use]
pub fn lies_behind(cell: &Cell, place: &Zone, field: &Zone) -> bool {
    if place.station.zip(field.station).is_some_and(|(one, other)| one != other) {
        return false;
    }
    let rest = cell.frames.rest();
    let world_from = |zone: &Zone| cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
    let field_from_place = world_from(field).inverse() * world_from(place);
    let own: Vec<Point3<f64>> =
        corners(&place.region).iter().map(|corner| field_from_place * corner).collect();
    match Front::of(cell, field) {
        Some(Front::Upright { half_width }) => {
            own.iter().all(|corner| corner.x.abs() <= half_width + ON_THE_EDGE)
                && own.iter().any(|corner| corner.y > ON_THE_EDGE)
        }
        Some(Front::Entered(_)) => {
            let z = corners(&field.region).first().map_or(0.0, |corner| corner.z);
            let within = |point: &Point3<f64>| {
                signed_distance(&field.region, &Point3::new(point.x, point.y, z)) <= ON_THE_EDGE
            };
            let of_place = |point: &Point3<f64>| {
                signed_distance(&place.region, &(field_from_place.inverse() * point)) <= ON_THE_EDGE
            };
            own.iter().all(within) && spread_between(&own).iter().filter(|point| of_place(point)).all(within)
        }
        Some(Front::Around(_)) | None => false,
    }
}

/// Points over the rectangle about some points, at the height of the first, so close that nobody stands between them.
fn spread_between(points: &[Point3<f64>]) -> Vec<Point3<f64>> {
    const STEP_MM: f64 = 50.0;
    let Some(first) = points.first() else { return Vec::new() };
    let (low, high) = points
        .iter()
        .fold((first.xy(), first.xy()), |(low, high), point| (low.inf(&point.xy()), high.sup(&point.xy())));
    let steps = (high - low).map(|way| (way / units::mm(STEP_MM)).ceil().clamp(1.0, 400.0));
    let at = |i: u32, j: u32| {
        let share = nalgebra::Vector2::new(f64::from(i) / steps.x, f64::from(j) / steps.y);
        let flat = low + (high - low).component_mul(&share);
        Point3::new(flat.x, flat.y, first.z)
    };
    (0..=steps.x as u32)
        .flat_map(|i| (0..=steps.y as u32).map(move |j| (i, j)))
        .map(|(i, j)| at(i, j))
        .collect()
}
