//! Decides how fast the wire end goes along a given way: at its own limits, or slower where the axes cannot follow.
//!
//! Where the axes can follow, the wire end keeps a rest-to-rest profile of its own speed, acceleration and jerk, slower in a part at
//! one end that is to be slower. Where they cannot, wire end and axes are timed together (`TimedWay`): slower where it must be, not all
//! along.
//!
//! What the axes must do then rests on third derivatives through samples 2 mm apart, which make much of what rounding makes of axis
//! values: the same move somewhere else in the world may take some tenths of a millisecond more or less.

use seamwright_kinematics::{Arm, AxisValues};

use super::slow_zone::SlowEnd;
use super::{AxisLimits, AxisPath, Curve, Instant, Limits, Pace, Profile, TimedWay};

/// Acceleration of the wire end on the way in and out, m/s²: assumed, common practice, no source.
pub const TOOL_ACCELERATION: f64 = 2.0;

/// Jerk of the wire end on the way in and out, m/s³: assumed, the acceleration builds up in a tenth of a second.
pub const TOOL_JERK: f64 = 20.0;

/// Times at which the axes are held against their limits.
const SAMPLES: u32 = 200;

/// Steps in which a way is timed on which the axes cannot follow.
const STEPS: usize = 100;

/// How fast the wire end may go along a way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolSpeed {
    /// Greatest speed, m/s.
    pub speed: f64,
    /// A part of the way on which it is less.
    pub slow: Option<SlowZone>,
}

/// A part of a way on which the wire end goes slower.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlowZone {
    /// From this distance from the start of the way, m.
    pub from: f64,
    /// To this one, m.
    pub to: f64,
    /// Greatest speed there, m/s.
    pub speed: f64,
}

/// The wire end along a given way, from rest to rest.
#[derive(Clone, Debug)]
pub struct LinearMove {
    path: AxisPath,
    course: Course,
    least_possible: f64,
    tool: ToolSpeed,
}

/// The wire end's own profile, or all axes together; the distance is the last one of the curve.
#[derive(Clone, Debug)]
enum Course {
    /// Stretched in time by a factor of at least 1.
    Profile(Own, f64),
    Timed(Box<TimedWay>),
}

/// The wire end's own way, whatever the axes can do.
#[derive(Clone, Debug)]
enum Own {
    Even(Profile),
    SlowEnd(SlowEnd),
}

impl Own {
    /// Over `length`; a slow part at neither end slows all of it.
    fn new(length: f64, tool: ToolSpeed, jerk: f64) -> Self {
        let limits = Limits { speed: tool.speed, acceleration: TOOL_ACCELERATION, jerk };
        let slow = |slow: f64, zone: SlowZone, backward| {
            Self::SlowEnd(SlowEnd::new(length, &limits, slow, zone.speed, backward))
        };
        match tool.slow {
            None => Self::Even(Profile::rest_to_rest(length, &limits)),
            Some(zone) if zone.from > 0.0 && zone.to >= length => slow(length - zone.from, zone, true),
            Some(zone) if zone.from <= 0.0 && zone.to < length => slow(zone.to, zone, false),
            Some(zone) => {
                let speed = zone.speed.min(tool.speed);
                Self::Even(Profile::rest_to_rest(length, &Limits { speed, ..limits }))
            }
        }
    }

    fn duration(&self) -> f64 {
        match self {
            Self::Even(profile) => profile.duration(),
            Self::SlowEnd(way) => way.duration(),
        }
    }

    fn at(&self, t: f64) -> Instant {
        match self {
            Self::Even(profile) => profile.at(t),
            Self::SlowEnd(way) => way.at(t),
        }
    }
}

impl LinearMove {
    /// The move along `path` with the wire end at `tool` speed where it can, every axis at no more than `pace` (above 0, at most 1; or a
    /// [`Pace`]) of what it could do.
    #[must_use]
    pub fn new(arm: &Arm, path: AxisPath, tool: ToolSpeed, pace: impl Into<Pace>) -> Self {
        let pace = pace.into();
        let own = Own::new(path.length(), tool, TOOL_JERK);
        let course = |pace: Pace| {
            let needed = (0..=SAMPLES)
                .map(|sample| own.duration() * f64::from(sample) / f64::from(SAMPLES))
                .map(|t| stretch_needed(arm, &path, &own.at(t), pace))
                .fold(0.0, f64::max);
            let stretched = Course::Profile(own.clone(), needed.max(1.0));
            if needed <= 1.0 {
                return stretched;
            }
            match timed(arm, &path, tool, pace).map(|way| Course::Timed(Box::new(way))) {
                // The profile, stretched as a whole till the axes can follow, is sometimes the quicker one.
                Some(way) if way.duration() < stretched.duration() => way,
                _ => stretched,
            }
        };
        let least_possible =
            if pace.share() < 1.0 { course(Pace::from(1.0)).duration() } else { f64::INFINITY };
        let course = course(pace);
        let least_possible = least_possible.min(course.duration());
        Self { path, least_possible, course, tool }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.course.duration()
    }

