//! Decides how it is said how a cell is served, who sets the pace and who waits.

use std::collections::BTreeSet;

use super::places::SiteFindings;
use super::time::{LayoutName, SetBy};
use super::words::fixed;
use super::{CycleFindings, StationTime};

impl CycleFindings {
    /// How stations, arm and person are arranged, in words.
    #[must_use]
    pub fn layout_sentence(&self) -> String {
        match self.layout {
            LayoutName::OneFixture => "one fixture, loaded and welded in turn".to_owned(),
            LayoutName::TwoSidedTable => format!(
                "two-sided table `{}`: one side is loaded while the other is welded",
                self.table_axis.as_deref().unwrap_or("")
            ),
            LayoutName::ManySidedTable => {
                let sides = self.places.iter().map(SiteFindings::phrase);
                format!("{}: one side is loaded while another is welded", sides.collect::<String>())
            }
            LayoutName::FixedFixtures => {
                let moved = self.moved_phrase();
                let (what, rule) = match &moved {
                    None => ("fixed fixtures", ""),
                    Some(_) => (
                        "fixtures",
                        ": each is loaded while what moves it stands, and moved on when it is loaded",
                    ),
                };
                format!(
                    "{} {what}{}, one arm and {} going round{rule}",
                    self.stations.len(),
                    moved.map_or_else(String::new, |moved| format!(" ({moved})")),
                    self.crew()
                )
            }
            LayoutName::SeveralPlaces => {
                let places: Vec<String> = self.places.iter().map(SiteFindings::phrase).collect();
                let names: Vec<&str> = self.stations.iter().map(|station| station.station.as_str()).collect();
                let moved = self.moved_phrase();
                format!(
                    "{}; one arm goes round {}, and {} round what it has left; a table turns while the arm is elsewhere{}",
                    places.join(", "),
                    names.join(", "),
                    self.crew(),
                    moved
                        .map_or_else(String::new, |moved| format!("; {moved}, and loaded while that stands"))
                )
            }
        }
    }

    /// Which stations what axes move between visits, in words; none where they move none.
    fn moved_phrase(&self) -> Option<String> {
        let moved = self.stations.iter().filter(|station| !station.moved_by.is_empty());
        let phrase = |station: &StationTime| {
            format!("{} moved by `{}`", station.station, station.moved_by.join("`, `"))
        };
        let phrases: Vec<String> = moved.map(phrase).collect();
        (!phrases.is_empty()).then(|| phrases.join(", "))
    }

    fn crew(&self) -> String {
        if self.people == 1 { "one person".to_owned() } else { format!("{} people", self.people) }
    }

    /// Who loads what, in words; none where there is one person.
    #[must_use]
    pub fn crew_sentence(&self) -> Option<String> {
        let of = |person: usize| {
            let theirs = self.stations.iter().filter(|station| station.person == person);
            let names: Vec<&str> = theirs.map(|station| station.station.as_str()).collect();
            format!("person {person} loads {}", names.join(", "))
        };
        let numbers: BTreeSet<usize> = self.stations.iter().map(|station| station.person).collect();
        (self.people > 1).then(|| numbers.into_iter().map(of).collect::<Vec<_>>().join("; "))
    }

    fn has_tables(&self) -> bool {
        self.places.iter().any(|place| place.table_axis.is_some())
    }

    /// Who sets the pace, in words.
    pub(super) fn pace_phrase(&self) -> String {
        match (self.set_by, &self.set_by_station) {
            (SetBy::Arm, _) => "the arm sets the pace".to_owned(),
            (SetBy::Person, _) => "the person sets the pace".to_owned(),
            (SetBy::InTurn, _) => {
                let turns = if self.has_tables() { "tables" } else { "axes" };
                format!("arm, people and {turns} set the pace in turn")
            }
            (SetBy::Station, None) => "one station sets the pace".to_owned(),
            (SetBy::Station, Some(station)) => {
                let moved =
                    self.stations.iter().any(|other| other.station == *station && !other.moved_by.is_empty());
                let what = if moved { "welded, loaded or moved" } else { "welded or loaded" };
                format!("station {station} sets the pace: it is always being {what}")
            }
        }
    }

    /// Who sets the pace and who waits, in words.
    #[must_use]
    pub fn wait_sentence(&self) -> String {
        let pace = self.pace_phrase();
        let [cycle, arm, people] =
            [self.plain_s, self.arm_waits_s, self.person_waits_s].map(|seconds| fixed(seconds, 1));
        let waits = match self.people {
            1 => format!("the arm waits {arm} s for the person and the person {people} s for the arm"),
            _ => format!(
                "the arm waits {arm} s for people; they wait {people} s for the arm or each other, all together"
            ),
        };
        let turns = match [self.arm_stands_s, self.person_stands_s] {
            [0.0, 0.0] => String::new(),
            stands => {
                let [arm, people] = stands.map(|seconds| fixed(seconds, 1));
                let what = match (self.has_tables(), self.moved_phrase().is_some()) {
                    (true, false) => "a table turns",
                    (true, true) => "a table turns or axes go on",
                    (false, _) => "axes go on",
                };
                let who = if self.people == 1 { "the person" } else { "people" };
                format!("; beside that the arm stands {arm} s while {what}, and {who} {people} s")
            }
        };
        format!("{pace}; in a cycle of {cycle} s {waits}{turns}")
    }
}
