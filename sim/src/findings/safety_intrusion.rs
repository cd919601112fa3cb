//! Decides what is said of somebody who breaks a field and walks on, at the worst instant and at others by chance.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::reach_in::{goes_on, left};
use super::safety_rule::clause;
use super::words::{LengthUnit, fixed, instant, millimetres, rounded};
use crate::cell::Device;
use crate::safety::intrusion::Intrusions;

/// What happens when somebody breaks a field and walks on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IntrusionFindings {
    /// The instant at which least way is left to the person, from the start of the round.
    pub worst_at_s: f64,
    /// The same from the start of the cycle, as in timeline.csv, where tables turn in that while the arm is elsewhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst_cycle_s: Option<f64>,
    /// Until everything that the device stops stands.
    pub stands_after_s: f64,
    /// What stands last.
    pub last_to_stand: String,
    /// What still moves then, because the device does not stop it.
    #[serde(default)]
    pub unstopped: Option<String>,
    /// The clause of the rule that decides for that time; none where no rule that counts has a figure.
    #[serde(default)]
    pub clause: Option<String>,
    /// What comes nearest to the field.
    pub body: String,
    /// Speed of the person.
    pub approach_mm_s: f64,
    /// Way left when everything stands.
    pub left_mm: f64,
    /// The same, less the intrusion distance (and not less than the least distances of the rule).
    pub left_with_intrusion_mm: f64,
    /// Instants drawn by chance at which the device watches and something moves.
    pub drawn: u64,
    /// Of these, those that leave no way, intrusion distance counted.
    pub reached: u64,
    /// Way left in the middling one, intrusion distance counted.
    pub middling_left_mm: f64,
}

impl IntrusionFindings {
    pub(super) fn new(intrusions: &Intrusions, device: &Device) -> Self {
        let worst = &intrusions.worst;
        Self {
            unstopped: worst.unstopped.clone(),
            clause: worst.asked.map(|(rule, asked)| clause(rule, Some(&asked), device)),
            worst_at_s: rounded(worst.t, 6),
            worst_cycle_s: worst.in_cycle.map(|t| rounded(t, 6)),
            stands_after_s: rounded(worst.stands_after, 6),
            last_to_stand: worst.last_to_stand.clone(),
            body: worst.body.clone(),
            approach_mm_s: millimetres(worst.approach_speed),
            left_mm: millimetres(worst.left),
            left_with_intrusion_mm: millimetres(worst.left_with_intrusion),
            drawn: intrusions.drawn as u64,
            reached: intrusions.reached as u64,
            middling_left_mm: millimetres(intrusions.middling),
        }
    }

    /// What is missing at the worst instant, by the rule that decides.
    pub(super) fn missing_in(&self, unit: LengthUnit) -> Option<String> {
        let missing = -self.left_with_intrusion_mm;
        let by = self.clause.as_ref().map_or_else(String::new, |clause| format!(" by {clause}"));
        (missing > 0.0).then(|| {
            format!(
                "somebody who breaks it at {} is {} short to {}{by}",
                instant(self.worst_at_s, self.worst_cycle_s),
                unit.distance(missing),
                self.body
            )
        })
    }

    /// The worst instant in words.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let (left, goes_on) = (left(self.left_mm, unit), goes_on(self.unstopped.as_deref()));
        format!(
            "somebody who breaks it at {} (the worst instant) and goes on at {} m/s: what it stops stands after {} s, {} last; \
             {left} to {} ({} with all that the clause adds to that way); of {} instants by chance {} leave too little{goes_on}",
            instant(self.worst_at_s, self.worst_cycle_s),
            fixed(self.approach_mm_s / 1000.0, 1),
            fixed(self.stands_after_s, 3),
            self.last_to_stand,
            self.body,
            unit.distance(self.left_with_intrusion_mm),
            self.drawn,
            self.reached
        )
    }
}