    /// Whole time at pace 1, s.
    #[must_use]
    pub fn least_possible(&self) -> f64 {
        self.least_possible
    }

    /// No more than the whole time that the same speeds and accelerations would allow with unlimited jerk, s.
    #[must_use]
    pub fn jerk_free(&self) -> f64 {
        match &self.course {
            Course::Profile(_, stretch) => {
                Own::new(self.path.length(), self.tool, f64::INFINITY).duration() * stretch
            }
            Course::Timed(way) => way.bound(),
        }
    }

    /// Axis values (rad) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> AxisValues {
        self.path.at(self.along(t).position)
    }

    /// Axis rates (rad/s) `t` seconds after the start.
    #[must_use]
    pub fn rates_at(&self, t: f64) -> AxisValues {
        let now = self.along(t);
        let [first, ..] = self.path.derivatives(now.position);
        first * now.speed
    }

    /// Axis accelerations (rad/s²) `t` seconds after the start.
    #[must_use]
    pub fn accelerations_at(&self, t: f64) -> AxisValues {
        let now = self.along(t);
        let [first, second, _] = self.path.derivatives(now.position);
        second * now.speed.powi(2) + first * now.acceleration
    }

    /// Speed of the wire end, m/s, `t` seconds after the start.
    #[must_use]
    pub fn tool_speed_at(&self, t: f64) -> f64 {
        self.along(t).speed
    }

    /// How far along the way it is, as its points count, and how fast.
    fn along(&self, t: f64) -> Instant {
        match &self.course {
            Course::Profile(profile, stretch) => {
                let Instant { position, speed, acceleration, jerk } = profile.at(t / stretch);
                Instant {
                    position: self.path.start() + position,
                    speed: speed / stretch,
                    acceleration: acceleration / stretch.powi(2),
                    jerk: jerk / stretch.powi(3),
                }
            }
            Course::Timed(way) => way.along(t),
        }
    }
}

impl Course {
    fn duration(&self) -> f64 {
        match self {
            Self::Profile(profile, stretch) => profile.duration() * stretch,
            Self::Timed(way) => way.duration(),
        }
    }
}

/// Axes and wire end along the path together; none where the path is a point.
fn timed(arm: &Arm, path: &AxisPath, tool: ToolSpeed, pace: Pace) -> Option<TimedWay> {
    let knots: Vec<f64> = path.points().iter().map(|point| point.s).collect();
    let values: Vec<f64> =
        path.points().iter().flat_map(|point| point.axes.iter().copied().chain([point.s])).collect();
    let curve = Curve::natural_spline(&knots, &values, 7)?;
    let axes = |of: &dyn Fn(usize) -> f64, wire_end: f64| (0..6).map(of).chain([wire_end]).collect();
    let limits = AxisLimits {
        speed: axes(&|i| pace.speed_of(arm, i), tool.speed),
        acceleration: axes(&|i| pace.acceleration_of(arm, i), TOOL_ACCELERATION),
        jerk: axes(&|i| pace.jerk_of(arm, i), TOOL_JERK),
    };
    let start = path.start();
    let speed_limit = |s: f64| {
        let [first, ..] = path.derivatives(s);
        let of_motors = pace.share() / arm.least_time(&first);
        match tool.slow {
            Some(zone) if s - start >= zone.from && s - start <= zone.to => of_motors.min(zone.speed),
            _ => of_motors,
        }
    };
    Some(TimedWay::new(curve, &limits, STEPS, &speed_limit))
}

/// How much the movement must be stretched for every axis and motor to keep what `pace` leaves of its limits at one instant of the
/// profile.
fn stretch_needed(arm: &Arm, path: &AxisPath, instant: &Instant, pace: Pace) -> f64 {
    let Instant { position, speed, acceleration, jerk } = *instant;
    let [first, second, third] = path.derivatives(path.start() + position);
    // Chain rule for axis values as a function of distance as a function of time.
    let axis_speed = first * speed;
    let axis_acceleration = second * speed * speed + first * acceleration;
    let axis_jerk = third * speed.powi(3) + second * (3.0 * speed * acceleration) + first * jerk;
    let fast = arm.least_time(&axis_speed);
    let (acceleration, jerk) = (pace.extra_acceleration(), pace.extra_jerk());
    let stretch = arm.axes().iter().enumerate().fold(fast, |stretch: f64, (i, axis)| {
        stretch
            .max((axis_acceleration[i].abs() / (axis.max_acceleration.value * acceleration)).sqrt())
            .max((axis_jerk[i].abs() / (axis.max_jerk.value * jerk)).cbrt())
    });
    stretch / pace.share()
}
