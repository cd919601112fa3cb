//! Decides how a distance is covered from rest to rest where one end of it is gone slower: as fast as its own limits allow.
//!
//! Away from the slow end it speeds up to what is allowed there, goes on, speeds up anew from where the slow part ends, and comes to
//! rest; toward a slow end the same backward. Each change of speed is half of a rest-to-rest profile. A way that keeps the slow
//! part's speed all along it and changes speed as fast as jerk and acceleration allow is the fastest one but for what a speed that
//! dips before the end of the slow part could gain, which is not tried.

use super::{Instant, Limits, Profile};

/// Halvings after which a speed is as exact as its number.
const HALVINGS: u32 = 60;

/// A distance covered from rest to rest, slower at one end.
#[derive(Clone, Debug)]
pub(super) struct SlowEnd {
    distance: f64,
    /// In order, from the slow end.
    parts: Vec<Part>,
    /// Whether the slow end is the last one.
    backward: bool,
}

/// A change of speed, or a time at one.
#[derive(Clone, Copy, Debug)]
struct Part {
    /// Speed at its start.
    from: f64,
    /// Up by the change and back to rest, its first half the change; none at one speed.
    change: Option<Change>,
    time: f64,
}

#[derive(Clone, Copy, Debug)]
struct Change {
    profile: Profile,
    /// 1 to speed up, −1 to slow down.
    sign: f64,
}

impl SlowEnd {
    /// `distance` within `limits`, the first `slow` of it at no more than `slow_speed`; with `backward` the last.
    pub(super) fn new(distance: f64, limits: &Limits, slow: f64, slow_speed: f64, backward: bool) -> Self {
        let within = |speed: f64| Profile::rest_to_rest(distance, &Limits { speed, ..*limits });
        let of_parts = |parts: Vec<Part>| Self { distance, parts, backward };
        let plain = within(limits.speed);
        let low = slow_speed.min(limits.speed);
        if speed_at(&plain, slow) <= low {
            return of_parts(whole(&plain));
        }
        // Where the slow part is too short to reach its speed, it is left at the speed that is reached.
        let reached = greatest(low, |speed| change(0.0, speed, limits).distance() <= slow);
        let rise = change(0.0, reached, limits);
        let rest = distance - slow;
        let takes =
            |speed: f64| change(reached, speed, limits).distance() + change(speed, 0.0, limits).distance();
        if takes(reached) > rest {
            return of_parts(whole(&within(reached)));
        }
        let peak = reached + greatest(limits.speed - reached, |more| takes(reached + more) <= rest);
        of_parts(vec![
            rise,
            even(reached, slow - rise.distance()),
            change(reached, peak, limits),
            even(peak, rest - takes(peak)),
            change(peak, 0.0, limits),
        ])
    }

    /// Whole time, s.
    pub(super) fn duration(&self) -> f64 {
        self.parts.iter().map(|part| part.time).sum()
    }

    /// Where it is `t` seconds after the start; at rest before the start and after the end.
    pub(super) fn at(&self, t: f64) -> Instant {
        if !self.backward {
            return self.seen_from_slow_end(t);
        }
        let mirrored = self.seen_from_slow_end(self.duration() - t);
        Instant {
            position: self.distance - mirrored.position,
            acceleration: -mirrored.acceleration,
            ..mirrored
        }
    }

    fn seen_from_slow_end(&self, t: f64) -> Instant {
        let (mut begins, mut position) = (0.0, 0.0);
        for part in &self.parts {
            if t < begins + part.time {
                let now = part.at((t - begins).max(0.0));
                return Instant { position: position + now.position, ..now };
            }
            begins += part.time;
            position += part.distance();
        }
        Instant { position: self.distance, speed: 0.0, acceleration: 0.0, jerk: 0.0 }
    }
}

impl Part {
    fn distance(&self) -> f64 {
        self.at(self.time).position
    }

    fn at(&self, t: f64) -> Instant {
        let even = Instant { position: self.from * t, speed: self.from, acceleration: 0.0, jerk: 0.0 };
        let Some(Change { profile, sign }) = self.change else { return even };
        let changed = profile.at(t);
        Instant {
            position: even.position + sign * changed.position,
            speed: even.speed + sign * changed.speed,
            acceleration: sign * changed.acceleration,
            jerk: sign * changed.jerk,
        }
    }
}

/// All of a profile.
fn whole(profile: &Profile) -> Vec<Part> {
    let change = Some(Change { profile: *profile, sign: 1.0 });
    vec![Part { from: 0.0, change, time: profile.duration() }]
}

