//! Decides what is shown of how stations are arranged, and where tables stand beside other places of what sets the pace and of what
//! their turns meet.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_deg, to_mm};
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, counted, fixed, rounded};
use crate::cell::Cell;
use crate::production::{BesideTurn, Cycle, Layout, PaceOf, PaceStep};

/// A fixture by itself, or a table.
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
    /// The arm at a station; in findings of before with external axes on to the next one.
    Arm,
    /// External axes on to the station's values.
    Way,
    /// A table's turn.
    Turn,
    /// Loading.
    Load,
    /// What was welded cools.
    Cool,
}

/// A table that may turn while the arm is at a station of another place, looked at every 5 degrees of its turn and at a fifth of the
/// rows of `path.csv`: enough to find what meets, not a proof that nothing does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BesideTurnFindings {
    /// Where the arm is.
    pub station: String,
    /// The axis of the table that turns.
    pub table_axis: String,
    /// At how many instants the arm was looked at; with none it is not checked.
    pub looked_at: usize,
    /// Whether everything that was looked at keeps the distance asked.
    pub holds: bool,
    /// The two bodies that come nearest for what is asked of them, where it does not.
    pub bodies: Option<[String; 2]>,
    /// How much of the distance asked is missing then.
    pub short_mm: Option<f64>,
    /// Where the table is then, degrees.
    pub at_deg: Option<f64>,
    /// The seam that the arm serves then.
    pub seam: Option<String>,
}

impl BesideTurnFindings {
    pub(super) fn new(cell: &Cell, turn: &BesideTurn) -> Self {
        let meets = turn.meets.as_ref();
        Self {
            station: cell.stations[turn.station.0].name.clone(),
            table_axis: cell.frames.axes[turn.axis].name.clone(),
            looked_at: turn.looked_at,
            holds: meets.is_none(),
            bodies: meets.map(|meets| [meets.bodies.0.clone(), meets.bodies.1.clone()]),
            short_mm: meets.map(|meets| rounded(to_mm(meets.short), 6)),
            at_deg: meets.map(|meets| rounded(to_deg(meets.at), 6)),
            seam: meets.and_then(|meets| meets.seam).map(|seam| cell.seams[seam.0].name.clone()),
        }
    }

    /// Whether the arm keeps clear, in words.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let (station, axis) = (&self.station, &self.table_axis);
        if self.looked_at == 0 {
            return format!(
                "while the arm is at {station} the table `{axis}` may turn: no way of the arm is planned there, so what it meets is not checked"
            );
        }
        let (Some([one, other]), Some(short), Some(at)) = (&self.bodies, self.short_mm, self.at_deg) else {
            return format!(
                "while the arm is at {station} the table `{axis}` may turn: nothing of what was looked at, every 5 degrees of its turn, \
                 comes too near; in between nothing is proven"
            );
        };
        let seam = self.seam.as_ref().map_or_else(String::new, |seam| format!(", seam {seam}"));
        format!(
            "while the arm is at {station}{seam} the table `{axis}` may turn, and {one} comes too near to {other}, by {} with the table at \
             {} degrees: keep the table from turning then, or the two apart",
            unit.distance(short),
            fixed(at, 0)
        )
    }
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
                PaceOf::Way => PaceWhat::Way,
                PaceOf::Turn => PaceWhat::Turn,
                PaceOf::Load => PaceWhat::Load,
                PaceOf::Cool => PaceWhat::Cool,
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
                PaceWhat::Way => format!("axes on to {station} {lasts} s"),
                PaceWhat::Turn => format!("turn to {station} {lasts} s"),
                PaceWhat::Load => format!("loading {station} {lasts} s"),
                PaceWhat::Cool => format!("{station} cooling {lasts} s"),
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
