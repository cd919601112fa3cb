//! Where one looks from: named views, turning, shifting and coming nearer by mouse, following the torch.

use bevy::prelude::*;
use nalgebra::{Point3, Vector3};
use seamwright_sim::cell::{Role, Solid};

use crate::logic::{Chosen, Now, View};
use crate::place::point;
use crate::site::Site;
use seamwright_sim::schedule::Stance;

/// The eye: on a ball around what is looked at. Our world, metres.
#[derive(Resource, Clone, Debug)]
pub struct Orbit {
    /// What is looked at.
    pub target: Point3<f64>,
    /// Turn about world z, rad: 0 looks along −x.
    pub yaw: f64,
    /// Height over the horizon, rad.
    pub pitch: f64,
    /// From eye to target, m.
    pub distance: f64,
    /// Whether a person has turned the view since it was named.
    pub turned: bool,
}

impl Default for Orbit {
    fn default() -> Self {
        Self { target: Point3::origin(), yaw: 0.0, pitch: 0.5, distance: 4.0, turned: false }
    }
}

/// How much of the picture panels leave free, and its shape.
#[derive(Resource, Clone, Copy, Debug)]
pub struct Room {
    /// Share of the height covered at the bottom beyond what is covered at the top.
    pub covered: f64,
    /// Share of the height that nothing covers.
    pub free: f64,
    /// Width over height of the whole picture.
    pub aspect: f64,
}

impl Default for Room {
    fn default() -> Self {
        Self { covered: 0.0, free: 1.0, aspect: 16.0 / 9.0 }
    }
}

/// Half the opening angle of the camera from top to bottom, rad: Bevy's own of 45 degrees.
const HALF_VIEW: f64 = std::f64::consts::FRAC_PI_8;

/// Where the eye of a view stands.
#[must_use]
pub fn eye_of(view: View, site: &Site, now: &Now, chosen: Chosen, room: Room) -> Orbit {
    // Of the whole cell one looks from one place, wherever arm and external axes stand by then.
    let home = site.at_home();
    let (middle, radius) = whole(site, &home);
    let foot = Point3::from(site.world_from_base(&home.external).translation.vector);
    let to_work = (stations(site, &home) - foot).xy();
    let front = if to_work.norm() > 1e-6 { to_work.y.atan2(to_work.x) } else { 0.0 };
    let free = room.free.max(0.2) * room.aspect.min(1.6) / 1.6;
    let far = radius / (HALF_VIEW.tan() * free) * 0.75;
    let tip = Point3::from(now.world_from_tool.translation.vector);
    let wire = now.world_from_tool.rotation * Vector3::z();
    let at = |target, yaw, pitch, distance| Orbit { target, yaw, pitch, distance, turned: false };
    match view {
        View::Operator => at(middle, front + 0.75, 0.42, far),
        View::Front => at(middle, front, 0.16, far),
        View::Above => at(middle, front, 1.5607, far * 1.05),
        View::Side => at(middle, front + std::f64::consts::FRAC_PI_2, 0.12, far),
        // From behind the contact tip, a little beside it: right behind it the torch itself would be all there is.
        View::Wire => {
            let back = -wire + now.world_from_tool.rotation * Vector3::y() * 0.45;
            at(tip, back.y.atan2(back.x), back.z.atan2(back.xy().norm()), 0.45)
        }
        View::Torch => at(tip, front + 0.9, 0.5, 0.75),
        View::Seam => {
            let seam = chosen.0.or(now.chosen_or_welded);
            let middle_of = seam.and_then(|seam| site.middle_of(seam, &now.stance.external));
            let Some((place, out, along)) = middle_of else { return at(middle, front + 0.75, 0.42, far) };
            let length = seam.map_or(0.2, |seam| site.cell.seams[seam.0].drawn_length);
            // From beyond its end: a torch at the start then stands behind it and not before it.
            let out = out * 0.8 + along * 0.9 + Vector3::z() * 0.2;
            let far = (length * 0.9).clamp(0.35, 1.6) / free.sqrt();
            at(place, out.y.atan2(out.x), out.z.atan2(out.xy().norm()).clamp(0.15, 1.2), far)
        }
    }
}

