//! Decides what a shift is made of, for playing it through: places, times and how they vary, what stops whom.
//!
//! Plain SI numbers: seconds from the start of the shift, shares from 0 to 1.

use rand_chacha::ChaCha8Rng;

use crate::cell::{Break, Curtain, Law, Start, Stoppage};
use crate::streams::{even, normal};

/// A cell and its shift.
#[derive(Clone, Debug, PartialEq)]
pub struct ShiftModel {
    /// Where the arm goes.
    pub places: Vec<Place>,
    /// Indices of the places in the order in which it goes there, round and round; to each at least once. A table comes before it with
    /// its next side each time.
    pub order: Vec<usize>,
    /// How many people load; each [`Side::person`] is below it.
    pub people: usize,
    /// From start to end; breaks at no stated time are taken off beforehand.
    pub length: f64,
    /// Breaks at stated times, by start, none reaching into the next.
    pub breaks: Vec<Break>,
    /// How the shift begins.
    pub start: Start,
    /// Regular stops of the arm.
    pub services: Vec<Service>,
    /// What stops arm or people now and then.
    pub stoppages: Vec<Stoppage>,
    /// What happens at the light curtain.
    pub curtain: Option<Curtain>,
    /// Share of parts that are scrap.
    pub scrap: f64,
}

/// A fixture that stands where it is (one side), or a table whose sides come before the arm in turn.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// At least one.
    pub sides: Vec<Side>,
    /// How many sides before it comes to the arm a table's side is loaded: 1 is the next one. At least 1, fewer than there are sides; of
    /// no use for a fixture that stands where it is.
    pub ahead: usize,
}

/// What is loaded and welded together.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// The arm's time for it, s.
    pub arm: f64,
    /// Of that, arc time.
    pub arc: f64,
    /// External axes on to where the arm goes next, s: the arm stands meanwhile.
    pub way: f64,
    /// What these move, as numbers of sides, place by place: each is loaded while they stand.
    pub way_moves: Vec<usize>,
    /// Other sides that are moved while the arm is at this one.
    pub moves: Vec<usize>,
    /// The table's turn from this side to the next one; of no use for one that stands where it is.
    pub turn: f64,
    /// Who loads it.
    pub person: usize,
    /// How long what was welded cools before they begin, s: from when the arm has left it.
    pub cool: f64,
    /// Taking the finished part out; left out for a side that is empty when the shift begins.
    pub unload: f64,
    /// Putting the next parts in.
    pub load: f64,
    /// Standard deviation of the two together.
    pub spread: f64,
    /// All else: clamps, stepping back and acknowledging.
    pub clamp: f64,
    /// Finished parts of a load.
    pub parts: u32,
}

/// A regular stop: it comes when the arm has finished the load that makes its number full, never inside a load.
#[derive(Clone, Debug, PartialEq)]
pub struct Service {
    /// How long it takes after each load of [`ShiftModel::order`].
    pub after: Vec<f64>,
    /// After how many loads; at least 1.
    pub every_loads: u32,
}

/// The first draw of a time in a shift.
pub(super) fn draw_first(law: &Law, stream: &mut ChaCha8Rng) -> f64 {
    match law {
        Law::UnderWay(time) => time * even(stream),
        Law::Fixed(_) | Law::Exponential(_) => draw(law, stream),
    }
}

/// One draw of a time.
pub(super) fn draw(law: &Law, stream: &mut ChaCha8Rng) -> f64 {
    match law {
        Law::Fixed(time) | Law::UnderWay(time) => *time,
        // 1 − u is never 0.
        Law::Exponential(mean) => -mean * (1.0 - even(stream)).ln(),
    }
}

impl Side {
    /// The person's mean time, s.
    #[must_use]
    pub fn person_time(&self) -> f64 {
        self.unload + self.load + self.clamp
    }

    /// One draw of the person's time; with nothing to take out where the side is `empty`.
    pub(super) fn draw(&self, empty: bool, stream: &mut ChaCha8Rng) -> f64 {
        let hands = self.load + if empty { 0.0 } else { self.unload };
        let hands = if self.spread > 0.0 { (hands + self.spread * normal(stream)).max(0.0) } else { hands };
        hands + self.clamp
    }
}

impl ShiftModel {
    /// Time in which the arm should work: the shift less the breaks in which it stands.
    #[must_use]
    pub fn planned(&self) -> f64 {
        let stands = self.breaks.iter().filter(|pause| !pause.arm_works_on);
        let within = stands.map(|pause| (self.length - pause.start).clamp(0.0, pause.duration));
        self.length - within.sum::<f64>()
    }
}
