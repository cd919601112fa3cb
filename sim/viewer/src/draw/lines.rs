//! Lines: seams with what holds and what does not, blocked places, the tool's axes, other ways of holding a pose.

use bevy::gizmos::config::GizmoLineConfig;
use bevy::gizmos::retained::Gizmo;
use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use nalgebra::{Point3, UnitQuaternion, Vector3};
use seamwright_kinematics::{Pose, units};
use seamwright_sim::cell::{SeamId, Solid};
use seamwright_sim::findings::Place;
use seamwright_sim::plan::Verdict;

use super::paint::{Paints, verdict_colour};
use super::{OfShow, solids};
use crate::logic::{Chosen, Hand, Manner, Now, Practice, Task};
use crate::place::{bevy_from_world, own, point};
use crate::show::Show;
use crate::site::Site;
use seamwright_sim::by_hand::JogFrame;

/// Under the line of a seam where it fails.
const FAILS: Color = Color::srgba(0.80, 0.10, 0.10, 0.55);
/// px.
const FAILING_WIDTH: f32 = 14.0;

/// Something fixed to the station of a seam.
#[derive(Component)]
pub(super) struct AtSeam {
    seam: SeamId,
    station_from_own: Pose,
    width: f32,
}

/// The pieces (m, from where to where) of a seam's line: unbroken holds, dashed was not found, dotted cannot hold.
///
/// Cut from the line itself: a renderer's own dashes begin anew at every corner, and a curve is all corners.
fn pieces(length: f64, verdict: Verdict, unreached: bool) -> Vec<[f64; 2]> {
    let (period, drawn) = match verdict {
        Verdict::Holds if !unreached => return vec![[0.0, length]],
        Verdict::Holds | Verdict::NotFound => ((length / 8.0).clamp(0.02, 0.12), 0.65),
        Verdict::CannotHold | Verdict::NotChecked => ((length / 16.0).clamp(0.01, 0.06), 0.35),
    };
    let count = (length / period).ceil().max(1.0);
    let start = |i: u32| length * f64::from(i) / count;
    (0..count as u32).map(|i| [start(i), start(i) + drawn * length / count]).collect()
}

pub(super) fn set_up(
    mut commands: Commands,
    show: Res<Show>,
    paints: Res<Paints>,
    mut lines: ResMut<Assets<GizmoAsset>>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    let mark = meshes.add(solids::ball(0.012));
    for (index, seam) in show.cell.seams.iter().enumerate() {
        let (Some(path), Some(findings)) = (&seam.path, show.findings_of(SeamId(index))) else { continue };
        let width = if findings.is_welded() { 3.0 } else { 6.0 };
        let mut asset = GizmoAsset::new();
        // A little out of the corner, so that the line is not half inside the plates.
        let out = |s: &f64| {
            let at = path.at(*s);
            own(&(at.point + (at.n1 + at.b).normalize() * 0.001))
        };
        for [from, to] in pieces(path.length(), findings.verdict, findings.unreached) {
            let samples = path.samples(from, to, 0.02, 0.1);
            asset.linestrip(samples.iter().map(out), verdict_colour(findings));
        }
        commands.spawn((
            OfShow,
            AtSeam { seam: SeamId(index), station_from_own: Pose::identity(), width },
            Gizmo {
                handle: lines.add(asset),
                line_config: GizmoLineConfig { width, ..default() },
                depth_bias: -0.01,
            },
            Transform::default(),
        ));
        let mut fails = GizmoAsset::new();
        for stop in &findings.stops {
            if let Place::Seam { from_mm, to_mm, .. } = stop.place {
                let samples = path.samples(units::mm(from_mm), units::mm(to_mm), 0.02, 0.1);
                fails.linestrip(samples.iter().map(out), FAILS);
            }
        }
        if !findings.stops.is_empty() {
            commands.spawn((
                OfShow,
                AtSeam { seam: SeamId(index), station_from_own: Pose::identity(), width: FAILING_WIDTH },
                Gizmo {
                    handle: lines.add(fails),
                    line_config: GizmoLineConfig { width: FAILING_WIDTH, ..default() },
                    depth_bias: -0.005,
                },
                Transform::default(),
            ));
        }
        for stop in &findings.stops {
            let place = Point3::from([stop.x_mm, stop.y_mm, stop.z_mm].map(units::mm));
            commands.spawn((
                OfShow,
                AtSeam {
                    seam: SeamId(index),
                    station_from_own: Pose::from_parts(place.coords.into(), Pose::identity().rotation),
                    width: 0.0,
                },
                Mesh3d(mark.clone()),
                MeshMaterial3d(paints.blocked.clone()),
                Transform::default(),
                NotShadowCaster,
                NotShadowReceiver,
            ));
        }
    }
}

