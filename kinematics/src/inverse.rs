//! Decides every way an arm can put its flange at a wanted pose.
//!
//! The method is chosen by [`crate::Geometry`]. Where an arm misses its class by a little (a file that writes π/2 as
//! 1.5708), each solution of the class is corrected on the true arm by damped Newton steps (Levenberg, Marquardt), and
//! dropped if no correction reaches the pose.

use arrayvec::ArrayVec;
use nalgebra::Vector2;

use crate::angle::LANES;
use crate::{Arm, AxisValues, Pose};

/// Beyond this (m) a place is no place.
const FARTHEST: f64 = 1e9;
/// Corrected solutions nearer than this in every axis (rad) are one.
const SAME: f64 = 1e-6;

/// One way to reach a pose.
#[derive(Clone, Copy, Debug, serde::Serialize, serde::Deserialize)]
pub struct Solution {
    /// Axis values, rad; each in (−π, π] unless chosen for its nearness.
    #[serde(rename = "axes_rad", with = "crate::written::axis_values")]
    pub axes: AxisValues,
    /// At a singularity, the axis (0-based) whose value is free and was taken from `near`.
    ///
    /// Where the shoulder and the wrist are singular at once, both axes keep their value and the first is named. Where the others cannot
    /// follow to that value (three parallel axes, arms of no special class), it comes as near to it as they can.
    pub free_axis: Option<usize>,
}

/// What keeps a pose out of reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReachBound {
    /// The stretched arm is too short.
    TooFar,
    /// The folded arm cannot come that close to its own shoulder.
    TooNear,
    /// Too close to the line of axis 1.
    TooNearAxis1,
    /// The wrist (its axes not square to each other) cannot turn that way, wherever its centre is.
    Orientation,
}

impl ReachBound {
    /// What keeps `nearest` from `wanted`, both (distance from axis 1, height along it) as the shoulder is.
    pub(crate) fn between(wanted: &Vector2<f64>, nearest: &Vector2<f64>, shoulder: &Vector2<f64>) -> Self {
        let way = wanted - nearest;
        if wanted.x < nearest.x && way.x.abs() > 4.0 * way.y.abs() && wanted.x < shoulder.x {
            Self::TooNearAxis1
        } else if way.dot(&(nearest - shoulder)) >= 0.0 {
            Self::TooFar
        } else {
            Self::TooNear
        }
    }
}

/// How far a pose is out of reach.
#[derive(Clone, Copy, Debug, serde::Serialize, serde::Deserialize)]
pub struct Shortfall {
    /// Distance from the wanted wrist centre to the nearest one the arm can take, whatever the axis ranges (m).
    ///
    /// With axes 2, 3 and 4 parallel, and for arms without a spherical wrist, the place depends on the orientation: then
    /// the nearest one found with the flange turned as wanted (for an arm of no special class: of the flange's origin),
    /// and a nearer one can be passed over.
    #[serde(rename = "distance_m")]
    pub distance: f64,
    /// What stops it.
    pub bound: ReachBound,
}

/// Every way to reach one pose; none means out of reach by `shortfall`.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Solutions {
    /// The solutions, each once, axis ranges not considered.
    pub all: ArrayVec<Solution, 16>,
    /// Set where `all` is empty; not known where the pose is not finite (or beyond 1e9 m) or [`Arm::geometry`] has no solver.
    pub shortfall: Option<Shortfall>,
    /// Places where a further solution may touch the arm's reach, or miss it, by less than rounding lets tell: all but always 0, and always
    /// for arms exactly of a closed form.
    pub unresolved: usize,
}

impl Solutions {
    /// None yet.
    pub(crate) fn none() -> Self {
        Self { all: ArrayVec::new(), shortfall: None, unresolved: 0 }
    }
}

