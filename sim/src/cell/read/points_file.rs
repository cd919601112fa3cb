//! Decides what a CSV file of seam points says: `x_mm, y_mm, z_mm` of each, and the face normals there where it gives them.

use csv::{ReaderBuilder, StringRecord, Trim};
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::document::{Problem, Table, nearest};

use super::Reading;
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
    let file = Source { reading, file: path.to_string_lossy().into_owned() }.read(&text);
    file.filter(|_| reading.problems.count() == before)
}

struct Source<'r> {
    reading: &'r Reading<'r>,
    file: String,
}

impl Source<'_> {
    fn problem(&self, line: Option<u64>, key: &str, value: Option<&str>, wrong: String, right: &str) {
        self.reading.problems.add(Problem {
            file: self.file.clone(),
            line: line.and_then(|line| usize::try_from(line).ok()),
            key: key.to_owned(),
            value: value.map(str::to_owned),
            wrong,
            right: Some(right.to_owned()),
        });
    }

    fn read(&self, text: &str) -> Option<PointsFile> {
        let before = self.reading.problems.count();
        let mut reader =
            ReaderBuilder::new().trim(Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
        let headers = reader.headers().cloned().unwrap_or_default();
        let points = self.columns(&headers, POINT)?;
        let with_normals = NORMALS.iter().any(|name| headers.iter().any(|header| header == *name));
        let normals = if with_normals { Some(self.columns(&headers, NORMALS)?) } else { None };
        for header in headers.iter().filter(|header| !POINT.contains(header) && !NORMALS.contains(header)) {
            let near = nearest(header, POINT.into_iter().chain(NORMALS));
            let right = near.map_or_else(|| COLUMNS.to_owned(), |near| format!("is it {near}?"));
            self.problem(line_of(&headers), header, None, "this column is not known here".to_owned(), &right);
        }
        let mut file = PointsFile { points: Vec::new(), normals: normals.map(|_| Vec::new()) };
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    let line = error.position().map(csv::Position::line);
                    let wrong = "this row has another number of columns than the header".to_owned();
                    self.problem(line, "", None, wrong, "write one value for each column");
                    continue;
                }
            };
            file.points.extend(self.numbers(&headers, &record, &points).map(place::metres));
            if let (Some(columns), Some(normals)) = (&normals, &mut file.normals) {
                normals
                    .extend(self.numbers(&headers, &record, columns).and_then(|n| self.normals(&record, n)));
            }
        }
        if file.points.len() < 2 && self.reading.problems.count() == before {
            let wrong = format!("this file has {} points", file.points.len());
            self.problem(None, "", None, wrong, "give at least two");
        }
        Some(file)
    }

    /// Where the columns of these names stand.
    fn columns<const N: usize>(&self, headers: &StringRecord, names: [&str; N]) -> Option<[usize; N]> {
        let mut found = [0; N];
        for (place, name) in found.iter_mut().zip(names) {
            let mut named = headers.iter().enumerate().filter(|(_, header)| *header == name);
            match (named.next(), named.next()) {
                (Some((column, _)), None) => *place = column,
                (None, _) => {
                    self.problem(line_of(headers), name, None, "this column is missing".to_owned(), COLUMNS);
                    return None;
                }
                (Some(_), Some(_)) => {
                    self.problem(
                        line_of(headers),
                        name,
                        None,
                        "this column stands there twice".to_owned(),
                        COLUMNS,
                    );
                    return None;
                }
            }
        }
        Some(found)
    }

    fn numbers<const N: usize>(
        &self,
        headers: &StringRecord,
        record: &StringRecord,
        columns: &[usize; N],
    ) -> Option<[f64; N]> {
        let bounds = place::POSITIONS_MM;
        let mut sound = true;
        let numbers = columns.map(|column| {
            let text = record.get(column).unwrap_or_default();
            let number = text.parse::<f64>().ok().filter(|number| bounds.contains(number));
            if number.is_none() {
                sound = false;
                let right = format!("write a number from {} to {}", bounds.start(), bounds.end());
                let key = headers.get(column).unwrap_or_default();
                let wrong = "this is not a number that fits here".to_owned();
                self.problem(line_of(record), key, Some(text), wrong, &right);
            }
            number.unwrap_or_default()
        });
        sound.then_some(numbers)
    }

    fn normals(&self, record: &StringRecord, [ax, ay, az, bx, by, bz]: [f64; 6]) -> Option<Normals> {
        let found = place::unit([ax, ay, az]).zip(place::unit([bx, by, bz]));
        if found.is_none() {
            let wrong = "a normal of this row has no direction".to_owned();
            self.problem(line_of(record), "", None, wrong, "write vectors longer than zero");
        }
        found.map(|(n1, n2)| Normals { n1: n1.into_inner(), n2: n2.into_inner() })
    }
}

fn line_of(record: &StringRecord) -> Option<u64> {
    record.position().map(csv::Position::line)
}
