//! Decides which ends of a flat guard are ends: not one that meets another guard, a solid as high, or a field that always stops everything.

use nalgebra::{Point2, Point3};

use super::closers::{Closer, closing, is_fixed, is_mesh, of_shape, of_zone, stands, world_from_zone};
use super::closing::{ROUNDING, Reaches};
use super::enclosure::distance;
use super::watch::lower_and_upper_edge;
use crate::cell::{Active, Cell, Region, Zone, ZoneId, ZoneRole};
use crate::units;

/// Nothing of a hand gets through a narrower slot, mm: ISO 13857, from memory.
const CLOSED_MM: f64 = 4.0;

/// Where along its x the ends of a flat guard are around which an arm may reach, m.
#[must_use]
pub(super) fn open_ends(cell: &Cell, zone: &Zone) -> Vec<f64> {
    let Region::Field { half_width, .. } = zone.region else { return Vec::new() };
    let own = cell.zones.iter().position(|other| std::ptr::eq(other, zone)).map(ZoneId);
    let ends = [-half_width, half_width].into_iter();
    if zone.role != ZoneRole::Guard || !stands(cell, zone.frame) {
        return ends.collect();
    }
    let (down_to, up_to) = lower_and_upper_edge(cell, zone);
    let solids = cell.shapes.iter().filter(|shape| is_fixed(cell, shape) && !is_mesh(shape));
    let solids = solids.map(|shape| of_shape(cell, shape, Reaches { down_to, up_to }));
    let meets = |closer: &Closer| match closer {
        Closer::Guard(other) => Some(*other) != own,
        Closer::Field(device) => always_stops_all(cell, &cell.zones[device.0]),
        Closer::Shape | Closer::Mesh => false,
    };
    let zones = closing(cell).into_iter().filter(|(closer, _)| meets(closer)).map(|(_, piece)| piece);
    let pieces: Vec<Vec<Point2<f64>>> = zones.chain(solids).collect();
    let pose = world_from_zone(cell, zone);
    let meets_none = |end: &f64| {
        let end = (pose * Point3::new(*end, 0.0, 0.0)).xy();
        pieces.iter().all(|piece| distance(piece, &end) > units::mm(CLOSED_MM) + ROUNDING)
    };
    // Of one that closes no way itself people may go past as well.
    let closes = own.is_some_and(|own| !of_zone(cell, own).is_empty());
    ends.filter(|end| !closes || meets_none(end)).collect()
}

fn always_stops_all(cell: &Cell, zone: &Zone) -> bool {
    zone.device.as_ref().is_some_and(|device| {
        device.active == Active::Always
            && device.response.is_some()
            && device.stops_arm
            && (0..cell.frames.axes.len()).all(|axis| device.stops_axes.contains(&axis))
    })
}
