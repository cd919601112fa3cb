//! What is answered about a cell's fixtures, from its plan on.

use seamwright_sim::cell::Cell;
use seamwright_sim::fitup::{FitUp, Planned, fit_up};
use seamwright_sim::order;
use seamwright_sim::plan::{Options, Searched};
use seamwright_sim::schedule::schedule;

/// Plans the cell, times it and answers.
///
/// # Panics
/// If no fixture of the cell has locators.
#[must_use]
#[expect(clippy::unwrap_used, reason = "a check without its answer must fail")]
pub fn fitted(cell: &Cell, seed: u64) -> FitUp {
    let searched = Searched::new(cell, &Options::default());
    let plan = order::plan(cell, &searched);
    let schedule = schedule(cell, &plan);
    fit_up(cell, &Planned { searched: &searched, plan: &plan, schedule: &schedule }, seed).unwrap()
}
