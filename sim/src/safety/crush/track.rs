//! Decides where every thing is look by look, and how far from one look things go in a whole stretch of others: what is far then need not be
//! looked at more closely.

use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::super::bodies::MovingBodies;
use super::super::stopping::Stops;
use super::super::stretch::Stretch;
use super::thing::{Placed, Thing};
use super::wall::Wall;
use crate::cell::Cell;
use crate::schedule::Instant;
use crate::units;

/// What has gone less far than this since the look before is not looked at again, unless it comes to rest there, mm.
const LOOK_MM: f64 = 1.0;
/// Between two looks at a stop no axis of the arm turns by more than this.
const STOP_STEP_DEG: f64 = 3.0;
/// Looks at one stop: at least where external axes move, and at most.
const STOP_LOOKS: [u32; 2] = [6, 16];

/// Every look, and stretches of looks.
pub(super) struct Track<'r> {
    cell: &'r Cell,
    bodies: &'r MovingBodies,
    stops: &'r Stops,
    pub(super) things: Vec<Thing>,
    pub(super) looks: Vec<Look<'r>>,
    /// Of each stretch, from the look in its middle, how far every thing that moves goes in it at most, m.
    spread: Vec<Vec<f64>>,
}

/// One look.
pub(super) struct Look<'r> {
    /// When everything stands as it is seen.
    pub(super) t: f64,
    pub(super) in_cycle: Option<f64>,
    /// How everything moves then; where it comes to rest, how it moved just before.
    pub(super) moving: &'r Instant,
    /// Everything, in the order of the things that move.
    pub(super) placed: Vec<Placed>,
}

impl<'r> Track<'r> {
    pub(super) fn new(
        cell: &'r Cell,
        bodies: &'r MovingBodies,
        instants: &'r [Instant],
        stops: &'r Stops,
    ) -> Self {
        let things = Thing::all(cell, bodies);
        let at = |instant: &Instant| placed(cell, bodies, &things, &instant.motion.stance);
        let places: Vec<Vec<Placed>> = instants.par_iter().map(at).collect();
        let mut looks: Vec<Look<'r>> = Vec::new();
        let mut before: Option<&Instant> = None;
        for (instant, placed) in instants.iter().zip(places) {
            let comes_to_rest = stands(instant) && before.is_some_and(|before| !stands(before));
            let moving = before.filter(|_| comes_to_rest).unwrap_or(instant);
            let has_gone = |last: &Look<'_>| {
                let both = things.iter().zip(last.placed.iter().zip(&placed));
                both.into_iter().any(|(thing, (from, to))| thing.goes(from, to) > units::mm(LOOK_MM))
            };
            if comes_to_rest || looks.last().is_none_or(has_gone) {
                looks.push(Look { t: instant.t, in_cycle: instant.in_cycle, moving, placed });
            }
            before = Some(instant);
        }
        Self { cell, bodies, stops, things, looks, spread: Vec::new() }
    }

    /// Things that move come first; so many.
    pub(super) fn moving(&self) -> usize {
        self.looks.first().map_or(0, |look| look.placed.len())
    }

    /// What of all that stands keeps somebody from something.
    pub(super) fn standing_walls(&self, floor: f64) -> Vec<Wall> {
        let standing = &self.things[self.moving()..];
        let wall = |thing: &Thing| Wall::of_thing(thing, &thing.placed(self.bodies, &[]), floor);
        standing.iter().filter_map(wall).collect()
    }

    /// Sees how far everything goes in every stretch, stops included that are ordered at the looks for which `stops_count`.
    pub(super) fn spread_out(&mut self, stops_count: impl Fn(&Look<'_>) -> bool + Sync) {
        let of_stop = |look: usize| -> Vec<f64> {
            let here = &self.looks[look];
            let mut goes = vec![0.0_f64; here.placed.len()];
            if stops_count(here) {
                for (_, there) in self.stop(look) {
                    for (thing, goes) in goes.iter_mut().enumerate() {
                        let way = self.things[thing].goes(&here.placed[thing], &there[thing]);
                        *goes = goes.max(way);
                    }
                }
            }
            goes
        };
        let of_stops: Vec<Vec<f64>> = (0..self.looks.len()).into_par_iter().map(of_stop).collect();
        let mut spread = vec![Vec::new(); Stretch::numbers(self.looks.len())];
        if let Some(all) = Stretch::all(self.looks.len()) {
            self.spread_of(all, &of_stops, &mut spread);
        }
        self.spread = spread;
    }

    fn spread_of(&self, stretch: Stretch, of_stops: &[Vec<f64>], spread: &mut [Vec<f64>]) {
        let middle = stretch.middle();
        let Some(halves) = stretch.halves() else {
            spread[stretch.number].clone_from(&of_stops[middle]);
            return;
        };
        let mut goes = vec![0.0_f64; self.moving()];
        for half in halves {
            self.spread_of(half, of_stops, spread);
            let [from, to] = [middle, half.middle()].map(|look| &self.looks[look].placed);
            for (thing, goes) in goes.iter_mut().enumerate() {
                let way = self.things[thing].goes(&from[thing], &to[thing]) + spread[half.number][thing];
                *goes = goes.max(way);
            }
        }
        spread[stretch.number] = goes;
    }

    /// How far a thing goes in a stretch from where it is at its middle look, at most, m.
    pub(super) fn spread(&self, stretch: Stretch, thing: usize) -> f64 {
        self.spread[stretch.number].get(thing).copied().unwrap_or(0.0)
    }

    /// Everything that moves while a stop that is ordered at a look goes on, each with the time since the order, s.
    pub(super) fn stop(&self, look: usize) -> Vec<(f64, Vec<Placed>)> {
        let stop = self.stops.from(&self.looks[look].moving.motion);
        let time = stop.time();
        if time <= 0.0 {
            return Vec::new();
        }
        let turn = stop.arm.iter().map(|braking| braking.way).fold(0.0, f64::max);
        let outside = stop.outside.iter().any(|braking| braking.way > 0.0);
        let [least, most] = STOP_LOOKS.map(f64::from);
        let looks = (turn / units::deg(STOP_STEP_DEG)).ceil().max(if outside { least } else { 1.0 });
        // At most sixteen.
        let looks = looks.min(most) as u32;
        (1..=looks)
            .map(|step| {
                let t = time * f64::from(step) / f64::from(looks);
                (t, placed(self.cell, self.bodies, &self.things, &stop.at(t)))
            })
            .collect()
    }
}

/// Whether nothing moves at an instant.
fn stands(instant: &Instant) -> bool {
    let rates = &instant.motion.rates;
    rates.axes.amax().max(rates.external.iter().fold(0.0, |most, rate| most.max(rate.abs())))
        <= super::super::gather::STANDS
}

/// Where everything that moves is.
fn placed(
    cell: &Cell,
    bodies: &MovingBodies,
    things: &[Thing],
    stance: &crate::schedule::Stance,
) -> Vec<Placed> {
    let carriers: Vec<Pose> = bodies.world_from_carriers(cell, &stance.axes, &stance.external);
    let moving = things.iter().take_while(|thing| thing.body.is_some());
    moving.map(|thing| thing.placed(bodies, &carriers)).collect()
}
