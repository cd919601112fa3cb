//! Decides where the time of a shift went: every second of arm and people stands in exactly one column.

use std::ops::AddAssign;

/// Where the arm's time went, s; together the shift.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ArmTime {
    /// Arc on and travelling.
    pub arc: f64,
    /// At work without arc: ways, air moves, gas, arc start, crater.
    pub moving: f64,
    /// The table turns and the arm waits for it.
    pub turning: f64,
    /// Someone stands in the light curtain.
    pub curtain: f64,
    /// Regular stops, as far as the arm had something to do.
    pub service: f64,
    /// Stoppages, as far as the arm had something to do.
    pub stopped: f64,
    /// Nothing is loaded. Regular stops that fall into it count here.
    pub waiting: f64,
    /// Breaks in which nothing is done.
    pub breaks: f64,
}

/// Where the people's time went, s; together the shift times the people.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PeopleTime {
    /// Unloading, loading, clamping.
    pub working: f64,
    /// Stopped: no parts.
    pub stopped: f64,
    /// Nothing to load, because someone stood in the light curtain.
    pub curtain: f64,
    /// Nothing to load: the arm or the table is not ready.
    pub waiting: f64,
    /// Breaks.
    pub breaks: f64,
}

impl ArmTime {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.arc
            + self.moving
            + self.turning
            + self.curtain
            + self.service
            + self.stopped
            + self.waiting
            + self.breaks
    }

    /// The same for one of `shifts`.
    #[must_use]
    pub fn over(&self, shifts: f64) -> Self {
        Self {
            arc: self.arc / shifts,
            moving: self.moving / shifts,
            turning: self.turning / shifts,
            curtain: self.curtain / shifts,
            service: self.service / shifts,
            stopped: self.stopped / shifts,
            waiting: self.waiting / shifts,
            breaks: self.breaks / shifts,
        }
    }
}

impl PeopleTime {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.working + self.stopped + self.curtain + self.waiting + self.breaks
    }

    /// The same for one of `shifts`.
    #[must_use]
    pub fn over(&self, shifts: f64) -> Self {
        Self {
            working: self.working / shifts,
            stopped: self.stopped / shifts,
            curtain: self.curtain / shifts,
            waiting: self.waiting / shifts,
            breaks: self.breaks / shifts,
        }
    }
}

impl AddAssign for ArmTime {
    fn add_assign(&mut self, other: Self) {
        self.arc += other.arc;
        self.moving += other.moving;
        self.turning += other.turning;
        self.curtain += other.curtain;
        self.service += other.service;
        self.stopped += other.stopped;
        self.waiting += other.waiting;
        self.breaks += other.breaks;
    }
}

impl AddAssign for PeopleTime {
    fn add_assign(&mut self, other: Self) {
        self.working += other.working;
        self.stopped += other.stopped;
        self.curtain += other.curtain;
        self.waiting += other.waiting;
        self.breaks += other.breaks;
    }
}
