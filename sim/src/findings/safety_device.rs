//! Decides what is said of one protective device: what its time is made of, and whether what is there is what the rule books ask.

use schemars::JsonSchema;
use seamwright_kinematics::Basis;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::safety_intrusion::IntrusionFindings;
use super::safety_nearest::NearestFindings;
use super::safety_rule::{RuleFindings, clause};
use super::words::{LengthUnit, fixed, millimetres, rounded};
use crate::cell::{Active, Cell, Device, ZoneRole};
use crate::safety::intrusion::Intrusions;
use crate::safety::watch::{Rule, StopBasis, Times, Unsure, Watched};

/// What was learnt of a protective device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DeviceFindings {
    /// Name in the file.
    pub device: String,
    /// What it is.
    pub role: ZoneRole,
    /// When it watches.
    pub active: Active,
    /// What it stops: `arm`, names of external axes.
    pub stops: Vec<String>,
    /// Whether it may stand so, stands far enough, and nothing passes it unwatched; none where that was not checked.
    pub holds: Option<bool>,
    /// What its time is made of; none where its response is not stated.
    pub times: Option<DeviceTimeFindings>,
    /// What the rule books ask.
    pub asked: Vec<RuleFindings>,
    /// The greatest distance asked by the rules that count.
    pub asked_mm: Option<f64>,
    /// The clause it comes from.
    pub clause: Option<String>,
    /// What is there, from the field to what it stops; negative where that passes the field.
    pub present_mm: Option<f64>,
    /// Where it comes nearest in the schedule, stopping included.
    pub nearest: Option<NearestFindings>,
    /// From the field to the restricted space, which then counts where it is nearer.
    pub to_restricted_space_mm: Option<f64>,
    /// What passes the field though neither it nor another device that stands in the way stops that then.
    pub passes_unwatched: Option<NearestFindings>,
    /// What comes nearer to it than is asked, or passes it, though no device stops that then.
    #[serde(default)]
    pub unstopped: Option<NearestFindings>,
    /// What comes nearest while it is off, farther away than is asked.
    #[serde(default)]
    pub while_off: Option<NearestFindings>,
    /// Why its distance alone does not show that it keeps people: the height of its field.
    #[serde(default)]
    pub unsure: Option<String>,
    /// Whether links of the arm have no shape and were not seen.
    #[serde(default)]
    pub arm_unseen: bool,
    /// The rule among those that count by which it may not stand so at any distance, and why; none where it may.
    pub forbidden_by: Option<String>,
    /// What happens when somebody reaches in.
    pub intrusion: Option<IntrusionFindings>,
    /// The answer in one sentence.
    pub sentence: String,
}

/// What the time from a person's coming to standstill is made of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DeviceTimeFindings {
    /// The device.
    pub device_s: f64,
    /// From its output to the stop order.
    pub controller_s: f64,
    /// Whether that was not stated.
    #[serde(default)]
    pub controller_assumed: bool,
    /// From the order to standstill.
    pub machine_s: f64,
    /// Where that comes from.
    pub machine_basis: StopBasis,
    /// What stands last.
    pub slowest: Option<String>,
    /// What was measured, where the files state that what it stops takes longer: it does not count then.
    #[serde(default)]
    pub overruled_s: Option<f64>,
    /// All three.
    pub total_s: f64,
    /// What ANSI B11.19 adds for wear of the brakes.
    pub brake_allowance_s: f64,
}

impl DeviceFindings {
    pub(super) fn new(cell: &Cell, watched: &Watched, intrusions: Option<&Intrusions>) -> Option<Self> {
        let zone = &cell.zones[watched.zone.0];
        let device = zone.device.as_ref()?;
        let deciding = watched.deciding();
        let unstopped = watched.unstopped();
        let passes = unstopped.filter(|nearest| nearest.distance < 0.0);
        let missing = intrusions.is_some_and(|intrusions| intrusions.worst.left_with_intrusion < -ROUNDING);
        let far_enough = watched.is_far_enough();
        let forbidden = watched.forbidden();
        let mut findings = Self {
            device: zone.name.clone(),
            role: zone.role,
            active: device.active,
            stops: stops(cell, device),
            holds: if unstopped.is_some() || forbidden.is_some() || missing {
                Some(false)
            } else {
                far_enough
            },
            times: watched.times.as_ref().map(|times| DeviceTimeFindings::new(cell, times)),
            asked: watched.asked.iter().map(|asked| RuleFindings::new(asked, device)).collect(),
            asked_mm: deciding.map(|(_, distance)| millimetres(distance.distance)),
            clause: deciding.map(|(rule, distance)| clause(rule, Some(&distance), device)),
            present_mm: watched.present().map(millimetres),
            nearest: watched.nearest.as_ref().map(NearestFindings::new),
            to_restricted_space_mm: watched.to_restricted_space.map(millimetres),
            passes_unwatched: passes.map(NearestFindings::new),
            unstopped: unstopped.map(NearestFindings::new),
            while_off: watched.beyond_while_off().map(NearestFindings::new),
            unsure: watched.unsure.map(unsure),
            arm_unseen: false,
            forbidden_by: forbidden
                .map(|(rule, why)| format!("{}: {}", clause(rule, None, device), why.reason())),
            intrusion: intrusions.map(|intrusions| IntrusionFindings::new(intrusions, device)),
            sentence: String::new(),
        };
        findings.sentence = findings.sentence_in(LengthUnit::Millimetre);
        Some(findings)
    }

