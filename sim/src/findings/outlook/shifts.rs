//! Decides what is shown of shifts played through.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_minutes, to_percent};
use serde::{Deserialize, Serialize};

use crate::findings::words::{fixed, rounded};
use crate::production::PlayedShifts;
use crate::production::shift::{ArmTime, CONFIDENCE, Effect, Knob, Mean, Oee, PeopleTime};

/// Shifts played through.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlayedFindings {
    /// How many shifts.
    pub shifts: u32,
    /// Parts finished in a shift.
    pub parts: MeanFindings,
    /// Good parts in a shift.
    pub good_parts: MeanFindings,
    /// One shift in twenty makes fewer parts.
    pub parts_poor: u64,
    /// Half of the shifts make fewer.
    pub parts_middling: u64,
    /// One shift in twenty makes more.
    pub parts_rich: u64,
    /// Mean parts if every time were as long as is promised at most.
    pub parts_if_slow: f64,
    /// Mean parts if they were as short as is promised at least.
    pub parts_if_fast: f64,
    /// Where the arm's time went, mean of a shift.
    pub arm: ArmTimeFindings,
    /// Where the people's time went, mean of a shift.
    pub people: PeopleTimeFindings,
    /// Planned time of a shift: its length less breaks in which the arm stands.
    pub planned_min: f64,
    /// Time of a part if nothing waits and nothing stops: the plain cycle over its parts.
    pub ideal_part_s: f64,
    /// Overall equipment effectiveness and its parts.
    pub oee: OeeFindings,
    /// What each thing that can be changed is worth, one at a time, on the same luck.
    pub effects: Vec<EffectFindings>,
}

/// A mean with its confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeanFindings {
    /// The mean over all shifts.
    pub mean: f64,
    /// Half the width of the interval that holds the true mean in `confidence_percent` of the cases.
    pub within: f64,
    /// How sure that is.
    pub confidence_percent: f64,
}

/// Where the arm's time went; together the shift, untimed breaks taken off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArmTimeFindings {
    /// Arc on and travelling.
    pub arc_min: f64,
    /// At work without arc.
    pub moving_min: f64,
    /// Waiting while the table turns.
    pub turning_min: f64,
    /// Someone stands in the light curtain.
    pub curtain_min: f64,
    /// Regular stops.
    pub service_min: f64,
    /// Stoppages, as far as the arm had something to do.
    pub stopped_min: f64,
    /// Nothing is loaded.
    pub waiting_min: f64,
    /// Breaks.
    pub breaks_min: f64,
}

/// Where the people's time went.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PeopleTimeFindings {
    /// Unloading, loading, clamping.
    pub working_min: f64,
    /// Stopped: no parts.
    pub stopped_min: f64,
    /// Nothing to load, because someone stood in the light curtain.
    #[serde(default)]
    pub curtain_min: f64,
    /// Nothing to load.
    pub waiting_min: f64,
    /// Breaks.
    pub breaks_min: f64,
}

/// Indicators by the names of ISO 22400-2.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OeeFindings {
    /// Actual production time over planned busy time.
    pub availability_percent: f64,
    /// Planned run time of an item times items made, over actual production time.
    pub effectiveness_percent: f64,
    /// Good items over items made.
    pub quality_ratio_percent: f64,
    /// The product of the three.
    pub oee_index_percent: f64,
}

/// What turning one knob is worth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EffectFindings {
    /// What is changed.
    pub change: String,
    /// Parts more in a shift.
    pub parts: MeanFindings,
    /// Good parts more in a shift.
    pub good_parts: MeanFindings,
}

impl PlayedFindings {
    pub(super) fn new(played: &PlayedShifts) -> Self {
        let shifts = &played.expected;
        Self {
            shifts: shifts.shifts,
            parts: MeanFindings::new(&shifts.parts),
            good_parts: MeanFindings::new(&shifts.good),
            parts_poor: shifts.parts_poor,
            parts_middling: shifts.parts_middling,
            parts_rich: shifts.parts_rich,
            parts_if_slow: rounded(played.slow.parts.mean, 6),
            parts_if_fast: rounded(played.fast.parts.mean, 6),
            arm: ArmTimeFindings::new(&shifts.arm),
            people: PeopleTimeFindings::new(&shifts.people),
            planned_min: min(shifts.planned),
            ideal_part_s: rounded(shifts.ideal, 6),
            oee: OeeFindings::new(&shifts.oee),
            effects: played.effects.iter().map(EffectFindings::new).collect(),
        }
    }

    /// How the count follows from planned time, in words, for following it on paper.
    #[must_use]
    pub fn breakdown(&self) -> String {
        format!(
            "{} min planned × availability {} % × effectiveness {} % / {} s a part = {} parts; × quality ratio {} % = {} good (names of ISO 22400-2; OEE index {} %)",
            fixed(self.planned_min, 1),
            fixed(self.oee.availability_percent, 2),
            fixed(self.oee.effectiveness_percent, 2),
            fixed(self.ideal_part_s, 2),
            fixed(self.parts.mean, 1),
            fixed(self.oee.quality_ratio_percent, 2),
            fixed(self.good_parts.mean, 1),
            fixed(self.oee.oee_index_percent, 1)
        )
    }

