//! Decides what is shown of times: the arm at every station, the cycle of the cell, who waits, what comes out.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_hours, to_minutes, to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::calibration::CalibrationQuality;
use super::jerk::JerkFindings;
use super::places::{BesideTurnFindings, PaceFindings, SiteFindings};
use super::words::{LengthUnit, counted, fixed, rounded};
use super::{RoundingFindings, ServiceFindings};
use crate::cell::Cell;
use crate::plan::Plan;
use crate::production::{self, Bound, LayoutKind, SMALL_WAIT_SHARE, StationTimes, UNCALIBRATED_SHARE};

/// One cycle of the cell: a load from every station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CycleFindings {
    /// How stations, arm and person are arranged.
    pub layout: LayoutName,
    /// The axis of the table, where there is one.
    pub table_axis: Option<String>,
    /// Fixtures and tables, in the order in which the arm first comes to them.
    #[serde(default)]
    pub places: Vec<SiteFindings>,
    /// How many people load.
    #[serde(default = "one")]
    pub people: usize,
    /// Every station, in the cell's order.
    pub stations: Vec<StationTime>,
    /// Mean period with regular stops and varying load times: the middle of what is promised.
    pub long_run_s: f64,
    /// Whether that counts the waits that varying load times cause; in findings of before not always.
    pub counts_spread: bool,
    /// Shortest mean period that is promised.
    pub promised_low_s: f64,
    /// Longest mean period that is promised.
    pub promised_high_s: f64,
    /// How good the calibration is that the arm's time is promised by; none where nothing was measured.
    pub calibration: Option<CalibrationQuality>,
    /// What makes it a range: one sentence each.
    pub rests_on: Vec<String>,
    /// Period without regular stops, every load taking its mean time.
    pub plain_s: f64,
    /// The same with every axis at its limits in the air.
    pub least_possible_s: f64,
    /// What sets the period.
    pub set_by: SetBy,
    /// The station that sets it, where one does.
    pub set_by_station: Option<String>,
    /// What follows one another so that the period can be no shorter; none where a closed form says what the period is.
    #[serde(default)]
    pub pace: Option<PaceFindings>,
    /// How long the arm waits for the person in a plain period.
    pub arm_waits_s: f64,
    /// How long the person waits for the arm in a plain period.
    pub person_waits_s: f64,
    /// How long the arm stands in a plain period while a table turns or external axes go on; with its waits and its time at every station
    /// that is the period.
    #[serde(default)]
    pub arm_stands_s: f64,
    /// How long the person stands for the same; of several, all together.
    #[serde(default)]
    pub person_stands_s: f64,
    /// Share of the plain period in which the arc is on.
    pub arc_share_percent: f64,
    /// Share of the plain period in which the arm works.
    pub arm_use_percent: f64,
    /// Share of the plain period in which the person works.
    pub person_use_percent: f64,
    /// Finished parts of one cycle.
    pub parts_per_cycle: u64,
    /// Loads in an hour of undisturbed running, by the long-run period.
    pub loads_per_hour: f64,
    /// Parts in an hour of undisturbed running, by the long-run period.
    pub parts_per_hour: f64,
    /// Parts in an hour if every cycle took the longest promised time.
    pub parts_per_hour_at_least: f64,
    /// Parts in an hour if every cycle took the shortest promised time.
    pub parts_per_hour_at_most: f64,
    /// Tables that turn while the arm is at another place: whether it keeps clear of them.
    #[serde(default)]
    pub beside_turns: Vec<BesideTurnFindings>,
    /// Regular stops: how long each takes and where that time goes.
    pub services: Vec<ServiceFindings>,
    /// What comes out of a shift, where one is stated.
    pub shift: Option<ShiftFindings>,
    /// What it saves, or would, to round corners between air moves; none where there are none.
    #[serde(default)]
    pub rounding: Option<RoundingFindings>,
    /// What limited jerk costs; none where nothing moves.
    #[serde(default)]
    pub jerk: Option<JerkFindings>,
    /// Which seams the times cover.
    pub covers: Covers,
}

