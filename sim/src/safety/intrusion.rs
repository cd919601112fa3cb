//! Decides what happens when somebody breaks a field at a instant of the schedule and walks on: whether everything stands before they
//! arrive, and how much way is left to them.
//!
//! From the break of the field the planned motion goes on for the times of device and controller; then each axis that the device stops
//! brakes by itself from the speed it has, to standstill, and what it does not stop goes on as planned; what another device stops that they
//! break as well, or no way leads to, is not theirs to meet. The person goes from the field
//! toward the nearest point that anything comes to in all that time, at the speed of the rule that decides, and may have been through
//! the field by its intrusion distance before it acted.

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::AxisValues;

use super::bodies::{MovingBodies, MovingBody};
use super::front::Front;
use super::gather::{moves, stops as stops_all, watches};
use super::going::Going;
use super::instants::Instant;
use super::seen::Seen;
use super::separation::{self, Distance};
use super::stopping::{StopFrom, Stops};
use super::watch::{self, Rule, Speeds, Times};
use crate::cell::{Cell, Device, Zone, ZoneId};
use crate::schedule::{Schedule, Stance};
use crate::streams;

/// Looks at a stop, and at the path before it.
const LOOKS: u32 = 12;
const PATH_LOOKS: u32 = 4;
/// So many of the instants that may be worst are looked at side by side.
const AT_ONCE: usize = 16;

/// Somebody reaches in.
#[derive(Clone, Debug)]
pub struct Intrusion {
    /// The field.
    pub zone: ZoneId,
    /// When it is broken, s from the start of the round.
    pub t: f64,
    /// When the stop is ordered at the drives, s from the start of the round.
    pub ordered_at: f64,
    /// How everything stops from there.
    pub stop: StopFrom,
    /// From the break of the field until everything that the device stops stands, s.
    pub stands_after: f64,
    /// From the field to the nearest point that anything comes to until then, m.
    pub nearest: f64,
    /// What comes there.
    pub body: String,
    /// What stands last.
    pub last_to_stand: String,
    /// What still moves then, because the device does not stop it, where something does.
    pub unstopped: Option<String>,
    /// What the rule that decides asks for the time it takes; none where no rule that counts has a figure.
    pub asked: Option<(Rule, Distance)>,
    /// Speed of the person, m/s.
    pub approach_speed: f64,
    /// Way left to the person when everything stands, m; negative where they would have been reached.
    pub left: f64,
    /// The same, less the intrusion distance of the rule (and not less than its least distances), m.
    pub left_with_intrusion: f64,
}

impl Intrusion {
    /// Where everything stands `t` seconds after the order to stop.
    #[must_use]
    pub fn at(&self, t: f64) -> Stance {
        self.stop.at(t)
    }
}

/// What a whole round says of one field.
#[derive(Clone, Debug)]
pub struct Intrusions {
    /// The instant at which least way is left, intrusion distance counted.
    pub worst: Intrusion,
    /// How many instants were drawn.
    pub drawn: usize,
    /// Of these, how many left the person no way, or less, intrusion distance counted.
    pub reached: usize,
    /// Way left in the middling one of these, m, intrusion distance counted.
    pub middling: f64,
}

/// Everything that an intrusion is worked out from.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'s> {
    /// The cell.
    pub cell: &'s Cell,
    /// What moves.
    pub bodies: &'s MovingBodies,
    /// When.
    pub schedule: &'s Schedule,
    /// Instants that are looked at over the whole round.
    pub instants: &'s [Instant],
    /// How it stops.
    pub stops: &'s Stops,
}

/// A field that somebody may break.
struct Field<'f> {
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
struct Break {
    t: f64,
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
    /// Somebody breaks the field of `zone` at `t` (s from the start of the round).
    ///
    /// None where it is no field of a device with a stated response, where it does not watch then, or where nothing that it
    /// stops moves.
    #[must_use]
    pub fn intrusion(&self, zone: ZoneId, t: f64) -> Option<Intrusion> {
        let field = self.field(zone)?;
        self.met(&field, self.broken(&field, t)?)
    }