/// The middle of the stations in the world.
fn stations(site: &Site, at: &Stance) -> Point3<f64> {
    let places = site
        .cell
        .stations
        .iter()
        .map(|station| site.cell.frames.world_from(station.frame, &at.external).translation.vector);
    let sum: Vector3<f64> = places.sum();
    Point3::from(sum / site.cell.stations.len().max(1) as f64)
}

/// Middle and radius of what matters: the arm in its reach over the stations, and everything but floor and guards.
fn whole(site: &Site, at: &Stance) -> (Point3<f64>, f64) {
    let world_from_base = site.world_from_base(&at.external);
    let foot = Point3::from(world_from_base.translation.vector);
    let (mut low, mut high) = (foot.coords, foot.coords + Vector3::z() * 1.2);
    // The foot of an arm on a track, wherever it goes.
    for (axis, of) in site.cell.frames.axes.iter().enumerate() {
        for end in [of.range.min, of.range.max].into_iter().filter(|end| end.is_finite()) {
            let mut external = at.external.clone();
            external[axis] = end;
            let foot = site.world_from_base(&external).translation.vector;
            low = low.inf(&foot);
            high = high.sup(&foot);
        }
    }
    let forward = site.cell.arm.arm.forward(&at.axes);
    for shape in &site.cell.arm.shapes {
        let place = world_from_base * forward.base_from_link[shape.link] * shape.link_from_shape;
        let far = Vector3::repeat(shape.solid.farthest_point() * 0.8);
        low = low.inf(&(place.translation.vector - far));
        high = high.sup(&(place.translation.vector + far));
    }
    for shape in &site.cell.shapes {
        let far = shape.solid.farthest_point();
        let is_wide = matches!(&shape.solid, Solid::Box { half } if shape.role == Role::Surroundings && half.amax() > 0.9);
        if is_wide {
            continue;
        }
        let place = (site.cell.frames.world_from(shape.frame, &at.external) * shape.frame_from_shape)
            .translation
            .vector;
        let far = Vector3::repeat(far * 0.7);
        low = low.inf(&(place - far));
        high = high.sup(&(place + far));
    }
    low.z = low.z.max(foot.z.min(0.0));
    (Point3::from((low + high) / 2.0), ((high - low).norm() / 2.0).max(0.5))
}

/// The eye in Bevy's world.
#[must_use]
pub fn aim(orbit: &Orbit, room: Room) -> Transform {
    let (sin_yaw, cos_yaw) = orbit.yaw.sin_cos();
    let (sin_pitch, cos_pitch) = orbit.pitch.sin_cos();
    let back = Vector3::new(cos_pitch * cos_yaw, cos_pitch * sin_yaw, sin_pitch);
    let up = Vector3::new(-sin_pitch * cos_yaw, -sin_pitch * sin_yaw, cos_pitch);
    // What is looked at stands in the middle of what no panel covers.
    let lower = up * (room.covered * orbit.distance * HALF_VIEW.tan());
    let target = orbit.target - lower;
    let eye = target + back * orbit.distance;
    let up = point(&Point3::from(up));
    Transform::from_translation(point(&eye)).looking_at(point(&target), up)
}

/// Takes a named view when it is chosen, when the cell is new, and all the time where it follows the torch.
pub(super) fn take_view(
    site: Res<Site>,
    now: Res<Now>,
    view: Res<View>,
    chosen: Res<Chosen>,
    room: Res<Room>,
    mut orbit: ResMut<Orbit>,
    mut first: Local<bool>,
) {
    let fresh =
        view.is_changed() || !*first || room.is_changed() || (*view == View::Seam && chosen.is_changed());
    *first = true;
    if fresh {
        *orbit = eye_of(*view, &site, &now, *chosen, *room);
    } else if matches!(*view, View::Torch | View::Wire) {
        let there = eye_of(*view, &site, &now, *chosen, *room);
        if orbit.turned || *view == View::Torch {
            orbit.target = there.target;
        } else {
            *orbit = there;
        }
    }
}

/// Puts the camera there.
pub(super) fn put(orbit: Res<Orbit>, room: Res<Room>, mut cameras: Query<&mut Transform, With<Camera3d>>) {
    for mut camera in &mut cameras {
        let there = aim(&orbit, *room);
        if *camera != there {
            *camera = there;
        }
    }
}
