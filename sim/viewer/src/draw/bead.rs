//! The welded bead: along every weld a row of short bars in one mesh, of which as many are drawn as the arc has passed.

use bevy::light::NotShadowCaster;
use bevy::mesh::MeshTag;
use bevy::prelude::*;
use nalgebra::{Matrix3, Rotation3, UnitQuaternion};
use seamwright_kinematics::Pose;
use seamwright_sim::cell::{SeamId, StationId};

use super::paint::Paints;
use super::{OfShow, solids};
use crate::logic::{Now, Playing, Task};
use crate::place::bevy_from_world;
use crate::show::Show;

/// Length of a bar, m.
const BAR: f64 = 0.006;
/// Radius of a bar, m.
const RADIUS: f64 = 0.003;
/// How far the bar's middle stands out of the root, m.
const OUT: f64 = 0.0015;

/// The bead of a weld.
#[derive(Component)]
pub(super) struct Bead {
    seam: SeamId,
    station: StationId,
    /// When each bar is welded, s of the cycle, in order.
    at: Vec<f64>,
}

pub(super) fn set_up(
    mut commands: Commands,
    show: Res<Show>,
    paints: Res<Paints>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    for weld in show.welds() {
        let seam = &show.cell.seams[weld.seam.0];
        let Some(path) = seam.path.as_ref() else { continue };
        let count = ((weld.to - weld.from) / BAR).round().max(1.0);
        let (places, at): (Vec<Pose>, Vec<f64>) = (0..count as u32)
            .map(|i| {
                let share = (f64::from(i) + 0.5) / count;
                let at = path.at(weld.from + (weld.to - weld.from) * share);
                let out = (at.n1 + at.b).normalize();
                let axes = Matrix3::from_columns(&[out, at.t.cross(&out), at.t]);
                let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(axes));
                let station_from_bar = Pose::from_parts((at.point.coords + out * OUT).into(), turn);
                (station_from_bar, weld.start + (weld.end - weld.start) * share)
            })
            .unzip();
        commands.spawn((
            OfShow,
            Bead { seam: weld.seam, station: seam.station, at },
            Mesh3d(meshes.add(solids::row_of_bars(RADIUS, BAR, &places))),
            MeshMaterial3d(paints.bead.clone()),
            MeshTag(0),
            Transform::default(),
            NotShadowCaster,
        ));
    }
}

/// Shows what has been welded by now and not yet been taken away.
pub(super) fn grow(
    show: Res<Show>,
    task: Res<Task>,
    playing: Res<Playing>,
    now: Res<Now>,
    mut beads: Query<(&Bead, &mut Transform, &mut MeshTag, &mut Visibility)>,
) {
    let watched = matches!(*task, Task::Watch | Task::Seam);
    for (bead, mut transform, mut drawn, mut visibility) in &mut beads {
        // What is there of a weld is there from its start on.
        let welded = |at: &f64| watched && show.is_welded_by(bead.station, *at, playing.time);
        let count = bead.at.partition_point(welded);
        drawn.set_if_neq(MeshTag(count as u32));
        visibility.set_if_neq(if count > 0 { Visibility::Inherited } else { Visibility::Hidden });
        let world_from_station = show.world_from_station(bead.seam, &now.stance.external);
        transform.set_if_neq(bevy_from_world(&world_from_station));
    }
}