    fn field(&self, id: ZoneId) -> Option<Field<'_>> {
        let zone = self.cell.zones.get(id.0)?;
        let device = zone.device.as_ref()?;
        Some(Field {
            seen: Seen::new(self.cell, zone),
            id,
            zone,
            device,
            front: Front::of(zone)?,
            delay: device.response? + self.cell.safeguarding.controller.value,
            stops_all: device.stops_arm
                && (0..self.cell.frames.axes.len()).all(|axis| device.stops_axes.contains(&axis)),
        })
    }

    fn broken(&self, field: &Field<'_>, t: f64) -> Option<Break> {
        let Self { cell, bodies, schedule, stops, .. } = *self;
        let Field { device, delay, .. } = *field;
        let first = Instant::at(schedule, t)?;
        if !watches(device, field.zone, &first) {
            return None;
        }
        let mut ordered = Instant::at(schedule, t + delay)?;
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
            .filter_map(|look| Instant::at(schedule, t + delay * f64::from(look) / f64::from(PATH_LOOKS)));
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
                let planned = Instant::at(schedule, t + delay + after)?;
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
        Some(Break { t, stop, times, asked, looks, moving })
    }

    /// Less than this no way is left, m: by how far everything goes at most from where it is when the field is broken.
    fn least_left(&self, field: &Field<'_>, broken: &Break) -> f64 {
        let is_fixed =
            (0..self.cell.frames.axes.len()).all(|axis| !self.cell.frames.moves_with(field.zone.frame, axis));
        let Some((here, _)) = broken.looks.first().filter(|_| is_fixed) else { return f64::NEG_INFINITY };
        let mut off = Stance { axes: AxisValues::zeros(), external: vec![0.0; here.external.len()].into() };
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

    fn met(&self, field: &Field<'_>, broken: Break) -> Option<Intrusion> {
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
            t: broken.t,
            ordered_at: broken.t + field.delay,
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
    fn partly_stopped(&self, device: &Device, stopping: Stance, planned: &Instant) -> Stance {
        let mut stance = planned.motion.stance.clone();
        if device.stops_arm {
            stance.axes = stopping.axes;
        }
        for &axis in &device.stops_axes {
            stance.external[axis] = stopping.external[axis];
        }
        stance
    }

    /// Somebody breaks the field at every instant of the schedule, and at `draws` instants drawn evenly over it from `seed`.
    #[must_use]
    pub fn intrusions(&self, zone: ZoneId, draws: usize, seed: u64) -> Option<Intrusions> {
        let field = self.field(zone)?;
        let worst = self.worst(&field)?;
        let (first, last) = (self.instants.first()?.t, self.instants.last()?.t);
        let mut stream = streams::stream(seed, 0, &format!("intrusion {}", self.cell.zones[zone.0].name));
        let drawn: Vec<f64> =
            (0..draws).map(|_| first + (last - first) * streams::even(&mut stream)).collect();
        let left: Vec<Option<f64>> = drawn
            .par_iter()
            .map(|t| {
                let intrusion = self.met(&field, self.broken(&field, *t)?)?;
                Some(intrusion.left_with_intrusion)
            })
            .collect();
        let mut left: Vec<f64> = left.into_iter().flatten().collect();
        left.sort_by(f64::total_cmp);
        Some(Intrusions {
            drawn: left.len(),
            reached: left.iter().filter(|left| **left < 0.0).count(),
            middling: left.get(left.len() / 2).copied().unwrap_or(worst.left_with_intrusion),
            worst,
        })
    }

    /// The instant at which least way is left; of equals the first. Looked at are those first that may be worst.
    fn worst(&self, field: &Field<'_>) -> Option<Intrusion> {
        let least = |(index, instant): (usize, &Instant)| {
            let broken = self.broken(field, instant.t)?;
            Some((self.least_left(field, &broken), index))
        };
        let all: Vec<Option<(f64, usize)>> = self.instants.par_iter().enumerate().map(least).collect();
        let mut all: Vec<(f64, usize)> = all.into_iter().flatten().collect();
        // A stable sort: of equals the first comes first.
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut worst: Option<(usize, Intrusion)> = None;
        for some in all.chunks(AT_ONCE) {
            let least_left = worst.as_ref().map_or(f64::INFINITY, |(_, worst)| worst.left_with_intrusion);
            if some.first().is_none_or(|(least, _)| *least > least_left) {
                break;
            }
            let of = |(_, index): &(f64, usize)| {
                let broken = self.broken(field, self.instants[*index].t)?;
                Some((*index, self.met(field, broken)?))
            };
            let found: Vec<Option<(usize, Intrusion)>> = some.par_iter().map(of).collect();
            worst = worst.into_iter().chain(found.into_iter().flatten()).reduce(|worst, other| {
                let key = |(index, intrusion): &(usize, Intrusion)| (intrusion.left_with_intrusion, *index);
                if key(&other) < key(&worst) { other } else { worst }
            });
        }
        worst.map(|(_, worst)| worst)
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
