//! Decides how a pin stands in its part as drawn: in a hole, beside it, in full material, or in the air.
//!
//! Solids have no holes: a pin that goes through one stands in it. Where a mesh has holes drawn along a pin, one of them is the pin's; where
//! it has none, they are taken to be left out of the drawing, and where the shape of its hole does not tell where a pin is meant to stand,
//! that is not asked. A hole that opens to an edge, or whose wall is not along the pin, is known by
//! what of the mesh is seen around the pin, looking along it.

use nalgebra::{Point3, Unit, Vector3};

use super::contact::square_to;
use super::drawn_holes::{HOLE_MM, Hole, around, drawn_holes, pin_holes};
use super::touching::{FARTHEST_MM, ON_FACE_MM};
use crate::cell::{Body, Locator, LocatorKind, Shape, Solid, pose_along};
use crate::plan::clearance::Still;
use crate::units::mm;

/// At any height within so much of its place a pin may meet the part, mm.
pub(super) const PIN_MM: f64 = 200.0;
/// Ways in which something must be seen around a round pin.
const WAYS: usize = 16;
/// Cosine of the angle to either side over which a hole is open at most: 60 degrees.
const OPEN: f64 = 0.5 - 1e-9;
/// Cosine of the angle within which two axes are one: half a degree.
const ALONG: f64 = 1.0 - 4e-5;

/// How a pin stands.
pub(super) enum PinStands {
    /// In material, or in a hole of which no more is known.
    InPart,
    /// In a drawn hole, so far off its middle in the ways in which it holds, m.
    InHole(f64),
    /// In a drawn hole of which its shape does not tell where a pin is meant to stand.
    Uneven,
    /// A pin in a slot, where its drawn hole is only so wide the way in which it holds, and so wide at its middle, m.
    Narrow([f64; 2]),
    /// In none of the holes that are drawn along it, so far from the middle of the nearest, m.
    BesideHoles(f64),
    /// A round pin in a hole that is open this way and no other, so that nothing holds it there.
    Open(Vector3<f64>),
    /// Its line passes the part at this distance, m; none where that is more than a metre.
    InTheAir(Option<f64>),
}

/// How a pin of the body stands in it; `part`: its shapes.
pub(super) fn pin_stands(body: &Body, shapes: &[Shape], part: &Still, pin: &Locator) -> PinStands {
    stands_along(body, (shapes, part), pin, &pin_axis(body, shapes, pin))
}

/// The axis of a pin: of one in a slot the first of those that it may have along which a drawn hole lies around it.
pub(super) fn pin_axis(body: &Body, shapes: &[Shape], pin: &Locator) -> Unit<Vector3<f64>> {
    let axes = pin_axes(body, pin);
    let is_around =
        |axis: &&Unit<Vector3<f64>>| around(&pin_holes(shapes, axis), &pin.at, mm(PIN_MM)).is_some();
    let found = if axes.len() > 1 { axes.iter().find(is_around) } else { None };
    *found.unwrap_or(&axes[0])
}

fn stands_along(
    body: &Body,
    (shapes, part): (&[Shape], &Still),
    pin: &Locator,
    axis: &Unit<Vector3<f64>>,
) -> PinStands {
    let solids = shapes.iter().filter(|shape| !matches!(shape.solid, Solid::Mesh(_)));
    let solids = Still::new(solids.map(|shape| (&shape.solid, shape.frame_from_shape)));
    if passes(&solids, &pin.at, axis).is_some_and(|off| off <= 0.0) {
        return PinStands::InPart;
    }
    let (wide, holes): (Vec<Hole>, Vec<Hole>) =
        drawn_holes(shapes, axis).into_iter().partition(Hole::is_wide);
    let off = |hole: &Hole| {
        let off = hole.middle - pin.at;
        off - axis.into_inner() * off.dot(axis)
    };
    if let Some(hole) = around(&holes, &pin.at, mm(PIN_MM)) {
        let Some(layers) = passed(&holes, hole, part, &pin.at, comes_along(body, axis).as_ref()) else {
            let beside = holes.iter().filter(|hole| hole.room_at(&pin.at) <= 0.0);
            let nearest = beside.map(|hole| off(hole).norm()).reduce(f64::min);
            return nearest.map_or(PinStands::InPart, PinStands::BesideHoles);
        };
        // In a layer whose hole is wider it may stand so much farther off.
        let beyond = layers
            .into_iter()
            .filter(|layer| layer.is_even)
            .map(|layer| held_off(pin, &off(layer)) - (layer.half_width() - hole.half_width()));
        let beyond = beyond.fold(0.0, f64::max);
        return match in_hole(hole, pin, &off(hole)) {
            PinStands::InHole(by) => PinStands::InHole(by.max(beyond)),
            stands => stands,
        };
    }
    // What stands nearer to the middle of a wide bore than to its wall is its spigot.
    let is_spigot = |hole: &&Hole| hole.is_round && off(hole).norm() < hole.room_at(&pin.at);
    if let Some(bore) = around(wide.iter().filter(is_spigot), &pin.at, mm(PIN_MM)) {
        return in_hole(bore, pin, &off(bore));
    }
    let passing = passes(part, &pin.at, axis);
    if passing.is_some_and(|off| off <= 0.0) {
        let near = holes.iter().filter(|hole| hole.is_near(&pin.at, mm(PIN_MM)));
        let nearest = near.map(|hole| off(hole).norm()).reduce(f64::min);
        return nearest.map_or(PinStands::InPart, PinStands::BesideHoles);
    }
    let seen = |way: &Vector3<f64>| seen_along(shapes, &pin.at, axis, way);
    if pin.kind == LocatorKind::SlotPin {
        let way = pin.direction.into_inner();
        if let (Some(ahead), Some(behind)) = (seen(&way), seen(&-way)) {
            return PinStands::InHole(0.5 * (ahead - behind).abs());
        }
    } else {
        let [first, second] = square_to(axis);
        let turn = |step: usize| {
            let (sin, cos) = (step as f64 * std::f64::consts::TAU / WAYS as f64).sin_cos();
            first * cos + second * sin
        };
        let open: Vec<Vector3<f64>> = (0..WAYS).map(turn).filter(|way| seen(way).is_none()).collect();
        if open.is_empty() {
            return PinStands::InPart;
        }
        let middle = open.iter().sum::<Vector3<f64>>().normalize();
        // Beside an edge half of the ways are open, in a hole that opens to one fewer.
        if open.iter().all(|way| way.dot(&middle) > OPEN) {
            return PinStands::Open(middle);
        }
    }
    PinStands::InTheAir(passing)
}

