//! Decides whether a zone stands upright, and how far up and down it counts: a person stands up from a place that is drawn flat, and
//! under a space that stands on the floor nothing moves.

use nalgebra::{Point3, Vector3};

use super::depth::Deep;
use super::extent::corners;
use super::watch::lowest_and_highest;
use crate::cell::{Cell, Region, Zone, ZoneRole};
use crate::units;

/// How high a person is at least, mm: common practice, no source.
const PERSON_MM: f64 = 2000.0;
/// A zone that leans by no more is upright, degrees: common practice, no source.
pub const LEANS_DEG: f64 = 5.0;
/// A space whose bottom is no higher stands on the floor, mm.
const ON_THE_FLOOR_MM: f64 = 1.0;
/// How far below the floor such a space is taken to go on, m: deeper than any arm reaches.
const DEEP: f64 = 20.0;

/// The extent of a zone as far as it counts, in the zone's frame.
#[derive(Clone, Debug)]
pub struct Counted {
    region: Region,
    deep: Deep,
    /// How far its frame is above that of the zone, along z, m.
    raised: f64,
}

impl Counted {
    /// Of a place as high as a person who stands in it; of a space on the floor without its bottom; of all else as it is drawn.
    #[must_use]
    pub fn new(cell: &Cell, zone: &Zone) -> Self {
        let (low, high) = lowest_and_highest(cell, zone);
        let is_on_floor = low - cell.safeguarding.floor <= units::mm(ON_THE_FLOOR_MM);
        let upward = upward(cell, zone, Vector3::z());
        let (down, up) = match zone.role {
            _ if upward.abs() < units::deg(LEANS_DEG).cos() => (0.0, 0.0),
            ZoneRole::OperatorPlace => (0.0, (units::mm(PERSON_MM) - (high - low)).max(0.0)),
            role if role.is_space() && is_on_floor => (DEEP, 0.0),
            _ => (0.0, 0.0),
        };
        let (down, up) = if upward < 0.0 { (up, down) } else { (down, up) };
        let longer = 0.5 * (down + up);
        let (region, raised) = match &zone.region {
            Region::Box { half } => {
                (Region::Box { half: Vector3::new(half.x, half.y, half.z + longer) }, 0.5 * (up - down))
            }
            Region::Cylinder { radius, half_height } => {
                (Region::Cylinder { radius: *radius, half_height: half_height + longer }, 0.5 * (up - down))
            }
            Region::Outline { corners, height } => {
                (Region::Outline { corners: corners.clone(), height: height + down + up }, -down)
            }
            Region::Field { half_width, height } => {
                (Region::Field { half_width: *half_width, height: height + down + up }, -down)
            }
        };
        Self { deep: Deep::new(&region), region, raised }
    }

    /// Signed distance of a point in the zone's frame, m: how far outside, or minus how deep inside.
    #[must_use]
    pub fn signed_distance(&self, point: &Point3<f64>) -> f64 {
        self.deep.of_point(&Point3::new(point.x, point.y, point.z - self.raised))
    }

    /// The least signed distance of anything in the hull of some points in the zone's frame, m, and where that is; none without points.
    #[must_use]
    pub fn nearest(&self, points: &[Point3<f64>]) -> Option<(f64, Point3<f64>)> {
        let raised = Vector3::new(0.0, 0.0, self.raised);
        let lowered: Vec<Point3<f64>> = points.iter().map(|point| point - raised).collect();
        let (distance, point) = self.deep.least(&lowered)?;
        Some((distance, point + raised))
    }

    /// No more than the signed distance of any point in the hull of balls of `radius` about some points in the zone's frame, m, as far as boxes
    /// about both tell it.
    #[must_use]
    pub fn least(&self, points: &[Point3<f64>], radius: f64) -> f64 {
        if let [point] = points {
            return self.signed_distance(point) - radius;
        }
        let about = |points: &mut dyn Iterator<Item = Point3<f64>>| {
            let none = (Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY));
            points.fold(none, |(low, high), point| (low.inf(&point.coords), high.sup(&point.coords)))
        };
        let (low, high) = about(&mut points.iter().copied());
        let raised = Vector3::new(0.0, 0.0, self.raised);
        let (own_low, own_high) = about(&mut corners(&self.region).into_iter().map(|point| point + raised));
        let apart = (low - own_high).sup(&(own_low - high)).map(|apart| apart.max(0.0)).norm();
        if apart > 0.0 { apart - radius } else { f64::NEG_INFINITY }
    }
}

/// Whether a zone stands askew: a field out of the vertical, a volume with none of its sides level.
#[must_use]
pub fn leans(cell: &Cell, zone: &Zone) -> bool {
    let upward = |axis: Vector3<f64>| upward(cell, zone, axis).abs();
    let most = match zone.region {
        Region::Box { .. } => {
            [Vector3::x(), Vector3::y(), Vector3::z()].map(upward).into_iter().fold(0.0, f64::max)
        }
        _ => upward(Vector3::z()),
    };
    most < units::deg(LEANS_DEG).cos()
}

/// How much of a direction in the frame of a zone goes up, at rest.
fn upward(cell: &Cell, zone: &Zone, axis: Vector3<f64>) -> f64 {
    let world_from_zone = cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone;
    (world_from_zone.rotation * axis).z
}
