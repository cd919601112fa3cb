//! Decides along which direction the gap of a joint opens whose members are located apart.
//!
//! Members meet where the end of one stands against a face of the other, or where both lie on each other. A gap opens square to the face
//! that goes on behind the joint: of a butt, whose ends meet, along the other member's way; of a lap along the reference face's normal; of
//! a fillet or corner along the normal of whichever face goes on, reference or not. Where neither does, as on an open corner, along the
//! reference face's normal.

use nalgebra::Vector3;

use super::seam_frame::Frame;
use crate::cell::read::part_at;
use crate::cell::{Cell, Joint, Seam};
use crate::units::mm;

/// So far behind the joint a face must go on, mm, and so deep is looked for its metal.
const BEHIND_MM: f64 = 2.0;
const DEEP_MM: f64 = 0.3;

/// How the members of a joint go apart, in the seam's frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opens {
    /// The other member goes off the reference face along its normal.
    Reference,
    /// Both go apart along the way over the reference face.
    Other {
        /// Whether the reference member is the one that goes that way.
        reference_ahead: bool,
    },
}

impl Opens {
    /// Of a seam that is drawn.
    #[must_use]
    pub fn of(cell: &Cell, seam: &Seam) -> Self {
        let Some(path) = seam.path.as_ref().filter(|_| seam.joint != Joint::Lap) else {
            return Self::Reference;
        };
        let root = path.root_at(0.5 * path.length());
        // Whether there is metal so far over one face and so far below the other, of the reference member or of another.
        let is_of_reference = |over: Vector3<f64>, normal: Vector3<f64>| {
            let at = root.point + over * mm(BEHIND_MM) - normal * mm(DEEP_MM);
            part_at(cell, seam.station, &at, &root.t).map(|part| seam.reference.contains(&part))
        };
        if seam.joint == Joint::Butt {
            return Self::Other { reference_ahead: is_of_reference(root.b, root.n1) == Some(true) };
        }
        let reference_goes_on = is_of_reference(-root.b, root.n1) == Some(true);
        let along_other = root.n2.cross(&root.t).normalize();
        let behind = along_other * -along_other.dot(&root.n1).signum();
        let other_goes_on = is_of_reference(behind, root.n2) == Some(false);
        if other_goes_on && !reference_goes_on {
            Self::Other { reference_ahead: true }
        } else {
            Self::Reference
        }
    }

    /// By how much the reference face's way along its normal opens the gap: where the other member stands on it, the face comes toward that.
    pub(super) fn by_reference_face(self) -> f64 {
        match self {
            Self::Reference => -1.0,
            Self::Other { .. } => 0.0,
        }
    }

    /// By how much the other face's way along its normal opens the gap.
    pub(super) fn by_other_face(self) -> f64 {
        match self {
            Self::Reference => 0.0,
            Self::Other { reference_ahead: true } => -1.0,
            Self::Other { reference_ahead: false } => 1.0,
        }
    }

    /// The way in which the other member goes, against the reference member, where the gap opens.
    pub(super) fn way(self, frame: &Frame) -> Vector3<f64> {
        match self {
            Self::Reference => frame.n1,
            Self::Other { reference_ahead: true } => -frame.n2,
            Self::Other { reference_ahead: false } => frame.n2,
        }
    }
}
