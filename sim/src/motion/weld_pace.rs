//! Decides how fast the torch goes along a weld: at travel speed, and slower about places at which the axes cannot turn as fast.
//!
//! At a corner, and wherever torch angles or external axes begin to change, axis speeds change within a stretch of the way
//! (`WeldWay`): no arm turns from one instant to the next. Where that asks more speed, acceleration or jerk than an axis has, wire end and
//! axes are timed together (`TimedWay`) over a stretch that begins and ends at travel speed; everywhere else the weld keeps travel speed
//! to the bit. An end of the arc at which some axis needs longer than a moment (`SOON`) from rest to its speed begins or ends at rest; any
//! other counts as if the torch travelled before and after it.

use super::dips::dips;
use super::{AxisLimits, Curve, Instant, TOOL_ACCELERATION, TOOL_JERK, TimedWay, WeldWay};

/// What must follow the way of a weld: six arm axes and then external ones.
pub struct WeldAxes<'a> {
    /// Limits of all axes; jerks may be infinite.
    pub limits: AxisLimits,
    /// The greatest speed (m/s) that the speeds of the arm's axes and motors allow at a distance along the way; infinite where they do not
    /// limit it.
    pub of_motors: &'a dyn Fn(f64) -> f64,
}

/// Distance along a weld over time.
#[derive(Clone, Debug)]
pub struct WeldPace {
    travel_speed: f64,
    start: f64,
    length: f64,
    slow: Vec<Stretch>,
    duration: f64,
}

/// A part of a weld that is not gone at travel speed all along.
#[derive(Clone, Debug)]
struct Stretch {
    /// Time from the start of the weld, s.
    begins: f64,
    way: TimedWay,
}

/// What a stretch gone slower comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slowed {
    /// Distance along the way at which it is slowest, m.
    pub at: f64,
    /// The speed there, m/s.
    pub least_speed: f64,
    /// Over how much of the way it is slower than travel speed by more than one in a hundred, m.
    pub length: f64,
    /// How much longer that takes, s.
    pub lost: f64,
    /// Whether it is an end at which the torch comes from rest or to rest.
    pub rests: bool,
}

/// A share of travel speed by which it may be missed without being counted as slower.
pub const FELT: f64 = 0.01;

/// An axis that comes from rest to its speed, or back, within this (s) does so while the arc is struck or goes out.
const SOON: f64 = 0.02;

/// How far on either side of a place that asks too much a stretch reaches at first: a distance, m, and a time at travel speed, s.
const REACH: (f64, f64) = (0.003, 0.2);

/// Between two slow places that are told apart the speed rises by this share of travel speed.
const APART: f64 = 0.1;

/// Below this share of travel speed the torch stands.
const STANDS: f64 = 1e-3;

/// Parts of a piece between which it is asked how fast drives allow it to be.
const DRIVE_LOOKS: u32 = 8;

/// Places of a weld that are nearer to each other are one, m.
const SAME_POINT: f64 = 1e-5;

/// Longest step in which a stretch is timed, m.
const STEP: f64 = 0.0005;

/// A piece shorter than this asks for no shorter ones beside it, m.
const SHORTEST: f64 = 1e-6;

/// A count of steps this little above a whole one is that one: a weld is timed alike when a file has rounded its ends.
const ROUNDED: f64 = 1e-3;

/// Rounding in a limit that is exactly met.
const ROUNDING: f64 = 1e-9;

/// Instants at which a stretch is looked at for what it comes to.
const LOOKS: u32 = 400;

/// Instants that differ by no more are one, s.
const SAME_INSTANT: f64 = 1e-9;

impl WeldPace {
    /// Travel speed (m/s) all along.
    #[must_use]
    pub fn even(way: &WeldWay, travel_speed: f64) -> Self {
        let (start, length) = (way.start(), way.length());
        Self { travel_speed, start, length, slow: Vec::new(), duration: length / travel_speed }
    }

