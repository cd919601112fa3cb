//! Decides whether what holds at samples holds between them too: every clearance, range and speed, all through a move.
//!
//! An interval of a move is looked at in its middle. A pair of bodies is shown for the whole interval where it is farther apart
//! there than is asked by as much as both can have gone from there anywhere in it; an axis is shown to stay inside its range where
//! all that it can have turned lies inside. What is not shown is asked again in halves, down to `Steps::finest`; what that does not
//! show is not shown. Adaptive dynamic checking: Schwarzer, Saha, Latombe, "Adaptive dynamic collision checking for single and
//! multiple articulated robots in complex environments", IEEE Transactions on Robotics 21(3), 2005.
//!
//! - `axis_move`: straight in axis space: axes go from value to value, so each bounds what it carries
//! - `external_move`: external axes move, the arm stands
//! - `axis_move_in_turn`: both move, and nobody says which meets which
//! - `rounded_corner`: from one straight move in axis space over into the next
//! - `bend`: on a weld, from one rate of the axes over to another
//! - `together`: arm and external axes, each the same share of its way at the same time
//! - `torch_move`: the torch is led; its own motion bounds the torch, and `Arm::enclosure` the axes and so the links

mod axis_move;
mod axis_move_in_turn;
mod bend;
mod external_move;
mod rounded_corner;
#[cfg(test)]
mod tests;
mod together;
mod torch_move;

pub(super) use axis_move::axis_move;
pub(super) use axis_move_in_turn::axis_move_in_turn;
pub(super) use bend::bend;
pub(super) use external_move::external_move;
pub(super) use rounded_corner::{keeps_dependent_ranges, rounded_corner};
pub(super) use together::together;
pub(super) use torch_move::{TorchMove, torch_move};

use std::collections::VecDeque;

use seamwright_kinematics::Drive;

use super::clearance::{Looked, OpenPair, PairId};

/// Why a move is not shown to hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Doubt {
    /// This pair does not keep what is asked.
    TooNear(PairId),
    /// At the finest step it is not shown.
    Unshown(Unshown),
}

/// What the finest step does not show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Unshown {
    /// That this pair keeps what is asked.
    Clearance(PairId),
    /// How far this axis (0-based) turns: a singularity is too near.
    Travel(usize),
    /// That this drive stays inside its range.
    Range(Drive),
    /// That this hose limit is kept.
    Hose(&'static str),
    /// That this drive stays below its speed limit.
    Speed(Drive),
}

/// A move that is not shown to hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Refuted {
    pub doubt: Doubt,
    /// Where along the move.
    pub at: f64,
}

impl Refuted {
    /// The pair of bodies that is in doubt.
    pub fn pair(&self) -> Option<PairId> {
        match self.doubt {
            Doubt::TooNear(pair) | Doubt::Unshown(Unshown::Clearance(pair)) => Some(pair),
            Doubt::Unshown(_) => None,
        }
    }
}

/// In which order halves are looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Order {
    /// Coarse intervals before fine ones: what blocks in the middle of a move is found first.
    CoarseFirst,
    /// One half wholly before the other.
    AlongTheWay,
}

/// A part of a move with the pairs that are still to be shown in it.
struct Interval {
    from: f64,
    to: f64,
    open: Vec<OpenPair>,
}

/// Shows `open` all through a move from `from` to `to`; the looks it took.
///
/// `look` looks at the middle of an interval that reaches from its first to its last argument, and says too whether it is one that
/// is not halved again.
fn pairs_through(
    (from, to): (f64, f64),
    open: Vec<OpenPair>,
    order: Order,
    name: impl Fn(&OpenPair) -> PairId,
    mut look: impl FnMut(f64, f64, f64, &[OpenPair]) -> (Looked, bool),
) -> (Result<(), Refuted>, u64) {
    let mut looks = 0;
    let mut waiting = VecDeque::from([Interval { from, to, open }]);
    while let Some(Interval { from, to, open }) = waiting.pop_front() {
        let middle = f64::midpoint(from, to);
        looks += 1;
        let refuted = |doubt| (Err(Refuted { doubt, at: middle }), looks);
        let (open, finest) = match look(from, middle, to, &open) {
            (Looked::TooNear(pair), _) => return refuted(Doubt::TooNear(pair)),
            (Looked::Open(open), finest) => (open, finest),
        };
        let Some(first) = open.first() else { continue };
        if finest {
            return refuted(Doubt::Unshown(Unshown::Clearance(name(first))));
        }
        let halves = OpenPair::in_parts(&open);
        let count = halves.0;
        let part = |i: usize| from + (to - from) * i as f64 / count as f64;
        let parts = (0..count).map(|i| Interval { from: part(i), to: part(i + 1), open: halves.1.clone() });
        match order {
            Order::CoarseFirst => waiting.extend(parts),
            Order::AlongTheWay => parts.rev().for_each(|part| waiting.push_front(part)),
        }
    }
    (Ok(()), looks)
}
