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
        let through = match pair[0].kind {
            MoveKind::Axis => None,
            MoveKind::AirStraight { through } => through,
            _ => continue,
        };
        let ahead = leg_after(&visit.moves, index);
        let Some(leg) = ahead.or_else(|| last_seam(visit).map(|seam| Leg { seam, number: usize::MAX }))
        else {
            continue;
        };
        let mut add = |at: usize, begins: bool| {
            passed.push(Passed { leg, begins, point: point(setup, &pair[0], at, leg) })
        };
        through.into_iter().for_each(|at| add(at, false));
        add(pair[0].points.len() - 1, pair[1].kind == MoveKind::Approach);
    }
    for Passed { leg, begins, point } in passed {
        let taught = &mut seams[leg.seam.0].taught;
        // A leg begins at the end of its way through the air.
        let beginnings =
            taught.iter().enumerate().filter(|(_, point)| is_in_air(&point.kind) && !point.passed);
        let before = beginnings.map(|(index, _)| index).nth(leg.number);
        match before.filter(|_| begins) {
            Some(at) => (taught[at].kind, taught[at].circular) = (point.kind, point.circular),
            None if begins => {}
            None => taught.insert(before.unwrap_or(taught.len()), point),
        }
    }
}

fn is_in_air(kind: &MoveKind) -> bool {
    matches!(kind, MoveKind::Axis | MoveKind::AirStraight { .. })
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
    /// Whether the leg begins there, so that the place is taught as such.
    begins: bool,
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

/// The place `at` (by index) of an air move, its angles against the seam where the leg begins, or the seam ends.
fn point(setup: &Setup<'_>, air: &Move, at: usize, leg: Leg) -> TaughtPoint {
    let cell = setup.cell;
    let seam = &cell.seams[leg.seam.0];
    let place = &air.points[at];
    let external = air.external_end();
    let ctwd = cell.torch.nominal_ctwd;
    let station_from_tool = setup.at(&external).station_from_wire_end(&place.axes, ctwd);
    let s = seam
        .runs
        .get(leg.number)
        .map_or_else(|| seam.runs.last().map_or(0.0, |run| run.end), |run| run.start);
    let angles = seam.path.as_ref().map(|path| angles_of(&path.at(s), &station_from_tool, ctwd));
    TaughtPoint {
        kind: air.kind.clone(),
        axes: place.axes,
        external,
        station_from_tool,
        angles: angles.unwrap_or(super::TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd }),
        s,
        circular: matches!(air.kind, MoveKind::AirStraight { through: Some(_) }),
        passed: true,
    }
}
