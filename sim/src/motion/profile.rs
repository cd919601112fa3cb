//! Decides how one distance is covered from rest to rest: the fastest way within limits of speed, acceleration and jerk.
//!
//! The acceleration rises evenly, stays, falls evenly to zero (first half), and the second half mirrors the first: a
//! double-S. With an infinite jerk limit it is the trapezoid. The time-optimal rest-to-rest profile in closed form,
//! derived by counting which of the three limits is reached; held against another library in the tests on motion.

/// Limits of a movement along one line; each above 0, `jerk` may be infinite.
///
/// In m, rad, or shares of a whole move, per s, s² and s³.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Speed.
    pub speed: f64,
    /// Acceleration and deceleration.
    pub acceleration: f64,
    /// Rate of change of the acceleration.
    pub jerk: f64,
}

impl Limits {
    /// The lesser of each.
    #[must_use]
    pub fn least(&self, other: &Self) -> Self {
        Self {
            speed: self.speed.min(other.speed),
            acceleration: self.acceleration.min(other.acceleration),
            jerk: self.jerk.min(other.jerk),
        }
    }
}

/// Where a movement is at one time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instant {
    /// Distance covered.
    pub position: f64,
    /// Its first derivative.
    pub speed: f64,
    /// Its second derivative.
    pub acceleration: f64,
    /// Its third derivative; 0 where the jerk is unlimited.
    pub jerk: f64,
}

/// A distance covered from rest to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Profile {
    distance: f64,
    /// Time in which the acceleration rises from zero, and in which it falls back.
    rise: f64,
    /// Time at the highest acceleration.
    hold: f64,
    /// Time at the highest speed.
    cruise: f64,
    /// Highest acceleration.
    acceleration: f64,
}

impl Profile {
    /// The fastest way over `distance` (0 where negative or not a number) within `limits`.
    #[must_use]
    pub fn rest_to_rest(distance: f64, limits: &Limits) -> Self {
        let Limits { acceleration, jerk, .. } = *limits;
        let distance = distance.max(0.0);
        let full_rise = acceleration / jerk;
        let full_speed = Self::to_full_speed(limits);
        if distance >= full_speed.distance {
            return Self { distance, cruise: (distance - full_speed.distance) / limits.speed, ..full_speed };
        }
        if distance >= 2.0 * acceleration * full_rise * full_rise {
            // The acceleration limit is reached, the speed limit is not: distance = a·(rise + hold)·(2·rise + hold).
            let whole = full_rise / 2.0 + (full_rise * full_rise / 4.0 + distance / acceleration).sqrt();
            let hold = (whole - 2.0 * full_rise).max(0.0);
            return Self { distance, rise: full_rise, hold, cruise: 0.0, acceleration };
        }
        // Neither is reached: distance = 2·jerk·rise³.
        let rise = (distance / (2.0 * jerk)).cbrt();
        Self { distance, rise, hold: 0.0, cruise: 0.0, acceleration: jerk * rise }
    }

    /// Up to the speed limit and at once back to rest: the shortest distance in which it is reached.
    #[must_use]
    pub fn to_full_speed(limits: &Limits) -> Self {
        let Limits { speed, acceleration, jerk } = *limits;
        let full_rise = acceleration / jerk;
        let (rise, hold) = if speed >= acceleration * full_rise {
            (full_rise, speed / acceleration - full_rise)
        } else {
            ((speed / jerk).sqrt(), 0.0)
        };
        let distance = speed * (2.0 * rise + hold);
        Self { distance, rise, hold, cruise: 0.0, acceleration: speed / (rise + hold) }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        2.0 * self.speed_up() + self.cruise
    }

    /// Whole distance.
    #[must_use]
    pub fn distance(&self) -> f64 {
        self.distance
    }

    /// When its jerk changes, from start to end, s.
    #[must_use]
    pub fn changes(&self) -> [f64; 8] {
        let Self { rise, hold, .. } = *self;
        let speeding_up = [0.0, rise, rise + hold, 2.0 * rise + hold];
        let duration = self.duration();
        let [a, b, c, d] = speeding_up;
        [a, b, c, d, duration - d, duration - c, duration - b, duration]
    }

