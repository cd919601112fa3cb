//! Decides what is said of what a rule book asks of a device: the distance, and the clause and formula that it comes from.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, millimetres};
use crate::cell::{Detection, Device};
use crate::safety::separation::{Branch, Distance};
use crate::safety::watch::{Asked, Rule};

/// What one rule book asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RuleFindings {
    /// Rule book.
    pub rule: Rule,
    /// Clause and formula.
    pub clause: String,
    /// Distance; none where `not_covered` says why.
    pub distance_mm: Option<f64>,
    /// Speed of approach.
    pub speed_mm_s: Option<f64>,
    /// Intrusion distance in it.
    pub intrusion_mm: Option<f64>,
    /// Why there is no figure.
    pub not_covered: Option<String>,
    /// Whether it takes part in the answer.
    pub counts: bool,
}

impl RuleFindings {
    pub(super) fn new(asked: &Asked, device: &Device) -> Self {
        let distance = asked.distance.ok();
        Self {
            rule: asked.rule,
            clause: clause(asked.rule, distance.as_ref(), device),
            distance_mm: distance.map(|distance| millimetres(distance.distance)),
            speed_mm_s: distance.map(|distance| millimetres(distance.speed)),
            intrusion_mm: distance.map(|distance| millimetres(distance.intrusion)),
            not_covered: asked.distance.err().map(|why| why.reason().to_owned()),
            counts: asked.counts,
        }
    }

    /// In words.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let aside = if self.counts { "" } else { " (for comparison)" };
        match (self.distance_mm, &self.not_covered) {
            (Some(distance), _) => format!("{}{aside}: {}", self.clause, unit.distance(distance)),
            (None, Some(why)) => format!("{}: no figure: {why}", self.clause),
            (None, None) => format!("{}: no figure", self.clause),
        }
    }
}

/// Clause and formula, with the terms that the figure is made of. The numbers of clauses of ISO 13855:2010 are from memory.
pub(super) fn clause(rule: Rule, distance: Option<&Distance>, device: &Device) -> String {
    let mm = |metres: f64| LengthUnit::Millimetre.distance(to_mm(metres));
    let branch = distance.map(|distance| distance.branch);
    let by_contact = device.detection == Detection::Contact;
    let intrusion = distance.map_or(0.0, |distance| distance.intrusion);
    // What was looked up for reaching over counts where it is the greater.
    let over = device.reach_over.is_some_and(|over| over >= intrusion && over > 0.0);
    let over = if over { ", C for reaching over as stated" } else { "" };
    match (rule, branch) {
        (Rule::Iso2010, Some(Branch::HandSpeed)) => {
            format!("ISO 13855:2010, 6.2.3 (S = 2000 T + C up to 500 mm{over})")
        }
        (Rule::Iso2010, Some(Branch::LeastOfAll)) => "ISO 13855:2010, 6.2.3 (at least 100 mm)".to_owned(),
        (Rule::Iso2010, Some(Branch::WalkingSpeed)) if by_contact => {
            "ISO 13855:2010 (S = 1600 T + C, C as stated)".to_owned()
        }
        (Rule::Iso2010, Some(Branch::WalkingSpeed)) => {
            format!("ISO 13855:2010, 6.2.3 (S = 1600 T + C beyond 500 mm{over})")
        }
        (Rule::Iso2010, Some(Branch::LeastByWalking)) => {
            "ISO 13855:2010, 6.2.3 (S = 1600 T + C, at least 500 mm)".to_owned()
        }
        (Rule::Iso2010, Some(Branch::ArmThrough)) => {
            format!("ISO 13855:2010, 6.2 (S = 1600 T + {}{over})", mm(intrusion))
        }
        (Rule::Iso2010, Some(Branch::OneBeam)) => {
            format!("ISO 13855:2010, 6.2.5 (S = 1600 T + {}{over})", mm(intrusion))
        }
        (Rule::Iso2010, Some(Branch::Parallel)) => {
            format!(
                "ISO 13855:2010, 6.3 (S = 1600 T + C, C = 1200 mm - 0.4 H, at least 850 mm: {})",
                mm(intrusion)
            )
        }
        (Rule::Iso2010, None) => "ISO 13855:2010".to_owned(),
        (Rule::Iso2024, Some(_)) => "ISO 13855:2024, parallel (S = 1600 T + 1200 mm + Z)".to_owned(),
        (Rule::Iso2024, None) => "ISO 13855:2024".to_owned(),
        (Rule::Osha, _) => "29 CFR 1910.217(c)(3)(iii)(e) (Ds = 63 in/s T)".to_owned(),
        (Rule::Ansi, _) if by_contact => {
            "ANSI B11.19 (Ds = 63 in/s (T + brake allowance) + Dpf, Dpf as stated)".to_owned()
        }
        (Rule::Ansi, _) => "ANSI B11.19 (Ds = 63 in/s (T + brake allowance) + Dpf)".to_owned(),
    }
}
