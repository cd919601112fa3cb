//! Decides how text is laid out on the screen: headings, items and tables, never wider than [`COLUMNS`].

use std::fmt::Write;

use anstyle::Style;

use crate::findings::words::LengthUnit;

/// The widest line.
pub(super) const COLUMNS: usize = 100;

pub(super) const STRONG: Style = Style::new().bold();

/// Width of the column of headings in the first block.
const HEADING: usize = 14;

/// A text as it grows.
pub(super) struct Page {
    pub(super) text: String,
    pub(super) unit: LengthUnit,
}

impl Page {
    pub(super) fn new(unit: LengthUnit) -> Self {
        Self { text: String::new(), unit }
    }

    pub(super) fn list(&mut self, heading: &str, items: &[String]) {
        self.heading(heading);
        for item in items {
            self.item(item);
        }
    }

    pub(super) fn heading(&mut self, heading: &str) {
        self.line("");
        self.line(&format!("{STRONG}{}{STRONG:#}", textwrap::fill(heading, COLUMNS)));
    }

    pub(super) fn item(&mut self, text: &str) {
        self.fill(text, "- ", "  ");
    }

    pub(super) fn sub_item(&mut self, text: &str) {
        self.fill(text, "    ", "    ");
    }

    pub(super) fn wrapped(&mut self, heading: &str, text: &str) {
        self.fill(text, &format!("{heading:<HEADING$}"), &" ".repeat(HEADING));
    }

    pub(super) fn fill(&mut self, text: &str, first: &str, next: &str) {
        let options = textwrap::Options::new(COLUMNS).initial_indent(first).subsequent_indent(next);
        let lines = textwrap::fill(text, options);
        self.line(&lines);
    }

    pub(super) fn table(&mut self, table: &str) {
        self.line(table);
    }

    pub(super) fn line(&mut self, line: &str) {
        // Writing into a String cannot fail.
        let _ = writeln!(self.text, "{line}");
    }
}
