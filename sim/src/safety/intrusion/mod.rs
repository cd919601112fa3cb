//! Decides what happens when somebody breaks a field at a instant of the schedule and walks on: whether everything stands before they
//! arrive, and how much way is left to them.
//!
//! From the break of the field the planned motion goes on for the times of device and controller; then each axis that the device stops
//! brakes by itself from the speed it has, to standstill, and what it does not stop goes on as planned; what another device stops that they
//! break as well, or no way leads to, is not theirs to meet. The person goes from the field
//! toward the nearest point that anything comes to in all that time, at the speed of the rule that decides, and may have been through
//! the field by its intrusion distance before it acted.

mod broken;

use rayon::prelude::*;

use super::bodies::MovingBodies;
use super::separation::Distance;
use super::stopping::{StopFrom, Stops};
use super::watch::Rule;
use crate::cell::{Cell, ZoneId};
use crate::schedule::{Instant, Running, Stance};
use crate::streams;
use broken::Field;

/// So many of the instants that may be worst are looked at side by side.
const AT_ONCE: usize = 16;

/// Somebody reaches in.
#[derive(Clone, Debug)]
pub struct Intrusion {
    /// The field.
    pub zone: ZoneId,
    /// When it is broken, by the clock of the cell, s.
    pub clock: f64,
    /// The same, s from the start of the round.
    pub t: f64,
    /// The same, s from the start of the cycle, where tables turn in that while the arm is elsewhere.
    pub in_cycle: Option<f64>,
    /// From then until the stop is ordered at the drives, s.
    pub ordered_after: f64,
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
    pub running: &'s Running<'s>,
    /// Instants that are looked at over the whole round.
    pub instants: &'s [Instant],
    /// How it stops.
    pub stops: &'s Stops,
}

impl Scene<'_> {
    /// Somebody breaks the field of `zone` at `clock` (s, by which the cell runs).
    ///
    /// None where it is no field of a device with a stated response, where it does not watch then, or where nothing that it
    /// stops moves.
    #[must_use]
    pub fn intrusion(&self, zone: ZoneId, clock: f64) -> Option<Intrusion> {
        let field = self.field(zone)?;
        self.met(&field, self.broken(&field, clock)?)
    }

    /// How everything stands `since` seconds after a field was broken: on its way until the stop is ordered, then stopping, while what the
    /// device does not stop goes on as planned.
    #[must_use]
    pub fn stance(&self, intrusion: &Intrusion, since: f64) -> Stance {
        let stopping_for = since - intrusion.ordered_after;
        let device = self.cell.zones.get(intrusion.zone.0).and_then(|zone| zone.device.as_ref());
        let planned = self.running.at(intrusion.clock + since);
        match (planned, device) {
            (Some(planned), _) if stopping_for < 0.0 => planned.motion.stance,
            (Some(planned), Some(device)) => {
                self.partly_stopped(device, intrusion.at(stopping_for), &planned)
            }
            _ => intrusion.at(stopping_for.max(0.0)),
        }
    }

    /// Somebody breaks the field at every instant of the schedule, and at `draws` instants drawn evenly over it from `seed`.
    #[must_use]
    pub fn intrusions(&self, zone: ZoneId, draws: usize, seed: u64) -> Option<Intrusions> {
        let field = self.field(zone)?;
        let worst = self.worst(&field)?;
        let (first, last) = (self.instants.first()?.clock, self.instants.last()?.clock);
        let mut stream = streams::stream(seed, 0, &format!("intrusion {}", self.cell.zones[zone.0].name));
        let drawn: Vec<f64> =
            (0..draws).map(|_| first + (last - first) * streams::even(&mut stream)).collect();
        let left: Vec<Option<f64>> = drawn
            .par_iter()
            .map(|clock| {
                let intrusion = self.met(&field, self.broken(&field, *clock)?)?;
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
            let broken = self.broken(field, instant.clock)?;
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
                let broken = self.broken(field, self.instants[*index].clock)?;
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