/// How stations, arm and person are arranged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LayoutName {
    /// One fixture, loaded and welded in turn.
    OneFixture,
    /// A table with two sides: one is loaded while the other is welded.
    TwoSidedTable,
    /// A table with more sides: one is loaded while another is welded.
    ManySidedTable,
    /// Fixtures that change places with no other; arm and person go from one to the next.
    FixedFixtures,
    /// Tables beside tables or fixtures; the arm goes from one to the next.
    SeveralPlaces,
}

/// What sets the period.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SetBy {
    /// The arm never waits.
    Arm,
    /// The person never waits.
    Person,
    /// One station is always being welded or loaded.
    Station,
    /// Now the arm, now a person or a table.
    InTurn,
}

/// What one station takes in a cycle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StationTime {
    /// Its name.
    pub station: String,
    /// The arm from home over all seams and back.
    pub arm_s: f64,
    /// Of that: arc on and travelling.
    pub arc_s: f64,
    /// Of that: gas, arc start, crater; the torch stands at the seam.
    pub arc_ends_s: f64,
    /// Of that: waiting before a way in until the pass before, or a neighbour, has cooled.
    #[serde(default)]
    pub cooling_s: f64,
    /// Of that: ways in, out, and from stitch to stitch.
    pub ways_s: f64,
    /// Of that: air moves, assumed ones included.
    pub air_s: f64,
    /// Of that: the arm stands while external axes move.
    pub external_s: f64,
    /// The arm's time with every axis at its limits in the air.
    pub least_possible_s: f64,
    /// External axes to the next station's values; of a table beside other places, its turn to the next side.
    pub index_s: f64,
    /// Of a table beside other places: external axes that go on with the arm to its next station.
    #[serde(default)]
    pub way_s: f64,
    /// External axes, tables aside, that move it between stations: it is loaded while they stand.
    #[serde(default)]
    pub moved_by: Vec<String>,
    /// Number of the person who loads it, as the file has it.
    #[serde(default = "one")]
    pub person: usize,
    /// The person's time: unload, load, clamps, acknowledge.
    pub person_s: f64,
    /// The longest of the person's times that does not lengthen the cycle, all other times being as they are.
    pub person_balanced_s: Option<f64>,
    /// Whether the arm waits for other loads however short this one is.
    #[serde(default)]
    pub waits_for_others: bool,
    /// The mean of the person's times at which the arm waits a small share of the time, load times varying.
    pub person_small_wait_s: Option<f64>,
    /// That share.
    pub small_wait_percent: f64,
    /// Finished parts of a load.
    pub parts_per_load: u32,
    /// Which of its seams the times cover.
    pub covers: Covers,
}

/// Which seams the times cover.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Covers {
    /// Seams there are.
    pub seams: usize,
    /// Seams in the times.
    pub timed: usize,
    /// Of those, seams that are timed by their length only.
    pub by_length_only: usize,
    /// Length of weld of all seams.
    pub weld_mm: f64,
    /// Length of weld in the times.
    pub timed_weld_mm: f64,
    /// Length of all seams as drawn.
    pub drawn_mm: f64,
}

/// What comes out of a shift: whole cycles only.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShiftFindings {
    /// From start to end.
    pub length_h: f64,
    /// Breaks in it.
    pub breaks_min: f64,
    /// Share of the rest in which the cell is able to run.
    pub availability_percent: f64,
    /// Time in which the cell runs.
    pub productive_h: f64,
    /// Parts by the long-run period.
    pub parts: u64,
    /// Parts if every cycle took the longest promised time.
    pub parts_at_least: u64,
    /// Parts if every cycle took the shortest promised time.
    pub parts_at_most: u64,
}