/// Seams turn with their station; the one that is looked at or practised is drawn bolder.
pub(super) fn place(
    show: Res<Show>,
    now: Res<Now>,
    chosen: Res<Chosen>,
    practice: Res<Practice>,
    task: Res<Task>,
    mut marks: Query<(&AtSeam, &mut Transform, Option<&mut Gizmo>)>,
) {
    let meant = match *task {
        Task::Seam => chosen.0,
        Task::Learn => practice.goal().and_then(|goal| goal.kind.seam()),
        Task::Watch | Task::Hand => None,
    };
    for (at, mut transform, gizmo) in &mut marks {
        let world_from_station = show.world_from_station(at.seam, &now.stance.external);
        let there = bevy_from_world(&(world_from_station * at.station_from_own));
        if *transform != there {
            *transform = there;
        }
        if let Some(mut gizmo) = gizmo {
            let width = if meant == Some(at.seam) { at.width + 4.0 } else { at.width };
            if gizmo.line_config.width != width {
                gizmo.line_config.width = width;
            }
        }
    }
}

/// Colours of the arrows along x, y and z.
const ARROWS: [Color; 3] =
    [Color::srgb_u8(213, 94, 0), Color::srgb_u8(0, 114, 178), Color::srgb_u8(30, 30, 30)];

/// Colour of the place that a lesson asks for.
const GOAL: Color = Color::srgb_u8(160, 30, 110);

/// Where the arrows end that stand at the wire end, along x, y and z of the frame in which tool keys move; in the world.
#[must_use]
pub fn arrow_ends(site: &Site, hand: &Hand, now: &Now) -> [Point3<f64>; 3] {
    /// m.
    const LENGTH: f64 = 0.12;
    let frame = match hand.manner {
        Manner::Tool(JogFrame::Tool) => now.world_from_tool.rotation,
        Manner::Tool(JogFrame::Base) => site.world_from_base(&now.stance.external).rotation,
        Manner::Axes | Manner::Tool(JogFrame::World) => UnitQuaternion::identity(),
    };
    let at = Point3::from(now.world_from_tool.translation.vector);
    [Vector3::x(), Vector3::y(), Vector3::z()].map(|axis| at + frame * axis * LENGTH)
}

/// The tool's axes and the other ways while the arm is moved by hand.
pub(super) fn outlines(show: Res<Show>, task: Res<Task>, hand: Res<Hand>, now: Res<Now>, mut gizmos: Gizmos) {
    if !matches!(*task, Task::Hand | Task::Learn) {
        return;
    }
    let at = Point3::from(now.world_from_tool.translation.vector);
    for (end, colour) in arrow_ends(&show, &hand, &now).iter().zip(ARROWS) {
        gizmos.arrow(point(&at), point(end), colour);
    }
    let world_from_base = show.world_from_base(&now.stance.external);
    for way in &hand.others {
        let forward = show.cell.arm.arm.forward(way);
        for shape in &show.cell.arm.shapes {
            let place = world_from_base * forward.base_from_link[shape.link] * shape.link_from_shape;
            outline(&mut gizmos, &place, &shape.solid);
        }
    }
}

/// Three lines that cross where the wire end is to be brought in a lesson, and smaller ones at the places that the learner has marked.
pub(super) fn goal(
    show: Res<Show>,
    task: Res<Task>,
    practice: Res<Practice>,
    now: Res<Now>,
    mut gizmos: Gizmos,
) {
    /// From the place to the end of each line, m.
    const FAR: f64 = 0.03;
    if *task != Task::Learn {
        return;
    }
    let goal = practice.goal().and_then(|goal| goal.kind.place(&show, &now.stance.external));
    let marks = practice.progress.marks.iter();
    let marks = marks.map(|mark| (Point3::from(show.world_from_tool(mark).translation.vector), FAR / 3.0));
    for (at, far) in goal.map(|at| (at, FAR)).into_iter().chain(marks) {
        for axis in [Vector3::x(), Vector3::y(), Vector3::z()] {
            gizmos.line(point(&(at - axis * far)), point(&(at + axis * far)), GOAL);
        }
    }
}

/// Four lines along a round bar and a ring at each end.
fn outline(gizmos: &mut Gizmos, world_from_shape: &Pose, solid: &Solid) {
    let (low, high, half) = match solid {
        Solid::Cylinder { radius, half_height } => (*radius, *radius, *half_height),
        Solid::Capsule { radius, half_length } => (*radius, *radius, *half_length),
        Solid::Frustum { radius_low, radius_high, half_height } => (*radius_low, *radius_high, *half_height),
        Solid::Box { half } => (half.x.min(half.y), half.x.min(half.y), half.z),
        Solid::Sphere { radius } => (*radius, *radius, 0.0),
        Solid::Mesh(_) => return,
    };
    let colour = Color::srgba(0.25, 0.2, 0.45, 0.8);
    let ring = |radius: f64, height: f64| {
        (0..=16).map(move |i| {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / 16.0).sin_cos();
            point(&(world_from_shape * Point3::new(radius * cos, radius * sin, height)))
        })
    };
    gizmos.linestrip(ring(low, -half), colour);
    gizmos.linestrip(ring(high, half), colour);
    for (from, to) in ring(low, -half).zip(ring(high, half)).step_by(4) {
        gizmos.line(from, to, colour);
    }
}
