//! Decides the arm's whole way over one station: which way of each seam, in the file's order, and the air moves between.

use seamwright_kinematics::AxisValues;

use super::air_move::Blocked;
use super::known_air::{AirWay, KnownAir};
use super::ladder::first_of_least;
use super::passage::{Passage, Passages};
use super::seam_search::Way;
use super::searched::Setups;
use super::setup::Setup;
use super::taught_air::taught_air;
use super::together;
use super::turn::{self, Obstruction};
use super::{BlockedBy, BlockedMove, ExternalLaw, Move, MoveKind, PathPoint, Visit};
use crate::cell::{Cell, GivenPoint, SeamId, SeamPath, StationId, frames::ExternalValues};
use crate::motion::ExternalMove;

/// A seam that holds, with its setup and its ways.
pub(super) struct Candidate<'a, 'c> {
    pub seam: SeamId,
    pub setup: Setup<'c>,
    pub ways: &'a [Way],
}

/// The visit, which way of each candidate it takes (by index into `ways`; `None` where it is left out), and the clearance
/// queries spent.
pub(super) type Planned = (Visit, Vec<Option<usize>>, u64);

/// The visit in the order of the candidates.
pub(super) fn visit(
    cell: &Cell,
    station: StationId,
    candidates: &[Candidate<'_, '_>],
    seed: u64,
    known: &KnownAir,
) -> Planned {
    let mut walk = Walk::from_home(cell, station, seed, known);
    let order = order_of_ways(cell, candidates);
    known.look_ahead(&likely_air(cell, candidates, &order));
    let mut visit = Visit {
        station,
        moves: Vec::new(),
        left_out: Vec::new(),
        blocked: Vec::new(),
        roundings: Vec::new(),
    };
    let mut taken = Vec::new();
    for (candidate, ways) in candidates.iter().zip(&order) {
        let mut first_block = None;
        let mut chosen = None;
        // Simple ways to each way of the seam first: a detour is searched for only where there are none.
        let attempts =
            [false, true].into_iter().flat_map(|searching| ways.iter().map(move |way| (searching, *way)));
        for (searching, way) in attempts {
            walk.searching = searching;
            match walk.take(candidate, &candidate.ways[way]) {
                Ok(()) => {
                    chosen = Some(way);
                    break;
                }
                Err(blocked) => {
                    first_block.get_or_insert(blocked);
                }
            }
        }
        if let (None, Some(blocked)) = (chosen, first_block) {
            visit.left_out.push(candidate.seam);
            visit.blocked.push(walk.named(&candidate.setup, &blocked, Some(candidate.seam)));
        }
        taken.push(chosen);
    }
    if let Some(last) = candidates.iter().zip(&taken).rev().find(|(_, taken)| taken.is_some()).map(|(c, _)| c)
    {
        let setup = last.setup.at(&walk.external);
        walk.searching = true;
        match walk.go(&setup, None, &cell.arm.home) {
            Ok(mut moves) => walk.moves.append(&mut moves),
            Err(blocked) => visit.blocked.push(walk.named(&setup, &blocked, None)),
        }
    }
    visit.moves = walk.moves;
    (visit, taken, walk.queries)
}

/// The visit that goes over the candidates in the order and by the ways of a tour; those not in it are left out. `None` where one of its
/// moves is not clear.
pub(super) fn along(
    station: StationId,
    candidates: &[Candidate<'_, '_>],
    tour: &[(SeamId, usize)],
    passages: &Passages<'_>,
) -> Option<Planned> {
    let (mut here, mut moves, mut queries) = (passages.waiting(station), Vec::new(), 0);
    let mut go = |passage: Option<Passage>| {
        let mut passage = passage?;
        queries += passage.queries;
        moves.append(&mut passage.moves);
        Some(())
    };
    for (seam, way) in tour {
        let candidate = candidates.iter().find(|candidate| candidate.seam == *seam)?;
        let way = candidate.ways.get(*way)?;
        go(passages.to(*seam, &here, &first_stop(way)))?;
        go(passages.over(*seam, &way.legs))?;
        here = last_stop(way);
    }
    if let Some((last, _)) = tour.last() {
        go(passages.home(*last, &here))?;
    }
    let taken: Vec<Option<usize>> = candidates
        .iter()
        .map(|candidate| tour.iter().find(|(seam, _)| *seam == candidate.seam).map(|(_, way)| *way))
        .collect();
    let left_out = candidates.iter().zip(&taken).filter(|(_, taken)| taken.is_none());
    let left_out = left_out.map(|(candidate, _)| candidate.seam).collect();
    Some((Visit { station, moves, left_out, blocked: Vec::new(), roundings: Vec::new() }, taken, queries))
}