    /// Travel speed (m/s) where `axes` can follow, else as fast as they can.
    #[must_use]
    pub fn new(way: &WeldWay, travel_speed: f64, axes: &WeldAxes<'_>) -> Self {
        let mut pace = Self::even(way, travel_speed);
        // Toward a short piece the torch slows down in short steps.
        let Some(curve) = way.curve().map(|curve| curve.graded(SHORTEST)) else { return pace };
        let knots = curve.knots();
        let mut limits = axes.limits.clone();
        limits.speed.push(travel_speed);
        limits.acceleration.push(TOOL_ACCELERATION);
        limits.jerk.push(TOOL_JERK);
        let reach = REACH.0 + REACH.1 * travel_speed;
        let even: Vec<f64> = (0..knots.len() - 1).map(|piece| even_speed(&curve, piece, &limits)).collect();
        let mut spans: Vec<Span> = Vec::new();
        // The drives follow the way itself, which may turn within less than a piece.
        let drives = |piece: usize| {
            let [from, to] = [knots[piece], knots[piece + 1]];
            let looks = (0..=DRIVE_LOOKS).map(|look| f64::from(look) / f64::from(DRIVE_LOOKS));
            looks.map(|share| (axes.of_motors)(from + (to - from) * share)).fold(f64::INFINITY, f64::min)
        };
        let is_slow = |piece: &usize| even[*piece].min(drives(*piece)) < travel_speed * (1.0 - ROUNDING);
        for piece in (0..even.len()).filter(is_slow) {
            spans.push(Span { from: piece, to: piece + 1, reach });
        }
        let last = even.len() - 1;
        let rests = [(0, knots[0]), (last, knots[last + 1])].map(|(piece, s)| {
            let rise = rise(&curve, piece, s, travel_speed, &limits);
            if rise > SOON {
                spans.push(Span { from: piece, to: piece + 1, reach: reach.max(travel_speed * rise) });
            }
            rise > SOON
        });
        spans.sort_by_key(|span| span.from);
        // The axes do at an even speed what the bend asks of them; speeding up comes on top.
        let motors = |s: f64| (axes.of_motors)(s).min(even[curve.piece(s)]);
        loop {
            spans = merged(spans, knots);
            let timed: Vec<(Span, TimedWay)> =
                spans.iter().map(|span| (*span, span.timed(&curve, &limits, &motors, rests))).collect();
            // A stretch that does not end at travel speed reaches further, as far as there is any weld.
            let short = |(span, way): &(Span, TimedWay)| {
                let slow = |t: f64| way.along(t).speed < travel_speed * (1.0 - 1e-6);
                let [from, to] = span.ends(knots);
                (from > 0 && slow(0.0)) || (to + 1 < knots.len() && slow(way.duration()))
            };
            let longer: Vec<bool> = timed.iter().map(short).collect();
            if !longer.contains(&true) {
                pace.take(timed.into_iter().map(|(_, way)| way));
                return pace;
            }
            for (span, longer) in spans.iter_mut().zip(longer) {
                span.reach *= if longer { 2.0 } else { 1.0 };
            }
        }
    }

    fn take(&mut self, ways: impl Iterator<Item = TimedWay>) {
        let (mut at, mut time) = (self.start, 0.0);
        for way in ways {
            let (from, to) = (way.curve().start(), way.curve().end());
            let duration = way.duration();
            time += (from - at) / self.travel_speed;
            self.slow.push(Stretch { begins: time, way });
            time += duration;
            at = to;
        }
        if !self.slow.is_empty() {
            self.duration = time + (self.start + self.length - at) / self.travel_speed;
        }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.duration
    }

    /// Whole time that the same speeds and accelerations would allow with unlimited jerk, s.
    #[must_use]
    pub fn jerk_free(&self) -> f64 {
        let saved: f64 = self.slow.iter().map(|Stretch { way, .. }| way.duration() - way.bound()).sum();
        self.duration - saved
    }

