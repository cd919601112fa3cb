//! What the checks share: tables of expected values, each row printing itself with its source when a check fails.

pub mod arms;
pub mod bench;
pub mod drilled;
pub mod fitted;
pub mod planted;
pub mod shifts;

use std::fmt;
use std::path::Path;

/// One row of a table of expected values.
#[derive(Clone, Debug)]
pub struct Row {
    file: String,
    header: Vec<String>,
    values: Vec<String>,
}

/// The rows of a CSV file under `data/`.
///
/// # Panics
/// If the file is missing or is no CSV: the checks cannot run without it.
#[must_use]
#[expect(clippy::unwrap_used, reason = "a check without its table must fail")]
pub fn rows(file: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(file);
    let mut reader = csv::Reader::from_path(path).unwrap();
    let header: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let row = |record: csv::StringRecord| Row {
        file: file.to_owned(),
        header: header.clone(),
        values: record.iter().map(str::to_owned).collect(),
    };
    reader.records().map(|record| row(record.unwrap())).collect()
}

impl Row {
    /// The text in the column `name`.
    ///
    /// # Panics
    /// If there is no such column.
    #[must_use]
    #[expect(clippy::unwrap_used, reason = "a check that names a column that is not there must fail")]
    pub fn text(&self, name: &str) -> &str {
        let column = self.header.iter().position(|head| head == name);
        column
            .map(|column| self.values[column].as_str())
            .ok_or_else(|| format!("{self}: no column {name}"))
            .unwrap()
    }

    /// The number in the column `name`; `None` where the cell is empty.
    ///
    /// # Panics
    /// If there is no such column or its cell holds no number.
    #[must_use]
    #[expect(clippy::unwrap_used, reason = "a check without its number must fail")]
    pub fn opt_number(&self, name: &str) -> Option<f64> {
        let text = self.text(name);
        (!text.is_empty()).then(|| text.parse().map_err(|_| format!("{self}: {name} is {text}")).unwrap())
    }

    /// The number in the column `name`.
    ///
    /// # Panics
    /// If there is no such column or its cell holds no number.
    #[must_use]
    #[expect(clippy::unwrap_used, reason = "a check without its number must fail")]
    pub fn number(&self, name: &str) -> f64 {
        self.opt_number(name).ok_or_else(|| format!("{self}: {name} is empty")).unwrap()
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:", self.file)?;
        for (head, value) in self.header.iter().zip(&self.values) {
            write!(f, " {head}={value}")?;
        }
        Ok(())
    }
}
