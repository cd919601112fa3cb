//! Decides what an arm uses of its limits when it is told to go at a share of its speed.
//!
//! A percentage cuts speeds. What it does to accelerations differs from controller to controller: where the whole motion is slowed
//! evenly, accelerations fall with its square and jerks with its cube; where speeds alone are cut, neither falls. In between stands a
//! power: accelerations fall with the share to this power, jerks with one and a half times it, which meets both ends.

use seamwright_kinematics::Arm;

use crate::cell::MountedArm;

/// A share of an arm's speeds, and what it leaves of accelerations and jerks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// Above 0, at most 1: of the speeds.
    share: f64,
    /// Accelerations over those of the whole motion slowed evenly.
    acceleration: f64,
    /// Jerks over those.
    jerk: f64,
}

impl Pace {
    /// The power at which the whole motion is slowed evenly.
    pub const EVEN: f64 = 2.0;

    /// `share` (above 0, at most 1) of the speeds, accelerations falling with it to this `power`.
    #[must_use]
    pub fn new(share: f64, power: f64) -> Self {
        let over = power - Self::EVEN;
        // At a power of 2 these are 1 to the bit.
        Self { share, acceleration: share.powf(over), jerk: share.powf(1.5 * over) }
    }

    /// That of the arm's moves off the weld.
    #[must_use]
    pub fn of(arm: &MountedArm) -> Self {
        Self::new(arm.air_move_share.value, arm.pace_power)
    }

    /// Of the speeds.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.share
    }

    /// Accelerations over those of the whole motion slowed evenly, which fall with the square of the share.
    #[must_use]
    pub fn extra_acceleration(&self) -> f64 {
        self.acceleration
    }

    /// Jerks over those of the whole motion slowed evenly, which fall with the cube of the share.
    #[must_use]
    pub fn extra_jerk(&self) -> f64 {
        self.jerk
    }

    /// Greatest speed of the axis with this index, rad/s.
    #[must_use]
    pub fn speed_of(&self, arm: &Arm, axis: usize) -> f64 {
        arm.axes()[axis].max_speed * self.share
    }

    /// Its greatest acceleration, rad/s².
    #[must_use]
    pub fn acceleration_of(&self, arm: &Arm, axis: usize) -> f64 {
        arm.axes()[axis].max_acceleration.value * self.share.powi(2) * self.acceleration
    }

    /// Its greatest jerk, rad/s³.
    #[must_use]
    pub fn jerk_of(&self, arm: &Arm, axis: usize) -> f64 {
        arm.axes()[axis].max_jerk.value * self.share.powi(3) * self.jerk
    }

    /// Whether the whole motion is slowed evenly.
    #[must_use]
    pub fn is_even(&self) -> bool {
        self.acceleration == 1.0 && self.jerk == 1.0
    }
}

/// The whole motion slowed evenly to this share.
impl From<f64> for Pace {
    fn from(share: f64) -> Self {
        Self { share, acceleration: 1.0, jerk: 1.0 }
    }
}
