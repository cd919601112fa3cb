//! Decides what is said of gaps in which a person may be caught.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, fixed, instant, millimetres, rounded};
use crate::cell::{Cell, ZoneId, ZoneRole};
use crate::safety::Safety;
use crate::safety::crush::{CrushGap, Limb};
use crate::safety::keeping::Kept;

/// The smallest that one gap becomes in passing, where somebody at a place may be caught.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CrushGapFindings {
    /// The operator place.
    pub place: String,
    /// What moves.
    pub moving: String,
    /// What it passes.
    pub against: String,
    /// The gap; 0 where they touch.
    pub gap_mm: f64,
    /// What it must be wide enough for: a body in the place, an arm beyond its edge.
    pub limb: Limb,
    /// The least gap for that: ISO 13854, from memory.
    pub asked_mm: f64,
    /// When, from the start of the round; while stopping, when the stop is ordered.
    pub at_s: f64,
    /// The same from the start of the cycle, as in timeline.csv, where tables turn in that while the arm is elsewhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cycle_s: Option<f64>,
    /// How long after an order to stop; 0 on the path.
    #[serde(default)]
    pub stopping_for_s: f64,
    /// Where in the world.
    pub point_mm: [f64; 3],
    /// Whether a device stops it then, before somebody is there.
    pub stopped_by_device: bool,
    /// Devices that stop it for whoever comes through their field, where it is not known whether somebody comes there past them.
    #[serde(default)]
    pub behind: Vec<String>,
    /// Devices through whose field the way past those leads; none where nothing that is drawn closes it.
    #[serde(default)]
    pub through: Vec<String>,
    /// Where nobody comes there past devices that stop it: those through whose field somebody may have come while they did not watch.
    #[serde(default)]
    pub came_while_off: Vec<String>,
    /// Whether it is the torch that comes to a part, as it has to.
    #[serde(default)]
    pub at_work: bool,
    /// Whether guards or boxes stand between it and the place, so that nobody there reaches it.
    #[serde(default)]
    pub kept_by_walls: bool,
    /// Whether the gap is wide enough, a device stops what closes it, or nobody reaches it; none where it is not known whether somebody comes there past that.
    pub holds: Option<bool>,
    /// The answer in one sentence.
    pub sentence: String,
}

impl CrushGapFindings {
    pub(super) fn new(cell: &Cell, gap: &CrushGap) -> Self {
        let mut findings = Self {
            place: cell.zones[gap.place.0].name.clone(),
            moving: gap.moving.clone(),
            against: gap.against.clone(),
            gap_mm: millimetres(gap.gap),
            limb: gap.limb,
            asked_mm: millimetres(gap.limb.least_gap()),
            at_s: rounded(gap.t, 6),
            cycle_s: gap.in_cycle.map(|t| rounded(t, 6)),
            point_mm: [gap.point.x, gap.point.y, gap.point.z].map(millimetres),
            stopping_for_s: rounded(gap.stopping_for, 6),
            stopped_by_device: gap.kept == Kept::Yes,
            behind: names(cell, &gap.around.stopping),
            through: names(cell, &gap.around.through),
            came_while_off: names(cell, &gap.around.while_off),
            at_work: gap.is_at_work,
            kept_by_walls: gap.kept_by_walls,
            holds: gap.holds(),
            sentence: String::new(),
        };
        findings.sentence = findings.sentence_in(LengthUnit::Millimetre);
        findings
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let limb = match self.limb {
            Limb::Body => "a body in it",
            Limb::Arm => "an arm that reaches from it",
        };
        let at = self.point_mm.map(|c| unit.place_number(c)).join(", ");
        let asked = unit.distance(self.asked_mm);
        let answer = match (self.stopped_by_device, self.holds) {
            _ if self.kept_by_walls => {
                format!("{asked} asked for {limb}; what stands between keeps whoever is there from it")
            }
            (true, _) => format!("{asked} asked for {limb}; its device stops that then"),
            (false, Some(true)) => format!("wide enough for {limb} ({asked})"),
            (false, Some(false)) => format!("{limb} can be caught ({asked} asked), and nothing stops it"),
            (false, None) => {
                let past = past(&self.behind, &self.through, &self.came_while_off);
                format!("{asked} asked for {limb}; {past}")
            }
        };
        let (does, at_work) = match (self.at_work, self.stopping_for_s > 0.0) {
            (true, false) => ("comes to", ", as it has to weld;"),
            (true, true) => ("comes to", ":"),
            (false, _) => ("passes", ":"),
        };
        let stopping = if self.stopping_for_s > 0.0 {
            format!(", {} s after an order to stop", fixed(self.stopping_for_s, 2))
        } else {
            String::new()
        };
        format!(
            "{}: {} {does} {} at {}{stopping} with a gap of {} at {at} {}{at_work} {answer} (ISO 13854, from memory)",
            self.place,
            self.moving,
            self.against,
            instant(self.at_s, self.cycle_s),
            unit.distance(self.gap_mm),
            unit.name()
        )
    }
}

