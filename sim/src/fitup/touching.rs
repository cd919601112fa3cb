//! Decides which locators and clamps touch no drawn shape of their part: what they were counted for, they do not do.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::vee;
use crate::cell::{Body, Cell, Locator, LocatorKind, Shape, Solid, pose_along};
use crate::plan::clearance::Still;
use crate::units::mm;

/// What is no farther off touches, mm: more than tolerances, less than anybody would overlook.
pub(super) const TOUCHES_MM: f64 = 1.0;
/// A pad or stop that stands no farther off its face, or in it, stands on it as drawn, mm: as closely as one is set (common practice, no
/// source).
const ON_FACE_MM: f64 = 0.1;
/// The axis of a pin may pass so far from the skin of a mesh, which may have its hole drawn, mm: more than most holes are wide.
const HOLE_MM: f64 = 30.0;
/// At any height within so much of its place a pin may meet the part, mm.
const PIN_MM: f64 = 200.0;
/// Cosine of the angle that the direction of a pad or stop may be off the face it touches: 10 degrees, for round faces that are cut flat.
const SQUARE_ON: f64 = 0.985;
/// An axis lies in a vee where it passes no farther off, mm.
const IN_VEE_MM: f64 = 0.5;
/// How far off it is measured, mm.
const FARTHEST_MM: f64 = 1000.0;

/// A locator or clamp that does not touch the part as it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct InTheAir {
    /// Its name.
    pub name: String,
    /// How far from the part it ends, m, negative inside; none where it is farther than a metre, and of a vee in which nothing lies.
    pub off: Option<f64>,
}

/// All that touch nothing: locators, then clamps. None of a body without a drawn shape.
#[must_use]
pub fn in_the_air(cell: &Cell, body: &Body) -> Vec<InTheAir> {
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    if shapes.is_empty() {
        return Vec::new();
    }
    let rounds: Vec<Shape> = shapes.iter().cloned().chain(vee::rounds_of_meshes(body, &shapes)).collect();
    let part = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    let off = |at: &Point3<f64>| distance(&part, at, mm(FARTHEST_MM));
    let outside = |off: Option<f64>, within: f64| off.is_none_or(|off| off > mm(within));
    // Solids have no holes: there a pin must pass through material.
    let is_solid = !shapes.iter().any(|shape| matches!(shape.solid, Solid::Mesh(_)));
    let hole = if is_solid { 0.0 } else { HOLE_MM };
    let locators = body.locators.iter().filter_map(|locator| {
        let found = off(&locator.at);
        let (is_off, off) = match &locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => (outside(found.map(f64::abs), TOUCHES_MM), found),
            LocatorKind::Pin | LocatorKind::SlotPin => {
                let found = line(&part, &locator.at, &pin_axis(body, locator));
                (outside(found, hole), found)
            }
            LocatorKind::Vee { along, .. } => {
                (vee::lying(&rounds, &locator.at, along, mm(IN_VEE_MM)).is_none(), None)
            }
        };
        is_off.then(|| InTheAir { name: locator.name.clone(), off })
    });
    let clamps = body.clamps.iter().filter_map(|clamp| {
        let off = off(&clamp.at);
        outside(off, TOUCHES_MM).then(|| InTheAir { name: clamp.name.clone(), off })
    });
    locators.chain(clamps).collect()
}

/// All pads and stops that touch, and yet stand so far off the face as drawn that the part comes to lie elsewhere than it is drawn.
#[must_use]
pub fn off_face(cell: &Cell, body: &Body) -> Vec<InTheAir> {
    let shapes = body.shapes.iter().map(|shape| &cell.shapes[shape.0]);
    let part = Still::new(shapes.map(|shape| (&shape.solid, shape.frame_from_shape)));
    let stands = body.locators.iter().filter(|l| matches!(l.kind, LocatorKind::Pad | LocatorKind::Stop));
    stands
        .filter_map(|locator| {
            let off = distance(&part, &locator.at, mm(FARTHEST_MM))?;
            let is_off = off.abs() > mm(ON_FACE_MM) && off.abs() <= mm(TOUCHES_MM);
            is_off.then(|| InTheAir { name: locator.name.clone(), off: Some(off) })
        })
        .collect()
}

