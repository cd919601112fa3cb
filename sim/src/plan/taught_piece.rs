//! Decides where the tool is between two taught points: straight, or on a circle, its orientation turning evenly about one axis.

use nalgebra::{Point3, Rotation3, Vector3};
use seamwright_kinematics::Pose;

/// A turn without way counts as so much way a radian, m.
const WAY_OF_A_TURN: f64 = 0.1;

/// A piece of the way from one taught point to another.
#[derive(Clone, Copy)]
pub(super) struct Piece {
    pub from: Pose,
    pub to: Pose,
    /// Centre, and axis times the angle turned, of a circular piece.
    pub circle: Option<(Point3<f64>, Vector3<f64>)>,
}

impl Piece {
    /// Angle that a circular piece goes round, rad.
    pub fn turned(&self) -> f64 {
        self.circle.map_or(0.0, |(_, turn)| turn.norm())
    }

    /// Way of the wire end, m.
    fn length(&self) -> f64 {
        let from = self.from.translation.vector;
        self.circle.map_or((self.to.translation.vector - from).norm(), |(centre, turn)| {
            turn.norm() * (from - centre.coords).norm()
        })
    }

    /// Distance along it, m: the way of the wire end, or for a turn on the spot so much a radian.
    pub fn way(&self) -> f64 {
        let length = self.length();
        if length > 1e-9 { length } else { WAY_OF_A_TURN * self.from.rotation.angle_to(&self.to.rotation) }
    }

    /// The tool at a distance along the piece.
    pub fn at(&self, d: f64) -> Pose {
        let share = if self.way() > 0.0 { d / self.way() } else { 0.0 };
        let from = self.from.translation.vector;
        let at = match &self.circle {
            None => from + (self.to.translation.vector - from) * share,
            Some((centre, turn)) => centre.coords + Rotation3::new(turn * share) * (from - centre.coords),
        };
        let whole = self.from.rotation.rotation_to(&self.to.rotation);
        Pose::from_parts(at.into(), whole.powf(share) * self.from.rotation)
    }
}
