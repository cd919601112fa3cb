//! Decides which space a point of an arm can be in: the maximum space (ISO 8373) of the tool point, seen from the side and
//! from above, and a bound that it certainly does not leave.
//!
//! Ranges of the axes by themselves are kept; what motors, other axes or the arm's own links forbid besides makes the true
//! space smaller.

use std::f64::consts::{PI, TAU};

use nalgebra::{Matrix2x6, Point2, Point3, Vector2, Vector3};

use crate::region::{Reach, Region, explore};
use crate::{Arm, AxisValues, Range};

/// The resolution, as a part of the bound on the radius.
const FINENESS: f64 = 1.0 / 200.0;
/// The least resolution, m.
const FINEST: f64 = 1e-4;
/// Cells in a resolution: a point may be missed by a cell and its neighbour.
const CELLS: f64 = 2.0;

/// A point of the arm that is followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Traced {
    /// The link it is fixed to, 1 to 6.
    pub link: usize,
    /// Where, in the frame of that link, m.
    pub point_in_link: Point3<f64>,
}

/// The space of a point of an arm.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// How far (m) from the regions the point may come, by the resolution of the search; their cells are half as wide.
    pub resolution: f64,
    /// Seen from the side, wherever axis 1 stands: x is the distance from the line of axis 1, y the height along that line from the base's
    /// origin, upward where base z rises.
    pub side: Region,
    /// The point certainly stays within this distance (m) of the line of axis 1, whatever the axis ranges: all levers
    /// laid end to end.
    pub radius_bound: f64,
    /// Lowest and highest height (m) that it certainly keeps between, likewise.
    pub height_bounds: Range,
}

impl Arm {
    /// The wrist centre: the point of axis 5 nearest to axis 6, fixed to link 5. Where axes 4, 5 and 6 meet it is that point.
    #[must_use]
    pub fn wrist_centre(&self) -> Traced {
        let (axis5, axis6) = (&self.axes()[4], &self.axes()[5]);
        let along5 = axis5.direction.into_inner();
        let along6 = axis6.origin.rotation * axis6.direction.into_inner();
        let to_axis6 = axis6.origin.translation.vector;
        // Both lines through their origins; the common normal's foot on axis 5.
        let cosine = along5.dot(&along6);
        let square = 1.0 - cosine * cosine;
        let along = if square < 1e-12 {
            0.0
        } else {
            (to_axis6.dot(&along5) - to_axis6.dot(&along6) * cosine) / square
        };
        Traced { link: 5, point_in_link: Point3::from(along5 * along) }
    }

    /// The point of axis 6 nearest to axis 5, in the flange frame (m): however axis 6 turns, it stays where link 5 has it. Where axes 4, 5
    /// and 6 meet it is the wrist centre.
    #[must_use]
    pub fn wrist_on_flange(&self) -> Point3<f64> {
        let axis6 = &self.axes()[5];
        let direction = axis6.direction.into_inner();
        let in_link5 = axis6.origin.rotation * direction;
        let way = self.wrist_centre().point_in_link.coords - axis6.origin.translation.vector;
        self.link6_from_flange().inverse() * Point3::from(direction * way.dot(&in_link5))
    }

    /// A point fixed to the flange, given in its frame (m).
    #[must_use]
    pub fn on_flange(&self, point_in_flange: &Point3<f64>) -> Traced {
        Traced { link: 6, point_in_link: self.link6_from_flange() * point_in_flange }
    }

    /// How far (m) a place, given in the base frame, certainly lies outside everything that the point can come to, whatever the axis
    /// ranges; 0 where that is not shown.
    ///
    /// The point stays in a ball that goes round axis 1, see `Self::ball`. For the wrist of the usual arm, stretched, that is exact.
    #[must_use]
    pub fn out_of_reach(&self, traced: &Traced, place_in_base: &Point3<f64>) -> f64 {
        let axis = &self.axes()[0];
        let along = axis.direction.into_inner();
        let from_axis1_and_height = |point: Point3<f64>| {
            let height = point.coords.dot(&along);
            Vector2::new((point.coords - along * height).norm(), height)
        };
        let (centre, radius) = self.ball(traced);
        let way =
            from_axis1_and_height(axis.origin.inverse() * place_in_base) - from_axis1_and_height(centre);
        (way.norm() - radius).max(0.0)
    }

