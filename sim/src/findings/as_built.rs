//! Decides how it is said where a fixture really stands.

use nalgebra::Vector3;
use schemars::JsonSchema;
use seamwright_kinematics::units::{to_deg, to_mm};
use serde::{Deserialize, Serialize};

use super::edit::{self, Edit};
use super::words::{LengthUnit, angle, counted, rounded};
use crate::advice::AsBuilt;
use crate::cell::Cell;

/// A residual above this is worth a warning: common practice for touched points, no source.
const LARGE_RESIDUAL_MM: f64 = 1.0;

/// A fixture that stands farther off than that, or turned by more, was hardly drawn there: common practice, no source.
const FAR_MM: f64 = 100.0;
const FAR_DEG: f64 = 10.0;

/// Where a fixture stands after points of it that the arm touched; everything else in these findings rests on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AsBuiltFindings {
    /// The station.
    pub station: String,
    /// Points touched.
    pub points: usize,
    /// How far its origin lies from where it is drawn, in the frame that it stands on.
    pub shifted_mm: [f64; 3],
    /// How far it is turned from how it is drawn.
    pub turned_deg: f64,
    /// What is left between each drawn point and where it was touched, in the order of the file.
    pub residuals_mm: Vec<f64>,
    /// The root of the mean of their squares.
    pub residual_mm: f64,
    /// What to write into the cell's file to have it so without the points.
    pub edits: Vec<Edit>,
    /// All of it in one sentence.
    pub sentence: String,
}

impl AsBuiltFindings {
    /// `cell`: with the fixture where it stands.
    #[must_use]
    pub fn new(cell: &Cell, of: &AsBuilt) -> Self {
        let mm = |metres: f64| rounded(to_mm(metres), 6);
        let residuals_mm: Vec<f64> = of.residuals.iter().map(|left| mm(*left)).collect();
        let squares: f64 = of.residuals.iter().map(|left| left * left).sum();
        let mut found = Self {
            station: cell.stations[of.station.0].name.clone(),
            points: of.residuals.len(),
            shifted_mm: std::array::from_fn(|i| mm(of.shifted[i])),
            turned_deg: rounded(to_deg(of.turned), 6),
            residual_mm: mm((squares / of.residuals.len() as f64).sqrt()),
            residuals_mm,
            edits: edit::station_place(cell, of.station).to_vec(),
            sentence: String::new(),
        };
        found.sentence = found.sentence_in(LengthUnit::Millimetre);
        found
    }

    /// All of it in one sentence, lower case, no full stop.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let largest = self.residuals_mm.iter().copied().fold(0.0, f64::max);
        let shift = Vector3::from(self.shifted_mm).norm();
        let far = if shift > FAR_MM || self.turned_deg > FAR_DEG {
            "; so far off it was hardly built: see whether table and positioners stood as its station says when it was touched"
        } else {
            ""
        };
        let warning = if largest > LARGE_RESIDUAL_MM {
            format!(
                "; that is more than {}: touch the points again, or see whether the fixture is as drawn",
                unit.distance(LARGE_RESIDUAL_MM)
            )
        } else {
            String::new()
        };
        format!(
            "{} is taken to stand as touched, {} and {} off where it is drawn; {} fit to {} (root of the mean square; the worst {}){far}{warning}",
            self.station,
            unit.distance(shift),
            angle(self.turned_deg),
            counted(self.points as u64, "point"),
            unit.distance(self.residual_mm),
            unit.distance(largest)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fixture_that_stands_far_off_is_asked_after() {
        let told = |shift: f64, turned_deg: f64| {
            let found = AsBuiltFindings {
                station: "side B".to_owned(),
                points: 3,
                shifted_mm: [shift, 0.0, 0.0],
                turned_deg,
                residuals_mm: vec![0.1; 3],
                residual_mm: 0.1,
                edits: Vec::new(),
                sentence: String::new(),
            };
            found.sentence_in(LengthUnit::Millimetre).contains("so far off it was hardly built")
        };
        assert!(told(101.0, 0.0) && told(0.0, 180.0));
        assert!(!told(99.0, 0.0) && !told(5.0, 3.0));
    }
}
