//! Decides what one break of a field leads to: how everything stands at every look from then on, what comes nearest to the field, and how
//! far everything goes at most.

use nalgebra::Point3;
use seamwright_kinematics::AxisValues;

use super::{Intrusion, Scene};
use crate::cell::{Cell, Device, Zone, ZoneId};
use crate::safety::bodies::MovingBody;
use crate::safety::front::Front;
use crate::safety::gather::{moves, stops as stops_all, watches};
use crate::safety::going::Going;
use crate::safety::seen::Seen;
use crate::safety::separation::{self, Distance};
use crate::safety::stopping::StopFrom;
use crate::safety::watch::{self, Rule, Speeds, Times};
use crate::schedule::{Instant, Stance};

/// Looks at a stop, and at the path before it.
const LOOKS: u32 = 12;
const PATH_LOOKS: u32 = 4;

/// A field that somebody may break.
pub(super) struct Field<'f> {
    seen: Seen<'f>,
    id: ZoneId,
    zone: &'f Zone,
    device: &'f Device,
    front: Front,
    /// From the break to the order to stop, s.
    delay: f64,
    /// Whether the device stops every axis: then nothing goes on as planned.
    stops_all: bool,
}

/// A field is broken: how everything stands at every look from then on.
pub(super) struct Break {
    clock: f64,
    t: f64,
    in_cycle: Option<f64>,
    stop: StopFrom,
    times: Times,
    asked: Option<(Rule, Distance)>,
    /// How everything stands at a look, and how it is planned to move then; once the stop is ordered none where the device stops everything.
    looks: Vec<(Stance, Option<Instant>)>,
    /// Whether each body is met at some of them.
    moving: Vec<bool>,
}

impl Break {
    fn speed(&self) -> f64 {
        self.asked.map_or(separation::WALKING_SPEED, |(_, asked)| asked.speed)
    }

    /// Way left of a distance, m, that of the rule taken off.
    fn left_with_intrusion(&self, nearest: f64) -> f64 {
        nearest - self.asked.map_or(self.speed() * self.times.total(), |(_, asked)| asked.distance)
    }
}

