//! Decides what is the nearest change that frees a seam: every kind of change by itself is tried in rising size, and what seems to
//! serve is planned again with everything that it touches.
//!
//! Whether a seam holds does not grow with the size of a change, so sizes are scanned and never bisected. A size between two steps
//! may free a seam where neither step does; such a size is not found.

use std::cmp::Ordering;

use rayon::prelude::*;

use super::change::{Change, Kind};
use super::culprits::culprits;
use super::fouling::fouls;
use super::grid::{Try, tries};
use super::pairs::Pairing;
use super::together::{Together, together};
use crate::cell::frames::AxisUse;
use crate::cell::{Cell, SeamId};
use crate::fitup::presses_still;
use crate::order;
use crate::plan::{ClampBlocked, Plan, Searched, Verdict, by_drawing, may_hold};

/// Seams that a change is looked for, at most: the first of the cell.
const MOST_SEAMS: usize = 24;

/// Changes of one kind that are planned again for one seam, until one of them breaks nothing.
const MOST_PLANNED: usize = 8;

/// Changes that are planned again for all seams of a cell.
const MOST_PLANNED_IN_ALL: usize = 60;

/// Once a change is found that breaks nothing, others are looked for that are so much more trouble at most.
const WORTH_TROUBLE: f64 = 3.0;

/// Kinds of changes that touch every seam of which one is planned again, the nearest first, until one of them breaks nothing.
const MOST_KINDS: usize = 3;

/// Changes that are asked at once, for each thread: what lies beyond the first that serves is asked in vain.
const AT_ONCE: usize = 4;

/// What would free the seams of a cell that do not hold.
#[derive(Clone, Debug)]
pub struct Advice {
    /// In the cell's order, one for each seam that is not welded as planned.
    pub seams: Vec<SeamAdvice>,
    /// Changes which together free as many of them as could be freed; none where no seam could.
    pub together: Option<Together>,
    /// Seams that nothing was looked for, and why.
    pub not_looked_at: Vec<(SeamId, NotLooked)>,
    /// Whether so many changes were planned that no more were.
    pub spent: bool,
    /// Changes of which it was asked whether the seam may hold.
    pub tried: u64,
    /// Changes that were planned again.
    pub planned: u64,
}

/// Why no change was looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NotLooked {
    /// Other seams came first.
    Many,
    /// Its external axes are searched for as well, which takes too long to be done over and over.
    ExternalAxes,
}

/// What would free one seam.
#[derive(Clone, Debug)]
pub struct SeamAdvice {
    /// The seam.
    pub seam: SeamId,
    /// One of a kind: first those that break no other seam; of these the least trouble first. Empty where no change on the grid
    /// frees it.
    pub offers: Vec<Offer>,
}

/// A change that was planned again and frees a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// What to do.
    pub change: Change,
    /// See `grid`.
    pub trouble: f64,
    /// Other seams that are welded with it and were not before.
    pub frees: Vec<SeamId>,
    /// Seams that were welded before and no longer are.
    pub breaks: Vec<SeamId>,
    /// Whether an air move home or to the next load no longer clears.
    pub blocks_ways: bool,
    /// What clamps run into as they open that they did not run into before.
    pub blocked_clamps: Vec<ClampBlocked>,
    /// The key of the seam that asks for something else and would have to go.
    pub against: Option<&'static str>,
}

impl Offer {
    /// Whether all that was in order before still is.
    #[must_use]
    pub fn breaks_nothing(&self) -> bool {
        self.breaks.is_empty()
            && !self.blocks_ways
            && self.blocked_clamps.is_empty()
            && self.against.is_none()
    }

    /// Which of two is told first.
    fn nearer(&self, other: &Self) -> Ordering {
        other.breaks_nothing().cmp(&self.breaks_nothing()).then(self.trouble.total_cmp(&other.trouble))
    }
}

