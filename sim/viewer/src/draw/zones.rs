//! Zones: spaces as volumes that one looks through, curtains and gates as planes, their edges as lines, and the space that
//! is passed through in the cycle; shown and hidden together.

use bevy::camera::visibility::RenderLayers;
use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use seamwright_kinematics::Pose;
use seamwright_sim::cell::frames::FrameId;
use seamwright_sim::cell::{Region, Solid, ZoneRole};

use super::paint::Paints;
use super::{OfShow, OfSite, solids};
use crate::logic::{Beside, Now, Wake, ZonesShown};
use crate::place::{bevy_from_world, own};
use crate::show::Show;
use crate::site::Site;

/// Something fixed to a zone.
#[derive(Component)]
pub(super) struct OfZone {
    frame: FrameId,
    frame_from_own: Pose,
}

/// The space that is passed through.
#[derive(Component)]
pub(super) struct Sweep;

pub(super) fn set_up(
    mut commands: Commands,
    site: Res<Site>,
    paints: Res<Paints>,
    mut lines: ResMut<Assets<GizmoAsset>>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    for zone in &site.cell.zones {
        let of_zone = || OfZone { frame: zone.frame, frame_from_own: zone.frame_from_zone };
        let mut edges = GizmoAsset::new();
        for [from, to] in zone.region.edges() {
            edges.line(own(&from), own(&to), zone_colour(zone.role));
        }
        commands.spawn((
            OfSite,
            of_zone(),
            Gizmo {
                handle: lines.add(edges),
                line_config: GizmoLineConfig { width: 1.5, ..default() },
                ..default()
            },
            Transform::default(),
            Visibility::default(),
            RenderLayers::layer(0),
        ));
        let Some((solid, zone_from_solid)) = filled(&zone.region) else { continue };
        commands.spawn((
            OfSite,
            OfZone { frame_from_own: zone.frame_from_zone * zone_from_solid, ..of_zone() },
            Mesh3d(meshes.add(solids::mesh_of(&solid))),
            MeshMaterial3d(if zone.role.is_device() { paints.curtain.clone() } else { paints.space.clone() }),
            Transform::default(),
            Visibility::default(),
            NotShadowCaster,
            NotShadowReceiver,
        ));
    }
}

/// The solid that fills a region; an outline is shown by its edges alone.
fn filled(region: &Region) -> Option<(Solid, Pose)> {
    /// A plane is drawn as thick as this, m.
    const THIN: f64 = 0.002;
    match region {
        Region::Box { half } => Some((Solid::Box { half: *half }, Pose::identity())),
        Region::Cylinder { radius, half_height } => {
            Some((Solid::Cylinder { radius: *radius, half_height: *half_height }, Pose::identity()))
        }
        Region::Field { half_width, height } => {
            let half = nalgebra::Vector3::new(*half_width, THIN, height / 2.0);
            Some((Solid::Box { half }, Pose::translation(0.0, 0.0, height / 2.0)))
        }
        Region::Outline { .. } => None,
    }
}

/// The colour of a zone's edges and of its name.
#[must_use]
pub fn zone_colour(role: ZoneRole) -> Color {
    if role.is_device() { Color::srgb_u8(204, 121, 167) } else { Color::srgb(0.25, 0.32, 0.40) }
}

/// Zones move with what they stand on, and are there when they are to be shown.
pub(super) fn place(
    site: Res<Site>,
    now: Res<Now>,
    shown: Res<ZonesShown>,
    mut zones: Query<(&OfZone, &mut Transform, &mut Visibility, Option<&mut RenderLayers>)>,
) {
    for (of, mut transform, mut visibility, layers) in &mut zones {
        let world_from_frame = site.cell.frames.world_from(of.frame, &now.stance.external);
        let there = bevy_from_world(&(world_from_frame * of.frame_from_own));
        if *transform != there {
            *transform = there;
        }
        let is_shown = *shown != ZonesShown::Nothing;
        visibility.set_if_neq(visible(is_shown));
        // Lines that are kept are drawn whether they are visible or not; only a layer that no camera sees hides them.
        if let Some(mut layers) = layers {
            layers.set_if_neq(if is_shown { RenderLayers::layer(0) } else { RenderLayers::none() });
        }
    }
}

/// The space that is passed through: made when it is to be shown for the first time.
pub(super) fn sweep(
    mut commands: Commands,
    show: Res<Show>,
    shown: Res<ZonesShown>,
    paints: Res<Paints>,
    wake: Res<Wake>,
    mut beside: Local<Option<Beside<()>>>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut sweeps: Query<&mut Visibility, With<Sweep>>,
) {
    let is_shown = *shown == ZonesShown::Sweep;
    for mut visibility in &mut sweeps {
        visibility.set_if_neq(visible(is_shown));
    }
    if !is_shown || !sweeps.is_empty() {
        return;
    }
    if let Some(swept) = show.known_swept() {
        *beside = None;
        commands.spawn((
            OfShow,
            Sweep,
            Mesh3d(meshes.add(solids::smooth_mesh_of(swept))),
            MeshMaterial3d(paints.swept.clone()),
            bevy_from_world(&Pose::identity()),
            Visibility::Visible,
            NotShadowCaster,
            NotShadowReceiver,
        ));
    } else if beside.is_none() || show.is_changed() {
        let show = show.clone();
        *beside = Some(Beside::begin(&wake, move || {
            let _ = show.swept();
        }));
    }
}

fn visible(is_shown: bool) -> Visibility {
    if is_shown { Visibility::Visible } else { Visibility::Hidden }
}