    /// The same where most of the arm was not seen: then nothing shows that it stands far enough.
    pub(super) fn with_arm_unseen(mut self) -> Self {
        self.arm_unseen = true;
        self.holds = self.holds.filter(|holds| !holds);
        self.sentence = self.sentence_in(LengthUnit::Millimetre);
        self
    }

    /// What it stops and when it watches, in words.
    #[must_use]
    pub fn task(&self) -> String {
        let when = match self.active {
            Active::Always => "always",
            Active::WhileAxesMove => "only while an external axis of these moves",
            Active::WhileArmHere => "only while the arm is at its station",
        };
        if self.stops.is_empty() {
            return "stops nothing".to_owned();
        }
        format!("stops {}, {when}", self.stops.join(" and "))
    }

    /// What moves behind it while it is off, in words.
    pub(super) fn while_off_in_words(&self) -> Option<String> {
        let nearest = self.while_off.as_ref()?;
        let there = LengthUnit::Millimetre.distance(nearest.distance_mm);
        let when = nearest.when();
        Some(format!(
            "what keeps somebody who has come through {} while it is off from {}, which comes to {there} behind it then ({when})",
            self.device, nearest.body
        ))
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let unstopped = self.unstopped.as_ref().map(|nearest| {
            if nearest.distance_mm < 0.0 {
                return format!(
                    "{} passes it by {} {} while it does not stop that",
                    nearest.body,
                    unit.distance(-nearest.distance_mm),
                    nearest.when()
                );
            }
            format!(
                "{} comes to {} behind it {} while nothing here stops that",
                nearest.body,
                unit.distance(nearest.distance_mm),
                nearest.when()
            )
        });
        let forbidden = self.forbidden_by.as_ref().map(|rule| format!("may not stand so by {rule}"));
        let reached = self.intrusion.as_ref().and_then(|intrusion| intrusion.missing_in(unit));
        let reached = reached.filter(|_| self.present_mm >= self.asked_mm);
        [unstopped, forbidden, reached, Some(self.distance_in(unit))]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join("; ")
    }

    /// What there is against what is asked, in words.
    fn distance_in(&self, unit: LengthUnit) -> String {
        let (Some(present), Some(asked), Some(clause)) = (self.present_mm, self.asked_mm, &self.clause)
        else {
            return match self.asked_mm {
                None if self.times.is_none() => "not checked: its response_s is not stated".to_owned(),
                None => {
                    let counted = self.asked.iter().filter(|asked| asked.counts);
                    let why = counted.filter_map(|asked| asked.not_covered.as_ref()).next();
                    let why = why.map_or_else(String::new, |why| format!(": {why}"));
                    format!("not checked: none of the rules that count has a figure for it{why}")
                }
                Some(_) => "not checked: nothing that it stops moves in the schedule".to_owned(),
            };
        };
        let hazard = self.hazard(present);
        let needed = unit.distance(asked);
        let there = if present < 0.0 {
            format!("{hazard} passes it by {}", unit.distance(-present))
        } else {
            format!("{} to {hazard}", unit.distance(present))
        };
        if present < asked {
            let short = unit.distance(asked - present);
            return format!("{short} too near: {there}, {needed} asked by {clause}");
        }
        if self.arm_unseen {
            return format!(
                "not checked: links of the arm have no shape; of what has one, {there}, {needed} asked by {clause}"
            );
        }
        if self.has_only_the_least() {
            return format!(
                "not checked: {there}, but of the rules that count only {clause} has a figure, {needed}, which leaves \
                 nothing for what comes through before it acts"
            );
        }
        if let Some(why) = &self.unsure {
            return format!("not checked: {there}, {needed} asked by {clause}, but {why}");
        }
        // What is wrong with it has been said.
        let enough = if self.holds == Some(false) {
            "enough in distance alone"
        } else {
            "far enough for these figures"
        };
        format!("{enough}: {there}, {needed} asked by {clause}")
    }

