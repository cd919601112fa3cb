//! Decides, over all instants and stops at once, what comes nearest to each field and guard, enters each operator place, and sticks
//! out of each space.

use nalgebra::Point3;
use rayon::prelude::*;

use super::bodies::{MovingBodies, MovingBody};
use super::instants::Instant;
use super::looks::Looks;
use super::seen::{Asked, Seen};
use super::stopping::Stops;
use crate::cell::{Active, Cell, Device, Zone};

/// What turns or slides more slowly than this stands, rad/s or m/s.
pub(super) const STANDS: f64 = 1e-6;

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
    let looks = Looks::new(cell, bodies, instants, stops);
    let seen: Vec<Seen<'_>> = cell.zones.par_iter().map(|zone| Seen::new(cell, zone)).collect();
    let questions = seen.iter().flat_map(|seen| Asked::ALL.map(|asked| (seen, asked)));
    let questions: Vec<(&Seen<'_>, Asked)> = questions.collect();
    let answers: Vec<Option<Nearest>> =
        questions.par_iter().map(|(seen, asked)| looks.least(seen, *asked)).collect();
    let of_zone = |answers: &[Option<Nearest>]| {
        let mut gathered = Gathered::default();
        for (asked, answer) in Asked::ALL.into_iter().zip(answers) {
            asked.answer(&mut gathered).clone_from(answer);
        }
        gathered
    };
    answers.chunks(Asked::ALL.len()).map(of_zone).collect()
}

/// Whether an external axis moves at an instant.
pub(super) fn turns(instant: &Instant, axis: usize) -> bool {
    instant.motion.rates.external[axis].abs() > STANDS
}

/// Whether the axes of the arm move at an instant.
pub(super) fn arm_moves(instant: &Instant) -> bool {
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
