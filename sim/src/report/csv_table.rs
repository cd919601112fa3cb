//! Decides how numbers stand in a table file: a fixed number of decimals for each unit, never −0, never a number that is not
//! finite.

use crate::findings::words::fixed;

/// A number that is not finite would have been written; nothing was.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    /// Our own mistake: no input may lead to it.
    #[error(
        "{table}: `{column}` would be {value} in row {row}; this is a fault of the program, and nothing was written"
    )]
    NotFinite {
        /// The file.
        table: &'static str,
        /// The column's name.
        column: String,
        /// Row, counted from 1 below the head.
        row: usize,
        /// What it would be.
        value: f64,
    },
    /// The table could not be put together.
    #[error("{table}: {source}")]
    Csv {
        /// The file.
        table: &'static str,
        /// What the CSV library says.
        source: csv::Error,
    },
}

/// One field of a row.
pub(super) enum Field<'a> {
    Text(&'a str),
    Whole(usize),
    /// With that many decimals.
    Number(f64, usize),
    Empty,
}

/// A length in mm, or a speed in mm/s.
pub(super) fn mm(value: f64) -> Field<'static> {
    Field::Number(value, 6)
}

/// An angle in degrees.
pub(super) fn deg(value: f64) -> Field<'static> {
    Field::Number(value, 6)
}

/// A part of a quaternion.
pub(super) fn part(value: f64) -> Field<'static> {
    Field::Number(value, 9)
}
/// A time in s.
pub(super) fn s(value: f64) -> Field<'static> {
    Field::Number(value, 6)
}

/// A number that may not apply.
pub(super) fn maybe(value: Option<f64>, field: fn(f64) -> Field<'static>) -> Field<'static> {
    value.map_or(Field::Empty, field)
}

/// A table as it grows.
pub(super) struct CsvTable {
    name: &'static str,
    heads: Vec<String>,
    rows: usize,
    writer: csv::Writer<Vec<u8>>,
}

impl CsvTable {
    /// A table with its head.
    pub(super) fn new(name: &'static str, heads: Vec<String>) -> Result<Self, TableError> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(&heads).map_err(|source| TableError::Csv { table: name, source })?;
        Ok(Self { name, heads, rows: 0, writer })
    }

    /// Adds a row with one field for each head.
    pub(super) fn row<'f>(&mut self, fields: impl IntoIterator<Item = Field<'f>>) -> Result<(), TableError> {
        self.rows += 1;
        let csv_error = |source| TableError::Csv { table: self.name, source };
        for (column, field) in fields.into_iter().enumerate() {
            let text = match field {
                Field::Text(text) => text.to_owned(),
                Field::Whole(whole) => whole.to_string(),
                Field::Number(value, decimals) if value.is_finite() => fixed(value, decimals),
                Field::Number(value, _) => {
                    let column = self.heads.get(column).cloned().unwrap_or_default();
                    return Err(TableError::NotFinite { table: self.name, column, row: self.rows, value });
                }
                Field::Empty => String::new(),
            };
            self.writer.write_field(text).map_err(csv_error)?;
        }
        // Ends the row; a row shorter or longer than the head is an error here.
        self.writer.write_record(None::<&[u8]>).map_err(csv_error)
    }

    /// The finished file.
    pub(super) fn into_bytes(self) -> Result<Vec<u8>, TableError> {
        let name = self.name;
        self.writer
            .into_inner()
            .map_err(|error| TableError::Csv { table: name, source: error.into_error().into() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_fixed_and_minus_zero_is_zero() {
        let mut table = CsvTable::new("x.csv", vec!["a_mm".into(), "q".into(), "name".into()]).unwrap();
        table.row([mm(-1e-9), part(0.5), Field::Text("clamp, left")]).unwrap();
        let text = String::from_utf8(table.into_bytes().unwrap()).unwrap();
        assert_eq!(text, "a_mm,q,name\n0.000000,0.500000000,\"clamp, left\"\n");
    }

    #[test]
    fn a_number_that_is_not_finite_is_never_written() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let mut table = CsvTable::new("x.csv", vec!["a_mm".into()]).unwrap();
            let error = table.row([mm(value)]).unwrap_err();
            assert!(error.to_string().starts_with("x.csv: `a_mm` would be"), "{error}");
        }
    }

    #[test]
    fn a_row_that_does_not_fit_the_head_is_an_error() {
        let mut table = CsvTable::new("x.csv", vec!["a_mm".into(), "b_mm".into()]).unwrap();
        assert!(table.row([mm(1.0)]).is_err());
    }
}
