//! Decides what happens when somebody breaks a field at a instant of the schedule and walks on: whether everything stands before they
//! arrive, and how much way is left to them.
//!
//! From the break of the field the planned motion goes on for the times of device and controller; then each axis that the device stops
//! brakes by itself from the speed it has, to standstill, and what it does not stop goes on as planned; what another device stops that they
//! break as well, or no way leads to, is not theirs to meet. The person goes from the field
//! toward the nearest point that anything comes to in all that time, at the speed of the rule that decides, and may have been through
//! the field by its intrusion distance before it acted.

use rayon::prelude::*;

use super::bodies::{MovingBodies, MovingBody};
use super::front::Front;
use super::gather::{Seen, moves, stops as stops_all, watches};
use super::instants::Instant;
use super::separation::{self, Distance};
use super::stopping::{StopFrom, Stops};
use super::watch::{self, Rule, Speeds};
use crate::cell::{Cell, Device, ZoneId};
use crate::schedule::{Schedule, Stance};
use crate::streams;

/// Looks at a stop, and at the path before it.
const LOOKS: u32 = 12;
const PATH_LOOKS: u32 = 4;

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

impl Scene<'_> {
    /// Somebody breaks the field of `zone` at `t` (s from the start of the round).
    ///
    /// None where it is no field of a device with a stated response, where it does not watch then, or where nothing that it
    /// stops moves.
    #[must_use]
    pub fn intrusion(&self, zone: ZoneId, t: f64) -> Option<Intrusion> {
        self.broken(&Seen::new(self.cell, self.cell.zones.get(zone.0)?), zone, t)
    }

    fn broken(&self, seen: &Seen<'_>, zone: ZoneId, t: f64) -> Option<Intrusion> {
        let Self { cell, bodies, schedule, stops, .. } = *self;
        let place = cell.zones.get(zone.0)?;
        let device = place.device.as_ref()?;
        let front = Front::of(place)?;
        if !watches(device, place, &Instant::at(schedule, t)?) {
            return None;
        }
        let delay = device.response? + cell.safeguarding.controller.value;
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
        let on_path: Vec<Instant> = (0..=PATH_LOOKS)
            .filter_map(|look| Instant::at(schedule, t + delay * f64::from(look) / f64::from(PATH_LOOKS)))
            .collect();
        let braking: Vec<(Stance, Instant)> = (1..=LOOKS)
            .filter_map(|look| {
                let after = stop.time() * f64::from(look) / f64::from(LOOKS);
                let planned = Instant::at(schedule, t + delay + after)?;
                Some((self.partly_stopped(device, stop.at(after), &planned), planned))
            })
            .collect();
        let by_device =
            |body: &MovingBody| on_path.iter().any(|at| moves(body, at) && stops_all(device, body, at));
        if !bodies.bodies.iter().any(by_device) {
            return None;
        }
        let goes_on = |body: &MovingBody, at: &Instant| moves(body, at) && !stops_all(device, body, at);
        let moving: Vec<bool> = bodies
            .bodies
            .iter()
            .map(|body| {
                on_path.iter().any(|at| moves(body, at)) || braking.iter().any(|(_, at)| goes_on(body, at))
            })
            .collect();
        let unstopped = braking.last().and_then(|(Stance { axes, external }, at)| {
            let placed = bodies.bodies.iter().zip(bodies.world_points(cell, axes, external));
            let mut met =
                placed.filter(|(body, points)| goes_on(body, at) && seen.is_come_to(body, points, at));
            met.next().map(|(body, _)| body)
        });
        let looks = on_path.iter().map(|instant| (&instant.motion.stance, instant));
        let looks = looks.chain(braking.iter().map(|(stance, planned)| (stance, planned)));
        let mut nearest: Option<(f64, usize)> = None;
        for (Stance { axes, external }, at) in looks {
            let zone_from_world =
                (cell.frames.world_from(place.frame, external) * place.frame_from_zone).inverse();
            let world = bodies.world_points(cell, axes, external);
            for (index, points) in world.iter().enumerate().filter(|(index, _)| moving[*index]) {
                let local: Vec<_> = points.iter().map(|point| zone_from_world * point).collect();
                if let Some(distance) = front.distance(&local, bodies.bodies[index].radius)
                    && nearest.is_none_or(|(least, _)| distance < least)
                    && (!goes_on(&bodies.bodies[index], at)
                        || seen.is_come_to(&bodies.bodies[index], points, at))
                {
                    nearest = Some((distance, index));
                }
            }
        }
        let (nearest, body) = nearest?;
        let time = times.total();
        let asked = watch::deciding(&watch::asked(cell, place, device, &times));
        let approach_speed = asked.map_or(separation::WALKING_SPEED, |(_, asked)| asked.speed);
        let way = approach_speed * time;
        Some(Intrusion {
            zone,
            t,
            ordered_at: t + delay,
            stands_after: time,
            nearest,
            body: bodies.bodies[body].name.clone(),
            last_to_stand: last_to_stand(cell, &stop),
            unstopped: unstopped.map(|body| body.name.clone()),
            approach_speed,
            left: nearest - way,
            left_with_intrusion: nearest - asked.map_or(way, |(_, asked)| asked.distance),
            asked,
            stop,
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
        let seen = Seen::new(self.cell, self.cell.zones.get(zone.0)?);
        let all: Vec<Option<Intrusion>> =
            self.instants.par_iter().map(|instant| self.broken(&seen, zone, instant.t)).collect();
        let worst = all.into_iter().flatten().reduce(|worst, other| {
            if other.left_with_intrusion < worst.left_with_intrusion { other } else { worst }
        })?;
        let (first, last) = (self.instants.first()?.t, self.instants.last()?.t);
        let mut stream = streams::stream(seed, 0, &format!("intrusion {}", self.cell.zones[zone.0].name));
        let drawn: Vec<f64> =
            (0..draws).map(|_| first + (last - first) * streams::even(&mut stream)).collect();
        let left: Vec<Option<f64>> = drawn
            .par_iter()
            .map(|t| self.broken(&seen, zone, *t).map(|intrusion| intrusion.left_with_intrusion))
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
