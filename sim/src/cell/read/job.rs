//! Decides what `[[job]]` and `[mix]` say: part families with what is known of each.

use seamwright_kinematics::document::{Document, Table};

use super::Reading;
use super::files::{beside, reason};
use super::names::Catalogue;
use super::rough_file;
use super::shift::shifts_per_day;
use crate::cell::{Job, JobSource, Mix, Shift, ShiftPlay};
use crate::units;

const WEIGHTS_KG: std::ops::RangeInclusive<f64> = 0.0..=1e6;

/// Reads all jobs. In a cell that is read for a job itself they are passed over: no job leads back to itself.
pub(super) fn read_all(
    reading: &Reading<'_>,
    root: &Table<'_>,
    shift: Option<&(Shift, Option<ShiftPlay>)>,
) -> (Vec<Job>, Option<Mix>) {
    if reading.for_a_job {
        root.excuse("job");
        root.excuse("mix");
        return (Vec::new(), None);
    }
    let mut names = Catalogue::new("job");
    let mut jobs = Vec::new();
    for table in root.tables("job") {
        let name = names.claim(&table);
        let source = source(reading, &table);
        let yearly_quantity = table.number("yearly_quantity", 1.0..=1e9);
        let scrap = table.opt_number("scrap_percent", 0.0..=99.0).map(units::percent);
        if scrap.is_some() && matches!(source, Some(JobSource::ThisCell)) {
            let right = "write it as scrap_percent of [shift], which plays shifts through".to_owned();
            table.problem("scrap_percent", "this job is this cell itself", right);
        }
        let positioner_load = table.opt_number("positioner_load_kg", WEIGHTS_KG);
        let batches = table.opt_number("batches_per_year", 0.0..=1e6);
        let changeover = table.opt_number("changeover_min", 0.0..=100_000.0);
        if batches.is_some() != changeover.is_some() {
            let right = "write batches_per_year and changeover_min, or neither".to_owned();
            table.problem("batches_per_year", "this needs the other one", right);
        }
        table.finish();
        let Some(name) = name else { continue };
        names.add(name.clone(), Some(()));
        if let (Some(source), Some(yearly_quantity)) = (source, yearly_quantity) {
            jobs.push(Job {
                name,
                source,
                yearly_quantity,
                scrap,
                positioner_load,
                batches: batches.unwrap_or(0.0),
                changeover: changeover.map_or(0.0, units::minutes),
            });
        }
    }
    let mix = mix(root, !jobs.is_empty(), shift);
    (jobs, mix)
}

fn mix(root: &Table<'_>, has_jobs: bool, shift: Option<&(Shift, Option<ShiftPlay>)>) -> Option<Mix> {
    let table = root.opt_table("mix")?;
    if !has_jobs && !root.has("job") {
        root.problem("mix", "there is no job", "write [[job]] for each part family".to_owned());
    }
    if !root.has("shift") {
        let right = "write [shift] with its hours".to_owned();
        root.problem("mix", "nothing says how long a shift is", right);
    }
    let days = table.number("days_per_year", 1.0..=366.0);
    let shifts = shifts_per_day(&table, shift);
    let positioner_rated = table.opt_number("positioner_rated_kg", WEIGHTS_KG);
    table.finish();
    Some(Mix { yearly_shifts: days? * shifts, positioner_rated })
}

/// A cell, a table, or the cell that the job stands in.
fn source(reading: &Reading<'_>, table: &Table<'_>) -> Option<JobSource> {
    let (cell, estimate) = (table.opt_text("cell"), table.opt_text("estimate"));
    let (key, named) = match (cell, estimate) {
        (None, None) => return Some(JobSource::ThisCell),
        (Some(cell), None) => ("cell", cell),
        (None, Some(estimate)) => ("estimate", estimate),
        (Some(_), Some(_)) => {
            let right = "write one of cell and estimate, or neither for this cell itself".to_owned();
            table.problem("cell", "this job is described twice", right);
            return None;
        }
    };
    let path = beside(table.file().as_ref(), &named);
    let text = reading.files.text(&path).map_err(|error| table.problem(key, reason(&error), None)).ok()?;
    let inner = Reading::for_a_job(&path, reading);
    if key == "estimate" {
        let job = rough_file::from_text(&inner, &path, &text)?;
        return Some(JobSource::Rough(Box::new(job)));
    }
    let document = Document::parse(&path.to_string_lossy(), &text, reading.problems);
    let cell = super::cell(&inner, document.root(reading.problems))?;
    Some(JobSource::Cell(Box::new(crate::cell::Cell { notes: inner.notes.take(), ..cell })))
}