/// How a pin stands in a hole whose middle is `off` from it. A pin in a slot minds only what goes the way in which it holds, but must have
/// its width: that of the hole at its middle less the play. Nobody says that it is round.
fn in_hole(hole: &Hole, pin: &Locator, off: &Vector3<f64>) -> PinStands {
    if !hole.is_even {
        return PinStands::Uneven;
    }
    let by = held_off(pin, off);
    if pin.kind == LocatorKind::Pin {
        return PinStands::InHole(by);
    }
    let widths = [pin.at, hole.middle].map(|at| hole.chord(&at, &pin.direction));
    // The ends of a slot are cut into flats, which lie within its round.
    if by <= room(pin) && widths[0] < widths[1] - 2.0 * (room(pin) + mm(ON_FACE_MM)) {
        return PinStands::Narrow(widths);
    }
    PinStands::InHole(by)
}

/// How far off a pin is that is `off` the middle of a hole, in the ways in which it holds, m.
fn held_off(pin: &Locator, off: &Vector3<f64>) -> f64 {
    if pin.kind == LocatorKind::Pin { off.norm() } else { off.dot(&pin.direction).abs() }
}

/// The way along an axis in which pins come into a part: that in which its pads and stops push; none where none does along it.
pub(super) fn comes_along(body: &Body, axis: &Vector3<f64>) -> Option<Vector3<f64>> {
    let pushes = body.locators.iter().filter(|l| matches!(l.kind, LocatorKind::Pad | LocatorKind::Stop));
    let along = pushes.map(|locator| locator.direction.dot(axis)).find(|along| along.abs() > ALONG)?;
    Some(axis * along.signum())
}

/// The holes through which a pin comes, on its way `into` the part, up to where it stands in `hole`, that one among them; none where its line
/// runs through material of another layer on that way.
pub(super) fn passed<'h>(
    holes: &'h [Hole],
    hole: &'h Hole,
    part: &Still,
    at: &Point3<f64>,
    into: Option<&Vector3<f64>>,
) -> Option<Vec<&'h Hole>> {
    let Some(into) = into else { return Some(vec![hole]) };
    let up_to = at + into * hole.off_height(at).dot(into);
    let half_length = 0.5 * mm(PIN_MM);
    let way = Solid::Capsule { radius: mm(0.001), half_length };
    let way = Still::new([(&way, pose_along(&(up_to - into * half_length), into))]);
    if way.distance(part, 0.0).is_some() {
        return None;
    }
    let is_passed = |other: &&Hole| {
        std::ptr::eq(*other, hole)
            || (other.off_height(&up_to).dot(into) <= 0.0
                && other.is_near(at, mm(PIN_MM))
                && other.room_at(at) > 0.0)
    };
    Some(holes.iter().filter(is_passed).collect())
}

/// How far off the middle of its hole a pin may stand as it goes in, m: its play on either side, and as closely as one is drawn.
pub(super) fn room(pin: &Locator) -> f64 {
    (0.5 * pin.play).max(mm(ON_FACE_MM))
}

/// Axes that a pin may have, one at least: of one in a slot, whose direction is that in which it holds, those of the round pins and of the
/// pads of its part, square to that; one that goes along it is none.
fn pin_axes(body: &Body, pin: &Locator) -> Vec<Unit<Vector3<f64>>> {
    /// Sine of the angle between an axis and the way in which the pin holds: 30 degrees at least.
    const APART: f64 = 0.5;
    if pin.kind == LocatorKind::Pin {
        return vec![pin.direction];
    }
    let of = |kind| body.locators.iter().filter(move |other| other.kind == kind).map(|other| other.direction);
    let besides = square_to(&pin.direction).map(Unit::new_unchecked);
    let known = of(LocatorKind::Pin).chain(of(LocatorKind::Pad));
    let mut axes: Vec<Unit<Vector3<f64>>> = Vec::new();
    for axis in known {
        let square = axis.into_inner() - pin.direction.into_inner() * pin.direction.dot(&axis);
        let axis = Unit::try_new(square, APART);
        let is_new = |axis: &Unit<Vector3<f64>>| axes.iter().all(|other| other.dot(axis).abs() < ALONG);
        axes.extend(axis.filter(is_new));
    }
    if axes.is_empty() {
        axes.extend(besides);
    }
    axes
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
