//! Decides whether a part comes out of its fixture once the clamps are open, by which straight way, and how it goes in.
//!
//! A way is straight, as long as the part is in that direction, and looked at every few millimetres: locators must not hold the
//! part back, and no shape of the fixture may be passed through. Clamps stand at their open places where the file states them;
//! a clamp without one counts as out of the way. Other parts of the weldment are taken out with the body.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::contact::Contact;
use crate::cell::{Body, Cell, Presence, Role, Shape, Solid};
use crate::plan::clearance::Still;
use crate::units::mm;

/// Step in which a way out is looked at, mm.
pub const STEP_MM: f64 = 5.0;
/// What the part may overlap the fixture where it lies: drawings touch, mm.
const TOUCHING_MM: f64 = 0.05;
/// Cosine below which a locator counts as in the way.
const SQUARE: f64 = -1e-9;

/// Unit vectors that differ by less are one way.
const SAME_WAY: f64 = 1e-6;

/// How a part comes out.
#[derive(Clone, Debug, PartialEq)]
pub struct Loading {
    /// Ways that are open, along the fixture's axes or along its locators, in the station frame.
    pub ways_out: Vec<Vector3<f64>>,
    /// What hooks the part on the way up, where no way is open.
    pub hooked_by: Vec<String>,
}

/// How the body comes out.
#[must_use]
pub fn loading(cell: &Cell, body: &Body, contacts: &[Contact]) -> Loading {
    let mut found = Loading { ways_out: Vec::new(), hooked_by: Vec::new() };
    for way in ways(body, contacts) {
        let hooks = hooks(cell, body, contacts, &way);
        if hooks.is_empty() {
            found.ways_out.push(way);
        } else if found.hooked_by.is_empty() {
            found.hooked_by = hooks;
        }
    }
    if !found.ways_out.is_empty() {
        found.hooked_by.clear();
    }
    found
}

/// Ways to try: up first, then the fixture's other axes, then straight off each locator.
fn ways(body: &Body, contacts: &[Contact]) -> Vec<Vector3<f64>> {
    let axes = [Vector3::z(), Vector3::x(), -Vector3::x(), Vector3::y(), -Vector3::y(), -Vector3::z()];
    let mut all: Vec<Vector3<f64>> = axes.iter().map(|axis| body.station_from_fixture * axis).collect();
    for off in contacts.iter().filter(|contact| contact.one_sided).map(|contact| contact.direction) {
        if all.iter().all(|way| (way - off).norm() > SAME_WAY) {
            all.push(off);
        }
    }
    all
}

/// What holds the part back on this way.
fn hooks(cell: &Cell, body: &Body, contacts: &[Contact], way: &Vector3<f64>) -> Vec<String> {
    let holds = |contact: &&Contact| {
        let along = contact.direction.dot(way);
        if contact.one_sided { along < SQUARE } else { along.abs() > -SQUARE }
    };
    let mut hooks: Vec<String> =
        contacts.iter().filter(holds).map(|contact| body.locators[contact.locator].name.clone()).collect();
    hooks.dedup();
    let part: Vec<&Shape> = body.shapes.iter().map(|shape| &cell.shapes[shape.0]).collect();
    let length = extent(&part, way) + mm(STEP_MM);
    let steps = (length / mm(STEP_MM)).ceil() as usize;
    let fixed = cell.shapes.iter().filter(|shape| {
        let is_of_fixture = shape.station == Some(body.station) && shape.role == Role::Fixture;
        let is_open_clamp = shape.station == Some(body.station)
            && shape.role == Role::Clamp
            && shape.presence == Presence::Empty;
        is_of_fixture || is_open_clamp
    });
    for shape in fixed {
        let solid = Still::new([(&shape.solid, shape.frame_from_shape)]);
        let passes = |step: usize| {
            let moved = Pose::from_parts(
                (way * (mm(STEP_MM) * step as f64)).into(),
                nalgebra::UnitQuaternion::identity(),
            );
            let part = Still::new(part.iter().map(|shape| (&shape.solid, moved * shape.frame_from_shape)));
            part.distance(&solid, mm(TOUCHING_MM)).is_none_or(|distance| distance > -mm(TOUCHING_MM))
        };
        if !(0..=steps).all(passes) {
            hooks.push(shape.name.clone());
        }
    }
    hooks
}

/// Length of some shapes along a direction, m.
fn extent(shapes: &[&Shape], way: &Vector3<f64>) -> f64 {
    let reach = |way: &Vector3<f64>| {
        shapes.iter().map(|shape| farthest_along(shape, way)).fold(f64::NEG_INFINITY, f64::max)
    };
    (reach(way) + reach(&-way)).max(0.0)
}

/// Farthest coordinate of a shape along a direction of its frame's parent, m.
pub(super) fn farthest_along(shape: &Shape, way: &Vector3<f64>) -> f64 {
    let pose = &shape.frame_from_shape;
    let own = pose.rotation.inverse() * way;
    let round = own.x.hypot(own.y);
    let from_middle = match &shape.solid {
        Solid::Box { half } => half.dot(&own.abs()),
        Solid::Cylinder { radius, half_height } => radius * round + half_height * own.z.abs(),
        Solid::Capsule { radius, half_length } => radius + half_length * own.z.abs(),
        Solid::Sphere { radius } => *radius,
        Solid::Frustum { radius_low, radius_high, half_height } => {
            (radius_high * round + half_height * own.z).max(radius_low * round - half_height * own.z)
        }
        Solid::Mesh(mesh) => {
            mesh.vertices.iter().map(|at: &Point3<f64>| at.coords.dot(&own)).fold(f64::NEG_INFINITY, f64::max)
        }
    };
    pose.translation.vector.dot(way) + from_middle
}
