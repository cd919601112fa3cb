//! Every solid: what it rides on, whether it is there, whether it is one of two that are too near each other.

use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use seamwright_kinematics::Pose;
use seamwright_sim::cell::frames::FrameId;
use seamwright_sim::cell::{Role, ShapeId, Solid};
use seamwright_sim::plan::Constraint;

use super::paint::{Paint, Paints};
use super::{OfSite, solids};
use crate::logic::{Chosen, Hand, Now, Playing, Task};
use crate::place::bevy_from_world;
use crate::show::Show;
use crate::site::Site;
use seamwright_sim::by_hand::Stop;

/// What a body is fixed to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mount {
    /// A link of the arm, 0 to 6.
    Link(usize),
    /// The flange.
    Flange,
    /// A frame of the cell.
    Frame(FrameId),
}

/// A solid that is drawn.
#[derive(Component, Clone, Debug)]
pub struct Body {
    /// By what it is named where two bodies are too near each other: of a link all its shapes, whatever is drawn of it.
    pub names: Vec<String>,
    mount: Mount,
    mount_from_body: Pose,
    /// The shape of the cell; none of the arm and the torch, which are always there.
    shape: Option<ShapeId>,
    plain: Handle<Paint>,
}

/// The arc and its glow.
#[derive(Component)]
pub(super) struct Arc;

pub(super) fn set_up(
    mut commands: Commands,
    site: Res<Site>,
    paints: Res<Paints>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    let of_link = |link: usize| {
        let shapes = site.cell.arm.shapes.iter().filter(move |shape| shape.link == link);
        shapes.map(|shape| shape.name.clone()).collect()
    };
    let links = site.links.iter().map(|shape| {
        (
            of_link(shape.link),
            Mount::Link(shape.link),
            shape.link_from_shape,
            &shape.solid,
            &paints.links[shape.link % 2],
        )
    });
    let torch = site.cell.torch.shapes.iter().map(|shape| {
        (
            vec![shape.name.clone()],
            Mount::Flange,
            shape.flange_from_shape,
            &shape.solid,
            paints.of_torch(shape.part),
        )
    });
    for (names, mount, mount_from_body, solid, plain) in links.chain(torch) {
        let body = Body { names, mount, mount_from_body, shape: None, plain: plain.clone() };
        commands.spawn((
            OfSite,
            body,
            Mesh3d(meshes.add(solids::mesh_of(solid))),
            MeshMaterial3d(plain.clone()),
            Transform::default(),
            Visibility::default(),
        ));
    }
    for (index, shape) in site.cell.shapes.iter().enumerate() {
        let kind = Kind::of(&shape.solid, shape.role);
        let plain = match kind {
            Kind::Guard => &paints.guard,
            Kind::Floor => &paints.floor,
            Kind::Solid => paints.of_role(shape.role),
        };
        let body = Body {
            names: vec![shape.name.clone()],
            mount: Mount::Frame(shape.frame),
            mount_from_body: shape.frame_from_shape,
            shape: Some(ShapeId(index)),
            plain: plain.clone(),
        };
        let mesh = Mesh3d(meshes.add(solids::mesh_of(&shape.solid)));
        let mut entity = commands.spawn((
            OfSite,
            body,
            mesh,
            MeshMaterial3d(plain.clone()),
            Transform::default(),
            // As it stands before the cycle is known.
            shown(site.is_there(ShapeId(index), true, 0)),
        ));
        if kind == Kind::Guard {
            entity.insert((NotShadowCaster, NotShadowReceiver));
        }
    }
    for (radius, paint) in [(0.004, &paints.arc), (0.016, &paints.glow)] {
        commands.spawn((
            OfSite,
            Arc,
            Mesh3d(meshes.add(solids::ball(radius))),
            MeshMaterial3d(paint.clone()),
            Transform::default(),
            Visibility::Hidden,
            NotShadowCaster,
            NotShadowReceiver,
        ));
    }
}

/// How a shape of the cell is drawn.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Solid,
    /// A thin high panel: one looks through it, as through a welding curtain.
    Guard,
    /// A wide thin slab.
    Floor,
}

impl Kind {
    fn of(solid: &Solid, role: Role) -> Self {
        let Solid::Box { half } = solid else { return Self::Solid };
        if role != Role::Surroundings {
            return Self::Solid;
        }
        if half.z < 0.1 && half.x > 1.0 && half.y > 1.0 {
            return Self::Floor;
        }
        if half.x.min(half.y) < 0.06 && half.z > 0.35 { Self::Guard } else { Self::Solid }
    }
}

