//! Decides what is shown of how stations are arranged, and of what sets the pace where they are tables beside other places.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{counted, fixed, rounded};
use crate::cell::Cell;
use crate::production::{Cycle, Layout, PaceOf, PaceStep};

/// A fixture that stands where it is, or a table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SiteFindings {
    /// The axis of a table; none for a fixture.
    pub table_axis: Option<String>,
    /// Its station; of a table one for each side, in the order in which they come before the arm.
    pub stations: Vec<String>,
    /// How many sides before it comes to the arm a table's side is loaded: 1 is the next one.
    pub loads_ahead: Option<usize>,
}

/// The circle of things that sets the period: each begins when the one before has ended, and the first again after the last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PaceFindings {
    /// In order.
    pub steps: Vec<PaceStepFindings>,
    /// How many rounds they go through; the period is their time over this.
    pub rounds: usize,
}

/// Something on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PaceStepFindings {
    /// What takes the time.
    pub what: PaceWhat,
    /// The station that is welded, loaded, or comes before the arm.
    pub station: String,
    /// How long it takes.
    pub lasts_s: f64,
}

/// What takes time in a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PaceWhat {
    /// The arm at a station, its way on included.
    Arm,
    /// A table's turn.
    Turn,
    /// Loading.
    Load,
}

impl SiteFindings {
    pub(super) fn all(cell: &Cell, layout: &Layout) -> Vec<Self> {
        let place = |place: &crate::production::Site| Self {
            table_axis: place.table.map(|table| cell.frames.axes[table.axis].name.clone()),
            stations: place.stations.iter().map(|station| cell.stations[*station].name.clone()).collect(),
            loads_ahead: place.table.map(|table| table.ahead),
        };
        layout.places.iter().map(place).collect()
    }

    /// What it is, in words.
    #[must_use]
    pub fn phrase(&self) -> String {
        let names = self.stations.join(", ");
        let Some(axis) = &self.table_axis else { return format!("fixture {names}") };
        match (self.stations.len(), self.loads_ahead) {
            (2, _) | (_, None) => format!("table `{axis}` ({names})"),
            (sides, Some(1)) => format!(
                "table `{axis}` with {sides} sides ({names}), each loaded just before it comes to the arm"
            ),
            (sides, Some(ahead)) => format!(
                "table `{axis}` with {sides} sides ({names}), each loaded {ahead} turns before it comes to the arm"
            ),
        }
    }
}

impl PaceFindings {
    pub(super) fn new(cell: &Cell, cycle: &Cycle) -> Option<Self> {
        let (steps, rounds) = &cycle.pace;
        let step = |step: &PaceStep| PaceStepFindings {
            what: match step.what {
                PaceOf::Arm => PaceWhat::Arm,
                PaceOf::Turn => PaceWhat::Turn,
                PaceOf::Load => PaceWhat::Load,
            },
            station: cell.stations[step.station].name.clone(),
            lasts_s: rounded(step.lasts, 6),
        };
        (!steps.is_empty()).then(|| Self { steps: steps.iter().map(step).collect(), rounds: *rounds })
    }

    /// What the period is made of, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let step = |step: &PaceStepFindings| {
            let (station, lasts) = (&step.station, fixed(step.lasts_s, 1));
            match step.what {
                PaceWhat::Arm => format!("arm at {station} {lasts} s"),
                PaceWhat::Turn => format!("turn to {station} {lasts} s"),
                PaceWhat::Load => format!("loading {station} {lasts} s"),
            }
        };
        let steps: Vec<String> = self.steps.iter().map(step).collect();
        format!(
            "no closed form: the cycle is the slowest circle of what must wait for what, {} in {}",
            steps.join(" + "),
            counted(self.rounds as u64, "cycle")
        )
    }
}
