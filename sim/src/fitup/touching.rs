//! Decides which locators and clamps touch no drawn shape of their part: what they were counted for, they do not do.

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use super::vee;
use crate::cell::{Body, Cell, LocatorKind, Shape, Solid};
use crate::plan::clearance::Still;
use crate::units::mm;

/// What is no farther off touches, mm: more than tolerances, less than anybody would overlook.
pub(super) const TOUCHES_MM: f64 = 1.0;
/// Holes are not drawn, so that a pin is in the air only where it stands farther from the part than most holes are wide, mm.
const HOLE_MM: f64 = 30.0;
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
    let part = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    let off = |at: &Point3<f64>| distance(&part, at, mm(FARTHEST_MM));
    let outside = |off: Option<f64>, within: f64| off.is_none_or(|off| off > mm(within));
    let locators = body.locators.iter().filter_map(|locator| {
        let found = off(&locator.at);
        let (is_off, off) = match &locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => (outside(found.map(f64::abs), TOUCHES_MM), found),
            LocatorKind::Pin | LocatorKind::SlotPin => (outside(found, HOLE_MM), found),
            LocatorKind::Vee { along, .. } => {
                (vee::lying(&shapes, &locator.at, along, mm(IN_VEE_MM)).is_none(), None)
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

/// Distance of a point to the part, m, where it is less than `within`; negative inside.
pub(super) fn distance(part: &Still, at: &Point3<f64>, within: f64) -> Option<f64> {
    let tip = Solid::Sphere { radius: mm(0.001) };
    Still::new([(&tip, Pose::translation(at.x, at.y, at.z))]).distance(part, within)
}

/// Whether a locator there touches the part.
pub(super) fn touches(part: &Still, at: &Point3<f64>) -> bool {
    distance(part, at, mm(TOUCHES_MM)).is_some_and(|distance| distance > -mm(TOUCHES_MM))
}
