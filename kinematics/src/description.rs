//! Decides how each way of describing an arm (data-sheet dimensions, DH rows, origins and axes) becomes the frames of
//! its links.
//!
//! Link frames, on which link shapes are placed (all at axis values 0):
//!
//! - [`Dimensions`]: every link frame is parallel to the base frame, with its origin on the link's own axis where the
//!   sketch there shows it.
//! - [`standard_dh`]: the frame of link `i` is the frame that the rows call `i − 1`, turned with axis `i`: origin on
//!   axis `i`, z along it.
//! - [`modified_dh`]: the frame of link `i` is the frame that the rows call `i`.
//! - [`OriginAxis`]: every link frame is parallel to the base frame, with its origin in the stated point of its axis.

use nalgebra::{Translation3, UnitQuaternion, UnitVector3, Vector3};

use crate::Pose;

/// Where the links of an arm stand to each other at axis values 0.
#[derive(Clone, Debug)]
pub struct Links {
    /// `parent_link_from_link`, base to flange.
    pub origin: [Pose; 6],
    /// Turning direction of each axis in its own link's frame.
    pub direction: [UnitVector3<f64>; 6],
    /// `link6_from_flange`.
    pub link6_from_flange: Pose,
}

/// Data-sheet dimensions of the usual arm: axis 1 upright, axes 2, 3 and 5 level, axes 4 and 6 along the forearm. m.
///
/// Axis values 0: upper arm upright, forearm level to the front, wrist straight. Base: origin in the foot on axis 1,
/// +Z up, +X to the front. Positive axes 1 (about +Z), 2, 3 and 5 (about +Y: forward and down), 4 and 6 (about +X,
/// outward along the forearm). Flange at axis values 0: +Z outward (base +X), +X downward (base −Z).
///
/// ```text
///            elbow_offset  ┌ axis 3 ───── forearm ───── axis 5 ─ wrist_to_flange ─ ▌ flange
///               (up +)     ●                              ●
///                          │ upper_arm                                     +Z
///                          ● axis 2                                         │
///   axis2_height           │                                                └─ +X    +Y away from the reader
///            ──────────────┴──── foot
///                 ├────────┤ axis2_forward, from axis 1
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dimensions {
    /// From the foot up to axis 2.
    pub axis2_height: f64,
    /// From axis 1 to the front to axis 2.
    pub axis2_forward: f64,
    /// From the plane of axis 1 to the left (+Y) to the line of axis 4.
    pub axis2_sideways: f64,
    /// From axis 2 to axis 3.
    pub upper_arm: f64,
    /// From axis 3 up to the line of axis 4.
    pub elbow_offset: f64,
    /// From axis 3 to axis 5, along the forearm.
    pub forearm: f64,
    /// From axis 5 to the flange, along axis 6.
    pub wrist_to_flange: f64,
}

impl Dimensions {
    /// The links so described. Origins: links 1 and 0 in the foot; link 2 on axis 2; link 3 on axis 3; links 4, 5 and
    /// 6 in the wrist centre; all but the first two moved `axis2_sideways`.
    #[must_use]
    pub fn links(&self) -> Links {
        let to = |x, y, z| Pose::from_parts(Translation3::new(x, y, z), UnitQuaternion::identity());
        let (x, y, z) = (Vector3::x_axis(), Vector3::y_axis(), Vector3::z_axis());
        let quarter = UnitQuaternion::from_axis_angle(&y, std::f64::consts::FRAC_PI_2);
        Links {
            origin: [
                Pose::identity(),
                to(self.axis2_forward, self.axis2_sideways, self.axis2_height),
                to(0.0, 0.0, self.upper_arm),
                to(self.forearm, 0.0, self.elbow_offset),
                Pose::identity(),
                Pose::identity(),
            ],
            direction: [z, y, y, x, y, x],
            link6_from_flange: Pose::from_parts(Translation3::new(self.wrist_to_flange, 0.0, 0.0), quarter),
        }
    }
}

/// One row of a table after Denavit and Hartenberg. rad and m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DhRow {
    /// Added to the axis value: turn about z.
    pub theta_offset: f64,
    /// Shift along z.
    pub d: f64,
    /// Shift along x.
    pub a: f64,
    /// Turn about x.
    pub alpha: f64,
}

impl DhRow {
    fn turn_z(&self) -> Pose {
        Pose::rotation(Vector3::z() * self.theta_offset)
    }

    fn along_z(&self) -> Pose {
        Pose::translation(0.0, 0.0, self.d)
    }

    fn x_screw(&self) -> Pose {
        Pose::translation(self.a, 0.0, 0.0) * Pose::rotation(Vector3::x() * self.alpha)
    }
}

/// Links from standard rows: each row is Rz(θ + offset) · Tz(d) · Tx(a) · Rx(α). The flange is the frame after row 6.
#[must_use]
pub fn standard_dh(rows: &[DhRow; 6]) -> Links {
    let after = |i: usize| rows[i].along_z() * rows[i].x_screw();
    let origin = std::array::from_fn(|i| match i {
        0 => rows[0].turn_z(),
        _ => after(i - 1) * rows[i].turn_z(),
    });
    Links { origin, direction: [Vector3::z_axis(); 6], link6_from_flange: after(5) }
}

/// Links from modified rows: each row is Rx(α) · Tx(a) · Rz(θ + offset) · Tz(d), where α and a are those before its
/// axis. `link6_from_flange` follows row 6.
#[must_use]
pub fn modified_dh(rows: &[DhRow; 6], link6_from_flange: Pose) -> Links {
    let origin = std::array::from_fn(|i| rows[i].x_screw() * rows[i].along_z() * rows[i].turn_z());
    Links { origin, direction: [Vector3::z_axis(); 6], link6_from_flange }
}

/// An axis as a line in the base frame at axis values 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OriginAxis {
    /// A point of the axis, m.
    pub point: Vector3<f64>,
    /// Turning direction, right-handed.
    pub direction: UnitVector3<f64>,
}

/// Links from axes as lines, with `base_from_flange` at axis values 0.
#[must_use]
pub fn origin_axes(axes: &[OriginAxis; 6], base_from_flange: &Pose) -> Links {
    let before = |i: usize| if i == 0 { Vector3::zeros() } else { axes[i - 1].point };
    let origin = std::array::from_fn(|i| {
        Pose::from_parts((axes[i].point - before(i)).into(), UnitQuaternion::identity())
    });
    let base_from_link6 = Pose::from_parts(axes[5].point.into(), UnitQuaternion::identity());
    Links {
        origin,
        direction: axes.map(|axis| axis.direction),
        link6_from_flange: base_from_link6.inverse() * base_from_flange,
    }
}
