//! Decides whether a seam holds as it was taught: nothing is searched, every sample of the taught way is asked.
//!
//! Between taught points the tool goes as `taught_piece` has it. Against the seam the wire counts as fed out to where it passes the root
//! nearest: contact tip to there is the tip-to-work distance, and what remains across is how far the wire misses the root.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::{AxisValues, Pose};

use super::{Found, Search, Way, slower};
use crate::cell::{GivenMove, GivenPoint, GivenStance, Run, Seam, SeamId, SeamPath, WeldSpeed};
use crate::plan::rule::{Rule, binding};
use crate::plan::setup::{Along, Setup};
use crate::plan::taught_air::SAME_STANCE;
use crate::plan::taught_piece::{Piece, TaughtTool};
use crate::plan::torch_way::Law;
use crate::plan::trace::Failure;
use crate::plan::violation::Violation;
use crate::plan::whole_turns::WholeTurns;
use crate::plan::{
    Binding, Constraint, ExternalLaw, Move, MoveKind, PathPoint, TorchAngles, Verdict, angles_of,
};

/// A taught weld that goes on by less than this between two samples stands, m: far above rounding, far below a step.
const STANDS: f64 = 1e-6;

/// Places of a line are one that are nearer to each other, m: far above what a file rounds.
const SAME_PLACE: f64 = 1e-4;

/// How far beyond its ends a seam's line is continued, m.
const BEYOND: f64 = 1.0;

/// What was found of the taught way, as it stands.
pub(super) fn found(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath, given: &[GivenPoint]) -> Found {
    let seam = &setup.cell.seams[seam_id.0];
    let found = at_its_speed(setup, (seam_id, seam), path, given);
    let follows_at = slower::follows_at(seam, &found, |slower| {
        at_its_speed(setup, (seam_id, slower), path, given).verdict == Verdict::Holds
    });
    Found { follows_at, ..found }
}

fn at_its_speed(
    setup: &Setup<'_>,
    (seam_id, seam): (SeamId, &Seam),
    path: &SeamPath,
    given: &[GivenPoint],
) -> Found {
    let along = Along::held(setup);
    let mut search = Search::new(&along, seam_id, seam, path);
    // What is taught may begin before the seam and end beyond it: to there its line goes on.
    let longer = SeamPath { reach: [BEYOND; 2], ..path.clone() };
    let taught = TaughtWay { setup, seam, path: &longer, given };
    let (verdict, ways, mut bindings) = taught.found(&mut search);
    let first = if bindings.is_empty() { None } else { Some(bindings.remove(0)) };
    let effort = search.effort();
    Found { effort, ..search.found(verdict, ways, first, bindings) }
}

struct TaughtWay<'a, 'c> {
    setup: &'a Setup<'c>,
    seam: &'a Seam,
    path: &'a SeamPath,
    given: &'a [GivenPoint],
}

/// Where the arm cannot go on: on the piece that ends at this point, so far along it.
struct Failed {
    index: usize,
    failure: Failure,
}

/// The torch at a place of the weld against the seam.
#[derive(Clone, Copy)]
struct Against {
    s: f64,
    angles: TorchAngles,
    /// How far the wire misses the root, m.
    off: f64,
}

impl TaughtWay<'_, '_> {
    /// On the first of its stances on which all holds; else what is broken on the first that the arm can go, or on the first of all.
    fn found(&self, search: &mut Search<'_, '_>) -> (Verdict, Vec<Way>, Vec<Binding>) {
        let tools: Vec<TaughtTool> =
            self.given.iter().map(|point| TaughtTool::of(self.setup, point)).collect();
        let mut goes: Option<Vec<Binding>> = None;
        let mut fails: Option<(AxisValues, Failed)> = None;
        for start in self.starts(&tools[0]) {
            match self.follow(search, &tools, start) {
                Ok((way, broken)) if broken.is_empty() => return (Verdict::Holds, vec![way], broken),
                Ok((_, broken)) => goes = goes.or(Some(broken)),
                Err(failed) => fails = fails.or(Some((start, failed))),
            }
        }
        match (goes, fails) {
            (Some(broken), _) => (Verdict::CannotHold, Vec::new(), broken),
            (None, Some((start, failed))) => {
                let broken = self.in_the_way(search, &tools, start, &failed);
                let is_shown =
                    broken.iter().any(|found| !matches!(found.constraint, Constraint::NotShown(_)));
                let verdict = if is_shown { Verdict::CannotHold } else { Verdict::NotFound };
                (verdict, Vec::new(), broken)
            }
            (None, None) => (Verdict::NotFound, Vec::new(), Vec::new()),
        }
    }

