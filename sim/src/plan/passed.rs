//! Decides which points have to be taught for the ways through the air: every place that the arm passes on them.
//!
//! They count with the seam that they lead to, those on the last way home with the last seam.

use super::setup::Setup;
use super::{Move, MoveKind, SeamPlan, TaughtPoint, Visit, angles_of};
use crate::cell::SeamId;

/// Adds the places passed on one visit to the points of its seams; `setup`: any of its station.
pub(super) fn add(setup: &Setup<'_>, visit: &Visit, seams: &mut [SeamPlan]) {
    let mut passed: Vec<Passed> = Vec::new();
    for (index, pair) in visit.moves.windows(2).enumerate() {
        if pair[0].kind != MoveKind::Axis {
            continue;
        }
        let ahead = leg_after(&visit.moves, index);
        if pair[1].kind != MoveKind::Approach
            && let Some(leg) = ahead.or_else(|| last_seam(visit).map(|seam| Leg { seam, number: usize::MAX }))
        {
            passed.push(Passed { leg, point: point(setup, &pair[0], leg) });
        }
    }
    for Passed { leg, point } in passed {
        let taught = &mut seams[leg.seam.0].taught;
        // A leg begins at the end of its way through the air.
        let begins =
            taught.iter().enumerate().filter(|(_, point)| point.kind == MoveKind::Axis && !point.passed);
        let before = begins.map(|(index, _)| index).nth(leg.number);
        taught.insert(before.unwrap_or(taught.len()), point);
    }
}

/// A part of a seam's way that is reached through the air.
#[derive(Clone, Copy)]
struct Leg {
    seam: SeamId,
    /// From 0; beyond all of them for what follows the last.
    number: usize,
}

struct Passed {
    leg: Leg,
    point: TaughtPoint,
}

/// The leg that an air move leads to.
fn leg_after(moves: &[Move], index: usize) -> Option<Leg> {
    let begins = |at: usize| {
        moves[at].kind == MoveKind::Approach && (at == 0 || moves[at - 1].kind != MoveKind::Shift)
    };
    let at = (index + 1..moves.len()).find(|at| begins(*at))?;
    let seam = moves[at].seam?;
    let number = (0..at).filter(|before| moves[*before].seam == Some(seam) && begins(*before)).count();
    Some(Leg { seam, number })
}

fn last_seam(visit: &Visit) -> Option<SeamId> {
    visit.moves.iter().rev().find_map(|planned| planned.seam)
}

/// The end of an air move, its angles against the seam where the leg begins, or the seam ends.
fn point(setup: &Setup<'_>, air: &Move, leg: Leg) -> TaughtPoint {
    let cell = setup.cell;
    let seam = &cell.seams[leg.seam.0];
    let end = &air.points[air.points.len() - 1];
    let external = air.external_end();
    let ctwd = cell.torch.nominal_ctwd;
    let station_from_tool = setup.at(&external).station_from_wire_end(&end.axes, ctwd);
    let s = seam
        .runs
        .get(leg.number)
        .map_or_else(|| seam.runs.last().map_or(0.0, |run| run.end), |run| run.start);
    let angles = seam.path.as_ref().map(|path| angles_of(&path.at(s), &station_from_tool, ctwd));
    TaughtPoint {
        kind: MoveKind::Axis,
        axes: end.axes,
        external,
        station_from_tool,
        angles: angles.unwrap_or(super::TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd }),
        s,
        circular: false,
        passed: true,
    }
}