    /// Distance along the way `t` seconds after the start, as its points count, and its derivatives by time.
    #[must_use]
    pub fn along(&self, t: f64) -> Instant {
        let after = self.slow.partition_point(|stretch| stretch.begins <= t);
        let even = |from: f64, since: f64| Instant {
            position: from + self.travel_speed * since,
            speed: self.travel_speed,
            acceleration: 0.0,
            jerk: 0.0,
        };
        let Some(stretch) = after.checked_sub(1).map(|index| &self.slow[index]) else {
            return even(self.start, t);
        };
        let (since, duration) = (t - stretch.begins, stretch.way.duration());
        // At its end, to rounding, it is as slow as the stretch ends: at rest, where the weld does.
        if since <= duration + SAME_INSTANT {
            stretch.way.along(since.min(duration))
        } else {
            even(stretch.way.curve().end(), since - duration)
        }
    }

    /// When it is at `s`, s after the start.
    #[must_use]
    pub fn when(&self, s: f64) -> f64 {
        let after = self.slow.partition_point(|stretch| stretch.way.curve().start() < s);
        let Some(stretch) = after.checked_sub(1).map(|index| &self.slow[index]) else {
            return (s - self.start) / self.travel_speed;
        };
        let (end, duration) = (stretch.way.curve().end(), stretch.way.duration());
        if s >= end {
            return stretch.begins + duration + (s - end) / self.travel_speed;
        }
        let (mut before, mut after) = (0.0, duration);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(before, after);
            *(if stretch.way.along(middle).position < s { &mut before } else { &mut after }) = middle;
        }
        stretch.begins + f64::midpoint(before, after)
    }

    /// Every place that is gone noticeably slower than at travel speed, by itself where the torch is faster before and after it: corners
    /// and ends apart, though the arm reaches travel speed nowhere between them.
    #[must_use]
    pub fn slowed(&self) -> Vec<Slowed> {
        let places = self.slow.iter().flat_map(|Stretch { way, .. }| {
            let time = |look: u32| way.duration() * f64::from(look) / f64::from(LOOKS);
            let looks: Vec<Instant> = (0..=LOOKS).map(|look| way.along(time(look))).collect();
            let step = time(1);
            let speeds: Vec<f64> = looks.iter().map(|look| look.speed).collect();
            let dips = dips(&speeds, APART * self.travel_speed);
            dips.into_iter().map(move |dip| self.slowed_in(&looks[dip], step)).collect::<Vec<_>>()
        });
        places.filter(|slowed| slowed.length > 0.0).collect()
    }

    /// What instants `step` seconds apart come to.
    fn slowed_in(&self, looks: &[Instant], step: f64) -> Slowed {
        let least = |a: &&Instant, b: &&Instant| a.speed.total_cmp(&b.speed);
        let slowest = looks.iter().min_by(least).copied().unwrap_or_else(|| self.along(0.0));
        let felt = |pair: &&[Instant]| pair.iter().any(|look| look.speed < self.travel_speed * (1.0 - FELT));
        let way = |pair: &[Instant]| pair[1].position - pair[0].position;
        let length = looks.windows(2).filter(felt).map(way).sum();
        let lost = looks.windows(2).map(|pair| step - way(pair) / self.travel_speed).sum();
        let [start, end] = [self.start, self.start + self.length].map(|end| (slowest.position - end).abs());
        let rests = slowest.speed < STANDS * self.travel_speed && start.min(end) < SAME_POINT;
        Slowed { at: slowest.position, least_speed: slowest.speed, length, lost, rests }
    }
}

/// Halvings after which a time is as exact as its number.
const HALVINGS: u32 = 60;

/// Pieces of the way between two knots, both inclusive, and how far beyond them the stretch reaches.
#[derive(Clone, Copy, Debug)]
struct Span {
    from: usize,
    to: usize,
    reach: f64,
}

