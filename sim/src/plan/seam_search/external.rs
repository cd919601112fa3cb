//! Decides how external axes stand or move while a seam is welded: held as the file says, chosen, or coordinated with the weld.
//!
//! Candidates are laws of the arc length. A chosen axis is held at a value of a grid over its range; a coordinated one starts at such
//! a value and follows the seam: a turning axis turns the seam's open side back to where it was, a slide keeps the seam's point at
//! its place along the slide, wholly, by half, or not at all. Along a chain the axes follow one after the other, on the part's side
//! from the part outward, on the arm's side from the floor to the arm. Grids are halved until a candidate holds. Of one fineness
//! those that turn the seam's open side most nearly up come first, then those that keep the arm farther from its limits at
//! a few places. So "not found" speaks of these laws alone: others are not tried.

use nalgebra::{Point3, Unit, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::{Found, Search, layer_step, layer_turn, search_along};
use crate::cell::frames::{AxisKind, AxisUse, ExternalAxis, ExternalValues, FrameId};
use crate::cell::{Cell, Seam, SeamId, SeamPath};
use crate::plan::ExternalLaw;
use crate::plan::setup::{Along, Setup};
use crate::units;

/// Grids of values, each half as coarse as the one before.
const FINENESSES: u32 = 4;

/// Candidates of one seam, all finenesses together.
const MOST_CANDIDATES: usize = 1500;

/// Layers searched before it is asked whether a candidate holds: of a long seam two candidates, of a short one more, all of whose
/// ways are kept.
const LAYERS_AT_ONCE: usize = 150;

/// The most candidates searched before it is asked whether one holds.
const MOST_AT_ONCE: usize = 6;

/// Candidates that are searched at angles off their aim where none holds at it.
const SEARCHED_OFF_AIM: usize = 8;

/// Shares of the whole following motion that are tried.
const SHARES: [f64; 3] = [1.0, 0.5, 0.0];

/// Rungs of a seam at which a candidate is looked at before it is searched.
const LOOKED_AT: usize = 5;

/// Widest step of a coarsest grid.
fn widest_step(kind: AxisKind) -> f64 {
    match kind {
        AxisKind::Turn => units::deg(45.0),
        AxisKind::Slide => units::mm(500.0),
    }
}

/// How far a law may leave the motion it stands for, so that it has few points.
fn simplified_by(kind: AxisKind) -> f64 {
    match kind {
        AxisKind::Turn => units::deg(0.5),
        AxisKind::Slide => units::mm(1.0),
    }
}

/// Angles of the open side to upright that count as alike.
fn alike() -> f64 {
    units::deg(15.0)
}

/// Searches one seam; `setup` must be that of its station, with the external axes as the seam says first.
pub(in crate::plan) fn search(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath) -> Found {
    let seam = &setup.cell.seams[seam_id.0];
    if seam.axis_uses.iter().all(|what| *what == AxisUse::Held) {
        return search_along(&Along::held(setup), seam_id, path);
    }
    let candidates = Candidates { setup, seam_id, seam, path };
    candidates.search()
}

struct Candidates<'a, 'c> {
    setup: &'a Setup<'c>,
    seam_id: SeamId,
    seam: &'a Seam,
    path: &'a SeamPath,
}

/// A law, and how it looks before it is searched.
struct Candidate {
    law: ExternalLaw,
    /// Steps of [`alike`] by which the open side is off upright where it is worst.
    off_upright: u32,
    /// Of the places looked at, how many the torch can be put at.
    passable: usize,
    /// How near to its limits the arm must come at these, as the search counts it.
    strain: f64,
}

impl Candidates<'_, '_> {
    fn search(&self) -> Found {
        let mut seen: Vec<ExternalLaw> = Vec::new();
        let mut failing: Vec<Candidate> = Vec::new();
        let mut effort = super::Effort::default();
        for fineness in 0..FINENESSES {
            let mut laws: Vec<ExternalLaw> = Vec::new();
            for law in self.laws(fineness) {
                if seen.len() + laws.len() < MOST_CANDIDATES && !seen.contains(&law) && !laws.contains(&law) {
                    laws.push(law);
                }
            }
            seen.extend(laws.iter().cloned());
            let mut candidates: Vec<Candidate> =
                laws.into_par_iter().map(|law| self.looked_at(law)).collect();
            candidates.sort_by(|a, b| a.off_upright.cmp(&b.off_upright).then(a.strain.total_cmp(&b.strain)));
            let (open, shut): (Vec<_>, Vec<_>) =
                candidates.into_iter().partition(|candidate| candidate.passable == LOOKED_AT);
            failing.extend(shut);
            let at_once = (LAYERS_AT_ONCE / self.samples().len()).clamp(2, MOST_AT_ONCE);
            for few in open.chunks(at_once) {
                let found = self.searched(few, false);
                found.iter().for_each(|found| effort.add(&found.effort));
                if let Some(best) = best_ways(found) {
                    return Found { effort, ..best };
                }
            }
            failing.extend(open);
        }
        failing.sort_by_key(|candidate| (LOOKED_AT - candidate.passable, candidate.off_upright));
        failing.truncate(SEARCHED_OFF_AIM);
        let found = self.searched(&failing, true);
        found.iter().for_each(|found| effort.add(&found.effort));
        let least_bad = failing
            .first()
            .map_or_else(|| ExternalLaw::held(self.seam.external.clone()), |best| best.law.clone());
        match best_ways(found) {
            Some(best) => Found { effort, ..best },
            None => {
                let found = search_along(&Along::new(self.setup, least_bad), self.seam_id, self.path);
                effort.add(&found.effort);
                Found { effort, ..found }
            }
        }
    }

    /// The ways that hold by each of some laws, at angles at their aim or at any.
    fn searched(&self, candidates: &[Candidate], off_aim: bool) -> Vec<Found> {
        candidates
            .par_iter()
            .map(|candidate| {
                let along = Along::new(self.setup, candidate.law.clone());
                let mut search = Search::new(&along, self.seam_id, self.seam, self.path);
                let ways = search.ways_that_hold(off_aim);
                search.holding(ways)
            })
            .collect()
    }

    fn looked_at(&self, law: ExternalLaw) -> Candidate {
        let along = Along::new(self.setup, law);
        let mut search = Search::new(&along, self.seam_id, self.seam, self.path);
        let off_upright = self.off_upright(&along.law);
        let (passable, strain) = if self.collides(&along) { (0, 0.0) } else { search.passable(LOOKED_AT) };
        Candidate { law: along.law, off_upright, passable, strain }
    }

    /// Whether what the external axes move is too near to what they do not, at any sample of the seam.
    fn collides(&self, along: &Along<'_>) -> bool {
        let every_axis = vec![true; self.cell().frames.axes.len()];
        let samples = if along.law.is_held() { vec![0.0] } else { self.samples() };
        samples.iter().any(|s| along.at(*s).scene.tightest_turning(&every_axis, 0.0).is_some())
    }

    /// How far the open side of the seam is off upright where it is worst, in steps.
    fn off_upright(&self, law: &ExternalLaw) -> u32 {
        let worst = self.samples().into_iter().map(|s| {
            let world_from_station = self.world_from(self.station_frame(), &law.at(s));
            (world_from_station.rotation * self.open_side(s)).angle(&Vector3::z())
        });
        (worst.fold(0.0, f64::max) / alike() - 1e-6).max(0.0).floor() as u32
    }

    /// The laws of one fineness.
    fn laws(&self, fineness: u32) -> Vec<ExternalLaw> {
        let axes = &self.cell().frames.axes;
        let mut starts: Vec<ExternalValues> = vec![self.seam.external.clone()];
        for (index, axis) in axes.iter().enumerate() {
            if self.seam.axis_uses[index] == AxisUse::Held {
                continue;
            }
            let values = grid(axis, self.seam.external[index], fineness);
            starts = starts
                .iter()
                .flat_map(|start| {
                    values.iter().map(move |value| {
                        let mut next = start.clone();
                        next[index] = *value;
                        next
                    })
                })
                .take(MOST_CANDIDATES)
                .collect();
        }
        let coordinated = self.seam.axis_uses.contains(&AxisUse::Coordinated);
        let shares = if coordinated { &SHARES[..] } else { &SHARES[2..] };
        starts
            .iter()
            .flat_map(|start| shares.iter().filter_map(|share| self.following(start, *share)))
            .collect()
    }

    /// The law that starts at `start` and follows the seam by `share`; `None` where an axis cannot do it.
    fn following(&self, start: &ExternalValues, share: f64) -> Option<ExternalLaw> {
        let samples = self.samples();
        let mut values: Vec<ExternalValues> = vec![start.clone(); samples.len()];
        if share > 0.0 {
            for &axis in &self.chain(self.station_frame(), true) {
                self.follow(axis, true, share, &samples, &mut values);
            }
            for &axis in &self.chain(self.cell().arm.frame, false) {
                self.follow(axis, false, share, &samples, &mut values);
            }
        }
        let points = samples.into_iter().zip(values).collect();
        let law = ExternalLaw::through(simplified(&self.cell().frames.axes, points))?;
        let law = self.within_ranges(law)?;
        self.keeps_pace(&law).then_some(law)
    }

    /// Coordinated axes that move `frame` and not both arm and part: from it outward, or from the floor.
    fn chain(&self, frame: FrameId, outward: bool) -> Vec<usize> {
        let frames = &self.cell().frames;
        let both = |axis: usize| {
            frames.moves_with(self.station_frame(), axis) && frames.moves_with(self.cell().arm.frame, axis)
        };
        let mut axes = Vec::new();
        let mut next = Some(frame);
        while let Some(FrameId(index)) = next {
            axes.extend(frames.frames[index].axis);
            next = frames.frames[index].parent;
        }
        axes.retain(|axis| self.seam.axis_uses[*axis] == AxisUse::Coordinated && !both(*axis));
        if !outward {
            axes.reverse();
        }
        axes
    }

    /// Lets one axis follow: changes its value at every sample.
    fn follow(
        &self,
        axis: usize,
        carries_part: bool,
        share: f64,
        samples: &[f64],
        values: &mut [ExternalValues],
    ) {
        let frames = &self.cell().frames;
        let Some(frame) = frames.frames.iter().position(|frame| frame.axis == Some(axis)) else { return };
        let ExternalAxis { kind, direction, .. } = &frames.axes[axis];
        // Point and open side as the axis sees them where it stands as it does at the first sample.
        let first = values[0][axis];
        let seen: Vec<(Point3<f64>, Vector3<f64>)> = samples
            .iter()
            .zip(values.iter())
            .map(|(s, values)| {
                let mut still = values.clone();
                still[axis] = first;
                let axis_from_station = self.world_from(FrameId(frame), &still).inverse()
                    * self.world_from(self.station_frame(), &still);
                (axis_from_station * self.path.at(*s).point, axis_from_station.rotation * self.open_side(*s))
            })
            .collect();
        let gone: Vec<f64> = match kind {
            AxisKind::Slide => seen.iter().map(|(point, _)| direction.dot(&(point - seen[0].0))).collect(),
            AxisKind::Turn => {
                azimuths(&seen, direction, carries_part).unwrap_or_else(|| vec![0.0; seen.len()])
            }
        };
        // What carries the part goes back by as much, what carries the arm goes after it.
        let sense = if carries_part { -share } else { share };
        for (values, gone) in values.iter_mut().zip(gone) {
            values[axis] += sense * gone;
        }
    }

    /// The same law, whole turns away where its axes leave their ranges; `None` where there is no room for it.
    fn within_ranges(&self, law: ExternalLaw) -> Option<ExternalLaw> {
        let axes = &self.cell().frames.axes;
        let mut points = law.points().to_vec();
        for (index, axis) in axes.iter().enumerate() {
            let of_axis = || law.points().iter().map(|(_, values)| values[index]);
            let (low, high) =
                (of_axis().fold(f64::INFINITY, f64::min), of_axis().fold(f64::NEG_INFINITY, f64::max));
            let turns = match axis.kind {
                _ if low >= axis.range.min - 1e-9 && high <= axis.range.max + 1e-9 => 0.0,
                AxisKind::Slide => return None,
                AxisKind::Turn => {
                    let up = ((axis.range.min - low) / std::f64::consts::TAU - 1e-9).ceil();
                    let down = ((axis.range.max - high) / std::f64::consts::TAU + 1e-9).floor();
                    // The fewest whole turns, if any lead inside.
                    if up > down {
                        return None;
                    }
                    if up > 0.0 { up } else { down }
                }
            };
            for (_, values) in &mut points {
                values[index] += turns * std::f64::consts::TAU;
            }
        }
        ExternalLaw::through(points)
    }

    /// Whether every axis can follow the law at travel speed: its speed everywhere, and its acceleration where the law bends,
    /// if each bend is rounded over half of the shorter stretch beside it.
    fn keeps_pace(&self, law: &ExternalLaw) -> bool {
        let speed = self.seam.procedure.travel_speed;
        self.cell().frames.axes.iter().enumerate().all(|(index, axis)| {
            let rate = |pair: &[(f64, ExternalValues)]| {
                (pair[1].1[index] - pair[0].1[index]) / (pair[1].0 - pair[0].0) * speed
            };
            let bends = law.points().windows(3).all(|three| {
                let shorter = (three[1].0 - three[0].0).min(three[2].0 - three[1].0);
                (rate(&three[1..]) - rate(&three[..2])).abs() <= axis.max_acceleration * 0.5 * shorter / speed
            });
            bends && law.greatest_rate(index) * speed <= axis.max_speed
        })
    }

    /// Direction from the root toward where the torch comes from, in the station frame.
    fn open_side(&self, s: f64) -> Vector3<f64> {
        let at = self.path.at(s);
        let (sin, cos) = self.seam.procedure.work.aim.sin_cos();
        at.n1 * cos + at.b * sin
    }

    fn samples(&self) -> Vec<f64> {
        let runs = &self.seam.runs;
        self.path.samples(runs[0].start, runs[runs.len() - 1].end, layer_step(), layer_turn())
    }

    fn cell(&self) -> &Cell {
        self.setup.cell
    }

    fn station_frame(&self) -> FrameId {
        self.cell().stations[self.setup.station.0].frame
    }

    fn world_from(&self, frame: FrameId, external: &[f64]) -> Pose {
        self.cell().frames.world_from(frame, external)
    }
}

/// All ways that hold, the cheapest first: where no way through the air leads to one, another may serve.
fn best_ways(found: Vec<Found>) -> Option<Found> {
    let mut holding = found.into_iter().filter(|found| !found.ways.is_empty());
    let mut best = holding.next()?;
    best.ways.extend(holding.flat_map(|found| found.ways));
    best.ways.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    Some(best)
}

/// Values of an axis to try: that of the file, and a grid over its range, or over one turn of it about that value.
fn grid(axis: &ExternalAxis, stated: f64, fineness: u32) -> Vec<f64> {
    let turn = std::f64::consts::TAU;
    let wide = axis.kind == AxisKind::Turn && axis.range.max - axis.range.min >= turn - 1e-9;
    let (low, span) = if wide { (stated, turn) } else { (axis.range.min, axis.range.max - axis.range.min) };
    let steps = (span / widest_step(axis.kind) - 1e-9).ceil().max(1.0) as u32 * 2_u32.pow(fineness);
    let mut values = vec![stated];
    for step in 0..=steps {
        let mut value = low + span * f64::from(step) / f64::from(steps);
        if wide {
            // The turn nearest to the stated value; both ends are one place.
            value = if step == steps { continue } else { value };
            if value - stated > 0.5 * turn + 1e-9 {
                value -= turn;
            }
            if value < axis.range.min - 1e-9 {
                value += turn;
            } else if value > axis.range.max + 1e-9 {
                value -= turn;
            }
        }
        if values.iter().all(|known| (known - value).abs() > 1e-9) {
            values.push(value);
        }
    }
    values
}

/// How far the open side of the seam (where it stands too steep along the axis: the point itself; for an axis that carries the arm
/// always the point) has turned about an axis' direction since the first sample, continuous; `None` where neither has a direction.
fn azimuths(
    seen: &[(Point3<f64>, Vector3<f64>)],
    direction: &Unit<Vector3<f64>>,
    by_open_side: bool,
) -> Option<Vec<f64>> {
    let square = |v: &Vector3<f64>| v - direction.into_inner() * v.dot(direction);
    let open: Vec<Vector3<f64>> = seen.iter().map(|(_, open)| square(open)).collect();
    let points: Vec<Vector3<f64>> = seen.iter().map(|(point, _)| square(&point.coords)).collect();
    let steep = |v: &Vector3<f64>| v.norm() < 0.2;
    let vectors = if by_open_side && !open.iter().any(steep) { open } else { points };
    if vectors.iter().any(|v| v.norm() < units::mm(5.0)) {
        return None;
    }
    let mut turned = vec![0.0];
    for pair in vectors.windows(2) {
        let step = direction.dot(&pair[0].cross(&pair[1])).atan2(pair[0].dot(&pair[1]));
        turned.push(turned[turned.len() - 1] + step);
    }
    Some(turned)
}

/// As few of the points as it takes to stay near all of them, taken greedily from the start.
fn simplified(axes: &[ExternalAxis], points: Vec<(f64, ExternalValues)>) -> Vec<(f64, ExternalValues)> {
    let straight = |from: usize, to: usize| {
        let (a, b) = (&points[from], &points[to]);
        points[from + 1..to].iter().all(|(s, values)| {
            let share = (s - a.0) / (b.0 - a.0);
            axes.iter().enumerate().all(|(i, axis)| {
                (values[i] - (a.1[i] + (b.1[i] - a.1[i]) * share)).abs() <= simplified_by(axis.kind)
            })
        })
    };
    let mut kept = vec![0];
    let mut at = 0;
    let last = points.len() - 1;
    while at < last {
        at = (at + 1..=last).rev().find(|to| straight(at, *to)).unwrap_or(at + 1);
        kept.push(at);
    }
    if points.iter().all(|(_, values)| *values == points[0].1) {
        kept.truncate(1);
    }
    kept.into_iter().map(|index| points[index].clone()).collect()
}
