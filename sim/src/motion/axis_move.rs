//! Decides how the arm goes straight in axis space: one profile for all axes, so that the way is the straight line itself.
//!
//! Every axis covers the same share of its own distance at the same time. Limits of that share are the least over the axes
//! of limit over distance, for speed, acceleration and jerk each; the slowest axis alone is only a lower bound. Motors that
//! turn several axes limit the speed in the same way.

use seamwright_kinematics::{Arm, AxisValues};

use super::{Limits, Profile};

/// The arm straight in axis space, from rest to rest.
#[derive(Clone, Debug)]
pub struct AxisMove {
    from: AxisValues,
    to: AxisValues,
    /// Of the share of the way done, 0 to 1, as fast as the axes allow.
    profile: Profile,
    pace: f64,
}

impl AxisMove {
    /// The move from `from` to `to` (rad) at `pace`, a share (above 0, at most 1) of what the axes allow.
    ///
    /// At pace 1 it takes the least possible time on the straight way; at any other that time divided by the pace. So axis
    /// speeds fall with the pace, accelerations with its square, jerks with its cube, and the way stays the same.
    #[must_use]
    pub fn new(arm: &Arm, from: AxisValues, to: AxisValues, pace: f64) -> Self {
        // The whole way in that time at an even speed is what the fastest of axes and motors can do.
        let speed = 1.0 / arm.least_time(&(to - from));
        let limits = arm
            .axes()
            .iter()
            .zip((to - from).iter())
            .filter(|(_, way)| way.abs() > 0.0)
            .map(|(axis, way)| {
                let way = way.abs();
                Limits {
                    speed,
                    acceleration: axis.max_acceleration.value / way,
                    jerk: axis.max_jerk.value / way,
                }
            })
            .reduce(|one, other| one.least(&other));
        let unlimited = Limits { speed: 1.0, acceleration: 1.0, jerk: 1.0 };
        // No axis has a way to go: no distance, and any limits do.
        let distance = if limits.is_some() { 1.0 } else { 0.0 };
        Self { from, to, profile: Profile::rest_to_rest(distance, &limits.unwrap_or(unlimited)), pace }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.least_possible() / self.pace
    }

    /// Whole time at pace 1, s.
    #[must_use]
    pub fn least_possible(&self) -> f64 {
        self.profile.duration()
    }

    /// Axis values (rad) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> AxisValues {
        if t >= self.duration() {
            return self.to;
        }
        self.from + (self.to - self.from) * self.profile.at(t * self.pace).position
    }

    /// Axis rates (rad/s) `t` seconds after the start.
    #[must_use]
    pub fn rates_at(&self, t: f64) -> AxisValues {
        (self.to - self.from) * (self.profile.at(t * self.pace).speed * self.pace)
    }

    /// Axis accelerations (rad/s²) `t` seconds after the start.
    #[must_use]
    pub fn accelerations_at(&self, t: f64) -> AxisValues {
        (self.to - self.from) * (self.profile.at(t * self.pace).acceleration * self.pace * self.pace)
    }
}
