//! Decides which changes to make together, so that as many seams as can be freed are welded at once.

use rayon::prelude::*;

use super::change::{Change, made};
use super::freeing::{After, SeamAdvice};
use super::grid::Try;
use crate::cell::{Cell, SeamId};
use crate::order;
use crate::plan::{ClampBlocked, Searched, may_hold};

/// Changes made together, planned again.
#[derive(Clone, Debug)]
pub struct Together {
    /// In the order in which they are made.
    pub changes: Vec<Change>,
    /// Seams of the cell that are welded with all of them.
    pub welded: Vec<SeamId>,
    /// Whether no air move is blocked then.
    pub ways_clear: bool,
    /// What clamps run into then as they open.
    pub blocked_clamps: Vec<ClampBlocked>,
}

/// Takes for each seam in turn the nearest offer that goes with those taken before; leaves out what is not needed in the end. `known`:
/// what came of changes that were planned each by itself.
pub(super) fn together(
    cell: &Cell,
    searched: &Searched,
    seams: &[SeamAdvice],
    known: &[(Try, After)],
) -> Option<Together> {
    let asking = Asking { cell, known };
    let mut changes: Vec<Change> = Vec::new();
    let mut freed: Vec<SeamId> = Vec::new();
    for advice in seams {
        if !asking.all_hold(&changes, &[advice.seam]) {
            let mut offers = advice.offers.iter().filter(|offer| offer.against.is_none());
            let with = offers.find_map(|offer| {
                let mut with: Vec<Change> =
                    changes.iter().filter(|change| !change.is_of_the_same(&offer.change)).cloned().collect();
                with.push(offer.change.clone());
                let touched = touched_by(cell, &offer.change, &freed);
                (asking.all_hold(&with, &[advice.seam]) && asking.all_hold(&with, &touched)).then_some(with)
            });
            let Some(with) = with else { continue };
            changes = with;
        }
        freed.push(advice.seam);
    }
    for index in (0..changes.len()).rev() {
        let mut fewer = changes.clone();
        let left_out = fewer.remove(index);
        if !fewer.is_empty() && asking.all_hold(&fewer, &touched_by(cell, &left_out, &freed)) {
            changes = fewer;
        }
    }
    let after = match changes.as_slice() {
        [] => return None,
        [only] => asking.after(only).cloned(),
        _ => None,
    };
    let after = after.unwrap_or_else(|| {
        let changed = made(cell, &changes);
        let touched: Vec<SeamId> = (0..cell.seams.len())
            .map(SeamId)
            .filter(|seam| changes.iter().any(|change| change.concerns(cell).contains(seam)))
            .collect();
        After::of(&order::plan(&changed, &searched.again(&changed, &touched)))
    });
    Some(Together {
        changes,
        welded: (0..cell.seams.len()).map(SeamId).filter(|seam| after.welded[seam.0]).collect(),
        ways_clear: after.blocked == 0,
        blocked_clamps: after.clamps,
    })
}

/// What is known while changes are put together.
struct Asking<'a> {
    cell: &'a Cell,
    known: &'a [(Try, After)],
}

impl Asking<'_> {
    fn after(&self, change: &Change) -> Option<&After> {
        self.known.iter().find(|(known, _)| known.change == *change).map(|(_, after)| after)
    }

    /// Whether all of some seams, none of which holds as things are, may hold with all of the changes made.
    fn all_hold(&self, changes: &[Change], seams: &[SeamId]) -> bool {
        let concerning = |seam: SeamId| {
            changes
                .iter()
                .filter(move |change| change.concerns(self.cell).contains(&seam))
                .collect::<Vec<_>>()
        };
        let mut open: Vec<SeamId> = Vec::new();
        for seam in seams {
            match concerning(*seam).as_slice() {
                // Nothing is changed for it.
                [] => return false,
                [only] => match self.after(only) {
                    Some(after) if !after.welded[seam.0] => return false,
                    Some(_) => {}
                    None => open.push(*seam),
                },
                _ => open.push(*seam),
            }
        }
        let changed = made(self.cell, changes);
        open.par_iter().all(|seam| may_hold(&changed, *seam, &[]))
    }
}

/// Those of some seams that a change touches.
fn touched_by(cell: &Cell, change: &Change, seams: &[SeamId]) -> Vec<SeamId> {
    let touched = change.concerns(cell);
    seams.iter().copied().filter(|seam| touched.contains(seam)).collect()
}

impl Change {
    /// Whether both change the same value, so that only one of them can be made.
    pub(super) fn is_of_the_same(&self, other: &Self) -> bool {
        self.singly().iter().any(|one| other.singly().iter().any(|other| one.sets_the_same(other)))
    }

    fn sets_the_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Aim { row, angle, .. }, Self::Aim { row: row2, angle: angle2, .. }) => {
                (row, angle) == (row2, angle2)
            }
            (
                Self::PassAim { procedure, pass, angle, .. },
                Self::PassAim { procedure: procedure2, pass: pass2, angle: angle2, .. },
            ) => (procedure, pass, angle) == (procedure2, pass2, angle2),
            (Self::Direction { row }, Self::Direction { row: row2 }) => row == row2,
            (Self::External { row, axis, .. }, Self::External { row: row2, axis: axis2, .. }) => {
                (row, axis) == (row2, axis2)
            }
            (Self::Shift { station, .. }, Self::Shift { station: station2, .. })
            | (Self::Turn { station, .. }, Self::Turn { station: station2, .. }) => station == station2,
            (Self::Torch { .. }, Self::Torch { .. }) | (Self::ArmHeight { .. }, Self::ArmHeight { .. }) => {
                true
            }
            _ => {
                let (one, other) = (self.drawn(), other.drawn());
                one.iter().any(|drawn| other.contains(drawn))
            }
        }
    }

    /// Shapes that one change moves or trims, by index into [`Cell::drawn`].
    fn drawn(&self) -> &[usize] {
        match self {
            Self::Move { drawn, .. } => drawn,
            Self::Trim { drawn, .. } => std::slice::from_ref(drawn),
            _ => &[],
        }
    }
}
