//! Decides where else a locator could stand: on the face that it touches, with room for what it is drawn as.
//!
//! A pad or stop goes over its face, a vee along its groove, a pin with its hole away from or toward the other pins. None goes past
//! another locator, or to where the fixture, a clamp, open or closed, or a part already is.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::contact::square_to;
use super::touching::distance;
use super::vee;
use crate::cell::{Body, Cell, Locator, LocatorKind, Role, Shape, Solid};
use crate::plan::clearance::Still;
use crate::units::mm;

/// Step in which a new place is sought, mm.
const STEP_MM: f64 = 10.0;
/// So far a locator is moved at most, mm.
const FARTHEST_MM: f64 = 600.0;
/// A locator touches a part that is no farther off, mm.
const TOUCHES_MM: f64 = 0.5;
/// A locator must have so much of the face around it, mm.
const EDGE_MM: f64 = 10.0;
/// Locators stand no nearer to each other, mm: common practice, no source.
const APART_MM: f64 = 20.0;
/// A locator of which nothing is drawn needs room for a ball of this radius behind the face, mm.
const BALL_MM: f64 = 5.0;
/// What may overlap: drawings touch, mm.
const DRAWN_MM: f64 = 0.05;

/// Other places for a locator of a body, in the station frame: as far as it goes each way, and half as far.
#[must_use]
pub fn places(cell: &Cell, body: &Body, number: usize) -> Vec<Point3<f64>> {
    let locator = &body.locators[number];
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    let part = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    let rounds: Vec<Shape> = shapes.iter().cloned().chain(vee::rounds_of_meshes(body, &shapes)).collect();
    let off = |at: &Point3<f64>| distance(&part, at, mm(TOUCHES_MM));
    let serves = |at: &Point3<f64>| match &locator.kind {
        LocatorKind::Pad | LocatorKind::Stop => off(at).is_some_and(|off| off > -mm(TOUCHES_MM)),
        LocatorKind::Pin | LocatorKind::SlotPin => off(at).is_some(),
        LocatorKind::Vee { along, .. } => vee::lying(&rounds, at, along, mm(TOUCHES_MM)).is_some(),
    };
    if !serves(&locator.at) {
        return Vec::new();
    }
    let drawn = Drawn::of(cell, body, number);
    let others = || body.locators.iter().enumerate().filter(|(other, _)| *other != number);
    let mut found = Vec::new();
    for way in ways(body, number).into_iter().flat_map(|way| [way, -way]) {
        let at = |millimetres: f64| locator.at + way * mm(millimetres);
        let steps = (FARTHEST_MM / STEP_MM) as usize;
        let is_free = |step: &usize| {
            let here = *step as f64 * STEP_MM;
            others().all(|(_, other)| {
                let before = (other.at - at(here - STEP_MM)).norm();
                let now = (other.at - at(here)).norm();
                now > mm(APART_MM) || now > before
            })
        };
        let fits = |step: &usize| {
            let here = *step as f64 * STEP_MM;
            serves(&at(here)) && serves(&at(here + EDGE_MM)) && drawn.has_room(&(way * mm(here)))
        };
        // A notch in the face is no end of it.
        let steps: Vec<usize> = (1..=steps).take_while(is_free).filter(fits).collect();
        let middle = steps.len().checked_sub(1).map(|last| steps[last / 2]);
        let mut far: Vec<usize> = steps.last().copied().into_iter().chain(middle).collect();
        far.dedup();
        found.extend(far.into_iter().map(|step| at(step as f64 * STEP_MM)));
    }
    found
}

/// The lines along which a locator may be moved, unit vectors.
fn ways(body: &Body, number: usize) -> Vec<Vector3<f64>> {
    let locator = &body.locators[number];
    match &locator.kind {
        LocatorKind::Pad | LocatorKind::Stop => square_to(&locator.direction).to_vec(),
        LocatorKind::Vee { along, .. } => vec![along.into_inner()],
        LocatorKind::Pin | LocatorKind::SlotPin => {
            let is_other_pin = |(index, other): &(usize, &Locator)| {
                *index != number && matches!(other.kind, LocatorKind::Pin | LocatorKind::SlotPin)
            };
            let others = body.locators.iter().enumerate().filter(is_other_pin);
            // A pin goes square to its axis, a pin in a slot along its slot.
            let way = others.map(|(_, other)| {
                let apart = locator.at - other.at;
                apart - locator.direction.into_inner() * locator.direction.dot(&apart)
            });
            way.filter_map(|way| way.try_normalize(mm(1.0))).take(1).collect()
        }
    }
}

/// What a locator is drawn as, and what stands around it.
struct Drawn {
    own: Vec<(Solid, Pose)>,
    /// With whether the locator overlaps it where it stands.
    around: Vec<(Still, bool)>,
}

impl Drawn {
    fn of(cell: &Cell, body: &Body, number: usize) -> Self {
        let locator = &body.locators[number];
        let touches = |shape: &Shape, at: &Point3<f64>| {
            let solid = Still::new([(&shape.solid, shape.frame_from_shape)]);
            distance(&solid, at, mm(TOUCHES_MM)).is_some()
        };
        // What carries other locators too stays where it is.
        let is_own = |shape: &Shape| {
            let others = body.locators.iter().enumerate().filter(|(other, _)| *other != number);
            shape.role == Role::Fixture
                && touches(shape, &locator.at)
                && !others.into_iter().any(|(_, other)| touches(shape, &other.at))
        };
        let is_pin = matches!(locator.kind, LocatorKind::Pin | LocatorKind::SlotPin);
        let stands = |(index, shape): &(usize, &Shape)| {
            // A hole goes with its pin, and something round lies in its vee.
            let is_held = body.shapes.iter().any(|own| own.0 == *index);
            let is_apart = is_pin || matches!(locator.kind, LocatorKind::Vee { .. });
            shape.station == Some(body.station) && !(is_held && is_apart)
        };
        let shapes: Vec<&Shape> =
            cell.shapes.iter().enumerate().filter(stands).map(|(_, shape)| shape).collect();
        let (own, around): (Vec<&Shape>, Vec<&Shape>) = shapes.into_iter().partition(|shape| is_own(shape));
        let mut own: Vec<(Solid, Pose)> =
            own.into_iter().map(|shape| (shape.solid.clone(), shape.frame_from_shape)).collect();
        if own.is_empty() && !is_pin {
            let behind = locator.at - locator.direction.into_inner() * mm(BALL_MM);
            let ball = Solid::Sphere { radius: mm(BALL_MM) };
            own.push((ball, Pose::translation(behind.x, behind.y, behind.z)));
        }
        let mut drawn = Self { own, around: Vec::new() };
        drawn.around = around
            .into_iter()
            .map(|shape| {
                let still = Still::new([(&shape.solid, shape.frame_from_shape)]);
                let overlaps = drawn.overlaps(&still, &Vector3::zeros());
                (still, overlaps)
            })
            .collect();
        drawn
    }

    fn overlaps(&self, other: &Still, by: &Vector3<f64>) -> bool {
        let moved = self.own.iter().map(|(solid, pose)| (solid, nalgebra::Translation3::from(*by) * pose));
        Still::new(moved).distance(other, 0.0).is_some_and(|distance| distance < -mm(DRAWN_MM))
    }

    /// Whether it can be moved so without running into what it does not overlap anyway.
    fn has_room(&self, by: &Vector3<f64>) -> bool {
        self.around.iter().all(|(other, overlaps)| *overlaps || !self.overlaps(other, by))
    }
}
