//! Remembers how the arm gets through the air from one place to another, so that no way is looked for twice while nothing that stands
//! is moved; and looks for many at once.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;
use seamwright_kinematics::AxisValues;

use super::air_move::{AirMoves, Blocked, KnownWaysOut};
use super::setup::Setup;

/// Ways through the air that were looked for in one cell, each with the clearance queries that it took. What is asked of it is the
/// same whether it was known or not.
#[derive(Debug, Default)]
pub(super) struct KnownAir {
    known: Mutex<BTreeMap<Question, Answer>>,
    ways_out: KnownWaysOut,
}

/// Station and how many of its openings have been, external axes, both ends, and whether detours are searched for; numbers by their bits.
type Question = ([usize; 2], Vec<u64>, [[u64; 6]; 2], Option<u64>);
type Answer = (Result<Vec<AxisValues>, Blocked>, u64);

/// Where the arm goes, with the external axes as in a setup.
pub(super) struct AirWay<'c> {
    pub setup: Setup<'c>,
    pub from: AxisValues,
    pub to: AxisValues,
}

impl KnownAir {
    /// Places to go through, both ends included, or what blocks the straight way; and the clearance queries it takes to find that.
    ///
    /// `seed`: of detours, where they are searched for if nothing simple is clear.
    pub(super) fn between(
        &self,
        setup: &Setup<'_>,
        (from, to): (&AxisValues, &AxisValues),
        seed: Option<u64>,
    ) -> Answer {
        let bits = |axes: &AxisValues| std::array::from_fn(|i| axes[i].to_bits());
        let external = setup.external.iter().map(|value| value.to_bits()).collect();
        let question = ([setup.station.0, setup.openings], external, [bits(from), bits(to)], seed);
        if let Some(known) = self.known.lock().unwrap_or_else(PoisonError::into_inner).get(&question) {
            return known.clone();
        }
        let mut air = AirMoves::new(setup);
        air.known_ways_out = Some(&self.ways_out);
        let simple = air.between(from, to);
        let through = match (simple, seed) {
            (Err(blocked), Some(seed)) => air.detour(from, to, seed).ok_or(blocked),
            (simple, _) => simple,
        };
        let answer = (through, air.clearance_queries);
        self.known.lock().unwrap_or_else(PoisonError::into_inner).insert(question, answer.clone());
        answer
    }

    /// Looks for the simple ways of many at once, each of which will likely be asked for.
    pub(super) fn look_ahead(&self, ways: &[AirWay<'_>]) {
        ways.par_iter().for_each(|way| {
            let _ = self.between(&way.setup, (&way.from, &way.to), None);
        });
    }
}
