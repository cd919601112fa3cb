//! Decides what is asked of a zone, and what one body at one look has to say to it.

use nalgebra::{Point2, Point3};
use seamwright_kinematics::Pose;

use super::bodies::{MovingBodies, MovingBody};
use super::closing::hull;
use super::enclosure::distance;
use super::extent::is_convex;
use super::front::Front;
use super::gather::{Gathered, Nearest, moves, stops, turns, watches};
use super::guard_ends::open_ends;
use super::keeping::{Keeping, Kept, Past};
use super::sweep::Look;
use super::upright::Counted;
use crate::cell::{Cell, Device, Zone, ZoneRole};
use crate::schedule::Instant;
use crate::units;

/// In a space whose outline has a notch the edges of bodies are looked at every so many millimetres.
const NOTCH_STEP_MM: f64 = 25.0;

/// One of the questions that [`Gathered`] answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    Nearest,
    Ends,
    Unwatched,
    WhileOff,
    Perhaps,
    Outermost,
}

impl Asked {
    pub(super) const ALL: [Self; 6] =
        [Self::Nearest, Self::Ends, Self::Unwatched, Self::WhileOff, Self::Perhaps, Self::Outermost];

    /// Where its answer is kept.
    pub(super) fn answer(self, gathered: &mut Gathered) -> &mut Option<Nearest> {
        match self {
            Self::Nearest => &mut gathered.nearest,
            Self::Ends => &mut gathered.ends,
            Self::Unwatched => &mut gathered.unwatched,
            Self::WhileOff => &mut gathered.while_off,
            Self::Perhaps => &mut gathered.perhaps,
            Self::Outermost => &mut gathered.outermost,
        }
    }
}

/// A zone with what is asked about it.
pub(super) struct Seen<'c> {
    cell: &'c Cell,
    zone: &'c Zone,
    /// `zone_from_world`, of a zone that no axis moves.
    stands: Option<Pose>,
    counted: Counted,
    front: Option<Front>,
    keeping: Keeping<'c>,
    has_notch: bool,
    /// Of a flat guard: where along its x it has ends.
    ends: Vec<f64>,
    /// External axes that carry the zone.
    carriers: Vec<usize>,
}

impl<'c> Seen<'c> {
    pub(super) fn new(cell: &'c Cell, zone: &'c Zone) -> Self {
        let axes = 0..cell.frames.axes.len();
        let carriers: Vec<usize> = axes.filter(|axis| cell.frames.moves_with(zone.frame, *axis)).collect();
        let stands = carriers.is_empty().then(|| zone_from_world(cell, zone, &cell.frames.rest()));
        Self {
            cell,
            zone,
            stands,
            counted: Counted::new(cell, zone),
            front: Front::in_cell(cell, zone),
            keeping: Keeping::new(cell, zone),
            has_notch: !is_convex(&zone.region),
            ends: if zone.role == ZoneRole::Guard { open_ends(cell, zone) } else { Vec::new() },
            carriers,
        }
    }

    /// Whether devices keep whoever is in the place from a body that moves at an instant.
    pub(super) fn kept_from_place(&self, body: &MovingBody, instant: &Instant) -> Kept {
        self.keeping.kept_from_place(body, instant)
    }

    /// How somebody comes to the place at an instant past the devices that stop a body then.
    pub(super) fn past(&self, body: &MovingBody, instant: &Instant) -> Past {
        self.keeping.past(body, instant)
    }

    /// Whether somebody who has come through a device's field gets to a body that moves at an instant without breaking another field that
    /// stops it.
    pub(super) fn is_come_to(&self, body: &MovingBody, points: &[Point3<f64>], instant: &Instant) -> bool {
        self.keeping.is_come_to(body, points, instant)
    }

    /// All that one look says.
    pub(super) fn look(&self, bodies: &MovingBodies, look: &Look<'_>, gathered: &mut Gathered) {
        let carriers = bodies.world_from_carriers(self.cell, &look.stance.axes, &look.stance.external);
        for (body, pose) in bodies.bodies.iter().zip(carriers) {
            let points = body.in_world(&pose);
            for asked in Asked::ALL {
                let kept = asked.answer(gathered);
                let most = kept.as_ref().map_or(f64::INFINITY, |kept| asked.value(kept.distance));
                let found = self
                    .asks(asked, body, look.instant)
                    .then(|| self.found(asked, body, &points, look, most))
                    .flatten();
                if let Some(found) = found.filter(|found| asked.value(found.distance) < most) {
                    *kept = Some(found);
                }
            }
        }
    }

