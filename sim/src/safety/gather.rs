//! Decides, over all instants and stops at once, what comes nearest to each field and guard, enters each operator place, and sticks
//! out of each space.

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use super::bodies::{MovingBodies, MovingBody};
use super::extent::{is_convex, signed_distance};
use super::front::Front;
use super::instants::Instant;
use super::keeping::{Keeping, Kept};
use super::stopping::Stops;
use super::sweep::{Look, sweep};
use super::upright::Counted;
use crate::cell::{Active, Cell, Device, Zone, ZoneRole};
use crate::units;

/// What turns or slides more slowly than this stands, rad/s or m/s.
pub(super) const STANDS: f64 = 1e-6;
/// In a space whose outline has a notch the edges of bodies are looked at every so many millimetres.
const NOTCH_STEP_MM: f64 = 25.0;

/// What came nearest, or stuck out farthest.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// From the field or place, m, negative where it passes or enters; of a space how far outside, negative inside.
    pub distance: f64,
    /// Name of the body.
    pub body: String,
    /// The instant, s from the start of the round: when the stop was ordered, where `stopping_for` is above 0.
    pub t: f64,
    /// Index of that instant.
    pub instant: usize,
    /// How long after the order to stop, s; 0 on the path.
    pub stopping_for: f64,
    /// Where in the world: the point that is farthest out, or nearest.
    pub point: Point3<f64>,
}

/// What was gathered of one zone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gathered {
    /// Of a device: the nearest of what it stops while it watches. Of a guard: the nearest of anything that moves.
    pub nearest: Option<Nearest>,
    /// Of a flat guard: the nearest that anything that moves comes to either of its ends.
    pub ends: Option<Nearest>,
    /// Of a device: the nearest of what it does not stop though it watches, or though the axis that carries its station turns; where
    /// somebody who has come through it gets to it without breaking another device that stops it. Of an operator place: the nearest of
    /// what moves, and no device stops, while somebody may stand there.
    pub unwatched: Option<Nearest>,
    /// Of a device: the nearest of all else that moves while it is off, and that somebody who has come through it gets to.
    pub while_off: Option<Nearest>,
    /// Of an operator place: what comes nearest of what a device stops behind which the place lies, though somebody may get there
    /// around it.
    pub perhaps: Option<Nearest>,
    /// Of a space: what sticks out farthest, or has least room in it.
    pub outermost: Option<Nearest>,
}

/// Gathers for every zone of the cell, in their order.
#[must_use]
pub fn gather(cell: &Cell, bodies: &MovingBodies, instants: &[Instant], stops: &Stops) -> Vec<Gathered> {
    let seen: Vec<Seen<'_>> = cell.zones.iter().map(|zone| Seen::new(cell, zone)).collect();
    let new = || vec![Gathered::default(); seen.len()];
    let of_moments = sweep(cell, bodies, instants, stops, new, |gathered, look| {
        for (seen, gathered) in seen.iter().zip(gathered) {
            seen.look(cell, bodies, look, gathered);
        }
    });
    let mut all = vec![Gathered::default(); seen.len()];
    for of_moment in of_moments {
        for (kept, new) in all.iter_mut().zip(of_moment) {
            nearer(&mut kept.nearest, new.nearest);
            nearer(&mut kept.ends, new.ends);
            nearer(&mut kept.unwatched, new.unwatched);
            nearer(&mut kept.while_off, new.while_off);
            nearer(&mut kept.perhaps, new.perhaps);
            farther(&mut kept.outermost, new.outermost);
        }
    }
    all
}

fn nearer(kept: &mut Option<Nearest>, new: Option<Nearest>) {
    if new.as_ref().is_some_and(|new| kept.as_ref().is_none_or(|kept| new.distance < kept.distance)) {
        *kept = new;
    }
}

fn farther(kept: &mut Option<Nearest>, new: Option<Nearest>) {
    if new.as_ref().is_some_and(|new| kept.as_ref().is_none_or(|kept| new.distance > kept.distance)) {
        *kept = new;
    }
}