/// Looks for the nearest changes that free each seam that is not welded as planned; none where all are.
#[must_use]
pub fn advise(cell: &Cell, searched: &Searched, plan: &Plan) -> Option<Advice> {
    let blocked = |seam: &SeamId| !plan.is_welded(*seam) && plan.seams[seam.0].verdict != Verdict::NotChecked;
    let blocked: Vec<SeamId> = (0..cell.seams.len()).map(SeamId).filter(blocked).collect();
    if blocked.is_empty() {
        return None;
    }
    let searched_axes =
        |seam: &SeamId| cell.seams[seam.0].axis_uses.iter().any(|what| *what != AxisUse::Held);
    let (with_axes, mut blocked): (Vec<SeamId>, Vec<SeamId>) = blocked.into_iter().partition(searched_axes);
    let many = blocked.split_off(blocked.len().min(MOST_SEAMS));
    let mut not_looked_at: Vec<(SeamId, NotLooked)> =
        with_axes.into_iter().map(|seam| (seam, NotLooked::ExternalAxes)).collect();
    not_looked_at.extend(many.into_iter().map(|seam| (seam, NotLooked::Many)));
    not_looked_at.sort_by_key(|(seam, _)| *seam);
    let mut asking = Asking { cell, searched, plan, blocked: &blocked, known: Vec::new(), tried: 0 };
    let mut seams: Vec<SeamAdvice> = blocked.iter().map(|seam| asking.seam(*seam)).collect();
    seams.iter_mut().for_each(|advice| asking.add_known(advice));
    let together = together(cell, searched, &seams, &asking.known);
    Some(Advice {
        tried: asking.tried,
        planned: asking.known.len() as u64,
        spent: asking.is_spent(),
        seams,
        together,
        not_looked_at,
    })
}

/// The offers for one seam as they are found.
struct Offers {
    all: Vec<Offer>,
    /// More than this is not worth trying.
    most_trouble: f64,
}

impl Offers {
    fn add(&mut self, offer: Option<Offer>) {
        if let Some(offer) = offer.as_ref().filter(|offer| offer.breaks_nothing()) {
            self.most_trouble = self.most_trouble.min(offer.trouble + WORTH_TROUBLE);
        }
        self.all.extend(offer);
    }

    /// Of changes in rising trouble, those that are worth trying.
    fn worth_trying<'t>(&self, tries: &'t [Try]) -> &'t [Try] {
        &tries[..tries.partition_point(|one| one.trouble <= self.most_trouble)]
    }
}

/// What is known while one cell is asked about.
pub(super) struct Asking<'a> {
    pub(super) cell: &'a Cell,
    searched: &'a Searched,
    plan: &'a Plan,
    blocked: &'a [SeamId],
    /// Changes that were planned again, and what came of them; the same change may be tried for many seams.
    known: Vec<(Try, After)>,
    tried: u64,
}

/// What came of a change that was planned.
#[derive(Clone)]
pub(super) struct After {
    /// Whether each seam is welded.
    pub welded: Vec<bool>,
    /// Air moves that are blocked.
    pub blocked: usize,
    /// Those of them that lead to no seam.
    other_blocks: usize,
    /// What clamps run into as they open.
    pub clamps: Vec<ClampBlocked>,
}

