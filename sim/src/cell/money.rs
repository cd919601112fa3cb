//! Decides what time, material and equipment cost, and how much is wanted: the user's own figures.
//!
//! Money is in the user's currency; rates are for each SI unit. What is not stated is not counted.

use seamwright_kinematics::Based;

/// A figure that is not known exactly: low, expected, high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guess(pub [f64; 3]);

/// Rates and amounts.
#[derive(Clone, Debug, PartialEq)]
pub struct Money {
    /// As it is printed, such as EUR.
    pub currency: String,
    /// A person, for each second paid.
    pub labour: Option<Guess>,
    /// Share of the people's time that this cell pays.
    pub attendance: f64,
    /// The cell, for each second of planned time.
    pub cell: Option<Guess>,
    /// Wire, for each kg.
    pub wire: Option<Guess>,
    /// Gas, for each m³.
    pub gas: Option<Guess>,
    /// Energy from the mains, for each J.
    pub energy: Option<Guess>,
    /// Arc power over power from the mains.
    pub source_efficiency: Based,
    /// Tips, nozzles, liners, for each second of arc.
    pub consumables: Option<Guess>,
    /// Share of parts that a person mends after the cell, and how long that takes for each, s.
    pub rework: Rework,
    /// What is spent once.
    pub once: Once,
    /// Whatever is made, for each year.
    pub yearly: Guess,
    /// Years in which it should be paid back, where a quantity is asked for that does it.
    pub payback_years: Option<f64>,
    /// How a person welds the same seams.
    pub by_hand: Option<ByHand>,
}

/// Parts that a person mends after the cell: good ones in the end, at the price of paid time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rework {
    /// Share of the good parts.
    pub share: Guess,
    /// Time for each of them, s.
    pub time: Guess,
}

/// What is spent once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Once {
    /// The cell and its installation.
    pub investment: Option<Guess>,
    /// The fixture, bought or made.
    pub fixture: Option<Guess>,
    /// Whoever programs and commissions, for each second.
    pub engineer: Option<Guess>,
    /// Teaching a point, s.
    pub teach_point: Option<Guess>,
    /// Touching a point up at the cell, s.
    pub touch_up_point: Option<Guess>,
    /// Commissioning beside the points, s.
    pub commissioning: Option<Guess>,
}

/// How a person welds the same seams.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ByHand {
    /// Travel speed, m/s; the slowest first.
    pub travel_speed: Guess,
    /// Share of the welding time in which the arc is on.
    pub arc_share: Guess,
    /// Loading, tacking, cleaning: time for each part beside the welding, s.
    pub handling: Guess,
}

/// How much is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// Good parts in a year.
    pub yearly_quantity: f64,
    /// Shifts in a year.
    pub yearly_shifts: f64,
}

impl Guess {
    /// Nothing.
    pub const NONE: Self = Self([0.0; 3]);
}