/// For each candidate its ways in the order to try: first the one on the quickest chain of straight air moves through all.
fn order_of_ways(cell: &Cell, candidates: &[Candidate<'_, '_>]) -> Vec<Vec<usize>> {
    let time = |from: &Stop, to: &Stop| {
        let external = ExternalMove::new(&cell.frames.axes, &from.external, &to.external).duration();
        cell.arm.arm.least_time(&(to.axes - from.axes)) + external
    };
    let ends = |candidate: &Candidate<'_, '_>| candidate.ways.iter().map(last_stop).collect::<Vec<Stop>>();
    let mut costs: Vec<Vec<f64>> = Vec::new();
    let mut parents: Vec<Vec<usize>> = Vec::new();
    for (k, candidate) in candidates.iter().enumerate() {
        let (mut next, mut parent) = (Vec::new(), Vec::new());
        for way in candidate.ways {
            let entries: Vec<(f64, Stop)> = if k == 0 {
                vec![(0.0, waiting(cell, candidate))]
            } else {
                costs[k - 1].iter().copied().zip(ends(&candidates[k - 1])).collect()
            };
            let start = first_stop(way);
            let sums: Vec<f64> =
                entries.iter().map(|(cost, end)| cost + time(end, &start) + way.cost).collect();
            let best = first_of_least(sums.iter().copied());
            next.push(best.map_or(0.0, |best| sums[best]));
            parent.push(best.unwrap_or(0));
        }
        costs.push(next);
        parents.push(parent);
    }
    let mut best = vec![0; candidates.len()];
    let mut follow: Option<usize> = None;
    for k in (0..candidates.len()).rev() {
        let waits = waiting(cell, &candidates[k]);
        let home = |i: usize| time(&last_stop(&candidates[k].ways[i]), &waits);
        let choose = || first_of_least(costs[k].iter().enumerate().map(|(i, cost)| cost + home(i)));
        best[k] = follow.or_else(choose).unwrap_or(0);
        follow = parents[k].get(best[k]).copied();
    }
    candidates
        .iter()
        .zip(best)
        .map(|(candidate, best)| {
            let others = (0..candidate.ways.len()).filter(|i| *i != best);
            std::iter::once(best).chain(others).collect()
        })
        .collect()
}

/// Air moves from way to way where each seam is welded by the one to be tried first and no external axis has to go in between.
fn likely_air<'c>(cell: &Cell, candidates: &[Candidate<'_, 'c>], order: &[Vec<usize>]) -> Vec<AirWay<'c>> {
    let mut air = Vec::new();
    let mut here: Option<Stop> = None;
    for (candidate, ways) in candidates.iter().zip(order) {
        for leg in &candidate.ways[ways[0]].legs {
            let (Some(first), Some(last)) = (leg.first(), leg.last()) else { continue };
            let goal = Stop { axes: first.points[0].axes, external: first.external_start() };
            let from = here.take().unwrap_or_else(|| waiting(cell, candidate));
            if from.external == goal.external && (goal.axes - from.axes).amax() >= SAME_PLACE {
                let setup = candidate.setup.at(&goal.external);
                air.push(AirWay { setup, from: from.axes, to: goal.axes });
            }
            let end = last.points.last().map_or(goal.axes, |point| point.axes);
            here = Some(Stop { axes: end, external: last.external_end() });
        }
    }
    air
}

/// Places whose axes are all nearer than this, rad, are one place: there is no move between them.
pub(super) const SAME_PLACE: f64 = 1e-9;

/// Where arm and external axes stand between two moves.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stop {
    /// rad.
    pub axes: AxisValues,
    /// rad or m.
    pub external: ExternalValues,
}

