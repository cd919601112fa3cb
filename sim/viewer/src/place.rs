//! The one place where our axes become Bevy's: world +Z is up for us, +Y for Bevy.
//!
//! `(x, y, z)` becomes `(x, z, −y)`: a quarter turn back about x, so that both stay right-handed. Metres in both.

use bevy::math::{Quat, Vec3};
use bevy::transform::components::Transform;
use nalgebra::{Point3, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

/// Where something that stands at `world_from_body` stands in Bevy's world; its mesh keeps the body's own axes.
#[must_use]
pub fn bevy_from_world(world_from_body: &Pose) -> Transform {
    let quarter = UnitQuaternion::from_axis_angle(&Vector3::x_axis(), -std::f64::consts::FRAC_PI_2);
    let turn = quarter * world_from_body.rotation;
    Transform {
        translation: point(&Point3::from(world_from_body.translation.vector)),
        rotation: Quat::from_xyzw(turn.i as f32, turn.j as f32, turn.k as f32, turn.w as f32),
        ..Transform::IDENTITY
    }
}

/// A point of our world in Bevy's.
#[must_use]
pub fn point(in_world: &Point3<f64>) -> Vec3 {
    Vec3::new(in_world.x as f32, in_world.z as f32, -in_world.y as f32)
}

/// A point of Bevy's world in ours.
#[must_use]
pub fn world_point(in_bevy: Vec3) -> Point3<f64> {
    Point3::new(f64::from(in_bevy.x), -f64::from(in_bevy.z), f64::from(in_bevy.y))
}

/// A point of a body in its own axes, as single floats for a mesh.
#[must_use]
pub fn own(point: &Point3<f64>) -> Vec3 {
    Vec3::new(point.x as f32, point.y as f32, point.z as f32)
}
