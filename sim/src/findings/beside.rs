//! Decides what is shown of a seam that was checked as it was taught: its time, and the same seam planned anew.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::margin::Margin;
use super::seam::{Taught, reason};
use super::stop::Stop;
use super::words::{LengthUnit, fixed, rounded};
use crate::cell::{Cell, GivenWay, Seam};
use crate::plan::{Beside, Verdict};
use crate::schedule::duration_of;

/// A seam as it was taught, and what a search finds instead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BesideFindings {
    /// Points that were taught.
    pub points: usize,
    /// Time from the start of the way in to the end of the way out as taught; none where that does not hold.
    pub as_taught_s: Option<f64>,
    /// The answer when it is planned anew.
    pub replanned: Verdict,
    /// Why that does not hold, where it does not.
    pub reason: Option<String>,
    /// The same time as planned anew.
    pub replanned_s: Option<f64>,
    /// Smallest room left at each kind of limit as planned anew.
    pub margins: Vec<Margin>,
    /// Points to teach as planned anew.
    pub taught: Vec<Taught>,
}

impl BesideFindings {
    pub(super) fn new(cell: &Cell, seam: &Seam, beside: &Beside, path_length: f64) -> Self {
        let stop =
            beside.binding.as_ref().map(|binding| Stop::new(binding, path_length, beside.follows_at, 1.0));
        let time = |moves: &[_]| (!moves.is_empty()).then(|| rounded(duration_of(cell, moves), 6));
        let taught = beside.taught.iter().enumerate();
        Self {
            points: seam.taught.as_ref().map_or(0, GivenWay::count),
            as_taught_s: time(&beside.as_taught),
            replanned: beside.verdict,
            reason: reason(seam, beside.verdict, None, stop.as_ref(), LengthUnit::Millimetre),
            replanned_s: time(&beside.moves),
            margins: beside
                .margins
                .as_ref()
                .map_or_else(Vec::new, |margins| Margin::all(margins, path_length)),
            taught: taught.map(|(index, point)| Taught::new(cell, index + 1, point)).collect(),
        }
    }

    /// In one sentence, lower case, no full stop.
    pub(super) fn sentence(&self) -> String {
        let time = |seconds: Option<f64>| {
            seconds.map_or_else(
                || "does not hold".to_owned(),
                |seconds| format!("takes {} s", fixed(seconds, 1)),
            )
        };
        let anew = match self.replanned_s {
            Some(_) => format!("holds with {} points and {}", self.taught.len(), time(self.replanned_s)),
            None => format!("is {}", self.replanned.name()),
        };
        format!("as taught ({} points) it {}; planned anew it {anew}", self.points, time(self.as_taught_s))
    }
}