impl Scene<'_> {
    pub(super) fn field(&self, id: ZoneId) -> Option<Field<'_>> {
        let zone = self.cell.zones.get(id.0)?;
        let device = zone.device.as_ref()?;
        Some(Field {
            seen: Seen::new(self.cell, zone),
            id,
            zone,
            device,
            front: Front::in_cell(self.cell, zone)?,
            delay: device.response? + self.cell.safeguarding.controller.value,
            stops_all: device.stops_arm
                && (0..self.cell.frames.axes.len()).all(|axis| device.stops_axes.contains(&axis)),
        })
    }

    pub(super) fn broken(&self, field: &Field<'_>, clock: f64) -> Option<Break> {
        let Self { cell, bodies, running, stops, .. } = *self;
        let Field { device, delay, .. } = *field;
        let first = running.at(clock)?;
        if !watches(device, field.zone, &first) {
            return None;
        }
        let (t, in_cycle) = (first.t, first.in_cycle);
        let mut ordered = running.at(clock + delay)?;
        if !device.stops_arm {
            ordered.motion.rates.axes.fill(0.0);
        }
        for (axis, rate) in ordered.motion.rates.external.iter_mut().enumerate() {
            if !device.stops_axes.contains(&axis) {
                *rate = 0.0;
            }
        }
        let stop = stops.from(&ordered.motion);
        let speeds = Speeds {
            arm: std::array::from_fn(|axis| stop.arm[axis].speed),
            external: stop.outside.iter().map(|braking| braking.speed).collect(),
        };
        let times = watch::times_from(cell, stops, device, &speeds)?;
        let later = (1..=PATH_LOOKS)
            .filter_map(|look| running.at(clock + delay * f64::from(look) / f64::from(PATH_LOOKS)));
        let on_path: Vec<Instant> = std::iter::once(first).chain(later).collect();
        let by_device =
            |body: &MovingBody| on_path.iter().any(|at| moves(body, at) && stops_all(device, body, at));
        if !bodies.bodies.iter().any(by_device) {
            return None;
        }
        let braking: Vec<(Stance, Option<Instant>)> = (1..=LOOKS)
            .filter_map(|look| {
                let after = stop.time() * f64::from(look) / f64::from(LOOKS);
                if field.stops_all {
                    return Some((stop.at(after), None));
                }
                let planned = running.at(clock + delay + after)?;
                Some((self.partly_stopped(device, stop.at(after), &planned), Some(planned)))
            })
            .collect();
        let moving = bodies.bodies.iter().map(|body| {
            on_path.iter().any(|at| moves(body, at))
                || braking.iter().any(|(_, at)| goes_on(device, body, at.as_ref()))
        });
        let moving = moving.collect();
        let on_path = on_path.into_iter().map(|instant| (instant.motion.stance.clone(), Some(instant)));
        let looks = on_path.chain(braking).collect();
        let asked = watch::deciding(&watch::asked(cell, field.zone, device, &times));
        Some(Break { clock, t, in_cycle, stop, times, asked, looks, moving })
    }

    /// Less than this no way is left, m: by how far everything goes at most from where it is when the field is broken.
    pub(super) fn least_left(&self, field: &Field<'_>, broken: &Break) -> f64 {
        let is_fixed =
            (0..self.cell.frames.axes.len()).all(|axis| !self.cell.frames.moves_with(field.zone.frame, axis));
        let Some((here, _)) = broken.looks.first().filter(|_| is_fixed) else { return f64::NEG_INFINITY };
        let mut off = Stance { axes: AxisValues::zeros(), external: vec![0.0; here.external.len()] };
        for (stance, _) in &broken.looks {
            off.axes = off.axes.sup(&(stance.axes - here.axes).abs());
            for (off, (there, here)) in
                off.external.iter_mut().zip(stance.external.iter().zip(here.external.iter()))
            {
                *off = off.max((there - here).abs());
            }
        }
        let going = Going::new(self.cell, here);
        let zone_from_world = (self.cell.frames.world_from(field.zone.frame, &here.external)
            * field.zone.frame_from_zone)
            .inverse();
        let moving = self.bodies.bodies.iter().zip(&broken.moving).filter(|(_, moves)| **moves);
        let nearest = moving.map(|(body, _)| {
            let middle = going.world_from_carrier(body) * body.middle;
            let goes = going.farthest(body, &middle, &off);
            field.front.least(&[zone_from_world * middle], body.reach + goes)
        });
        broken.left_with_intrusion(nearest.fold(f64::INFINITY, f64::min))
    }

    pub(super) fn met(&self, field: &Field<'_>, broken: Break) -> Option<Intrusion> {
        let Self { cell, bodies, .. } = *self;
        let Field { device, zone, seen, .. } = field;
        let is_met = |body: &MovingBody, points: &[Point3<f64>], at: Option<&Instant>| {
            at.is_none_or(|at| !goes_on(device, body, Some(at)) || seen.is_come_to(body, points, at))
        };
        let unstopped = broken.looks.last().and_then(|(stance, at)| {
            let at = at.as_ref()?;
            let mut met = bodies.bodies.iter().filter(|body| {
                goes_on(device, body, Some(at)) && {
                    let pose = Going::new(cell, stance).world_from_carrier(body);
                    seen.is_come_to(body, &body.in_world(&pose), at)
                }
            });
            met.next()
        });
        let mut nearest: Option<(f64, usize)> = None;
        for (stance, at) in &broken.looks {
            let going = Going::new(cell, stance);
            let zone_from_world =
                (cell.frames.world_from(zone.frame, &stance.external) * zone.frame_from_zone).inverse();
            let moving = bodies.bodies.iter().enumerate().filter(|(index, _)| broken.moving[*index]);
            for (index, body) in moving {
                let pose = going.world_from_carrier(body);
                let known = nearest.map_or(f64::INFINITY, |(nearest, _)| nearest);
                let zone_from_carrier = zone_from_world * pose;
                if field.front.least(&[zone_from_carrier * body.middle], body.reach) >= known {
                    continue;
                }
                let local = body.in_world(&zone_from_carrier);
                if let Some(distance) = field.front.distance(&local, body.radius)
                    && distance < known
                    && is_met(body, &body.in_world(&pose), at.as_ref())
                {
                    nearest = Some((distance, index));
                }
            }
        }
        let (nearest, body) = nearest?;
        let time = broken.times.total();
        Some(Intrusion {
            zone: field.id,
            clock: broken.clock,
            t: broken.t,
            in_cycle: broken.in_cycle,
            ordered_after: field.delay,
            stands_after: time,
            nearest,
            body: bodies.bodies[body].name.clone(),
            last_to_stand: last_to_stand(cell, &broken.stop),
            unstopped: unstopped.map(|body| body.name.clone()),
            approach_speed: broken.speed(),
            left: nearest - broken.speed() * time,
            left_with_intrusion: broken.left_with_intrusion(nearest),
            asked: broken.asked,
            stop: broken.stop,
        })
    }

    /// How everything stands where what a device stops has come so far, and all else goes on as planned.
    pub(super) fn partly_stopped(&self, device: &Device, stopping: Stance, planned: &Instant) -> Stance {
        let mut stance = planned.motion.stance.clone();
        if device.stops_arm {
            stance.axes = stopping.axes;
        }
        for &axis in &device.stops_axes {
            stance.external[axis] = stopping.external[axis];
        }
        stance
    }
}

/// Whether a body moves at an instant and a device does not stop it.
fn goes_on(device: &Device, body: &MovingBody, at: Option<&Instant>) -> bool {
    at.is_some_and(|at| moves(body, at) && !stops_all(device, body, at))
}

/// What stands last.
fn last_to_stand(cell: &Cell, stop: &StopFrom) -> String {
    let arm = stop.arm.iter().enumerate().map(|(axis, braking)| (format!("axis {}", axis + 1), braking.time));
    let external = stop
        .outside
        .iter()
        .enumerate()
        .map(|(axis, braking)| (cell.frames.axes[axis].name.clone(), braking.time));
    let last = arm.chain(external).reduce(|last, other| if other.1 > last.1 { other } else { last });
    last.filter(|(_, time)| *time > 0.0).map_or_else(|| "nothing moves".to_owned(), |(name, _)| name)
}
