//! Decides what is said of worst stops, of proving the program by hand, of emergency stops, and of who sees the arc.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_hours;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, counted, fixed, millimetres, rounded};
use crate::cell::{Cell, SeamId, StopPlace};
use crate::safety::arc_view::ArcView;
use crate::safety::manual::{Manual, REDUCED_SPEED};
use crate::safety::stop_ways::{Braking, StopWay, WorstStops};

/// One of the worst stops of a category.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WorstStopFindings {
    /// Stop category of IEC 60204-1.
    pub category: u32,
    /// When the stop is ordered, from the start of the round.
    pub at_s: f64,
    /// Whether all axes are held on the path; else each brakes by itself.
    #[serde(default)]
    pub held_on_path: bool,
    /// Until everything stands; held on the path, how long the planned motion would have gone on for the same way.
    pub time_s: f64,
    /// Way of the wire end.
    pub tool_way_mm: f64,
    /// From where the wire end was to where it stands.
    pub tool_displacement_mm: f64,
    /// From where the point of arm and torch that goes the longest way was to where it stands.
    pub arm_displacement_mm: f64,
    /// The body it belongs to.
    pub body: String,
    /// Its way.
    #[serde(default)]
    pub arm_way_mm: f64,
}

/// Proving the program in manual mode.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ManualFindings {
    /// Cap of the speed of the wire end, which is the point that is checked.
    pub reduced_mm_s: f64,
    /// Greatest speed of the wire end in the schedule.
    pub fastest_mm_s: f64,
    /// The schedule as planned.
    pub planned_s: f64,
    /// Played at reduced speed.
    pub played_s: f64,
    /// Points to teach.
    pub points: u64,
    /// Teaching them and playing them once.
    pub proving_h: f64,
}

/// Emergency stop devices of one kind of place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EmergencyStopFindings {
    /// Where.
    pub place: StopPlace,
    /// Names of those that are listed.
    pub listed: Vec<String>,
}

/// Who sees the arc.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArcViewFindings {
    /// The operator place.
    pub place: String,
    /// Seams whose arc is seen from it, each after its station.
    pub seen: Vec<String>,
    /// Seams that were looked at.
    pub looked_at: u64,
}

impl WorstStopFindings {
    pub(super) fn new(worst: &WorstStops, way: &StopWay) -> Self {
        Self {
            category: worst.category.number(),
            at_s: rounded(way.t, 6),
            held_on_path: worst.braking == Braking::HeldOnPath,
            time_s: rounded(way.time, 6),
            tool_way_mm: millimetres(way.tool_way),
            tool_displacement_mm: millimetres(way.tool_displacement),
            arm_displacement_mm: millimetres(way.arm_displacement),
            body: way.body.clone(),
            arm_way_mm: millimetres(way.arm_way),
        }
    }

    /// In words.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let (how, time) = if self.held_on_path {
            ("all axes held on the path", "does what is planned for the next")
        } else {
            ("each axis by itself", "stands after")
        };
        format!(
            "worst stop of category {}, {how}, ordered at {} s ({time} {} s): the wire end goes on {} ({} straight), no \
             point of arm and torch farther than {} on the {} ({} straight)",
            self.category,
            fixed(self.at_s, 2),
            fixed(self.time_s, 2),
            unit.distance(self.tool_way_mm),
            unit.distance(self.tool_displacement_mm),
            unit.distance(self.arm_way_mm),
            self.body,
            unit.distance(self.arm_displacement_mm)
        )
    }

    /// In words, of a stop that is told for what the wire end does.
    #[must_use]
    pub fn of_wire_end_in(&self, unit: LengthUnit) -> String {
        format!(
            "the longest way found of the wire end alone is {} ({} straight), ordered at {} s",
            unit.distance(self.tool_way_mm),
            unit.distance(self.tool_displacement_mm),
            fixed(self.at_s, 2)
        )
    }
}

impl ManualFindings {
    pub(super) fn new(manual: &Manual) -> Self {
        Self {
            reduced_mm_s: millimetres(REDUCED_SPEED),
            fastest_mm_s: millimetres(manual.fastest),
            planned_s: rounded(manual.planned, 6),
            played_s: rounded(manual.played, 6),
            points: manual.points as u64,
            proving_h: rounded(to_hours(manual.proving), 6),
        }
    }

