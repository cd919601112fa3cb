//! Decides which shapes must give way for a seam over which no way is found.
//!
//! The limit that binds along the least bad way may be another than what is to blame: that way dodges a clamp and comes to the end of
//! the arm's reach. So what may give way is taken away, and put back as far as a way is found all the same; what cannot be put back
//! is in the way.

use rayon::prelude::*;

use super::{Binding, Constraint, Plan, Searched, Verdict, may_hold};
use crate::cell::{Cell, Role, Seam, SeamId, ShapeId, Solid};
use crate::units;

/// What comes of taking shapes away.
#[derive(Clone, Debug, PartialEq)]
pub enum GivingWay {
    /// A way is found with these away and all others in their places; with any one of these put back none was. Indices into
    /// [`Cell::drawn`], ascending.
    Without(Vec<usize>),
    /// No way is found even with everything away that belongs neither to the weldment nor to the arm. What binds then, where with all
    /// in its place a shape that may give way does.
    NotEvenWithoutAll(Option<Binding>),
}

impl Plan {
    /// The same with what must give way for every seam over which no way is found.
    #[must_use]
    pub fn with_giving_way(mut self, cell: &Cell, searched: &Searched) -> Self {
        let not_found = self.seams.par_iter_mut().filter(|seam| seam.verdict == Verdict::NotFound);
        not_found.for_each(|seam| seam.giving_way = Some(giving_way(cell, searched, seam.seam)));
        self
    }
}

/// What must give way for a seam over which `searched` found no way.
pub(crate) fn giving_way(cell: &Cell, searched: &Searched, seam: SeamId) -> GivingWay {
    let of = &cell.seams[seam.0];
    let mut named: Vec<usize> = Vec::new();
    for binding in searched.bindings(seam) {
        named.extend(in_the_way(cell, of, &binding.constraint).filter(|drawn| !named.contains(drawn)));
    }
    let others = (0..cell.drawn.len()).filter(|drawn| may_give_way(cell, *drawn) && !named.contains(drawn));
    let all: Vec<usize> = named.iter().copied().chain(others).collect();
    let asking = Asking { cell, seam, doubtful: searched.bindings(seam).map(|binding| binding.at).collect() };
    for taken in [&named, &all] {
        if !taken.is_empty() && asking.holds_without(taken) {
            return GivingWay::Without(asking.fewest(taken));
        }
    }
    let blamed =
        searched.bindings(seam).next().is_some_and(|first| in_the_way(cell, of, &first.constraint).is_some());
    let binds = blamed.then(|| searched.again(&without(cell, &all), &[seam]).bindings(seam).next().cloned());
    GivingWay::NotEvenWithoutAll(binds.flatten())
}

struct Asking<'c> {
    cell: &'c Cell,
    seam: SeamId,
    doubtful: Vec<f64>,
}

impl Asking<'_> {
    fn holds_without(&self, taken: &[usize]) -> bool {
        may_hold(&without(self.cell, taken), self.seam, &self.doubtful)
    }

    /// Of shapes without which the seam may hold, in falling blame, as few as do: the others are put back, the least to blame first.
    fn fewest(&self, taken: &[usize]) -> Vec<usize> {
        let mut away = taken.to_vec();
        // What is still to be put back, the least to blame last; all of it together cannot be.
        let mut groups: Vec<&[usize]> = halves(taken).collect();
        while let Some(group) = groups.pop() {
            let rest: Vec<usize> = away.iter().copied().filter(|drawn| !group.contains(drawn)).collect();
            if self.holds_without(&rest) {
                away = rest;
            } else {
                groups.extend(halves(group));
            }
        }
        away.sort_unstable();
        away
    }
}

/// The two halves of what is more than one.
fn halves(group: &[usize]) -> impl Iterator<Item = &[usize]> {
    let (first, second) = group.split_at(group.len() / 2);
    [first, second].into_iter().filter(|half| !half.is_empty() && half.len() < group.len())
}

/// Whether a shape may be asked to give way: it belongs neither to the weldment nor to the arm.
pub(crate) fn may_give_way(cell: &Cell, drawn: usize) -> bool {
    let pieces = &cell.drawn[drawn].pieces;
    pieces.iter().all(|piece| cell.shapes[piece.shape.0].role != Role::Part)
}

/// The table of the shape that a limit tells to be in the way, where it may give way.
fn in_the_way(cell: &Cell, seam: &Seam, constraint: &Constraint) -> Option<usize> {
    match constraint {
        Constraint::Clearance(_, other) => {
            drawn_of(cell, seam, other).filter(|drawn| may_give_way(cell, *drawn))
        }
        _ => None,
    }
}

/// The table of the shape that is told of by this name at the seam's station.
pub(crate) fn drawn_of(cell: &Cell, seam: &Seam, name: &str) -> Option<usize> {
    let is_meant = |shape: ShapeId| cell.shape_name(shape, seam.station) == name;
    cell.drawn.iter().position(|drawn| drawn.pieces.iter().any(|piece| is_meant(piece.shape)))
}

/// The cell without some shapes: each is a speck far below the floor in its place, so that the numbers of all others stay.
pub(crate) fn without(cell: &Cell, taken: &[usize]) -> Cell {
    let mut without = cell.clone();
    for piece in taken.iter().flat_map(|drawn| &cell.drawn[*drawn].pieces) {
        let shape = &mut without.shapes[piece.shape.0];
        shape.solid = Solid::Sphere { radius: units::mm(0.001) };
        shape.frame_from_shape.translation.vector.z -= FAR_BELOW;
    }
    without
}

/// Farther than anything in a cell is from anything, m.
const FAR_BELOW: f64 = 500.0;
