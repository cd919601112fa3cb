//! Decides how a CSV file is read so that every problem names its line, its column and its value.

use std::borrow::Cow;
use std::fs;
use std::ops::RangeInclusive;

use csv::{ReaderBuilder, StringRecord, Trim};
use seamwright_kinematics::document::{Problem, Problems, is_unprintable, nearest};

/// A CSV file, of which problems are noted.
pub(super) struct CsvFile<'p> {
    pub(super) file: String,
    /// All of it; none of a file too long to be held, which is read again where a line must be told.
    pub(super) text: Option<&'p str>,
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

    /// Where the columns of these names stand; none where one is missing or stands there twice: each that is so is noted.
    pub(super) fn columns<const N: usize>(
        &self,
        headers: &StringRecord,
        names: [&str; N],
    ) -> Option<[usize; N]> {
        if let Some(separator) = other_separator(headers) {
            let wrong = format!("values are separated by {separator} here");
            let right = "separate them by commas, and write decimals with a point";
            self.problem(self.line_of(headers), "", None, wrong, right);
            return None;
        }
        let mut sound = true;
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
            self.problem(self.line_of(headers), name, None, wrong.to_owned(), self.columns);
            sound = false;
        }
        sound.then_some(found)
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
            self.problem(
                self.line_of(headers),
                header,
                None,
                "this column is not known here".to_owned(),
                &right,
            );
        }
    }

    /// The line that a record stands on.
    pub(super) fn line_of(&self, record: &StringRecord) -> Option<u64> {
        record.position().map(|position| self.line_at(position))
    }

    /// A reader's position is where the last record ends: before the second half of its line's end, empty lines and comments.
    fn line_at(&self, position: &csv::Position) -> u64 {
        let text = self.text.map(Cow::Borrowed);
        let Some(text) = text.or_else(|| fs::read_to_string(&self.file).ok().map(Cow::Owned)) else {
            return position.line();
        };
        let at = usize::try_from(position.byte()).unwrap_or(usize::MAX);
        let Some((before, rest)) = text.split_at_checked(at) else { return position.line() };
        let is_none = |line: &&str| line.trim_end_matches('\r').is_empty() || line.starts_with('#');
        let passed = rest.split('\n').take_while(is_none).count();
        1 + before.matches('\n').count() as u64 + passed as u64
    }

    /// Notes why a row cannot be taken apart.
    pub(super) fn refuse_row(&self, error: &csv::Error) {
        let line = error.position().map(|position| self.line_at(position));
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
                self.problem(self.line_of(record), key, Some(text), wrong, &right);
            }
            number.unwrap_or_default()
        });
        sound.then_some(numbers)
    }
}

/// What separates the values of a file whose head holds no comma.
fn other_separator(headers: &StringRecord) -> Option<&'static str> {
    let head = headers.get(0).filter(|_| headers.len() == 1)?;
    [(';', "semicolons"), ('\t', "tabs")]
        .into_iter()
        .find(|(sign, _)| head.contains(*sign))
        .map(|(_, name)| name)
}

/// One row of a file whose rows are of several kinds; it may end early, and a column may be missing.
pub(super) struct CsvRow<'r, 'p> {
    pub(super) file: &'r CsvFile<'p>,
    pub(super) headers: &'r StringRecord,
    pub(super) record: &'r StringRecord,
}

impl CsvRow<'_, '_> {
    /// As written; empty where it is not.
    pub(super) fn text(&self, column: &str) -> &str {
        let place = self.headers.iter().position(|header| header == column);
        place.and_then(|place| self.record.get(place)).unwrap_or_default()
    }

    pub(super) fn has(&self, column: &str) -> bool {
        !self.text(column).is_empty()
    }

    pub(super) fn problem(&self, column: &str, wrong: String, right: &str) {
        let value = Some(self.text(column)).filter(|text| !text.is_empty());
        self.file.problem(self.file.line_of(self.record), column, value, wrong, right);
    }

    /// Whether it has more values than there are columns, which is noted.
    pub(super) fn is_too_long(&self) -> bool {
        let (values, columns) = (self.record.len(), self.headers.len());
        if values > columns {
            let wrong = format!("this row has {values} values, the head has {columns}");
            self.file.problem(
                self.file.line_of(self.record),
                "",
                None,
                wrong,
                "write one value for each column",
            );
        }
        values > columns
    }

    /// A name, which must be there.
    pub(super) fn name(&self, column: &str) -> Option<String> {
        let name = self.needed(column)?;
        if name.chars().any(is_unprintable) {
            let wrong = "there is a line break or another control character in it".to_owned();
            self.problem(column, wrong, "write it on one line");
            return None;
        }
        Some(name.to_owned())
    }

    /// As written; that it is empty is noted.
    pub(super) fn needed(&self, column: &str) -> Option<&str> {
        let text = Some(self.text(column)).filter(|text| !text.is_empty());
        if text.is_none() {
            self.problem(column, "this row needs a value in this column".to_owned(), "write one");
        }
        text
    }

    /// Notes every value in a column of `all` that is none of `used`: it would be lost without a word.
    pub(super) fn refuse_strangers(&self, kind: &str, all: &[&str], used: &[&str]) {
        for (column, text) in self.headers.iter().zip(self.record) {
            if !text.is_empty() && all.contains(&column) && !used.contains(&column) {
                let right = format!("a row {kind} has {}", used.join(", "));
                self.problem(column, "a row of this kind has no use for this".to_owned(), &right);
            }
        }
    }

    pub(super) fn number(&self, column: &str, bounds: RangeInclusive<f64>) -> Option<f64> {
        let number = self.text(column).parse::<f64>().ok().filter(|number| bounds.contains(number));
        if number.is_none() {
            let right = format!("write a number from {} to {}", bounds.start(), bounds.end());
            self.problem(column, "this is not a number that fits here".to_owned(), &right);
        }
        number
    }

    /// None where it is wrong, which is noted; `Some(None)` where it is not written.
    pub(super) fn opt_number(&self, column: &str, bounds: RangeInclusive<f64>) -> Option<Option<f64>> {
        if self.has(column) { self.number(column, bounds).map(Some) } else { Some(None) }
    }

    /// A whole number, or `default` where it is not written.
    pub(super) fn whole(&self, column: &str, bounds: RangeInclusive<f64>, default: u32) -> Option<u32> {
        let Some(number) = self.opt_number(column, bounds)? else { return Some(default) };
        if number.fract() != 0.0 {
            self.problem(column, "this is not a whole number".to_owned(), "write a whole number");
            return None;
        }
        // Within the bounds of every column it fits.
        Some(number as u32)
    }

    pub(super) fn choice<T: Copy>(&self, column: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(column);
        let found = words.iter().find(|(word, _)| *word == text).map(|(_, value)| *value);
        if found.is_none() {
            let all: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            let right = nearest(text, all.iter().copied())
                .map_or_else(|| format!("write one of {}", all.join(", ")), |near| format!("is it {near}?"));
            self.problem(column, "this word is not known here".to_owned(), &right);
        }
        found
    }

    pub(super) fn opt_choice<T: Copy>(&self, column: &str, words: &[(&str, T)], default: T) -> Option<T> {
        if self.has(column) { self.choice(column, words) } else { Some(default) }
    }
}
