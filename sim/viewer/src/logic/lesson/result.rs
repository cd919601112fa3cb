//! What a lesson was worth, and the file that the trainer keeps.

use std::path::PathBuf;

use bevy::prelude::Resource;
use serde::Serialize;

use super::read::Lesson;

/// Points of a lesson, at most 100, and where they come from.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// For reaching every goal: 40.
    pub reached: f64,
    /// For how much of the tolerances was left: at most 30.
    pub exact: f64,
    /// For time: 15 within par, none from three times par.
    pub quick: f64,
    /// For care: 15, less 5 for every time a limit or a contact stopped the arm.
    pub careful: f64,
    /// How long it took, s.
    pub seconds: f64,
    /// How often something stopped the arm.
    pub stops: u32,
}

impl Score {
    /// By the share of the tolerance left at each goal, time and par (s), and stops. The weights are this project's own.
    #[must_use]
    pub fn new(spare: &[f64], seconds: f64, par: f64, stops: u32) -> Self {
        let mean = if spare.is_empty() { 0.0 } else { spare.iter().sum::<f64>() / spare.len() as f64 };
        Self {
            reached: 40.0,
            exact: 30.0 * mean,
            quick: 15.0 * ((3.0 * par - seconds) / (2.0 * par)).clamp(0.0, 1.0),
            careful: (15.0 - 5.0 * f64::from(stops)).max(0.0),
            seconds,
            stops,
        }
    }

    /// All points.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.reached + self.exact + self.quick + self.careful
    }
}

/// Who learns, and where results go.
#[derive(Resource, Default, Debug)]
pub struct Learner {
    /// As given on the command line; never required.
    pub name: Option<String>,
    /// The trainer's file; nothing is written without it.
    pub results: Option<PathBuf>,
    /// Why the last result could not be written.
    pub trouble: Option<String>,
}

/// A row of the trainer's file.
#[derive(Serialize)]
struct Row<'a> {
    learner: &'a str,
    lesson: &'a str,
    score: String,
    reached: String,
    exact: String,
    quick: String,
    careful: String,
    time_s: String,
    stops: u32,
}

impl Learner {
    /// Appends a result; the first row of a new file says what the columns are.
    pub fn record(&mut self, lesson: &Lesson, score: &Score) {
        let Some(file) = self.results.clone() else { return };
        let points = |points: f64| format!("{points:.1}");
        let row = Row {
            learner: self.name.as_deref().unwrap_or_default(),
            lesson: &lesson.file,
            score: points(score.total()),
            reached: points(score.reached),
            exact: points(score.exact),
            quick: points(score.quick),
            careful: points(score.careful),
            time_s: format!("{:.1}", score.seconds),
            stops: score.stops,
        };
        self.trouble = append(&file, &row).err().map(|error| format!("{}: {error}", file.display()));
    }
}

fn append(file: &std::path::Path, row: &Row<'_>) -> Result<(), csv::Error> {
    let open = std::fs::OpenOptions::new().create(true).append(true).open(file)?;
    let is_new = open.metadata()?.len() == 0;
    let mut writer = csv::WriterBuilder::new().has_headers(is_new).from_writer(open);
    writer.serialize(row)?;
    writer.flush()?;
    Ok(())
}
