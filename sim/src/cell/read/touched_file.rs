//! Decides what a CSV file of touched points says: points of a fixture as drawn, and where the real arm found them.

use std::path::Path;

use csv::StringRecord;
use nalgebra::Point3;
use seamwright_kinematics::document::{Problem, nearest};

use super::csv_file::{self, CsvFile};
use super::files::Disk;
use super::{place, read_with};
use crate::cell::{Cell, StationId};

const DRAWN: [&str; 3] = ["x_mm", "y_mm", "z_mm"];
const TOUCHED: [&str; 3] = ["touched_x_mm", "touched_y_mm", "touched_z_mm"];
const STATION: &str = "station";

/// What the columns may be.
const COLUMNS: &str = "the columns are x_mm, y_mm, z_mm (as drawn, in the fixture's frame), touched_x_mm, touched_y_mm, touched_z_mm \
     (the wire end in the arm's base frame) and, where there are several stations, station";

/// A row: the station, the point as drawn in its fixture's frame, and in the arm's base frame where it was touched (m).
pub type TouchedRow = (StationId, Point3<f64>, Point3<f64>);

/// Reads the points that were touched on fixtures of `cell`.
///
/// # Errors
/// Every problem of the file, sorted by line.
pub fn read_touched(path: &Path, cell: &Cell) -> Result<Vec<TouchedRow>, Vec<Problem>> {
    read_with(path, &Disk, |reading, text| {
        let file = CsvFile {
            file: path.to_string_lossy().into_owned(),
            text: Some(text),
            problems: reading.problems,
            columns: COLUMNS,
        };
        rows(&file, text, cell)
    })
}

fn rows(file: &CsvFile<'_>, text: &str, cell: &Cell) -> Option<Vec<TouchedRow>> {
    let mut reader = csv_file::format().from_reader(text.as_bytes());
    let headers = reader.headers().cloned().unwrap_or_default();
    let drawn = file.columns(&headers, DRAWN);
    let touched = file.columns(&headers, TOUCHED);
    let named = headers.iter().any(|header| header == STATION);
    let station = if named { Some(file.columns(&headers, [STATION])?) } else { None };
    file.refuse_unknown(&headers, DRAWN.into_iter().chain(TOUCHED).chain([STATION]));
    if station.is_none() && cell.stations.len() > 1 {
        let wrong =
            format!("the cell has {} stations, so it must be said which was touched", cell.stations.len());
        file.problem(file.line_of(&headers), STATION, None, wrong, "add a column with the station's name");
        return None;
    }
    let (drawn, touched) = (drawn?, touched?);
    let mut all = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                file.refuse_row(&error);
                continue;
            }
        };
        let of = match station {
            Some([column]) => station_named(file, &record, column, cell),
            None => Some(StationId(0)),
        };
        let drawn = file.numbers(&headers, &record, &drawn, &place::POSITIONS_MM).map(place::metres);
        let touched = file.numbers(&headers, &record, &touched, &place::POSITIONS_MM).map(place::metres);
        if let (Some(of), Some(drawn), Some(touched)) = (of, drawn, touched) {
            all.push((of, drawn, touched));
        }
    }
    if all.is_empty() && file.problems.is_empty() {
        let wrong = "this file has no points".to_owned();
        file.problem(
            None,
            "",
            None,
            wrong,
            "give three or more points of a fixture that do not lie on a line",
        );
    }
    Some(all)
}

fn station_named(file: &CsvFile<'_>, record: &StringRecord, column: usize, cell: &Cell) -> Option<StationId> {
    let name = record.get(column).unwrap_or_default();
    let found = cell.stations.iter().position(|station| station.name == name);
    if found.is_none() {
        let names = cell.stations.iter().map(|station| station.name.as_str());
        let right = nearest(name, names.clone()).map_or_else(
            || format!("the stations are {}", names.collect::<Vec<_>>().join(", ")),
            |near| format!("is it {near}?"),
        );
        let wrong = "the cell has no station of this name".to_owned();
        file.problem(file.line_of(record), STATION, Some(name), wrong, &right);
    }
    found.map(StationId)
}
