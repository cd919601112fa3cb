//! Decides which motions of external axes are tried for a seam: the value each starts from, and how it follows the seam.
//!
//! Everything is worked out at samples of the seam and then made a law of few points. A law is dropped where an axis would leave its
//! range, or could not keep pace at travel speed.

use nalgebra::{Point3, Unit, Vector3};
use seamwright_kinematics::Range;

use super::external::{Candidates, MOST_CANDIDATES};
use crate::cell::frames::{AxisKind, AxisUse, ExternalAxis, ExternalValues, FrameId};
use crate::plan::ExternalLaw;
use crate::units;

/// Shares of the whole following motion that are tried.
const SHARES: [f64; 3] = [1.0, 0.5, 0.0];

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

impl Candidates<'_, '_> {
    /// The laws of one fineness.
    pub(super) fn laws(&self, fineness: u32) -> Vec<ExternalLaw> {
        let coordinated = self.seam.axis_uses.contains(&AxisUse::Coordinated);
        let shares = if coordinated { &SHARES[..] } else { &SHARES[2..] };
        let mut laws = Vec::new();
        for share in shares {
            let starts = self.starts(*share, fineness);
            laws.extend(starts.iter().filter_map(|start| self.following(start, *share)));
        }
        laws
    }

    /// Values to start from: of every free axis a grid over the part of its range that leaves room for the whole motion.
    fn starts(&self, share: f64, fineness: u32) -> Vec<ExternalValues> {
        let stated = &self.seam.external;
        let motion = self.motion(stated, share);
        let mut starts: Vec<ExternalValues> = vec![stated.clone()];
        for (index, axis) in self.cell().frames.axes.iter().enumerate() {
            if self.seam.axis_uses[index] == AxisUse::Held {
                continue;
            }
            let gone = || motion.iter().map(|(_, values)| values[index] - stated[index]);
            let range = Range {
                min: axis.range.min - gone().fold(0.0, f64::min),
                max: axis.range.max - gone().fold(0.0, f64::max),
            };
            if range.min > range.max {
                return Vec::new();
            }
            let values = grid(axis.kind, range, stated[index].clamp(range.min, range.max), fineness);
            let with = |start: &ExternalValues, value: f64| {
                let mut next = start.clone();
                next[index] = value;
                next
            };
            let next = starts.iter().flat_map(|start| values.iter().map(move |value| with(start, *value)));
            starts = next.take(MOST_CANDIDATES).collect();
        }
        starts
    }

    /// The law that starts at `start` and follows the seam by `share`; `None` where an axis cannot do it.
    fn following(&self, start: &ExternalValues, share: f64) -> Option<ExternalLaw> {
        let points = simplified(&self.cell().frames.axes, self.motion(start, share));
        let law = self.within_ranges(ExternalLaw::through(points)?)?;
        self.keeps_pace(&law).then_some(law)
    }

    /// Values at every sample of the seam, whatever the ranges.
    fn motion(&self, start: &ExternalValues, share: f64) -> Vec<(f64, ExternalValues)> {
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
        samples.into_iter().zip(values).collect()
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
    pub(super) fn open_side(&self, s: f64) -> Vector3<f64> {
        let at = self.path.at(s);
        let (sin, cos) = self.seam.procedure.work.aim.sin_cos();
        at.n1 * cos + at.b * sin
    }

    /// Where the candidates are worked out: at the layers of the search and in the gaps between stitches.
    pub(super) fn samples(&self) -> Vec<f64> {
        let steps = self.setup.steps();
        self.sampled(steps.layer(), steps.layer_turn())
    }

    pub(super) fn sampled(&self, step: f64, turn: f64) -> Vec<f64> {
        let runs = &self.seam.runs;
        self.path.samples(runs[0].start, runs[runs.len() - 1].end, step, turn)
    }
}

/// Values of an axis to try: that of the file, and a grid over its range, or over one turn of it about that value.
fn grid(kind: AxisKind, range: Range, stated: f64, fineness: u32) -> Vec<f64> {
    let turn = std::f64::consts::TAU;
    let wide = kind == AxisKind::Turn && range.max - range.min >= turn - 1e-9;
    let (low, span) = if wide { (stated, turn) } else { (range.min, range.max - range.min) };
    let steps = (span / widest_step(kind) - 1e-9).ceil().max(1.0) as u32 * 2_u32.pow(fineness);
    let mut values = vec![stated];
    for step in 0..=steps {
        let mut value = low + span * f64::from(step) / f64::from(steps);
        if wide {
            // The turn nearest to the stated value; both ends are one place.
            value = if step == steps { continue } else { value };
            if value - stated > 0.5 * turn + 1e-9 {
                value -= turn;
            }
            if value < range.min - 1e-9 {
                value += turn;
            } else if value > range.max + 1e-9 {
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
