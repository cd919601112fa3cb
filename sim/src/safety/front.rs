//! Decides how far something is behind the side of a device or guard from which people come.
//!
//! Into a field that lies somebody steps over any of its sides: those that they meet who walk the way that is stated, and, where all guards are
//! known to be drawn, every other one that nothing closes. From whichever of them is nearest the distance counts, in whatever direction.

use nalgebra::{Point2, Point3, Vector2, Vector3};

use super::closers::world_from_zone;
use super::closing::{ROUNDING, hull, kept_by};
use super::depth::Deep;
use super::enclosure::{distance, nearest};
use super::extent::corners;
use super::floor_plan::FloorPlan;
use super::seen::along_edges;
use crate::cell::{Active, Cell, Region, Zone, ZoneId, ZoneRole};
use crate::units;

/// A side along which people walk is not stepped over where it turns toward them by no more, degrees.
const ALONG_DEG: f64 = 0.1;
/// Sides are looked at in pieces no longer than this, mm: finer than what anybody gets through.
const PIECE_MM: f64 = 50.0;

/// The side of a zone from which people come, as something whose distance to points can be told.
#[derive(Clone, Debug)]
pub enum Front {
    /// A flat field: half of its width along x; people come along +y.
    Upright {
        /// Half of its width, m.
        half_width: f64,
    },
    /// The sides of a field that lies over which people step into it.
    Entered(Entered),
    /// All round where the hands of a two-hand control are.
    Around(Deep),
}

/// A field that lies, seen from above, and where people step into it.
#[derive(Clone, Debug)]
pub struct Entered {
    /// The world's x and y in the zone's frame, external axes at rest.
    flat: [Vector3<f64>; 2],
    /// Its corners, counter-clockwise.
    outline: Vec<Point2<f64>>,
    /// Stretches of its sides, each in the sense of the outline.
    sides: Vec<[Point2<f64>; 2]>,
    /// Whether that is the whole of one side of an outline without a notch.
    is_one_side: bool,
}

impl Front {
    /// Of a device or guard by what is stated of it; none of a volume that nobody walks into.
    #[must_use]
    pub fn of(cell: &Cell, zone: &Zone) -> Option<Self> {
        if let Region::Field { half_width, .. } = zone.region {
            return Some(Self::Upright { half_width });
        }
        if zone.role == ZoneRole::TwoHandControl {
            return Some(Self::Around(Deep::new(&zone.region)));
        }
        zone.device.as_ref()?.into?;
        Some(Self::Entered(Entered::new(cell, zone, |_, _| false)))
    }

    /// The same with the sides of a field that lies over which somebody from outside can step, past guards and solids as they are drawn; where a
    /// safeguarded space is stated, so that all guards are known to be.
    #[must_use]
    pub fn in_cell(cell: &Cell, zone: &Zone) -> Option<Self> {
        let front = Self::of(cell, zone)?;
        if !matches!(front, Self::Entered(_)) || !are_guards_known(cell) {
            return Some(front);
        }
        let id = ZoneId(cell.zones.iter().position(|other| std::ptr::eq(other, zone))?);
        let plan = FloorPlan::new(cell);
        let closed: Vec<ZoneId> = (0..cell.zones.len())
            .map(ZoneId)
            .filter(|other| *other == id || stops_as_much(cell, *other, zone))
            .collect();
        let walked = plan.surely_from_outside(&closed);
        let place = world_from_zone(cell, zone).translation.vector.xy();
        let is_open = |point: &Point2<f64>, out: &Vector2<f64>| {
            plan.is_stepped_over(&walked, (id, &closed), &(point + place), out)
        };
        Some(Self::Entered(Entered::new(cell, zone, is_open)))
    }

    /// How far the hull of balls of `radius` about `points` is behind it, m; negative where it passes it. All in the zone's frame.
    ///
    /// Never more than it really is. None where the hull is beside an upright field and nothing of it behind that.
    #[must_use]
    pub fn distance(&self, points: &[Point3<f64>], radius: f64) -> Option<f64> {
        match self {
            Self::Around(hands) => Some(hands.least(points)?.0 - radius),
            Self::Entered(entered) => Some(entered.distance(points)? - radius),
            Self::Upright { half_width } => behind_a_field(*half_width, points, radius),
        }
    }