/// From one speed to another.
fn change(from: f64, to: f64, limits: &Limits) -> Part {
    let by = Limits { speed: (to - from).abs(), ..*limits };
    if by.speed <= 0.0 {
        return even(from, 0.0);
    }
    let ramp = Profile::to_full_speed(&by);
    Part {
        from,
        change: Some(Change { profile: ramp, sign: (to - from).signum() }),
        time: ramp.duration() / 2.0,
    }
}

/// A distance at one speed.
fn even(speed: f64, distance: f64) -> Part {
    let time = if speed > 0.0 { (distance / speed).max(0.0) } else { 0.0 };
    Part { from: speed, change: None, time }
}

/// The highest speed of a profile up to a distance from its start.
fn speed_at(profile: &Profile, distance: f64) -> f64 {
    let half = profile.duration() / 2.0;
    let (mut before, mut after) = (0.0, half);
    if distance >= profile.distance() / 2.0 {
        return profile.at(half).speed;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(before, after);
        *(if profile.at(middle).position < distance { &mut before } else { &mut after }) = middle;
    }
    profile.at(before).speed
}

/// The greatest value up to `most` that is still allowed, 0 and all below an allowed one being so.
fn greatest(most: f64, allowed: impl Fn(f64) -> bool) -> f64 {
    if allowed(most) {
        return most;
    }
    let (mut good, mut bad) = (0.0, most);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(good, bad);
        *(if allowed(middle) { &mut good } else { &mut bad }) = middle;
    }
    good
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits { speed: 0.1, acceleration: 2.0, jerk: 20.0 };

    /// No change of speed by less than a²/j = 0.2 m/s reaches the acceleration limit: it takes 2·√(Δv/j), and the mean speed times that.
    fn ramp(from: f64, to: f64) -> [f64; 2] {
        let time = 2.0 * ((to - from).abs() / 20.0_f64).sqrt();
        [time, (from + to) / 2.0 * time]
    }

    /// The first 30 of 60 mm at no more than 20 mm/s, then at 100 mm/s.
    fn expected() -> f64 {
        let [[t1, d1], [t2, d2], [t3, d3]] = [ramp(0.0, 0.02), ramp(0.02, 0.1), ramp(0.1, 0.0)];
        t1 + (0.03 - d1) / 0.02 + t2 + (0.03 - d2 - d3) / 0.1 + t3
    }

    #[test]
    fn a_slow_end_takes_what_its_changes_of_speed_and_the_distances_between_them_take() {
        for backward in [false, true] {
            let way = SlowEnd::new(0.06, &LIMITS, 0.03, 0.02, backward);
            assert!((way.duration() - expected()).abs() < 1e-9, "{} {}", way.duration(), expected());
        }
    }

    /// Slow ends of every length, on ways of every length: no limit is passed, and each derivative is that of the one before it.
    #[test]
    fn no_limit_is_passed_and_every_derivative_is_that_of_the_one_before() {
        for (distance, slow, backward) in [
            (0.06, 0.03, false),
            (0.06, 0.03, true),
            (0.06, 0.0001, false),
            (0.06, 0.0599, true),
            (0.06, 0.06, false),
            (0.003, 0.002, true),
            (0.0002, 0.0001, false),
        ] {
            let way = SlowEnd::new(distance, &LIMITS, slow, 0.02, backward);
            let steps = 200_000;
            let dt = way.duration() / f64::from(steps);
            let (mut position, mut speed, mut acceleration) = (0.0, 0.0, 0.0);
            for step in 0..steps {
                let middle = way.at((f64::from(step) + 0.5) * dt);
                position += middle.speed * dt;
                speed += middle.acceleration * dt;
                acceleration += middle.jerk * dt;
                let end = way.at(f64::from(step + 1) * dt);
                assert!((end.position - position).abs() < 1e-8, "{distance} {slow}: {end:?} {position}");
                assert!((end.speed - speed).abs() < 1e-7, "{distance} {slow}: {end:?} {speed}");
                // A jump of jerk within a step is off by up to 20 m/s³ times the step, and there are fewer than a dozen.
                let within = 12.0 * 20.0 * dt;
                assert!((end.acceleration - acceleration).abs() < within, "{distance} {slow}: {end:?}");
                let from_slow_end = if backward { distance - end.position } else { end.position };
                let most = if from_slow_end < slow - 1e-9 { 0.02 } else { LIMITS.speed };
                assert!(end.speed <= most + 1e-9, "{distance} {slow}: {end:?}");
                assert!(end.acceleration.abs() <= 2.0 + 1e-9 && middle.jerk.abs() <= 20.0 + 1e-9);
            }
            assert!((way.at(way.duration()).position - distance).abs() < 1e-12);
        }
    }
}
