//! Decides which two changes are tried together for a seam that no single one frees.
//!
//! Pairs are many, so those come first of which each change is known to serve for its part: of several shapes in the way each moved or
//! trimmed by itself, as far as it must be with the others gone; then another change with which the seam may hold once everything that
//! may give way is gone, and what is in the way then moved. Last come all pairs in rising trouble, as many as are asked at most.

use rayon::prelude::*;

use super::change::Change;
use super::culprits;
use super::freeing::Asking;
use super::grid::{Try, givings};
use crate::cell::SeamId;
use crate::plan::{GivingWay, giving_way, may_give_way, may_hold, without};

/// Pairs that are asked for one seam at most, the least trouble first.
const MOST_ASKED: usize = 600;

/// Changes with which a seam may hold once nothing is in its way, whose obstacles are then looked for, at most.
const MOST_WITHOUT: usize = 3;

/// What is asked for pairs of one seam.
pub(super) struct Pairing<'p> {
    pub(super) seam: SeamId,
    /// Every single change that was tried.
    pub(super) singles: &'p [Try],
    /// Shapes without which the seam may hold, none where there are none such.
    pub(super) culprits: &'p [usize],
    pub(super) doubtful: &'p [f64],
}

impl Pairing<'_> {
    /// What makes the lists of pairs, in the order in which they are to be asked; each list in rising trouble.
    pub(super) const LISTS: [fn(&Self, &Asking<'_>) -> Vec<Try>; 3] =
        [Self::each_by_itself, Self::with_what_is_in_the_way_then, Self::any];

    /// Of the shapes in the way some by one change and the others by another, each of which serves while the others are gone.
    fn each_by_itself(&self, asking: &Asking<'_>) -> Vec<Try> {
        let cell = asking.cell;
        let serving = |group: &[usize], others: &[usize]| -> Vec<Try> {
            let without = without(cell, others);
            let serves = |one: &Try| {
                may_hold(&one.change.made(&without), self.seam, self.doubtful) && asking.stands(&one.change)
            };
            givings(cell, group).into_par_iter().filter(serves).collect()
        };
        let splits: &[u32] = match self.culprits.len() {
            2 => &[0b01],
            3 => &[0b001, 0b010, 0b100],
            _ => &[],
        };
        let mut all = Vec::new();
        for split in splits {
            let is_first = |(index, _): &(usize, &usize)| split >> index & 1 == 1;
            let (first, second): (Vec<_>, Vec<_>) = self.culprits.iter().enumerate().partition(is_first);
            let [first, second] =
                [first, second].map(|group| group.into_iter().map(|(_, drawn)| *drawn).collect::<Vec<_>>());
            all.extend(paired(&serving(&first, &second), &serving(&second, &first)));
        }
        in_rising_trouble(all)
    }

    /// A change with which the seam may hold once everything that may give way is gone, with what is in the way then moved.
    fn with_what_is_in_the_way_then(&self, asking: &Asking<'_>) -> Vec<Try> {
        let cell = asking.cell;
        let all: Vec<usize> = (0..cell.drawn.len()).filter(|drawn| may_give_way(cell, *drawn)).collect();
        if !self.culprits.is_empty() || all.is_empty() {
            return Vec::new();
        }
        let bare = without(cell, &all);
        let mut firsts: Vec<&Try> = self
            .singles
            .par_iter()
            .filter(|one| may_hold(&one.change.made(&bare), self.seam, self.doubtful))
            .filter(|one| asking.stands(&one.change))
            .collect();
        firsts.sort_by(|a, b| a.trouble.total_cmp(&b.trouble));
        let mut pairs = Vec::new();
        for first in firsts.into_iter().take(MOST_WITHOUT) {
            let changed = first.change.made(cell);
            let searched = asking.searched_again(&first.change, &changed, &[self.seam]);
            if let GivingWay::Without(shapes) = giving_way(&changed, &searched, self.seam)
                && shapes.len() <= culprits::MOST
            {
                pairs.extend(paired(std::slice::from_ref(first), &givings(cell, &shapes)));
            }
        }
        in_rising_trouble(pairs)
    }

    /// The pairs of least trouble of all that can be made of two single changes.
    fn any(&self, asking: &Asking<'_>) -> Vec<Try> {
        // What is taught goes one way, and takes long to be planned over and over.
        if asking.cell.seams[self.seam.0].taught.is_some() {
            return Vec::new();
        }
        let mut singles = self.singles.to_vec();
        singles.sort_by(|a, b| a.trouble.total_cmp(&b.trouble));
        let mut pairs: Vec<Try> = (0..singles.len())
            .flat_map(|index| paired(&singles[index..=index], &singles[index + 1..]))
            .collect();
        pairs = in_rising_trouble(pairs);
        pairs.truncate(MOST_ASKED);
        pairs
    }
}

/// Every change of one list with every one of another but those that set the same value.
fn paired(first: &[Try], second: &[Try]) -> Vec<Try> {
    let pairs = first.iter().flat_map(|one| second.iter().map(move |other| (one, other)));
    pairs
        .filter(|(one, other)| !one.change.is_of_the_same(&other.change))
        .map(|(one, other)| Try {
            change: Change::Two(Box::new([one.change.clone(), other.change.clone()])),
            trouble: one.trouble + other.trouble,
        })
        .collect()
}

/// A stable sort: of equals, the first comes first.
fn in_rising_trouble(mut pairs: Vec<Try>) -> Vec<Try> {
    pairs.sort_by(|a, b| a.trouble.total_cmp(&b.trouble));
    pairs
}
