//! Decides what is said of a cell beside the table of its first visit.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::estimate::RangeFindings;
use super::words::{LengthUnit, counted, fixed, rounded};
use crate::production::{BesideTable, Range, RowBeside};

/// The table of the first visit beside the cell. Times for a load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FirstVisitFindings {
    /// Every kind of seam of the table.
    pub rows: Vec<FirstVisitRow>,
    /// The cycle by the table alone.
    pub table_s: RangeFindings,
    /// The cycle with what is drawn as timed and the rest as in the table.
    pub now_s: RangeFindings,
    /// Whether that lies inside what the table promised.
    pub inside: bool,
    /// The person's time by the table.
    pub table_person_s: RangeFindings,
    /// The person's time in the cell.
    pub person_s: f64,
    /// Rows that are not drawn yet.
    pub still_rough: usize,
    /// Seams of the load that no row is drawn as.
    #[serde(default)]
    pub of_no_row: Vec<String>,
}

/// One kind of seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FirstVisitRow {
    /// Name of the row.
    pub row: String,
    /// `computed` where it is drawn, `in part` where fewer seams of it are in the times than it counts, `rough` where only the table knows it.
    pub label: String,
    /// The arm's time by the table, touch searches included, cleaning not.
    pub table_s: RangeFindings,
    /// Weld by the table.
    pub table_weld_mm: f64,
    /// Seams that it was drawn as.
    pub seams: Option<usize>,
    /// Of those, seams that are in the times.
    pub timed: Option<usize>,
    /// Weld of them.
    pub weld_mm: Option<f64>,
    /// The arm's time for them.
    pub computed_s: Option<f64>,
    /// Seams of the row that count as in the table: not drawn, or in no time because they do not hold.
    #[serde(default)]
    pub as_in_table: u32,
}

impl FirstVisitFindings {
    pub(super) fn new(beside: &BesideTable) -> Self {
        Self {
            rows: beside.rows.iter().map(FirstVisitRow::new).collect(),
            table_s: seconds(&beside.table),
            now_s: seconds(&beside.now),
            inside: beside.table.low <= beside.now.low && beside.now.high <= beside.table.high,
            table_person_s: seconds(&beside.table_person),
            person_s: rounded(beside.person, 6),
            still_rough: beside.still_rough(),
            of_no_row: beside.of_no_row.clone(),
        }
    }

    /// The short answer, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let drawn = self.rows.len() - self.still_rough;
        let is_in_part = self.rows.iter().any(|row| row.as_in_table > 0);
        let rest = if is_in_part { " and the rest as in the table" } else { "" };
        format!(
            "{} s a load by the table of the first visit ({} s expected); {} s ({} s) with {drawn} of {} drawn{rest}: {}",
            self.table_s.span(0),
            fixed(self.table_s.expected, 0),
            self.now_s.span(0),
            fixed(self.now_s.expected, 0),
            counted(self.rows.len() as u64, "kind of seam").replace("kind of seams", "kinds of seam"),
            if self.inside {
                "inside it, and narrower"
            } else if self.may_count_twice() {
                "NOT inside it: seams that no row names may count twice, see below"
            } else {
                "NOT inside it: ask which of the two is wrong"
            }
        )
    }

    /// Whether seams of the cell may be those of a row that counts as in the table.
    fn may_count_twice(&self) -> bool {
        !self.of_no_row.is_empty() && self.rows.iter().any(|row| row.as_in_table > 0)
    }

    /// Seams that may count twice, in words; none where none do.
    #[must_use]
    pub fn twice_sentence(&self) -> Option<String> {
        let (first, rest) = self.of_no_row.split_first().filter(|_| self.may_count_twice())?;
        let more = if rest.is_empty() { String::new() } else { format!(" and {} more", rest.len()) };
        Some(format!(
            "{first}{more}: drawn as no row; if a row that counts as in the table means them, they count twice: name them under its \
             [[first_visit.drawn]]"
        ))
    }

    /// The person's time beside the table's, in words.
    #[must_use]
    pub fn person_sentence(&self) -> String {
        format!(
            "the person: {} s in the cell, {} s by the table ({} s expected)",
            fixed(self.person_s, 0),
            self.table_person_s.span(0),
            fixed(self.table_person_s.expected, 0)
        )
    }
}

impl FirstVisitRow {
    fn new(row: &RowBeside) -> Self {
        let drawn = row.drawn.as_ref();
        Self {
            row: row.name.clone(),
            label: match (drawn.is_some(), row.missing()) {
                (false, _) => "rough",
                (true, 0) => "computed",
                (true, _) => "in part",
            }
            .to_owned(),
            table_s: seconds(&row.table),
            table_weld_mm: rounded(to_mm(row.weld), 6),
            seams: drawn.map(|drawn| drawn.seams),
            timed: drawn.map(|drawn| drawn.timed),
            weld_mm: drawn.map(|drawn| rounded(to_mm(drawn.weld), 6)),
            computed_s: drawn.map(|drawn| rounded(drawn.arm, 6)),
            as_in_table: row.missing(),
        }
    }

    /// In words.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let table = format!(
            "{} s by the table ({} s expected, {} of weld)",
            self.table_s.span(0),
            fixed(self.table_s.expected, 0),
            unit.weld(self.table_weld_mm)
        );
        let (Some(seams), Some(timed), Some(weld), Some(arm)) =
            (self.seams, self.timed, self.weld_mm, self.computed_s)
        else {
            return format!("{}: rough, {table}", self.row);
        };
        let missing = match seams - timed {
            0 => String::new(),
            missing => format!(", {missing} of them not in the times"),
        };
        let rest = match self.as_in_table {
            0 => String::new(),
            rest => format!(", {} of it as in the table", counted(u64::from(rest), "seam")),
        };
        format!(
            "{}: computed{}, {} s for {} ({} of weld{missing}){rest}; {table}",
            self.row,
            if self.as_in_table > 0 { " in part" } else { "" },
            fixed(arm, 0),
            counted(seams as u64, "seam"),
            unit.weld(weld)
        )
    }
}

fn seconds(range: &Range) -> RangeFindings {
    RangeFindings::new(range, |seconds| seconds)
}
