//! Decides where tables stand, and how they turn, in a cycle in which they turn while the arm is elsewhere.

use std::collections::{BTreeMap, BTreeSet};

use crate::motion::ExternalMove;

/// Every turn of every table in one cycle; none where tables turn only while the arm waits for them.
#[derive(Clone, Debug, Default)]
pub struct TableTurns {
    /// In any order.
    pub turns: Vec<TableTurn>,
    /// After which they come again, s.
    pub period: f64,
}

/// A table's turn from side to side.
#[derive(Clone, Debug)]
pub struct TableTurn {
    /// Index of its axis.
    pub axis: usize,
    /// s from the start of the cycle.
    pub start: f64,
    /// How it turns.
    pub course: ExternalMove,
}

/// How one table stands and turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turning {
    /// rad.
    pub value: f64,
    /// rad/s.
    pub rate: f64,
    /// rad/s².
    pub acceleration: f64,
}

impl TableTurns {
    /// How each table stands and turns at `time` (s; taken into the cycle), by the index of its axis.
    #[must_use]
    pub fn at(&self, time: f64) -> BTreeMap<usize, Turning> {
        let since = |turn: &&TableTurn| (time - turn.start).rem_euclid(self.period);
        let axes: BTreeSet<usize> = self.turns.iter().map(|turn| turn.axis).collect();
        let of_axis = |axis: usize| {
            let turns = self.turns.iter().filter(|turn| turn.axis == axis);
            let last = turns.min_by(|one, other| since(one).total_cmp(&since(other)))?;
            Some((axis, last.after(since(&last))))
        };
        axes.into_iter().filter_map(of_axis).collect()
    }
}

impl TableTurn {
    /// How the table stands and turns so long (s) after the turn began.
    fn after(&self, since: f64) -> Turning {
        let axis = self.axis;
        Turning {
            value: self.course.at(since)[axis],
            rate: self.course.rates_at(since)[axis],
            acceleration: self.course.accelerations_at(since)[axis],
        }
    }
}