    /// The space of a point of the arm within the axis ranges.
    #[must_use]
    pub fn envelope(&self, traced: &Traced) -> Envelope {
        let (radius_bound, height_bounds) = self.bounds(traced);
        let resolution = resolution(radius_bound);
        let plane = Plane::new(self);
        let (mut from, mut to) = self.ends(traced);
        // From the side it is the same wherever axis 1 stands.
        (from[0], to[0]) = (0.0, 0.0);
        let room = Vector2::repeat(resolution / CELLS);
        let low = Point2::new(0.0, height_bounds.min) - room;
        let high = Point2::new(radius_bound, height_bounds.max) + room;
        let side = Side { arm: self, traced, plane: &plane };
        let side = explore(&side, (&from, &to), (low, high), resolution / CELLS);
        Envelope { resolution, side, radius_bound, height_bounds }
    }

    /// The same space seen along axis 1, from where base z rises to, at the same resolution: x and y across axis 1, from the base's origin
    /// (m). For an axis 1 along base z, whichever way, they are those of the base.
    #[must_use]
    pub fn envelope_from_above(&self, traced: &Traced) -> Region {
        let (radius_bound, _) = self.bounds(traced);
        let cell = resolution(radius_bound) / CELLS;
        let plane = Plane::new(self);
        let (from, to) = self.ends(traced);
        let centre = plane.across(&plane.point);
        // A cell of room on each side for rounding.
        let half = Vector2::repeat(radius_bound + cell);
        let top = Top { arm: self, traced, plane: &plane };
        explore(&top, (&from, &to), (centre - half, centre + half), cell)
    }

    /// Between which values the axes that move the point are tried.
    fn ends(&self, traced: &Traced) -> (AxisValues, AxisValues) {
        let (mut from, mut to) = (AxisValues::zeros(), AxisValues::zeros());
        for (i, axis) in self.axes().iter().enumerate().take(traced.link) {
            (from[i], to[i]) = one_turn(&axis.range);
        }
        (from, to)
    }

    /// How far the point can be from axis 1, and between which heights, whatever the axis ranges.
    fn bounds(&self, traced: &Traced) -> (f64, Range) {
        let (centre, radius) = self.ball(traced);
        let axis = &self.axes()[0];
        let foot = Point3::from(axis.direction.into_inner() * centre.coords.dot(&axis.direction));
        let height = Plane::new(self).height(&(axis.origin * foot));
        ((centre - foot).norm() + radius, Range { min: height - radius, max: height + radius })
    }

    /// A ball that the point stays in whatever the axis ranges: its centre in the frame of link 1, and its radius, m.
    ///
    /// Turned about one axis after the other, from the last to the second, the point stays in a ball: about an axis a ball
    /// sweeps no farther than a ball about its centre's foot on the axis, larger by the way there.
    fn ball(&self, traced: &Traced) -> (Point3<f64>, f64) {
        let mut centre = traced.point_in_link;
        let mut radius = 0.0;
        for axis in self.axes()[1..traced.link].iter().rev() {
            let foot = Point3::from(axis.direction.into_inner() * centre.coords.dot(&axis.direction));
            radius += (centre - foot).norm();
            centre = axis.origin * foot;
        }
        (centre, radius)
    }
}

/// For a point that is at most so far (m) from axis 1.
fn resolution(radius_bound: f64) -> f64 {
    (radius_bound * FINENESS).max(FINEST)
}

/// An axis comes everywhere within one turn.
fn one_turn(range: &Range) -> (f64, f64) {
    match range.max - range.min {
        width if width < TAU => (range.min, range.max),
        _ if range.min.is_finite() => (range.min, range.min + TAU),
        _ => (-PI, PI),
    }
}

/// The plane across axis 1, and axis 1 itself, in the base frame.
struct Plane {
    /// A point of axis 1.
    point: Point3<f64>,
    up: Vector3<f64>,
    x: Vector3<f64>,
    y: Vector3<f64>,
}

impl Plane {
    fn new(arm: &Arm) -> Self {
        let axis = &arm.axes()[0];
        let along = axis.origin.rotation * axis.direction.into_inner();
        // Heights rise with the base's, whichever way axis 1 turns.
        let up = if along.z < 0.0 { -along } else { along };
        // Base x and y turned over as little as can be to lie across axis 1.
        let upright = nalgebra::UnitQuaternion::rotation_between(&Vector3::z(), &up)
            .unwrap_or_else(|| nalgebra::UnitQuaternion::from_axis_angle(&Vector3::x_axis(), PI));
        Self {
            point: Point3::from(axis.origin.translation.vector),
            up,
            x: upright * Vector3::x(),
            y: upright * Vector3::y(),
        }
    }

