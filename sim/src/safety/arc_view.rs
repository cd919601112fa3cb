//! Decides from which operator places an arc can be seen: whether anything stands on the straight line from it to a person's eyes.
//!
//! Looked at from the middle of each weld of the schedule to eyes on a grid over the place, 1.1 m to 1.8 m above the floor (sitting to
//! standing; common practice, no source). What stands between counts as closed, whatever it is made of; arm and torch are not
//! counted. Reflected rays are not looked at.

use nalgebra::{Point3, UnitQuaternion, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::extent::{corners, signed_distance};
use super::instants::Instant;
use crate::cell::{Cell, SeamId, Solid, Zone, ZoneId, ZoneRole};
use crate::plan::clearance::Still;
use crate::schedule::{EventKind, Schedule};

/// Heights of eyes above the floor, m.
const EYES: [f64; 3] = [1.1, 1.5, 1.8];
/// Eyes along each side of a place.
const ACROSS: u32 = 4;
/// Half the thickness of a line of sight, m.
const THIN: f64 = 1e-4;
/// A line of sight begins so far from the arc, m: the arc touches the parts.
const FROM_ARC: f64 = 0.02;

/// What of the arc is seen from a place.
#[derive(Clone, Debug, PartialEq)]
pub struct ArcView {
    /// The operator place.
    pub place: ZoneId,
    /// Seams whose arc is seen from somewhere in it.
    pub seen: Vec<SeamId>,
    /// Seams that were looked at.
    pub looked_at: usize,
}

/// From every operator place.
#[must_use]
pub fn arc_views(cell: &Cell, schedule: &Schedule) -> Vec<ArcView> {
    let places = cell.zones.iter().enumerate().filter(|(_, zone)| zone.role == ZoneRole::OperatorPlace);
    let mut places = places.peekable();
    if places.peek().is_none() {
        return Vec::new();
    }
    let arcs = arcs(schedule);
    places
        .map(|(index, zone)| {
            let seen: Vec<Option<SeamId>> = arcs
                .par_iter()
                .map(|(seam, instant)| is_seen(cell, zone, instant).then_some(*seam))
                .collect();
            let mut seams: Vec<SeamId> = arcs.iter().map(|(seam, _)| *seam).collect();
            let mut seen: Vec<SeamId> = seen.into_iter().flatten().collect();
            for list in [&mut seams, &mut seen] {
                list.sort();
                list.dedup();
            }
            ArcView { place: ZoneId(index), seen, looked_at: seams.len() }
        })
        .collect()
}

/// The middle of every weld that was planned.
fn arcs(schedule: &Schedule) -> Vec<(SeamId, Instant)> {
    let visits = schedule.visits.iter().zip(schedule.round());
    visits
        .flat_map(|(visit, start)| visit.events.iter().map(move |event| (event, start)))
        .filter(|(event, _)| event.kind == EventKind::Weld)
        .filter_map(|(event, start)| {
            let middle = start + event.start + event.duration / 2.0;
            Some((event.seam?, Instant::at(schedule, middle)?))
        })
        .collect()
}

/// Whether the arc is seen from somewhere in a place.
fn is_seen(cell: &Cell, zone: &Zone, instant: &Instant) -> bool {
    let stance = &instant.motion.stance;
    let world_from = |frame| cell.frames.world_from(frame, &stance.external);
    let world_from_tool = world_from(cell.arm.frame)
        * cell.arm.frame_from_base
        * cell.arm.arm.base_from_flange(&stance.axes)
        * cell.torch.flange_from_tool;
    let arc = world_from_tool * Point3::origin();
    let shapes =
        cell.shapes.iter().map(|shape| (&shape.solid, world_from(shape.frame) * shape.frame_from_shape));
    let standing = Still::new(shapes);
    let world_from_zone = world_from(zone.frame) * zone.frame_from_zone;
    eyes(cell, zone, &world_from_zone).into_iter().any(|eye| {
        let sight = eye - arc;
        let length = sight.norm();
        if length <= 2.0 * FROM_ARC {
            return true;
        }
        let from = arc + sight * (FROM_ARC / length);
        let half_length = (length - FROM_ARC) / 2.0;
        let rotation = UnitQuaternion::rotation_between(&Vector3::z(), &sight)
            .unwrap_or_else(|| UnitQuaternion::from_axis_angle(&Vector3::x_axis(), std::f64::consts::PI));
        let line = Solid::Capsule { radius: THIN, half_length };
        let pose = Pose::from_parts(nalgebra::center(&from, &eye).coords.into(), rotation);
        standing.distance(&Still::new([(&line, pose)]), THIN).is_none_or(|distance| distance > 0.0)
    })
}

/// Eyes over a place, in the world.
fn eyes(cell: &Cell, zone: &Zone, world_from_zone: &Pose) -> Vec<Point3<f64>> {
    let own: Vec<Point3<f64>> =
        corners(&zone.region).into_iter().map(|corner| world_from_zone * corner).collect();
    let Some(first) = own.first() else { return Vec::new() };
    let fold = |of: fn(f64, f64) -> f64| {
        own.iter().fold(*first, |kept, corner| Point3::from(kept.coords.zip_map(&corner.coords, of)))
    };
    let (low, high) = (fold(f64::min), fold(f64::max));
    let between = |low: f64, high: f64, step: u32| low + (high - low) * f64::from(step) / f64::from(ACROSS);
    let zone_from_world = world_from_zone.inverse();
    let grid = (0..=ACROSS).flat_map(|x| (0..=ACROSS).map(move |y| (x, y)));
    grid.flat_map(|(x, y)| EYES.map(|z| (x, y, z)))
        .map(|(x, y, z)| {
            let height = cell.safeguarding.floor + z;
            Point3::new(between(low.x, high.x, x), between(low.y, high.y, y), height)
        })
        .filter(|eye| signed_distance(&zone.region, &(zone_from_world * eye)) <= 1e-9)
        .collect()
}