impl Arm {
    /// Every axis vector that puts the flange at `base_from_flange`, axis ranges not considered.
    ///
    /// Where an axis is free (a singularity) it keeps its value in `near`. A pose that misses the arm's reach by less
    /// than 1e-10 m counts as reached, and roots nearer to each other than 1e-6 rad as one.
    ///
    /// ```
    /// use seamwright_kinematics::description::Dimensions;
    /// use seamwright_kinematics::{ArmBuilder, AxisValues};
    ///
    /// # let dimensions = Dimensions {
    /// #     axis2_height: 0.45, axis2_forward: 0.15, axis2_sideways: 0.0, upper_arm: 0.6, elbow_offset: 0.12,
    /// #     forearm: 0.64, wrist_to_flange: 0.1,
    /// # };
    /// let arm = ArmBuilder::new("bench arm", dimensions.links()).build()?;
    /// let axes = AxisValues::new(0.3, -0.2, 0.4, 0.1, 0.9, -0.5);
    /// let found = arm.inverse(&arm.base_from_flange(&axes), &axes);
    /// assert!(found.all.iter().any(|solution| (solution.axes - axes).amax() < 1e-12));
    ///
    /// let mut too_far = arm.base_from_flange(&axes);
    /// too_far.translation.vector.x += 3.0;
    /// let none = arm.inverse(&too_far, &axes);
    /// let shortfall = none.shortfall.expect("nothing reaches there");
    /// assert!(none.all.is_empty() && shortfall.distance > 1.0);
    /// # Ok::<(), seamwright_kinematics::BuildError>(())
    /// ```
    #[must_use]
    pub fn inverse(&self, base_from_flange: &Pose, near: &AxisValues) -> Solutions {
        let mut solutions = Solutions::none();
        let Some(solver) = self.solver().ok().filter(|_| is_sane(base_from_flange)) else { return solutions };
        if solver.plain.as_ref().is_some_and(|plain| plain.solve(base_from_flange, &mut solutions)) {
            return solutions;
        }
        solver.solve_carefully(base_from_flange, near, &mut solutions);
        solutions
    }

    /// The same for many poses: `each` is told the place in `base_from_flange` and what [`Arm::inverse`] answers there, in order.
    ///
    /// For the usual arms (a square spherical wrist behind parallel axes 2 and 3; three parallel axes and a square hand) eight poses are
    /// solved at once, two to three times as fast as one after the other, to the same bits. Nothing is allocated.
    ///
    /// ```
    /// # use seamwright_kinematics::description::Dimensions;
    /// # use seamwright_kinematics::{ArmBuilder, AxisValues};
    /// # let dimensions = Dimensions {
    /// #     axis2_height: 0.45, axis2_forward: 0.15, axis2_sideways: 0.0, upper_arm: 0.6, elbow_offset: 0.12,
    /// #     forearm: 0.64, wrist_to_flange: 0.1,
    /// # };
    /// # let arm = ArmBuilder::new("bench arm", dimensions.links()).build()?;
    /// let turned = |q6: f64| arm.base_from_flange(&AxisValues::new(0.3, -0.2, 0.4, 0.1, 0.9, q6));
    /// let poses: Vec<_> = (0..20).map(|i| turned(0.1 * f64::from(i))).collect();
    /// let mut most = 0;
    /// arm.inverse_each(&poses, &AxisValues::zeros(), |_, found| most = most.max(found.all.len()));
    /// assert_eq!(most, 8);
    /// # Ok::<(), seamwright_kinematics::BuildError>(())
    /// ```
    pub fn inverse_each(
        &self,
        base_from_flange: &[Pose],
        near: &AxisValues,
        mut each: impl FnMut(usize, &Solutions),
    ) {
        let (eights, rest) = base_from_flange.as_chunks();
        let Some((solver, plain)) = self.solver().ok().and_then(|s| s.plain.as_ref().map(|plain| (s, plain)))
        else {
            base_from_flange.iter().enumerate().for_each(|(i, pose)| each(i, &self.inverse(pose, near)));
            return;
        };
        let mut solutions: [Solutions; LANES] = std::array::from_fn(|_| Solutions::none());
        for (eight, poses) in eights.iter().enumerate() {
            let careful = plain.solve_eight(poses, &mut solutions);
            for (lane, solutions) in solutions.iter_mut().enumerate() {
                if careful[lane] && is_sane(&poses[lane]) {
                    solver.solve_carefully(&poses[lane], near, solutions);
                }
                each(LANES * eight + lane, solutions);
                solutions.all.clear();
                (solutions.shortfall, solutions.unresolved) = (None, 0);
            }
        }
        for (i, pose) in rest.iter().enumerate() {
            each(LANES * eights.len() + i, &self.inverse(pose, near));
        }
    }

