//! Decides which locators and clamps touch no drawn shape of their part: what they were counted for, they do not do.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::pin_in_hole::{PinStands, pin_stands, room};
use super::vee;
use crate::cell::{Body, Cell, Locator, LocatorKind, Shape, Solid, pose_along};
use crate::plan::clearance::Still;
use crate::units::mm;

/// What is no farther off touches, mm: more than tolerances, less than anybody would overlook.
pub(super) const TOUCHES_MM: f64 = 1.0;
/// A pad or stop that stands no farther off its face, or in it, stands on it as drawn, mm: as closely as one is set (common practice, no
/// source).
pub(super) const ON_FACE_MM: f64 = 0.1;
/// Cosine of the angle that the direction of a pad or stop may be off the face it touches: 10 degrees, for round faces that are cut flat.
const SQUARE_ON: f64 = 0.985;
/// What stands no farther beside an edge stands on it, mm: what is written into meshes is rounded.
const BESIDE_MM: f64 = 0.01;
/// How far off it is measured, mm.
pub(super) const FARTHEST_MM: f64 = 1000.0;

/// A locator or clamp that does not touch the part as it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct InTheAir {
    /// Its name.
    pub name: String,
    /// Where it is instead.
    pub off: Off,
}

/// Where a locator or clamp is that does not touch the part as it should.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Off {
    /// So far from the part, m, negative inside.
    Face(f64),
    /// Farther than a metre from it, or a vee in which nothing lies.
    Far,
    /// A pin in a drawn hole, so far off its middle in a way in which it holds, m.
    Middle {
        /// How far off.
        by: f64,
        /// How far off it may be as it goes in.
        play: f64,
    },
    /// A pin in a slot, where the drawn hole is narrower than at its middle by more than its play, m.
    Narrow {
        /// How wide it is there, the way in which the pin holds.
        here: f64,
        /// How wide at its middle.
        middle: f64,
    },
    /// A round pin in a hole that is open this way.
    Open(Vector3<f64>),
    /// A pin in none of the holes that are drawn along it, so far from the middle of the nearest, m.
    Hole(f64),
}

impl Off {
    fn face(off: Option<f64>) -> Self {
        off.map_or(Self::Far, Self::Face)
    }
}

/// All that touch nothing: locators, then clamps. None of a body without a drawn shape.
#[must_use]
pub fn in_the_air(cell: &Cell, body: &Body) -> Vec<InTheAir> {
    let part = part(cell, body);
    let clamps = body.clamps.iter().filter_map(|clamp| {
        let off = distance(&part, &clamp.at, mm(FARTHEST_MM));
        (!body.shapes.is_empty() && outside(off, TOUCHES_MM))
            .then(|| InTheAir { name: clamp.name.clone(), off: Off::face(off) })
    });
    locators_in_the_air(cell, body).into_iter().chain(clamps).collect()
}

/// Locators that touch nothing. None of a body without a drawn shape.
pub(super) fn locators_in_the_air(cell: &Cell, body: &Body) -> Vec<InTheAir> {
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    if shapes.is_empty() {
        return Vec::new();
    }
    let rounds: Vec<Shape> = shapes.iter().cloned().chain(vee::rounds_of_meshes(body, &shapes)).collect();
    let part = part(cell, body);
    let off = |locator: &Locator| match &locator.kind {
        LocatorKind::Pad | LocatorKind::Stop => {
            let off = distance(&part, &locator.at, mm(FARTHEST_MM));
            outside(off.map(f64::abs), TOUCHES_MM).then(|| Off::face(off))
        }
        LocatorKind::Pin | LocatorKind::SlotPin => match pin_stands(body, &shapes, &part, locator) {
            PinStands::InPart | PinStands::Uneven => None,
            PinStands::Narrow([here, middle]) => Some(Off::Narrow { here, middle }),
            PinStands::InHole(by) => {
                let play = room(locator);
                (by > play).then_some(Off::Middle { by, play })
            }
            PinStands::BesideHoles(by) => Some(Off::Hole(by)),
            PinStands::Open(way) => Some(Off::Open(way)),
            PinStands::InTheAir(off) => Some(Off::face(off)),
        },
        LocatorKind::Vee { along, .. } => {
            vee::lying(&rounds, &locator.at, along, mm(vee::IN_VEE_MM)).is_none().then_some(Off::Far)
        }
    };
    let found = body.locators.iter().filter_map(|locator| Some((locator, off(locator)?)));
    found.map(|(locator, off)| InTheAir { name: locator.name.clone(), off }).collect()
}

