//! Decides what is said of gaps in which a person may be caught.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, fixed, rounded};
use crate::cell::Cell;
use crate::safety::crush::{CrushGap, Limb};

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
    /// When, from the start of the round.
    pub at_s: f64,
    /// Where in the world.
    pub point_mm: [f64; 3],
    /// Whether a device of the place's station stops it then.
    pub stopped_by_device: bool,
    /// Whether the gap is wide enough, or a device stops what closes it.
    pub holds: bool,
    /// The answer in one sentence.
    pub sentence: String,
}

impl CrushGapFindings {
    pub(super) fn new(cell: &Cell, gap: &CrushGap) -> Self {
        let mm = |metres: f64| rounded(to_mm(metres), 6);
        let mut findings = Self {
            place: cell.zones[gap.place.0].name.clone(),
            moving: gap.moving.clone(),
            against: gap.against.clone(),
            gap_mm: mm(gap.gap),
            limb: gap.limb,
            asked_mm: mm(gap.limb.least_gap()),
            at_s: rounded(gap.t, 6),
            point_mm: [gap.point.x, gap.point.y, gap.point.z].map(mm),
            stopped_by_device: gap.is_stopped,
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
            (true, _) => format!("{asked} asked for {limb}; its device stops that then"),
            (false, true) => format!("wide enough for {limb} ({asked})"),
            (false, false) => format!("{limb} can be caught ({asked} asked), and nothing stops it"),
        };
        format!(
            "{}: {} passes {} at {} s with a gap of {} at {at} {}: {answer} (ISO 13854, from memory)",
            self.place,
            self.moving,
            self.against,
            fixed(self.at_s, 2),
            unit.distance(self.gap_mm),
            unit.name()
        )
    }
}
