//! Decides how far a point of the torch moves while the torch's angles stay within what is allowed: what bounds rest on.
//!
//! What holds at the middle of all torch angles that are allowed holds of all of them, but for the arcs on which these move the point.
//! Where that is too much the angles are halved, and each half is asked by itself.

use super::Search;
use crate::cell::{Band, Bands};
use crate::plan::TorchAngles;

/// Torch angles from `middle` − `half` to `middle` + `half`.
#[derive(Clone, Copy)]
pub(super) struct Part {
    pub(super) middle: TorchAngles,
    pub(super) half: TorchAngles,
}

impl Search<'_, '_> {
    /// All torch angles that are allowed at layer `k`.
    pub(super) fn allowed_at(&self, k: usize) -> Part {
        self.allowed_by(&self.bands_at(k))
    }

    /// All torch angles that these bands and the turn of the procedure allow.
    pub(super) fn allowed_by(&self, bands: &Bands) -> Part {
        let all_round = Band::even(0.0, std::f64::consts::PI);
        let turn = self.tracer.seam.procedure.turn.unwrap_or(all_round);
        let each = |of: fn(&Band) -> f64| TorchAngles {
            work: of(&bands.work),
            travel: of(&bands.travel),
            turn: of(&turn),
            ctwd: of(&bands.ctwd),
        };
        Part {
            middle: each(|band| band.aim + 0.5 * (band.above - band.below)),
            half: each(|band| 0.5 * (band.above + band.below)),
        }
    }
}

impl Part {
    /// How far at most work angle, travel angle, turn and CTWD each move a point of the torch from where it is at their middle, that
    /// is never farther off the wire and along it from the wire end than so, m.
    pub(super) fn ways(&self, off_wire: f64, along_wire: f64) -> [f64; 4] {
        let half = &self.half;
        let lever = off_wire.hypot(along_wire);
        [half.work * lever, half.travel * lever, half.turn * off_wire, half.ctwd]
    }

    /// Both halves of what moves the point most.
    pub(super) fn halves(&self, ways: &[f64; 4]) -> [Self; 2] {
        let of: fn(&mut TorchAngles) -> &mut f64 = match ways {
            [work, travel, turn, ctwd] if work >= travel && work >= turn && work >= ctwd => |a| &mut a.work,
            [_, travel, turn, ctwd] if travel >= turn && travel >= ctwd => |a| &mut a.travel,
            [_, _, turn, ctwd] if turn >= ctwd => |a| &mut a.turn,
            _ => |a| &mut a.ctwd,
        };
        [-1.0, 1.0].map(|side| {
            let mut part = *self;
            *of(&mut part.half) *= 0.5;
            *of(&mut part.middle) += side * *of(&mut part.half);
            part
        })
    }
}
