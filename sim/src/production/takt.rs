//! Decides whether a cycle keeps up with what is wanted: takt, load in percent, how many arms it takes.
//!
//! Takt is the time there is for a part: working time over quantity. It is said which working time: *planned* (shifts less breaks)
//! or *net* (planned times availability). A cycle is undisturbed time, so the load compares it with the net takt; comparing an
//! undisturbed cycle with the planned takt would promise the stoppages away.

/// What is wanted in a year, and the time there is for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// Good parts wanted in a year; above 0.
    pub yearly_quantity: f64,
    /// Working time in a year, breaks taken off, s; above 0.
    pub planned: f64,
    /// Share of the planned time in which the cell is able to run.
    pub availability: f64,
    /// Share of parts that come out good.
    pub good_share: f64,
}

/// How a cell meets a demand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Takt {
    /// Planned time for each good part, s.
    pub planned: f64,
    /// Time for each part that is begun while the cell is able to run, s: planned takt × availability × good share.
    pub net: f64,
    /// Time that one arm needs for each part, s.
    pub part: f64,
    /// Time needed over net time: above 1 it does not fit.
    pub load: f64,
    /// The least number of such arms (with stations and people of their own) that it takes.
    pub arms: u64,
}

/// Mean times of one load, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadTimes {
    /// The arm's, the way to the next station included.
    pub arm: f64,
    /// The person's.
    pub person: f64,
}

/// How much of each is busy on average, and so the least of each that it takes. No number of one makes up for another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needs {
    /// Arms.
    pub arms: f64,
    /// People.
    pub people: f64,
    /// Stations: each is taken while it is loaded and while it is welded.
    pub stations: f64,
}

impl LoadTimes {
    /// What it takes to finish a load every `takt` seconds: time needed over time there is, for fixtures that stand where they are.
    #[must_use]
    pub fn needs(&self, takt: f64) -> Needs {
        Needs { arms: self.arm / takt, people: self.person / takt, stations: (self.arm + self.person) / takt }
    }
}

/// What rounding may add to a load that is exactly a whole number.
const ROUNDING: f64 = 1e-9;

impl Demand {
    /// How an arm that needs `part` seconds of undisturbed time for each part meets the demand.
    #[must_use]
    pub fn met_by(&self, part: f64) -> Takt {
        let planned = self.planned / self.yearly_quantity;
        let net = planned * self.availability * self.good_share;
        let load = part / net;
        Takt { planned, net, part, load, arms: (load - ROUNDING).ceil().max(1.0) as u64 }
    }

    /// Good parts that one arm makes in a year if it needs `part` seconds of undisturbed time for each.
    #[must_use]
    pub fn made_by(&self, part: f64) -> f64 {
        self.planned * self.availability * self.good_share / part
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cycle_as_long_as_the_net_takt_is_a_full_load_for_one_arm() {
        // 1600 h a year, 80 % available: 1280 h for 48 000 parts is 96 s for each.
        let demand = Demand {
            yearly_quantity: 48_000.0,
            planned: 1600.0 * 3600.0,
            availability: 0.8,
            good_share: 1.0,
        };
        let takt = demand.met_by(96.0);
        assert!((takt.planned - 120.0).abs() < 1e-9 && (takt.net - 96.0).abs() < 1e-9);
        assert!((takt.load - 1.0).abs() < 1e-12);
        assert_eq!((takt.arms, demand.met_by(96.1).arms, demand.met_by(193.0).arms), (1, 2, 3));
        assert!((demand.made_by(96.0) - 48_000.0).abs() < 1e-6);
    }

    #[test]
    fn scrap_is_made_and_counted_against_the_time() {
        let demand = Demand { yearly_quantity: 100.0, planned: 1000.0, availability: 1.0, good_share: 0.8 };
        // 125 parts must be begun for 100 good ones: 8 s for each.
        assert!((demand.met_by(4.0).net - 8.0).abs() < 1e-12);
    }
}
