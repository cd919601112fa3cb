//! Decides what comes between in a shift that is played through: breaks at stated times, stoppages, the light curtain, scrap.
//!
//! Times in s from the start of the shift, shares from 0 to 1.

/// How a shift is played.
#[derive(Clone, Debug, PartialEq)]
pub struct ShiftPlay {
    /// How many times.
    pub shifts: u32,
    /// How the shift begins.
    pub start: Start,
    /// Breaks at stated times, by start, none reaching into the next.
    pub breaks: Vec<Break>,
    /// Breaks at no stated time, all together: taken off the shift.
    pub untimed_breaks: f64,
    /// What stops arm or people now and then.
    pub stoppages: Vec<Stoppage>,
    /// What happens at the light curtain.
    pub curtain: Option<Curtain>,
    /// Share of parts that are scrap.
    pub scrap: f64,
}

/// A break at a stated time. A load that someone has begun is finished first, and the break ends when it should.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Break {
    /// When it begins.
    pub start: f64,
    /// How long it is.
    pub duration: f64,
    /// Whether the arm goes on with what is loaded.
    pub arm_works_on: bool,
}

/// How the shift begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// Nothing is loaded, and nothing need be taken out.
    Empty,
    /// Every place holds a load ready for the arm, and every side behind it a finished one.
    Loaded,
}

/// Something that stops someone now and then.
#[derive(Clone, Debug, PartialEq)]
pub struct Stoppage {
    /// What it is; also names its random numbers.
    pub name: String,
    /// Who is stopped. The others go on with what they have.
    pub stops: Stopped,
    /// On which time `between` runs.
    pub clock: Clock,
    /// From the end of one to the start of the next.
    pub between: Law,
    /// Until it is over. What was interrupted goes on where it stopped.
    pub repair: Law,
}

/// Who is stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stopped {
    /// The arm.
    Arm,
    /// Everyone who loads, such as by parts running out.
    People,
}

/// What time between stoppages runs on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// All time, breaks and waiting included.
    Shift,
    /// Arc time alone; only for what stops the arm. It makes the load longer by the repair.
    Arc,
}

/// How a time varies, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// Always the same.
    Fixed(f64),
    /// Always the same, and already under way when the shift begins: the first one is what is left, any part of it as likely.
    UnderWay(f64),
    /// Exponential with this mean: as likely in any second as in any other.
    Exponential(f64),
}

/// What happens at the light curtain: someone steps into it while a table turns (or, where there is no table, while the arm works
/// on a load); it stops at once, waits until the person has left and reset, and finishes what it was doing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curtain {
    /// Share of turns, or of loads, in which it happens.
    pub share: f64,
    /// How long leaving and resetting take.
    pub clear: f64,
}

impl Law {
    /// Its mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        let (Self::Fixed(mean) | Self::UnderWay(mean) | Self::Exponential(mean)) = self;
        *mean
    }

    /// The same law with its mean changed by `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        match self {
            Self::Fixed(time) => Self::Fixed(time * factor),
            Self::UnderWay(time) => Self::UnderWay(time * factor),
            Self::Exponential(mean) => Self::Exponential(mean * factor),
        }
    }
}
