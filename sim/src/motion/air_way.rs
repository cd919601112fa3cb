//! Decides how the arm goes through the air past places without stopping at them: the next straight move begins before the one before has
//! ended, and what every axis does in both adds up.
//!
//! So the corner between two moves is rounded, with accelerations that do not jump, from where the next one begins to where the one before
//! ends. A move begins before the middle of the one before and after the middle of the overlap before that, so that no more than two
//! overlap. In the overlap the one only slows down and the other only speeds up: what is left of the one, as a share of what was left,
//! and what is done of the other, as a share of what will be, are together no more than 1. The rounding lies in the triangle between
//! the place and its two ends.
//!
//! Timing a rounded curve within its limits (`TimedWay`) was tried first: on moves of half a second the window over which it evens
//! accelerations out costs more than the corner saves.

use seamwright_kinematics::{Arm, AxisValues};

use super::{AxisMove, Pace};

/// The arm through the air, from rest to rest.
#[derive(Clone, Debug)]
pub struct AirWay {
    from: AxisValues,
    moves: Vec<Leg>,
    least_possible: f64,
}

#[derive(Clone, Debug)]
struct Leg {
    way: AxisValues,
    motion: AxisMove,
    /// When it begins, s.
    begins: f64,
}

/// Rounding in a limit that is exactly met.
const ROUNDING: f64 = 1e-9;

/// Parts of an overlap in which speeds are looked at, beside those in which the jerk is constant.
const LOOKS: u32 = 16;

impl AirWay {
    /// The way past `places` (two or more) at `pace`, a share (above 0, at most 1) of what the axes allow, or a [`Pace`]; `overlaps`: for
    /// each place between the first and the last how long the two moves overlap, as a share (0 to ½) of the shorter one.
    #[must_use]
    pub fn new(arm: &Arm, places: &[AxisValues], overlaps: &[f64], pace: impl Into<Pace>) -> Option<Self> {
        let pace = pace.into();
        let from = *places.first()?;
        let mut moves: Vec<Leg> = Vec::new();
        let mut least_possible = 0.0;
        for (index, pair) in places.windows(2).enumerate() {
            let motion = AxisMove::new(arm, pair[0], pair[1], pace);
            let begins = moves.last().map_or(0.0, |before| {
                let share = overlaps.get(index - 1).copied().unwrap_or(0.0).clamp(0.0, 0.5);
                let shorter = |of: fn(&AxisMove) -> f64| of(&before.motion).min(of(&motion));
                least_possible -= share * shorter(AxisMove::least_possible);
                before.begins + before.motion.duration() - share * shorter(AxisMove::duration)
            });
            least_possible += motion.least_possible();
            moves.push(Leg { way: pair[1] - pair[0], motion, begins });
        }
        (!moves.is_empty()).then_some(Self { from, moves, least_possible })
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.moves.last().map_or(0.0, Leg::ends)
    }

    /// Whole time at pace 1, s.
    #[must_use]
    pub fn least_possible(&self) -> f64 {
        self.least_possible
    }

    /// Whole time that the same speeds and accelerations would allow with unlimited jerk, each move overlapping the next as now, s.
    #[must_use]
    pub fn jerk_free(&self) -> f64 {
        let saved: f64 = self.moves.iter().map(|leg| leg.motion.duration() - leg.motion.jerk_free()).sum();
        self.duration() - saved
    }

    /// Axis values (rad) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> AxisValues {
        self.moves.iter().fold(self.from, |at, leg| at + leg.way * leg.share(t)[0])
    }

    /// Axis rates (rad/s) and accelerations (rad/s²) `t` seconds after the start.
    #[must_use]
    pub fn rates_at(&self, t: f64) -> [AxisValues; 2] {
        [self.derivative(t, 1), self.derivative(t, 2)]
    }

    /// From when to when the move with index `after` and the next one overlap, s.
    #[must_use]
    pub fn overlap(&self, after: usize) -> [f64; 2] {
        [self.moves[after + 1].begins, self.moves[after].ends()]
    }

    /// How far each axis can be, at any time from `start` to `end`, from where it is at `middle`, rad.
    #[must_use]
    pub fn off(&self, start: f64, middle: f64, end: f64) -> AxisValues {
        self.moves.iter().fold(AxisValues::zeros(), |off, leg| {
            // A move goes one way only, so it is farthest from its middle at an end.
            let [first, half, last] = [start, middle, end].map(|t| leg.share(t)[0]);
            off + leg.way.abs() * (half - first).max(last - half)
        })
    }

    /// Shares of both moves at a corner that its rounding replaces: the last of the one, the first of the other.
    #[must_use]
    pub fn replaced(&self, after: usize) -> [f64; 2] {
        let [start, end] = self.overlap(after);
        [1.0 - self.moves[after].share(start)[0], self.moves[after + 1].share(end)[0]]
    }

    /// Whether speeds, accelerations and jerks that add up in the overlap keep what `pace` leaves of the limits.
    #[must_use]
    pub fn keeps_limits(&self, arm: &Arm, pace: impl Into<Pace>, after: usize) -> bool {
        let pace = pace.into();
        let [start, end] = self.overlap(after);
        let mut marks: Vec<f64> = self.moves[after..=after + 1]
            .iter()
            .flat_map(|leg| leg.motion.changes().map(|change| leg.begins + change))
            .chain((0..=LOOKS).map(|look| start + (end - start) * f64::from(look) / f64::from(LOOKS)))
            .filter(|mark| (start..=end).contains(mark))
            .collect();
        marks.sort_by(f64::total_cmp);
        let within = |values: &AxisValues, limit: &dyn Fn(usize) -> f64| {
            values.iter().enumerate().all(|(axis, value)| value.abs() <= limit(axis) * (1.0 + ROUNDING))
        };
        marks.windows(2).filter(|pair| pair[1] - pair[0] > ROUNDING).all(|pair| {
            let length = pair[1] - pair[0];
            // Just inside: without a limit of jerk accelerations jump at the ends.
            let [first, last] = [ROUNDING, 1.0 - ROUNDING].map(|share| pair[0] + share * length);
            let jerk = self.derivative(f64::midpoint(first, last), 3);
            // A speed with a constant jerk strays from the straight line between its ends by no more than this.
            let bulge = jerk.abs() * (length * length / 8.0);
            let slow_enough = |t: f64| {
                let rates = self.derivative(t, 1);
                let greatest = rates.abs() + bulge;
                within(&greatest, &|axis| pace.speed_of(arm, axis))
                    // Motors that turn several axes.
                    && arm.least_time(&rates) <= pace.share() * (1.0 + ROUNDING)
            };
            let even_enough =
                |t: f64| within(&self.derivative(t, 2), &|axis| pace.acceleration_of(arm, axis));
            within(&jerk, &|axis| pace.jerk_of(arm, axis))
                && [first, last].into_iter().all(|t| slow_enough(t) && even_enough(t))
        })
    }

    fn derivative(&self, t: f64, order: usize) -> AxisValues {
        self.moves.iter().fold(AxisValues::zeros(), |sum, leg| sum + leg.way * leg.share(t)[order])
    }
}

impl Leg {
    fn ends(&self) -> f64 {
        self.begins + self.motion.duration()
    }

    /// Share done, and its three derivatives.
    fn share(&self, t: f64) -> [f64; 4] {
        if t < self.begins { [0.0; 4] } else { self.motion.share_at(t - self.begins) }
    }
}