/// The arm at home, the station as it is loaded.
fn waiting(cell: &Cell, candidate: &Candidate<'_, '_>) -> Stop {
    Stop { axes: cell.arm.home, external: cell.stations[candidate.setup.station.0].external.clone() }
}

fn first_stop(way: &Way) -> Stop {
    Stop { axes: *way.start(), external: way.external_start() }
}

fn last_stop(way: &Way) -> Stop {
    Stop { axes: *way.end(), external: way.external_end() }
}

/// Where the arm is on its way over a station.
pub(super) struct Walk<'c> {
    cell: &'c Cell,
    known: &'c KnownAir,
    moves: Vec<Move>,
    axes: AxisValues,
    external: ExternalValues,
    from: Option<SeamId>,
    seed: u64,
    /// Whether detours are searched for where no simple way through the air is clear.
    pub(super) searching: bool,
    pub(super) queries: u64,
}

impl<'c> Walk<'c> {
    /// The arm at home, the station as it is loaded.
    pub(super) fn from_home(cell: &'c Cell, station: StationId, seed: u64, known: &'c KnownAir) -> Self {
        Walk {
            cell,
            known,
            seed,
            searching: false,
            moves: Vec::new(),
            axes: cell.arm.home,
            external: cell.stations[station.0].external.clone(),
            from: None,
            queries: 0,
        }
    }
}

impl Walk<'_> {
    /// Goes to and over a seam, or stays where it was.
    fn take(&mut self, candidate: &Candidate<'_, '_>, way: &Way) -> Result<(), Blocked> {
        let mut moves = Vec::new();
        let mut axes = self.axes;
        let mut external = self.external.clone();
        for leg in &way.legs {
            let (Some(first), Some(last)) = (leg.first(), leg.last()) else { continue };
            let goal = Stop { axes: first.points[0].axes, external: first.external_start() };
            let here = Stop { axes, external };
            moves.append(&mut self.way_to(&candidate.setup, candidate.seam, &here, &goal)?);
            moves.extend(leg.iter().cloned());
            axes = last.points.last().map_or(goal.axes, |point| point.axes);
            external = last.external_end();
        }
        self.moves.append(&mut moves);
        self.axes = axes;
        self.external = external;
        self.from = Some(candidate.seam);
        Ok(())
    }

    /// Through the air to where a seam's way begins. Where external axes have a way to go, they go while the arm stands where it
    /// is; where that, or the way on from there, is not clear, while it waits at home.
    pub(super) fn way_to(
        &mut self,
        setup: &Setup<'_>,
        seam: SeamId,
        from: &Stop,
        to: &Stop,
    ) -> Result<Vec<Move>, Blocked> {
        let (before, after) = (setup.at(&from.external), setup.at(&to.external));
        if from.external == to.external {
            return self.air(&after, Some(seam), &from.axes, &to.axes);
        }
        if self.cell.arm.air_with_external && self.taught_to(seam).is_none() {
            let ends = [&from.axes, &to.axes];
            let (planned, queries) = together::together(&before, seam, ends, &to.external);
            self.queries += queries;
            if let Some(planned) = planned {
                return Ok(vec![planned]);
            }
        }
        let at_once = self.position(&before, seam, &from.axes, &to.external).and_then(|position| {
            let mut moves = vec![position];
            moves.append(&mut self.air(&after, Some(seam), &from.axes, &to.axes)?);
            Ok(moves)
        });
        let home = self.cell.arm.home;
        if at_once.is_ok() || from.axes == home {
            return at_once;
        }
        let mut moves = self.air(&before, None, &from.axes, &home)?;
        moves.push(self.position(&before, seam, &home, &to.external)?);
        moves.append(&mut self.air(&after, Some(seam), &home, &to.axes)?);
        Ok(moves)
    }

    /// External axes go to `to` while the arm stands at `axes`.
    fn position(
        &mut self,
        setup: &Setup<'_>,
        seam: SeamId,
        axes: &AxisValues,
        to: &ExternalValues,
    ) -> Result<Move, Blocked> {
        let (obstruction, queries) = turn::obstruction(setup, axes, to);
        self.queries += queries;
        if let Some(obstruction) = obstruction {
            return Err(Blocked::Turn(obstruction));
        }
        Ok(Move {
            kind: MoveKind::Position { to: to.clone() },
            seam: Some(seam),
            external: ExternalLaw::held(setup.external.clone()),
            points: vec![still(0.0, axes), still(1.0, axes)],
            bends: Vec::new(),
        })
    }

    fn go(&mut self, setup: &Setup<'_>, to: Option<SeamId>, goal: &AxisValues) -> Result<Vec<Move>, Blocked> {
        let axes = self.axes;
        self.air(setup, to, &axes, goal)
    }

    pub(super) fn air(
        &mut self,
        setup: &Setup<'_>,
        seam: Option<SeamId>,
        from: &AxisValues,
        to: &AxisValues,
    ) -> Result<Vec<Move>, Blocked> {
        if (to - from).amax() < SAME_PLACE {
            return Ok(Vec::new());
        }
        if let Some((path, places)) = seam.and_then(|seam| self.taught_to(seam))
            && let Some(seam) = seam
        {
            let (moves, queries) = taught_air(setup, seam, path, &places, (from, to));
            self.queries += queries;
            return moves;
        }
        let (through, queries) = self.known.between(setup, (from, to), self.searching.then_some(self.seed));
        self.queries += queries;
        let through = through?;
        let moves = through.windows(2).map(|pair| Move {
            kind: MoveKind::Axis,
            seam,
            external: ExternalLaw::held(setup.external.clone()),
            points: vec![still(0.0, &pair[0]), still(1.0, &pair[1])],
            bends: Vec::new(),
        });
        Ok(moves.collect())
    }

    /// The places in the air on the taught way to a seam, where that was taught.
    fn taught_to(&self, seam: SeamId) -> Option<(&SeamPath, Vec<&GivenPoint>)> {
        let seam = &self.cell.seams[seam.0];
        seam.path.as_ref().zip(seam.taught.as_ref()?.taught_air())
    }

    fn named(&self, setup: &Setup<'_>, blocked: &Blocked, to: Option<SeamId>) -> BlockedMove {
        BlockedMove { from: self.from, to, by: named(setup, blocked) }
    }
}

