//! Decides how the arm gets from one seam to another in any order: asked one by one, before the whole way over a station is put together.
//!
//! What is found here is what a visit along a tour does. Nothing is planned twice.

use std::collections::HashMap;
use std::sync::Mutex;

use seamwright_kinematics::AxisValues;

use super::Move;
use super::air_move::{Blocked, bits};
use super::known_air::KnownAir;
use super::searched::Setups;
use super::visit::{SAME_PLACE, Stop, Walk};
use crate::cell::{Cell, SeamId, StationId};

/// What leads from seam to seam.
pub(crate) struct Passages<'c> {
    cell: &'c Cell,
    /// One a station.
    setups: Setups<'c>,
    seed: u64,
    air: KnownAir,
    /// Where a way may be searched for, and where only simple ones count.
    known: [Mutex<HashMap<Vec<u64>, Option<Passage>>>; 2],
}

/// Moves from one place to another.
#[derive(Clone)]
pub(crate) struct Passage {
    pub moves: Vec<Move>,
    /// Clearance queries that it took.
    pub queries: u64,
}

impl<'c> Passages<'c> {
    pub(super) fn new(cell: &'c Cell, setups: Setups<'c>, seed: u64) -> Self {
        Self { cell, setups, seed, air: KnownAir::default(), known: Default::default() }
    }

    /// The moves through the air from `from` to `to`, where the way over `seam` begins; `None` where none is clear.
    pub(crate) fn to(&self, seam: SeamId, from: &Stop, to: &Stop) -> Option<Passage> {
        self.simply_to(seam, from, to).or_else(|| self.known_or_found(true, seam, from, Some(to)))
    }

    /// The same where only simple ways count: straight, by ways out, by home.
    pub(crate) fn simply_to(&self, seam: SeamId, from: &Stop, to: &Stop) -> Option<Passage> {
        self.known_or_found(false, seam, from, Some(to))
    }

    /// The moves home from `from`, where the way over `seam` ends; `None` where none is clear.
    pub(crate) fn home(&self, seam: SeamId, from: &Stop) -> Option<Passage> {
        self.simply_home(seam, from).or_else(|| self.known_or_found(true, seam, from, None))
    }

    /// The same where only simple ways count.
    pub(crate) fn simply_home(&self, seam: SeamId, from: &Stop) -> Option<Passage> {
        self.known_or_found(false, seam, from, None)
    }

    /// Where something blocks the straight way, the ways out from both ends (`to`: none for home), each with the end itself first: a simple
    /// way goes from one of the first over to one of the second, straight or by home, but not straight from end to end.
    pub(crate) fn ways_out(
        &self,
        seam: SeamId,
        from: &Stop,
        to: Option<&Stop>,
    ) -> Option<[Vec<Vec<AxisValues>>; 2]> {
        let home = &self.cell.arm.home;
        let goal = to.map_or(home, |to| &to.axes);
        let taught = self.cell.seams[seam.0].taught.as_ref();
        let is_taught = to.is_some() && taught.is_some_and(|taught| taught.taught_air().is_some());
        let is_turned = to.is_some_and(|to| to.external != from.external);
        if is_taught || is_turned || (goal - from.axes).amax() < SAME_PLACE {
            return None;
        }
        let setup = self.setups.of_seam(self.cell, seam).at(&from.external);
        self.air.ways_out(&setup, (&from.axes, goal))
    }

    /// All moves over a seam by the groups of one of its ways, with those through the air between them; `None` where one is not clear.
    pub(crate) fn over(&self, seam: SeamId, legs: &[Vec<Move>]) -> Option<Passage> {
        let mut over = Passage { moves: Vec::new(), queries: 0 };
        let mut here: Option<Stop> = None;
        for leg in legs {
            let (Some(first), Some(last)) = (leg.first(), leg.last()) else { continue };
            if let Some(here) = &here {
                let goal = Stop { axes: first.points[0].axes, external: first.external_start() };
                let mut between = self.to(seam, here, &goal)?;
                over.moves.append(&mut between.moves);
                over.queries += between.queries;
            }
            over.moves.extend(leg.iter().cloned());
            here = Some(Stop { axes: last.points.last()?.axes, external: last.external_end() });
        }
        Some(over)
    }

    /// Where the arm waits before and after a visit.
    pub(crate) fn waiting(&self, station: StationId) -> Stop {
        Stop { axes: self.cell.arm.home, external: self.cell.stations[station.0].external.clone() }
    }

    /// `to`: none for home.
    fn known_or_found(
        &self,
        searching: bool,
        seam: SeamId,
        from: &Stop,
        to: Option<&Stop>,
    ) -> Option<Passage> {
        let places = [Some(from), to].into_iter().flatten();
        let mut key = bits(places.flat_map(|stop| stop.axes.iter().chain(&stop.external)));
        key.push(seam.0 as u64);
        let known = &self.known[usize::from(searching)];
        if let Some(found) = known.lock().ok().and_then(|known| known.get(&key).cloned()) {
            return found;
        }
        let found = self.found(searching, seam, from, to).ok();
        if let Ok(mut known) = known.lock() {
            known.insert(key, found.clone());
        }
        found
    }

    fn found(
        &self,
        searching: bool,
        seam: SeamId,
        from: &Stop,
        to: Option<&Stop>,
    ) -> Result<Passage, Blocked> {
        let setup = self.setups.of_seam(self.cell, seam);
        let station = self.cell.seams[seam.0].station;
        let mut walk = Walk::from_home(self.cell, station, self.seed, &self.air);
        walk.searching = searching;
        let moves = match to {
            Some(to) => walk.way_to(&setup, seam, from, to)?,
            None => walk.air(&setup.at(&from.external), None, &from.axes, &self.cell.arm.home)?,
        };
        Ok(Passage { moves, queries: walk.queries })
    }
}
