//! Decides what a CSV file of poses says: `x_mm, y_mm, z_mm, qw, qx, qy, qz`, one pose a row.
//!
//! A file may hold millions of poses, so it is never held whole: it is read once to find every problem, and once more
//! for the poses.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use csv::StringRecord;
use nalgebra::{Quaternion, UnitQuaternion, Vector3};
use seamwright_kinematics::document::{Problem, Problems};
use seamwright_kinematics::{Pose, units};

use super::csv_file::{self, CsvFile};
use super::files::reason;

const POSITION: [&str; 3] = ["x_mm", "y_mm", "z_mm"];
const ROTATION: [&str; 4] = ["qw", "qx", "qy", "qz"];
const COLUMNS: &str = "the columns are x_mm, y_mm, z_mm, qw, qx, qy, qz";

/// Beyond it (mm) a position is a slip; far beyond the reach of any arm.
const POSITIONS_MM: std::ops::RangeInclusive<f64> = -1e9..=1e9;
/// How far the length of a quaternion may be from 1.
const ROUNDING: f64 = 1e-3;
/// After so many problems the rest of the file is not looked at.
const MOST_PROBLEMS: usize = 50;

/// A file of poses that was found sound.
#[derive(Clone, Debug)]
pub struct PosesFile {
    path: PathBuf,
}

impl PosesFile {
    /// Reads the whole file for its problems; rotations are made length 1 where they are within 0.001 of it.
    ///
    /// # Errors
    /// The problems of the file, by line, or the first 50 of them.
    pub fn check(path: &Path) -> Result<Self, Vec<Problem>> {
        let problems = Problems::default();
        if let Some(mut rows) = Rows::open(path, &problems) {
            while rows.advance() && problems.count() < MOST_PROBLEMS {}
            if rows.poses == 0 && problems.is_empty() {
                let wrong = "this file has no poses".to_owned();
                rows.file.problem(None, "", None, wrong, "write a row for each below the head");
            }
        }
        if problems.is_empty() { Ok(Self { path: path.to_owned() }) } else { Err(problems.into_sorted()) }
    }

    /// Hands the poses in order to `take`, at most `most` at a time, until it fails.
    ///
    /// # Errors
    /// What `take` returns, or the problems of a file that has changed since it was checked.
    pub fn for_each_chunk<E: From<Vec<Problem>>>(
        &self,
        most: usize,
        mut take: impl FnMut(&[Pose]) -> Result<(), E>,
    ) -> Result<(), E> {
        let problems = Problems::default();
        let mut chunk = Vec::with_capacity(most);
        if let Some(mut rows) = Rows::open(&self.path, &problems) {
            while rows.advance() && problems.is_empty() {
                chunk.extend(rows.pose);
                if chunk.len() >= most {
                    take(&chunk)?;
                    chunk.clear();
                }
            }
        }
        if !problems.is_empty() {
            return Err(problems.into_sorted().into());
        }
        if chunk.is_empty() { Ok(()) } else { take(&chunk) }
    }
}

/// The rows of a file as they are read.
struct Rows<'p> {
    file: CsvFile<'p>,
    reader: csv::Reader<File>,
    headers: StringRecord,
    position: [usize; 3],
    rotation: [usize; 4],
    record: StringRecord,
    /// That of the last row, where it is sound.
    pose: Option<Pose>,
    /// How many there were.
    poses: u64,
}

impl<'p> Rows<'p> {
    /// None where not even the head can be read, which is noted.
    fn open(path: &Path, problems: &'p Problems) -> Option<Self> {
        let file =
            CsvFile { file: path.to_string_lossy().into_owned(), text: None, problems, columns: COLUMNS };
        let opened = match open(path) {
            Ok(opened) => opened,
            Err(error) => {
                problems.add(Problem {
                    file: file.file,
                    line: None,
                    key: String::new(),
                    value: None,
                    wrong: reason(&error),
                    right: None,
                });
                return None;
            }
        };
        let mut reader = csv_file::format().buffer_capacity(1 << 16).from_reader(opened);
        let headers = match reader.headers() {
            Ok(headers) => headers.clone(),
            Err(error) => {
                file.refuse_row(&error);
                return None;
            }
        };
        let position = file.columns(&headers, POSITION)?;
        let rotation = file.columns(&headers, ROTATION)?;
        file.refuse_unknown(&headers, POSITION.into_iter().chain(ROTATION));
        let record = StringRecord::new();
        Some(Self { file, reader, headers, position, rotation, record, pose: None, poses: 0 })
    }

    /// Goes to the next row; false at the end.
    fn advance(&mut self) -> bool {
        self.pose = None;
        match self.reader.read_record(&mut self.record) {
            Ok(true) => self.pose = self.read(),
            Ok(false) => return false,
            Err(error) => {
                self.file.refuse_row(&error);
                // After an error of the disk there is nothing more to be had.
                return !matches!(error.kind(), csv::ErrorKind::Io(_));
            }
        }
        self.poses += 1;
        true
    }

    fn read(&self) -> Option<Pose> {
        let (headers, record) = (&self.headers, &self.record);
        let position = self.file.numbers(headers, record, &self.position, &POSITIONS_MM);
        let rotation =
            self.file.numbers(headers, record, &self.rotation, &(-1.0 - ROUNDING..=1.0 + ROUNDING));
        let (position, [w, x, y, z]) = position.zip(rotation)?;
        let quaternion = Quaternion::new(w, x, y, z);
        let length = quaternion.norm();
        if (length - 1.0).abs() > ROUNDING {
            let value = self.rotation.map(|column| record.get(column).unwrap_or_default()).join(",");
            let wrong = format!("this quaternion has length {length:.4}");
            self.file.problem(
                self.file.line_of(record),
                "qw,qx,qy,qz",
                Some(&value),
                wrong,
                "write a quaternion of length 1",
            );
            return None;
        }
        let position = Vector3::from(position).map(units::mm);
        Some(Pose::from_parts(position.into(), UnitQuaternion::from_quaternion(quaternion)))
    }
}

/// Opens a file that can be read twice.
fn open(path: &Path) -> io::Result<File> {
    let file = File::open(path)?;
    if file.metadata()?.is_file() { Ok(file) } else { Err(io::ErrorKind::IsADirectory.into()) }
}