    /// How far one point is behind the line of an upright field, or as [`Self::distance`] has it, m.
    pub(super) fn behind(&self, point: &Point3<f64>) -> f64 {
        match self {
            Self::Upright { .. } => point.y,
            Self::Entered(entered) => {
                entered.seen(&[*point]).first().map_or(0.0, |seen| entered.signed(seen))
            }
            Self::Around(hands) => hands.of_point(point),
        }
    }

    /// No more than [`Self::distance`] of anything that lies in the hull of balls of `radius` about `points`.
    #[must_use]
    pub fn least(&self, points: &[Point3<f64>], radius: f64) -> f64 {
        match self {
            Self::Around(_) => self.distance(points, radius).unwrap_or(f64::INFINITY),
            Self::Entered(entered) => entered.least(points, radius),
            Self::Upright { half_width } => match beside_and_behind(*half_width, points, radius) {
                Some([0.0, behind]) => behind,
                Some([beside, behind]) => beside.hypot(behind.max(0.0)),
                None => f64::INFINITY,
            },
        }
    }
}

/// Whether all guards of a cell are known to be drawn: its safeguarded space is stated.
#[must_use]
pub fn are_guards_known(cell: &Cell) -> bool {
    cell.zones.iter().any(|zone| zone.role == ZoneRole::SafeguardedSpace)
}

/// Whether another device always stops all that the device of `zone` does, so that who comes through its field into that one stops it before.
fn stops_as_much(cell: &Cell, other: ZoneId, zone: &Zone) -> bool {
    let devices = cell.zones[other.0].device.as_ref().zip(zone.device.as_ref());
    devices.is_some_and(|(other, own)| {
        other.active == Active::Always
            && other.response.is_some()
            && (other.stops_arm || !own.stops_arm)
            && own.stops_axes.iter().all(|axis| other.stops_axes.contains(axis))
    })
}

impl Entered {
    /// With the stretches of its sides that people meet who walk the way that is stated, and those that are open by a place and the direction
    /// out of the field there, both as the world has them but for the place of the zone.
    fn new(cell: &Cell, zone: &Zone, is_open: impl Fn(&Point2<f64>, &Vector2<f64>) -> bool) -> Self {
        let turn = world_from_zone(cell, zone).rotation.inverse();
        let flat = [turn * Vector3::x(), turn * Vector3::y()];
        let seen = |direction: &Vector3<f64>| Vector2::new(flat[0].dot(direction), flat[1].dot(direction));
        let into = zone.device.as_ref().and_then(|device| device.into);
        let into = into.and_then(|into| seen(&into).try_normalize(1e-6)).unwrap_or_default();
        let outline = outline(&zone.region, &(turn * Vector3::z()), &into, &seen);
        let all: Vec<[Point2<f64>; 2]> =
            (0..outline.len()).map(|at| [outline[at], outline[(at + 1) % outline.len()]]).collect();
        let is_met = |point: &Point2<f64>, out: &Vector2<f64>| {
            // From so far off that all of the outline lies between.
            let from =
                point - into * outline.iter().map(|corner| (corner - point).norm()).fold(1.0, f64::max) * 2.0;
            let before = point + out * units::mm(0.01);
            out.dot(&into) < -units::deg(ALONG_DEG).sin()
                && all.iter().all(|side| nearest(side, &[from, before]).is_none_or(|(apart, _)| apart > 0.0))
        };
        let mut sides = Vec::new();
        for [a, b] in &all {
            let along = b - a;
            let Some(way) = along.try_normalize(1e-9) else { continue };
            let out = Vector2::new(way.y, -way.x);
            let pieces = (along.norm() / units::mm(PIECE_MM)).ceil().clamp(1.0, 2000.0) as u32;
            let at = |step: u32| a + along * (f64::from(step) / f64::from(pieces));
            let mut from = None;
            for piece in 0..=pieces {
                let middle = nalgebra::center(&at(piece), &at(piece + 1));
                let is_side = piece < pieces && (is_met(&middle, &out) || is_open(&middle, &out));
                match (from, is_side) {
                    (None, true) => from = Some(piece),
                    (Some(first), false) => {
                        sides.push([at(first), at(piece)]);
                        from = None;
                    }
                    _ => {}
                }
            }
        }
        let is_whole = |side: &[Point2<f64>; 2]| {
            let is_inside = |corner: &Point2<f64>| beyond(side, corner) <= ROUNDING;
            let is_corner =
                |end: &Point2<f64>| outline.iter().any(|corner| (corner - end).norm() <= ROUNDING);
            outline.iter().all(is_inside) && side.iter().all(is_corner)
        };
        let is_one_side =
            sides.len() == 1 && sides.iter().all(is_whole) && hull(outline.clone()).len() == outline.len();
        Self { flat, outline, sides, is_one_side }
    }

