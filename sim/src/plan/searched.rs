//! Decides which seams are searched anew, so that a cell that was changed a little is asked again without searching all of it.
//!
//! Seams are searched one by one, each by itself; only what leads from one to the next binds them together. So of a changed cell
//! only those seams need be searched that the change is about; the ways between are always planned afresh.

use std::sync::Arc;

use rayon::prelude::*;
use seamwright_kinematics::Configuration;

use super::known_air::KnownAir;
use super::passage::Passages;
use super::seam_search::{self, Found};
use super::setup::Setup;
use super::visit::{self, Candidate};
use super::{Binding, Move, Options, Plan, Tours, Visit, assembled};
use crate::cell::{Cell, Seam, SeamId, SeamPath, StationId};

/// What was found for every seam by itself, before the arm's way over each station is put together.
#[derive(Clone, Debug)]
pub struct Searched {
    /// One a seam of the cell; none for a seam without a path.
    found: Vec<Option<Found>>,
    only: Option<Configuration>,
    seed: u64,
    /// Ways through the air of the cell that it was planned in.
    known: Arc<KnownAir>,
    /// Whether ways by every branch of the arm are kept of every seam; else only on stations whose file says an order.
    branches: bool,
}

impl Searched {
    /// Searches every seam of the cell.
    #[must_use]
    pub fn new(cell: &Cell, options: &Options<'_>) -> Self {
        let Options { only, seed, branches, .. } = *options;
        let nothing =
            Self { found: vec![None; cell.seams.len()], only, seed, branches, known: Arc::default() };
        let all: Vec<SeamId> = (0..cell.seams.len()).map(SeamId).collect();
        nothing.search(cell, &all, &|seam| seam.path.as_ref(), options.progress)
    }

    /// The same with seams searched the other way round, those that may be turned; of all others nothing.
    #[must_use]
    pub(crate) fn turned(&self, cell: &Cell, progress: &(dyn Fn(usize, usize) + Sync)) -> Self {
        let nothing = Self { found: vec![None; cell.seams.len()], ..self.clone() };
        let all: Vec<SeamId> =
            (0..cell.seams.len()).filter(|index| cell.seams[*index].may_turn()).map(SeamId).collect();
        nothing.search(cell, &all, &|seam| seam.other_way.as_ref(), progress)
    }

    /// The same with what `turned` knows of `seams`, for a cell in which they are turned.
    #[must_use]
    pub(crate) fn with_turned(&self, turned: &Self, seams: &[SeamId]) -> Self {
        let mut found = self.found.clone();
        for seam in seams {
            found[seam.0].clone_from(&turned.found[seam.0]);
        }
        Self { found, ..self.clone() }
    }

    /// The moves of every way that is kept over a seam, in groups, between which the arm goes through the air; the usual ones first.
    pub(crate) fn ways(&self, seam: SeamId) -> impl Iterator<Item = &Vec<Vec<Move>>> {
        self.found[seam.0].iter().flat_map(|found| &found.ways).map(|way| &way.legs)
    }