/// A zone with what is asked about it.
pub(super) struct Seen<'c> {
    zone: &'c Zone,
    counted: Counted,
    front: Option<Front>,
    keeping: Keeping<'c>,
    has_notch: bool,
}

impl<'c> Seen<'c> {
    pub(super) fn new(cell: &'c Cell, zone: &'c Zone) -> Self {
        Self {
            zone,
            counted: Counted::new(cell, zone),
            front: Front::of(zone),
            keeping: Keeping::new(cell, zone),
            has_notch: !is_convex(&zone.region),
        }
    }

    /// Whether a device stops, at an instant, all that moves a body then, before somebody is in the place: as far as is known.
    pub(super) fn is_watched(&self, body: &MovingBody, instant: &Instant) -> bool {
        self.keeping.kept_from_place(body, instant) != Kept::No
    }

    /// Whether somebody who has come through a device's field gets to a body that moves at an instant without breaking another field that
    /// stops it.
    pub(super) fn is_come_to(&self, body: &MovingBody, points: &[Point3<f64>], instant: &Instant) -> bool {
        self.keeping.is_come_to(body, points, instant)
    }

    pub(super) fn look(&self, cell: &Cell, bodies: &MovingBodies, look: &Look<'_>, gathered: &mut Gathered) {
        let zone = self.zone;
        let zone_from_world =
            (cell.frames.world_from(zone.frame, &look.stance.external) * zone.frame_from_zone).inverse();
        for (body, points) in bodies.bodies.iter().zip(look.points) {
            if zone.role.is_space() {
                farther(&mut gathered.outermost, self.farthest(body, points, &zone_from_world, look));
                continue;
            }
            if !moves(body, look.instant) {
                continue;
            }
            if zone.role == ZoneRole::OperatorPlace {
                let kept = self.keeping.kept_from_place(body, look.instant);
                if kept == Kept::Yes {
                    continue;
                }
                let nearest = self.nearest_in(body, points, &zone_from_world, look);
                let is_behind =
                    |nearest: &Nearest| self.keeping.is_behind_field(body, look.instant, &nearest.point);
                if kept == Kept::Perhaps && nearest.as_ref().is_some_and(is_behind) {
                    nearer(&mut gathered.perhaps, nearest);
                } else {
                    nearer(&mut gathered.unwatched, nearest);
                }
                continue;
            }
            let Some(front) = &self.front else { continue };
            if zone.role == ZoneRole::Guard
                && let Front::Upright { half_width } = front
            {
                nearer(
                    &mut gathered.ends,
                    nearest_to_ends(*half_width, body, points, &zone_from_world, look),
                );
            }
            let local: Vec<Point3<f64>> = points.iter().map(|point| zone_from_world * point).collect();
            let Some(distance) = front.distance(&local, body.radius) else { continue };
            let device = zone.device.as_ref();
            let stopped = device.is_none_or(|device| {
                watches(device, zone, look.instant) && stops(device, body, look.instant)
            });
            // Hands leave a two-hand control for what it stops; of all else something else keeps them.
            if !stopped && zone.role == ZoneRole::TwoHandControl && distance >= 0.0 {
                continue;
            }
            let kept = if stopped {
                &mut gathered.nearest
            } else if device.is_some_and(|device| is_off_for(cell, device, zone, body, look.instant)) {
                &mut gathered.while_off
            } else {
                &mut gathered.unwatched
            };
            if kept.as_ref().is_some_and(|kept| distance >= kept.distance) {
                continue;
            }
            if !stopped && !self.is_come_to(body, points, look.instant) {
                continue;
            }
            let point = nearest_to(front, &local).map_or(Point3::origin(), |index| points[index]);
            *kept = Some(found(body, look, distance, point));
        }
    }

