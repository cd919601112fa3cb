//! Decides what a shape is in its file and what became of it: one table may stand in the cell many times, mirrored or in pieces.

use nalgebra::{Matrix3, Point3, Rotation3, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use super::ShapeId;

/// A table of a shape or clamp in the cell's file.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// Its name there.
    pub name: String,
    /// The fixture it belongs to; none for what surrounds the fixtures.
    pub fixture: Option<String>,
    /// `at_mm` there, in the frame it is given in, m.
    pub at: Point3<f64>,
    /// Everything that it became: a piece for each copy and for each group of a mesh.
    pub pieces: Vec<DrawnPiece>,
}

/// One shape of the cell, as its file draws it.
#[derive(Clone, Debug)]
pub struct DrawnPiece {
    /// The shape.
    pub shape: ShapeId,
    /// Where it stands in the frame that the file gives it in.
    pub drawn_from_shape: Pose,
    /// How that frame is placed in the shape's own.
    pub placing: Placing,
}

/// How a copy of a fixture is placed in the frame of its station: moved, and mirrored first where the station says so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placing {
    /// `frame_from_drawn` of directions: the identity or a reflection.
    pub frame_from_drawn: Matrix3<f64>,
    /// Where the drawn frame's origin comes to stand, m.
    pub origin: Vector3<f64>,
}

impl Placing {
    /// As drawn.
    pub const AS_DRAWN: Self = Self {
        frame_from_drawn: Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0),
        origin: Vector3::new(0.0, 0.0, 0.0),
    };

    /// Whether it is mirrored.
    #[must_use]
    pub fn mirrors(&self) -> bool {
        self.frame_from_drawn.determinant() < 0.0
    }

    /// Where a solid stands that is drawn at `drawn_from_shape`. Where the copy is mirrored it is reflected in its own plane x = 0 as
    /// well, so that the pose stays a proper one: every solid but a mesh is its own image there.
    #[must_use]
    pub fn pose(&self, drawn_from_shape: &Pose) -> Pose {
        let at = self.frame_from_drawn * drawn_from_shape.translation.vector + self.origin;
        if !self.mirrors() {
            return Pose::from_parts(at.into(), drawn_from_shape.rotation);
        }
        let axes = [-Vector3::x(), Vector3::y(), Vector3::z()]
            .map(|axis| self.frame_from_drawn * (drawn_from_shape.rotation * axis));
        let rotation = Rotation3::from_matrix_unchecked(Matrix3::from_columns(&axes));
        Pose::from_parts(at.into(), UnitQuaternion::from_rotation_matrix(&rotation))
    }
}
