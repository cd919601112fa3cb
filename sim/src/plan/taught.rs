//! Decides which points of a way have to be taught: ends of every move, changes of angle, corners, and points on arcs.

use super::seam_search::Way;
use super::setup::Setup;
use super::{Move, MoveKind, PathPoint, TaughtPoint, station_from_tool};
use crate::cell::{Form, Piece, Run, SeamId, SeamPath};

/// The points to teach for one seam, in order; the air moves between seams end at the first of them.
pub(super) fn points(setup: &Setup<'_>, seam: SeamId, way: &Way) -> Vec<TaughtPoint> {
    let seam = &setup.cell.seams[seam.0];
    let Some(path) = &seam.path else { return Vec::new() };
    let weaves = seam.procedure.weave.is_some();
    let mut taught = Vec::new();
    for leg in &way.legs {
        for (index, mv) in leg.iter().enumerate() {
            let (first, last) = (&mv.points[0], &mv.points[mv.points.len() - 1]);
            let ends = match mv.kind {
                MoveKind::Weld { run } => seam.runs[run].end,
                MoveKind::SearchWay { search } | MoveKind::Search { search } => seam.searches[search].at,
                MoveKind::Approach => run_after(leg, index).map_or(0.0, |run| seam.runs[run].start),
                _ => {
                    run_before(leg, index).map_or(0.0, |run| seam.runs[run].end - seam.procedure.crater_back)
                }
            };
            let mut add = |kind: &MoveKind, point: &PathPoint, s: f64, circular: bool| {
                let angles = way.law.at(s);
                let external = mv.external.at(point.s);
                let placed = setup.at(&external);
                let station_from_tool = placed.station_from_wire_end(&point.axes, angles.ctwd);
                taught.push(TaughtPoint {
                    kind: kind.clone(),
                    axes: point.axes,
                    external,
                    station_from_tool,
                    angles,
                    s,
                    circular,
                    passed: false,
                });
            };
            match mv.kind {
                MoveKind::Approach | MoveKind::SearchWay { .. } => {
                    if index == 0 {
                        add(&MoveKind::Axis, first, ends, false);
                    }
                    add(&mv.kind, last, ends, false);
                }
                MoveKind::Weld { run } => {
                    for (s, circular) in marks(path, &changes(way, path), seam.runs[run]) {
                        let at =
                            mv.points.partition_point(|point| point.s < s - 1e-9).min(mv.points.len() - 1);
                        let planned = &mv.points[at];
                        let point = if weaves { on_line(setup, path, way, planned) } else { *planned };
                        add(&mv.kind, &point, point.s, circular);
                    }
                }
                _ => add(&mv.kind, last, ends, false),
            }
        }
    }
    taught
}

fn run_after(leg: &[Move], index: usize) -> Option<usize> {
    leg[index..].iter().find_map(weld_run)
}

fn run_before(leg: &[Move], index: usize) -> Option<usize> {
    leg[..index].iter().rev().find_map(weld_run)
}

fn weld_run(mv: &Move) -> Option<usize> {
    if let MoveKind::Weld { run } = mv.kind { Some(run) } else { None }
}

/// A point of a weld as it is taught: on its line, off which the plan's own point may weave.
fn on_line(setup: &Setup<'_>, path: &SeamPath, way: &Way, point: &PathPoint) -> PathPoint {
    let (angles, placed) = (way.law.at(point.s), setup.at(&way.external.at(point.s)));
    let pose = placed.base_from_flange(&station_from_tool(&path.at(point.s), &angles), angles.ctwd);
    // It lies within the weave of a point that the arm reaches; where it is itself beyond reach, the plan's point stands.
    placed.stance_near(&pose, &point.axes).map_or(*point, |axes| PathPoint { axes, ..*point })
}

/// Arc lengths at which a law of the torch angles or of the external axes has a point, or the turn through a corner begins or ends,
/// rising.
fn changes(way: &Way, path: &SeamPath) -> Vec<f64> {
    let angles = way.law.points.iter().map(|(s, _)| *s);
    let external = way.external.points().iter().map(|(s, _)| *s);
    let corners = path.corner_zones().into_iter().flat_map(|zone| [zone.from, zone.to]);
    let mut changes: Vec<f64> = angles.chain(external).chain(corners).collect();
    changes.sort_by(f64::total_cmp);
    changes.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    changes
}

/// Straight pieces that bend, or turn about their line, by no more than this (rad) where they meet are one.
const STRAIGHT_ON: f64 = 1e-6;

/// Arc lengths to teach after the start of `run`, and whether each belongs to a circular move.
///
/// Points on a straight line that only draw it finer are not among them. A circular move is taught by its start, a point halfway and its end; one move spans at most half a circle.
fn marks(path: &SeamPath, changes: &[f64], run: Run) -> Vec<(f64, bool)> {
    let mut marks: Vec<(f64, bool)> = Vec::new();
    let mut start = 0.0;
    for (index, piece) in path.pieces.iter().enumerate() {
        let end = start + piece.length();
        // The first and the last piece go on as far as the arc is struck before and put out beyond them.
        let from = if index == 0 { run.start } else { f64::max(start, run.start) };
        let to = if index + 1 == path.pieces.len() { run.end } else { f64::min(end, run.end) };
        if to - from > 1e-9 {
            let mut ends: Vec<f64> = changes.iter().copied().filter(|s| *s > from && *s < to).collect();
            let is_line = |piece: &Piece| matches!(piece.form, Form::Line { .. });
            let goes_on = end < run.end - 1e-9
                && is_line(piece)
                && path.pieces.get(index + 1).is_some_and(is_line)
                && path.corner_turn(index).angle() < STRAIGHT_ON;
            if !goes_on || changes.iter().any(|s| (*s - to).abs() < 1e-9) {
                ends.push(to);
            }
            let mut begin = from;
            for end in ends {
                match &piece.form {
                    Form::Line { .. } => marks.push((end, false)),
                    Form::Arc { sweep, .. } => {
                        let turned = sweep * (end - begin) / piece.length();
                        let moves = (turned / std::f64::consts::PI - 1e-9).ceil().max(1.0) as usize;
                        let halves = 2 * moves;
                        let half = (end - begin) / halves as f64;
                        marks.extend((1..=halves).map(|i| (begin + half * i as f64, true)));
                    }
                }
                begin = end;
            }
        }
        start = end;
    }
    marks
}