/// What is not known of whoever comes past devices that would stop something.
pub(super) fn past(behind: &[String], through: &[String], came_while_off: &[String]) -> String {
    if !came_while_off.is_empty() {
        return format!(
            "{} stops that for whoever comes while it watches; not checked: whether all who came before are out by then (start_from_outside = true \
             says that it sets out only after a signal from outside)",
            came_while_off.join(" or ")
        );
    }
    let stops = format!("{} stops that for whoever has come through it", behind.join(" or "));
    if through.is_empty() {
        return format!(
            "{stops}; not checked: whether somebody gets there around it, since nothing that is drawn closes that way (draw the guards that do)"
        );
    }
    format!(
        "{stops}; not checked: whether somebody gets there through {}, which is off then, or whose response_s is not stated",
        through.join(" or ")
    )
}

pub(super) fn names(cell: &Cell, zones: &[ZoneId]) -> Vec<String> {
    zones.iter().map(|zone| cell.zones[zone.0].name.clone()).collect()
}

/// So many gaps in which somebody can be caught are told at length.
const TOLD: usize = 3;

/// What is told of the gaps: whether it holds, and a sentence. Of those in which somebody can be caught the narrowest at length, of each place the
/// others in one sentence.
pub(super) fn told(gaps: &[CrushGapFindings], unit: LengthUnit) -> Vec<(bool, String)> {
    let mut faults: Vec<&CrushGapFindings> = gaps.iter().filter(|gap| gap.holds == Some(false)).collect();
    // A stable sort: of equals the first in the list comes first.
    faults.sort_by(|a, b| a.gap_mm.total_cmp(&b.gap_mm));
    let others = faults.split_off(faults.len().min(TOLD));
    let is_told = |gap: &&CrushGapFindings| {
        gap.holds != Some(false) || faults.iter().any(|told| std::ptr::eq(*told, *gap))
    };
    let at_length = gaps.iter().filter(is_told).map(|gap| (gap.holds != Some(false), gap.sentence_in(unit)));
    let mut places: Vec<&str> = others.iter().map(|gap| gap.place.as_str()).collect();
    places.sort_unstable();
    places.dedup();
    let counted = places.into_iter().map(|place| {
        let of_place: Vec<f64> =
            others.iter().filter(|gap| gap.place == place).map(|gap| gap.gap_mm).collect();
        let widest = of_place.iter().copied().fold(0.0, f64::max);
        let more = match of_place.len() {
            1 => format!("1 more gap, of {}, in which", unit.distance(widest)),
            count => format!(
                "{count} more gaps, of {} to {}, in which",
                unit.distance(of_place[0]),
                unit.distance(widest)
            ),
        };
        (
            false,
            format!("{place}: {more} somebody can be caught and nothing stops it: all are in findings.json"),
        )
    });
    at_length.chain(counted).collect()
}

/// What is said of operator places near which no gap was found.
pub(super) fn none_at(cell: &Cell, safety: &Safety, gaps: &[CrushGapFindings]) -> Vec<String> {
    let places =
        cell.zones.iter().filter(|zone| zone.role == ZoneRole::OperatorPlace && safety.anything_moves);
    let without = places.filter(|zone| gaps.iter().all(|gap| gap.place != zone.name));
    let unseen = if !safety.unseen_links.is_empty() { ", of what has a shape" } else { "" };
    without
        .map(|zone| {
            format!(
                "{}: no gap that closes to under 500 mm was found in it or within 850 mm of it{unseen}",
                zone.name
            )
        })
        .collect()
}
