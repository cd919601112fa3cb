//! Decides whether a part goes onto all of its locators at once.
//!
//! Contacts that hold what others hold depend on each other: `Σ w n = 0` over a group, each `n` a row of the contact matrix. A part goes on
//! where it can be moved so that no pad, stop or flank is passed (`n·x ≥ e`) and every pin stays within its play (`|n·x − e| ≤ play/2`, both
//! ways of a round pin together within a disc). Over a group the motion drops out of `Σ w (n·x − e) = −Σ w e`: that sum must be one that
//! these gaps allow, and any gap is one of a pad's. For a single group that is all there is to it (a linear programme's dual in one
//! unknown, derived here); of several, each must be so, and a part that fails only all of them together is taken to go on.

use super::contact::Contact;
use super::locating::locating;
use crate::cell::Body;

/// What depends on each other among the contacts of a body.
#[derive(Clone, Debug)]
pub(super) struct Groups(Vec<Group>);

#[derive(Clone, Debug)]
struct Group {
    /// Contacts with their weights.
    of: Vec<(usize, f64)>,
    /// Least and most that gaps can make of the weighted sum.
    low: f64,
    high: f64,
}

impl Groups {
    pub(super) fn new(body: &Body, contacts: &[Contact]) -> Self {
        let group = |of: Vec<(usize, f64)>| {
            let (mut low, mut high) = (0.0, 0.0);
            for (locator, known) in body.locators.iter().enumerate() {
                let own: Vec<(usize, f64)> =
                    of.iter().copied().filter(|(j, _)| contacts[*j].locator == locator).collect();
                let pins = own.iter().filter(|(j, _)| !contacts[*j].one_sided);
                let reach = pins.map(|(_, weight)| weight * weight).sum::<f64>().sqrt() * known.play / 2.0;
                low -= reach;
                high += reach;
                for (_, weight) in own.iter().filter(|(j, _)| contacts[*j].one_sided) {
                    if *weight > 0.0 { high = f64::INFINITY } else { low = f64::NEG_INFINITY }
                }
            }
            Group { of, low, high }
        };
        let groups = locating(contacts).fighting.into_iter().map(group);
        // What gaps can always make up needs no look.
        Self(groups.filter(|group| group.low > f64::NEG_INFINITY || group.high < f64::INFINITY).collect())
    }

    /// Whether every part goes on.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether a part goes on whose contacts are off by these errors, play left out, m.
    pub(super) fn go_on(&self, errors: &[f64]) -> bool {
        /// What rounding leaves of nothing, m.
        const DUST: f64 = 1e-12;
        self.0.iter().all(|group| {
            let sum: f64 = group.of.iter().map(|(j, weight)| weight * errors[*j]).sum();
            (group.low - DUST..=group.high + DUST).contains(&-sum)
        })
    }
}
