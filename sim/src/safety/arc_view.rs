//! Decides from which operator places an arc can be seen: whether anything stands on the straight line from it to a person's eyes.
//!
//! Looked at from places all along each weld to eyes over the place, sitting to standing, whatever height it is drawn with (1.1 m to 1.8 m above
//! the floor, and above the place's own lowest point where that is higher; common practice, no source). What stands between counts
//! as closed, whatever it is made of; arm and torch are not counted, nor is what is loaded on other stations, which comes and goes.
//! Reflected rays are not looked at.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::extent::{corners, signed_distance};
use crate::cell::{Cell, Presence, Role, SeamId, Shape, ShapeId, Solid, Zone, ZoneId, ZoneRole, pose_along};
use crate::plan::clearance::Still;
use crate::schedule::{EventKind, PathRow};
use crate::units;

/// Heights of eyes above the floor, m.
const EYES: [f64; 3] = [1.1, 1.5, 1.8];
/// Eyes along each side of a place.
const ACROSS: u32 = 4;
/// Layers of a place in which an eye may lie, seen from above.
const LAYERS: u32 = 4;
/// Along a weld it is looked every so many millimetres, and at both ends.
const ALONG_MM: f64 = 25.0;
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
pub fn arc_views(cell: &Cell, path: &[PathRow]) -> Vec<ArcView> {
    let places = cell.zones.iter().enumerate().filter(|(_, zone)| zone.role == ZoneRole::OperatorPlace);
    let mut places = places.peekable();
    if places.peek().is_none() {
        return Vec::new();
    }
    let arcs = arcs(path);
    places
        .map(|(index, zone)| {
            let is_seen = |rows: &[&PathRow]| rows.iter().any(|row| is_seen(cell, zone, row));
            let seen: Vec<Option<SeamId>> =
                arcs.par_iter().map(|(seam, rows)| is_seen(rows).then_some(*seam)).collect();
            let seen = seen.into_iter().flatten().collect();
            ArcView { place: ZoneId(index), seen, looked_at: arcs.len() }
        })
        .collect()
}

/// Places all along every weld that was planned.
fn arcs(path: &[PathRow]) -> BTreeMap<SeamId, Vec<&PathRow>> {
    let mut arcs: BTreeMap<SeamId, Vec<&PathRow>> = BTreeMap::new();
    for pair in path.windows(2) {
        let [row, next] = [&pair[0], &pair[1]];
        let Some(seam) = row.seam.filter(|_| row.phase == EventKind::Weld) else { continue };
        let kept = arcs.entry(seam).or_default();
        let apart = |last: &&PathRow| {
            let at = |row: &PathRow| row.world_from_wire_end.translation.vector;
            (at(row) - at(last)).norm() >= units::mm(ALONG_MM)
        };
        if next.phase != EventKind::Weld || kept.last().is_none_or(apart) {
            kept.push(row);
        }
    }
    arcs
}

/// Whether the arc is seen from somewhere in a place.
fn is_seen(cell: &Cell, zone: &Zone, row: &PathRow) -> bool {
    let world_from = |frame| cell.frames.world_from(frame, &row.external);
    let arc = row.world_from_wire_end * Point3::origin();
    let is_there = |(index, shape): &(usize, &Shape)| match shape.station {
        None => true,
        Some(at) if at == row.station => cell.stations[at.0].has_there(ShapeId(*index), shape.presence, 0),
        // It is being loaded.
        Some(_) => shape.role != Role::Part && shape.presence == Presence::Always,
    };
    let shapes = cell.shapes.iter().enumerate().filter(is_there);
    let shapes = shapes.map(|(_, shape)| (&shape.solid, world_from(shape.frame) * shape.frame_from_shape));
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
        let line = Solid::Capsule { radius: THIN, half_length };
        let pose = pose_along(&nalgebra::center(&from, &eye), &sight);
        standing.distance(&Still::new([(&line, pose)]), THIN).is_none_or(|distance| distance > 0.0)
    })
}

/// Eyes over a place, in the world: on a grid over it and above its corners and its middle.
fn eyes(cell: &Cell, zone: &Zone, world_from_zone: &Pose) -> Vec<Point3<f64>> {
    let own: Vec<Point3<f64>> = corners(&zone.region);
    let Some(first) = own.first() else { return Vec::new() };
    let count = own.len() as f64;
    let middle = Point3::from(own.iter().fold(Vector3::zeros(), |sum, corner| sum + corner.coords) / count);
    let fold = |of: fn(f64, f64) -> f64| {
        own.iter().fold(*first, |kept, corner| Point3::from(kept.coords.zip_map(&corner.coords, of)))
    };
    let (low, high) = (fold(f64::min), fold(f64::max));
    let between =
        |low: f64, high: f64, step: u32, steps: u32| low + (high - low) * f64::from(step) / f64::from(steps);
    let layers = (0..=LAYERS).map(|z| between(low.z, high.z, z, LAYERS));
    let grid = layers.flat_map(|z| (0..=ACROSS).flat_map(move |x| (0..=ACROSS).map(move |y| (x, y, z))));
    let grid = grid
        .map(|(x, y, z)| Point3::new(between(low.x, high.x, x, ACROSS), between(low.y, high.y, y, ACROSS), z))
        .filter(|point| signed_distance(&zone.region, point) <= 1e-9);
    let stands: Vec<Point3<f64>> =
        grid.chain(own.iter().copied()).chain([middle]).map(|point| world_from_zone * point).collect();
    let floor = cell.safeguarding.floor;
    let platform = stands.iter().map(|point| point.z).fold(f64::INFINITY, f64::min).max(floor);
    let mut heights: Vec<f64> =
        [floor, platform].into_iter().flat_map(|base| EYES.map(|eye| base + eye)).collect();
    heights.dedup();
    let mut eyes: Vec<Point3<f64>> = Vec::new();
    for point in stands {
        for height in &heights {
            let eye = Point3::new(point.x, point.y, *height);
            if !eyes.iter().any(|other| (other - eye).norm() < 1e-3) {
                eyes.push(eye);
            }
        }
    }
    eyes
}
