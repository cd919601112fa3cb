//! Decides which pins have more play in their hole, as both are drawn, than is written of them.
//!
//! A pin is drawn where a shape of the fixture stands in the hole around it. Where none does, a hole that is longer the way in which the pin
//! holds than across is told, for a pin that goes in across: a slot that is drawn the wrong way round.

use nalgebra::Vector3;

use super::contact::square_to;
use super::drawn_holes::{Hole, around, pin_holes};
use super::loading::farthest_along;
use super::pin_in_hole::{PIN_MM, pin_axis};
use super::touching::ON_FACE_MM;
use crate::cell::{Body, Cell, Locator, LocatorKind, Presence, Role, Shape};
use crate::units::mm;

/// A pin that is drawn with more play than is written.
#[derive(Clone, Debug, PartialEq)]
pub struct LoosePin {
    /// Its name.
    pub name: String,
    /// Width of its hole the way in which it holds, m.
    pub hole: f64,
    /// Its own width, or where it is not drawn that of the hole across, m.
    pub pin: f64,
    /// Whether it is drawn.
    pub is_drawn: bool,
    /// The play that is written, m.
    pub play: f64,
}

/// All pins of a body that are drawn so.
pub(super) fn loose_pins(cell: &Cell, body: &Body) -> Vec<LoosePin> {
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    let is_beside = |shape: &&Shape| {
        shape.station == Some(body.station)
            && shape.role == Role::Fixture
            && shape.presence != Presence::Empty
    };
    let fixture: Vec<&Shape> = cell.shapes.iter().filter(is_beside).collect();
    let loose = |pin: &Locator| {
        let slot = match pin.kind {
            LocatorKind::Pin => false,
            LocatorKind::SlotPin => true,
            LocatorKind::Pad | LocatorKind::Stop | LocatorKind::Vee { .. } => return None,
        };
        let axis = pin_axis(body, &shapes, pin);
        let holes = pin_holes(&shapes, &axis);
        let hole = around(&holes, &pin.at, mm(PIN_MM)).filter(|hole| hole.is_even)?;
        let way = if slot { pin.direction.into_inner() } else { square_to(&axis)[0] };
        let across = axis.cross(&way);
        let drawn = fixture.iter().find(|shape| stands_in(shape, pin, hole, [&axis, &way, &across]));
        let ways = if slot { vec![way] } else { vec![way, across] };
        let found = ways.iter().filter_map(|way| {
            let width = hole.chord(&pin.at, way);
            let pin_width = match drawn {
                Some(shape) => breadth(shape, way),
                None if hole.is_round => return None,
                None => hole.chord(&pin.at, &axis.cross(way)),
            };
            (width - pin_width > pin.play + mm(2.0 * ON_FACE_MM)).then_some((width, pin_width))
        });
        let (width, pin_width) = found.max_by(|a, b| (a.0 - a.1).total_cmp(&(b.0 - b.1)))?;
        let is_drawn = drawn.is_some();
        Some(LoosePin { name: pin.name.clone(), hole: width, pin: pin_width, is_drawn, play: pin.play })
    };
    body.locators.iter().filter_map(loose).collect()
}

/// Whether a shape stands in the hole around its pin; `axis`: that of the hole, and two ways across.
fn stands_in(shape: &Shape, pin: &Locator, hole: &Hole, [axis, ways @ ..]: [&Vector3<f64>; 3]) -> bool {
    let reaches = |way: &Vector3<f64>| [-farthest_along(shape, &-way), farthest_along(shape, way)];
    let is_around = |way: &&Vector3<f64>| {
        let [from, to] = reaches(way);
        (from..to).contains(&pin.at.coords.dot(way)) && to - from < hole.chord(&pin.at, way)
    };
    ways.iter().all(is_around) && hole.meets(reaches(axis))
}

fn breadth(shape: &Shape, way: &Vector3<f64>) -> f64 {
    farthest_along(shape, way) + farthest_along(shape, &-way)
}
