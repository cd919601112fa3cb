//! Decides how an estimate at a first visit stands on the screen: the answer, what it is made of, what to ask next.

use anstyle::{AnsiColor, Style};

use super::page::{Page, STRONG};
use super::tables;
use crate::findings::words::{LengthUnit, counted};
use crate::findings::{EstimateFindings, FitsName};

const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// Causes that are told in full; the others change less.
const TOLD: usize = 5;

/// The whole text, with lengths in `unit`.
#[must_use]
pub fn text(estimate: &EstimateFindings, unit: LengthUnit) -> String {
    let mut page = Page::new(unit);
    page.answer(estimate);
    page.heading("What a load goes into");
    page.table(&tables::elements(&estimate.elements));
    page.line("");
    page.item(&format!(
        "arm {} s, person {} s, table {} s for a load: low / expected / high, causes independent",
        estimate.arm_s.all(0),
        estimate.person_s.all(0),
        estimate.index_s.all(0)
    ));
    page.item(&estimate.wait_sentence());
    page.item(&estimate.quick_sentence());
    page.heading("What makes the cycle a range, and what to ask next");
    for cause in estimate.widened_by.iter().take(TOLD) {
        page.item(&cause.sentence());
    }
    page.list("What this rests on", &estimate.rests_on);
    page.list("Not checked", &estimate.not_checked);
    page.list("Before anything is built or moved", &estimate.cautions);
    page.text
}

impl Page {
    fn answer(&mut self, estimate: &EstimateFindings) {
        let (style, answer) = match estimate.demand.as_ref().map(|demand| demand.fits) {
            None => (STRONG, "a rough estimate"),
            Some(FitsName::Fits) => (GOOD, "fits, as far as a rough estimate tells"),
            Some(FitsName::Open) => (STRONG, "may fit or not"),
            Some(FitsName::DoesNotFit) => (BAD, "does not fit"),
        };
        self.line(&format!("{style}{}: {answer}{style:#}", estimate.job));
        if !estimate.about.is_empty() {
            self.wrapped("", &estimate.about);
        }
        self.line("");
        // Arcs of a part are few: the number is whole and exact.
        let arcs = counted(estimate.arcs as u64, "arc");
        let weld = format!("{} of weld in {arcs}", self.unit.weld(estimate.weld_mm));
        self.wrapped("A part has", &format!("{weld}, {}", estimate.wire_sentence()));
        self.wrapped("Cycle", &estimate.cycle_sentence());
        if let Some(demand) = &estimate.demand {
            self.wrapped("Demand", &demand.sentence());
        }
        if let Some(shift) = estimate.shift_sentence() {
            self.wrapped("Shift", &shift);
        }
        if let Some(cost) = &estimate.cost {
            self.wrapped("Cost", &cost.sentence());
        }
    }
}
