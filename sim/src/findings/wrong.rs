//! Decides what does not hold besides seams and the ways to them.

use super::words::{LengthUnit, fixed};
use super::{Findings, FitUpFindings, LoadsFindings};

impl Findings {
    /// What does not hold of the torch's weight, fit-up, safeguarding, loads and quantities: a phrase each.
    #[must_use]
    pub fn wrong_besides(&self, unit: LengthUnit) -> Vec<String> {
        let mut wrong = Vec::new();
        if self.load.holds() == Some(false) {
            wrong.push(format!(
                "the torch weighs {} kg, more than the {} kg that the arm may carry",
                fixed(self.load.torch_kg, 1),
                fixed(self.load.rated_kg.unwrap_or_default(), 1)
            ));
        }
        wrong.extend(self.drawn_in.iter().map(|drawn| drawn.sentence(unit)));
        wrong.extend(self.fit_up.iter().flat_map(FitUpFindings::not_holding));
        wrong.extend(self.safety.iter().filter(|safety| !safety.holds).flat_map(|safety| safety.wrong(unit)));
        wrong.extend(self.loads.iter().flat_map(LoadsFindings::wrong).map(str::to_owned));
        if self.outlook.as_ref().is_some_and(|outlook| !outlook.holds()) {
            wrong.push("the year's quantity is not made, see Takt".to_owned());
        }
        if self.jobs.as_ref().is_some_and(|jobs| !jobs.holds()) {
            wrong.push("part families ask more than there is, see below".to_owned());
        }
        wrong
    }
}
