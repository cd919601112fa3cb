//! Decides in which directions a locator holds a part: one or two contacts each, without friction.
//!
//! A small displacement of the part is `[v; ω]` (m, then rad): the displacement of the station's origin, and the turn. Contact `j`
//! at `p` with direction `n` sees `n · (v + ω × p) = [n; p × n] · [v; ω]`: row `j` of the contact matrix. The same row is the wrench
//! with which the contact pushes the part, so its transpose carries forces (N, N·m). This is the usual screw pair of locating
//! theory; it is derived here in one line, not taken from a book.

use std::f64::consts::FRAC_PI_2;

use nalgebra::{DMatrix, Point3, Unit, Vector3, Vector6};

use crate::cell::{Body, LocatorKind};

/// One direction in which one locator holds.
#[derive(Clone, Debug)]
pub struct Contact {
    /// Index among the body's locators; their number, where it stands in for a turn that changes nothing.
    pub locator: usize,
    /// Where, in the station frame.
    pub at: Point3<f64>,
    /// From the locator into the part.
    pub direction: Vector3<f64>,
    /// Whether it only pushes; a pin also pulls.
    pub one_sided: bool,
}

impl Contact {
    /// Its row of the contact matrix, and the wrench of a unit force: linear first.
    #[must_use]
    pub fn row(&self) -> Vector6<f64> {
        wrench(&self.at, &self.direction)
    }
}

/// The wrench of a unit force along `direction` at `at` about the origin: force first.
pub(super) fn wrench(at: &Point3<f64>, direction: &Vector3<f64>) -> Vector6<f64> {
    let moment = at.coords.cross(direction);
    Vector6::new(direction.x, direction.y, direction.z, moment.x, moment.y, moment.z)
}

/// A row of the contact matrix or a load about `centre`, turns as motion at the distance `size`.
pub(super) fn about(of: &Vector6<f64>, centre: &Point3<f64>, size: f64) -> Vector6<f64> {
    let force = Vector3::new(of[0], of[1], of[2]);
    let moment = (Vector3::new(of[3], of[4], of[5]) - centre.coords.cross(&force)) / size;
    Vector6::new(force.x, force.y, force.z, moment.x, moment.y, moment.z)
}

/// All contacts of a body, locator by locator.
#[must_use]
pub fn contacts(body: &Body) -> Vec<Contact> {
    let mut all = Vec::new();
    for (index, locator) in body.locators.iter().enumerate() {
        let mut add = |direction: Vector3<f64>, one_sided| {
            all.push(Contact { locator: index, at: locator.at, direction, one_sided });
        };
        match locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => add(locator.direction.into_inner(), true),
            LocatorKind::SlotPin => add(locator.direction.into_inner(), false),
            LocatorKind::Pin => square_to(&locator.direction).into_iter().for_each(|way| add(way, false)),
            LocatorKind::Vee { along, opening } => {
                let side = along.cross(&locator.direction);
                // A flank's normal leans from the middle of the vee by a right angle less half the opening.
                let (sin, cos) = (FRAC_PI_2 - opening / 2.0).sin_cos();
                add(locator.direction.into_inner() * cos + side * sin, true);
                add(locator.direction.into_inner() * cos - side * sin, true);
            }
        }
    }
    all
}

/// The contact matrix: a row a contact.
#[must_use]
pub fn matrix(contacts: &[Contact]) -> DMatrix<f64> {
    DMatrix::from_fn(contacts.len(), 6, |row, column| contacts[row].row()[column])
}

/// Two directions square to `axis` and to each other, along the station's axes where that can be.
pub(super) fn square_to(axis: &Unit<Vector3<f64>>) -> [Vector3<f64>; 2] {
    let least = axis.iamin();
    // A pin that stands upright holds along X and Y: the first axis that is square to it comes first.
    let start = if least == 0 {
        Vector3::x()
    } else if least == 1 {
        Vector3::y()
    } else {
        Vector3::z()
    };
    let first = (start - axis.into_inner() * axis.dot(&start)).normalize();
    let second = axis.cross(&first);
    [first, second]
}
