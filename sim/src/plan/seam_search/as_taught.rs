//! Decides whether a seam holds as it was taught: nothing is searched, every sample of the taught way is asked.
//!
//! Between taught points the tool goes straight, or on a circle, its orientation turning evenly about one axis. Against the seam the
//! wire counts as fed out to where it passes the root nearest: contact tip to there is the tip-to-work distance, and what remains
//! across is how far the wire misses the root.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::{AxisValues, Pose};

use super::{Found, Search, Way, slower};
use crate::cell::{GivenMove, GivenPoint, GivenStance, Run, Seam, SeamId, SeamPath, WeldSpeed};
use crate::plan::rule::{Rule, binding};
use crate::plan::setup::{Along, Setup};
use crate::plan::taught_air::SAME_STANCE;
use crate::plan::taught_piece::Piece;
use crate::plan::torch_way::Law;
use crate::plan::trace::Failure;
use crate::plan::violation::Violation;
use crate::plan::{
    Binding, Constraint, ExternalLaw, Move, MoveKind, PathPoint, TorchAngles, Verdict, angles_of,
};

/// A taught weld that goes on by less than this between two samples stands, m: far above rounding, far below a step.
const STANDS: f64 = 1e-6;

/// What six decimals of a degree or a millimetre, as in `points.csv`, may take an angle (rad) or the tip-to-work distance (m) past an end of
/// its tolerance on which it was planned.
const FILE_ROUNDING: f64 = 1e-6;

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
    let taught = TaughtWay { setup, seam, path: &longer, given }.follow(&mut search);
    let (verdict, ways, mut bindings) = match taught {
        Ok((way, broken)) if broken.is_empty() => (Verdict::Holds, vec![way], broken),
        Ok((_, broken)) => (Verdict::CannotHold, Vec::new(), broken),
        Err(failure) => (Verdict::CannotHold, Vec::new(), vec![search.binding(failure)]),
    };
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

/// The torch at a place of the weld against the seam.
#[derive(Clone, Copy)]
struct Against {
    s: f64,
    angles: TorchAngles,
    /// How far the wire misses the root, m.
    off: f64,
}

impl TaughtWay<'_, '_> {
    /// The way with all that it breaks of what the procedure asks; an error where the arm cannot go it.
    fn follow(&self, search: &mut Search<'_, '_>) -> Result<(Way, Vec<Binding>), Failure> {
        let poses: Vec<Pose> = self.given.iter().map(|point| self.pose(&point.stance)).collect();
        let mut axes = self.start(&poses[0]);
        let mut way_in = Vec::new();
        let mut weld: Vec<PathPoint> = Vec::new();
        let mut out = Vec::new();
        // Arc length at which each weld point was taught.
        let mut taught_at: Vec<usize> = vec![0];
        let last = self.given.len() - 1;
        for index in 1..=last {
            let piece = piece(&poses, self.given, index);
            let by = self.given[index].by;
            let speed = (by == GivenMove::Weld).then(|| WeldSpeed::even(self.seam.procedure.travel_speed));
            let mut points = search.tracer.taught(&piece, speed.as_ref(), &axes)?;
            axes = points.last().map_or(axes, |point| point.axes);
            if let GivenStance::Axes(stated) = &self.given[index].stance {
                let off = axes - stated;
                if off.amax() > SAME_STANCE {
                    let s = weld.last().map_or(0.0, |point| point.s);
                    return Err(Failure { violation: Violation::of_jump(off.iamax(), off.amax()), s });
                }
            }
            match by {
                GivenMove::Weld => {
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
        };
        let legs = vec![vec![
            make(MoveKind::Approach, way_in),
            make(MoveKind::Weld { run: 0 }, weld),
            make(MoveKind::Retract, out),
        ]];
        let margins = search.margins(&legs);
        Ok((Way { law, external, legs, margins, cost: 0.0 }, broken))
    }

    fn pose(&self, stance: &GivenStance) -> Pose {
        match stance {
            GivenStance::Tool(pose) => *pose,
            GivenStance::Axes(axes) => {
                self.setup.station_from_wire_end(axes, self.setup.cell.torch.nominal_ctwd)
            }
        }
    }

    /// Axis values at the first point: stated, or of those within the limits the nearest to home.
    fn start(&self, pose: &Pose) -> AxisValues {
        if let GivenStance::Axes(axes) = &self.given[0].stance {
            return *axes;
        }
        let cell = self.setup.cell;
        let mut stances = Vec::new();
        let base_from_flange = self.setup.base_from_flange(pose, cell.torch.nominal_ctwd);
        self.setup.stances(&base_from_flange, &self.setup.whole_turns, &mut stances);
        let far = |axes: &AxisValues| (axes - cell.arm.home).amax();
        let kept = stances.iter().filter(|stance| stance.violation.is_none());
        let nearest = kept.min_by(|a, b| far(&a.axes).total_cmp(&far(&b.axes)));
        nearest.map_or(cell.arm.home, |stance| stance.axes)
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
            let pose = self.setup.station_from_wire_end(&point.axes, nominal);
            let against = self.against(&pose, guess.unwrap_or_else(|| self.nearest(&pose)));
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
            if let Some(violation) = violation.filter(|violation| violation.amount > FILE_ROUNDING) {
                let point = self.path.at(against.s).point;
                let constraint: Constraint = violation.constraint(&self.setup.scene);
                let (amount, limit, at) = (violation.amount, violation.bound, against.s);
                note(Binding { constraint, amount, limit, at, from: at, to: at, point });
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

    /// Arc length nearest to the tool; of two as near, such as both ends of a closed line, the first, where a weld begins.
    fn nearest(&self, pose: &Pose) -> f64 {
        let steps = self.setup.steps();
        let samples = self.path.samples(0.0, self.path.length(), steps.check(), steps.check_turn());
        let far = |s: &f64| (self.path.at(*s).point.coords - pose.translation.vector).norm();
        let least = samples.iter().map(far).fold(f64::INFINITY, f64::min);
        samples.into_iter().find(|s| far(s) < least + STANDS).unwrap_or(0.0)
    }

    fn against(&self, pose: &Pose, guess: f64) -> Against {
        let nominal = self.setup.cell.torch.nominal_ctwd;
        let wire = pose.rotation * Vector3::z();
        let tip = Point3::from(pose.translation.vector - wire * nominal);
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
fn piece(poses: &[Pose], given: &[GivenPoint], index: usize) -> Piece {
    if !given[index].circular {
        return Piece::straight(poses[index - 1], poses[index]);
    }
    // Second points stand at odd places of a row of circular points.
    let before = given[..index].iter().rev().take_while(|point| point.circular).count();
    let half = before % 2;
    let first = index - 1 - half;
    Piece::circular([first, first + 1, first + 2].map(|i| *poses.get(i).unwrap_or(&poses[index])))[half]
}
