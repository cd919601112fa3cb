//! Decides what a CSV file of measured times says: a row a move of the arm, a weld, or the arm's whole time at a station.

use std::path::Path;

use seamwright_kinematics::document::{Problem, nearest};
use seamwright_kinematics::{AxisValues, Drive};

use super::csv_file::{self, CsvFile, CsvRow};
use super::files::Disk;
use super::{Reading, place};
use crate::cell::{Cell, Measured, Measurement, SeamId, StationId};
use crate::units;

const ROW: &str = "row";
const TIME: &str = "time_s";
const FROM: [&str; 6] = ["from1_deg", "from2_deg", "from3_deg", "from4_deg", "from5_deg", "from6_deg"];
const TO: [&str; 6] = ["to1_deg", "to2_deg", "to3_deg", "to4_deg", "to5_deg", "to6_deg"];
const PERCENT: &str = "percent";
const STATION: &str = "station";
const SEAM: &str = "seam";
const ALL: [&str; 17] = [
    ROW, TIME, FROM[0], FROM[1], FROM[2], FROM[3], FROM[4], FROM[5], TO[0], TO[1], TO[2], TO[3], TO[4],
    TO[5], PERCENT, STATION, SEAM,
];
const COLUMNS: &str =
    "the columns are row, time_s, from1_deg to from6_deg, to1_deg to to6_deg, percent, station, seam";

#[derive(Clone, Copy)]
enum Kind {
    Move,
    Weld,
    Station,
}

/// Below this nothing can be told of how well a model fits.
const LEAST: usize = 3;

/// Reads the times that were measured on `cell`.
///
/// # Errors
/// Every problem of the file, by line.
pub fn read_measurements(path: &Path, cell: &Cell) -> Result<Vec<Measurement>, Vec<Problem>> {
    super::read_with(path, &Disk, |reading, text| from_text(reading, path, text, cell))
}

fn from_text(reading: &Reading<'_>, path: &Path, text: &str, cell: &Cell) -> Option<Vec<Measurement>> {
    let file = CsvFile {
        file: path.to_string_lossy().into_owned(),
        text: Some(text),
        problems: reading.problems,
        columns: COLUMNS,
    };
    let mut reader = csv_file::format().flexible(true).from_reader(text.as_bytes());
    let headers = reader.headers().map_err(|error| file.refuse_row(&error)).ok()?.clone();
    file.columns(&headers, [ROW, TIME])?;
    for column in ALL.into_iter().filter(|column| headers.iter().any(|header| header == *column)) {
        file.columns(&headers, [column])?;
    }
    file.refuse_unknown(&headers, ALL.into_iter());
    let mut all = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) => {
                let row = CsvRow { file: &file, headers: &headers, record: &record };
                let line = file.line_of(&record).unwrap_or_default();
                let read = what(&row, cell).zip(row.number(TIME, 0.001..=*place::DURATIONS_S.end()));
                all.extend(read.map(|(what, time)| Measurement { line, what, time }));
            }
            Err(error) => file.refuse_row(&error),
        }
    }
    if all.len() < LEAST && reading.problems.is_empty() {
        let wrong = format!("this file has {} measured times", all.len());
        file.problem(None, "", None, wrong, &format!("measure at least {LEAST}, rather twenty"));
    }
    Some(all)
}

fn what(row: &CsvRow<'_, '_>, cell: &Cell) -> Option<Measured> {
    if row.is_too_long() {
        return None;
    }
    let kinds = [("move", Kind::Move), ("weld", Kind::Weld), ("station", Kind::Station)];
    let kind = row.choice(ROW, &kinds)?;
    let used: &[&str] = match kind {
        Kind::Move => &[&[ROW, TIME, PERCENT][..], &FROM, &TO].concat(),
        Kind::Weld => &[ROW, TIME, STATION, SEAM],
        Kind::Station => &[ROW, TIME, STATION],
    };
    row.refuse_strangers(row.text(ROW), &ALL, used);
    match kind {
        Kind::Move => {
            let [from, to] = [FROM, TO].map(|columns| axes(row, columns));
            let pace = row.opt_number(PERCENT, 1.0..=100.0)?.map(units::percent);
            let (from, to) = (from?, to?);
            let in_range =
                [(FROM, from), (TO, to)].map(|(columns, axes)| is_in_range(row, cell, columns, &axes));
            if in_range != [true; 2] {
                return None;
            }
            if from == to {
                row.problem(TO[0], "this move goes nowhere".to_owned(), "end it elsewhere");
                return None;
            }
            Some(Measured::Move { from, to, pace })
        }
        Kind::Weld => {
            let station = station(row, cell)?;
            let seam = seam(row, cell, station)?;
            if cell.seams[seam.0].runs.len() != 1 {
                let wrong = "this seam has several welds, between which the arm moves".to_owned();
                row.problem(SEAM, wrong, "measure a seam of one weld, or the whole station");
                return None;
            }
            Some(Measured::Weld(seam))
        }
        Kind::Station => station(row, cell).map(Measured::Station),
    }
}

fn axes(row: &CsvRow<'_, '_>, columns: [&str; 6]) -> Option<AxisValues> {
    let read = columns.map(|column| row.needed(column).and_then(|_| row.number(column, place::ANGLES_DEG)));
    let mut axes = AxisValues::zeros();
    for (axis, value) in axes.iter_mut().zip(read) {
        *axis = units::deg(value?);
    }
    Some(axes)
}

/// Whether the arm can stand so; that it cannot is noted.
fn is_in_range(row: &CsvRow<'_, '_>, cell: &Cell, columns: [&str; 6], axes: &AxisValues) -> bool {
    let Some((drive, excess)) = cell.arm.arm.range_excess(axes) else { return true };
    let column = match drive {
        Drive::Axis(axis) => columns[axis],
        Drive::Motor(_) => columns[0],
    };
    let wrong = format!("{drive} is {:.3} degrees outside its range here", units::to_deg(excess));
    row.problem(column, wrong, "write axis values as the arm file counts them");
    false
}

/// The station that is named; the only one where none is.
fn station(row: &CsvRow<'_, '_>, cell: &Cell) -> Option<StationId> {
    if !row.has(STATION) && cell.stations.len() == 1 {
        return Some(StationId(0));
    }
    row.needed(STATION)?;
    let names = cell.stations.iter().map(|station| station.name.as_str());
    named(row, STATION, names).map(StationId)
}

fn seam(row: &CsvRow<'_, '_>, cell: &Cell, station: StationId) -> Option<SeamId> {
    row.needed(SEAM)?;
    let here: Vec<usize> =
        (0..cell.seams.len()).filter(|index| cell.seams[*index].station == station).collect();
    let found = named(row, SEAM, here.iter().map(|index| cell.seams[*index].name.as_str()))?;
    Some(SeamId(here[found]))
}

/// Which of `names` stands in `column`.
fn named<'n>(
    row: &CsvRow<'_, '_>,
    column: &str,
    mut names: impl Iterator<Item = &'n str> + Clone,
) -> Option<usize> {
    let text = row.text(column);
    let found = names.clone().position(|name| name == text);
    if found.is_none() {
        let right = nearest(text, names.clone())
            .or_else(|| names.next())
            .map_or_else(String::new, |near| format!("is it {near}?"));
        row.problem(column, "the cell has none of this name".to_owned(), &right);
    }
    found
}