    fn height(&self, point: &Point3<f64>) -> f64 {
        point.coords.dot(&self.up)
    }

    fn across(&self, point: &Point3<f64>) -> Point2<f64> {
        Point2::new(point.coords.dot(&self.x), point.coords.dot(&self.y))
    }
}

/// Where the point is in the base frame, and how it moves with each axis.
fn motion(arm: &Arm, traced: &Traced, axes: &AxisValues) -> (Point3<f64>, [Vector3<f64>; 6]) {
    let forward = arm.forward(axes);
    let point = forward.base_from_link[traced.link] * traced.point_in_link;
    let moves = std::array::from_fn(|i| {
        if i >= traced.link {
            return Vector3::zeros();
        }
        let link = &forward.base_from_link[i + 1];
        let direction = link.rotation * arm.axes()[i].direction.into_inner();
        direction.cross(&(point.coords - link.translation.vector))
    });
    (point, moves)
}

struct Side<'a> {
    arm: &'a Arm,
    traced: &'a Traced,
    plane: &'a Plane,
}

impl Reach for Side<'_> {
    fn at(&self, axes: &AxisValues) -> (Point2<f64>, Matrix2x6<f64>) {
        let (point, moves) = motion(self.arm, self.traced, axes);
        let from_axis = point - self.plane.point;
        let out = from_axis - self.plane.up * from_axis.dot(&self.plane.up);
        let radius = out.norm();
        // On axis 1 every way leads out.
        let out = if radius > 0.0 { out / radius } else { self.plane.x };
        let by_axis = Matrix2x6::from_fn(|row, i| moves[i].dot(if row == 0 { &out } else { &self.plane.up }));
        (Point2::new(radius, self.plane.height(&point)), by_axis)
    }
}

struct Top<'a> {
    arm: &'a Arm,
    traced: &'a Traced,
    plane: &'a Plane,
}

