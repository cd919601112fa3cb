//! Decides which shapes must give way for a seam, so that moving or trimming them is tried.

use crate::cell::{Cell, SeamId};
use crate::order;
use crate::plan::{
    BlockedBy, Constraint, GivingWay, Plan, Searched, Verdict, drawn_of, giving_way, may_give_way, without,
};

/// Shapes that are asked to give way together, at most.
pub(super) const MOST: usize = 3;

/// Indices into [`Cell::drawn`], ascending, of shapes without which a seam may be welded, or none: where it would not be without them,
/// moving or trimming them frees nothing.
pub(super) fn culprits(cell: &Cell, searched: &Searched, plan: &Plan, seam: SeamId) -> Vec<usize> {
    let of = &plan.seams[seam.0];
    let must_go = match of.verdict {
        Verdict::Holds => on_the_way(cell, searched, plan, seam),
        Verdict::NotChecked => Vec::new(),
        // What is taught goes one way: it cannot hold where that is blocked.
        Verdict::CannotHold if cell.seams[seam.0].taught.is_none() => Vec::new(),
        Verdict::NotFound | Verdict::CannotHold => {
            let known = of.giving_way.clone();
            match known.unwrap_or_else(|| giving_way(cell, searched, seam)) {
                GivingWay::Without(shapes) => shapes,
                GivingWay::NotEvenWithoutAll(_) => Vec::new(),
            }
        }
    };
    if must_go.len() > MOST { Vec::new() } else { must_go }
}

/// Of a seam that holds, but to which no way leads: shapes without which one does, the one in the way first told first.
fn on_the_way(cell: &Cell, searched: &Searched, plan: &Plan, seam: SeamId) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    let mut next = in_the_air(cell, plan, seam);
    while let Some(drawn) = next {
        if found.contains(&drawn) || found.len() == MOST {
            return Vec::new();
        }
        found.push(drawn);
        let without = without(cell, &found);
        let again = order::plan(&without, &searched.again(&without, &[seam]));
        if again.is_welded(seam) {
            found.sort_unstable();
            return found;
        }
        next = in_the_air(&without, &again, seam);
    }
    Vec::new()
}

/// What blocks the way to a seam, or any other where none is told of, and may give way.
fn in_the_air(cell: &Cell, plan: &Plan, seam: SeamId) -> Option<usize> {
    let blocked = || plan.visits.iter().flat_map(|visit| &visit.blocked);
    let to_it = blocked().filter(|way| way.to == Some(seam));
    let bodies = to_it.chain(blocked()).flat_map(|way| match &way.by {
        BlockedBy::Bodies(_, other, _)
        | BlockedBy::NotShown(_, other)
        | BlockedBy::Taught(Constraint::Clearance(_, other), ..) => vec![other],
        // Either may be what stands there.
        BlockedBy::Turning(body, other, ..) => vec![other, body],
        BlockedBy::Range(..) | BlockedBy::Hose(..) | BlockedBy::Taught(..) => Vec::new(),
    });
    bodies
        .filter_map(|body| drawn_of(cell, &cell.seams[seam.0], body))
        .find(|drawn| may_give_way(cell, *drawn))
}