    /// What comes out, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let parts = if self.good_parts == self.parts {
            format!("{} ±{} parts", fixed(self.parts.mean, 1), fixed(self.parts.within, 1))
        } else {
            format!(
                "{} ±{} parts, {} ±{} of them good",
                fixed(self.parts.mean, 1),
                fixed(self.parts.within, 1),
                fixed(self.good_parts.mean, 1),
                fixed(self.good_parts.within, 1)
            )
        };
        let (poor, rich) = (self.parts_poor, self.parts_rich);
        // Fewer than twenty do not tell what one in twenty makes.
        let spread = if poor == rich {
            format!("nearly all made {poor}")
        } else if self.shifts < 20 {
            format!("the poorest made {poor}, the richest {rich}")
        } else {
            format!("one shift in twenty makes fewer than {poor}, one more than {rich}")
        };
        format!(
            "{parts} in a shift, mean of {} shifts played through ({} % sure); {spread}; {} to {} if every \
             time is at an end of the promised range",
            self.shifts,
            fixed(self.parts.confidence_percent, 0),
            fixed(self.parts_if_slow, 0),
            fixed(self.parts_if_fast, 0)
        )
    }
}

impl MeanFindings {
    fn new(mean: &Mean) -> Self {
        Self {
            mean: rounded(mean.mean, 6),
            within: rounded(mean.within, 6),
            confidence_percent: to_percent(CONFIDENCE),
        }
    }
}

impl ArmTimeFindings {
    fn new(time: &ArmTime) -> Self {
        Self {
            arc_min: min(time.arc),
            moving_min: min(time.moving),
            turning_min: min(time.turning),
            curtain_min: min(time.curtain),
            service_min: min(time.service),
            stopped_min: min(time.stopped),
            waiting_min: min(time.waiting),
            breaks_min: min(time.breaks),
        }
    }

    /// Where it went, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let shares = [
            (self.arc_min, "arc on"),
            (self.moving_min, "at work without arc"),
            (self.turning_min, "table turning"),
            (self.curtain_min, "light curtain"),
            (self.service_min, "regular stops"),
            (self.stopped_min, "stoppages"),
            (self.waiting_min, "nothing loaded"),
            (self.breaks_min, "breaks"),
        ];
        format!("the arm, minutes of a shift: {}", minutes(&shares))
    }
}

impl PeopleTimeFindings {
    fn new(time: &PeopleTime) -> Self {
        Self {
            working_min: min(time.working),
            stopped_min: min(time.stopped),
            curtain_min: min(time.curtain),
            waiting_min: min(time.waiting),
            breaks_min: min(time.breaks),
        }
    }

    /// Where it went, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let shares = [
            (self.working_min, "loading and unloading"),
            (self.stopped_min, "no parts"),
            (self.curtain_min, "light curtain"),
            (self.waiting_min, "nothing to load"),
            (self.breaks_min, "breaks"),
        ];
        format!("people, minutes of a shift: {}", minutes(&shares))
    }
}

impl OeeFindings {
    fn new(oee: &Oee) -> Self {
        let percent = |share: f64| rounded(to_percent(share), 6);
        Self {
            availability_percent: percent(oee.availability),
            effectiveness_percent: percent(oee.effectiveness),
            quality_ratio_percent: percent(oee.quality_ratio),
            oee_index_percent: percent(oee.index()),
        }
    }
}

impl EffectFindings {
    fn new(effect: &Effect) -> Self {
        Self {
            change: change(&effect.knob),
            parts: MeanFindings::new(&effect.parts),
            good_parts: MeanFindings::new(&effect.good),
        }
    }

    /// What it is worth, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let sign = if self.good_parts.mean > 0.0 { "+" } else { "" };
        format!(
            "{sign}{} ±{} good parts in a shift: {}",
            fixed(self.good_parts.mean, 2),
            fixed(self.good_parts.within, 2),
            self.change
        )
    }
}

fn change(knob: &Knob) -> String {
    match knob {
        Knob::PersonSecond => "a second less of the person's time for each load".to_owned(),
        Knob::ArmSecond => "a second less of the arm's time without arc for each load".to_owned(),
        Knob::TravelSpeed => "travel speed 10 % higher".to_owned(),
        Knob::EvenLoading => "load times that do not vary".to_owned(),
        Knob::Turn => "the table turns in half the time".to_owned(),
        Knob::NoService => "no regular stops".to_owned(),
        Knob::Rarer(name) => format!("`{name}` half as often"),
        Knob::SoonerOver(name) => format!("`{name}` over in half the time"),
        Knob::NoTrips => "nobody steps into the light curtain".to_owned(),
        Knob::ArmThroughBreaks => "the arm goes on in breaks with what is loaded".to_owned(),
        Knob::LoadedStart => "the shift begins with everything loaded".to_owned(),
        Knob::AnotherPerson => "another person loads every other side".to_owned(),
        Knob::NoScrap => "no scrap".to_owned(),
    }
}

fn min(seconds: f64) -> f64 {
    rounded(to_minutes(seconds), 6)
}

/// What is not nothing, with its share.
fn minutes(shares: &[(f64, &str)]) -> String {
    let all: f64 = shares.iter().map(|(minutes, _)| minutes).sum();
    let parts: Vec<String> = shares
        .iter()
        .filter(|(minutes, _)| *minutes > 0.0)
        .map(|(minutes, what)| {
            format!("{what} {} ({} %)", fixed(*minutes, 1), fixed(to_percent(minutes / all), 1))
        })
        .collect();
    parts.join(", ")
}
