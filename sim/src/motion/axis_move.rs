//! Decides how the arm goes straight in axis space: one profile for all axes, so that the way is the straight line itself.
//!
//! Every axis covers the same share of its own distance at the same time. Limits of that share are the least over the axes
//! of limit over distance, for speed, acceleration and jerk each; the slowest axis alone is only a lower bound. Motors that
//! turn several axes limit the speed in the same way.

use seamwright_kinematics::{Arm, AxisValues};

use super::{Limits, Pace, Profile};

/// The arm straight in axis space, from rest to rest.
#[derive(Clone, Debug)]
pub struct AxisMove {
    from: AxisValues,
    to: AxisValues,
    /// Of the share of the way done, 0 to 1; gone at `pace` of its speed.
    profile: Profile,
    pace: f64,
    least_possible: f64,
    /// The share of the way that is to be gone, 0 or 1, and what limits it.
    limited: (f64, Limits),
}

impl AxisMove {
    /// The move from `from` to `to` (rad) at `pace`, a share (above 0, at most 1) of what the axes allow, or a [`Pace`].
    ///
    /// At pace 1 it takes the least possible time on the straight way; at a share of it, that time divided by the share: axis
    /// speeds fall with the pace, accelerations with its square, jerks with its cube. The way stays the same at every pace.
    #[must_use]
    pub fn new(arm: &Arm, from: AxisValues, to: AxisValues, pace: impl Into<Pace>) -> Self {
        Self::with_others(arm, from, to, pace, &[])
    }

    /// The same with other axes that go along, each the same share of its way at the same time: `others` are the limits of each,
    /// of that share. They are not slowed with the pace.
    #[must_use]
    pub fn with_others(
        arm: &Arm,
        from: AxisValues,
        to: AxisValues,
        pace: impl Into<Pace>,
        others: &[Limits],
    ) -> Self {
        let pace = pace.into();
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
        let limits = limits.unwrap_or(unlimited);
        let all = |limits: Limits, share: f64| {
            let others = others.iter().map(|other| Limits {
                speed: other.speed / share,
                acceleration: other.acceleration / share.powi(2),
                jerk: other.jerk / share.powi(3),
            });
            others.fold(limits, |least, other| least.least(&other))
        };
        let plain = all(limits, 1.0);
        let least = Profile::rest_to_rest(distance, &plain);
        let (profile, limits) = if pace.is_even() && others.is_empty() {
            (least, plain)
        } else {
            let acceleration = limits.acceleration * pace.extra_acceleration();
            let jerk = limits.jerk * pace.extra_jerk();
            let paced = all(Limits { acceleration, jerk, ..limits }, pace.share());
            (Profile::rest_to_rest(distance, &paced), paced)
        };
        let (least_possible, limited) = (least.duration(), (distance, limits));
        Self { from, to, profile, pace: pace.share(), least_possible, limited }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.profile.duration() / self.pace
    }

    /// Whole time at pace 1, s.
    #[must_use]
    pub fn least_possible(&self) -> f64 {
        self.least_possible
    }

    /// Whole time that the same speeds and accelerations would allow with unlimited jerk, s.
    #[must_use]
    pub fn jerk_free(&self) -> f64 {
        let (distance, limits) = self.limited;
        Profile::rest_to_rest(distance, &Limits { jerk: f64::INFINITY, ..limits }).duration() / self.pace
    }

    /// Axis values (rad) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> AxisValues {
        if t >= self.duration() {
            return self.to;
        }
        self.from + (self.to - self.from) * self.profile.at(t * self.pace).position
    }

    /// The share of the way done `t` seconds after the start, and its first three derivatives by time.
    #[must_use]
    pub fn share_at(&self, t: f64) -> [f64; 4] {
        if t >= self.duration() {
            return [1.0, 0.0, 0.0, 0.0];
        }
        let now = self.profile.at(t * self.pace);
        let pace = self.pace;
        [now.position, now.speed * pace, now.acceleration * pace.powi(2), now.jerk * pace.powi(3)]
    }

    /// When its jerk changes, s after the start.
    #[must_use]
    pub fn changes(&self) -> [f64; 8] {
        self.profile.changes().map(|time| time / self.pace)
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
