//! Decides whether clamps that stand elsewhere press the parts as before, and whether a clamp is drawn where it presses.

use super::body_shift::downs;
use super::contact::contacts;
use super::pressing::moves;
use super::touching::{distance, in_the_air};
use crate::cell::{Body, Cell};
use crate::plan::clearance::Still;
use crate::units::mm;

/// From its drawn shape to where it presses a clamp may reach so far with what is not drawn of it, mm: common practice, no source.
const REACHES_MM: f64 = 50.0;
/// How far off is measured, mm.
const FARTHEST_MM: f64 = 5000.0;

/// Whether no clamp that was moved from where it pressed in `before` presses the air in `after`, or lifts a part that stayed before.
#[must_use]
pub fn presses_still(before: &Cell, after: &Cell) -> bool {
    before.bodies.iter().zip(&after.bodies).all(|(was, is)| {
        let moved = was.clamps.iter().zip(&is.clamps).any(|(was, is)| was.at != is.at);
        !moved || (touches_as_before(before, after, [was, is]) && stays_as_before(before, after, [was, is]))
    })
}

fn touches_as_before(before: &Cell, after: &Cell, [was, is]: [&Body; 2]) -> bool {
    let in_the_air_before = in_the_air(before, was);
    let known = |name: &str| in_the_air_before.iter().any(|other| other.name == name);
    in_the_air(after, is).iter().all(|found| known(&found.name))
}

fn stays_as_before(before: &Cell, after: &Cell, [was, is]: [&Body; 2]) -> bool {
    let moves = |cell: &Cell, body: &Body| moves(body, &contacts(body), &downs(cell, body.station));
    moves(after, is).into_iter().zip(moves(before, was)).all(|(moves, moved)| !moves || moved)
}

/// Clamps that press a body farther from their drawn shape than they reach: name, and how far off, m.
#[must_use]
pub fn drawn_elsewhere(cell: &Cell, body: &Body) -> Vec<(String, f64)> {
    let elsewhere = |clamp: &crate::cell::Clamp| {
        let tables = cell
            .drawn
            .iter()
            .filter(|drawn| drawn.fixture.as_deref() == Some(&body.fixture) && drawn.name == clamp.name);
        let shapes = tables.flat_map(|drawn| &drawn.pieces).map(|piece| &cell.shapes[piece.shape.0]);
        let own = shapes.filter(|shape| shape.station == Some(body.station));
        let drawn = Still::new(own.map(|shape| (&shape.solid, shape.frame_from_shape)));
        let off = distance(&drawn, &clamp.at, mm(FARTHEST_MM))?;
        (off > mm(REACHES_MM)).then(|| (clamp.name.clone(), off))
    };
    body.clamps.iter().filter_map(elsewhere).collect()
}
