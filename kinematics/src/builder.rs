//! Decides which parts make a sound arm: the way in for a program that has its numbers already and reads no arm file.
//!
//! [`Arm::new`] takes any parts; the builder refuses those that no arm has. An arm that cannot be solved is sound all the same and
//! says so by [`Arm::geometry`].

use crate::arm_file::accelerations;
use crate::description::Links;
use crate::{Arm, Axis, Coupling, DependentRange, Motor, Pose, Range};

/// What one axis may do.
///
/// Without a stated acceleration or jerk the rule for arm files holds, and the arm says that it is assumed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisLimits {
    /// Allowed values, rad; [`Range::ENDLESS`] for an axis that turns without end.
    pub range: Range,
    /// Greatest speed, rad/s, above 0; infinite where it is not limited.
    pub max_speed: f64,
    /// Greatest acceleration, rad/s², above 0.
    pub max_acceleration: Option<f64>,
    /// Greatest jerk, rad/s³, above 0.
    pub max_jerk: Option<f64>,
}

impl AxisLimits {
    /// No limits: enough where only places are asked for.
    pub const NONE: Self =
        Self { range: Range::ENDLESS, max_speed: f64::INFINITY, max_acceleration: None, max_jerk: None };
}

/// What is wrong with the parts of an arm. Axes and motors are counted from 1 in its text, from 0 in its fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BuildError {
    /// A link stands at a place that is not finite.
    #[error("the place of link {} has a number that is not finite", link)]
    LinkNotFinite {
        /// 1 to 6; 7 for the flange.
        link: usize,
    },
    /// The direction of an axis is not of length 1, or the rotation of a link is none.
    #[error("the direction of axis {} or the rotation of its link is not of length 1", axis + 1)]
    NotUnit {
        /// The axis, 0-based; 6 for the flange.
        axis: usize,
    },
    /// A range has its lower end above its upper end, or an end that is not a number.
    #[error("the range of {} {} has its lower end above its upper end", if *motor { "motor" } else { "axis" }, axis + 1)]
    EmptyRange {
        /// The axis or motor, 0-based.
        axis: usize,
        /// Whether it is a motor's.
        motor: bool,
    },
    /// A limit is not above 0.
    #[error("the {limit} of {} {} is not above 0", if *motor { "motor" } else { "axis" }, axis + 1)]
    NotPositive {
        /// The axis or motor, 0-based.
        axis: usize,
        /// Whether it is a motor's.
        motor: bool,
        /// Which limit.
        limit: &'static str,
    },
}

/// Puts an arm together and checks it.
///
/// ```
/// use seamwright_kinematics::description::Dimensions;
/// use seamwright_kinematics::{ArmBuilder, AxisLimits, Geometry, Range};
///
/// let dimensions = Dimensions {
///     axis2_height: 0.45,
///     axis2_forward: 0.15,
///     axis2_sideways: 0.0,
///     upper_arm: 0.6,
///     elbow_offset: 0.12,
///     forearm: 0.64,
///     wrist_to_flange: 0.1,
/// };
/// let limits = AxisLimits { range: Range { min: -3.0, max: 3.0 }, max_speed: 4.0, ..AxisLimits::NONE };
/// let arm = ArmBuilder::new("bench arm", dimensions.links()).limits([limits; 6]).build()?;
/// assert_eq!(arm.geometry(), Ok(Geometry::SphericalWristParallelElbow));
/// # Ok::<(), seamwright_kinematics::BuildError>(())
/// ```
#[derive(Clone, Debug)]
pub struct ArmBuilder {
    name: String,
    links: Links,
    limits: [AxisLimits; 6],
    drives: Option<(Coupling, [Motor; 6])>,
    dependent_ranges: Vec<DependentRange>,
}

impl ArmBuilder {
    /// An arm of these links, without limits so far. See [`crate::description`] for ways to have links.
    #[must_use]
    pub fn new(name: impl Into<String>, links: Links) -> Self {
        let (limits, dependent_ranges) = ([AxisLimits::NONE; 6], Vec::new());
        Self { name: name.into(), links, limits, drives: None, dependent_ranges }
    }

    /// What each axis may do.
    #[must_use]
    pub fn limits(mut self, limits: [AxisLimits; 6]) -> Self {
        self.limits = limits;
        self
    }

    /// Motors that turn the axes through `coupling`; their limits hold beside those of the axes.
    #[must_use]
    pub fn motors(mut self, coupling: Coupling, motors: [Motor; 6]) -> Self {
        self.drives = Some((coupling, motors));
        self
    }

    /// A range that depends on another axis, beside those given before.
    #[must_use]
    pub fn dependent_range(mut self, range: DependentRange) -> Self {
        self.dependent_ranges.push(range);
        self
    }