impl CycleFindings {
    pub(super) fn new(cell: &Cell, plan: &Plan, cycle: &production::Cycle) -> Self {
        let hour = |period: f64| 3600.0 / period * cycle.parts_per_cycle() as f64;
        let (set_by, set_by_station) = match cycle.bound {
            Bound::Arm => (SetBy::Arm, None),
            Bound::Person => (SetBy::Person, None),
            Bound::InTurn => (SetBy::InTurn, None),
            Bound::Station(index) => {
                let station = cycle.stations[index].station;
                (SetBy::Station, Some(cell.stations[station.0].name.clone()))
            }
        };
        let table_axis = cycle.layout.only_table().map(|table| cell.frames.axes[table.axis].name.clone());
        let layout = match cycle.layout.kind() {
            LayoutKind::OneFixture => LayoutName::OneFixture,
            LayoutKind::Table if cycle.stations.len() == 2 => LayoutName::TwoSidedTable,
            LayoutKind::Table => LayoutName::ManySidedTable,
            LayoutKind::FixedFixtures => LayoutName::FixedFixtures,
            LayoutKind::Several => LayoutName::SeveralPlaces,
        };
        let station = |(at, times): (usize, &StationTimes)| {
            let side = cycle.layout.next_side(at).is_some();
            let beside_others = side && cycle.layout.kind() == LayoutKind::Several;
            StationTime {
                moved_by: moved_by(cell, cycle, at),
                ..StationTime::new(cell, times, beside_others)
            }
        };
        Self {
            layout,
            table_axis,
            places: SiteFindings::all(cell, &cycle.layout),
            people: cycle.people(),
            stations: cycle.stations.iter().enumerate().map(station).collect(),
            long_run_s: s(cycle.long_run),
            counts_spread: true,
            promised_low_s: s(cycle.promise.low),
            promised_high_s: s(cycle.promise.high),
            calibration: cell.calibration.as_ref().map(CalibrationQuality::new),
            rests_on: cycle.promise.rests_on.clone(),
            plain_s: s(cycle.period),
            least_possible_s: s(cycle.least_possible),
            set_by,
            set_by_station,
            pace: PaceFindings::new(cell, cycle),
            arm_waits_s: s(cycle.arm_waits),
            person_waits_s: s(cycle.person_waits),
            arm_stands_s: s(cycle.arm_stands),
            person_stands_s: s(cycle.person_stands),
            arc_share_percent: percent(cycle.arc_share()),
            arm_use_percent: percent(cycle.arm_use()),
            person_use_percent: percent(cycle.person_use()),
            parts_per_cycle: cycle.parts_per_cycle(),
            loads_per_hour: rounded(cycle.loads_in(3600.0), 6),
            parts_per_hour: rounded(cycle.parts_in(3600.0), 6),
            parts_per_hour_at_least: rounded(hour(cycle.promise.high), 6),
            parts_per_hour_at_most: rounded(hour(cycle.promise.low), 6),
            beside_turns: Vec::new(),
            services: ServiceFindings::all(cell, plan, cycle),
            shift: cell.shift.zip(cycle.shift).map(|(shift, output)| ShiftFindings {
                length_h: rounded(to_hours(shift.length), 6),
                breaks_min: rounded(to_minutes(shift.breaks), 6),
                availability_percent: percent(shift.availability.value),
                productive_h: rounded(to_hours(output.productive), 6),
                parts: output.parts,
                parts_at_least: output.parts_at_least,
                parts_at_most: output.parts_at_most,
            }),
            rounding: None,
            jerk: None,
            covers: Covers::new(&cycle.coverage),
        }
    }

    /// The promised range and the least possible, in words.
    #[must_use]
    pub fn promise_sentence(&self) -> String {
        let rests_on = match &self.calibration {
            None => format!("±{} %, not calibrated)", fixed(to_percent(UNCALIBRATED_SHARE), 0)),
            Some(quality) => format!("mean), {}", quality.sentence()),
        };
        format!(
            "{} to {} s promised for {} ({} s {rests_on}; without regular stops and with load times that do not vary {} s, and {} s if every \
             axis ran at its full data-sheet speed in the air",
            fixed(self.promised_low_s, 1),
            fixed(self.promised_high_s, 1),
            counted(self.parts_per_cycle, "part"),
            fixed(self.long_run_s, 1),
            fixed(self.plain_s, 1),
            fixed(self.least_possible_s, 1)
        )
    }

    /// What comes out in an hour and in a shift, in words.
    #[must_use]
    pub fn output_sentence(&self) -> String {
        let mut text = format!(
            "{} to {} parts in an hour of undisturbed running",
            fixed(self.parts_per_hour_at_least, 1),
            fixed(self.parts_per_hour_at_most, 1)
        );
        if let Some(shift) = &self.shift {
            text += &format!(
                "; {} to {} in a shift of {} h ({} min of breaks, {} % available)",
                shift.parts_at_least,
                shift.parts_at_most,
                fixed(shift.length_h, 1),
                fixed(shift.breaks_min, 0),
                fixed(shift.availability_percent, 0)
            );
        }
        text
    }