    /// Whether of the rules that count only the way of a hand in the stopping time is known.
    fn has_only_the_least(&self) -> bool {
        let mut figures = self.asked.iter().filter(|asked| asked.counts && asked.distance_mm.is_some());
        figures.all(|asked| asked.rule == Rule::Osha)
    }

    /// What the distance leads to.
    fn hazard(&self, present: f64) -> String {
        match &self.nearest {
            Some(nearest) if nearest.distance_mm <= present => {
                format!("{} {}", nearest.body, nearest.when())
            }
            _ => "the restricted space".to_owned(),
        }
    }
}

impl DeviceTimeFindings {
    fn new(cell: &Cell, times: &Times) -> Self {
        Self {
            controller_assumed: cell.safeguarding.controller.basis == Basis::Assumed,
            device_s: rounded(times.device, 6),
            controller_s: rounded(times.controller, 6),
            machine_s: rounded(times.machine, 6),
            machine_basis: times.machine_basis,
            slowest: times.slowest.clone(),
            overruled_s: times.overruled.map(|time| rounded(time, 6)),
            total_s: rounded(times.total(), 6),
            brake_allowance_s: rounded(times.brake, 6),
        }
    }

    /// What it is made of, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let of = match (self.machine_basis, &self.slowest) {
            (StopBasis::Measured, _) => "measured".to_owned(),
            (basis, Some(slowest)) if let Some(measured) = self.overruled_s => format!(
                "{slowest} from full speed, {}; the {} s measured are SHORTER than the files let it be and do not count: one of the two is \
                 wrong, or it was not measured with that moving",
                if basis == StopBasis::Assumed { "braking ASSUMED" } else { "by what the files state" },
                fixed(measured, 3)
            ),
            (StopBasis::Stated, Some(slowest)) => format!("{slowest} from full speed, by its stated figures"),
            (StopBasis::Assumed, Some(slowest)) => format!("{slowest} from full speed, braking ASSUMED"),
            (_, None) => "nothing to stop".to_owned(),
        };
        format!(
            "{} s until everything stands: device {} s, controller {} s{}, machine {} s ({of})",
            fixed(self.total_s, 3),
            fixed(self.device_s, 3),
            fixed(self.controller_s, 3),
            if self.controller_assumed { " ASSUMED" } else { "" },
            fixed(self.machine_s, 3)
        )
    }
}

/// Why a field does not keep people, whatever its distance.
fn unsure(why: Unsure) -> String {
    let mm = |metres: f64| LengthUnit::Millimetre.distance(to_mm(metres));
    match why {
        Unsure::CrawledUnder(low) => format!(
            "it begins {} above the floor, and under more than 300 mm (the lowest of two beams: 400 mm) somebody crawls (ISO 13855:2010)",
            mm(low)
        ),
        Unsure::SteppedOver(high) => format!(
            "it ends {} above the floor, lower than the highest of any beams (900 mm, ISO 13855:2010): somebody steps over it",
            mm(high)
        ),
        Unsure::OneBeam => "at which height a single beam must stand was not seen".to_owned(),
        Unsure::ArmMovesMeanwhile => "it watches while axes move, and the arm may move meanwhile, which it does not stop and which what is \
             looked at does not show: let it stop the arm as well, or put a guard between"
            .to_owned(),
        Unsure::ArmMayMoveMeanwhile => "it watches while axes move and does not stop the arm, which nobody meets then in the cycle as it is \
             scheduled; where loads take longer or shorter the arm may move meanwhile: let it stop the arm as well, or put a guard between"
            .to_owned(),
    }
}

fn stops(cell: &Cell, device: &Device) -> Vec<String> {
    let arm = device.stops_arm.then(|| "arm".to_owned());
    let axes = device.stops_axes.iter().map(|&axis| cell.frames.axes[axis].name.clone());
    arm.into_iter().chain(axes).collect()
}

/// What is missing by no more is drawn on the edge, m.
const ROUNDING: f64 = 1e-9;
