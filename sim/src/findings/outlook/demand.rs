//! Decides what is shown of takt and load, and whether a year's quantity is made.
//!
//! Takt compares the undisturbed cycle with the time there is by the stated availability; shifts that were played through say what they make
//! with the breaks, stoppages and stops of the file. Where both are known, the quantity is made only if both say so.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_hours, to_percent};
use serde::{Deserialize, Serialize};

use crate::findings::estimate::{FitsName, RangeFindings};
use crate::findings::words::{counted, fixed, rounded};
use crate::production::DemandMet;
use crate::production::takt::Takt;
use crate::schedule::Coverage;

/// How cycle and demand fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DemandFindings {
    /// Good parts wanted in a year.
    pub yearly_quantity: f64,
    /// Working time in a year, breaks taken off.
    pub planned_h: f64,
    /// Share of it in which the cell is able to run.
    pub availability_percent: f64,
    /// Share of parts that come out good.
    pub good_percent: f64,
    /// Planned time over good parts.
    pub planned_takt_s: f64,
    /// Time for each part that is begun, availability and scrap taken off: what the cycle is compared with.
    pub net_takt_s: f64,
    /// Cycle time for each part, by the mean cycle.
    pub part_s: f64,
    /// That over the net takt.
    pub load_percent: f64,
    /// The same by the shortest promised cycle.
    pub load_at_least_percent: f64,
    /// The same by the longest promised cycle.
    pub load_at_most_percent: f64,
    /// Arms that it takes, each with stations and people of its own, by the mean cycle.
    pub arms: u64,
    /// The same by the longest promised cycle.
    pub arms_at_most: u64,
    /// Arms busy on average at the net takt.
    pub arms_busy: f64,
    /// People busy on average.
    pub people_busy: f64,
    /// Stations taken on average, if they stand where they are.
    pub stations_taken: f64,
    /// Seams that are not in the cycle: it is too short by them.
    pub seams_missing: usize,
    /// Good parts of a year by the shifts that were played through, where they were.
    pub played_parts: Option<RangeFindings>,
    /// Whether the quantity is made, by the cycle and by those shifts.
    #[serde(default)]
    pub fits: FitsName,
}

impl DemandFindings {
    pub(super) fn new(met: &DemandMet, coverage: &Coverage) -> Self {
        let [short, mean, long] = met.takts;
        let percent = |share: f64| rounded(to_percent(share), 6);
        Self {
            yearly_quantity: met.demand.yearly_quantity,
            planned_h: rounded(to_hours(met.demand.planned), 6),
            availability_percent: percent(met.demand.availability),
            good_percent: percent(met.demand.good_share),
            planned_takt_s: rounded(mean.planned, 6),
            net_takt_s: rounded(mean.net, 6),
            part_s: rounded(mean.part, 6),
            load_percent: percent(mean.load),
            load_at_least_percent: percent(short.load),
            load_at_most_percent: percent(long.load),
            arms: mean.arms,
            arms_at_most: long.arms,
            arms_busy: rounded(met.needs.arms, 6),
            people_busy: rounded(met.needs.people, 6),
            stations_taken: rounded(met.needs.stations, 6),
            seams_missing: coverage.seams - coverage.timed,
            played_parts: met.played.as_ref().map(|parts| RangeFindings::new(parts, |parts| parts)),
            fits: by_takt(&met.takts).max(met.played.map_or(FitsName::Fits, |made| {
                let wanted = met.demand.yearly_quantity;
                fits(made.low >= wanted, made.high >= wanted)
            })),
        }
    }

