//! What would free the seams that do not hold: looked for when it is asked for, since every change is planned again.

use std::sync::Arc;

use bevy::prelude::*;
use seamwright_sim::advice;
use seamwright_sim::cell::SeamId;
use seamwright_sim::findings::{AdviceFindings, OfferFindings};

use super::Ask;
use super::beside::{Beside, BrokeOff, Wake};
use crate::show::Show;

/// How far the search is, for the cell as it is now.
#[derive(Resource, Default, Clone)]
pub enum Remedies {
    /// Nobody has asked.
    #[default]
    NotAsked,
    /// It goes on.
    Looking(Arc<Beside<Remedies>>),
    /// It has ended; none where every seam holds.
    Found(Option<Arc<AdviceFindings>>),
}

/// What is known of what would free one seam.
#[derive(Clone, Debug, PartialEq)]
pub enum OfSeam<'r> {
    /// Nobody has asked.
    NotAsked,
    /// The search goes on.
    Looking,
    /// It was left out, and why.
    LeftOut(String),
    /// What frees it, the nearest first; empty where no change that was tried does.
    Offers(&'r [OfferFindings]),
}

impl Remedies {
    /// Looks for them, and comes back when they are found.
    #[must_use]
    pub fn look(show: &Show) -> Self {
        let advice = advice::advise(show.cell, &show.checked.searched, &show.checked.plan);
        let findings = show.checked.findings.clone().advised(show.cell, advice.as_ref());
        Self::Found(findings.advice.map(Arc::new))
    }

    /// Whether the search goes on.
    #[must_use]
    pub fn is_looking(&self) -> bool {
        matches!(self, Self::Looking(_))
    }

    /// What is known of a seam.
    #[must_use]
    pub fn of(&self, seam: SeamId, full_name: &str) -> OfSeam<'_> {
        let found = match self {
            Self::NotAsked => return OfSeam::NotAsked,
            Self::Looking(_) => return OfSeam::Looking,
            Self::Found(found) => found.as_deref(),
        };
        let left_out = found.and_then(|all| all.not_looked_at.iter().find(|one| one.seam == full_name));
        if let Some(left_out) = left_out {
            return OfSeam::LeftOut(left_out.sentence());
        }
        let of_seam = found.and_then(|all| all.seams.iter().find(|one| one.number == seam.0 + 1));
        OfSeam::Offers(of_seam.map_or(&[], |one| &one.offers))
    }
}

/// Begins the search when it is asked for, takes what comes of it, and forgets it when the cell is another.
pub(super) fn obey(
    mut asks: MessageReader<Ask>,
    show: Res<Show>,
    wake: Res<Wake>,
    mut remedies: ResMut<Remedies>,
) {
    if show.is_changed() && !show.is_added() {
        *remedies = Remedies::NotAsked;
    }
    let asked = asks.read().filter(|ask| **ask == Ask::Remedies).count() > 0;
    if asked && matches!(*remedies, Remedies::NotAsked) {
        let show = show.clone();
        *remedies = Remedies::Looking(Arc::new(Beside::begin(&wake, move || Remedies::look(&show))));
    }
    let found = match &*remedies {
        // Asked for again it breaks off again, and says nothing wrong meanwhile.
        Remedies::Looking(beside) => beside.came().unwrap_or_else(|_: BrokeOff| Some(Remedies::NotAsked)),
        Remedies::NotAsked | Remedies::Found(_) => None,
    };
    if let Some(found) = found {
        *remedies = found;
    }
}
