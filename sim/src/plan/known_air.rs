//! Remembers how the arm gets through the air from one place to another, so that no way is looked for twice while nothing that stands
//! is moved; and looks for many at once.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use rayon::prelude::*;
use seamwright_kinematics::AxisValues;

use super::air_move::{AirMoves, Blocked, KnownWaysOut};
use super::detour::Air;
use super::setup::Setup;

/// Ways through the air that were looked for in one cell, each with the clearance queries that it took. What is asked of it is the
/// same whether it was known or not.
#[derive(Debug, Default)]
pub(super) struct KnownAir {
    known: Mutex<BTreeMap<(Ends, Option<u64>), Answer>>,
    /// Whether the straight way is clear, and the clearance queries that it took to find that.
    straight: Mutex<BTreeMap<Ends, (bool, u64)>>,
    ways_out: KnownWaysOut,
}

/// Station and how many of its openings have been, external axes, both ends; numbers by their bits.
type Ends = ([usize; 2], Vec<u64>, [[u64; 6]; 2]);
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
        let question = (ends_of(setup, from, to), seed);
        if let Some(known) = held(&self.known).get(&question) {
            return known.clone();
        }
        let mut air = self.asked_in(setup);
        let through = match seed {
            None if self.is_clear(&mut air, from, to) => Ok(vec![*from, *to]),
            None => air.round(from, to),
            Some(seed) => {
                let (simple, queries) = self.between(setup, (from, to), None);
                air.clearance_queries = queries;
                simple.or_else(|blocked| air.detour(from, to, seed).ok_or(blocked))
            }
        };
        let answer = (through, air.clearance_queries);
        held(&self.known).insert(question, answer.clone());
        answer
    }

    /// Where the straight way is blocked, the ways out from both ends: [`Self::between`] goes from one of the first over to one of the
    /// second, straight or by home, where it searches for no other.
    pub(super) fn ways_out(
        &self,
        setup: &Setup<'_>,
        (from, to): (&AxisValues, &AxisValues),
    ) -> Option<[Vec<Vec<AxisValues>>; 2]> {
        let mut air = self.asked_in(setup);
        (!self.is_clear(&mut air, from, to)).then(|| [air.ways_out(from), air.ways_out(to)])
    }

    fn asked_in<'a, 'c>(&'a self, setup: &'a Setup<'c>) -> AirMoves<'a, 'c> {
        let mut air = AirMoves::new(setup);
        air.known_ways_out = Some(&self.ways_out);
        air
    }

    fn is_clear(&self, air: &mut AirMoves<'_, '_>, from: &AxisValues, to: &AxisValues) -> bool {
        let ends = ends_of(air.setup, from, to);
        let known = held(&self.straight).get(&ends).copied();
        let (clear, queries) = known.unwrap_or_else(|| {
            let before = air.clearance_queries;
            let clear = air.is_clear(from, to);
            let found = (clear, air.clearance_queries - before);
            air.clearance_queries = before;
            held(&self.straight).insert(ends, found);
            found
        });
        // They count whoever asked first: so the count does not depend on threads.
        air.clearance_queries += queries;
        clear
    }

    /// Looks for the simple ways of many at once, each of which will likely be asked for.
    pub(super) fn look_ahead(&self, ways: &[AirWay<'_>]) {
        ways.par_iter().for_each(|way| {
            let _ = self.between(&way.setup, (&way.from, &way.to), None);
        });
    }
}

fn ends_of(setup: &Setup<'_>, from: &AxisValues, to: &AxisValues) -> Ends {
    let bits = |axes: &AxisValues| std::array::from_fn(|i| axes[i].to_bits());
    let external = setup.external.iter().map(|value| value.to_bits()).collect();
    ([setup.station.0, setup.openings], external, [bits(from), bits(to)])
}

fn held<T>(kept: &Mutex<T>) -> MutexGuard<'_, T> {
    kept.lock().unwrap_or_else(PoisonError::into_inner)
}
