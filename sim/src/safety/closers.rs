//! Decides what of a cell closes the way of people.
//!
//! A guard or a solid shape does as far as it reaches from at most 180 mm to at least 1000 mm above the floor (ISO 13857, from memory), but no
//! guard with openings of 180 mm. A field is broken by whoever passes it as far as it reaches from at most 300 mm (crawling under) to at least
//! 900 mm (the highest beam of the lowest grid; both ISO 13855:2010 as Leuze prints it); one that lies no higher than 300 mm, by whoever steps into it. A mesh may
//! have openings, so it is not known what it closes; what axes move closes nothing.

use nalgebra::{Point2, Point3, Vector3};
use seamwright_kinematics::Pose;

use super::bodies::rounded_points;
use super::closing::{ROUNDING, Reaches, closing_part, hull, pieces, upward};
use super::separation::beam_heights;
use super::watch::lowest_and_highest;
use crate::cell::frames::FrameId;
use crate::cell::{Cell, Detection, Presence, Role, Shape, Solid, Zone, ZoneId, ZoneRole};
use crate::units;

/// A narrower opening lets nobody through, mm.
pub(super) const OPENING_MM: f64 = 180.0;
/// What is lower is stepped over, mm.
const LOW_GUARD_MM: f64 = 1000.0;
/// Under a field that begins higher one crawls, mm.
pub(super) const CRAWLING_MM: f64 = 300.0;
/// Over a field that ends lower one steps, mm.
pub(super) const LOW_FIELD_MM: f64 = 900.0;

/// What closes a way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Closer {
    /// A guard.
    Guard(ZoneId),
    /// A solid shape.
    Shape,
    /// A device whose field one breaks on the way.
    Field(ZoneId),
    /// A mesh, of which it is not known.
    Mesh,
}

impl Closer {
    /// Whether it closes a way for whoever breaks none of the fields `closed`.
    pub(super) fn is_there(&self, closed: &[ZoneId]) -> bool {
        match self {
            Self::Guard(_) | Self::Shape => true,
            Self::Field(zone) => closed.contains(zone),
            Self::Mesh => false,
        }
    }
}

/// All that closes a way, as convex pieces seen from above.
pub(super) fn closing(cell: &Cell) -> Vec<(Closer, Vec<Point2<f64>>)> {
    let zones = (0..cell.zones.len()).flat_map(|zone| of_zone(cell, ZoneId(zone)));
    let shapes = cell.shapes.iter().filter(|shape| is_fixed(cell, shape));
    let as_guard = above_floor(cell, OPENING_MM, LOW_GUARD_MM);
    let shapes = shapes.map(|shape| {
        let closer = if is_mesh(shape) { Closer::Mesh } else { Closer::Shape };
        (closer, of_shape(cell, shape, as_guard))
    });
    zones.chain(shapes).filter(|(_, part)| !part.is_empty()).collect()
}

/// What closes a way of a zone that no axis moves.
pub(super) fn of_zone(cell: &Cell, id: ZoneId) -> Vec<(Closer, Vec<Point2<f64>>)> {
    let zone = &cell.zones[id.0];
    let (closer, reaches) = match zone.role {
        _ if !stands(cell, zone.frame) => return Vec::new(),
        ZoneRole::Guard if lets_people_through(zone) => return Vec::new(),
        ZoneRole::Guard => (Closer::Guard(id), Some(above_floor(cell, OPENING_MM, LOW_GUARD_MM))),
        ZoneRole::ScannerField => {
            let low = lowest_and_highest(cell, zone).0 - cell.safeguarding.floor;
            if low > units::mm(CRAWLING_MM) + ROUNDING {
                return Vec::new();
            }
            (Closer::Field(id), None)
        }
        // Hands alone are at a two-hand control.
        role if role.is_device() && role != ZoneRole::TwoHandControl => {
            let Some(between) = kept_between(cell, zone) else { return Vec::new() };
            (Closer::Field(id), Some(between))
        }
        _ => return Vec::new(),
    };
    let pose = world_from_zone(cell, zone);
    let part = |piece: Vec<Point3<f64>>| {
        let points: Vec<Point3<f64>> = piece.iter().map(|point| pose * point).collect();
        match (reaches, upward(&zone.region, &pose)) {
            (Some(reaches), Some(upward)) => closing_part(&points, &upward, reaches),
            (Some(_), None) => Vec::new(),
            (None, _) => hull(points.iter().map(Point3::xy).collect()),
        }
    };
    let parts = pieces(&zone.region).into_iter().map(|piece| (closer, part(piece)));
    parts.filter(|(_, part)| !part.is_empty()).collect()
}