    /// Whether a body is asked about at an instant, wherever it is.
    pub(super) fn asks(&self, asked: Asked, body: &MovingBody, instant: &Instant) -> bool {
        let zone = self.zone;
        if zone.role.is_space() {
            return asked == Asked::Outermost && (body.is_of_arm() || !zone.role.limits_the_arm_alone());
        }
        if !moves(body, instant) {
            return false;
        }
        if zone.role == ZoneRole::OperatorPlace {
            return match asked {
                Asked::Unwatched => self.keeping.kept_from_place(body, instant) != Kept::Yes,
                Asked::Perhaps => self.keeping.kept_from_place(body, instant) == Kept::Perhaps,
                _ => false,
            };
        }
        // While it turns itself, a guard is before nobody.
        if zone.role == ZoneRole::Guard && self.carriers.iter().any(|axis| turns(instant, *axis)) {
            return false;
        }
        match (asked, &self.front) {
            (Asked::Ends, Some(Front::Upright { .. })) => !self.ends.is_empty(),
            (Asked::Nearest | Asked::Unwatched | Asked::WhileOff, Some(_)) => {
                asked == self.asked_of(body, instant)
            }
            _ => false,
        }
    }

    /// Which question of a device or guard a body that moves belongs to.
    fn asked_of(&self, body: &MovingBody, instant: &Instant) -> Asked {
        let Some(device) = &self.zone.device else { return Asked::Nearest };
        if watches(device, self.zone, instant) && stops(device, body, instant) {
            Asked::Nearest
        } else if is_off_for(self.cell, device, self.zone, body, instant) {
            Asked::WhileOff
        } else {
            Asked::Unwatched
        }
    }

    /// No more than the value of anything that lies in the hull of balls of `radius` about some points in the world.
    pub(super) fn bound(&self, asked: Asked, points: &[Point3<f64>], radius: f64) -> f64 {
        let Some(zone_from_world) = &self.stands else { return f64::NEG_INFINITY };
        let local: Vec<Point3<f64>> = points.iter().map(|point| zone_from_world * point).collect();
        match (asked, &self.front) {
            (Asked::Outermost, _) if self.has_notch && points.len() > 1 => f64::NEG_INFINITY,
            (Asked::Outermost, _) => {
                let out = local.iter().map(|point| self.counted.signed_distance(point));
                -out.fold(f64::NEG_INFINITY, f64::max) - radius
            }
            (Asked::Ends, Some(Front::Upright { .. })) => least_to_ends(&self.ends, &local) - radius,
            _ if self.zone.role == ZoneRole::OperatorPlace => self.counted.least(&local, radius),
            (_, Some(front)) => front.least(&local, radius),
            (_, None) => f64::INFINITY,
        }
    }

    /// What a body that is asked about has to say at a look, where its value is no more than `most`.
    pub(super) fn found(
        &self,
        asked: Asked,
        body: &MovingBody,
        points: &[Point3<f64>],
        look: &Look<'_>,
        most: f64,
    ) -> Option<Nearest> {
        let moved = || self.zone_from_world(&look.stance.external);
        let zone_from_world = self.stands.unwrap_or_else(moved);
        let (distance, point) = self.distance(asked, body, points, &zone_from_world)?;
        let counts = asked.value(distance) <= most
            && self.is_met(asked, body, points, look.instant, (distance, &point));
        counts.then(|| Nearest {
            distance,
            body: body.name.clone(),
            t: look.instant.t,
            in_cycle: look.instant.in_cycle,
            instant: look.index,
            stopping_for: look.stopping_for,
            point,
        })
    }

    fn distance(
        &self,
        asked: Asked,
        body: &MovingBody,
        points: &[Point3<f64>],
        zone_from_world: &Pose,
    ) -> Option<(f64, Point3<f64>)> {
        let out = |point: &Point3<f64>| self.counted.signed_distance(&(zone_from_world * point));
        match (asked, &self.front) {
            (Asked::Outermost, _) => {
                let farthest = |points: &[Point3<f64>]| {
                    let all = points.iter().map(|point| (out(point) + body.radius, *point));
                    all.reduce(|most, other| if other.0 > most.0 { other } else { most })
                };
                if self.has_notch { farthest(&along_edges(points)) } else { farthest(points) }
            }
            (Asked::Ends, Some(Front::Upright { .. })) => {
                let (distance, point) = nearest_to_ends(&self.ends, points, zone_from_world)?;
                Some((distance - body.radius, point))
            }
            _ if self.zone.role == ZoneRole::OperatorPlace => {
                let local: Vec<Point3<f64>> = points.iter().map(|point| zone_from_world * point).collect();
                let (distance, point) = self.counted.nearest(&local)?;
                Some((distance - body.radius, zone_from_world.inverse() * point))
            }
            (_, Some(front)) => {
                let local: Vec<Point3<f64>> = points.iter().map(|point| zone_from_world * point).collect();
                let distance = front.distance(&local, body.radius)?;
                let point = nearest_to(front, &local).map_or(Point3::origin(), |index| points[index]);
                Some((distance, point))
            }
            (_, None) => None,
        }
    }

    /// Of a zone that axes carry; of a flat guard whose side is not stated turned so that the arm's foot is behind it.
    fn zone_from_world(&self, external: &[f64]) -> Pose {
        let (cell, zone) = (self.cell, self.zone);
        let zone_from_world = zone_from_world(cell, zone, external);
        if !zone.guard.as_ref().is_some_and(|guard| guard.faces_foot) {
            return zone_from_world;
        }
        let foot = cell.frames.world_from(cell.arm.frame, external) * cell.arm.frame_from_base;
        let is_before = (zone_from_world * Point3::from(foot.translation.vector)).y < 0.0;
        let half_turn = Pose::rotation(nalgebra::Vector3::z() * std::f64::consts::PI);
        if is_before { half_turn * zone_from_world } else { zone_from_world }
    }