    /// The way with all that it breaks of what the procedure asks; an error where the arm cannot go it.
    fn follow(
        &self,
        search: &mut Search<'_, '_>,
        tools: &[TaughtTool],
        start: AxisValues,
    ) -> Result<(Way, Vec<Binding>), Failed> {
        let mut axes = start;
        let mut way_in = Vec::new();
        let mut weld: Vec<PathPoint> = Vec::new();
        let mut out = Vec::new();
        // Arc length at which each weld point was taught.
        let mut taught_at: Vec<usize> = vec![0];
        // Arc length that the weld has come to.
        let mut along = None;
        let last = self.given.len() - 1;
        for index in 1..=last {
            let piece = piece(tools, self.given, index);
            let by = self.given[index].by;
            let from = along.unwrap_or_else(|| self.begins(&tools[index - 1].station_from_wire_end));
            let speed = (by == GivenMove::Weld).then(|| WeldSpeed::new(self.seam, self.path).on_piece(from));
            let failed = |failure| Failed { index, failure };
            let mut points = search.tracer.taught(&piece, speed.as_ref(), &axes).map_err(failed)?;
            axes = points.last().map_or(axes, |point| point.axes);
            if let GivenStance::Axes(stated) = &self.given[index].stance {
                let off = axes - stated;
                if off.amax() > SAME_STANCE {
                    let violation = Violation::of_jump(off.iamax(), off.amax());
                    return Err(failed(Failure { violation, s: piece.way() }));
                }
            }
            match by {
                GivenMove::Weld => {
                    along = Some(self.against(&tools[index], from + piece.way()).s);
                    weld.extend(points.drain(usize::from(!weld.is_empty())..));
                    taught_at.push(weld.len() - 1);
                }
                GivenMove::Retract => out = points,
                GivenMove::Air | GivenMove::AirStraight | GivenMove::Approach => way_in = points,
            }
        }
        let broken = self.against_the_seam(&mut weld);
        let taught = taught_at.into_iter().filter_map(|index| {
            let point = weld.get(index)?;
            Some((point.s, point.angles?))
        });
        let mut law = Law { points: taught.collect() };
        law.points.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9);
        let external = ExternalLaw::held(self.setup.external.clone());
        let make = |kind, points| Move {
            kind,
            seam: Some(search.tracer.seam_id),
            external: external.clone(),
            points,
            bends: Vec::new(),
        };
        let legs = vec![vec![
            make(MoveKind::Approach, way_in),
            make(MoveKind::Weld { run: 0 }, weld),
            make(MoveKind::Retract, out),
        ]];
        let margins = search.margins(&legs);
        Ok((Way { law, external, legs, margins, cost: 0.0 }, broken))
    }

    /// Axis values at the first point: stated, or all that are within the limits, the nearest to home first.
    fn starts(&self, tool: &TaughtTool) -> Vec<AxisValues> {
        if let GivenStance::Axes(axes) = &self.given[0].stance {
            return vec![*axes];
        }
        let cell = self.setup.cell;
        let mut stances = Vec::new();
        let base_from_flange = self.setup.base_from_flange(&tool.station_from_wire_end, tool.ctwd);
        let all = (0..6).fold(self.setup.whole_turns, WholeTurns::with_all_of);
        self.setup.stances(&base_from_flange, &all, &mut stances);
        let far = |axes: &AxisValues| (axes - cell.arm.home).amax();
        let kept = stances.iter().filter(|stance| stance.violation.is_none());
        let mut kept: Vec<AxisValues> = kept.map(|stance| stance.axes).collect();
        kept.sort_by(|a, b| far(a).total_cmp(&far(b)));
        if kept.is_empty() { vec![cell.arm.home] } else { kept }
    }

    /// What the arm cannot go through, of each limit the worst place on the weld, and on the way in or out; what is lacking on the weld
    /// first. What only is not shown stands where nothing else does.
    fn in_the_way(
        &self,
        search: &mut Search<'_, '_>,
        tools: &[TaughtTool],
        start: AxisValues,
        failed: &Failed,
    ) -> Vec<Binding> {
        let setup = self.setup;
        let mut axes = start;
        let mut found: Vec<(bool, Binding)> = Vec::new();
        for index in 1..self.given.len() {
            let piece = piece(tools, self.given, index);
            let steps = (piece.way() / setup.steps().check() - 1e-9).ceil().max(1.0) as usize;
            // Where the ways in and out meet the weld, the weld has it.
            let of_piece = match self.given[index].by {
                GivenMove::Weld => 0..steps + 1,
                GivenMove::Retract => 1..steps + 1,
                GivenMove::Air | GivenMove::AirStraight | GivenMove::Approach => 0..steps,
            };
            for d in of_piece.map(|step| piece.way() * step as f64 / steps as f64) {
                let ctwd = piece.ctwd_at(d);
                let broken = match setup.stance_near(&setup.base_from_flange(&piece.at(d), ctwd), &axes) {
                    Ok(there) => {
                        axes = there;
                        let near = search.tracer.clearance_violation_roughly(setup, &axes, ctwd);
                        setup.axis_violation(&axes).map_or(near, |own| Some(own.worse(near)))
                    }
                    Err(violation) => Some(violation),
                };
                let Some(violation) = broken else { continue };
                let is_weld = self.given[index].by == GivenMove::Weld;
                let next = self.placed(&piece, index, Failure { violation, s: d });
                let same = |known: &&mut (bool, Binding)| {
                    known.0 == is_weld
                        && known.1.constraint == next.constraint
                        && (known.1.at < 0.0) == (next.at < 0.0)
                };
                match found.iter_mut().find(same) {
                    Some((_, known)) => {
                        let (from, to) = (known.from.min(next.at), known.to.max(next.at));
                        if next.amount > known.amount {
                            *known = next;
                        }
                        (known.from, known.to) = (from, to);
                    }
                    None => found.push((is_weld, next)),
                }
            }
        }
        found.sort_by_key(|(is_weld, _)| !is_weld);
        let mut found: Vec<Binding> = found.into_iter().map(|(_, binding)| binding).collect();
        let own = self.placed(&piece(tools, self.given, failed.index), failed.index, failed.failure);
        let is_known = found.iter().any(|known| known.constraint == own.constraint)
            || (matches!(own.constraint, Constraint::NotShown(_)) && !found.is_empty());
        if !is_known {
            found.insert(0, own);
        }
        found
    }

    /// A limit that is not kept so far along the piece that ends at a taught point: where that is along the seam, or before or after it.
    fn placed(&self, piece: &Piece, index: usize, failure: Failure) -> Binding {
        let length = self.path.length();
        let (pose, ctwd) = (piece.at(failure.s), piece.ctwd_at(failure.s));
        let at = match self.given[index].by {
            GivenMove::Weld => {
                let tool = TaughtTool { station_from_wire_end: pose, ctwd };
                self.against(&tool, self.nearest(&pose)).s.clamp(0.0, length)
            }
            GivenMove::Retract => length + failure.s,
            GivenMove::Air | GivenMove::AirStraight | GivenMove::Approach => failure.s - piece.way(),
        };
        Binding {
            constraint: failure.violation.constraint(&self.setup.scene),
            amount: failure.violation.amount,
            limit: failure.violation.bound,
            at,
            from: at,
            to: at,
            point: pose.translation.vector.into(),
            stands: None,
        }
    }

    /// Gives every point of the weld its place and its angles against the seam; what it breaks, each at its worst.
    fn against_the_seam(&self, weld: &mut [PathPoint]) -> Vec<Binding> {
        let procedure = &self.seam.procedure;
        let run = self.seam.runs[0];
        let nominal = self.setup.cell.torch.nominal_ctwd;
        let allowed = procedure.allowed.across.unwrap_or(0.5 * self.setup.cell.torch.wire_diameter);
        let mut guess = None;
        let mut worst: Vec<Binding> = Vec::new();
        let mut note = |found: Binding| {
            let same = worst.iter_mut().find(|known| known.constraint == found.constraint);
            match same {
                Some(known) if found.amount > known.amount => {
                    *known = Binding { from: known.from, to: found.at, ..found }
                }
                Some(known) => known.to = found.at,
                None => worst.push(found),
            }
        };
        let mut farthest = f64::NEG_INFINITY;
        let mut before: Option<Pose> = None;
        let mut on_the_spot = 0.0;
        for point in weld.iter_mut() {
            let tool = TaughtTool::at(self.setup, &point.axes, nominal);
            let pose = tool.station_from_wire_end;
            let against = self.against(&tool, guess.unwrap_or_else(|| self.begins(&pose)));
            (point.s, point.angles) = (against.s, Some(against.angles));
            guess = Some(against.s);
            let back = farthest - against.s;
            if back > STANDS {
                note(binding(self.path, Rule::TaughtBack, back, None, against.s));
            }
            let turned = before.map_or(0.0, |before: Pose| before.rotation.angle_to(&pose.rotation));
            on_the_spot = if against.s < farthest + STANDS { on_the_spot + turned } else { 0.0 };
            if on_the_spot > SAME_STANCE {
                note(binding(self.path, Rule::TaughtTurn, on_the_spot, None, against.s));
            }
            before = Some(pose);
            farthest = farthest.max(against.s);
            let beyond = against.off - allowed;
            if beyond > 0.0 {
                note(binding(self.path, Rule::OffLine, beyond, Some(allowed), against.s));
            }
            let violation = Violation::of_angles(&procedure.bands(&run, against.s), &against.angles);
            if let Some(violation) =
                violation.filter(|violation| violation.is_past_rounding(self.path, against.s))
            {
                let point = self.path.at(against.s).point;
                let constraint: Constraint = violation.constraint(&self.setup.scene);
                let (amount, limit, at) = (violation.amount, violation.bound, against.s);
                note(Binding { constraint, amount, limit, at, from: at, to: at, point, stands: None });
            }
        }
        let Run { start, end } = run;
        let ends = [(weld.first(), start, true), (weld.last(), end, false)];
        for (point, wanted, starts) in ends {
            let off = point.map_or(0.0, |point| (point.s - wanted).abs());
            if off > allowed {
                note(binding(self.path, Rule::TaughtEnd { starts }, off, Some(allowed), wanted));
            }
        }
        worst
    }

    /// Arc length at which the weld begins: of a line that closes its start and not its end, which lies in the same place.
    fn begins(&self, pose: &Pose) -> f64 {
        let far = |s: f64| (self.path.at(s).point.coords - pose.translation.vector).norm();
        let (start, nearest) = (self.seam.runs[0].start, self.nearest(pose));
        if far(start) < far(nearest) + SAME_PLACE { start } else { nearest }
    }

    /// Arc length nearest to the tool.
    fn nearest(&self, pose: &Pose) -> f64 {
        let steps = self.setup.steps();
        let samples = self.path.samples(0.0, self.path.length(), steps.check(), steps.check_turn());
        let far = |s: &f64| (self.path.at(*s).point.coords - pose.translation.vector).norm();
        samples.into_iter().min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0.0)
    }

    fn against(&self, tool: &TaughtTool, guess: f64) -> Against {
        let pose = &tool.station_from_wire_end;
        let wire = pose.rotation * Vector3::z();
        let tip = Point3::from(pose.translation.vector - wire * tool.ctwd);
        let mut s = guess;
        // Each step takes the rest of the way along the seam to the place that the wire passes; on a line one is enough.
        for _ in 0..30 {
            let root = self.path.at(s);
            let ctwd = (root.point - tip).dot(&wire);
            let ahead = (tip + wire * ctwd - root.point).dot(&root.t);
            s += ahead;
            if ahead.abs() < 1e-12 {
                break;
            }
        }
        let root = self.path.at(s);
        let ctwd = (root.point - tip).dot(&wire);
        let off = (tip + wire * ctwd - root.point).norm();
        Against { s, angles: angles_of(&root, pose, ctwd), off }
    }
}

/// The piece that ends at taught point `index`; of a circular move the half that ends there.
fn piece(tools: &[TaughtTool], given: &[GivenPoint], index: usize) -> Piece {
    if !given[index].circular {
        return Piece::straight(tools[index - 1], tools[index]);
    }
    // Second points stand at odd places of a row of circular points.
    let before = given[..index].iter().rev().take_while(|point| point.circular).count();
    let half = before % 2;
    let first = index - 1 - half;
    Piece::circular([first, first + 1, first + 2].map(|i| *tools.get(i).unwrap_or(&tools[index])))[half]
}