/// What of a shape reaches from low to high.
pub(super) fn of_shape(cell: &Cell, shape: &Shape, reaches: Reaches) -> Vec<Point2<f64>> {
    let pose = cell.frames.world_from(shape.frame, &cell.frames.rest()) * shape.frame_from_shape;
    let (points, radius) = rounded_points(&shape.solid);
    let points: Vec<Point3<f64>> = points.into_iter().map(|point| pose * point).collect();
    closing_part(&with_radius(&points, radius), &most_upright(&pose), reaches)
}

/// Between which heights the field of a device must reach to be broken by whoever goes through: beams no lower and no higher than the standard has them;
/// none of a single one, which is ducked and stepped over.
fn kept_between(cell: &Cell, zone: &Zone) -> Option<Reaches> {
    let floor = cell.safeguarding.floor;
    match zone.device.as_ref()?.detection {
        Detection::Beams(beams) => {
            let [lowest, highest] = beam_heights(beams)?;
            Some(Reaches { down_to: floor + lowest, up_to: floor + highest })
        }
        _ => Some(above_floor(cell, CRAWLING_MM, LOW_FIELD_MM)),
    }
}

fn above_floor(cell: &Cell, down_to_mm: f64, up_to_mm: f64) -> Reaches {
    let floor = cell.safeguarding.floor;
    Reaches { down_to: floor + units::mm(down_to_mm), up_to: floor + units::mm(up_to_mm) }
}

/// `world_from_zone`, external axes at rest.
pub(super) fn world_from_zone(cell: &Cell, zone: &Zone) -> Pose {
    cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone
}

/// Whether no axis moves a frame.
pub(super) fn stands(cell: &Cell, frame: FrameId) -> bool {
    (0..cell.frames.axes.len()).all(|axis| !cell.frames.moves_with(frame, axis))
}

/// Whether a shape is always there, and in one place.
pub(super) fn is_fixed(cell: &Cell, shape: &Shape) -> bool {
    shape.presence == Presence::Always && shape.role != Role::Part && stands(cell, shape.frame)
}

pub(super) fn is_mesh(shape: &Shape) -> bool {
    matches!(shape.solid, Solid::Mesh(_))
}

/// Whether people get through the openings of a guard.
pub(super) fn lets_people_through(zone: &Zone) -> bool {
    let opening = zone.guard.as_ref().and_then(|guard| guard.opening);
    opening.is_some_and(|opening| opening.size >= units::mm(OPENING_MM) - ROUNDING)
}

/// The most upright of the axes of a solid, upward.
fn most_upright(pose: &Pose) -> Vector3<f64> {
    let turn = pose.rotation.to_rotation_matrix();
    let axes = [0, 1, 2].map(|axis| turn.matrix().column(axis).into_owned());
    // Of equals the last: upright solids stand along their own z.
    let upright =
        axes.into_iter().reduce(|most, axis| if axis.z.abs() >= most.z.abs() { axis } else { most });
    let upright = upright.unwrap_or_else(Vector3::z);
    upright * upright.z.signum()
}

/// Points on balls of a radius about some points: above, below and all around.
fn with_radius(points: &[Point3<f64>], radius: f64) -> Vec<Point3<f64>> {
    const AROUND: u32 = 32;
    if radius == 0.0 {
        return points.to_vec();
    }
    let around = (0..AROUND).map(|step| {
        let (sin, cos) = (std::f64::consts::TAU * f64::from(step) / f64::from(AROUND)).sin_cos();
        Vector3::new(cos, sin, 0.0)
    });
    let ways: Vec<Vector3<f64>> = around.chain([Vector3::z(), -Vector3::z()]).collect();
    points.iter().flat_map(|point| ways.iter().map(move |way| point + way * radius)).collect()
}