pub(super) fn named(setup: &Setup<'_>, blocked: &Blocked) -> BlockedBy {
    match blocked {
        Blocked::Pair { pair, short } => {
            let (body, other) = setup.scene.pair_names(*pair);
            BlockedBy::Bodies(body, other, *short)
        }
        Blocked::Unshown(pair) => {
            let (body, other) = setup.scene.pair_names(*pair);
            BlockedBy::NotShown(body, other)
        }
        Blocked::Range { drive, excess } => BlockedBy::Range(*drive, *excess),
        Blocked::Hose { name, excess } => BlockedBy::Hose(name, *excess),
        Blocked::Taught(violation) => {
            BlockedBy::Taught(violation.constraint(&setup.scene), violation.amount, violation.bound)
        }
        Blocked::Turn(Obstruction { pair, short, external }) => {
            let (body, other) = setup.scene.pair_names(*pair);
            BlockedBy::Turning(body, other, *short, external.clone())
        }
    }
}

/// Asks the way of the external axes from where each visit leaves them to where the next one begins, the arm waiting at home, and
/// adds what does not clear to the visit it follows; the queries spent.
pub(super) fn changeovers(cell: &Cell, setups: &Setups<'_>, visits: &mut [Visit]) -> u64 {
    let mut queries = 0;
    for index in 0..visits.len() {
        let next = &visits[(index + 1) % visits.len()];
        let (from, to) = (visits[index].external_end(cell), next.external_start(cell));
        let setup = setups.last(visits[index].station).at(&from);
        let (obstruction, spent) = turn::obstruction(&setup, &cell.arm.home, &to);
        queries += spent;
        // Where nothing moves it is no place on a way that is told.
        let place = |found: Obstruction| {
            if from == to { Obstruction { external: Vec::new(), ..found } } else { found }
        };
        visits[index].blocked.extend(obstruction.map(|obstruction| BlockedMove {
            from: None,
            to: None,
            by: named(&setup, &Blocked::Turn(place(obstruction))),
        }));
    }
    queries
}

fn still(s: f64, axes: &AxisValues) -> PathPoint {
    PathPoint { s, axes: *axes, angles: None }
}