    /// Which seams are not in the times, in words; none where all are.
    #[must_use]
    pub fn gap_sentence(&self, unit: LengthUnit) -> Option<String> {
        (self.covers.timed < self.covers.seams).then(|| {
            format!(
                "only {} of {} are in the times ({} of {} of weld): the times are too short by the rest, and what rests on them is too good",
                self.covers.timed,
                counted(self.covers.seams as u64, "seam"),
                unit.weld(self.covers.timed_weld_mm),
                unit.weld(self.covers.weld_mm)
            )
        })
    }

    /// What the middle of the promised range is made of, in words.
    #[must_use]
    pub fn long_run_sentence(&self) -> String {
        let spread = if self.counts_spread { "varying load times" } else { "load times that do not vary" };
        format!(
            "with {spread} and regular stops the mean cycle is {} s; what is promised makes room for this:",
            fixed(self.long_run_s, 1)
        )
    }
}

impl StationTime {
    /// `beside_others`: it is the side of a table, and there are other places.
    fn new(cell: &Cell, times: &StationTimes, beside_others: bool) -> Self {
        Self {
            station: cell.stations[times.station.0].name.clone(),
            arm_s: s(times.arm),
            arc_s: s(times.times.arc),
            arc_ends_s: s(times.times.arc_ends),
            cooling_s: s(times.times.cooling),
            ways_s: s(times.times.ways),
            air_s: s(times.times.air),
            external_s: s(times.times.external),
            least_possible_s: s(times.least_possible),
            index_s: s(times.index),
            way_s: if beside_others { s(times.way) } else { 0.0 },
            moved_by: Vec::new(),
            person: cell.stations[times.station.0].person_number,
            person_s: s(times.balance.person),
            person_balanced_s: times.balance.balanced.map(s),
            waits_for_others: times.balance.waits_for_others,
            person_small_wait_s: times.balance.small_wait.map(s),
            small_wait_percent: percent(SMALL_WAIT_SHARE),
            parts_per_load: times.parts_per_load,
            covers: Covers::new(&times.coverage),
        }
    }

    /// How the person's time suits the arm's, in words.
    #[must_use]
    pub fn balance_sentence(&self) -> String {
        let mut text = format!("{}: the person needs {} s", self.station, fixed(self.person_s, 1));
        text += &match self.person_balanced_s {
            Some(balanced) if self.waits_for_others => {
                format!(
                    "; up to {} s the cycle is no longer for it, but the arm waits for others",
                    fixed(balanced, 1)
                )
            }
            Some(balanced) => format!("; the arm does not wait up to {} s", fixed(balanced, 1)),
            None => "; the arm waits however short that is".to_owned(),
        };
        if let Some(small) = self.person_small_wait_s {
            text += &format!(
                ", and with load times that vary it waits{} under {} % of the time up to {} s",
                if self.waits_for_others { " for this one" } else { "" },
                fixed(self.small_wait_percent, 0),
                fixed(small, 1)
            );
        }
        text
    }
}

impl Covers {
    fn new(coverage: &crate::schedule::Coverage) -> Self {
        Self {
            seams: coverage.seams,
            timed: coverage.timed,
            by_length_only: coverage.by_length_only,
            weld_mm: rounded(to_mm(coverage.weld_length), 6),
            timed_weld_mm: rounded(to_mm(coverage.timed_weld_length), 6),
            drawn_mm: rounded(to_mm(coverage.drawn_length), 6),
        }
    }
}

/// Axes, tables aside, that move a station between visits.
fn moved_by(cell: &Cell, cycle: &production::Cycle, station: usize) -> Vec<String> {
    let axes = cell.frames.axes.iter().enumerate();
    let moves = axes.filter(|(axis, _)| cycle.moves_between(cell, *axis, station));
    moves.map(|(_, axis)| axis.name.clone()).collect()
}

/// People in findings of before, which do not say.
fn one() -> usize {
    1
}

fn s(seconds: f64) -> f64 {
    rounded(seconds, 6)
}

fn percent(share: f64) -> f64 {
    rounded(to_percent(share), 6)
}