    /// In words.
    #[must_use]
    pub fn sentence(&self) -> String {
        format!(
            "manual mode: with the wire end (the point that is checked) at most {} mm/s (ISO 10218-1), enabling device held, the program \
             takes {} s instead of {} s, where it goes up to {} mm/s; teaching {} and playing them once takes {} h",
            fixed(self.reduced_mm_s, 0),
            fixed(self.played_s, 0),
            fixed(self.planned_s, 0),
            fixed(self.fastest_mm_s, 0),
            counted(self.points, "point"),
            fixed(self.proving_h, 1)
        )
    }
}

/// What is listed for each kind of place where there should be an emergency stop.
pub(super) fn emergency_stops(cell: &Cell) -> Vec<EmergencyStopFindings> {
    [StopPlace::Outside, StopPlace::OperatorStation, StopPlace::Pendant, StopPlace::Inside]
        .map(|place| EmergencyStopFindings {
            place,
            listed: cell
                .safeguarding
                .emergency_stops
                .iter()
                .filter(|stop| stop.place == place)
                .map(|stop| stop.name.clone())
                .collect(),
        })
        .to_vec()
}

impl EmergencyStopFindings {
    /// In words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let place = match self.place {
            StopPlace::Outside => "outside the cell",
            StopPlace::OperatorStation => "where parts are loaded",
            StopPlace::Pendant => "on the pendant",
            StopPlace::Inside => "inside the safeguarded space",
        };
        if self.listed.is_empty() {
            return format!("{place}: NONE listed");
        }
        format!("{place}: {}", self.listed.join(", "))
    }
}

impl ArcViewFindings {
    pub(super) fn new(cell: &Cell, view: &ArcView) -> Self {
        Self {
            place: cell.zones[view.place.0].name.clone(),
            seen: view.seen.iter().map(|seam| of_station(cell, *seam)).collect(),
            looked_at: view.looked_at as u64,
        }
    }

    /// In words.
    #[must_use]
    pub fn sentence(&self) -> String {
        if self.seen.is_empty() {
            return format!(
                "{}: something stands on every line of sight to the arc of {} that were looked at; whether it stops arc rays is not known",
                self.place,
                counted(self.looked_at, "seam")
            );
        }
        format!(
            "{}: the arc of {} of {} is in plain view ({}); booth or screens that do not burn, or goggles, are asked (29 CFR \
             1910.252(b)(2)(iii)); a light curtain stops no rays",
            self.place,
            self.seen.len(),
            counted(self.looked_at, "seam"),
            self.some_seen()
        )
    }

    /// The first of the seams that are seen.
    fn some_seen(&self) -> String {
        const FIRST: usize = 4;
        let first = self.seen.iter().take(FIRST).cloned().collect::<Vec<_>>().join(", ");
        if self.seen.len() > FIRST { format!("{first} and others") } else { first }
    }
}

/// A seam after its station.
fn of_station(cell: &Cell, seam: SeamId) -> String {
    let seam = &cell.seams[seam.0];
    format!("{} / {}", cell.stations[seam.station.0].name, seam.name)
}

/// What is said of fume.
pub(super) fn fume(cell: &Cell) -> String {
    match cell.safeguarding.extraction {
        Some(true) => "fume: drawn off where it arises, as the file says; whether enough is not checked".to_owned(),
        Some(false) => {
            "fume: NOT drawn off where it arises, as the file says: judge ventilation before anybody works beside it".to_owned()
        }
        None => "fume: the file does not say whether it is drawn off".to_owned(),
    }
}

/// What a person at the cell must know besides.
pub(super) const CAUTIONS: [&str; 4] = [
    "before anybody enters: lock out and tag out drives, welding current, gas and clamps; stored energy counts",
    "emergency stops are of category 0 or 1, and their reset starts nothing (ISO 13850)",
    "parts, nozzle and spatter are hot long after the arc; clamps and turning fixtures pinch",
    "arc rays, also reflected ones, burn eyes and skin; fume must not pass through the breathing zone",
];