/// Puts every body where it stands now.
pub(super) fn place(
    site: Res<Site>,
    now: Res<Now>,
    mut bodies: Query<(&Body, &mut Transform)>,
    mut arcs: Query<(&mut Transform, &mut Visibility), (With<Arc>, Without<Body>)>,
) {
    let world_from_base = site.world_from_base(&now.stance.external);
    let forward = site.cell.arm.arm.forward(&now.stance.axes);
    let frames: Vec<Pose> = (0..site.cell.frames.frames.len())
        .map(|frame| site.cell.frames.world_from(FrameId(frame), &now.stance.external))
        .collect();
    for (body, mut transform) in &mut bodies {
        let world_from_mount = match body.mount {
            Mount::Link(link) => world_from_base * forward.base_from_link[link],
            Mount::Flange => world_from_base * forward.base_from_flange,
            Mount::Frame(FrameId(frame)) => match frames.get(frame) {
                Some(pose) => *pose,
                None => continue,
            },
        };
        let there = bevy_from_world(&(world_from_mount * body.mount_from_body));
        if *transform != there {
            *transform = there;
        }
    }
    for (mut transform, mut visibility) in &mut arcs {
        transform.set_if_neq(bevy_from_world(&now.world_from_tool));
        visibility.set_if_neq(if now.arc { Visibility::Visible } else { Visibility::Hidden });
    }
}

/// Parts and clamps are gone while a person changes them; clamps that open between welds stand as they do by then.
pub(super) fn presence(
    show: Res<Show>,
    task: Res<Task>,
    playing: Res<Playing>,
    chosen: Res<Chosen>,
    hand: Res<Hand>,
    mut bodies: Query<(&Body, &mut Visibility)>,
) {
    for (body, mut visibility) in &mut bodies {
        let Some(shape) = body.shape else { continue };
        let there = match *task {
            Task::Watch => show.is_there_at(shape, playing.time),
            Task::Seam => {
                let openings = chosen.0.map_or(0, |seam| show.openings_for(seam, shape));
                show.is_there(shape, true, openings)
            }
            Task::Hand | Task::Learn => {
                let at_hand = show.cell.shapes[shape.0].station == Some(hand.station);
                show.is_there(shape, true, if at_hand { hand.openings } else { 0 })
            }
        };
        visibility.set_if_neq(shown(there));
    }
}

fn shown(there: bool) -> Visibility {
    if there { Visibility::Inherited } else { Visibility::Hidden }
}

/// Paints the two bodies that are too near each other: those that block the seam that is looked at, or that stopped the hand.
pub(super) fn highlight(
    show: Res<Show>,
    task: Res<Task>,
    chosen: Res<Chosen>,
    hand: Res<Hand>,
    paints: Res<Paints>,
    mut bodies: Query<(&Body, &mut MeshMaterial3d<Paint>)>,
) {
    let mut clash: [Option<&str>; 2] = [None, None];
    match *task {
        Task::Seam => {
            let binding = chosen.0.and_then(|seam| show.checked.plan.seams.get(seam.0)?.binding.as_ref());
            if let Some(Constraint::Clearance(one, other) | Constraint::JointTooTight(one, other)) =
                binding.map(|binding| &binding.constraint)
            {
                clash = [Some(one), Some(other)];
            }
        }
        Task::Hand | Task::Learn => {
            if let Some(Stop::Contact(one, other)) = &hand.stopped {
                clash = [Some(one), Some(other)];
            }
        }
        Task::Watch => {}
    }
    let station = match *task {
        Task::Seam => chosen.0.map(|seam| show.cell.seams[seam.0].station),
        Task::Hand | Task::Learn => Some(hand.station),
        Task::Watch => None,
    };
    let is_named = |body: &Body, name: &str| match (body.shape, station) {
        (Some(shape), Some(station)) => show.cell.shape_name(shape, station) == name,
        _ => body.names.iter().any(|own| own == name),
    };
    for (body, mut material) in &mut bodies {
        let named = clash.iter().position(|name| name.is_some_and(|name| is_named(body, name)));
        let wanted = match named {
            Some(_) if body.plain == paints.guard => &paints.clash_through,
            // The first is the arm's or the torch's; told apart where they overlap.
            Some(0) if body.shape.is_none() => &paints.clash_own,
            Some(_) => &paints.clash,
            None => &body.plain,
        };
        if material.0 != *wanted {
            material.0 = wanted.clone();
        }
    }
}