    fn seen(&self, points: &[Point3<f64>]) -> Vec<Point2<f64>> {
        let [x, y] = &self.flat;
        points.iter().map(|point| Point2::new(x.dot(&point.coords), y.dot(&point.coords))).collect()
    }

    /// How far the hull of some points is from where people step in; negative where it comes to them before they do.
    fn distance(&self, points: &[Point3<f64>]) -> Option<f64> {
        let seen = self.seen(points);
        if seen.is_empty() {
            return None;
        }
        if !self.may_pass(&seen, 0.0) {
            return Some(self.apart(&hull(seen)));
        }
        let polygon = hull(seen);
        // What is beyond one whole side is farthest from it at a corner; from the nearest of several it may be anywhere.
        let corners = self.sides.iter().flat_map(|side| kept_by(&polygon, |point| beyond(side, point)));
        let edges = if self.is_one_side { Vec::new() } else { self.seen(&along_edges(points)) };
        let is_beyond = |point: &Point2<f64>| self.sides.iter().any(|side| beyond(side, point) > 0.0);
        let passing = corners.chain(edges).filter(is_beyond).map(|point| self.signed(&point));
        let least = passing.fold(f64::INFINITY, f64::min);
        Some(if least < 0.0 { least } else { self.apart(&polygon) })
    }

    fn least(&self, points: &[Point3<f64>], radius: f64) -> f64 {
        let seen = self.seen(points);
        let passes = self.may_pass(&seen, radius);
        let polygon = hull(seen);
        let apart = self.apart(&polygon) - radius;
        if !passes {
            return apart;
        }
        let farthest = self.sides.iter().flat_map(|side| {
            let near = kept_by(&polygon, |point| beyond(side, point) + radius).into_iter();
            near.map(|point| distance(side, &point))
        });
        apart.min(-farthest.fold(0.0, f64::max) - radius)
    }

    /// Whether anything in the hull of balls of `radius` about some points may be at people before they step in.
    fn may_pass(&self, seen: &[Point2<f64>], radius: f64) -> bool {
        self.sides.iter().any(|side| seen.iter().any(|point| beyond(side, point) > -radius))
    }

    /// How far a convex polygon is from the nearest of the sides over which people step, m.
    fn apart(&self, polygon: &[Point2<f64>]) -> f64 {
        let apart = self.sides.iter().filter_map(|side| Some(nearest(polygon, side)?.0));
        apart.fold(f64::INFINITY, f64::min)
    }

    /// How far a point is from there; negative where people are at it before they step in: beyond such a side, and to no other nearer.
    fn signed(&self, point: &Point2<f64>) -> f64 {
        let apart = self.sides.iter().map(|side| distance(side, point)).fold(f64::INFINITY, f64::min);
        let is_near = |side: &[Point2<f64>; 2]| distance(side, point) <= apart + units::mm(1e-6);
        let all =
            (0..self.outline.len()).map(|at| [self.outline[at], self.outline[(at + 1) % self.outline.len()]]);
        let to_all = all.map(|side| distance(&side, point)).fold(f64::INFINITY, f64::min);
        let passes = to_all >= apart - units::mm(1e-6)
            && self.sides.iter().any(|side| is_near(side) && beyond(side, point) > 0.0);
        if passes { -apart } else { apart }
    }
}

/// How far a point is beyond the line of a side, out of the field, m.
pub(super) fn beyond([a, b]: &[Point2<f64>; 2], point: &Point2<f64>) -> f64 {
    (point - a).perp(&(b - a)) / (b - a).norm()
}

