//! Decides whether a part goes onto all of its locators at once.
//!
//! A part goes on where it can be moved so that no pad, stop or flank is passed (`n·x ≥ e`) and every pin stays within its play, a round
//! pin within a disc (`|n·x − e| ≤ play/2`, of a round pin both ways together). So the motions of the contacts, `A x` with a row of the
//! contact matrix for each, must meet a convex set. The nearest points of both are found by going to and fro between them (von Neumann's
//! alternating projections, from memory). They do not meet where a combination `μ` of contacts that no motion moves (`μ A = 0`) is above
//! nothing on all of the set: `Σ μ·e − Σ |μ| play/2 > 0` with no `μ` of a pad below 0, which proves it at once. Where all such combinations
//! are one and its multiples, that decides it without any search.

use nalgebra::{DMatrix, DVector};

use super::contact::{Contact, matrix};
use super::locating::locating;
use crate::cell::Body;

/// Times that are gone to and fro at most. By then the nearest points of both are as good as found: what is left between them by no more than
/// [`NEAR`] is nothing.
const TIMES: usize = 300;
/// See [`TIMES`], m.
const NEAR: f64 = 1e-6;
/// What passes a limit by no more keeps it, m.
const DUST: f64 = 1e-9;

/// What contacts ask of each other.
#[derive(Clone, Debug)]
pub(super) struct Groups {
    /// Contacts of one locator, with its play on either side (m); none of a pad, stop or flank.
    held: Vec<(Vec<usize>, Option<f64>)>,
    /// What of motions of the contacts a motion of the part can make.
    makes: DMatrix<f64>,
    /// Whether some parts may not go on.
    may_fail: bool,
    /// The combination that no motion moves, where there is only one.
    only: Option<DVector<f64>>,
}

impl Groups {
    pub(super) fn new(body: &Body, contacts: &[Contact]) -> Self {
        let mut held: Vec<(Vec<usize>, Option<f64>)> = Vec::new();
        for (index, contact) in contacts.iter().enumerate() {
            // What stands in for an idle turn is no locator: it has no play, and nothing contradicts it.
            let play = body.locators.get(contact.locator).map_or(0.0, |known| known.play / 2.0);
            let of_pin = |(known, play): &&mut (Vec<usize>, Option<f64>)| {
                play.is_some() && contacts[known[0]].locator == contact.locator
            };
            match held.iter_mut().find(of_pin).filter(|_| !contact.one_sided) {
                Some((known, _)) => known.push(index),
                None => held.push((vec![index], (!contact.one_sided).then_some(play))),
            }
        }
        let rows = matrix(contacts);
        let inverse = rows.clone().pseudo_inverse(1e-9);
        let makes =
            inverse.map_or_else(|_| DMatrix::identity(rows.nrows(), rows.nrows()), |back| &rows * back);
        // Gaps make up for whatever only pads and stops hold that do not all push against each other.
        let fighting = locating(contacts).fighting;
        let may_fail = fighting.iter().any(|group| {
            let pads = group.iter().filter(|(contact, _)| contacts[*contact].one_sided);
            let ways: Vec<f64> = pads.map(|(_, weight)| weight.signum()).collect();
            ways.len() < group.len() || ways.iter().all(|way| *way == ways[0])
        });
        let only = match fighting.as_slice() {
            [group] => {
                let mut weights = DVector::zeros(contacts.len());
                group.iter().for_each(|(contact, weight)| weights[*contact] = *weight);
                Some(weights)
            }
            _ => None,
        };
        Self { held, makes, may_fail, only }
    }

    /// Whether every part goes on.
    pub(super) fn is_empty(&self) -> bool {
        !self.may_fail
    }

    /// Whether a part goes on whose contacts are off by these errors, play left out, m.
    pub(super) fn go_on(&self, errors: &[f64]) -> bool {
        let errors = DVector::from_column_slice(errors);
        let bars = |weights: &DVector<f64>| self.least(weights, &errors) > DUST * weights.norm();
        if let Some(only) = &self.only {
            return !bars(only) && !bars(&-only);
        }
        let mut moved = &self.makes * &errors;
        let mut left = f64::INFINITY;
        for _ in 0..TIMES {
            let allowed = self.nearest_allowed(&moved, &errors);
            left = (&allowed - &moved).amax();
            if left <= DUST {
                return true;
            }
            moved = &self.makes * &allowed;
            if bars(&(allowed - &moved)) {
                return false;
            }
        }
        left <= NEAR
    }

    /// The nearest motions of the contacts that pass no pad and leave no pin's play.
    fn nearest_allowed(&self, moved: &DVector<f64>, errors: &DVector<f64>) -> DVector<f64> {
        let mut allowed = moved.clone();
        for (contacts, play) in &self.held {
            let Some(play) = play else {
                let pad = contacts[0];
                allowed[pad] = allowed[pad].max(errors[pad]);
                continue;
            };
            let off = contacts.iter().map(|i| (moved[*i] - errors[*i]).powi(2)).sum::<f64>().sqrt();
            if off > *play {
                for i in contacts {
                    allowed[*i] = errors[*i] + (moved[*i] - errors[*i]) * play / off;
                }
            }
        }
        allowed
    }

    /// The least that a combination of contacts is on all motions that are allowed; below all numbers where a pad lets it be.
    fn least(&self, weights: &DVector<f64>, errors: &DVector<f64>) -> f64 {
        let of = |(contacts, play): &(Vec<usize>, Option<f64>)| {
            let own = || contacts.iter().map(|i| weights[*i]);
            match play {
                // What rounding leaves of nothing opens no gap.
                None if own().any(|weight| weight < -1e-9 * weights.norm()) => f64::NEG_INFINITY,
                None => contacts.iter().map(|i| weights[*i].max(0.0) * errors[*i]).sum(),
                Some(play) => {
                    let there = contacts.iter().map(|i| weights[*i] * errors[*i]).sum::<f64>();
                    there - play * own().map(|weight| weight * weight).sum::<f64>().sqrt()
                }
            }
        };
        self.held.iter().map(of).sum()
    }
}
