//! Decides the arm's whole way over one station: which way of each seam, in the file's order, and the air moves between.

use seamwright_kinematics::AxisValues;

use super::air_move::{AirMoves, Blocked};
use super::seam_search::Way;
use super::setup::Setup;
use super::{BlockedBy, BlockedMove, ExternalLaw, Move, MoveKind, PathPoint, Visit};
use crate::cell::{Cell, SeamId, StationId, frames::ExternalValues};

/// A seam that holds, with its setup and its ways.
pub(super) struct Candidate<'a, 'c> {
    pub seam: SeamId,
    pub setup: &'a Setup<'c>,
    pub ways: &'a [Way],
}

/// The visit, which way of each candidate it takes (by index into `ways`; `None` where it is left out), and the clearance
/// queries spent.
pub(super) fn visit(
    cell: &Cell,
    station: StationId,
    candidates: &[Candidate<'_, '_>],
) -> (Visit, Vec<Option<usize>>, u64) {
    let mut walk = Walk {
        cell,
        moves: Vec::new(),
        axes: cell.arm.home,
        external: cell.stations[station.0].external.clone(),
        from: None,
        queries: 0,
    };
    let order = order_of_ways(cell, candidates);
    let mut visit = Visit { station, moves: Vec::new(), left_out: Vec::new(), blocked: Vec::new() };
    let mut taken = Vec::new();
    for (candidate, ways) in candidates.iter().zip(&order) {
        let mut first_block = None;
        let mut chosen = None;
        for &way in ways {
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
            visit.blocked.push(walk.named(candidate.setup, &blocked, Some(candidate.seam)));
        }
        taken.push(chosen);
    }
    if let Some(last) = candidates.iter().zip(&taken).rev().find(|(_, taken)| taken.is_some()).map(|(c, _)| c)
    {
        match walk.go(last.setup, None, &cell.arm.home) {
            Ok(mut moves) => walk.moves.append(&mut moves),
            Err(blocked) => visit.blocked.push(walk.named(last.setup, &blocked, None)),
        }
    }
    visit.moves = walk.moves;
    (visit, taken, walk.queries)
}

/// For each candidate its ways in the order to try: first the one on the quickest chain of straight air moves through all.
fn order_of_ways(cell: &Cell, candidates: &[Candidate<'_, '_>]) -> Vec<Vec<usize>> {
    let time = |from: &AxisValues, to: &AxisValues| cell.arm.arm.least_time(&(to - from));
    let mut costs: Vec<Vec<f64>> = Vec::new();
    let mut parents: Vec<Vec<usize>> = Vec::new();
    for (k, candidate) in candidates.iter().enumerate() {
        let (mut next, mut parent) = (Vec::new(), Vec::new());
        for way in candidate.ways {
            let entries: Vec<(f64, &AxisValues)> = if k == 0 {
                vec![(0.0, &cell.arm.home)]
            } else {
                costs[k - 1].iter().copied().zip(candidates[k - 1].ways.iter().map(Way::end)).collect()
            };
            let best = entries
                .iter()
                .enumerate()
                .map(|(i, (cost, end))| (cost + time(end, way.start()) + way.cost, i))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or((0.0, 0));
            next.push(best.0);
            parent.push(best.1);
        }
        costs.push(next);
        parents.push(parent);
    }
    let mut best = vec![0; candidates.len()];
    let mut follow: Option<usize> = None;
    for k in (0..candidates.len()).rev() {
        let home = |i: usize| time(candidates[k].ways[i].end(), &cell.arm.home);
        let choose = || {
            (0..costs[k].len()).min_by(|a, b| (costs[k][*a] + home(*a)).total_cmp(&(costs[k][*b] + home(*b))))
        };
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

/// Where the arm is on its way over a station.
struct Walk<'c> {
    cell: &'c Cell,
    moves: Vec<Move>,
    axes: AxisValues,
    external: ExternalValues,
    from: Option<SeamId>,
    queries: u64,
}

impl Walk<'_> {
    /// Goes to and over a seam, or stays where it was.
    fn take(&mut self, candidate: &Candidate<'_, '_>, way: &Way) -> Result<(), Blocked> {
        let mut moves = Vec::new();
        let mut axes = self.axes;
        if candidate.setup.external != self.external {
            // External axes move only while the arm waits at home.
            moves.append(&mut self.go_home(candidate)?);
            axes = self.cell.arm.home;
            moves.push(Move {
                kind: MoveKind::Position { to: candidate.setup.external.clone() },
                seam: Some(candidate.seam),
                external: ExternalLaw::held(self.external.clone()),
                points: vec![still(0.0, &axes), still(1.0, &axes)],
            });
        }
        for leg in &way.legs {
            let start = leg[0].points[0].axes;
            moves.append(&mut self.air(candidate.setup, Some(candidate.seam), &axes, &start)?);
            moves.extend(leg.iter().cloned());
            axes = leg.last().and_then(|mv| mv.points.last()).map_or(start, |point| point.axes);
        }
        self.moves.append(&mut moves);
        self.axes = axes;
        self.external.clone_from(&candidate.setup.external);
        self.from = Some(candidate.seam);
        Ok(())
    }

    /// From where the arm is back home, with the external axes as they still stand.
    fn go_home(&mut self, candidate: &Candidate<'_, '_>) -> Result<Vec<Move>, Blocked> {
        if self.from.is_none() {
            return Ok(Vec::new());
        }
        let here = Setup::new(self.cell, candidate.setup.station, &self.external, None);
        let (axes, home) = (self.axes, self.cell.arm.home);
        self.air(&here, None, &axes, &home)
    }

    fn go(&mut self, setup: &Setup<'_>, to: Option<SeamId>, goal: &AxisValues) -> Result<Vec<Move>, Blocked> {
        let axes = self.axes;
        self.air(setup, to, &axes, goal)
    }

    fn air(
        &mut self,
        setup: &Setup<'_>,
        seam: Option<SeamId>,
        from: &AxisValues,
        to: &AxisValues,
    ) -> Result<Vec<Move>, Blocked> {
        if (to - from).amax() < 1e-9 {
            return Ok(Vec::new());
        }
        let mut air = AirMoves { setup, hint: None, clearance_queries: 0 };
        let through = air.between(from, to);
        self.queries += air.clearance_queries;
        let through = through?;
        let moves = through.windows(2).map(|pair| Move {
            kind: MoveKind::Axis,
            seam,
            external: ExternalLaw::held(setup.external.clone()),
            points: vec![still(0.0, &pair[0]), still(1.0, &pair[1])],
        });
        Ok(moves.collect())
    }

    fn named(&self, setup: &Setup<'_>, blocked: &Blocked, to: Option<SeamId>) -> BlockedMove {
        let by = match *blocked {
            Blocked::Pair { pair, short } => {
                let (body, other) = setup.scene.pair_names(pair);
                BlockedBy::Bodies(body, other, short)
            }
            Blocked::Range { drive, excess } => BlockedBy::Range(drive, excess),
        };
        BlockedMove { from: self.from, to, by }
    }
}

fn still(s: f64, axes: &AxisValues) -> PathPoint {
    PathPoint { s, axes: *axes, angles: None }
}
