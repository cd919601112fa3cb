//! Decides how long tables, positioners and tracks take from one set of values to another.
//!
//! All axes that move start together, each on its own profile. Where the file states the whole time of an index with
//! locking, that time counts, whatever the angle, and the axis is taken to spread its profile evenly over it.

use super::{Limits, Profile};
use crate::cell::frames::{ExternalAxis, ExternalValues};

/// External axes from one set of values to another, from rest to rest.
#[derive(Clone, Debug)]
pub struct ExternalMove {
    from: ExternalValues,
    to: ExternalValues,
    /// One for each axis: its profile, and the time it takes, s.
    axes: Vec<(Profile, f64)>,
}

impl ExternalMove {
    /// The move of `axes` from `from` to `to` (each rad or m; one value for each axis), whole turns away from it where a table turns on.
    #[must_use]
    pub fn new(axes: &[ExternalAxis], from: &[f64], to: &[f64]) -> Self {
        let ends = || axes.iter().zip(from.iter().zip(to));
        let counted = ends().map(|(axis, (from, to))| axis.counted_on(*from, *to)).collect();
        let axes = ends()
            .map(|(axis, (from, to))| {
                let way = axis.way(*from, *to);
                // A jerk limit is not something that data sheets of positioners give.
                let limits = Limits {
                    speed: axis.max_speed,
                    acceleration: axis.max_acceleration,
                    jerk: f64::INFINITY,
                };
                let profile = Profile::rest_to_rest(way.abs(), &limits);
                let duration = match axis.index_time {
                    Some(index_time) if profile.distance() > 0.0 => index_time,
                    _ => profile.duration(),
                };
                (profile, duration)
            })
            .collect();
        Self { from: from.to_vec(), to: counted, axes }
    }

    /// Whole time until the last axis stands, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.axes.iter().map(|(_, duration)| *duration).fold(0.0, f64::max)
    }

    /// Where it starts.
    #[must_use]
    pub fn from(&self) -> &ExternalValues {
        &self.from
    }

    /// Where it ends: of a table that turns on, counted on from where it starts.
    #[must_use]
    pub fn to(&self) -> &ExternalValues {
        &self.to
    }

    /// Whether the axis with this index has a way to go.
    #[must_use]
    pub fn moves(&self, axis: usize) -> bool {
        self.from[axis] != self.to[axis]
    }

    /// Values (rad or m) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> ExternalValues {
        self.each(|from, to, profile, duration| {
            if t >= duration {
                return to;
            }
            from + (to - from).signum() * profile.at(t * profile.duration() / duration).position
        })
    }

    /// What the axis with this index never goes faster than, rad/s or m/s: a profile from rest to rest is at no time faster than
    /// twice its mean.
    #[must_use]
    pub fn greatest_rate(&self, axis: usize) -> f64 {
        let (profile, duration) = &self.axes[axis];
        if *duration > 0.0 { 2.0 * profile.distance() / duration } else { 0.0 }
    }

    /// Rates (rad/s or m/s) `t` seconds after the start.
    #[must_use]
    pub fn rates_at(&self, t: f64) -> Vec<f64> {
        self.each(|from, to, profile, duration| {
            if t >= duration {
                return 0.0;
            }
            let pace = profile.duration() / duration;
            (to - from).signum() * profile.at(t * pace).speed * pace
        })
    }

    /// Accelerations (rad/s² or m/s²) `t` seconds after the start.
    #[must_use]
    pub fn accelerations_at(&self, t: f64) -> Vec<f64> {
        self.each(|from, to, profile, duration| {
            if t >= duration {
                return 0.0;
            }
            let pace = profile.duration() / duration;
            (to - from).signum() * profile.at(t * pace).acceleration * pace * pace
        })
    }

    /// `value(from, to, profile, duration)` for each axis.
    fn each(&self, value: impl Fn(f64, f64, &Profile, f64) -> f64) -> Vec<f64> {
        let ends = self.from.iter().zip(&self.to);
        ends.zip(&self.axes)
            .map(|((from, to), (profile, duration))| value(*from, *to, profile, *duration))
            .collect()
    }
}