impl Span {
    /// The knots at which the stretch begins and ends.
    fn ends(&self, knots: &[f64]) -> [usize; 2] {
        let (first, last) = (knots[self.from] - self.reach, knots[self.to] + self.reach);
        let from = knots.partition_point(|s| *s <= first).saturating_sub(1);
        let to = knots.partition_point(|s| *s < last).min(knots.len() - 1);
        [from, to]
    }

    /// The stretch as fast as it can be.
    fn timed(
        &self,
        curve: &Curve,
        limits: &AxisLimits,
        motors: &dyn Fn(f64) -> f64,
        rests: [bool; 2],
    ) -> TimedWay {
        let [from, to] = self.ends(curve.knots());
        let part = curve.part(from, to);
        let steps = ((part.end() - part.start()) / STEP - ROUNDED).ceil().max(1.0) as usize;
        let travel_speed = limits.speed[limits.speed.len() - 1];
        let at_rest = [rests[0] && from == 0, rests[1] && to + 1 == curve.knots().len()];
        TimedWay::passing(
            part,
            limits,
            steps,
            motors,
            at_rest.map(|rests| if rests { 0.0 } else { travel_speed }),
        )
    }
}

/// Spans whose stretches meet as one.
fn merged(spans: Vec<Span>, knots: &[f64]) -> Vec<Span> {
    let mut merged: Vec<Span> = Vec::with_capacity(spans.len());
    for span in spans {
        match merged.last_mut() {
            Some(last) if last.ends(knots)[1] >= span.ends(knots)[0] => {
                last.to = last.to.max(span.to);
                last.reach = last.reach.max(span.reach);
            }
            _ => merged.push(span),
        }
    }
    merged
}

/// Places of a piece at which it is asked how fast it may be, both ends among them.
const PIECE_LOOKS: u32 = 4;

/// The greatest even speed (m/s) at which every axis keeps speed, acceleration and jerk on a piece, looked at where it begins, where it ends
/// and between.
fn even_speed(curve: &Curve, piece: usize, limits: &AxisLimits) -> f64 {
    let mut rates = [0; 3].map(|_| vec![0.0; curve.axes()]);
    let [from, to] = [curve.knots()[piece], curve.knots()[piece + 1]];
    let looks = (0..=PIECE_LOOKS).map(|look| from + (to - from) * f64::from(look) / f64::from(PIECE_LOOKS));
    looks.fold(f64::INFINITY, |speed, s| {
        let [first, second, third] = &mut rates;
        curve.derivatives(piece, s, first, second, third);
        (0..second.len()).fold(speed, |speed, axis| {
            speed
                .min(limits.speed[axis] / first[axis].abs())
                .min((limits.acceleration[axis] / second[axis].abs()).sqrt())
                .min((limits.jerk[axis] / third[axis].abs()).cbrt())
        })
    })
}

