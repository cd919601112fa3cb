//! Decides how far a body can be from where it stands in the middle of an interval, when axes are off their middle values.
//!
//! Let joints 1 … n carry a body, the first nearest to what stands still, and each be off its value by no more than hₖ. Change them
//! one after the other, the last first: when joint k changes, its line is where it was in the middle and the body has gone no
//! farther than mₖ₊₁ + … + mₙ. So a point that is dₖ from line k is no more than ρₖ = dₖ + mₖ₊₁ + … + mₙ from it, and goes on a
//! circle no farther than the chord mₖ = 2 ρₖ sin(hₖ / 2), on a slide no farther than mₖ = hₖ. It ends within m₁ + … + mₙ.
//!
//! dₖ is greatest at a corner of the box around the body, since the distance from a line is convex.

use std::f64::consts::PI;

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::{Arm, AxisValues, Forward, Pose};

use crate::cell::Solid;
use crate::cell::frames::{AxisKind, FrameId, Frames};

/// A box around a body in the body's own frame, as its corners.
pub(super) type Corners = [Point3<f64>; 8];

/// Corners of the box around `solid`, in its frame.
pub(super) fn corners(solid: &Solid) -> Corners {
    let about = |half: Vector3<f64>| (Point3::from(-half), Point3::from(half));
    let (low, high) = match solid {
        Solid::Box { half } => about(*half),
        Solid::Cylinder { radius, half_height } => about(Vector3::new(*radius, *radius, *half_height)),
        Solid::Capsule { radius, half_length } => about(Vector3::new(*radius, *radius, half_length + radius)),
        Solid::Sphere { radius } => about(Vector3::repeat(*radius)),
        Solid::Frustum { radius_low, radius_high, half_height } => {
            let radius = radius_low.max(*radius_high);
            about(Vector3::new(radius, radius, *half_height))
        }
        Solid::Mesh(mesh) => mesh.vertices.iter().fold(
            (Point3::from(Vector3::repeat(f64::INFINITY)), Point3::from(Vector3::repeat(f64::NEG_INFINITY))),
            |(low, high), corner| (low.inf(corner), high.sup(corner)),
        ),
    };
    std::array::from_fn(|i| {
        let side = |bit: usize, low: f64, high: f64| if i >> bit & 1 == 0 { low } else { high };
        Point3::new(side(0, low.x, high.x), side(1, low.y, high.y), side(2, low.z, high.z))
    })
}

/// The ends of the line about which `solid` is round, in its frame; a ball is so about its middle.
pub(crate) fn round_about(solid: &Solid) -> Option<[Point3<f64>; 2]> {
    let half = match solid {
        Solid::Cylinder { half_height, .. } | Solid::Frustum { half_height, .. } => *half_height,
        Solid::Capsule { radius, half_length } => half_length + radius,
        Solid::Sphere { .. } => 0.0,
        Solid::Box { .. } | Solid::Mesh(_) => return None,
    };
    Some([-half, half].map(|z| Point3::new(0.0, 0.0, z)))
}

/// A joint as it stands in the middle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Joint {
    /// A point of its line.
    pub(crate) origin: Point3<f64>,
    /// Along its line, unit length.
    pub(crate) direction: Vector3<f64>,
    pub(super) kind: AxisKind,
    /// How far it may be off its middle value, rad or m.
    pub(super) off: f64,
}

impl Joint {
    /// Whether it turns a body that is round about a line with these ends in itself, so that it stays where it is as a whole.
    pub(super) fn turns_in_itself(&self, ends: &[Point3<f64>; 2]) -> bool {
        self.kind == AxisKind::Turn && ends.iter().all(|end| self.distance_to(end) <= ON_THE_LINE)
    }

    fn distance_to(&self, point: &Point3<f64>) -> f64 {
        self.direction.cross(&(point - self.origin)).norm()
    }
}

/// What lies so near to a line lies on it, m: the roundings of a large cell come to less, and bodies turned about such a line go less than
/// the rounding of a clearance.
const ON_THE_LINE: f64 = 1e-10;

/// How far any point of a body may be from its place in the middle, m; `joints` from what stands still outward.
pub(super) fn farthest(joints: impl DoubleEndedIterator<Item = Joint>, corners: &Corners) -> f64 {
    farthest_from(joints, |joint| corners.iter().map(|corner| joint.distance_to(corner)).fold(0.0, f64::max))
}

/// The same of a body whose points are in the middle no farther from the line of a joint than `from_line` says, m.
pub(crate) fn farthest_from(
    joints: impl DoubleEndedIterator<Item = Joint>,
    from_line: impl Fn(&Joint) -> f64,
) -> f64 {
    gone(joints, from_line, |radius, off| 2.0 * radius * (0.5 * off.min(PI)).sin())
}