/// Shapes of a body of several that touch none of the others, no locator and no clamp: that they lie with the others is taken for granted.
#[must_use]
pub fn loose(cell: &Cell, body: &Body) -> Vec<String> {
    let shapes: Vec<(&Shape, Still)> = body
        .shapes
        .iter()
        .map(|shape| &cell.shapes[shape.0])
        .map(|shape| (shape, Still::new([(&shape.solid, shape.frame_from_shape)])))
        .collect();
    if shapes.len() < 2 {
        return Vec::new();
    }
    let held: Vec<&Point3<f64>> = body
        .locators
        .iter()
        .map(|locator| &locator.at)
        .chain(body.clamps.iter().map(|clamp| &clamp.at))
        .collect();
    let is_loose = |index: usize| {
        let own = &shapes[index].1;
        let meets = |other: &(usize, &(&Shape, Still))| {
            other.0 != index && own.gap(&other.1.1, mm(TOUCHES_MM)).is_some()
        };
        !shapes.iter().enumerate().any(|other| meets(&other))
            && !held.iter().any(|at| distance(own, at, mm(TOUCHES_MM)).is_some())
    };
    (0..shapes.len()).filter(|index| is_loose(*index)).map(|index| shapes[index].0.name.clone()).collect()
}

/// A pad or stop whose direction is not square to the face that it touches, with the way in which that face could be pushed.
#[derive(Clone, Debug, PartialEq)]
pub struct Askew {
    /// Its name.
    pub name: String,
    /// Unit vector into the part, station frame.
    pub into: Vector3<f64>,
}

/// All pads and stops that stand askew, of those that touch.
#[must_use]
pub fn askew(cell: &Cell, body: &Body) -> Vec<Askew> {
    let shapes: Vec<&Shape> = body.shapes.iter().map(|shape| &cell.shapes[shape.0]).collect();
    let part = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    let stands = body.locators.iter().filter(|l| matches!(l.kind, LocatorKind::Pad | LocatorKind::Stop));
    stands
        .filter_map(|locator| {
            let into = into_face(&part, &locator.at, &locator.direction)?;
            (into.dot(&locator.direction) < SQUARE_ON).then(|| Askew { name: locator.name.clone(), into })
        })
        .collect()
}

/// Axis of a pin: of one in a slot, whose direction is that in which it holds, that of a round pin or of the pads beside it.
fn pin_axis(body: &Body, locator: &Locator) -> Vector3<f64> {
    if locator.kind == LocatorKind::Pin {
        return locator.direction.into_inner();
    }
    let of = |kind| {
        body.locators.iter().find(|other| other.kind == kind).map(|other| other.direction.into_inner())
    };
    let axis = of(LocatorKind::Pin).or_else(|| of(LocatorKind::Pad)).unwrap_or_else(Vector3::z);
    let square = axis - locator.direction.into_inner() * locator.direction.dot(&axis);
    square.try_normalize(1e-3).unwrap_or(axis)
}

/// Distance of a line about `at` to the part, m, where it is less than a metre; 0 where it runs through it.
fn line(part: &Still, at: &Point3<f64>, along: &Vector3<f64>) -> Option<f64> {
    let wire = Solid::Capsule { radius: mm(0.001), half_length: mm(PIN_MM) };
    let off = Still::new([(&wire, pose_along(at, along))]).distance(part, mm(FARTHEST_MM));
    off.map(|off| off.max(0.0))
}

/// Distance of a point to the part, m, where it is less than `within`; negative inside.
pub(super) fn distance(part: &Still, at: &Point3<f64>, within: f64) -> Option<f64> {
    let tip = Solid::Sphere { radius: mm(0.001) };
    Still::new([(&tip, Pose::translation(at.x, at.y, at.z))]).distance(part, within)
}

/// Whether a locator there touches the part.
pub(super) fn touches(part: &Still, at: &Point3<f64>) -> bool {
    distance(part, at, mm(TOUCHES_MM)).is_some_and(|distance| distance > -mm(TOUCHES_MM))
}

/// The way in which a locator there pushes the part, square to the face that it touches; none where it touches none, or only grazes one
/// from beside: the face must look against the locator, which pushes along `direction`.
pub(super) fn pushed(part: &Still, at: &Point3<f64>, direction: &Vector3<f64>) -> Option<Vector3<f64>> {
    /// Cosine between both: a face that leans more than 70 degrees stops nothing in practice (common practice, no source).
    const LEANS: f64 = 0.34;
    into_face(part, at, direction).filter(|into| into.dot(direction) > LEANS)
}

/// The way into the part, square to the face that a locator there touches; none where it touches none.
fn into_face(part: &Still, at: &Point3<f64>, direction: &Vector3<f64>) -> Option<Vector3<f64>> {
    if !touches(part, at) {
        return None;
    }
    // Just outside of the face distances grow along its normal; where the direction is the wrong way round that is inside, where they do too.
    let outside = at - direction * mm(2.0 * TOUCHES_MM);
    let step = mm(0.1);
    let off = |way: Vector3<f64>| distance(part, &(outside + way * step), mm(10.0 * TOUCHES_MM));
    let mut grows = Vector3::zeros();
    for axis in 0..3 {
        let way = Vector3::ith(axis, 1.0);
        grows[axis] = off(way)? - off(-way)?;
    }
    Some(-grows.try_normalize(step * 1e-3)?)
}