    /// Whether nothing shows that the quantity cannot be made.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.fits != FitsName::DoesNotFit
    }

    /// What the shifts that were played through make of the quantity, in words.
    fn played_words(&self) -> Option<String> {
        let made = self.played_parts.as_ref()?;
        let wanted = self.yearly_quantity;
        let enough = if made.low >= wanted {
            "enough, the low end included"
        } else if made.expected >= wanted {
            "enough as expected, not at the low end"
        } else if made.high >= wanted {
            "enough only at the high end"
        } else {
            "not enough"
        };
        Some(format!(
            "; played through, the shifts of a year make {} good parts ({} to {}): {enough}",
            fixed(made.expected, 0),
            fixed(made.low, 0),
            fixed(made.high, 0)
        ))
    }

    /// Takt, cycle and load in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let fits = if self.load_at_most_percent <= 100.0 {
            "it fits, the longest promised cycle included"
        } else if self.load_percent <= 100.0 {
            "it fits by the mean cycle, not by the longest promised one"
        } else if self.load_at_least_percent <= 100.0 {
            "it fits only by the shortest promised cycle"
        } else {
            "it does not fit"
        };
        let without = match self.seams_missing {
            0 => String::new(),
            1 => ", without 1 seam that is not in the cycle".to_owned(),
            missing => format!(", without {missing} seams that are not in the cycle"),
        };
        format!(
            "{} parts a year: takt {} s planned, {} s net of availability and scrap; {} s of cycle for each part is a load of {} % ({} to \
             {} %): {fits}{without}{}",
            fixed(self.yearly_quantity, 0),
            fixed(self.planned_takt_s, 1),
            fixed(self.net_takt_s, 1),
            fixed(self.part_s, 1),
            fixed(self.load_percent, 0),
            fixed(self.load_at_least_percent, 0),
            fixed(self.load_at_most_percent, 0),
            self.played_words().unwrap_or_default()
        )
    }

    /// How it is worked out, for following it on paper.
    #[must_use]
    pub fn breakdown(&self) -> String {
        format!(
            "{} h planned a year × {} % available × {} % good / {} parts = {} s; it takes {} like this one, {} by the longest promised \
             cycle; busy on average: {} arms, {} people, {} stations",
            fixed(self.planned_h, 0),
            fixed(self.availability_percent, 0),
            fixed(self.good_percent, 1),
            fixed(self.yearly_quantity, 0),
            fixed(self.net_takt_s, 1),
            counted(self.arms, "cell"),
            self.arms_at_most,
            fixed(self.arms_busy, 2),
            fixed(self.people_busy, 2),
            fixed(self.stations_taken, 2)
        )
    }
}

fn by_takt([short, _, long]: &[Takt; 3]) -> FitsName {
    fits(long.load <= 1.0, short.load <= 1.0)
}

/// From whether the worst end of a range is enough, and the best.
fn fits(worst: bool, best: bool) -> FitsName {
    match (worst, best) {
        (true, _) => FitsName::Fits,
        (_, true) => FitsName::Open,
        _ => FitsName::DoesNotFit,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::production::Range;
    use crate::production::takt::{Demand, Needs};

    /// 1600 h of a year, all of them available, for 48 000 parts: 120 s each. A cycle of 90 s, 100 s at the longest, keeps up; but shifts that
    /// make 40 000 parts, 45 000 at best, do not.
    #[test]
    fn a_quantity_that_shifts_played_through_do_not_make_is_not_made_whatever_the_cycle_says() {
        let demand = Demand {
            yearly_quantity: 48_000.0,
            planned: 1600.0 * 3600.0,
            availability: 1.0,
            good_share: 1.0,
        };
        let needs = Needs { arms: 1.0, people: 1.0, stations: 1.0 };
        let takts = [80.0, 90.0, 100.0].map(|cycle| demand.met_by(cycle));
        let coverage = Coverage::default();
        let found =
            |takts, played| DemandFindings::new(&DemandMet { demand, takts, needs, played }, &coverage);
        assert_eq!(found(takts, None).fits, FitsName::Fits);
        let made = |low, expected, high| Some(Range { low, expected, high });
        for (played, fits, said) in [
            (
                made(35_000.0, 40_000.0, 45_000.0),
                FitsName::DoesNotFit,
                "40000 good parts (35000 to 45000): not enough",
            ),
            (made(45_000.0, 50_000.0, 55_000.0), FitsName::Open, "enough as expected, not at the low end"),
            (made(48_000.0, 50_000.0, 55_000.0), FitsName::Fits, "enough, the low end included"),
        ] {
            let found = found(takts, played);
            assert_eq!((found.fits, found.holds()), (fits, fits != FitsName::DoesNotFit));
            assert!(found.sentence().ends_with(said), "{}", found.sentence());
        }
        // 130 s even at the shortest is more than there is for a part.
        let slow = [130.0, 140.0, 150.0].map(|cycle| demand.met_by(cycle));
        assert!(!found(slow, made(48_000.0, 50_000.0, 55_000.0)).holds());
    }
}