/// How long the way of a point is at most, m, that is in the middle as far from the line of a joint as `from_line` says, while each joint
/// turns or slides by no more than its `off` in all: at each moment it moves by no more than the turn of each joint times how far it can be
/// from its line.
pub(crate) fn longest_from(
    joints: impl DoubleEndedIterator<Item = Joint>,
    from_line: impl Fn(&Joint) -> f64,
) -> f64 {
    gone(joints, from_line, |radius, off| radius * off)
}

/// How far a point goes at most, m, from the joint next to it back to the first: what each slide does, and what a turn does (`turned`) of a
/// point as far from its line as the joints already counted let it come.
fn gone(
    joints: impl DoubleEndedIterator<Item = Joint>,
    from_line: impl Fn(&Joint) -> f64,
    turned: impl Fn(f64, f64) -> f64,
) -> f64 {
    joints.rev().fold(0.0, |gone, joint| match joint.kind {
        AxisKind::Slide => gone + joint.off,
        AxisKind::Turn if joint.off > 0.0 => gone + turned(from_line(&joint) + gone, joint.off),
        AxisKind::Turn => gone,
    })
}

/// The axes of the arm from the one after link `from` to that of link `to`, as they stand, each off by as much as `off` says.
pub(crate) fn arm_joints(
    arm: &Arm,
    forward: &Forward,
    off: &AxisValues,
    from: usize,
    to: usize,
) -> impl DoubleEndedIterator<Item = Joint> {
    (from..to).map(move |axis| {
        let base_from_link = &forward.base_from_link[axis + 1];
        Joint {
            origin: base_from_link.translation.vector.into(),
            direction: base_from_link.rotation * arm.axes()[axis].direction.into_inner(),
            kind: AxisKind::Turn,
            off: off[axis],
        }
    })
}