    /// What leads from seam to seam in the cell that was searched.
    pub(crate) fn passages<'c>(&self, cell: &'c Cell) -> Passages<'c> {
        Passages::new(cell, setups(cell, self.only), self.seed)
    }

    /// The arm's whole way over each station, along a tour where there is one.
    pub(crate) fn plan_along(&self, cell: &Cell, tours: &Tours<'_>) -> Plan {
        assembled(cell, &self.found, &setups(cell, self.only), self.seed, &self.known, Some(tours))
    }

    /// The same with `seams` searched again in `cell`, which must have the same seams and stations; of all others what is known
    /// stands.
    #[must_use]
    pub fn again(&self, cell: &Cell, seams: &[SeamId]) -> Self {
        self.search(cell, seams, &|seam| seam.path.as_ref(), &|_, _| ())
    }

    /// As [`Self::again`] for a cell in which everything stands where it stood, and only seams are asked something else: what is known
    /// of ways through the air counts there too.
    #[must_use]
    pub fn again_as_all_stands(&self, cell: &Cell, seams: &[SeamId]) -> Self {
        Self { known: Arc::clone(&self.known), ..self.again(cell, seams) }
    }

    /// Whether a clear way through the air leads to one of the ways that were found over a seam, from home or from the seam that is
    /// welded `before` it.
    #[must_use]
    pub fn is_reached(&self, cell: &Cell, seam: SeamId, before: Option<SeamId>) -> bool {
        let station = cell.seams[seam.0].station;
        let candidate = |seam: SeamId| {
            let found = self.found[seam.0].as_ref().filter(|found| !found.ways.is_empty())?;
            Some(Candidate {
                seam,
                setup: Setup::of_seam(cell, seam, self.only),
                ways: &found.ways[..found.usual],
            })
        };
        let candidates: Vec<Candidate<'_, '_>> =
            before.into_iter().chain([seam]).filter_map(candidate).collect();
        let (visit, ..) = visit::visit(cell, station, &candidates, self.seed, &self.known);
        visit.moves.iter().any(|planned| planned.seam == Some(seam))
    }

    /// The arm's whole way over each station; `cell`: the one that it was searched in.
    #[must_use]
    pub fn plan(&self, cell: &Cell) -> Plan {
        assembled(cell, &self.found, &setups(cell, self.only), self.seed, &self.known, None)
    }

    /// Everything that stops one seam, what binds it first; nothing where it holds.
    pub fn bindings(&self, seam: SeamId) -> impl Iterator<Item = &Binding> {
        self.found[seam.0].iter().flat_map(|found| found.binding.iter().chain(&found.also))
    }

    /// Whether one of the ways that were found over a seam still keeps every limit in a changed cell: the torch angles along the seam
    /// and the way the arm stands are kept, only the axes follow. External axes do what they did.
    #[must_use]
    pub fn keeps(&self, cell: &Cell, seam: SeamId, way: usize) -> bool {
        let of = &cell.seams[seam.0];
        let way = self.found[seam.0].as_ref().and_then(|found| found.ways.get(way));
        let (Some(path), Some(way)) = (of.path.as_ref(), way) else { return false };
        let setup = Setup::of_seam(cell, seam, self.only);
        seam_search::keeps(&setup, seam, path, way)
    }

    fn search(
        &self,
        cell: &Cell,
        seams: &[SeamId],
        path: &(dyn Fn(&Seam) -> Option<&SeamPath> + Sync),
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Self {
        let setups = setups(cell, self.only);
        let done = std::sync::atomic::AtomicUsize::new(0);
        let anew: Vec<Option<Found>> = seams
            .into_par_iter()
            .map(|seam| {
                let of = &cell.seams[seam.0];
                let branches = self.branches || cell.stations[of.station.0].weld_order.is_some();
                let found = seam_search::search(&setups.of_seam(cell, *seam), *seam, path(of)?, branches);
                let done = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
                progress(done, seams.len());
                Some(found)
            })
            .collect();
        let mut found = self.found.clone();
        for (seam, anew) in seams.iter().zip(anew) {
            found[seam.0] = anew;
        }
        Self { found, only: self.only, seed: self.seed, branches: self.branches, known: Arc::default() }
    }
}

/// Whether a way over one seam is found, straight in and out included. What stops it is not looked for, nor the finer turns tried that
/// a search tries where little is missing, nor the way there through the air.
///
/// `doubtful`: arc lengths (m) at which it may fail, looked at first: where none of the torch poses that the search knows passes one
/// of them, no way can.
#[must_use]
pub fn may_hold(cell: &Cell, seam: SeamId, doubtful: &[f64]) -> bool {
    let of = &cell.seams[seam.0];
    let Some(path) = of.path.as_ref() else { return false };
    let setup = Setup::of_seam(cell, seam, None);
    seam_search::may_hold(&setup, seam, path, doubtful)
}

pub(super) fn setups(cell: &Cell, only: Option<Configuration>) -> Setups<'_> {
    let of_station = |station: usize| {
        let at = &cell.stations[station];
        let after = |openings| Setup::after(cell, (StationId(station), openings), &at.external, only);
        (0..=at.openings.len()).map(after).collect()
    };
    Setups { by_station: (0..cell.stations.len()).into_par_iter().map(of_station).collect() }
}

/// Every station with its external axes as it says: before any of its clamps open, and after each opening.
pub(super) struct Setups<'c> {
    by_station: Vec<Vec<Setup<'c>>>,
}

impl<'c> Setups<'c> {
    /// Where a seam is welded, external axes as it says.
    pub fn of_seam(&self, cell: &Cell, seam: SeamId) -> Setup<'c> {
        let seam = &cell.seams[seam.0];
        self.by_station[seam.station.0][seam.openings].at(&seam.external)
    }

    /// What a move of a visit is made in, external axes as the station says.
    pub fn of_move(&self, cell: &Cell, visit: &Visit, index: usize) -> &Setup<'c> {
        &self.by_station[visit.station.0][visit.openings_at(cell, index)]
    }

    /// After the last weld.
    pub fn last(&self, station: StationId) -> &Setup<'c> {
        let of_station = &self.by_station[station.0];
        &of_station[of_station.len() - 1]
    }
}