impl Asking<'_> {
    fn is_spent(&self) -> bool {
        self.known.len() >= MOST_PLANNED_IN_ALL
    }

    fn seam(&mut self, seam: SeamId) -> SeamAdvice {
        let of = &self.plan.seams[seam.0];
        let culprits = culprits(self.cell, self.searched, self.plan, seam);
        let doubtful: Vec<f64> = of.binding.iter().chain(&of.also).map(|binding| binding.at).collect();
        let tries = tries(self.cell, seam, &culprits);
        let singles: Vec<Try> = tries.iter().flatten().cloned().collect();
        // A change of the seam alone is soon planned; of the others only the nearest are.
        let (alone, wide): (Vec<_>, Vec<_>) = tries
            .into_iter()
            .partition(|of_kind| of_kind.first().is_none_or(|first| first.change.is_of_seams_alone()));
        let mut offers = Offers { all: Vec::new(), most_trouble: f64::INFINITY };
        for of_kind in &alone {
            let worth = offers.worth_trying(of_kind);
            let next = self.next_promising(worth, 0, seam, &doubtful);
            let offer = self.first_that_frees(worth, next, seam, &doubtful);
            offers.add(offer);
        }
        // Of all kinds together in rising trouble, so that nothing is tried beyond what is enough.
        let mut wide: Vec<Try> = wide.into_iter().flatten().collect();
        wide.sort_by(|a, b| a.trouble.total_cmp(&b.trouble));
        for _ in 0..MOST_KINDS {
            let worth = offers.worth_trying(&wide);
            let Some(next) = self.next_promising(worth, 0, seam, &doubtful) else { break };
            let kind = worth[next].change.kind();
            let (of_kind, others): (Vec<Try>, Vec<Try>) =
                worth[next..].iter().cloned().partition(|one| one.change.kind() == kind);
            let offer = self.first_that_frees(&of_kind, Some(0), seam, &doubtful);
            let enough = offer.as_ref().is_some_and(Offer::breaks_nothing);
            offers.add(offer);
            if enough {
                break;
            }
            wide = others;
        }
        let mut advice = SeamAdvice { seam, offers: offers.all };
        // Of a seam that holds itself, to ask whether a way leads to it takes too long to be asked over and over.
        if advice.offers.is_empty() && of.verdict != Verdict::Holds {
            let pairing = Pairing { seam, singles: &singles, culprits: &culprits, doubtful: &doubtful };
            advice.offers.extend(self.two_that_free(&pairing));
        }
        advice.sort();
        advice
    }

    /// The nearest two changes that free a seam together and break nothing, or else the nearest that free it at all.
    fn two_that_free(&mut self, pairing: &Pairing<'_>) -> Option<Offer> {
        let (seam, doubtful) = (pairing.seam, pairing.doubtful);
        let mut first: Option<Offer> = None;
        for list in Pairing::LISTS {
            let pairs = list(pairing, self);
            let next = self.next_promising(&pairs, 0, seam, doubtful);
            let offer = self.first_that_frees(&pairs, next, seam, doubtful);
            if offer.as_ref().is_some_and(Offer::breaks_nothing) {
                return offer;
            }
            first = first.or(offer);
        }
        first
    }

    /// Adds what was planned for other seams and frees this one as well, where its own tries found nothing of that kind, or nothing as near.
    fn add_known(&self, advice: &mut SeamAdvice) {
        let is_free = !advice.offers.is_empty();
        // Two changes of which one alone frees it tell nothing.
        let tells = |one: &Try| !is_free || one.change.singly().len() == 1;
        let freeing = self.known.iter().filter(|(one, after)| after.welded[advice.seam.0] && tells(one));
        for (one, after) in freeing {
            let offer = self.offer(one, advice.seam, after);
            let kind = offer.change.kind();
            match advice.offers.iter_mut().find(|other| other.change.kind() == kind) {
                Some(other) if offer.nearer(other).is_lt() => *other = offer,
                Some(_) => {}
                None => advice.offers.push(offer),
            }
        }
        advice.sort();
    }

    /// The first change that frees the seam and breaks nothing, or, where [`MOST_PLANNED`] were planned before one did, the first that
    /// frees it; `next`: the first of `tries` that is promising.
    fn first_that_frees(
        &mut self,
        tries: &[Try],
        mut next: Option<usize>,
        seam: SeamId,
        doubtful: &[f64],
    ) -> Option<Offer> {
        let mut first: Option<Offer> = None;
        for planned in 1..=MOST_PLANNED {
            if self.is_spent() {
                break;
            }
            let Some(index) = next else { break };
            let after = self.after(&tries[index], seam);
            if after.welded[seam.0] {
                let offer = self.offer(&tries[index], seam, &after);
                if offer.breaks_nothing() {
                    return Some(offer);
                }
                first.get_or_insert(offer);
            }
            if planned < MOST_PLANNED {
                next = self.next_promising(tries, index + 1, seam, doubtful);
            }
        }
        first
    }

    /// The next change, from an index on, with which the seam may hold and nothing runs into anything.
    fn next_promising(
        &mut self,
        tries: &[Try],
        from: usize,
        seam: SeamId,
        doubtful: &[f64],
    ) -> Option<usize> {
        let at_once = AT_ONCE * rayon::current_num_threads();
        let found = (from..tries.len()).step_by(at_once).find_map(|start| {
            let some = &tries[start..tries.len().min(start + at_once)];
            let found = some.par_iter().position_first(|one| self.is_promising(&one.change, seam, doubtful));
            found.map(|index| start + index)
        });
        self.tried += (found.map_or(tries.len(), |index| index + 1) - from) as u64;
        found
    }

    fn is_promising(&self, change: &Change, seam: SeamId, doubtful: &[f64]) -> bool {
        let (cell, plan) = (self.cell, self.plan);
        let changed = change.made(cell);
        if !may_hold(&changed, seam, doubtful) || !self.stands(change) {
            return false;
        }
        if plan.seams[seam.0].verdict != Verdict::Holds {
            return true;
        }
        // It holds by itself as it is, but nothing leads there.
        let of = &cell.seams;
        let before = (0..seam.0).rev().map(SeamId);
        let before = before
            .filter(|other| of[other.0].station == of[seam.0].station)
            .find(|other| plan.is_welded(*other));
        self.searched_again(change, &changed, &[seam]).is_reached(&changed, seam, before)
    }

    /// Whether nothing that a change moves runs into anything, and every clamp presses as before.
    pub(super) fn stands(&self, change: &Change) -> bool {
        let changed = change.made(self.cell);
        !fouls(self.cell, &changed, change) && presses_still(self.cell, &changed)
    }

    pub(super) fn searched_again(&self, change: &Change, changed: &Cell, seams: &[SeamId]) -> Searched {
        if change.is_of_seams_alone() {
            self.searched.again_as_all_stands(changed, seams)
        } else {
            self.searched.again(changed, seams)
        }
    }

    /// Plans the cell again with a change: the seam itself, all that were welded, and of the others those that may hold now.
    fn after(&mut self, one: &Try, seam: SeamId) -> After {
        let change = &one.change;
        if let Some((_, after)) = self.known.iter().find(|(known, _)| known.change == *change) {
            return after.clone();
        }
        let changed = change.made(self.cell);
        let again: Vec<SeamId> = change
            .concerns(self.cell)
            .into_par_iter()
            .filter(|other| {
                *other == seam || self.plan.is_welded(*other) || {
                    let of = &self.plan.seams[other.0];
                    let doubtful: Vec<f64> = of.binding.iter().chain(&of.also).map(|of| of.at).collect();
                    self.blocked.contains(other) && may_hold(&changed, *other, &doubtful)
                }
            })
            .collect();
        let plan = order::plan(&changed, &self.searched_again(change, &changed, &again));
        let after = After::of(&plan);
        self.known.push((one.clone(), after.clone()));
        after
    }

    fn offer(&self, one: &Try, seam: SeamId, after: &After) -> Offer {
        let before = After::of(self.plan);
        let changed = |was: bool| {
            let seams = (0..self.cell.seams.len()).filter(move |index| *index != seam.0);
            let seams = seams.filter(|index| before.welded[*index] == was && after.welded[*index] != was);
            seams.map(SeamId).collect::<Vec<SeamId>>()
        };
        Offer {
            change: one.change.clone(),
            trouble: one.trouble,
            frees: changed(false),
            breaks: changed(true),
            blocks_ways: after.other_blocks > before.other_blocks,
            blocked_clamps: after.clamps_not_blocked(&before),
            against: one
                .change
                .singly()
                .iter()
                .any(|change| matches!(change, Change::Direction { .. }))
                .then(|| self.cell.seams[seam.0].sequence.asks_one_way())
                .flatten(),
        }
    }
}

