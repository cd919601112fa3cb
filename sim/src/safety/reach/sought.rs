//! Decides how far a point of the arm is what is looked for, and how far anything in a ball is at most.

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use super::super::extent::{corners, signed_distance};
use super::super::front::Front;
use super::super::upright::Counted;
use super::zone_from_world;
use crate::cell::{Cell, Region, ZoneId};

/// How far the restricted space comes toward a field.
pub(in crate::safety) struct Toward<'z> {
    inner: (Inside<'z>, Pose),
    front: Front,
    front_from_world: Pose,
}

impl<'z> Toward<'z> {
    pub(in crate::safety) fn new(cell: &'z Cell, restricted: ZoneId, zone: ZoneId, front: Front) -> Self {
        let inner = &cell.zones[restricted.0];
        let inner = (Inside(&inner.region), zone_from_world(cell, inner));
        Self { inner, front, front_from_world: zone_from_world(cell, &cell.zones[zone.0]) }
    }

    /// How far past the field a ball about a point comes, m: negative before it.
    pub(in crate::safety) fn past(&self, radius: f64, point: &Point3<f64>) -> Option<f64> {
        Some(-self.front.distance(&[self.front_from_world * point], radius)?)
    }

    /// No less than how far past the field anything in the restricted space comes, m.
    pub(in crate::safety) fn most_past(&self) -> f64 {
        let front_from_inner = self.front_from_world * self.inner.1.inverse();
        let own: Vec<Point3<f64>> =
            corners(self.inner.0.0).into_iter().map(|corner| front_from_inner * corner).collect();
        -self.front.least(&own, 0.0)
    }
}

/// What is looked for, with `zone_from_world` of the zones at rest.
pub(super) enum Sought<'z> {
    FromFoot(Point3<f64>),
    /// Upward, or downward by −1.
    High(f64),
    OutOf {
        inner: Option<(Inside<'z>, Pose)>,
        outer: (Counted, Pose),
        floor: f64,
    },
    Toward {
        toward: &'z Toward<'z>,
        floor: f64,
    },
}

/// An extent of which only what is in it counts.
#[derive(Clone, Copy)]
pub(super) struct Inside<'z>(pub(super) &'z Region);

impl Inside<'_> {
    /// What counts of the radius of a ball about a point in the zone's frame, m; none outside.
    fn radius(&self, radius: f64, point: &Point3<f64>) -> Option<f64> {
        let depth = -signed_distance(self.0, point);
        (depth >= 0.0).then(|| radius.min(depth))
    }

    /// Whether no point of a ball is in it.
    fn is_missed_by(&self, radius: f64, point: &Point3<f64>) -> bool {
        signed_distance(self.0, point) > radius
    }
}

impl Sought<'_> {
    /// How far the ball of `radius` about a point is what is sought, m; none where it does not count.
    pub(super) fn at(&self, radius: f64, point: &Point3<f64>) -> Option<f64> {
        match self {
            Self::FromFoot(foot) => Some((point - foot).norm() + radius),
            Self::High(upward) => Some(upward * point.z + radius),
            Self::OutOf { floor, .. } | Self::Toward { floor, .. } if point.z < *floor => None,
            Self::OutOf { inner, outer: (counted, from_world), .. } => {
                let radius = match inner {
                    Some((inside, from_world)) => inside.radius(radius, &(from_world * point))?,
                    None => radius,
                };
                Some(counted.signed_distance(&(from_world * point)) + radius)
            }
            Self::Toward { toward, .. } => {
                let (inside, from_world) = &toward.inner;
                toward.past(inside.radius(radius, &(from_world * point))?, point)
            }
        }
    }

    /// No less than [`Self::at`] of any ball that lies in the one of `radius` about a point; −∞ where none of them counts.
    pub(super) fn bound(&self, radius: f64, point: &Point3<f64>) -> f64 {
        let is_missed =
            |(inside, from_world): &(Inside<'_>, Pose)| inside.is_missed_by(radius, &(from_world * point));
        match self {
            Self::FromFoot(_) | Self::High(_) => self.at(radius, point).unwrap_or(f64::NEG_INFINITY),
            Self::OutOf { floor, .. } | Self::Toward { floor, .. } if point.z + radius < *floor => {
                f64::NEG_INFINITY
            }
            Self::OutOf { inner: Some(inner), .. } if is_missed(inner) => f64::NEG_INFINITY,
            Self::OutOf { outer: (counted, from_world), .. } => {
                counted.signed_distance(&(from_world * point)) + radius
            }
            Self::Toward { toward, .. } if is_missed(&toward.inner) => f64::NEG_INFINITY,
            Self::Toward { toward, .. } => -toward.front.least(&[toward.front_from_world * point], radius),
        }
    }
}
