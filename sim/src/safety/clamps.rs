//! Decides whether a clamp that opens between welds comes into a place where a person may stand: no device stops it.
//!
//! As it is led from closed to open in the plan; looked at every 2 mm of its way. How else it may go is not known, nor what it does to people
//! beyond the places.

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use super::bodies::{name_in_cell, rounded_points};
use super::reach::zone_from_world;
use super::upright::Counted;
use crate::cell::{Cell, Zone, ZoneId, ZoneRole};
use crate::plan::{ClampWay, Plan, clamp_ways};

/// The nearest that a clamp which opens comes to a place.
#[derive(Clone, Debug, PartialEq)]
pub struct ClampAtPlace {
    /// The operator place.
    pub place: ZoneId,
    /// The clamp.
    pub clamp: String,
    /// From the place, m; negative in it.
    pub distance: f64,
    /// Where in the world.
    pub point: Point3<f64>,
}

/// Of every operator place, in their order, the clamp that comes nearest as it opens; none where none opens.
#[must_use]
pub fn clamps_at_places(cell: &Cell, plan: &Plan) -> Vec<ClampAtPlace> {
    let ways: Vec<ClampWay<'_>> = plan.visits.iter().flat_map(|visit| clamp_ways(cell, visit)).collect();
    let places = cell.zones.iter().enumerate().filter(|(_, zone)| zone.role == ZoneRole::OperatorPlace);
    let of_place = |(index, zone): (usize, &Zone)| {
        let counted = Counted::new(cell, zone);
        let place_from_world = zone_from_world(cell, zone);
        let all = ways.iter().filter_map(|way| nearest(cell, &counted, &place_from_world, way));
        let (distance, point, clamp) =
            all.reduce(|least, other| if other.0 < least.0 { other } else { least })?;
        Some(ClampAtPlace { place: ZoneId(index), clamp, distance, point })
    };
    places.filter_map(of_place).collect()
}

/// How near a clamp comes on its way, m, where, and what it is called.
fn nearest(
    cell: &Cell,
    counted: &Counted,
    place_from_world: &Pose,
    way: &ClampWay<'_>,
) -> Option<(f64, Point3<f64>, String)> {
    let (points, radius) = rounded_points(&way.clamp.solid);
    let at = |world_from_shape: &Pose| {
        let placed = place_from_world * world_from_shape;
        let placed: Vec<Point3<f64>> = points.iter().map(|point| placed * point).collect();
        counted.nearest(&placed)
    };
    let all = way.world_from_shape.iter().filter_map(at);
    let (distance, point) = all.reduce(|least, other| if other.0 < least.0 { other } else { least })?;
    Some((distance - radius, place_from_world.inverse() * point, name_in_cell(cell, way.clamp)))
}