/// How long an axis needs at least to come from rest to what it does at `s` at travel speed, s.
fn rise(curve: &Curve, piece: usize, s: f64, travel_speed: f64, limits: &AxisLimits) -> f64 {
    let mut rates = [0; 3].map(|_| vec![0.0; curve.axes()]);
    let [first, second, third] = &mut rates;
    curve.derivatives(piece, s, first, second, third);
    let of_axis = |(rate, limit): (&f64, &f64)| rate.abs() * travel_speed / limit;
    first.iter().zip(&limits.acceleration).map(of_axis).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{Bend, Limits, Profile};

    const TRAVEL: f64 = 0.02;

    /// The last of six axes along `q`, sampled every two millimetres over 0.2 m, its rate changing at once `at` some of them and taken up
    /// over 2 mm to either side; the others stand.
    fn path(at: &[f64], q: impl Fn(f64) -> f64) -> WeldWay {
        let rows = (0..=100).map(|i| {
            let s = f64::from(i) * 0.002;
            (s, vec![0.0, 0.0, 0.0, 0.0, 0.0, q(s)])
        });
        let bends: Vec<Bend> = at.iter().map(|at| Bend { at: *at, reach: 0.002 }).collect();
        WeldWay::new(rows, &bends).unwrap()
    }

    fn pace(path: &WeldWay, acceleration: f64, jerk: f64) -> WeldPace {
        let six = |value: f64| vec![value; 6];
        let limits = AxisLimits { speed: six(100.0), acceleration: six(acceleration), jerk: six(jerk) };
        let axes = WeldAxes { limits, of_motors: &|_| f64::INFINITY };
        WeldPace::new(path, TRAVEL, &axes)
    }

    /// An axis that the way bends evenly, by c for half of a stretch and back for the other half, speeds up by c v² at an even speed v: it
    /// follows up to v = √(a/c). One with q = c s³/6 needs a jerk of c v³: v = ∛(j/c), there where it needs little acceleration.
    #[test]
    fn an_even_bend_is_gone_as_fast_as_its_axis_can_speed_up() {
        let half = 0.08;
        let bent = path(&[], |s| {
            let off = s - 0.1;
            let near = off.clamp(-half, half);
            // The integral of c (half − |off|).
            5000.0 * (half * near - near * near.abs() / 2.0)
        });
        for (acceleration, expected) in [(5000.0 * 0.01_f64.powi(2), 0.01), (2.1, TRAVEL)] {
            let pace = pace(&bent, acceleration, 1e6);
            let bending = pace.along(pace.when(0.06)).speed;
            assert!((bending - expected).abs() < 1e-3 * expected, "{bending} m/s, not {expected}");
        }
        let twisted = path(&[], |s| 1e6 * (s - 0.1).powi(3) / 6.0);
        let pace = pace(&twisted, 1e5, 1e6 * 0.012_f64.powi(3));
        let middle = pace.along(pace.when(0.1)).speed;
        assert!(middle <= 0.012 * (1.0 + 1e-6) && middle > 0.9 * 0.012, "{middle} m/s");
    }

    /// Straight, then a turn of 1.5 rad over 16 mm, then straight: the axis starts and ends at rest, so it takes no less than a turn from
    /// rest to rest does, with its ends rounded over a point or two; and everything that it does keeps its limits.
    #[test]
    fn a_turn_takes_no_less_than_the_axis_does_from_rest_to_rest() {
        let (from, zone, angle) = (0.09, 0.016, 1.5);
        let corner = path(&[from, from + zone], |s| angle * ((s - from) / zone).clamp(0.0, 1.0));
        let (acceleration, jerk) = (8.0, 80.0);
        let pace = pace(&corner, acceleration, jerk);
        let limits = Limits { speed: 100.0, acceleration, jerk };
        let alone = Profile::rest_to_rest(angle, &limits).duration();
        let turning = pace.when(from + zone + 0.002) - pace.when(from - 0.002);
        assert!(turning > alone && turning > zone / TRAVEL, "{turning} s, alone {alone} s");
        for look in 0..=4000 {
            let now = pace.along(pace.duration() * f64::from(look) / 4000.0);
            let [first, second, third] = corner.derivatives(now.position).map(|of| of[5]);
            let accelerates = second * now.speed.powi(2) + first * now.acceleration;
            let jerks =
                third * now.speed.powi(3) + 3.0 * second * now.speed * now.acceleration + first * now.jerk;
            assert!(now.speed <= TRAVEL * (1.0 + 1e-6), "{} m/s at {} m", now.speed, now.position);
            assert!(accelerates.abs() <= acceleration * 1.001, "{accelerates} at {} m", now.position);
            assert!(jerks.abs() <= jerk * 1.001, "{jerks} at {} m", now.position);
        }
        let slowed = pace.slowed();
        let lost: f64 = slowed.iter().map(|slowed| slowed.lost).sum();
        assert!((pace.duration() - 0.2 / TRAVEL - lost).abs() < 1e-9);
        assert!(
            slowed.iter().all(|slowed| slowed.least_speed < TRAVEL && slowed.length < 0.06),
            "{slowed:?}"
        );
    }

    /// At 20 mm/s and 300 rad/m the axis turns at 6 rad/s. From rest at 8 rad/s² that takes 0.75 s over 7.5 mm at either end, where travel
    /// speed takes half as long: 0.375 s lost at each, and a little for the jerk of the wire end. An axis that is fast enough loses nothing.
    #[test]
    fn a_weld_that_an_axis_must_first_speed_up_for_begins_and_ends_at_rest() {
        let turning = path(&[], |s| 300.0 * s);
        let pace = pace(&turning, 8.0, 1e6);
        let lost = pace.duration() - 0.2 / TRAVEL;
        assert!(lost > 0.75 - 1e-6 && lost < 0.85, "{lost} s");
        assert!(pace.along(0.0).speed < 1e-6 && pace.along(pace.duration()).speed < 1e-6);
        let slowed = pace.slowed();
        assert!(slowed.len() == 2 && slowed.iter().all(|end| end.rests), "{slowed:?}");
        for look in 0..=1000 {
            let now = pace.along(pace.duration() * f64::from(look) / 1000.0);
            assert!((300.0 * now.acceleration).abs() <= 8.0 * 1.001 && now.speed <= TRAVEL * (1.0 + 1e-6));
        }
        assert_eq!(self::pace(&turning, 400.0, 1e6).duration(), turning.length() / TRAVEL);
    }

    /// An axis that must come from rest at either end, and a corner so near to both that travel speed is reached nowhere: two ends, and the
    /// two bends in which the corner begins and ends, each told with its own speed, and the time lost shared out among them.
    #[test]
    fn a_corner_between_two_ends_is_told_apart_from_them() {
        let corner = path(&[0.092, 0.108], |s| 300.0 * s + 1.5 * ((s - 0.092) / 0.016).clamp(0.0, 1.0));
        let pace = pace(&corner, 1.0, 1e6);
        let slowed = pace.slowed();
        assert_eq!(
            slowed.iter().map(|place| place.rests).collect::<Vec<_>>(),
            [true, false, false, true],
            "{slowed:?}"
        );
        for (place, bend) in slowed[1..3].iter().zip([0.092, 0.108]) {
            assert!((place.at - bend).abs() < 0.002, "{place:?}");
            let there = pace.along(pace.when(place.at)).speed;
            assert!((there - place.least_speed).abs() < 1e-3 * TRAVEL && there < 0.9 * TRAVEL, "{place:?}");
        }
        let lost: f64 = slowed.iter().map(|place| place.lost).sum();
        assert!((pace.duration() - 0.2 / TRAVEL - lost).abs() < 1e-9, "{lost}");
    }

    /// Times along the way rise and fit the places: both ways round.
    #[test]
    fn when_and_where_are_each_others_inverse() {
        let corner = path(&[0.09, 0.106], |s| 1.5 * ((s - 0.09) / 0.016).clamp(0.0, 1.0));
        let pace = pace(&corner, 8.0, 80.0);
        for look in 0..=400 {
            let s = 0.2 * f64::from(look) / 400.0;
            let off = pace.along(pace.when(s)).position - s;
            assert!(off.abs() < 1e-9, "{off} m at {s} m");
        }
    }

    /// 200 mm at 20 mm/s are 10 s, to the bit, where nothing asks too much.
    #[test]
    fn what_the_axes_can_follow_keeps_travel_speed_to_the_bit() {
        let corner = path(&[0.09, 0.106], |s| 1.5 * ((s - 0.09) / 0.016).clamp(0.0, 1.0));
        let pace = pace(&corner, 8000.0, 1e8);
        assert_eq!(pace.duration(), corner.length() / TRAVEL);
        assert!(pace.slowed().is_empty());
    }
}
