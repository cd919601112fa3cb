//! Decides how fast the wire end goes along a given way: at its own limits, or slower where the axes cannot follow.
//!
//! The wire end keeps a rest-to-rest profile of its own speed, acceleration and jerk. Where an axis would be over a limit
//! anywhere on it, the whole movement is stretched in time: by k, speeds fall with k, accelerations with k², jerks with k³.

use seamwright_kinematics::{Arm, AxisValues};

use super::{AxisPath, Instant, Limits, Profile};

/// Acceleration of the wire end on the way in and out, m/s²: assumed, common practice, no source.
pub const TOOL_ACCELERATION: f64 = 2.0;

/// Jerk of the wire end on the way in and out, m/s³: assumed, the acceleration builds up in a tenth of a second.
pub const TOOL_JERK: f64 = 20.0;

/// Times at which the axes are held against their limits.
const SAMPLES: u32 = 200;

/// The wire end along a given way, from rest to rest.
#[derive(Clone, Debug)]
pub struct LinearMove {
    path: AxisPath,
    profile: Profile,
    /// How much the profile must be stretched in time for the axes to follow at pace 1, at least 1.
    least_stretch: f64,
    /// How much it is stretched, at least 1.
    stretch: f64,
}

impl LinearMove {
    /// The move along `path` with the wire end at `tool_speed` (m/s) where it can, every axis at no more than `pace` (above 0,
    /// at most 1) of what it could do: where it binds, the time is that at pace 1 divided by the pace.
    #[must_use]
    pub fn new(arm: &Arm, path: AxisPath, tool_speed: f64, pace: f64) -> Self {
        let tool = Limits { speed: tool_speed, acceleration: TOOL_ACCELERATION, jerk: TOOL_JERK };
        let profile = Profile::rest_to_rest(path.length(), &tool);
        let needed = (0..=SAMPLES)
            .map(|sample| profile.duration() * f64::from(sample) / f64::from(SAMPLES))
            .map(|t| stretch_needed(arm, &path, &profile.at(t)))
            .fold(0.0, f64::max);
        Self { path, profile, least_stretch: needed.max(1.0), stretch: (needed / pace).max(1.0) }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.profile.duration() * self.stretch
    }

    /// Whole time at pace 1, s.
    #[must_use]
    pub fn least_possible(&self) -> f64 {
        self.profile.duration() * self.least_stretch
    }

    /// Axis values (rad) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> AxisValues {
        self.path.at(self.path.start() + self.profile.at(t / self.stretch).position)
    }

    /// Axis rates (rad/s) `t` seconds after the start.
    #[must_use]
    pub fn rates_at(&self, t: f64) -> AxisValues {
        let now = self.profile.at(t / self.stretch);
        let [first, ..] = self.path.derivatives(self.path.start() + now.position);
        first * (now.speed / self.stretch)
    }

    /// Axis accelerations (rad/s²) `t` seconds after the start.
    #[must_use]
    pub fn accelerations_at(&self, t: f64) -> AxisValues {
        let now = self.profile.at(t / self.stretch);
        let [first, second, _] = self.path.derivatives(self.path.start() + now.position);
        (second * now.speed.powi(2) + first * now.acceleration) / self.stretch.powi(2)
    }

    /// Speed of the wire end, m/s, `t` seconds after the start.
    #[must_use]
    pub fn tool_speed_at(&self, t: f64) -> f64 {
        self.profile.at(t / self.stretch).speed / self.stretch
    }
}

/// How much the movement must be stretched for every axis and motor to keep its limits at one instant of the profile.
fn stretch_needed(arm: &Arm, path: &AxisPath, instant: &Instant) -> f64 {
    let Instant { position, speed, acceleration, jerk } = *instant;
    let [first, second, third] = path.derivatives(path.start() + position);
    // Chain rule for axis values as a function of distance as a function of time.
    let axis_speed = first * speed;
    let axis_acceleration = second * speed * speed + first * acceleration;
    let axis_jerk = third * speed.powi(3) + second * (3.0 * speed * acceleration) + first * jerk;
    let fast = arm.least_time(&axis_speed);
    arm.axes().iter().enumerate().fold(fast, |stretch: f64, (i, axis)| {
        stretch
            .max((axis_acceleration[i].abs() / axis.max_acceleration.value).sqrt())
            .max((axis_jerk[i].abs() / axis.max_jerk.value).cbrt())
    })
}
