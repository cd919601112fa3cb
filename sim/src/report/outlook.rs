//! Decides how shifts, demand and money stand on the screen.

use super::page::Page;
use crate::findings::OutlookFindings;

/// How many seam moves and no more are told; findings.json has all.
const MOVES: usize = 3;

impl Page {
    /// The short answers, for the block at the top.
    pub(super) fn outlook_verdict(&mut self, outlook: &OutlookFindings) {
        if let Some(played) = &outlook.played {
            self.wrapped("Shift", &played.sentence());
        }
        if let Some(demand) = &outlook.demand {
            self.wrapped("Takt", &demand.sentence());
        }
        if let Some(money) = &outlook.money {
            self.wrapped("Money", &money.sentence());
        }
        if let Some(missing) = &outlook.money_missing {
            self.wrapped("Money", missing);
        }
    }

    /// What they are made of.
    pub(super) fn outlook(&mut self, outlook: &OutlookFindings) {
        if let Some(played) = &outlook.played {
            self.heading("Where the time of a shift goes, and what would change it");
            self.item(&played.breakdown());
            self.item(&played.arm.sentence());
            self.item(&played.people.sentence());
            for effect in &played.effects {
                self.item(&effect.sentence());
            }
        }
        if let Some(demand) = &outlook.demand {
            self.heading("What is wanted");
            self.item(&demand.breakdown());
        }
        if !outlook.seam_moves.is_empty() {
            self.heading("Seams that would be better off at another station");
            for it in outlook.seam_moves.iter().take(MOVES) {
                self.item(&it.sentence());
            }
        }
        if outlook.money.is_some() {
            self.heading("What a part costs");
        }
        if let Some(money) = &outlook.money {
            self.item(&money.breakdown());
            if let Some(uses) = outlook.uses.sentence() {
                self.item(&uses);
            }
            let once = money.once.sentence(&money.currency);
            let hand = money.by_hand.as_ref();
            let payback = hand.and_then(|hand| hand.payback_sentence());
            for said in once.into_iter().chain(hand.map(|hand| hand.sentence(&money.currency))).chain(payback)
            {
                self.item(&said);
            }
            for left_out in &money.left_out {
                self.item(&format!("not in the cost: {left_out}"));
            }
        }
    }
}
