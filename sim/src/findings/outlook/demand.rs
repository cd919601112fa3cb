//! Decides what is shown of takt and load.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_hours, to_percent};
use serde::{Deserialize, Serialize};

use crate::findings::words::{counted, fixed, rounded};
use crate::production::DemandMet;
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
        }
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
             {} %): {fits}{without}",
            fixed(self.yearly_quantity, 0),
            fixed(self.planned_takt_s, 1),
            fixed(self.net_takt_s, 1),
            fixed(self.part_s, 1),
            fixed(self.load_percent, 0),
            fixed(self.load_at_least_percent, 0),
            fixed(self.load_at_most_percent, 0)
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
            counted(self.arms, "arm"),
            self.arms_at_most,
            fixed(self.arms_busy, 2),
            fixed(self.people_busy, 2),
            fixed(self.stations_taken, 2)
        )
    }
}
