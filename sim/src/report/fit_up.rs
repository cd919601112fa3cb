//! Decides what of the fit-up stands on the screen: what is wrong, seam by seam how often the wire hits, what to change.

use super::page::Page;
use super::tables;
use crate::findings::words::{fixed, share};
use crate::findings::{BodyFindings, FitUpFindings, RemedyFindings, SeamFitUpFindings};

/// Changes of fixture or parts that are told; findings.json has all.
const CHANGES: usize = 3;
/// Changes of the program that are told.
const PROGRAM_CHANGES: usize = 3;

impl Page {
    pub(super) fn fit_up(&mut self, fit_up: &FitUpFindings) {
        self.heading("Fit-up: will the wire hit when another person loads another part?");
        for told in fit_up.wrong().into_iter().chain(fit_up.bodies.iter().filter_map(BodyFindings::sound)) {
            self.item(&told);
        }
        let seen: Vec<&SeamFitUpFindings> =
            fit_up.seams.iter().filter(|seam| seam.not_checked.is_none()).collect();
        if !seen.is_empty() {
            self.table(&tables::fit_up(&seen, self.unit));
        }
        let gain = |seam: &&&SeamFitUpFindings| seam.gain_mm_mm.unwrap_or(0.0);
        if let Some(seam) = seen.iter().max_by(|a, b| gain(a).total_cmp(&gain(b)))
            && let Some(of) = &seam.gain_of
        {
            let gain = fixed(gain(&seam), 2);
            self.item(&format!("seam gain: {} moves {gain} mm across for each mm at {of}", seam.seam));
        }
        let grown = seen.iter().filter_map(|seam| seam.offsets.as_ref()).map(|offsets| offsets.leg_grows_mm);
        let grown = grown.fold(0.0, f64::max);
        if grown > 0.0 {
            self.item(&format!(
                "the largest gap asks for legs that are longer by {}",
                self.unit.distance(grown)
            ));
        }
        let told = |seam: &&SeamFitUpFindings| [seam.drawn_sentence(), seam.taught_sentence()];
        for told in seen.iter().flat_map(told).flatten() {
            self.item(&told);
        }
        for seam in &fit_up.seams {
            if let Some(why) = &seam.not_checked {
                self.item(&format!("{} / {}: not checked: {why}", seam.station, seam.seam));
            }
        }
        self.changes(fit_up, true, CHANGES, "changes of fixture or parts that buy most, each alone");
        self.changes(fit_up, false, PROGRAM_CHANGES, "changes of the program");
        let mut cautions: Vec<&String> = fit_up.bodies.iter().flat_map(|body| &body.cautions).collect();
        // Every station with the same fixture says the same.
        cautions.sort();
        cautions.dedup();
        for caution in cautions {
            self.item(caution);
        }
        for reason in &fit_up.rests_on {
            self.sub_item(reason);
        }
    }

    fn changes(&mut self, fit_up: &FitUpFindings, of_fixture: bool, most: usize, what: &str) {
        let of_kind = |remedy: &&RemedyFindings| remedy.of_fixture == of_fixture;
        let mut changes = fit_up.remedies.iter().filter(of_kind).take(most).peekable();
        if changes.peek().is_none() {
            return;
        }
        let good =
            fit_up.good_percent().map_or_else(String::new, |good| format!(" (now {} % good)", share(good)));
        self.item(&format!("{what}{good}:"));
        for (number, change) in changes.enumerate() {
            self.sub_item(&format!("{}. {}", number + 1, change.sentence()));
        }
    }
}
