//! Decides how far something is behind the side of a device or guard from which people come.

use super::extent::{corners, signed_distance};
use super::seen::along_edges;
use crate::cell::{Region, Zone, ZoneRole};

/// The side of a zone from which people come, as something whose distance to points can be told.
#[derive(Clone, Debug)]
pub enum Front {
    /// A flat field: half of its width along x; people come along +y.
    Upright {
        /// Half of its width, m.
        half_width: f64,
    },
    /// The outer edge of a field parallel to the floor: the way people come, and where along it the edge is, m.
    Edge {
        /// The way people come, in the zone's frame.
        into: nalgebra::Vector3<f64>,
        /// Where along it the edge is.
        at: f64,
    },
    /// All round where the hands of a two-hand control are.
    Around(Region),
}

impl Front {
    /// Of a device or guard; none of a volume that nobody walks into.
    #[must_use]
    pub fn of(zone: &Zone) -> Option<Self> {
        if let Region::Field { half_width, .. } = zone.region {
            return Some(Self::Upright { half_width });
        }
        if zone.role == ZoneRole::TwoHandControl {
            return Some(Self::Around(zone.region.clone()));
        }
        let into = zone.device.as_ref()?.into?.into_inner();
        let at = match zone.region {
            Region::Cylinder { radius, half_height } => {
                -radius * into.xy().norm() - half_height * into.z.abs()
            }
            _ => {
                let own = corners(&zone.region).into_iter();
                own.map(|point| into.dot(&point.coords)).fold(f64::INFINITY, f64::min)
            }
        };
        Some(Self::Edge { into, at })
    }

    /// How far the hull of balls of `radius` about `points` is behind it, m; negative where it passes it. All in the zone's frame.
    ///
    /// Never more than it really is: sideways the hull is taken as wide as it is anywhere. None where the hull is beside an upright
    /// field and not behind it.
    #[must_use]
    pub fn distance(&self, points: &[nalgebra::Point3<f64>], radius: f64) -> Option<f64> {
        match self {
            Self::Around(region) => {
                let nearest = along_edges(points).into_iter().map(|point| signed_distance(region, &point));
                Some(nearest.reduce(f64::min)? - radius)
            }
            Self::Edge { into, at } => {
                let nearest = points.iter().map(|point| into.dot(&point.coords)).reduce(f64::min)?;
                Some(nearest - at - radius)
            }
            Self::Upright { half_width } => {
                let [beside, behind] = beside_and_behind(*half_width, points, radius)?;
                if beside == 0.0 {
                    return Some(behind);
                }
                (behind > 0.0).then(|| beside.hypot(behind))
            }
        }
    }

    /// No more than [`Self::distance`] of anything that lies in the hull of balls of `radius` about `points`.
    #[must_use]
    pub fn least(&self, points: &[nalgebra::Point3<f64>], radius: f64) -> f64 {
        match self {
            Self::Around(_) | Self::Edge { .. } => self.distance(points, radius).unwrap_or(f64::INFINITY),
            Self::Upright { half_width } => match beside_and_behind(*half_width, points, radius) {
                Some([0.0, behind]) => behind,
                Some([beside, behind]) => beside.hypot(behind.max(0.0)),
                None => f64::INFINITY,
            },
        }
    }
}

/// How far the hull of balls is beside an upright field, at least 0, and how far behind its plane, m; none without points.
fn beside_and_behind(half_width: f64, points: &[nalgebra::Point3<f64>], radius: f64) -> Option<[f64; 2]> {
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
    use nalgebra::Point3;

    use super::*;

    #[test]
    fn a_ball_before_a_field_is_as_far_as_its_surface_and_one_through_it_is_negative() {
        let front = Front::Upright { half_width: 1.0 };
        let far = |x: f64, y: f64| front.distance(&[Point3::new(x, y, 9.0)], 0.25);
        assert_eq!(far(0.0, 2.0), Some(1.75));
        assert_eq!(far(1.2, 2.0), Some(1.75));
        assert_eq!(far(0.0, 0.125), Some(-0.125));
        // Beside it by 4 - 0.25 - 1 = 2.75, behind by 3.25 - 0.25 = 3.
        let beside = far(4.0, 3.25).unwrap();
        assert!((beside - 2.75_f64.hypot(3.0)).abs() < 1e-12, "{beside}");
        assert_eq!(far(4.0, -1.0), None);
    }
}
