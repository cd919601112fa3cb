//! Where one looks from: named views, turning, shifting and coming nearer by mouse, following the torch.

use bevy::prelude::*;
use nalgebra::{Point3, Vector2, Vector3};
use seamwright_sim::cell::{Role, SeamId, Solid};

use super::solids::corners_of;
use crate::logic::{Chosen, Now, Practice, Task, View};
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
    /// Share of the width that a card covers at the left.
    pub left: f64,
}

impl Default for Room {
    fn default() -> Self {
        Self { covered: 0.0, free: 1.0, aspect: 16.0 / 9.0, left: 0.0 }
    }
}

/// Half the opening angle of the camera from top to bottom, rad: Bevy's own of 45 degrees.
const HALF_VIEW: f64 = std::f64::consts::FRAC_PI_8;

/// Where the eye of a view stands.
#[must_use]
pub fn eye_of(view: View, site: &Site, now: &Now, seam: Option<SeamId>, room: Room) -> Orbit {
    // Of the whole cell one looks from one place, wherever arm and external axes stand by then.
    let home = site.at_home();
    let foot = Point3::from(site.world_from_base(&home.external).translation.vector);
    let to_work = (stations(site, &home) - foot).xy();
    let front = if to_work.norm() > 1e-6 { to_work.y.atan2(to_work.x) } else { 0.0 };
    let tip = Point3::from(now.world_from_tool.translation.vector);
    let wire = now.world_from_tool.rotation * Vector3::z();
    let at = |target, yaw, pitch, distance| Orbit { target, yaw, pitch, distance, turned: false };
    let whole = |yaw, pitch| {
        let (middle, far) = fit(&whole(site, &home), yaw, pitch, room);
        at(middle, yaw, pitch, far)
    };
    match view {
        View::Operator => whole(front + 0.75, 0.42),
        View::Front => whole(front, 0.16),
        View::Above => whole(front, 1.5607),
        View::Side => whole(front + std::f64::consts::FRAC_PI_2, 0.12),
        // From behind the contact tip, a little beside it: right behind it the torch itself would be all there is.
        View::Wire => {
            let back = -wire + now.world_from_tool.rotation * Vector3::y() * 0.45;
            at(tip, back.y.atan2(back.x), back.z.atan2(back.xy().norm()), 0.45)
        }
        View::Torch => at(tip, front + 0.9, 0.5, 0.75),
        View::Seam => {
            let middle_of = seam.and_then(|seam| site.middle_of(seam, &now.stance.external));
            let Some((place, out, along)) = middle_of else { return whole(front + 0.75, 0.42) };
            let length = seam.map_or(0.2, |seam| site.cell.seams[seam.0].drawn_length);
            // From beyond its end: a torch at the start then stands behind it and not before it.
            let out = out * 0.8 + along * 0.9 + Vector3::z() * 0.2;
            let free = room.free.max(0.2) * room.aspect.min(1.6) / 1.6;
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

/// Toward the eye, to its right, and up.
fn axes_of_eye(yaw: f64, pitch: f64) -> [Vector3<f64>; 3] {
    let (sin_yaw, cos_yaw) = yaw.sin_cos();
    let (sin_pitch, cos_pitch) = pitch.sin_cos();
    [
        Vector3::new(cos_pitch * cos_yaw, cos_pitch * sin_yaw, sin_pitch),
        Vector3::new(-sin_yaw, cos_yaw, 0.0),
        Vector3::new(-sin_pitch * cos_yaw, -sin_pitch * sin_yaw, cos_pitch),
    ]
}

/// The point to look at so that all points stand in the middle of the picture, and how far from it (m) the eye stands.
fn fit(points: &[Point3<f64>], yaw: f64, pitch: f64, room: Room) -> (Point3<f64>, f64) {
    /// What is near is drawn larger, so that the middle is found in steps.
    const ROUNDS: usize = 40;
    let [low, high] = box_around(points);
    let mut middle = Point3::from((low + high) / 2.0);
    let [back, right, up] = axes_of_eye(yaw, pitch);
    for _ in 0..ROUNDS {
        let far = far_enough(points, middle, yaw, pitch, room);
        let seen = points.iter().map(|point| {
            let off = point - middle;
            let depth = far - off.dot(&back);
            Vector2::new(off.dot(&right), off.dot(&up)) / depth
        });
        let (low, high) = seen
            .fold((Vector2::repeat(f64::INFINITY), Vector2::repeat(f64::NEG_INFINITY)), |(low, high), at| {
                (low.inf(&at), high.sup(&at))
            });
        // A third of the way: of a cell seen along its length all of it would lead to and fro.
        let off = (low + high) / 2.0 / 3.0 * far;
        middle += right * off.x + up * off.y;
    }
    (middle, far_enough(points, middle, yaw, pitch, room))
}

/// How far from `middle` (m) the eye stands that sees all points where no panel covers them.
fn far_enough(points: &[Point3<f64>], middle: Point3<f64>, yaw: f64, pitch: f64, room: Room) -> f64 {
    /// Share of the free field that they may fill.
    const FILLS: f64 = 0.9;
    let [back, right, up] = axes_of_eye(yaw, pitch);
    let tall = HALF_VIEW.tan() * FILLS;
    let (wide, tall) = (tall * room.aspect * (1.0 - room.left), tall * room.free.max(0.2));
    let far = |point: &Point3<f64>| {
        let off = point - middle;
        off.dot(&back) + (off.dot(&right).abs() / wide).max(off.dot(&up).abs() / tall)
    };
    points.iter().map(far).fold(0.8, f64::max)
}

/// The corners of everything that matters, in the world: the arm at home over the stations, and all but floor and guards.
fn whole(site: &Site, at: &Stance) -> Vec<Point3<f64>> {
    let world_from_base = site.world_from_base(&at.external);
    let foot = Point3::from(world_from_base.translation.vector);
    let mut points = vec![foot, foot + Vector3::z() * 1.2];
    // The foot of an arm on a track, wherever it goes.
    for (axis, of) in site.cell.frames.axes.iter().enumerate() {
        for end in [of.range.min, of.range.max].into_iter().filter(|end| end.is_finite()) {
            let mut external = at.external.clone();
            external[axis] = end;
            points.push(Point3::from(site.world_from_base(&external).translation.vector));
        }
    }
    let forward = site.cell.arm.arm.forward(&at.axes);
    for shape in &site.cell.arm.shapes {
        let place = world_from_base * forward.base_from_link[shape.link] * shape.link_from_shape;
        points.extend(corners_of(&shape.solid).map(|corner| place * corner));
    }
    for shape in &site.cell.shapes {
        let is_wide = matches!(&shape.solid, Solid::Box { half } if shape.role == Role::Surroundings && half.amax() > 0.9);
        if is_wide {
            continue;
        }
        let place = site.cell.frames.world_from(shape.frame, &at.external) * shape.frame_from_shape;
        points.extend(corners_of(&shape.solid).map(|corner| place * corner));
    }
    points
}

/// The corners of the box around points.
fn box_around(points: &[Point3<f64>]) -> [Vector3<f64>; 2] {
    let first = points.first().map_or_else(Vector3::zeros, |point| point.coords);
    points.iter().fold([first; 2], |[low, high], point| [low.inf(&point.coords), high.sup(&point.coords)])
}

/// The eye in Bevy's world.
#[must_use]
pub fn aim(orbit: &Orbit, room: Room) -> Transform {
    let [back, right, up] = axes_of_eye(orbit.yaw, orbit.pitch);
    // What is looked at stands in the middle of what no panel covers.
    let lower = up * (room.covered * orbit.distance * HALF_VIEW.tan());
    let aside = right * (room.left * room.aspect * orbit.distance * HALF_VIEW.tan());
    let target = orbit.target - lower - aside;
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
    task: Res<Task>,
    practice: Option<Res<Practice>>,
    room: Res<Room>,
    mut orbit: ResMut<Orbit>,
    mut last: Local<Option<Option<SeamId>>>,
) {
    let practised = || practice.as_ref()?.goal()?.kind.seam();
    let seam = match *task {
        Task::Learn => practised(),
        Task::Watch | Task::Seam | Task::Hand => chosen.0,
    }
    .or(now.chosen_or_welded);
    let other_seam = match *task {
        Task::Learn => last.is_some_and(|last| last != seam),
        Task::Watch | Task::Seam | Task::Hand => chosen.is_changed(),
    };
    let fresh =
        view.is_changed() || last.is_none() || room.is_changed() || (*view == View::Seam && other_seam);
    *last = Some(seam);
    if fresh {
        *orbit = eye_of(*view, &site, &now, seam, *room);
    } else if matches!(*view, View::Torch | View::Wire) {
        let there = eye_of(*view, &site, &now, seam, *room);
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Each corner as the eye sees it, against the edges of the free field by the camera's own opening angle.
    #[test]
    fn all_corners_are_in_the_free_field_and_fill_it_one_way() {
        let room = Room { free: 0.7, ..Room::default() };
        for [x, y, z] in [[6.0, 0.8, 1.5], [1.0, 1.0, 2.2], [0.9, 5.0, 0.4]] {
            let half = Vector3::new(x, y, z) / 2.0;
            let points: Vec<Point3<f64>> = corners_of(&Solid::Box { half }).collect();
            assert_eq!(points.len(), 8);
            for (yaw, pitch) in [(0.0, 0.16), (0.75, 0.42), (2.1, 0.12), (-1.0, 1.5607)] {
                let (middle, far) = fit(&points, yaw, pitch, room);
                let [back, right, up] = axes_of_eye(yaw, pitch);
                let seen: Vec<[f64; 2]> = points
                    .iter()
                    .map(|point| {
                        let at = point - middle;
                        let depth = far - at.dot(&back);
                        assert!(depth > 0.0);
                        let wide = at.dot(&right) / depth / (HALF_VIEW.tan() * room.aspect);
                        let tall = at.dot(&up) / depth / (HALF_VIEW.tan() * room.free);
                        [wide, tall]
                    })
                    .collect();
                let most = seen.iter().flatten().map(|share| share.abs()).fold(0.0, f64::max);
                assert!((0.89..=0.91).contains(&most), "{x} {y} {z} from {yaw}, {pitch}: {most}");
                for way in 0..2 {
                    let ends = seen.iter().map(|at| at[way]);
                    let (low, high) = (ends.clone().fold(1.0, f64::min), ends.fold(-1.0, f64::max));
                    assert!((low + high).abs() < 0.05, "{x} {y} {z} from {yaw}, {pitch}: {low} to {high}");
                }
            }
        }
    }

    /// From the front the frame of 3.6 m between its stocks fills most of the width, and nothing of it is cut off.
    #[test]
    fn a_long_cell_fills_the_picture() {
        let scenes = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenes");
        let site =
            Site::of(seamwright_sim::cell::read::read_cell(&scenes.join("long-frame/cell.toml")).unwrap());
        let points = whole(&site, &site.at_home());
        let [low, high] = box_around(&points);
        let length = (high - low).xy().amax();
        let front = if high.x - low.x > high.y - low.y { std::f64::consts::FRAC_PI_2 } else { 0.0 };
        let room = Room::default();
        let (_, far) = fit(&points, front, 0.16, room);
        let share = length / 2.0 / far / (HALF_VIEW.tan() * room.aspect);
        assert!(share > 0.7 && share < 1.0, "{share}");
    }
}
