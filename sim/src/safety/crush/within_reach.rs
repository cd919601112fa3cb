//! Decides what somebody at an operator place reaches: what is in the place, seen from above, or no farther from it than a whole arm reaches,
//! with no [`Wall`] between, and not too high (850 mm and 2700 mm above what they stand on, both ISO 13857:2019, by GT-Engineering's pages on it).

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use super::super::extent::{corners, signed_distance};
use super::super::seen::Seen;
use super::super::watch::lowest_and_highest;
use super::wall::Wall;
use super::{Limb, WIDEST};
use crate::cell::{Cell, Region, ZoneId};
use crate::units;

/// How far a whole arm reaches, mm.
const WHOLE_ARM_MM: f64 = 850.0;
/// Higher above the floor nobody reaches what moves, mm.
const OUT_OF_REACH_MM: f64 = 2700.0;

/// Which gaps count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Counts {
    /// All that are told of: those below a width, m.
    Below(f64),
    /// Of these only the ones that are too narrow.
    TooNarrow(f64),
}

impl Counts {
    /// Whether a gap counts for whoever may be caught in it.
    pub(super) fn has(self, limb: Limb, gap: f64) -> bool {
        match self {
            Self::Below(width) => gap < width,
            Self::TooNarrow(width) => gap < width.min(limb.least_gap()),
        }
    }

    /// Only what is narrower still.
    pub(super) fn narrower_than(self, gap: f64) -> Self {
        match self {
            Self::Below(width) => Self::Below(width.min(gap)),
            Self::TooNarrow(width) => Self::TooNarrow(width.min(gap)),
        }
    }
}

/// What keeps somebody at a place from a point, if it stands between.
#[derive(Clone, Copy)]
pub(super) struct Walls<'w> {
    /// What never moves.
    pub(super) standing: &'w [Wall],
    /// What stands so at the moment.
    pub(super) at_look: &'w [Wall],
}

impl<'w> Walls<'w> {
    /// Nothing.
    pub(super) const NONE: Self = Self { standing: &[], at_look: &[] };

    fn all(self) -> impl Iterator<Item = &'w Wall> {
        self.standing.iter().chain(self.at_look)
    }
}

/// What somebody at a place reaches.
pub(super) struct WithinReach<'c> {
    pub(super) place: ZoneId,
    pub(super) seen: Seen<'c>,
    region: &'c Region,
    place_from_world: Pose,
    /// Half way up the place, in its own frame.
    half_way: f64,
    /// Seen from above, in the world.
    corners: Vec<Point3<f64>>,
    /// Those that never move.
    pub(super) walls: Vec<Wall>,
    /// On what whoever is there stands, m: on the floor, or on what the place is drawn on where that is higher.
    pub(super) floor: f64,
}

impl<'c> WithinReach<'c> {
    /// Of a place, with the walls that never move for whoever stands on a floor so high.
    pub(super) fn new(cell: &'c Cell, place: usize, walls: impl Fn(f64) -> Vec<Wall>) -> Self {
        let zone = &cell.zones[place];
        let world_from_zone = cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone;
        let own = corners(&zone.region);
        let heights = own.iter().map(|corner| corner.z);
        let (low, high) =
            heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
        let floor = cell.safeguarding.floor.max(lowest_and_highest(cell, zone).0);
        Self {
            place: ZoneId(place),
            seen: Seen::new(cell, zone),
            region: &zone.region,
            place_from_world: world_from_zone.inverse(),
            half_way: f64::midpoint(low, high),
            corners: own.into_iter().map(|corner| world_from_zone * corner).collect(),
            walls: walls(floor),
            floor,
        }
    }

    /// How far a point is beside the place, seen from above, m; negative inside.
    fn beside(&self, point: &Point3<f64>) -> f64 {
        let own = self.place_from_world * point;
        signed_distance(self.region, &Point3::new(own.x, own.y, self.half_way))
    }

    /// How far a ball is beside the place, and above what is reached, m; negative within.
    fn off(&self, middle: &Point3<f64>, radius: f64) -> [f64; 2] {
        let above_floor = middle.z - self.floor;
        [self.beside(middle) - radius, above_floor - radius - units::mm(OUT_OF_REACH_MM)]
    }

    /// How wide (m) a gap is at least that counts, if it is no less than `gap` and its middle no farther than half of it from a ball; none where
    /// none does. The farther the ball is from what is reached, the wider a gap must be to get there.
    pub(super) fn least_gap(
        &self,
        (middle, radius): (&Point3<f64>, f64),
        gap: f64,
        counts: Counts,
        walls: Walls<'_>,
    ) -> Option<f64> {
        let [beside, too_high] = self.off(middle, radius);
        let of_arm = gap.max(2.0 * too_high).max(2.0 * (beside - units::mm(WHOLE_ARM_MM)));
        let of_body = of_arm.max(2.0 * beside);
        let least = if counts.has(Limb::Arm, of_arm) {
            of_arm
        } else if counts.has(Limb::Body, of_body) {
            of_body
        } else {
            return None;
        };
        (!self.are_hidden(middle, radius + WIDEST / 2.0, walls)).then_some(least)
    }

    /// The same of a gap whose middle is in a ball.
    pub(super) fn least_gap_at(
        &self,
        (middle, radius): (&Point3<f64>, f64),
        gap: f64,
        counts: Counts,
        walls: Walls<'_>,
    ) -> Option<f64> {
        let [beside, too_high] = self.off(middle, radius);
        let may_be = (beside <= units::mm(WHOLE_ARM_MM) && counts.has(Limb::Arm, gap))
            || (beside <= 0.0 && counts.has(Limb::Body, gap));
        (may_be && too_high <= 0.0 && !self.are_hidden(middle, radius, walls)).then_some(gap)
    }

    /// Whether one wall hides all that is no farther than `radius` from a point.
    fn are_hidden(&self, middle: &Point3<f64>, radius: f64, walls: Walls<'_>) -> bool {
        walls.all().any(|wall| wall.hides_cube(middle, radius, &self.corners))
    }

    /// Who may be caught at a point; none where nobody reaches it.
    pub(super) fn limb(&self, point: &Point3<f64>, walls: Walls<'_>) -> Option<Limb> {
        let beside = self.beside(point);
        let is_reached = point.z - self.floor <= units::mm(OUT_OF_REACH_MM)
            && beside <= units::mm(WHOLE_ARM_MM)
            && !walls.all().any(|wall| wall.hides(point, &self.corners));
        is_reached.then_some(if beside <= 0.0 { Limb::Body } else { Limb::Arm })
    }
}
