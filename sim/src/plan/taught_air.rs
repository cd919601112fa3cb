//! Decides whether the way through the air that was taught for a seam is clear as it stands: nothing is searched.
//!
//! Where the tool is led it goes straight, or on a circle, its orientation turning evenly about one axis; a circular move does not stop at
//! its middle place. In the air the torch keeps clear of all parts, those of the seam too.

use seamwright_kinematics::AxisValues;

use super::air_move::{AirMoves, Blocked};
use super::proof::Unshown;
use super::setup::{Along, Setup};
use super::taught_piece::{Piece, TaughtTool};
use super::trace::{Failure, Tracer};
use super::violation::{Limit, Violation};
use super::visit::SAME_PLACE;
use super::{ExternalLaw, Move, MoveKind, PathPoint};
use crate::cell::{GivenMove, GivenPoint, GivenStance, SeamId, SeamPath};

/// The arm comes out at a taught stance to within this, rad; else it took another configuration there.
pub(super) const SAME_STANCE: f64 = 0.01;

/// The moves from `from` over all `places` to `to`, the stance at the last of them; and the queries spent.
pub(super) fn taught_air(
    setup: &Setup<'_>,
    seam: SeamId,
    path: &SeamPath,
    places: &[&GivenPoint],
    (from, to): (&AxisValues, &AxisValues),
) -> (Result<Vec<Move>, Blocked>, u64) {
    let along = Along::held(setup);
    let tracer = Tracer::in_air(&along, seam, path);
    let mut walk = Walk { setup, seam, tracer, air: AirMoves::new(setup), at: *from, moves: Vec::new() };
    let mut rest = places;
    let walked = loop {
        let Some((first, others)) = rest.split_first() else { break Ok(()) };
        let group = 1 + usize::from(first.circular && !others.is_empty());
        let ends = group == rest.len();
        let (now, later) = rest.split_at(group);
        if let Err(blocked) = walk.go(now, ends.then_some(to)) {
            break Err(blocked);
        }
        rest = later;
    };
    let queries = walk.air.clearance_queries + walk.tracer.clearance_queries;
    (walked.map(|()| walk.moves), queries)
}

struct Walk<'w, 'c> {
    setup: &'w Setup<'c>,
    seam: SeamId,
    tracer: Tracer<'w, 'c>,
    air: AirMoves<'w, 'c>,
    at: AxisValues,
    moves: Vec<Move>,
}

impl Walk<'_, '_> {
    /// One move to the last of `places`, a circular one through the first of two; `known` is the stance that it ends at.
    fn go(&mut self, places: &[&GivenPoint], known: Option<&AxisValues>) -> Result<(), Blocked> {
        let goal = places[places.len() - 1];
        if goal.by == GivenMove::Air {
            let to = match known {
                Some(known) => *known,
                None => self.stance(goal)?,
            };
            if (to - self.at).amax() >= SAME_PLACE {
                self.air.straight(&self.at, &to)?;
                let point = |s, axes| PathPoint { s, axes, angles: None };
                self.add(MoveKind::Axis, vec![point(0.0, self.at), point(1.0, to)]);
            }
            return Ok(());
        }
        let tool = |point: &GivenPoint| TaughtTool::of(self.setup, point);
        let start = TaughtTool::at(self.setup, &self.at, tool(goal).ctwd);
        let pieces = match places {
            [through, end] => Piece::circular([start, tool(through), tool(end)]).to_vec(),
            _ => vec![Piece::straight(start, tool(goal))],
        };
        let (mut points, mut axes): (Vec<PathPoint>, _) = (Vec::new(), self.at);
        let mut through = None;
        for (piece, place) in pieces.iter().zip(places) {
            let before = points.last().map_or(0.0, |point| point.s);
            through = points.len().checked_sub(1);
            let mut led = self.tracer.taught(piece, None, &axes).map_err(blocked)?;
            led.iter_mut().for_each(|point| point.s += before);
            axes = led.last().map_or(axes, |point| point.axes);
            points.extend(led.drain(usize::from(!points.is_empty())..));
            let stated = match &place.stance {
                GivenStance::Axes(stated) => Some(stated),
                GivenStance::Tool(_) => known.filter(|_| std::ptr::eq(*place, goal)),
            };
            let off = stated.map_or(AxisValues::zeros(), |stated| axes - stated);
            if off.amax() > SAME_STANCE {
                let violation = Violation::of_jump(off.iamax(), off.amax());
                return Err(blocked(Failure { violation, s: 0.0 }));
            }
        }
        if points.last().is_some_and(|last| last.s > 0.0) {
            self.add(MoveKind::AirStraight { through }, points);
        }
        Ok(())
    }

    /// Axis values at a place, on the branch of where the arm comes from.
    fn stance(&self, place: &GivenPoint) -> Result<AxisValues, Blocked> {
        match &place.stance {
            GivenStance::Axes(axes) => Ok(*axes),
            GivenStance::Tool(pose) => {
                let base_from_flange =
                    self.setup.base_from_flange(pose, TaughtTool::of(self.setup, place).ctwd);
                let stance = self.setup.stance_near(&base_from_flange, &self.at);
                stance.map_err(|violation| blocked(Failure { violation, s: 0.0 }))
            }
        }
    }

    fn add(&mut self, kind: MoveKind, points: Vec<PathPoint>) {
        self.at = points.last().map_or(self.at, |point| point.axes);
        let external = ExternalLaw::held(self.setup.external.clone());
        self.moves.push(Move { kind, seam: Some(self.seam), external, points, bends: Vec::new() });
    }
}

fn blocked(failure: Failure) -> Blocked {
    let violation = failure.violation;
    match violation.limit {
        Limit::Clearance(pair) => Blocked::Pair { pair, short: violation.amount },
        Limit::Unshown(Unshown::Clearance(pair)) => Blocked::Unshown(pair),
        _ => Blocked::Taught(violation),
    }
}
