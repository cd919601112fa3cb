//! Decides where the tool is between two taught points: its wire end goes straight, or on a circle, its orientation turns evenly about one
//! axis, and its distance from contact tip to wire end changes evenly from that of the one point to that of the other.

use nalgebra::{Point3, Rotation3, Vector3};
use seamwright_kinematics::{AxisValues, Pose};

use super::setup::Setup;
use crate::cell::{GivenPoint, GivenStance};

/// A turn without way counts as so much way a radian, m.
const WAY_OF_A_TURN: f64 = 0.1;

/// The tool as a taught point has it.
#[derive(Clone, Copy)]
pub(super) struct TaughtTool {
    pub station_from_wire_end: Pose,
    /// From contact tip to wire end, m.
    pub ctwd: f64,
}

impl TaughtTool {
    pub fn of(setup: &Setup<'_>, point: &GivenPoint) -> Self {
        let ctwd = point.ctwd.unwrap_or(setup.cell.torch.nominal_ctwd);
        match &point.stance {
            GivenStance::Tool(pose) => Self { station_from_wire_end: *pose, ctwd },
            GivenStance::Axes(axes) => Self::at(setup, axes, ctwd),
        }
    }

    /// Where it is when the arm stands like this.
    pub fn at(setup: &Setup<'_>, axes: &AxisValues, ctwd: f64) -> Self {
        Self { station_from_wire_end: setup.station_from_wire_end(axes, ctwd), ctwd }
    }
}

/// A piece of the way from one taught point to another.
#[derive(Clone, Copy)]
pub(super) struct Piece {
    pub from: Pose,
    pub to: Pose,
    /// From contact tip to wire end at both.
    ctwd: [f64; 2],
    /// Centre, and axis times the angle turned, of a circular piece.
    pub circle: Option<(Point3<f64>, Vector3<f64>)>,
}

impl Piece {
    /// Straight from one to the other.
    pub fn straight(from: TaughtTool, to: TaughtTool) -> Self {
        Self {
            from: from.station_from_wire_end,
            to: to.station_from_wire_end,
            ctwd: [from.ctwd, to.ctwd],
            circle: None,
        }
    }

    /// Both halves of the circular move from the first over the second to the third; straight where these lie on a line.
    pub fn circular(tools: [TaughtTool; 3]) -> [Self; 2] {
        let [a, b, c] = tools.map(|tool| Point3::from(tool.station_from_wire_end.translation.vector));
        let circle = circle_through(&a, &b, &c);
        let half = |from: TaughtTool, to: TaughtTool| {
            let straight = Self::straight(from, to);
            let circle = circle.map(|(centre, axis)| {
                let radius = |pose: &Pose| Point3::from(pose.translation.vector) - centre;
                let (from, to) = (radius(&straight.from), radius(&straight.to));
                let angle = from.cross(&to).dot(&axis).atan2(from.dot(&to)).rem_euclid(std::f64::consts::TAU);
                (centre, axis * angle)
            });
            Self { circle, ..straight }
        };
        [half(tools[0], tools[1]), half(tools[1], tools[2])]
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

    /// The wire end at a distance along the piece.
    pub fn at(&self, d: f64) -> Pose {
        let share = self.share(d);
        let from = self.from.translation.vector;
        let at = match &self.circle {
            None => from + (self.to.translation.vector - from) * share,
            Some((centre, turn)) => centre.coords + Rotation3::new(turn * share) * (from - centre.coords),
        };
        let whole = self.from.rotation.rotation_to(&self.to.rotation);
        Pose::from_parts(at.into(), whole.powf(share) * self.from.rotation)
    }

    /// From contact tip to wire end there, m.
    pub fn ctwd_at(&self, d: f64) -> f64 {
        let [from, to] = self.ctwd;
        from + (to - from) * self.share(d)
    }

    fn share(&self, d: f64) -> f64 {
        if self.way() > 0.0 { d / self.way() } else { 0.0 }
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
