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
    /// Straight from one to the other.
    pub fn straight(from: Pose, to: Pose) -> Self {
        Self { from, to, circle: None }
    }

    /// Both halves of the circular move from the first over the second to the third; straight where these lie on a line.
    pub fn circular(poses: [Pose; 3]) -> [Self; 2] {
        let [a, b, c] = poses.map(|pose| Point3::from(pose.translation.vector));
        let circle = circle_through(&a, &b, &c);
        let half = |from: Pose, to: Pose| {
            let circle = circle.map(|(centre, axis)| {
                let radius = |pose: &Pose| Point3::from(pose.translation.vector) - centre;
                let (from, to) = (radius(&from), radius(&to));
                let angle = from.cross(&to).dot(&axis).atan2(from.dot(&to)).rem_euclid(std::f64::consts::TAU);
                (centre, axis * angle)
            });
            Self { from, to, circle }
        };
        [half(poses[0], poses[1]), half(poses[1], poses[2])]
    }

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

/// Centre and axis (right-handed from `a` over `b` to `c`) of the circle through three points; `None` where they lie on a line.
fn circle_through(a: &Point3<f64>, b: &Point3<f64>, c: &Point3<f64>) -> Option<(Point3<f64>, Vector3<f64>)> {
    let (u, v) = (b - a, c - a);
    let normal = u.cross(&v);
    let square = normal.norm_squared();
    if square.sqrt() < 1e-9 {
        return None;
    }
    // Circumcentre of a triangle: (|u|² (v × n) + |v|² (n × u)) / 2|n|² from its corner, with n = u × v.
    let to_centre =
        (v.cross(&normal) * u.norm_squared() + normal.cross(&u) * v.norm_squared()) / (2.0 * square);
    Some((a + to_centre, normal.normalize()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three points of the circle of radius 2 about (1, 2, 3) in the plane z = 3.
    #[test]
    fn the_circle_through_three_points_is_found() {
        let at = |degrees: f64| {
            let (sin, cos) = crate::units::deg(degrees).sin_cos();
            Point3::new(1.0 + 2.0 * cos, 2.0 + 2.0 * sin, 3.0)
        };
        let (centre, axis) = circle_through(&at(10.0), &at(80.0), &at(200.0)).unwrap();
        assert!((centre - Point3::new(1.0, 2.0, 3.0)).norm() < 1e-12, "{centre}");
        assert!((axis - Vector3::z()).norm() < 1e-12, "{axis}");
        assert!(circle_through(&at(10.0), &at(10.0), &at(80.0)).is_none());
    }
}