fn outside(off: Option<f64>, within: f64) -> bool {
    off.is_none_or(|off| off > mm(within))
}

fn part(cell: &Cell, body: &Body) -> Still {
    let shapes = body.shapes.iter().map(|shape| &cell.shapes[shape.0]);
    Still::new(shapes.map(|shape| (&shape.solid, shape.frame_from_shape)))
}

/// All pads and stops that touch, and pins that go into their hole, and yet stand so far off the face, or off the middle of the hole, as
/// drawn that the part comes to lie elsewhere than it is drawn.
#[must_use]
pub fn off_face(cell: &Cell, body: &Body) -> Vec<InTheAir> {
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    let part = part(cell, body);
    let off = |locator: &Locator| match &locator.kind {
        LocatorKind::Pad | LocatorKind::Stop => {
            let off = distance(&part, &locator.at, mm(FARTHEST_MM))?;
            (off.abs() > mm(ON_FACE_MM) && off.abs() <= mm(TOUCHES_MM)).then_some(Off::Face(off))
        }
        LocatorKind::Pin | LocatorKind::SlotPin => match pin_stands(body, &shapes, &part, locator) {
            PinStands::InHole(by) => {
                let play = room(locator);
                (by > mm(ON_FACE_MM) && by <= play).then_some(Off::Middle { by, play })
            }
            _ => None,
        },
        LocatorKind::Vee { .. } => None,
    };
    let found = body.locators.iter().filter_map(|locator| Some((locator, off(locator)?)));
    found.map(|(locator, off)| InTheAir { name: locator.name.clone(), off }).collect()
}

/// Pins of which it was not looked at where in their drawn hole they stand: its shape does not tell where they should.
#[must_use]
pub fn in_uneven_holes(cell: &Cell, body: &Body) -> Vec<String> {
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    let part = part(cell, body);
    let is_uneven = |pin: &&Locator| matches!(pin_stands(body, &shapes, &part, pin), PinStands::Uneven);
    pins(body).filter(is_uneven).map(|pin| pin.name.clone()).collect()
}

fn pins(body: &Body) -> impl Iterator<Item = &Locator> {
    body.locators.iter().filter(|locator| matches!(locator.kind, LocatorKind::Pin | LocatorKind::SlotPin))
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

/// Distance of a point to the part, m, where it is less than `within`; negative inside.
pub(super) fn distance(part: &Still, at: &Point3<f64>, within: f64) -> Option<f64> {
    let tip = Solid::Sphere { radius: mm(0.001) };
    Still::new([(&tip, Pose::translation(at.x, at.y, at.z))]).distance(part, within)
}

/// Whether a locator there touches the part.
pub(super) fn touches(part: &Still, at: &Point3<f64>) -> bool {
    distance(part, at, mm(TOUCHES_MM)).is_some_and(|distance| distance > -mm(TOUCHES_MM))
}

/// Whether a locator there meets the part straight ahead or behind, and not beside an edge.
pub(super) fn meets(part: &Still, at: &Point3<f64>, direction: &Vector3<f64>) -> bool {
    let ahead = Solid::Capsule { radius: mm(0.001), half_length: mm(TOUCHES_MM) };
    Still::new([(&ahead, pose_along(at, direction))]).distance(part, mm(BESIDE_MM)).is_some()
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
