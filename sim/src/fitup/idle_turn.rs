//! Decides whether the one motion that locators leave to a part changes nothing: the turn of a round part about its own line.
//!
//! Every shape of the part, cylinder, cone, capsule or ball, must be round about that line. Then the part lies as a whole where it lay, and
//! so do the joints at which it ends. No locator could hold that turn. What follows needs a part that is fixed: there one more contact
//! stands in, which holds the turn alone and is never off.

use nalgebra::{Point3, Vector3};

use super::contact::Contact;
use super::locating::{FreeMotion, locating, spread};
use crate::cell::{Body, Cell};
use crate::plan::clearance::round_about;
use crate::units::mm;

/// So near to the line, mm, a shape's own line counts as the same: less than anybody draws or measures.
const ON_THE_LINE_MM: f64 = 0.01;

/// The contact that stands in for the turn of a round part about its own line; none where something else is free, or nothing.
#[must_use]
pub fn idle_turn(cell: &Cell, body: &Body, contacts: &[Contact]) -> Option<Contact> {
    let free = locating(contacts).free;
    let [FreeMotion::Turn { about, through, pitch: 0.0 }] = free.as_slice() else { return None };
    let is_round = |shape: &crate::cell::Shape| {
        let on_line = |end: &Point3<f64>| {
            about.cross(&(shape.frame_from_shape * end - through)).norm() <= mm(ON_THE_LINE_MM)
        };
        round_about(&shape.solid).is_some_and(|ends| ends.iter().all(on_line))
    };
    if !body.shapes.iter().all(|shape| is_round(&cell.shapes[shape.0])) {
        return None;
    }
    let aside = about.cross(&Vector3::ith(about.iamin(), 1.0)).normalize();
    let (_, size) = spread(contacts);
    let (at, direction) = (through + aside * size, about.cross(&aside));
    Some(Contact { locator: body.locators.len(), at, direction, one_sided: false })
}
