//! Decides where the torch stands for given angles at a seam point, and which angles a given torch has.
//!
//! Wire direction from tip to work, with work angle w from n1 toward b and travel angle τ (push positive), after the AWS
//! A3.0 definitions: e = sin τ · t − cos τ · (cos w · n1 + sin w · b). At free turn 0 the tool's +X is t made square to e.

use nalgebra::{Isometry3, Matrix3, Rotation3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use crate::cell::SeamPoint;

/// A torch against a seam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TorchAngles {
    /// Work angle, rad.
    pub work: f64,
    /// Travel angle, push positive, rad.
    pub travel: f64,
    /// Turn about the wire, right-handed about tool +Z, rad.
    pub turn: f64,
    /// Contact tip to work distance, m.
    pub ctwd: f64,
}

impl TorchAngles {
    /// Linear between `self` (0) and `other` (1).
    #[must_use]
    pub fn lerp(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + (b - a) * share;
        Self {
            work: mix(self.work, other.work),
            travel: mix(self.travel, other.travel),
            turn: mix(self.turn, other.turn),
            ctwd: mix(self.ctwd, other.ctwd),
        }
    }
}

/// `station_from_tool` with the *wire end* at the seam point: the origin lies on the root line whatever the CTWD.
#[must_use]
pub fn station_from_tool(at: &SeamPoint, angles: &TorchAngles) -> Pose {
    let (sin_work, cos_work) = angles.work.sin_cos();
    let (sin_travel, cos_travel) = angles.travel.sin_cos();
    let wire = at.t * sin_travel - (at.n1 * cos_work + at.b * sin_work) * cos_travel;
    // Square to the wire, and never zero: the travel angle stays short of a right angle.
    let along = at.t * cos_travel + (at.n1 * cos_work + at.b * sin_work) * sin_travel;
    let rotation =
        Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[along, wire.cross(&along), wire]))
            * Rotation3::from_axis_angle(&Vector3::z_axis(), angles.turn);
    Isometry3::from_parts(at.point.coords.into(), UnitQuaternion::from_rotation_matrix(&rotation))
}

/// The angles that a torch whose wire end lies on the seam point has against the seam; `ctwd` is handed through.
#[must_use]
pub fn angles_of(at: &SeamPoint, station_from_tool: &Pose, ctwd: f64) -> TorchAngles {
    let wire: Vector3<f64> = station_from_tool.rotation * Vector3::z();
    let along_seam = wire.dot(&at.t);
    let across = wire - at.t * along_seam;
    let square = Unit::new_normalize(at.t - wire * along_seam);
    let x: Vector3<f64> = station_from_tool.rotation * Vector3::x();
    TorchAngles {
        work: (-across.dot(&at.b)).atan2(-across.dot(&at.n1)),
        travel: along_seam.clamp(-1.0, 1.0).asin(),
        turn: wire.cross(&square).dot(&x).atan2(square.dot(&x)),
        ctwd,
    }
}