    /// Whether somebody meets what comes so near.
    fn is_met(
        &self,
        asked: Asked,
        body: &MovingBody,
        points: &[Point3<f64>],
        instant: &Instant,
        (distance, point): (f64, &Point3<f64>),
    ) -> bool {
        match asked {
            Asked::Nearest | Asked::Ends | Asked::Outermost => true,
            Asked::Unwatched | Asked::Perhaps if self.zone.role == ZoneRole::OperatorPlace => {
                self.keeping.is_kept_perhaps(body, instant, point) == (asked == Asked::Perhaps)
            }
            // Hands leave a two-hand control for what it stops; of all else something else keeps them.
            _ if self.zone.role == ZoneRole::TwoHandControl && distance >= 0.0 => false,
            _ => self.is_come_to(body, points, instant),
        }
    }
}

impl Asked {
    /// A distance as something of which the least is looked for.
    pub(super) fn value(self, distance: f64) -> f64 {
        if self == Self::Outermost { -distance } else { distance }
    }
}

fn zone_from_world(cell: &Cell, zone: &Zone, external: &[f64]) -> Pose {
    (cell.frames.world_from(zone.frame, external) * zone.frame_from_zone).inverse()
}

/// No more than the distance of anything in the hull of some points from the upright ends of a flat guard, m: by the rectangle about them.
fn least_to_ends(ends: &[f64], local: &[Point3<f64>]) -> f64 {
    let Some(first) = local.first() else { return f64::INFINITY };
    let (low, high) = local
        .iter()
        .fold((first.xy(), first.xy()), |(low, high), point| (low.inf(&point.xy()), high.sup(&point.xy())));
    let to = |x: &f64| (low.x - x).max(x - high.x).max(0.0).hypot(low.y.max(-high.y).max(0.0));
    ends.iter().map(to).fold(f64::INFINITY, f64::min)
}

/// How far the hull of some points in the world is from the nearest of the upright ends of a flat guard, seen from above, m, and which of the points
/// is nearest.
fn nearest_to_ends(
    ends: &[f64],
    points: &[Point3<f64>],
    zone_from_world: &Pose,
) -> Option<(f64, Point3<f64>)> {
    let seen: Vec<Point2<f64>> = points.iter().map(|point| (zone_from_world * point).xy()).collect();
    let polygon = hull(seen.clone());
    let of_end = |end: &f64| (distance(&polygon, &Point2::new(*end, 0.0)), *end);
    let (least, end) = ends.iter().map(of_end).reduce(|a, b| if b.0 < a.0 { b } else { a })?;
    let far = |at: &Point2<f64>| (at - Point2::new(end, 0.0)).norm();
    let corners = seen.iter().zip(points).map(|(at, point)| (far(at), *point));
    let (_, point) = corners.reduce(|a, b| if b.0 < a.0 { b } else { a })?;
    Some((least, point))
}

/// The points themselves and points on the lines between each two of them, no farther apart than the step; of rims with many points
/// only the lines from each to the next.
pub(super) fn along_edges(points: &[Point3<f64>]) -> Vec<Point3<f64>> {
    /// Up to so many points every pair is joined.
    const FEW: usize = 8;
    let mut all = points.to_vec();
    let mut line = |a: &Point3<f64>, b: &Point3<f64>| {
        let steps = ((b - a).norm() / units::mm(NOTCH_STEP_MM)).ceil().min(400.0) as u32;
        all.extend((1..steps).map(|step| a + (b - a) * (f64::from(step) / f64::from(steps))));
    };
    if points.len() <= FEW {
        for (index, a) in points.iter().enumerate() {
            points[index + 1..].iter().for_each(|b| line(a, b));
        }
    } else {
        points.windows(2).for_each(|pair| line(&pair[0], &pair[1]));
        // A bar's rims: from each point of the one to its fellow on the other.
        let half = points.len() / 2;
        (0..half).for_each(|index| line(&points[index], &points[half + index]));
    }
    all
}

fn nearest_to(front: &Front, local: &[Point3<f64>]) -> Option<usize> {
    let all = local.iter().map(|point| front.behind(point)).enumerate();
    all.reduce(|least, other| if other.1 < least.1 { other } else { least }).map(|(index, _)| index)
}

/// Whether a device that is off lets a body move so: all but an external axis that it stops and that carries its own station, which turns
/// while it does not watch.
fn is_off_for(cell: &Cell, device: &Device, zone: &Zone, body: &MovingBody, instant: &Instant) -> bool {
    let carries = |axis: usize| {
        zone.station.is_some_and(|station| cell.frames.moves_with(cell.stations[station.0].frame, axis))
    };
    let mut axes = body.moved_by.iter().filter(|axis| turns(instant, **axis));
    !watches(device, zone, instant)
        && (body.is_of_arm() || axes.all(|&axis| !device.stops_axes.contains(&axis) || !carries(axis)))
}
