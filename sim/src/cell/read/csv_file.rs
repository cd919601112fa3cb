//! Decides how a CSV file is read so that every problem names its line, its column and its value.

use std::ops::RangeInclusive;

use csv::{ReaderBuilder, StringRecord, Trim};
use seamwright_kinematics::document::{Problem, Problems, nearest};

/// A CSV file, of which problems are noted.
pub(super) struct CsvFile<'p> {
    pub(super) file: String,
    pub(super) problems: &'p Problems,
    /// What the columns may be, as a sentence.
    pub(super) columns: &'static str,
}

/// How our CSV files are written: a head, spaces around values allowed, `#` before a comment.
pub(super) fn format() -> ReaderBuilder {
    let mut builder = ReaderBuilder::new();
    builder.trim(Trim::All).comment(Some(b'#'));
    builder
}

impl CsvFile<'_> {
    pub(super) fn problem(
        &self,
        line: Option<u64>,
        key: &str,
        value: Option<&str>,
        wrong: String,
        right: &str,
    ) {
        self.problems.add(Problem {
            file: self.file.clone(),
            line: line.and_then(|line| usize::try_from(line).ok()),
            key: key.to_owned(),
            value: value.map(str::to_owned),
            wrong,
            right: Some(right.to_owned()),
        });
    }

    /// Where the columns of these names stand; none where one is missing or stands there twice.
    pub(super) fn columns<const N: usize>(
        &self,
        headers: &StringRecord,
        names: [&str; N],
    ) -> Option<[usize; N]> {
        let mut found = [0; N];
        for (place, name) in found.iter_mut().zip(names) {
            let mut named = headers.iter().enumerate().filter(|(_, header)| *header == name);
            let wrong = match (named.next(), named.next()) {
                (Some((column, _)), None) => {
                    *place = column;
                    continue;
                }
                (None, _) => "this column is missing",
                (Some(_), Some(_)) => "this column stands there twice",
            };
            self.problem(line_of(headers), name, None, wrong.to_owned(), self.columns);
            return None;
        }
        Some(found)
    }

    /// Notes every column that is not among `known`.
    pub(super) fn refuse_unknown<'k>(
        &self,
        headers: &StringRecord,
        known: impl Iterator<Item = &'k str> + Clone,
    ) {
        for header in headers.iter().filter(|header| !known.clone().any(|name| name == *header)) {
            let near = nearest(header, known.clone());
            let right = near.map_or_else(|| self.columns.to_owned(), |near| format!("is it {near}?"));
            self.problem(line_of(headers), header, None, "this column is not known here".to_owned(), &right);
        }
    }

    /// Notes why a row cannot be taken apart.
    pub(super) fn refuse_row(&self, error: &csv::Error) {
        let line = error.position().map(csv::Position::line);
        let (wrong, right) = match error.kind() {
            csv::ErrorKind::UnequalLengths { .. } => {
                ("this row has another number of columns than the header", "write one value for each column")
            }
            csv::ErrorKind::Utf8 { .. } => ("this row is not text in UTF-8", "write numbers"),
            _ => {
                self.problem(line, "", None, format!("this cannot be read: {error}"), "try again");
                return;
            }
        };
        self.problem(line, "", None, wrong.to_owned(), right);
    }

    /// The numbers in `columns`, each within `bounds`; none where one is not, which is noted.
    pub(super) fn numbers<const N: usize>(
        &self,
        headers: &StringRecord,
        record: &StringRecord,
        columns: &[usize; N],
        bounds: &RangeInclusive<f64>,
    ) -> Option<[f64; N]> {
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
}

pub(super) fn line_of(record: &StringRecord) -> Option<u64> {
    record.position().map(csv::Position::line)
}
