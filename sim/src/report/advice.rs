//! Decides what of the advice stands on the screen: for each seam the nearest changes that free it, then all that go together.

use super::page::Page;
use crate::findings::AdviceFindings;

/// Changes told of one seam; findings.json has all.
const OFFERS: usize = 3;

/// What no check of a change can know.
const CAUTION: &str = "each change was planned again, by itself, with every seam that it touches and the air moves, and counts for this \
    cell as drawn: what it does to service, loads, safeguarding, fit-up and the cycle the next check tells; whether a moved clamp still holds the part, a trimmed support still bears it, or other angles still make the weld, a competent \
    person must say";

impl Page {
    pub(super) fn advice(&mut self, advice: &AdviceFindings) {
        self.heading("What would free it, nearest first");
        for seam in &advice.seams {
            match seam.offers.split_first() {
                None => self.item(&format!("{}: no change that was tried frees it", seam.seam)),
                Some((nearest, others)) => {
                    self.item(&format!("{}: {}", seam.seam, nearest.whole_sentence()));
                    for other in others.iter().take(OFFERS - 1) {
                        self.sub_item(&format!("or {}", other.whole_sentence()));
                    }
                }
            }
        }
        for seam in &advice.not_looked_at {
            self.item(&seam.sentence());
        }
        if let Some(together) = advice.together.as_ref().filter(|_| advice.seams.len() > 1) {
            self.item(&format!("{}:", together.sentence()));
            for (index, sentence) in together.sentences.iter().enumerate() {
                self.sub_item(&format!("{}. {sentence}", index + 1));
            }
        }
        self.item(CAUTION);
        self.sub_item(&advice.grid_sentence());
    }
}
