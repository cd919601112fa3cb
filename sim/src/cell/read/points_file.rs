//! Decides what a CSV file of seam points says: `x_mm, y_mm, z_mm` of each, and the face normals there where it gives them.

use csv::StringRecord;
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::document::Table;

use super::Reading;
use super::csv_file::{self, CsvFile};
use super::files::{beside, reason};
use super::place;

const POINT: [&str; 3] = ["x_mm", "y_mm", "z_mm"];
const NORMALS: [&str; 6] = ["n1x", "n1y", "n1z", "n2x", "n2y", "n2z"];

/// What the columns may be.
const COLUMNS: &str = "the columns are x_mm, y_mm, z_mm and, all or none, n1x, n1y, n1z, n2x, n2y, n2z";

/// Outward normals of the reference face and of the other one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Normals {
    pub(super) n1: Vector3<f64>,
    pub(super) n2: Vector3<f64>,
}

/// The rows of a file, at least two.
pub(super) struct PointsFile {
    pub(super) points: Vec<Point3<f64>>,
    /// As many as points.
    pub(super) normals: Option<Vec<Normals>>,
}

/// Reads the file that `points_csv` names; every wrong row is noted with its line.
pub(super) fn read(reading: &Reading<'_>, table: &Table<'_>) -> Option<PointsFile> {
    let path = beside(table.file().as_ref(), &table.text("points_csv")?);
    let text =
        reading.files.text(&path).map_err(|error| table.problem("points_csv", reason(&error), None)).ok()?;
    let before = reading.problems.count();
    let file = CsvFile {
        file: path.to_string_lossy().into_owned(),
        text: Some(&text),
        problems: reading.problems,
        columns: COLUMNS,
    };
    let file = rows(&file, &text);
    file.filter(|_| reading.problems.count() == before)
}

fn rows(file: &CsvFile<'_>, text: &str) -> Option<PointsFile> {
    let before = file.problems.count();
    let mut reader = csv_file::format().from_reader(text.as_bytes());
    let headers = reader.headers().cloned().unwrap_or_default();
    let points = file.columns(&headers, POINT)?;
    let with_normals = NORMALS.iter().any(|name| headers.iter().any(|header| header == *name));
    let normals = if with_normals { Some(file.columns(&headers, NORMALS)?) } else { None };
    file.refuse_unknown(&headers, POINT.into_iter().chain(NORMALS));
    let mut read = PointsFile { points: Vec::new(), normals: normals.map(|_| Vec::new()) };
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                file.refuse_row(&error);
                continue;
            }
        };
        read.points.extend(file.numbers(&headers, &record, &points, &place::POSITIONS_MM).map(place::metres));
        if let (Some(columns), Some(normals)) = (&normals, &mut read.normals) {
            let numbers = file.numbers(&headers, &record, columns, &place::POSITIONS_MM);
            normals.extend(numbers.and_then(|numbers| both_normals(file, &record, numbers)));
        }
    }
    if read.points.len() < 2 && file.problems.count() == before {
        let wrong = format!("this file has {} points", read.points.len());
        file.problem(None, "", None, wrong, "give at least two");
    }
    Some(read)
}

fn both_normals(
    file: &CsvFile<'_>,
    record: &StringRecord,
    [ax, ay, az, bx, by, bz]: [f64; 6],
) -> Option<Normals> {
    let found = place::unit([ax, ay, az]).zip(place::unit([bx, by, bz]));
    if found.is_none() {
        let wrong = "a normal of this row has no direction".to_owned();
        file.problem(file.line_of(record), "", None, wrong, "write vectors longer than zero");
    }
    found.map(|(n1, n2)| Normals { n1: n1.into_inner(), n2: n2.into_inner() })
}
