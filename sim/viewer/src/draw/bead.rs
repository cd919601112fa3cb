//! The welded bead: short bars along every weld, shown as the arc has passed them.

use bevy::prelude::*;
use nalgebra::{Matrix3, Rotation3, UnitQuaternion};
use seamwright_kinematics::Pose;
use seamwright_sim::cell::StationId;

use super::paint::Paints;
use super::{OfCell, solids};
use crate::logic::{Now, Playing, Task};
use crate::place::bevy_from_world;
use crate::show::Show;

/// Length of a bar, m.
const BAR: f64 = 0.006;
/// Radius of a bar, m.
const RADIUS: f64 = 0.003;
/// How far the bar's middle stands out of the root, m.
const OUT: f64 = 0.0015;

/// A piece of bead.
#[derive(Component)]
pub(super) struct Bead {
    station: StationId,
    station_from_bar: Pose,
    /// When it is welded, s of the cycle.
    at: f64,
}

pub(super) fn set_up(
    mut commands: Commands,
    show: Res<Show>,
    paints: Res<Paints>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    let bar = meshes.add(solids::bar(RADIUS, BAR));
    for weld in show.welds() {
        let Some(path) = show.cell.seams[weld.seam.0].path.as_ref() else { continue };
        let count = ((weld.to - weld.from) / BAR).round().max(1.0);
        for i in 0..count as u32 {
            let share = (f64::from(i) + 0.5) / count;
            let at = path.at(weld.from + (weld.to - weld.from) * share);
            let out = (at.n1 + at.b).normalize();
            let axes = Matrix3::from_columns(&[out, at.t.cross(&out), at.t]);
            let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(axes));
            let station_from_bar = Pose::from_parts((at.point.coords + out * OUT).into(), turn);
            commands.spawn((
                OfCell,
                Bead {
                    station: show.cell.seams[weld.seam.0].station,
                    station_from_bar,
                    at: weld.start + (weld.end - weld.start) * share,
                },
                Mesh3d(bar.clone()),
                MeshMaterial3d(paints.bead.clone()),
                Transform::default(),
                Visibility::Hidden,
            ));
        }
    }
}

/// Shows what has been welded by now and not yet been taken away.
pub(super) fn grow(
    show: Res<Show>,
    task: Res<Task>,
    playing: Res<Playing>,
    now: Res<Now>,
    mut beads: Query<(&Bead, &mut Transform, &mut Visibility)>,
) {
    let stations: Vec<Pose> = show
        .cell
        .stations
        .iter()
        .map(|station| show.cell.frames.world_from(station.frame, &now.stance.external))
        .collect();
    let watched = matches!(*task, Task::Watch | Task::Seam);
    for (bead, mut transform, mut visibility) in &mut beads {
        let there = watched && show.is_welded_by(bead.station, bead.at, playing.time);
        let wanted = if there { Visibility::Visible } else { Visibility::Hidden };
        if *visibility != wanted {
            *visibility = wanted;
        }
        let place = bevy_from_world(&(stations[bead.station.0] * bead.station_from_bar));
        if there && *transform != place {
            *transform = place;
        }
    }
}
