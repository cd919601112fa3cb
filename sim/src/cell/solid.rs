//! Decides what solid a shape is. Every solid stands centred in its own frame; round ones turn about its z axis. Metres.

use std::f64::consts::PI;
use std::sync::Arc;

use nalgebra::{Point3, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

/// A solid in its own frame.
#[derive(Clone, Debug)]
pub enum Solid {
    /// Rectangular block.
    Box {
        /// Half of each edge.
        half: Vector3<f64>,
    },
    /// Round bar with flat ends.
    Cylinder {
        /// Radius.
        radius: f64,
        /// Half of its height along z.
        half_height: f64,
    },
    /// Round bar with round ends.
    Capsule {
        /// Radius.
        radius: f64,
        /// Half of the straight part along z, without the round ends.
        half_length: f64,
    },
    /// Ball.
    Sphere {
        /// Radius.
        radius: f64,
    },
    /// Cut cone with flat ends: a tapered nozzle.
    Frustum {
        /// Radius at −z.
        radius_low: f64,
        /// Radius at +z.
        radius_high: f64,
        /// Half of its height along z.
        half_height: f64,
    },
    /// Triangles.
    Mesh(Arc<Mesh>),
}

impl Solid {
    /// Distance of its farthest point from the origin of its frame, m.
    #[must_use]
    pub fn farthest_point(&self) -> f64 {
        match self {
            Self::Box { half } => half.norm(),
            Self::Cylinder { radius, half_height } => radius.hypot(*half_height),
            Self::Capsule { radius, half_length } => radius + half_length,
            Self::Sphere { radius } => *radius,
            Self::Frustum { radius_low, radius_high, half_height } => {
                radius_low.max(*radius_high).hypot(*half_height)
            }
            Self::Mesh(mesh) => mesh.vertices.iter().map(|corner| corner.coords.norm()).fold(0.0, f64::max),
        }
    }
}

/// Triangles after cleaning: no degenerate ones, outward windings where the mesh is closed.
#[derive(Clone, Debug)]
pub struct Mesh {
    /// Corners, in the shape's frame.
    pub vertices: Vec<Point3<f64>>,
    /// Corner indices, counter-clockwise seen from outside.
    pub triangles: Vec<[u32; 3]>,
    /// Whether no triangle has a free edge (each edge is passed as often one way as the other): then the mesh is a solid, cavities
    /// and bodies that touch included; else it is only a shell.
    pub closed: bool,
}

/// The pose at a point whose z runs along a direction, for solids that stand on their axis; where that is no direction, along z.
#[must_use]
pub fn pose_along(at: &Point3<f64>, direction: &Vector3<f64>) -> Pose {
    // Straight against z any half turn will do.
    let turn = UnitQuaternion::rotation_between(&Vector3::z(), direction)
        .unwrap_or_else(|| UnitQuaternion::from_axis_angle(&Vector3::x_axis(), PI));
    Pose::from_parts(at.coords.into(), turn)
}
