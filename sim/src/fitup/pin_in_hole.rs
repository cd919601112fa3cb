//! Decides how a pin stands in its part as drawn: in a hole, beside it, in full material, or in the air.
//!
//! Solids have no holes: a pin that goes through one stands in it. Where a mesh has holes drawn along a pin, one of them is the pin's; where
//! it has none, they are taken to be left out of the drawing. A hole that opens to an edge, or whose wall is not along the pin, is known by
//! what of the mesh is seen around the pin, looking along it.

use nalgebra::{Point3, Unit, Vector3};

use super::contact::square_to;
use super::drawn_holes::{HOLE_MM, Hole, drawn_holes};
use super::touching::FARTHEST_MM;
use crate::cell::{Body, Locator, LocatorKind, Shape, Solid, pose_along};
use crate::plan::clearance::Still;
use crate::units::mm;

/// At any height within so much of its place a pin may meet the part, mm.
pub(super) const PIN_MM: f64 = 200.0;
/// Ways in which something must be seen around a round pin.
const WAYS: usize = 16;

/// How a pin stands.
pub(super) enum PinStands {
    /// In material, or in a hole of which no more is known.
    InPart,
    /// In a drawn hole, so far off its middle in the ways in which it holds, m.
    InHole(f64),
    /// In none of the holes that are drawn along it, so far from the middle of the nearest, m.
    BesideHoles(f64),
    /// Its line passes the part at this distance, m; none where that is more than a metre.
    InTheAir(Option<f64>),
}

/// How a pin of the body stands in it; `part`: its shapes.
pub(super) fn pin_stands(body: &Body, shapes: &[Shape], part: &Still, pin: &Locator) -> PinStands {
    let axis = pin_axis(body, pin);
    let solids = shapes.iter().filter(|shape| !matches!(shape.solid, Solid::Mesh(_)));
    let solids = Still::new(solids.map(|shape| (&shape.solid, shape.frame_from_shape)));
    if passes(&solids, &pin.at, &axis).is_some_and(|off| off <= 0.0) {
        return PinStands::InPart;
    }
    let holes = drawn_holes(shapes, &axis);
    let near = |hole: &&Hole| hole.is_near(pin.at.coords.dot(&axis), mm(PIN_MM));
    let off = |hole: &Hole| {
        let off = hole.middle - pin.at;
        off - axis.into_inner() * off.dot(&axis)
    };
    let around = holes.iter().filter(near).filter(|hole| hole.room_at(&pin.at) > 0.0);
    // Of a hole with a wider mouth the narrowest part is the pin's.
    if let Some(hole) = around.min_by(|a, b| a.room_at(&a.middle).total_cmp(&b.room_at(&b.middle))) {
        return PinStands::InHole(held(pin, &off(hole)));
    }
    let passing = passes(part, &pin.at, &axis);
    if passing.is_some_and(|off| off <= 0.0) {
        let nearest = holes.iter().filter(near).map(|hole| off(hole).norm()).reduce(f64::min);
        return nearest.map_or(PinStands::InPart, PinStands::BesideHoles);
    }
    let seen = |way: &Vector3<f64>| seen_along(shapes, &pin.at, &axis, way);
    if pin.kind == LocatorKind::SlotPin {
        let way = pin.direction.into_inner();
        if let (Some(ahead), Some(behind)) = (seen(&way), seen(&-way)) {
            return PinStands::InHole(0.5 * (ahead - behind).abs());
        }
    } else {
        let [first, second] = square_to(&axis);
        let turn = |step: usize| {
            let (sin, cos) = (step as f64 * std::f64::consts::TAU / WAYS as f64).sin_cos();
            first * cos + second * sin
        };
        if (0..WAYS).all(|step| seen(&turn(step)).is_some()) {
            return PinStands::InPart;
        }
    }
    PinStands::InTheAir(passing)
}

/// How much of that a pin minds: one in a slot only what goes the way in which it holds.
fn held(pin: &Locator, off: &Vector3<f64>) -> f64 {
    if pin.kind == LocatorKind::SlotPin { off.dot(&pin.direction).abs() } else { off.norm() }
}

/// Axis of a pin: of one in a slot, whose direction is that in which it holds, that of a round pin or of the pads beside it.
pub(super) fn pin_axis(body: &Body, locator: &Locator) -> Unit<Vector3<f64>> {
    if locator.kind == LocatorKind::Pin {
        return locator.direction;
    }
    let of = |kind| body.locators.iter().find(|other| other.kind == kind).map(|other| other.direction);
    let axis = of(LocatorKind::Pin).or_else(|| of(LocatorKind::Pad)).unwrap_or_else(Vector3::z_axis);
    let square = axis.into_inner() - locator.direction.into_inner() * locator.direction.dot(&axis);
    Unit::try_new(square, 1e-3).unwrap_or(axis)
}

/// Distance of a line about `at` to the part, m, where it is less than a metre; 0 where it runs through it.
fn passes(part: &Still, at: &Point3<f64>, along: &Vector3<f64>) -> Option<f64> {
    let wire = Solid::Capsule { radius: mm(0.001), half_length: mm(PIN_MM) };
    let off = Still::new([(&wire, pose_along(at, along))]).distance(part, mm(FARTHEST_MM));
    off.map(|off| off.max(0.0))
}

/// Looking along `axis`: how far from `at` the nearest edge of a mesh is seen along `way`, m, where that is no farther than half the widest
/// hole.
fn seen_along(
    shapes: &[Shape],
    at: &Point3<f64>,
    axis: &Unit<Vector3<f64>>,
    way: &Vector3<f64>,
) -> Option<f64> {
    let beside = axis.cross(way);
    let mut nearest: Option<f64> = None;
    for shape in shapes {
        let Solid::Mesh(mesh) = &shape.solid else { continue };
        let seen = |corner: u32| {
            let off = shape.frame_from_shape * mesh.vertices[corner as usize] - at;
            (off.dot(way), off.dot(&beside))
        };
        for [a, b, c] in &mesh.triangles {
            for (one, other) in [(*a, *b), (*b, *c), (*c, *a)] {
                let ((far, side), (next_far, next_side)) = (seen(one), seen(other));
                if (side <= 0.0) == (next_side <= 0.0) {
                    continue;
                }
                let crossing = far - side * (next_far - far) / (next_side - side);
                if (0.0..mm(HOLE_MM)).contains(&crossing) && nearest.is_none_or(|known| crossing < known) {
                    nearest = Some(crossing);
                }
            }
        }
    }
    nearest
}