/// The corners of a region as they are `seen` from above, counter-clockwise. Those of a round one stand on the circle, one of them where who walks
/// along `into` comes first.
fn outline(
    region: &Region,
    up: &Vector3<f64>,
    into: &Vector2<f64>,
    seen: &impl Fn(&Vector3<f64>) -> Vector2<f64>,
) -> Vec<Point2<f64>> {
    const ROUND: u32 = 128;
    let is_upright = up.z.abs() > 1.0 - 1e-9;
    match region {
        Region::Outline { corners, .. } if is_upright => {
            let mut own: Vec<Point2<f64>> =
                corners.iter().map(|corner| Point2::from(seen(&corner.coords.push(0.0)))).collect();
            if up.z < 0.0 {
                own.reverse();
            }
            own
        }
        Region::Cylinder { radius, .. } if is_upright => {
            let at = |step: u32| {
                let turn = std::f64::consts::TAU * f64::from(step) / f64::from(ROUND);
                Point2::from(nalgebra::Rotation2::new(turn) * -into * *radius)
            };
            (0..ROUND).map(at).collect()
        }
        _ => hull(corners(region).iter().map(|corner| Point2::from(seen(&corner.coords))).collect()),
    }
}

/// How far the hull of balls of `radius` about some points is behind an upright field, seen from above, m: from what of it is behind the plane of
/// that; negative where it passes the field, none where all of it is before the plane beside it. No more than it really is, by no more than the radius.
fn behind_a_field(half_width: f64, points: &[Point3<f64>], radius: f64) -> Option<f64> {
    let seen = hull(points.iter().map(Point3::xy).collect());
    let wide = half_width + radius;
    let left = kept_by(&seen, |point| point.x + wide);
    let before_it = kept_by(&left, |point| wide - point.x);
    let nearest = before_it.iter().map(|point| point.y - radius).fold(f64::INFINITY, f64::min);
    if nearest < 0.0 {
        return Some(nearest);
    }
    let behind = kept_by(&seen, |point| point.y + radius);
    let field = [Point2::new(-half_width, 0.0), Point2::new(half_width, 0.0)];
    let (apart, _) = super::enclosure::nearest(&behind, &field)?;
    Some((apart - radius).max(0.0))
}

/// How far the hull of balls is beside an upright field, at least 0, and how far behind its plane, m; none without points.
fn beside_and_behind(half_width: f64, points: &[Point3<f64>], radius: f64) -> Option<[f64; 2]> {
    let first = points.first()?;
    let (mut left, mut right, mut nearest) = (first.x, first.x, first.y);
    for point in points {
        left = left.min(point.x);
        right = right.max(point.x);
        nearest = nearest.min(point.y);
    }
    let beside = (left - radius - half_width).max(-half_width - right - radius).max(0.0);
    Some([beside, nearest - radius])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ball_before_a_field_is_as_far_as_its_surface_and_one_through_it_is_negative() {
        let front = Front::Upright { half_width: 1.0 };
        let far = |x: f64, y: f64| front.distance(&[Point3::new(x, y, 9.0)], 0.25);
        assert_eq!(far(0.0, 2.0), Some(1.75));
        assert!((far(1.2, 2.0).unwrap() - (0.2_f64.hypot(2.0) - 0.25)).abs() < 1e-12);
        assert_eq!(far(0.0, 0.125), Some(-0.125));
        // Its middle is 3 m beside the end and 3.25 m behind it.
        let beside = far(4.0, 3.25).unwrap();
        assert!((beside - (3.0_f64.hypot(3.25) - 0.25)).abs() < 1e-12, "{beside}");
        assert_eq!(far(4.0, -1.0), None);
    }

    /// A bar from 2 m before the plane to 2 m behind it, 0.6 m beside the end, is 0.6 m from it; one that leans over the field passes it.
    #[test]
    fn what_stands_through_the_plane_beside_a_field_is_as_near_as_its_end() {
        let front = Front::Upright { half_width: 1.0 };
        let bar = |x: [f64; 2]| {
            front.distance(&[Point3::new(x[0], -2.0, 0.0), Point3::new(x[1], 2.0, 1.0)], 0.0).unwrap()
        };
        assert!((bar([1.6, 1.6]) - 0.6).abs() < 1e-12, "{}", bar([1.6, 1.6]));
        // Along y = x - 3.2 what is behind the plane begins at x = 3.2; what is before it, 1.2 m from the end at the nearest, is on the people's side.
        let leaning = bar([1.2, 5.2]);
        assert!((leaning - 2.2).abs() < 1e-12, "{leaning}");
        assert_eq!(bar([0.5, 0.5]), -2.0);
        assert!(front.least(&[Point3::new(1.6, -2.0, 0.0), Point3::new(1.6, 2.0, 1.0)], 0.0) <= 0.6 + 1e-12);
    }
}