    /// Where it is `t` seconds after the start; at rest before the start and after the end.
    #[must_use]
    pub fn at(&self, t: f64) -> Instant {
        let duration = self.duration();
        if t <= duration / 2.0 {
            return self.first_half(t.max(0.0));
        }
        let mirrored = self.first_half((duration - t).max(0.0));
        Instant {
            position: self.distance - mirrored.position,
            acceleration: -mirrored.acceleration,
            ..mirrored
        }
    }

    /// Time from rest to the highest speed.
    fn speed_up(&self) -> f64 {
        2.0 * self.rise + self.hold
    }

    fn first_half(&self, t: f64) -> Instant {
        let Self { rise, hold, acceleration, .. } = *self;
        let jerk = if rise > 0.0 { acceleration / rise } else { 0.0 };
        let speed_after_rise = acceleration * rise / 2.0;
        if t < rise {
            return Instant {
                position: jerk * t.powi(3) / 6.0,
                speed: jerk * t * t / 2.0,
                acceleration: jerk * t,
                jerk,
            };
        }
        if t < rise + hold {
            let held = t - rise;
            return Instant {
                position: acceleration * rise * rise / 6.0
                    + speed_after_rise * held
                    + acceleration * held * held / 2.0,
                speed: speed_after_rise + acceleration * held,
                acceleration,
                jerk: 0.0,
            };
        }
        let full_speed = acceleration * (rise + hold);
        let left = self.speed_up() - t;
        if left > 0.0 {
            // The speed-up is point-symmetric about its middle: what is missing to cruising mirrors the rise.
            return Instant {
                position: full_speed * (self.speed_up() / 2.0 - left) + jerk * left.powi(3) / 6.0,
                speed: full_speed - jerk * left * left / 2.0,
                acceleration: jerk * left,
                jerk: -jerk,
            };
        }
        Instant {
            position: full_speed * (t - self.speed_up() / 2.0),
            speed: full_speed,
            acceleration: 0.0,
            jerk: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits { speed: 1.0, acceleration: 2.0, jerk: 10.0 };

    #[test]
    fn a_move_of_no_distance_takes_no_time_and_stays() {
        for distance in [0.0, -1.0, f64::NAN] {
            let profile = Profile::rest_to_rest(distance, &LIMITS);
            assert_eq!(profile.duration(), 0.0);
            assert_eq!(profile.at(0.3).position, 0.0);
        }
    }

    #[test]
    fn an_infinite_jerk_limit_gives_the_trapezoid() {
        let trapezoid = Limits { jerk: f64::INFINITY, ..LIMITS };
        let profile = Profile::rest_to_rest(1.5, &trapezoid);
        // 1.5 / 1 + 1 / 2.
        assert!((profile.duration() - 2.0).abs() < 1e-12);
        let Instant { position, speed, acceleration, .. } = profile.at(0.25);
        assert!((position - 0.0625).abs() < 1e-12 && (speed - 0.5).abs() < 1e-12 && acceleration == 2.0);
    }

    /// Integrates what `at` says of one derivative and compares it with the next, over all three regimes.
    #[test]
    fn position_speed_acceleration_and_jerk_are_derivatives_of_each_other() {
        let not_reached = Limits { speed: 0.5, acceleration: 5.0, jerk: 8.0 };
        for (distance, limits) in [(1.5, LIMITS), (0.3, LIMITS), (0.01, LIMITS), (0.3, not_reached)] {
            let profile = Profile::rest_to_rest(distance, &limits);
            let steps = 200_000;
            let dt = profile.duration() / f64::from(steps);
            let (mut position, mut speed, mut acceleration) = (0.0, 0.0, 0.0);
            for step in 0..steps {
                let middle = profile.at((f64::from(step) + 0.5) * dt);
                position += middle.speed * dt;
                speed += middle.acceleration * dt;
                acceleration += middle.jerk * dt;
                let end = profile.at(f64::from(step + 1) * dt);
                assert!((end.position - position).abs() < 1e-8, "{distance}: {end:?} {position}");
                assert!((end.speed - speed).abs() < 1e-7, "{distance}: {end:?} {speed}");
                assert!((end.acceleration - acceleration).abs() < 5e-4, "{distance}: {end:?} {acceleration}");
                assert!(
                    end.speed <= limits.speed + 1e-12
                        && end.acceleration.abs() <= limits.acceleration + 1e-12
                );
                assert!(end.jerk.abs() <= limits.jerk * (1.0 + 1e-12));
            }
            assert_eq!(profile.at(profile.duration()).position, distance);
        }
    }
}