impl Reach for Top<'_> {
    fn at(&self, axes: &AxisValues) -> (Point2<f64>, Matrix2x6<f64>) {
        let (point, moves) = motion(self.arm, self.traced, axes);
        let by_axis =
            Matrix2x6::from_fn(|row, i| moves[i].dot(if row == 0 { &self.plane.x } else { &self.plane.y }));
        (self.plane.across(&point), by_axis)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::strategy::ValueTree;

    use super::*;
    use crate::description::{Dimensions, Links, OriginAxis, origin_axes};
    use crate::{Axis, Based, Basis, Pose};

    fn arm(links: &Links, ranges: [[f64; 2]; 6]) -> Arm {
        let assumed = Based { value: 1.0, basis: Basis::Assumed };
        let axes = std::array::from_fn(|i| Axis {
            origin: links.origin[i],
            direction: links.direction[i],
            range: Range { min: ranges[i][0], max: ranges[i][1] },
            max_speed: 1.0,
            max_acceleration: assumed,
            max_jerk: assumed,
        });
        Arm::new("test".to_owned(), axes, links.link6_from_flange)
    }

    const USUAL: [[f64; 2]; 6] =
        [[-2.9, 2.9], [-1.6, 2.6], [-3.0, 1.4], [-3.3, 3.3], [-2.2, 2.2], [-6.2, 6.2]];

    fn usual() -> Links {
        Dimensions {
            axis2_height: 0.43,
            axis2_forward: 0.15,
            axis2_sideways: 0.0,
            upper_arm: 0.61,
            elbow_offset: 0.13,
            forearm: 0.64,
            wrist_to_flange: 0.095,
        }
        .links()
    }

    fn skew() -> Links {
        let line = |point: [f64; 3], direction: [f64; 3]| OriginAxis {
            point: point.into(),
            direction: nalgebra::UnitVector3::new_normalize(direction.into()),
        };
        let axes = [
            line([0.1, 0.0, 0.0], [0.1, 0.2, 1.0]),
            line([0.2, 0.3, 0.4], [0.1, 1.0, 0.3]),
            line([0.3, 0.1, 1.0], [-0.6, -1.0, -0.3]),
            line([0.9, 0.2, 1.1], [1.0, 0.1, 0.0]),
            line([0.9, 0.3, 1.1], [0.2, 0.7, 0.6]),
            line([1.0, 0.2, 1.2], [0.9, -0.3, 0.2]),
        ];
        let base_from_flange = Pose::new(Vector3::new(1.1, 0.3, 1.2), Vector3::new(0.3, 1.0, -0.4));
        origin_axes(&axes, &base_from_flange)
    }

    /// How far points at axis values spread over the ranges by `random` lie outside at most, in resolutions (0, 1, 2 ...).
    fn outside(
        arm: &Arm,
        traced: &Traced,
        (envelope, from_above): (&Envelope, &Region),
        random: &AxisValues,
    ) -> u32 {
        let axes = AxisValues::from_fn(|i, _| {
            let range = arm.axes()[i].range;
            range.min + (range.max - range.min) * random[i]
        });
        let plane = Plane::new(arm);
        let (side, _) = Side { arm, traced, plane: &plane }.at(&axes);
        let (top, _) = Top { arm, traced, plane: &plane }.at(&axes);
        assert!(side.x <= envelope.radius_bound && envelope.height_bounds.excess(side.y) <= 0.0, "{axes}");
        (0..9)
            .find(|n| {
                let distance = envelope.resolution * f64::from(*n);
                envelope.side.is_within(&side, distance) && from_above.is_within(&top, distance)
            })
            .unwrap_or(9)
    }

    #[test]
    fn no_axis_values_in_range_lead_outside_by_more_than_the_resolution() {
        let arms = [arm(&usual(), USUAL), arm(&skew(), USUAL), arm(&skew(), [[-1.0, 0.7]; 6])];
        for arm in arms {
            let tool = arm.on_flange(&Point3::new(0.06, -0.02, 0.33));
            for traced in [arm.wrist_centre(), tool] {
                let space = (&arm.envelope(&traced), &arm.envelope_from_above(&traced));
                let mut runner = proptest::test_runner::TestRunner::deterministic();
                for _ in 0..40_000 {
                    let tree = prop::array::uniform6(-0.1..1.1_f64).new_tree(&mut runner).unwrap();
                    // The ends of the ranges, where the edge is, are met often.
                    let random = AxisValues::from(tree.current()).map(|share| share.clamp(0.0, 1.0));
                    let off = outside(&arm, &traced, space, &random);
                    assert!(off <= 1, "{random}: outside by more than {} resolutions", off - 1);
                }
            }
        }
    }

    /// Nothing that axis values lead to counts as out of reach, be the arm as it may.
    #[test]
    fn no_axis_values_lead_out_of_reach() {
        for arm in [arm(&usual(), USUAL), arm(&skew(), USUAL)] {
            let wrist = arm.on_flange(&arm.wrist_on_flange());
            for traced in [wrist, arm.wrist_centre(), arm.on_flange(&Point3::new(0.06, -0.02, 0.33))] {
                let mut runner = proptest::test_runner::TestRunner::deterministic();
                for _ in 0..2000 {
                    let axes = prop::array::uniform6(-PI..PI).new_tree(&mut runner).unwrap().current();
                    let links = arm.forward(&axes.into()).base_from_link;
                    let beyond = arm.out_of_reach(&traced, &(links[traced.link] * traced.point_in_link));
                    assert!(beyond < 1e-12, "{axes:?}: {beyond}");
                }
            }
        }
    }

    /// Stretched, the wrist centre is the upper arm and the hypotenuse of forearm and elbow offset away from axis 2, which stands
    /// 150 mm before axis 1 and 430 mm up.
    #[test]
    fn the_stretched_arm_is_the_bound_of_its_wrist() {
        let arm = arm(&usual(), USUAL);
        let wrist = arm.on_flange(&arm.wrist_on_flange());
        let length = 0.61 + 0.64_f64.hypot(0.13);
        for off in [-0.001, 0.001] {
            let (out, up) = (0.6 * (length + off), 0.8 * (length + off));
            let place = Point3::new(0.8 * (0.15 + out), 0.6 * (0.15 + out), 0.43 + up);
            let beyond = arm.out_of_reach(&wrist, &place);
            assert!((beyond - off.max(0.0)).abs() < 1e-12, "{beyond}");
        }
    }

    /// A planar arm of two links reaches the ring from |a − b| to a + b (Craig, Introduction to Robotics, chapter 4, from
    /// memory); where the elbow bends at least by β the ring ends at the third side of the triangle, by the cosine law.
    #[test]
    fn two_links_reach_the_ring_of_the_textbook() {
        let (a, b, beta) = (0.6, 0.4, 1.0_f64);
        let links = Dimensions {
            axis2_height: 0.0,
            axis2_forward: 0.0,
            axis2_sideways: 0.0,
            upper_arm: a,
            elbow_offset: 0.0,
            forearm: b,
            wrist_to_flange: 0.1,
        }
        .links();
        // Axis 3 at −90° stretches the arm.
        let stretched = -PI / 2.0;
        for (least_bend, outer) in [(0.0, a + b), (beta, (a * a + b * b + 2.0 * a * b * beta.cos()).sqrt())] {
            let inner = a - b;
            let mut ranges = [[-PI, PI]; 6];
            ranges[2] = [stretched + least_bend, stretched + PI];
            let arm = arm(&links, ranges);
            let envelope = arm.envelope(&arm.wrist_centre());
            let (lowest, highest) = envelope.side.extremes();
            assert!((highest.x - outer).abs() < 1e-4, "{highest} and not {outer}");
            assert!(
                (lowest.y + outer).abs() < 1e-4 && (highest.y - outer).abs() < 1e-4,
                "{lowest} {highest}"
            );
            assert!((envelope.radius_bound - (a + b)).abs() < 1e-12);
            // Half the ring stands on the side of axis 1 that is drawn; cells lap over each edge by less than their diagonal.
            let area = PI * (outer * outer - inner * inner) / 2.0;
            let edge = PI * (outer + inner) + 2.0 * (outer - inner);
            let off = envelope.side.area() - area;
            assert!(off.abs() < edge * envelope.resolution, "{off}");
            for line in envelope.side.outline() {
                for point in line {
                    let radius = point.coords.norm();
                    let slack = envelope.resolution;
                    assert!(radius < outer + slack && radius > inner - slack, "{point}");
                }
            }
            // From above the disc is full: the arm folds over its own axis.
            let (lowest, highest) = arm.envelope_from_above(&arm.wrist_centre()).extremes();
            assert!(
                (highest.x - outer).abs() < 1e-3 && (lowest.y + outer).abs() < 1e-3,
                "{lowest} {highest}"
            );
        }
    }

    #[test]
    fn axis_1_cuts_a_sector_out_of_the_view_from_above() {
        let arm = arm(&usual(), [[-0.5, 0.5], [0.0, 1.0], [-0.5, 0.5], [-0.1, 0.1], [-0.1, 0.1], [0.0, 0.1]]);
        let from_above = arm.envelope_from_above(&arm.wrist_centre());
        for (angle, is_inside) in [(0.0, true), (0.49, true), (-0.49, true), (0.6, false), (PI, false)] {
            let at = Point2::new(0.9 * f64::cos(angle), 0.9 * f64::sin(angle));
            assert_eq!(from_above.is_within(&at, 0.01), is_inside, "{angle}");
        }
    }

    #[test]
    fn an_outline_closes_around_what_is_filled_and_around_holes() {
        let arm = arm(&usual(), USUAL);
        let side = arm.envelope(&arm.wrist_centre()).side;
        let area: f64 = side
            .outline()
            .iter()
            .map(|line| {
                let next = line.iter().cycle().skip(1);
                line.iter().zip(next).map(|(a, b)| (a.x * b.y - b.x * a.y) / 2.0).sum::<f64>()
            })
            .sum();
        assert!((area - side.area()).abs() < 1e-9, "{area} {}", side.area());
    }

    #[test]
    fn an_arm_without_size_or_ranges_has_an_envelope_all_the_same() {
        let nothing = Links {
            origin: [Pose::identity(); 6],
            direction: [Vector3::z_axis(); 6],
            link6_from_flange: Pose::identity(),
        };
        for ranges in [[[0.0, 0.0]; 6], [[f64::NEG_INFINITY, f64::INFINITY]; 6]] {
            let arm = arm(&nothing, ranges);
            let envelope = arm.envelope(&arm.wrist_centre());
            assert!(envelope.radius_bound == 0.0 && envelope.side.area() > 0.0);
        }
    }
}
