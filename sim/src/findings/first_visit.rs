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
}

/// One kind of seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FirstVisitRow {
    /// Name of the row.
    pub row: String,
    /// `computed` where it is drawn, `rough` where only the table knows it.
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
        }
    }

    /// The short answer, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let drawn = self.rows.len() - self.still_rough;
        let rest = if self.still_rough > 0 { " and the rest as in the table" } else { "" };
        format!(
            "{} s a load by the table of the first visit ({} s expected); {} s ({} s) with {drawn} of {} drawn{rest}: {}",
            self.table_s.span(0),
            fixed(self.table_s.expected, 0),
            self.now_s.span(0),
            fixed(self.now_s.expected, 0),
            counted(self.rows.len() as u64, "kind of seam").replace("kind of seams", "kinds of seam"),
            if self.inside {
                "inside it, and narrower"
            } else {
                "NOT inside it: ask which of the two is wrong"
            }
        )
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
            label: if drawn.is_some() { "computed" } else { "rough" }.to_owned(),
            table_s: seconds(&row.table),
            table_weld_mm: rounded(to_mm(row.weld), 6),
            seams: drawn.map(|drawn| drawn.seams),
            timed: drawn.map(|drawn| drawn.timed),
            weld_mm: drawn.map(|drawn| rounded(to_mm(drawn.weld), 6)),
            computed_s: drawn.map(|drawn| rounded(drawn.arm, 6)),
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
        format!(
            "{}: computed, {} s for {} ({} of weld{missing}); {table}",
            self.row,
            fixed(arm, 0),
            counted(seams as u64, "seam"),
            unit.weld(weld)
        )
    }
}

fn seconds(range: &Range) -> RangeFindings {
    RangeFindings::new(range, |seconds| seconds)
}