/// The external axes between two frames, from the first frame to the second, in base axes; only those that are off.
pub(crate) fn external_joints(
    frames: &Frames,
    base_from_world: &Pose,
    external: &[f64],
    off: &[f64],
    (from, to): (FrameId, FrameId),
) -> Vec<Joint> {
    let axes_to = |frame: FrameId| {
        let mut axes = Vec::new();
        let mut next = Some(frame);
        while let Some(FrameId(index)) = next {
            axes.extend(frames.frames[index].axis.map(|axis| (axis, FrameId(index))));
            next = frames.frames[index].parent;
        }
        axes
    };
    let (own, others) = (axes_to(from), axes_to(to));
    let is_own_alone = |axis: &&(usize, FrameId)| !others.contains(axis);
    let is_others_alone = |axis: &&(usize, FrameId)| !own.contains(axis);
    // From the first frame toward the world, then from there outward.
    let between = own.iter().filter(is_own_alone).chain(others.iter().rev().filter(is_others_alone));
    between
        .filter(|(axis, _)| off[*axis] > 0.0)
        .map(|&(axis, frame)| {
            let base_from_frame = base_from_world * frames.world_from(frame, external);
            Joint {
                origin: base_from_frame.translation.vector.into(),
                direction: base_from_frame.rotation * frames.axes[axis].direction.into_inner(),
                kind: frames.axes[axis].kind,
                off: off[axis],
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use nalgebra::UnitQuaternion;

    use super::*;

    /// Two hinges 1 m apart along x, both about z, a point 0.5 m beyond the second: it goes farthest when both turn the same way.
    #[test]
    fn nothing_carried_by_two_hinges_goes_farther_than_is_said() {
        let (a, b) = (0.3, 0.2);
        let hinge = |x: f64, off: f64| Joint {
            origin: Point3::new(x, 0.0, 0.0),
            direction: Vector3::z(),
            kind: AxisKind::Turn,
            off,
        };
        let tip = Point3::new(1.5, 0.0, 0.0);
        let said = farthest([hinge(0.0, a), hinge(1.0, b)].into_iter(), &[tip; 8]);
        let turn = |angle: f64| UnitQuaternion::from_axis_angle(&Vector3::z_axis(), angle);
        let mut most: f64 = 0.0;
        for i in -10..=10 {
            for j in -10..=10 {
                let at_second =
                    Point3::new(1.0, 0.0, 0.0) + turn(b * f64::from(i) / 10.0) * Vector3::new(0.5, 0.0, 0.0);
                most = most.max((turn(a * f64::from(j) / 10.0) * at_second - tip).norm());
            }
        }
        assert!(most <= said && said < 1.1 * most, "{most} m gone, {said} m said");
    }

    fn joint(kind: AxisKind, off: f64) -> Joint {
        Joint { origin: Point3::new(0.0, 0.2, 0.0), direction: Vector3::z(), kind, off }
    }

    /// A point 0.5 m from a hinge goes on a chord of 2 · 0.5 sin(h / 2), on a way of 0.5 h; a slide takes it as far as it slides. On a
    /// slide beneath a hinge both add up; on a slide beyond it the point is as much farther from the hinge.
    #[test]
    fn a_point_goes_on_a_chord_about_a_hinge_and_straight_on_a_slide() {
        let (tip, h) = ([Point3::new(0.3, 0.6, 0.7); 8], 0.4_f64);
        let (hinge, slide) = (joint(AxisKind::Turn, h), joint(AxisKind::Slide, 0.1));
        let chord = |radius: f64| 2.0 * radius * (h / 2.0).sin();
        let rows = [
            (vec![hinge], chord(0.5), 0.5 * h),
            (vec![slide], 0.1, 0.1),
            (vec![slide, hinge], 0.1 + chord(0.5), 0.1 + 0.5 * h),
            (vec![hinge, slide], 0.1 + chord(0.6), 0.1 + 0.6 * h),
            // More than half a turn takes it no farther than across; the way is as long as it is.
            (vec![joint(AxisKind::Turn, 5.0)], 1.0, 2.5),
            (vec![joint(AxisKind::Turn, 0.0)], 0.0, 0.0),
            (vec![], 0.0, 0.0),
        ];
        for (joints, far, long) in rows {
            let found = farthest(joints.iter().copied(), &tip);
            assert!((found - far).abs() < 1e-12, "{found} m is not {far} m: {joints:?}");
            let found = longest_from(joints.iter().copied(), |_| 0.5);
            assert!((found - long).abs() < 1e-12, "{found} m is not {long} m: {joints:?}");
        }
    }

    /// A bar along z that stands on the hinge's line stays where it is, off it by a hair it does not, on a slide neither.
    #[test]
    fn only_a_hinge_turns_a_round_body_in_itself() {
        let bar = |x: f64| [Point3::new(x, 0.2, -0.3), Point3::new(0.0, 0.2, 0.3)];
        assert!(joint(AxisKind::Turn, 0.1).turns_in_itself(&bar(0.0)));
        assert!(!joint(AxisKind::Turn, 0.1).turns_in_itself(&bar(1e-9)));
        assert!(!joint(AxisKind::Slide, 0.1).turns_in_itself(&bar(0.0)));
        let ends = |solid: &Solid| round_about(solid).map(|[low, high]| [low.z, high.z]);
        assert_eq!(ends(&Solid::Cylinder { radius: 0.1, half_height: 0.4 }), Some([-0.4, 0.4]));
        assert_eq!(ends(&Solid::Capsule { radius: 0.1, half_length: 0.4 }), Some([-0.5, 0.5]));
        assert_eq!(ends(&Solid::Sphere { radius: 0.1 }), Some([0.0, 0.0]));
        assert_eq!(ends(&Solid::Box { half: Vector3::repeat(0.1) }), None);
    }

    #[test]
    fn the_corners_hold_every_kind_of_solid() {
        let capsule = Solid::Capsule { radius: 0.1, half_length: 0.4 };
        assert_eq!(corners(&capsule)[7], Point3::new(0.1, 0.1, 0.5));
        let frustum = Solid::Frustum { radius_low: 0.1, radius_high: 0.3, half_height: 0.2 };
        assert_eq!(corners(&frustum)[0], Point3::new(-0.3, -0.3, -0.2));
        let cylinder = Solid::Cylinder { radius: 0.1, half_height: 0.4 };
        assert_eq!(corners(&cylinder)[4], Point3::new(-0.1, -0.1, 0.4));
        assert_eq!(corners(&Solid::Sphere { radius: 0.1 })[2], Point3::new(-0.1, 0.1, -0.1));
        let half = Vector3::new(0.1, 0.2, 0.3);
        let sides = corners(&Solid::Box { half });
        let at = |i: usize| [0, 1, 2].map(|axis| if i >> axis & 1 == 0 { -half[axis] } else { half[axis] });
        assert_eq!(sides, std::array::from_fn(|i| Point3::from(at(i))));
        // A triangle's box is no wider than its corners.
        let vertices =
            vec![Point3::new(0.1, 0.5, 0.2), Point3::new(0.4, 0.2, 0.3), Point3::new(0.2, 0.3, 0.9)];
        let mesh = crate::cell::Mesh { vertices, triangles: vec![[0, 1, 2]], closed: false };
        let found = corners(&Solid::Mesh(std::sync::Arc::new(mesh)));
        assert_eq!((found[0], found[7]), (Point3::new(0.1, 0.2, 0.2), Point3::new(0.4, 0.5, 0.9)));
    }
}