impl After {
    pub(super) fn of(plan: &Plan) -> Self {
        let blocked = || plan.visits.iter().flat_map(|visit| &visit.blocked);
        Self {
            welded: plan.seams.iter().map(|seam| plan.is_welded(seam.seam)).collect(),
            blocked: blocked().count(),
            other_blocks: blocked().filter(|way| way.to.is_none()).count(),
            clamps: plan.blocked_clamps.clone(),
        }
    }

    /// Those of its clamps that run into what they did not run into, or not as far, before.
    fn clamps_not_blocked(&self, before: &Self) -> Vec<ClampBlocked> {
        let was = |now: &ClampBlocked| {
            let same = |then: &ClampBlocked| {
                (then.station, &then.clamp, &then.body) == (now.station, &now.clamp, &now.body)
                    && now.overlap <= then.overlap + by_drawing()
            };
            before.clamps.iter().any(same)
        };
        self.clamps.iter().filter(|now| !was(now)).cloned().collect()
    }
}

impl SeamAdvice {
    /// What breaks nothing first, of that the least trouble.
    fn sort(&mut self) {
        self.offers.sort_by(Offer::nearer);
    }

    /// The offer of one kind.
    #[must_use]
    pub fn of_kind(&self, kind: Kind) -> Option<&Offer> {
        self.offers.iter().find(|offer| offer.change.kind() == kind)
    }
}
