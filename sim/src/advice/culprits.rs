//! Decides which shapes must give way for a seam: the one that binds, then, with that one gone, what binds next.

use super::grid::may_give_way;
use crate::cell::{Cell, Seam, SeamId, ShapeId, Solid};
use crate::order;
use crate::plan::{Binding, BlockedBy, Constraint, Plan, Searched, may_hold};
use crate::units;

/// Shapes that are asked to give way together, at most.
const MOST: usize = 3;

/// Indices into [`Cell::drawn`], ascending, of shapes without which the seam may hold, or none: where it would not hold without
/// them, moving or trimming them frees nothing.
pub(super) fn culprits(cell: &Cell, searched: &Searched, seam: SeamId, bindings: &[Binding]) -> Vec<usize> {
    let mut without = cell.clone();
    let mut found: Vec<usize> = Vec::new();
    let mut binding = in_the_way(cell, &cell.seams[seam.0], bindings.iter());
    while let Some(drawn) = binding {
        if found.contains(&drawn) || found.len() == MOST {
            return Vec::new();
        }
        found.push(drawn);
        take_away(&mut without, drawn);
        if may_hold(&without, seam, &[]) {
            found.sort_unstable();
            return found;
        }
        let again = searched.again(&without, &[seam]);
        binding = in_the_way(&without, &without.seams[seam.0], again.bindings(seam));
    }
    Vec::new()
}

/// The same for a seam that holds, but to which no way leads: shapes without which one does, the one in the way first told first.
pub(super) fn on_the_way(cell: &Cell, searched: &Searched, plan: &Plan, seam: SeamId) -> Vec<usize> {
    let mut without = cell.clone();
    let mut found: Vec<usize> = Vec::new();
    let mut next = in_the_air(cell, plan, seam);
    while let Some(drawn) = next {
        if found.contains(&drawn) || found.len() == MOST {
            return Vec::new();
        }
        found.push(drawn);
        take_away(&mut without, drawn);
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
    to_it.chain(blocked()).find_map(|way| match &way.by {
        BlockedBy::Bodies(_, other, _)
        | BlockedBy::NotShown(_, other)
        | BlockedBy::Turning(_, other, ..)
        | BlockedBy::Taught(Constraint::Clearance(_, other), ..) => {
            drawn_of(cell, &cell.seams[seam.0], other).filter(|drawn| may_give_way(cell, *drawn))
        }
        BlockedBy::Range(..) | BlockedBy::Hose(..) | BlockedBy::Taught(..) => None,
    })
}

/// The shape that is told to be in the way first, where it may give way.
fn in_the_way<'b>(
    cell: &Cell,
    seam: &Seam,
    mut bindings: impl Iterator<Item = &'b Binding>,
) -> Option<usize> {
    bindings.find_map(|binding| match &binding.constraint {
        Constraint::Clearance(_, other) => {
            drawn_of(cell, seam, other).filter(|drawn| may_give_way(cell, *drawn))
        }
        _ => None,
    })
}

/// The table of the shape of this name that stands on the seam's station or around it.
fn drawn_of(cell: &Cell, seam: &Seam, name: &str) -> Option<usize> {
    let here = |shape: ShapeId| {
        let shape = &cell.shapes[shape.0];
        shape.name == name && (shape.station == Some(seam.station) || shape.station.is_none())
    };
    let anywhere = |shape: ShapeId| cell.shapes[shape.0].name == name;
    let drawn = |is: &dyn Fn(ShapeId) -> bool| {
        cell.drawn.iter().position(|drawn| drawn.pieces.iter().any(|piece| is(piece.shape)))
    };
    drawn(&here).or_else(|| drawn(&anywhere))
}

/// A speck far below the floor in its place, so that the numbers of all others stay.
fn take_away(cell: &mut Cell, drawn: usize) {
    let pieces = cell.drawn[drawn].pieces.clone();
    for piece in pieces {
        let shape = &mut cell.shapes[piece.shape.0];
        shape.solid = Solid::Sphere { radius: units::mm(0.001) };
        shape.frame_from_shape.translation.vector.z -= FAR_BELOW;
    }
}

/// Farther than anything in a cell is from anything, m.
const FAR_BELOW: f64 = 500.0;
