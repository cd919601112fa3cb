//! Decides how fine the search and its proofs look: every step of a plan stands here.
//!
//! A cell may ask for finer ones (`[planning] finer`). What a step decides is what is found and what is named, never what counts as
//! holding: the proof between samples asks everything of every place.

use crate::cell::Cell;
use crate::plan::TorchAngles;
use crate::units;

/// The steps of one cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Steps {
    finer: u32,
}

impl Steps {
    pub fn of(cell: &Cell) -> Self {
        Self { finer: cell.finer }
    }

    fn finer(self, step: f64) -> f64 {
        step / f64::from(self.finer)
    }

    /// Of the turn about the wire, rad.
    pub fn turn(self) -> f64 {
        self.finer(units::deg(10.0))
    }

    /// Levels of each of work angle, travel angle and CTWD from its aim to either end of its tolerance, the aim not counted.
    pub fn levels_a_side(self) -> u32 {
        self.finer
    }

    /// A tolerance wider than this has more levels, no further apart, so that more freedom never hides what less allows.
    pub fn level(self) -> TorchAngles {
        let angle = self.finer(units::deg(10.0));
        TorchAngles { work: angle, travel: angle, turn: 0.0, ctwd: self.finer(units::mm(5.0)) }
    }

    /// Greatest distance between two layers, m.
    pub fn layer(self) -> f64 {
        self.finer(units::mm(10.0))
    }

    /// Greatest turn of the seam frame between two layers, rad: what one step of the turn about the wire can take up.
    pub fn layer_turn(self) -> f64 {
        self.turn()
    }

    /// Greatest distance of the wire end between two samples of a finished plan, m.
    pub fn check(self) -> f64 {
        self.finer(units::mm(2.0))
    }

    /// Greatest turn of the seam frame between two of them, rad.
    pub fn check_turn(self) -> f64 {
        self.finer(units::deg(3.0))
    }

    /// Greatest way of any point of the arm or torch between two samples of an air move that is blocked, m.
    pub fn air(self) -> f64 {
        self.finer(units::mm(8.0))
    }

    /// An interval in which nothing goes farther than this from its middle, m, is not halved again by a proof.
    pub fn finest(self) -> f64 {
        self.finer(units::mm(0.05))
    }

    /// Nor one in which the torch turns farther, rad: where it goes round a tight corner it must turn less.
    pub fn finest_turn(self) -> f64 {
        self.finer(units::deg(0.3))
    }

    /// Greatest distance between two places at which a rule of the procedure is asked, m.
    pub fn rule(self) -> f64 {
        self.finer(units::mm(10.0))
    }

    /// Greatest turn of the seam between them, rad.
    pub fn rule_turn(self) -> f64 {
        self.finer(units::deg(2.0))
    }

    /// Turns about the wire tried at a device that allows any.
    pub fn device_turns(self) -> u32 {
        24 * self.finer
    }

    /// How many times as much a search takes in which this many of its steps are taken together.
    pub fn more(self, together: u32) -> u64 {
        u64::from(self.finer.pow(together))
    }
}