    /// The solution that `from` (rad) comes to when the flange goes on to `base_from_flange`, on the turns of `from`; none
    /// where Newton's steps from there reach none.
    ///
    /// For poses close to that of `from`: it finds one solution, much faster than [`Arm::inverse`] finds all, for an arm
    /// of any geometry. Next to a singularity it may come to another branch: compare the length of the step with what
    /// the arm can do in the time.
    #[must_use]
    pub fn follow(&self, base_from_flange: &Pose, from: &AxisValues) -> Option<AxisValues> {
        let solver = self.solver().ok().filter(|_| is_sane(base_from_flange))?;
        let axes = solver.lines.polished(*from, base_from_flange)?;
        Some(self.nearest_turn(&axes, from))
    }
}

fn is_sane(pose: &Pose) -> bool {
    pose.translation.vector.iter().all(|x| x.abs() < FARTHEST)
        && pose.rotation.coords.iter().all(|x| x.abs() < 2.0)
}

/// Whether two solutions are one.
pub(crate) fn is_same(one: &AxisValues, other: &AxisValues) -> bool {
    one.iter().zip(other.iter()).all(|(a, b)| crate::turn::wrapped(a - b).abs() < SAME)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use proptest::prelude::*;
    use proptest::test_runner::RngSeed;

    use super::*;
    use crate::description::{Dimensions, Links, OriginAxis, origin_axes};
    use crate::turn::wrapped;
    use crate::{Axis, Based, Basis, Range};

    fn arm(links: &Links) -> Arm {
        let assumed = |value| Based { value, basis: Basis::Assumed };
        let axes = std::array::from_fn(|i| Axis {
            origin: links.origin[i],
            direction: links.direction[i],
            range: Range { min: -PI, max: PI },
            max_speed: 1.0,
            max_acceleration: assumed(1.0),
            max_jerk: assumed(1.0),
        });
        Arm::new("test".to_owned(), axes, links.link6_from_flange)
    }

    fn usual(axis2_sideways: f64) -> Dimensions {
        Dimensions {
            axis2_height: 0.45,
            axis2_forward: 0.15,
            axis2_sideways,
            upper_arm: 0.6,
            elbow_offset: 0.12,
            forearm: 0.64,
            wrist_to_flange: 0.1,
        }
    }

    /// Axis 1 leaning against axis 2, a wrist whose axes are not square, axis 3 in the opposite sense.
    fn leaning() -> Links {
        let line = |point: [f64; 3], direction: [f64; 3]| OriginAxis {
            point: point.into(),
            direction: nalgebra::UnitVector3::new_normalize(direction.into()),
        };
        let axes = [
            line([0.0, 0.0, 0.0], [0.1, 0.2, 1.0]),
            line([0.2, 0.3, 0.4], [0.1, 1.0, 0.3]),
            line([0.3, 0.1, 1.0], [-0.1, -1.0, -0.3]),
            line([0.9, 0.2, 1.1], [1.0, 0.1, 0.0]),
            line([0.9, 0.2, 1.1], [0.2, 0.7, 0.6]),
            line([0.9, 0.2, 1.1], [0.9, -0.3, 0.2]),
        ];
        origin_axes(
            &axes,
            &Pose::new(nalgebra::Vector3::new(1.0, 0.3, 1.2), nalgebra::Vector3::new(0.3, 1.0, -0.4)),
        )
    }

    /// Axes 2, 3 and 4 parallel, the hand square: heights and lengths (m).
    fn collaborative([height, sideways, upper, fore]: [f64; 4]) -> Links {
        let line = |point: [f64; 3], direction: [f64; 3]| OriginAxis {
            point: point.into(),
            direction: nalgebra::UnitVector3::new_normalize(direction.into()),
        };
        let out = upper + fore;
        let axes = [
            line([0.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
            line([0.0, 0.1, height], [0.0, 1.0, 0.0]),
            line([upper, 0.1, height], [0.0, 1.0, 0.0]),
            line([out, sideways, height], [0.0, -1.0, 0.0]),
            line([out, sideways, height - 0.1], [0.0, 0.0, -1.0]),
            line([out, sideways + 0.09, height - 0.1], [0.0, 1.0, 0.0]),
        ];
        let flange = nalgebra::Vector3::new(out, sideways + 0.2, height - 0.1);
        origin_axes(&axes, &Pose::new(flange, nalgebra::Vector3::new(0.3, 1.0, -0.4)))
    }

    /// Links whose frames turn about their third axis, each from the one before: place (m), and turns about its fixed axes (rad).
    fn chained(rows: [([f64; 3], [f64; 3]); 6], flange: f64) -> Links {
        let pose = |([x, y, z], [about_x, about_y, about_z]): ([f64; 3], [f64; 3])| {
            let rotation = nalgebra::UnitQuaternion::from_euler_angles(about_x, about_y, about_z);
            Pose::from_parts(nalgebra::Vector3::new(x, y, z).into(), rotation)
        };
        Links {
            origin: rows.map(pose),
            direction: [nalgebra::Vector3::z_axis(); 6],
            link6_from_flange: Pose::translation(0.0, 0.0, flange),
        }
    }

    fn eighths(of_a_turn: [f64; 6]) -> AxisValues {
        AxisValues::from(of_a_turn) * (PI / 4.0)
    }

    /// The polynomial then has double zeros, here where the search cuts the circle. The numbers of solutions are those that Newton's
    /// steps from 4000 random stances find (numpy, this arm by rotation matrices).
    #[test]
    fn solutions_that_share_the_value_of_an_axis_are_all_found() {
        let straight = [0.0; 3];
        let quarter = PI / 2.0;
        let offset_wrist = chained(
            [
                ([0.0, 0.0, 0.4], straight),
                ([0.1, 0.02, 0.0], [-quarter, 0.0, 0.0]),
                ([0.0, -0.5, 0.0], straight),
                ([0.1, 0.0, 0.0], [0.0, quarter, 0.0]),
                ([0.0, 0.0, 0.5], [-quarter, 0.0, 0.0]),
                ([0.05, 0.0, 0.0], [quarter, 0.0, 0.0]),
            ],
            0.1,
        );
        let offset_hand = chained(
            [
                ([0.0, 0.0, 0.16], straight),
                ([0.0, 0.13, 0.0], [quarter, 0.0, 0.0]),
                ([0.6, 0.0, -0.01], straight),
                ([0.57, 0.0, 0.03], straight),
                ([0.0, -0.1, 0.02], [quarter, 0.0, 0.0]),
                ([0.001, 0.09, 0.0], [-quarter, 0.0, 0.0]),
            ],
            0.1,
        );
        for (links, axes, count) in [
            (&offset_wrist, [-4.0, -2.0, -3.0, -2.0, 3.0, 1.0], 10),
            (&offset_wrist, [-3.0, 0.0, 1.0, -2.0, 2.0, 2.0], 8),
            (&offset_hand, [4.0, 2.0, 2.0, 0.0, -3.0, 4.0], 8),
        ] {
            let (arm, axes) = (arm(links), eighths(axes));
            assert_eq!(arm.geometry(), Ok(crate::Geometry::General));
            check(&arm, &axes, 1e-11, 1e-9);
            let found = arm.inverse(&arm.base_from_flange(&axes), &axes);
            assert_eq!((found.all.len(), found.unresolved), (count, 0), "{found:?}");
        }
    }

    /// Axes 4 and 6 lie on one line while axis 5, which misses that line, is at 0: there only the sum of both counts.
    #[test]
    fn a_free_axis_of_an_arm_of_no_special_class_keeps_its_value() {
        let line = |point: [f64; 3], direction: [f64; 3]| OriginAxis {
            point: point.into(),
            direction: nalgebra::UnitVector3::new_normalize(direction.into()),
        };
        let axes = [
            line([0.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
            line([0.15, 0.0, 0.45], [0.0, 1.0, 0.0]),
            line([0.15, 0.0, 1.05], [0.0, 1.0, 0.0]),
            line([0.3, 0.02, 1.17], [1.0, 0.0, 0.0]),
            line([0.8, 0.02, 1.23], [0.0, 1.0, 0.0]),
            line([0.9, 0.02, 1.17], [1.0, 0.0, 0.0]),
        ];
        let flange =
            Pose::new(nalgebra::Vector3::new(1.0, 0.02, 1.17), nalgebra::Vector3::new(0.3, 1.0, -0.4));
        let arm = arm(&origin_axes(&axes, &flange));
        assert_eq!(arm.geometry(), Ok(crate::Geometry::General));
        let at = AxisValues::new(0.3, -0.2, 0.4, 0.5, 0.0, 0.7);
        let pose = arm.base_from_flange(&at);
        for kept in [0.0, 1.1, -2.9, 4.0] {
            let mut near = at;
            near[3] = kept;
            let found = arm.inverse(&pose, &near);
            let free: Vec<_> = found.all.iter().filter(|solution| solution.free_axis.is_some()).collect();
            let expected = AxisValues::new(0.3, -0.2, 0.4, kept, 0.0, 1.2 - kept);
            let [only] = free[..] else { unreachable!("{found:?}") };
            assert_eq!((only.free_axis, only.axes[3]), (Some(3), kept), "{only:?}");
            assert!((only.axes - expected).map(wrapped).amax() < 1e-7, "{only:?} {expected:?}");
            assert!((arm.base_from_flange(&only.axes).inverse() * pose).translation.vector.norm() < 1e-10);
            // Solutions that are by themselves come in pairs.
            assert_eq!(((found.all.len() - 1) % 2, found.unresolved), (0, 0), "{found:?}");
        }
    }

    /// Folded or stretched to the end, where two solutions have become one and rounding may put the pose just out of reach; and where
    /// an arm that misses its class by a little has an axis that is all but free.
    #[test]
    fn a_pose_at_the_edge_of_reach_is_reached() {
        let quarter = PI / 2.0;
        let parallel_first = chained(
            [
                ([0.0, 0.0, 0.3], [0.0; 3]),
                ([0.4, 0.0, 0.05], [0.0; 3]),
                ([0.35, 0.0, 0.0], [quarter, 0.0, 0.0]),
                ([0.3, 0.1, 0.0], [0.0, quarter, 0.0]),
                ([0.0, 0.0, 0.2], [-quarter, 0.0, 0.0]),
                ([0.0, 0.0, 0.0], [quarter, 0.0, 0.0]),
            ],
            0.05,
        );
        let meeting_in_the_middle = chained(
            [
                ([0.0, 0.0, 0.3], [0.0; 3]),
                ([0.3, 0.1, 0.0], [quarter, 0.2, 0.0]),
                ([0.3, 0.0, 0.1], [0.4, 1.0, 0.0]),
                ([0.0, 0.0, 0.0], [quarter, 0.0, 0.0]),
                ([0.0, 0.0, 0.0], [-1.2, 0.0, 0.0]),
                ([0.1, 0.2, 0.3], [0.6, 0.5, 0.0]),
            ],
            0.1,
        );
        let usual_but_for = |bit: f64| {
            chained(
                [
                    ([0.0, 0.0, 0.45], [0.0; 3]),
                    ([bit, 0.0, 0.0], [-quarter, 0.0, 0.0]),
                    ([0.0, -0.6, bit], [0.0; 3]),
                    ([bit, 0.0, 0.0], [0.0, quarter, 0.0]),
                    ([bit, 0.0, 0.64], [-quarter, bit, 0.0]),
                    ([0.0, bit, 0.0], [quarter, 0.0, 0.0]),
                ],
                0.1,
            )
        };
        for (links, axes) in [
            (&parallel_first, [-2.0, 4.0, -2.0, 4.0, 2.0, 1.0]),
            (&parallel_first, [0.0, -4.0, -2.0, 0.0, 4.0, 4.0]),
            (&meeting_in_the_middle, [4.0, -3.0, -4.0, -4.0, 2.0, 1.0]),
            (&usual_but_for(1e-9), [3.0, -4.0, -2.0, -4.0, 2.0, -4.0]),
            (&usual_but_for(1e-9), [2.0, 1.0, 2.0, 1.0, 0.0, 4.0]),
            (&usual_but_for(1e-9), [2.0, 4.0, 2.0, -1.0, 2.0, -3.0]),
            (&usual_but_for(1e-6), [2.0, 4.0, 2.0, -1.0, 2.0, -3.0]),
        ] {
            let (arm, axes) = (arm(links), eighths(axes));
            let pose = arm.base_from_flange(&axes);
            let found = arm.inverse(&pose, &AxisValues::zeros());
            assert!(!found.all.is_empty(), "{axes}: {found:?}");
            for solution in &found.all {
                assert!(pose_error(&arm, &solution.axes, &pose) < 1e-10, "{axes}: {solution:?}");
            }
        }
    }

    /// The wrist's axes miss each other by 12 µm, next to where they would lie in one plane: what is one way with a free axis for a wrist
    /// that meets is several ways here, far from each other.
    #[test]
    fn ways_far_apart_of_a_wrist_that_all_but_meets_are_all_found() {
        let (quarter, miss) = (PI / 2.0, 1.2e-5);
        let links = chained(
            [
                ([0.0, 0.0, 0.45], [0.0; 3]),
                ([0.15, 0.0, 0.0], [-quarter, 0.0, 0.0]),
                ([0.0, -0.6, 0.0], [0.0; 3]),
                ([0.12, 0.0, 0.0], [0.0, quarter, 0.0]),
                ([miss, 0.0, 0.64], [-quarter, 0.0, 0.0]),
                ([0.0, 0.0, miss], [quarter, 0.0, 0.0]),
            ],
            0.1,
        );
        let arm = arm(&links);
        assert_eq!(arm.geometry(), Ok(crate::Geometry::SphericalWristParallelElbow));
        for axes in [
            eighths([-4.0, 2.0, 4.0, -1.0, 4.0, -4.0]),
            eighths([-4.0, 1.0, -3.0, -1.0, -4.0, 4.0]),
            // Next to axis 1 as well: found by following a bent motion.
            AxisValues::new(
                1.169406581086,
                -1.077560502565,
                2.126833664148,
                -0.608948538075,
                -2.242295504611,
                0.260188298844,
            ),
        ] {
            check(&arm, &axes, 1e-10, 1e-6);
        }
    }

    /// Axes 1 and 2 meet, 2 and 3 are parallel, 3 and 4 and 4 and 5 meet, and axis 6 passes axis 5 at some distance: with half a turn of axes
    /// 1 and 4 each solution has a partner, so that zeros of the only cut that serves come in pairs, and lie close together in places.
    fn offset_wrist_behind_a_plain_shoulder() -> Links {
        let line = |point: [f64; 3], direction: [f64; 3]| OriginAxis {
            point: point.into(),
            direction: nalgebra::UnitVector3::new_normalize(direction.into()),
        };
        let axes = [
            line([0.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
            line([0.0, 0.0, 0.3], [0.0, 1.0, 0.0]),
            line([0.0, 0.0, 0.98], [0.0, -1.0, 0.0]),
            line([0.0, 0.0, 0.98], [0.0, 0.0, 1.0]),
            line([0.0, 0.0, 1.5], [0.0, -1.0, 0.0]),
            line([0.0, 0.15, 1.5], [0.0, 0.0, 1.0]),
        ];
        origin_axes(&axes, &Pose::translation(0.0, 0.15, 1.63))
    }

    /// Solutions that are not singular come in pairs.
    #[test]
    fn partners_by_half_a_turn_of_two_axes_are_all_found() {
        let arm = arm(&offset_wrist_behind_a_plain_shoulder());
        assert_eq!(arm.geometry(), Ok(crate::Geometry::General));
        for k in 0..1500 {
            let axes = crate::general::sample_axes(1000 + k);
            check(&arm, &axes, 1e-10, 1e-6);
            let found = arm.inverse(&arm.base_from_flange(&axes), &AxisValues::zeros());
            assert!(found.all.len().is_multiple_of(2) || found.unresolved > 0, "{axes}: {found:?}");
        }
    }

    /// Next to places where solutions of its class become one, an arm that misses it by 2 µm has others than those corrected.
    #[test]
    fn an_arm_near_its_class_is_solved_next_to_singular_stances_too() {
        let mut links = collaborative([0.4, 0.12, 0.6, 0.5]);
        let tilt = nalgebra::UnitQuaternion::from_axis_angle(&nalgebra::Vector3::x_axis(), 2e-6);
        links.direction[3] = tilt * links.direction[3];
        let arm = arm(&links);
        assert_eq!(arm.geometry(), Ok(crate::Geometry::ThreeParallel));
        for k in 0..60 {
            let mut axes = crate::general::sample_axes(k);
            // Axis 5 brings axis 6 parallel to axis 4 at a quarter turn, axis 3 stretches the arm.
            (if k % 2 == 0 { axes[2] = 0.0 } else { axes[4] = 0.0 });
            for off in [0.0, 1e-5, 1e-4, 1e-3] {
                let axes = axes.map(|q| q + off);
                check(&arm, &axes, 1e-10, 1e-3);
            }
        }
    }

    /// With axis 5 at half a turn axes 4 and 6 pass each other at 4e-10 rad: for ten digits they are parallel.
    #[test]
    fn a_hand_square_to_ten_digits_is_singular_at_half_a_turn_too() {
        let mut links = collaborative([0.4, 0.12, 0.6, 0.5]);
        let tilt = nalgebra::UnitQuaternion::from_axis_angle(&nalgebra::Vector3::x_axis(), 2e-10);
        links.direction[4] = tilt * links.direction[4];
        let arm = arm(&links);
        for axes in [eighths([-1.0, 0.0, 0.0, -2.0, 4.0, 0.0]), eighths([-1.0, 0.5, 1.5, -2.0, 4.0, 0.7])] {
            check(&arm, &axes, 1e-9, 1e-6);
        }
    }

    fn pose_error(arm: &Arm, axes: &AxisValues, wanted: &Pose) -> f64 {
        let now = arm.base_from_flange(axes);
        let way = (now.translation.vector - wanted.translation.vector).norm();
        way.max(now.rotation.angle_to(&wanted.rotation).abs())
    }

    /// `tolerance` is of the pose, `likeness` of the axes to those that made the pose.
    fn check(arm: &Arm, axes: &AxisValues, tolerance: f64, likeness: f64) {
        let wanted = arm.base_from_flange(axes);
        let found = arm.inverse(&wanted, axes);
        assert!(
            found.all.iter().any(|s| (s.axes - axes).map(wrapped).amax() < likeness),
            "{axes} is not among {:?}",
            found.all
        );
        for (i, solution) in found.all.iter().enumerate() {
            let error = pose_error(arm, &solution.axes, &wanted);
            assert!(error < tolerance, "{axes}: solution {solution:?} is {error:e} off");
            let twin = found.all[..i].iter().find(|other| is_same(&other.axes, &solution.axes));
            assert!(twin.is_none(), "{axes}: {solution:?} is twice in {:?}", found.all);
        }
    }

    fn any_axes() -> impl Strategy<Value = AxisValues> {
        prop::array::uniform6(-PI..PI).prop_map(AxisValues::from)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

        #[test]
        fn the_generating_axes_are_among_the_solutions(axes in any_axes(), sideways in -0.2..0.2_f64) {
            check(&arm(&usual(0.0).links()), &axes, 1e-11, 1e-6);
            check(&arm(&usual(sideways).links()), &axes, 1e-11, 1e-6);
            check(&arm(&leaning()), &axes, 1e-11, 1e-6);
        }

        #[test]
        fn the_quick_way_answers_as_the_careful_one(
            axes in any_axes(), bent in prop::sample::select(vec![1e-9, 1e-5, 2e-4, 1e-2, 1.0]), lengths in prop::array::uniform4(-0.3..0.9_f64),
            stretched: bool, three_parallel: bool,
        ) {
            let [height, sideways, upper, fore] = lengths;
            let usual = Dimensions { axis2_height: height, upper_arm: upper, forearm: fore, ..usual(sideways) };
            let arm = arm(&if three_parallel { collaborative(lengths) } else { usual.links() });
            let mut axes = axes;
            axes[if stretched { 2 } else { 4 }] *= bent;
            prop_assume!(upper.abs().min(fore.abs()) > 0.02);
            let solver = arm.solver().expect("usual");
            prop_assert!(solver.plain.is_some());
            let pose = arm.base_from_flange(&axes);
            let quick = arm.inverse(&pose, &axes);
            let mut careful = Solutions::none();
            solver.solve_carefully(&pose, &axes, &mut careful);
            prop_assert_eq!(quick.all.len(), careful.all.len(), "{:?} {:?}", quick, careful);
            for (one, other) in quick.all.iter().zip(&careful.all) {
                prop_assert!((one.axes - other.axes).map(wrapped).amax() < 1e-7, "{:?} {:?}", one, other);
                prop_assert_eq!(one.free_axis, other.free_axis);
                // An axis that moves the flange by less than 1e-10 counts as free.
                prop_assert!(pose_error(&arm, &one.axes, &pose) < 2e-10);
            }
        }

        #[test]
        fn many_poses_are_answered_as_one_by_one(axes in prop::collection::vec(any_axes(), 0..30), far in 0..30_usize, three_parallel: bool) {
            for arm in [arm(&if three_parallel { collaborative([0.2, 0.1, 0.5, 0.4]) } else { usual(0.1).links() }), arm(&leaning())] {
                let mut poses: Vec<Pose> = axes.iter().map(|axes| arm.base_from_flange(axes)).collect();
                if let Some(pose) = poses.get_mut(far) {
                    pose.translation.vector.z += 9.0;
                }
                if let Some(pose) = poses.get_mut(far / 2) {
                    pose.translation.vector.z = f64::NAN;
                }
                if let Some(axes) = axes.get(far / 3) {
                    let mut singular = *axes;
                    singular[4] = 0.0;
                    poses[far / 3] = arm.base_from_flange(&singular);
                }
                let near = AxisValues::repeat(0.2);
                let mut next = 0;
                arm.inverse_each(&poses, &near, |i, found| {
                    assert_eq!(i, next);
                    next += 1;
                    let alone = arm.inverse(&poses[i], &near);
                    assert_eq!(format!("{found:?}"), format!("{alone:?}"));
                });
                prop_assert_eq!(next, poses.len());
                let mut next = 0;
                arm.forward_each(&axes, |i, found| {
                    assert_eq!(i, next);
                    next += 1;
                    assert_eq!(format!("{:?}", found.forward()), format!("{:?}", arm.forward(&axes[i])));
                });
                prop_assert_eq!(next, axes.len());
            }
        }

        #[test]
        fn a_branch_is_followed_from_a_near_pose(axes in any_axes(), step in prop::array::uniform6(-1e-3..1e-3_f64)) {
            for links in [usual(0.1).links(), leaning()] {
                let arm = arm(&links);
                let from = axes * 2.5;
                let near = arm.singularity(&from);
                // Next to a singularity another branch is near as well.
                if near.wrist.min(near.elbow).min(near.shoulder) < 0.1 {
                    continue;
                }
                let there = from + AxisValues::from(step);
                let found = arm.follow(&arm.base_from_flange(&there), &from);
                prop_assert!(found.is_some_and(|found| (found - there).amax() < 1e-8), "{found:?} {there}");
            }
        }

        #[test]
        fn an_arm_with_axes_rounded_in_its_file_is_corrected(axes in any_axes()) {
            let mut links = usual(0.0).links();
            links.origin[2].rotation = nalgebra::UnitQuaternion::from_euler_angles(4e-6, 0.0, 3e-6);
            links.origin[4].translation.vector.z = 3e-6;
            let arm = arm(&links);
            // Nearer to a singularity the corrections need not lead back to the generating axes.
            let near = arm.singularity(&axes);
            prop_assume!(near.wrist.min(near.elbow).min(near.shoulder) > 0.03);
            check(&arm, &axes, 1e-10, 1e-6);
        }

        #[test]
        fn a_singular_pose_is_reached_with_the_free_axis_kept(
            axes in any_axes(), wrist in prop::sample::select(vec![0.0, 1e-12, 1e-7, -1e-5]),
            elbow in prop::sample::select(vec![0.0, 1e-9, 1e-5]), equal: bool, folded: bool,
        ) {
            let mut dimensions = usual(0.0);
            if equal {
                dimensions = Dimensions { elbow_offset: 0.0, forearm: 0.6, ..dimensions };
            }
            let arm = arm(&dimensions.links());
            let mut bent = axes;
            bent[4] = wrist;
            check(&arm, &bent, 1e-9, 1e-4);
            let stretched = dimensions.elbow_offset.atan2(dimensions.forearm) - PI / 2.0;
            let mut stretched_out = axes;
            prop_assume!(axes[4].sin().abs() > 1e-3);
            stretched_out[2] = stretched + if folded { PI - elbow } else { elbow };
            // Folded onto axis 2 the wrist centre leaves axis 2 all but free.
            if !(equal && folded && elbow > 0.0) {
                check(&arm, &stretched_out, 1e-9, 1e-4);
            }
            // Both at once: one magnifies the rounding of the other, so only the pose can be asked for.
            stretched_out[4] = wrist;
            let wanted = arm.base_from_flange(&stretched_out);
            let found = arm.inverse(&wanted, &stretched_out);
            prop_assert!(!found.all.is_empty());
            for solution in found.all {
                prop_assert!(pose_error(&arm, &solution.axes, &wanted) < 1e-9);
            }
        }
    }
}