    /// What of a body sticks out of a space farthest.
    fn farthest(
        &self,
        body: &MovingBody,
        points: &[Point3<f64>],
        zone_from_world: &Pose,
        look: &Look<'_>,
    ) -> Option<Nearest> {
        let out =
            |point: &Point3<f64>| self.counted.signed_distance(&(zone_from_world * point)) + body.radius;
        let farthest = |points: &[Point3<f64>]| {
            points
                .iter()
                .map(|point| (out(point), *point))
                .reduce(|most, other| if other.0 > most.0 { other } else { most })
        };
        let found_at = if self.has_notch { farthest(&along_edges(points)) } else { farthest(points) };
        found_at.map(|(distance, point)| found(body, look, distance, point))
    }

    /// What of a body comes nearest to a place, looked at along its edges.
    fn nearest_in(
        &self,
        body: &MovingBody,
        points: &[Point3<f64>],
        zone_from_world: &Pose,
        look: &Look<'_>,
    ) -> Option<Nearest> {
        let far = |point: &Point3<f64>| self.counted.signed_distance(&(zone_from_world * point));
        nearest_by(far, body, points, look)
    }
}

/// What of a body comes nearest to the upright ends of a flat guard, looked at along its edges, heights aside.
fn nearest_to_ends(
    half_width: f64,
    body: &MovingBody,
    points: &[Point3<f64>],
    zone_from_world: &Pose,
    look: &Look<'_>,
) -> Option<Nearest> {
    let far = |point: &Point3<f64>| {
        let local = zone_from_world * point;
        (local.x.abs() - half_width).hypot(local.y)
    };
    nearest_by(far, body, points, look)
}

/// What of a body is the least `far` (m), looked at along its edges, its radius taken off.
fn nearest_by(
    far: impl Fn(&Point3<f64>) -> f64,
    body: &MovingBody,
    points: &[Point3<f64>],
    look: &Look<'_>,
) -> Option<Nearest> {
    let nearest = along_edges(points)
        .into_iter()
        .map(|point| (far(&point) - body.radius, point))
        .reduce(|least, other| if other.0 < least.0 { other } else { least });
    nearest.map(|(distance, point)| found(body, look, distance, point))
}

fn found(body: &MovingBody, look: &Look<'_>, distance: f64, point: Point3<f64>) -> Nearest {
    Nearest {
        distance,
        body: body.name.clone(),
        t: look.instant.t,
        instant: look.index,
        stopping_for: look.stopping_for,
        point,
    }
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
    let behind = |point: &Point3<f64>| match front {
        Front::Upright { .. } => point.y,
        Front::Edge { into, .. } => into.dot(&point.coords),
        Front::Around(region) => signed_distance(region, point),
    };
    (0..local.len()).reduce(
        |least, other| {
            if behind(&local[other]) < behind(&local[least]) { other } else { least }
        },
    )
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

/// Whether an external axis moves at an instant.
fn turns(instant: &Instant, axis: usize) -> bool {
    instant.motion.rates.external[axis].abs() > STANDS
}

/// Whether the axes of the arm move at an instant.
fn arm_moves(instant: &Instant) -> bool {
    instant.motion.rates.axes.amax() > STANDS
}

/// Whether a body moves at an instant.
#[must_use]
pub fn moves(body: &MovingBody, instant: &Instant) -> bool {
    (body.is_of_arm() && arm_moves(instant)) || body.moved_by.iter().any(|&axis| turns(instant, axis))
}

/// Whether a device watches at an instant. On the way to a device that serves the torch the arm is at no station.
#[must_use]
pub fn watches(device: &Device, zone: &Zone, instant: &Instant) -> bool {
    match device.active {
        Active::Always => true,
        Active::WhileAxesMove => device.stops_axes.iter().any(|&axis| turns(instant, axis)),
        Active::WhileArmHere => instant.service.is_none() && zone.station == Some(instant.station),
    }
}

/// Whether a device stops all that moves a body at an instant.
#[must_use]
pub fn stops(device: &Device, body: &MovingBody, instant: &Instant) -> bool {
    let by_arm = body.is_of_arm() && arm_moves(instant);
    let mut by_axes = body.moved_by.iter().filter(|axis| turns(instant, **axis));
    (!by_arm || device.stops_arm) && by_axes.all(|axis| device.stops_axes.contains(axis))
}
