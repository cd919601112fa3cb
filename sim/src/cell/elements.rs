//! Decides what takes time besides travel and moves: around an arc, at stops, and when arm and person take turns.

/// What an arc costs besides gas before it, start, travel, crater and gas after it. All 0 where the file does not say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ArcElements {
    /// The wire runs in slowly until it touches, s.
    pub run_in: f64,
    /// Share of the arc starts that fail and are tried again, 0 to 1.
    pub retry_share: f64,
    /// How long another try takes, s.
    pub retry: f64,
    /// The wire burns back from the crater, s.
    pub burn_back: f64,
    /// Whether the wire sticks in the crater is tested, s.
    pub wire_check: f64,
    /// Whether the torch leaves while gas still flows: the gas after the arc then takes no time.
    pub leaves_in_gas: bool,
}

impl ArcElements {
    /// What other tries cost an arc start in the mean, s.
    #[must_use]
    pub fn mean_retry(&self) -> f64 {
        self.retry_share * self.retry
    }
}

/// The last part of the way in and the first part of the way out, on which the wire end goes slower.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NearPart {
    /// Distance from the end of the seam, m.
    pub distance: f64,
    /// Greatest speed there, m/s.
    pub speed: f64,
}

/// What passes between arm and cell when the arm comes to a station and leaves it, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Signals {
    /// The arm waits at home until the cell has told it to begin.
    pub start: f64,
    /// The arm is home, and the cell makes sure of it before anything turns or anybody comes.
    pub arm_clear: f64,
}
