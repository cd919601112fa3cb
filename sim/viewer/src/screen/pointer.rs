//! The mouse over the picture: drag turns the view, right drag shifts it, the wheel comes nearer, a click on a seam looks at it.

use bevy::input::mouse::{AccumulatedMouseMotion, AccumulatedMouseScroll, MouseScrollUnit};
use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition;
use nalgebra::{Point3, Vector3};
use seamwright_sim::cell::SeamId;

use super::Covers;
use crate::draw::Orbit;
use crate::logic::{Ask, Now};
use crate::place;
use crate::show::Show;

/// rad for each pixel of a drag.
const TURN: f64 = 0.006;

/// Share of the distance for each pixel of a shift.
const SHIFT: f64 = 0.0012;

/// A click this near to a seam, px, means it.
const NEAR: f32 = 14.0;

/// What the mouse does since it was pressed.
#[derive(Default)]
pub(super) struct Grip {
    held: bool,
    moved: f32,
}

pub(super) fn look_around(
    mouse: (
        Option<Res<ButtonInput<MouseButton>>>,
        Option<Res<AccumulatedMouseMotion>>,
        Option<Res<AccumulatedMouseScroll>>,
    ),
    covers: Query<(&RelativeCursorPosition, &Node), With<Covers>>,
    windows: Query<&Window>,
    cameras: Query<(&Camera, &Transform), With<Camera3d>>,
    show: Res<Show>,
    now: Option<Res<Now>>,
    mut grip: Local<Grip>,
    mut orbit: ResMut<Orbit>,
    mut asks: MessageWriter<Ask>,
) {
    let (Some(buttons), Some(motion), Some(scroll)) = mouse else { return };
    let covered = covers.iter().any(|(at, node)| at.cursor_over() && node.display != Display::None);
    if buttons.any_just_pressed([MouseButton::Left, MouseButton::Right, MouseButton::Middle]) {
        *grip = Grip { held: !covered, moved: 0.0 };
    }
    if grip.held {
        let delta = motion.delta;
        grip.moved += delta.length();
        let (x, y) = (f64::from(delta.x), f64::from(delta.y));
        if delta != Vec2::ZERO && grip.moved > 3.0 {
            if buttons.pressed(MouseButton::Left) {
                orbit.yaw -= x * TURN;
                orbit.pitch = (orbit.pitch + y * TURN).clamp(-1.5, 1.5607);
                orbit.turned = true;
            } else if buttons.any_pressed([MouseButton::Right, MouseButton::Middle]) {
                let across = Vector3::new(-orbit.yaw.sin(), orbit.yaw.cos(), 0.0);
                let up = Vector3::new(
                    -orbit.pitch.sin() * orbit.yaw.cos(),
                    -orbit.pitch.sin() * orbit.yaw.sin(),
                    orbit.pitch.cos(),
                );
                let step = orbit.distance * SHIFT;
                orbit.target += (up * y - across * x) * step;
                orbit.turned = true;
            }
        }
    }
    if buttons.just_released(MouseButton::Left) && grip.held && grip.moved <= 3.0 {
        let cursor = windows.iter().next().and_then(Window::cursor_position);
        if let (Some(cursor), Some(now), Some((camera, eye))) = (cursor, now, cameras.iter().next())
            && let Some(seam) = seam_at(&show, &now, camera, &GlobalTransform::from(*eye), cursor)
        {
            asks.write(Ask::Seam(seam));
        }
    }
    if !buttons.any_pressed([MouseButton::Left, MouseButton::Right, MouseButton::Middle]) {
        grip.held = false;
    }
    if scroll.delta.y != 0.0 && !covered {
        let lines = match scroll.unit {
            MouseScrollUnit::Line => scroll.delta.y,
            MouseScrollUnit::Pixel => scroll.delta.y / 40.0,
        };
        orbit.distance = (orbit.distance * 0.88_f64.powf(f64::from(lines))).clamp(0.08, 40.0);
        orbit.turned = true;
    }
}

/// The seam whose line passes nearest to the cursor, within a few pixels.
fn seam_at(show: &Show, now: &Now, camera: &Camera, eye: &GlobalTransform, cursor: Vec2) -> Option<SeamId> {
    let mut best = (NEAR, None);
    for (index, seam) in show.cell.seams.iter().enumerate() {
        let Some(path) = &seam.path else { continue };
        let world_from_station = show.world_from_station(SeamId(index), &now.stance.external);
        for s in path.samples(0.0, path.length(), 0.01, 0.1) {
            let at: Point3<f64> = world_from_station * path.at(s).point;
            if let Ok(pixel) = camera.world_to_viewport(eye, place::point(&at)) {
                let far = pixel.distance(cursor);
                if far < best.0 {
                    best = (far, Some(SeamId(index)));
                }
            }
        }
    }
    best.1
}