    /// The arm.
    ///
    /// # Errors
    /// [`BuildError`] names the first part that no arm has.
    pub fn build(self) -> Result<Arm, BuildError> {
        for axis in 0..6 {
            check_pose(&self.links.origin[axis], axis)?;
            if (self.links.direction[axis].norm() - 1.0).abs() > UNIT {
                return Err(BuildError::NotUnit { axis });
            }
            self.limits[axis].check(axis)?;
        }
        check_pose(&self.links.link6_from_flange, 6)?;
        for (axis, motor) in self.drives.iter().flat_map(|(_, motors)| motors.iter().enumerate()) {
            check_range(motor.range.unwrap_or(Range::ENDLESS), axis, true)?;
            check_positive(motor.max_speed, axis, true, "greatest speed")?;
        }
        let axes = std::array::from_fn(|i| {
            let limits = &self.limits[i];
            let (max_acceleration, max_jerk) =
                accelerations(limits.max_speed, limits.max_acceleration, limits.max_jerk);
            Axis {
                origin: self.links.origin[i],
                direction: self.links.direction[i],
                range: limits.range,
                max_speed: limits.max_speed,
                max_acceleration,
                max_jerk,
            }
        });
        let arm = Arm::new(self.name, axes, self.links.link6_from_flange)
            .with_dependent_ranges(self.dependent_ranges);
        Ok(match self.drives {
            Some((coupling, motors)) => arm.with_motors(coupling, motors),
            None => arm,
        })
    }
}

/// How far the length of a direction may be off 1: what a text with nine digits leaves.
const UNIT: f64 = 1e-8;

impl AxisLimits {
    fn check(&self, axis: usize) -> Result<(), BuildError> {
        check_range(self.range, axis, false)?;
        check_positive(Some(self.max_speed), axis, false, "greatest speed")?;
        check_positive(self.max_acceleration, axis, false, "greatest acceleration")?;
        check_positive(self.max_jerk, axis, false, "greatest jerk")
    }
}

// Comparisons are written so that what is not a number is refused.

fn check_range(range: Range, axis: usize, motor: bool) -> Result<(), BuildError> {
    if range.min <= range.max { Ok(()) } else { Err(BuildError::EmptyRange { axis, motor }) }
}

fn check_positive(
    value: Option<f64>,
    axis: usize,
    motor: bool,
    limit: &'static str,
) -> Result<(), BuildError> {
    if value.is_none_or(|value| value > 0.0) {
        Ok(())
    } else {
        Err(BuildError::NotPositive { axis, motor, limit })
    }
}

fn check_pose(pose: &Pose, axis: usize) -> Result<(), BuildError> {
    if !pose.translation.vector.iter().all(|x| x.is_finite()) {
        return Err(BuildError::LinkNotFinite { link: axis + 1 });
    }
    if (pose.rotation.norm() - 1.0).abs() <= UNIT { Ok(()) } else { Err(BuildError::NotUnit { axis }) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::description::{DhRow, standard_dh};
    use crate::{AxisValues, Basis};

    fn links() -> Links {
        let row = |d, a, alpha| DhRow { theta_offset: 0.0, d, a, alpha };
        let quarter = std::f64::consts::FRAC_PI_2;
        standard_dh(&[
            row(0.4, 0.1, -quarter),
            row(0.0, 0.6, 0.0),
            row(0.0, 0.1, -quarter),
            row(0.6, 0.0, quarter),
            row(0.0, 0.0, -quarter),
            row(0.1, 0.0, 0.0),
        ])
    }

    fn built(change: impl Fn(&mut Links, &mut [AxisLimits; 6])) -> Result<Arm, BuildError> {
        let (mut links, mut limits) = (links(), [AxisLimits::NONE; 6]);
        change(&mut links, &mut limits);
        ArmBuilder::new("test", links).limits(limits).build()
    }

    #[test]
    fn an_arm_without_limits_reaches_and_says_what_is_assumed() {
        let arm = built(|_, limits| limits[3].max_speed = 2.0).unwrap();
        let wanted = arm.base_from_flange(&AxisValues::new(0.3, -0.4, 0.5, 0.6, 0.7, 0.8));
        assert_eq!(arm.inverse(&wanted, &AxisValues::zeros()).all.len(), 8);
        assert_eq!(arm.axes()[3].max_acceleration.basis, Basis::Assumed);
    }

    #[test]
    fn parts_that_no_arm_has_are_refused_by_name() {
        let err = |change: fn(&mut Links, &mut [AxisLimits; 6])| built(change).unwrap_err().to_string();
        assert_eq!(
            err(|links, _| links.origin[2].translation.vector.x = f64::NAN),
            "the place of link 3 has a number that is not finite"
        );
        assert_eq!(
            err(|_, limits| limits[4].range = Range { min: 1.0, max: 0.0 }),
            "the range of axis 5 has its lower end above its upper end"
        );
        assert_eq!(
            err(|_, limits| limits[0].max_speed = f64::NAN),
            "the greatest speed of axis 1 is not above 0"
        );
        assert_eq!(
            err(|links, _| links.direction[5] = nalgebra::Unit::new_unchecked(nalgebra::Vector3::zeros())),
            "the direction of axis 6 or the rotation of its link is not of length 1"
        );
        let motors = [Motor { range: None, max_speed: Some(0.0) }; 6];
        let coupling = Coupling::new(nalgebra::Matrix6::identity(), AxisValues::zeros()).unwrap();
        let refused = ArmBuilder::new("test", links()).motors(coupling, motors).build().unwrap_err();
        assert_eq!(refused.to_string(), "the greatest speed of motor 1 is not above 0");
    }
}
