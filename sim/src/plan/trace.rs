//! Decides whether the arm really goes where a plan says: follows the torch in small steps on one branch and asks every limit
//! at each of them.

use std::borrow::Cow;

use nalgebra::Vector3;
use seamwright_kinematics::{AxisValues, Drive, Pose};

use super::clearance::{AtSeam, PairId};
use super::proof::{self, Doubt, Refuted, TorchMove};
use super::setup::{Along, Setup};
use super::taught_piece::Piece;
use super::torch_way::{Law, TorchWay, way_out};
use super::violation::{Limit, Violation};
use super::{ClearanceMargin, Margins, PathPoint, TorchAngles, station_from_tool};
use crate::cell::{
    Fitted, Run, Seam, SeamId, SeamPath, SeamPoint, TouchSearch, WeldSpeed, frames::ExternalValues,
};
use crate::units;

/// Where a trace failed and why.
#[derive(Clone, Copy, Debug)]
pub(super) struct Failure {
    pub violation: Violation,
    /// As the trace counts it: arc length on a seam, distance in the air.
    pub s: f64,
}

/// An axis that turns further than this between two samples is followed in smaller steps.
fn followed_turn() -> f64 {
    units::deg(5.0)
}

/// A step this short (m) over which an axis still turns far is a jump.
const SHORTEST_STEP: f64 = 4e-6;

/// Points nearer to each other are passed over where accelerations are asked: their second differences would be noise, m.
const SHORTEST_DIFFERENCE: f64 = 1e-5;

/// Steps that a way is longer by, in a file that has rounded its ends: as planned, it is asked at the same places.
const FILE_ROUNDING: f64 = 1e-3;

/// Samples of a weave that are followed before it is asked whether the axes can speed up as fast.
const SAMPLES_AT_ONCE: usize = 64;

/// Margins that differ by less (m, rad, shares of a speed) are even, and the first of them counts: else rounding would decide which
/// place is named.
const NOISE: f64 = 1e-9;

/// A point of a way whose margins are measured.
pub(super) struct Measured<'p> {
    /// Arc length along the seam that it is counted at, m.
    pub at: f64,
    /// How slow it may be, on a weld.
    pub speed: Option<&'p WeldSpeed>,
    pub point: &'p PathPoint,
    /// From contact tip to wire end there, m.
    pub ctwd: f64,
    /// External axes there.
    pub external: ExternalValues,
}

/// Follows the torch for one seam; remembers which pair of bodies blocked last, since it often blocks next.
pub(super) struct Tracer<'a, 'c> {
    pub along: &'a Along<'c>,
    pub seam_id: SeamId,
    pub seam: &'a Seam,
    pub path: &'a SeamPath,
    /// Whether the torch is on its way through the air and keeps clear of all parts.
    pub in_air: bool,
    pub hint: Option<PairId>,
    /// The same of the torch by itself.
    pub torch_hint: Option<PairId>,
    pub clearance_queries: u64,
    pub poses: u64,
}

impl<'a, 'c> Tracer<'a, 'c> {
    /// For the torch at the seam, and on the ways that serve it.
    pub fn serving(along: &'a Along<'c>, seam_id: SeamId, path: &'a SeamPath) -> Self {
        Self {
            along,
            seam_id,
            seam: &along.setup.cell.seams[seam_id.0],
            path,
            in_air: false,
            hint: None,
            torch_hint: None,
            clearance_queries: 0,
            poses: 0,
        }
    }

    /// For the torch on its way to the seam through the air.
    pub fn in_air(along: &'a Along<'c>, seam_id: SeamId, path: &'a SeamPath) -> Self {
        Self { in_air: true, ..Self::serving(along, seam_id, path) }
    }

    /// What stands where at arc length `s`.
    pub fn setup_at(&self, s: f64) -> Cow<'a, Setup<'c>> {
        self.along.at(s)
    }

    /// The stretch `of` the run with index `run`, welded by `law`, starting near `start`; checked every `Steps::check`.
    pub fn weld(
        &mut self,
        law: &Law,
        run: usize,
        of: Run,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let seam = self.seam;
        let weave = weave_of(seam, run);
        let steps = self.along.setup.steps();
        let mut samples = self.path.samples(of.start, of.end, steps.check(), steps.check_turn());
        if let Some(weave) = &weave {
            samples.extend(weave.samples().into_iter().filter(|s| *s > of.start && *s < of.end));
        }
        let marks = law.points.iter().map(|(s, _)| *s);
        let marks = marks
            .chain(self.along.law.points().iter().map(|(s, _)| *s))
            .chain(seam.procedure.band_changes(&seam.runs[run]))
            .filter(|s| *s > of.start && *s < of.end);
        samples.extend(marks);
        samples.sort_by(f64::total_cmp);
        samples.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        for &s in &samples {
            let bands = seam.procedure.bands(&seam.runs[run], s);
            if let Some(violation) = Violation::of_angles(&bands, &law.at(s)) {
                return Err(Failure { violation, s });
            }
        }
        let slowest = WeldSpeed::new(self.seam, self.path);
        let speed = Some(&slowest);
        let way = TorchWay::weld(self.path, law, weave);
        if !weave.is_some_and(|weave| weave.is_smooth()) {
            return self.follow(&samples, &way, speed, start);
        }
        // Wave by wave, and whether it is too fast before whether it clears, so that one that is is found out soon and told as that.
        let mut points: Vec<PathPoint> = Vec::with_capacity(samples.len());
        let mut from = 0;
        while from + 1 < samples.len() || points.is_empty() {
            let to = (from + SAMPLES_AT_ONCE).min(samples.len() - 1);
            let near = points.last().map_or(*start, |point| point.axes);
            let some = self.sampled(&samples[from..=to], &way, speed, &near)?;
            let known = points.len();
            points.extend(some.iter().skip(usize::from(from > 0)).copied());
            self.accelerations(&points[known.saturating_sub(2)..])?;
            self.prove(&way, &some, speed)?;
            from = to;
        }
        Ok(points)
    }

    /// Whether every axis can speed up and slow down as a weave at travel speed asks: second differences over three points.
    fn accelerations(&self, points: &[PathPoint]) -> Result<(), Failure> {
        let speed = self.seam.procedure.travel_speed;
        let axes = self.along.setup.cell.arm.arm.axes();
        for three in points.windows(3) {
            let [before, after] = [0, 1].map(|i| three[i + 1].s - three[i].s);
            if before.min(after) < SHORTEST_DIFFERENCE {
                continue;
            }
            let [before, after] = [before, after].map(|length| length / speed);
            let [was, will] =
                [(0, before), (1, after)].map(|(i, time)| (three[i + 1].axes - three[i].axes) / time);
            let acceleration = (will - was) / (0.5 * (before + after));
            for (axis, of) in axes.iter().enumerate() {
                let limit = of.max_acceleration.value;
                let share = acceleration[axis].abs() / limit;
                if share > 1.0 {
                    let violation = Violation::of_acceleration(axis, share, limit);
                    return Err(Failure { violation, s: three[1].s });
                }
            }
        }
        Ok(())
    }

    /// Back along the seam by `distance` (m) from arc length `from`, arc on; `s` of the points is the distance gone back.
    pub fn back(
        &mut self,
        law: &Law,
        from: f64,
        distance: f64,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let steps = self.along.setup.steps();
        let samples = self.path.samples(from - distance, from, steps.check(), steps.check_turn());
        let samples: Vec<f64> = samples.into_iter().rev().map(|s| from - s).collect();
        let speed = WeldSpeed::even(self.seam.procedure.travel_speed);
        let speed = Some(&speed);
        let back = self.follow(&samples, &TorchWay::back(self.path, law, from), speed, start);
        back.map_err(|failure| Failure { s: from - failure.s, ..failure })
    }

    /// One touch search, torch and external axes standing as their laws have them there: the way in, to the face, back from it, and
    /// out; starting near `start`.
    pub fn touch(
        &mut self,
        law: &Law,
        search: &TouchSearch,
        start: &AxisValues,
    ) -> Result<[Vec<PathPoint>; 4], Failure> {
        let angles = law.at(search.at);
        let at = SeamPoint { point: search.touches_at(self.path), ..self.path.root_at(search.at) };
        let touching = station_from_tool(&at, &angles);
        let back = -search.toward(self.path).into_inner() * search.distance;
        let out = back + way_out(self.seam, &touching) * self.seam.procedure.approach;
        let touch = Vector3::zeros();
        let mut axes = *start;
        let mut go = |from: Vector3<f64>, to: Vector3<f64>| {
            let length = (to - from).norm();
            let mut first = touching;
            first.translation.vector += from;
            let way = TorchWay::straight(self.path, law, search.at, first, (to - from) / length);
            let count = (length / self.along.setup.steps().check() - 1e-9).ceil().max(1.0) as usize;
            let samples: Vec<f64> = (0..=count).map(|i| length * i as f64 / count as f64).collect();
            let points = self.follow(&samples, &way, None, &axes);
            let points = points.map_err(|failure| Failure { s: search.at, ..failure })?;
            axes = points.last().map_or(axes, |point| point.axes);
            Ok(points)
        };
        Ok([go(out, back)?, go(back, touch)?, go(touch, back)?, go(back, out)?])
    }

    /// Straight away from the torch's place at `s`, by `distance` (m); the first point is on the seam.
    pub fn leave(
        &mut self,
        law: &Law,
        s: f64,
        distance: f64,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let count = (distance / self.along.setup.steps().check() - 1e-9).ceil().max(1.0) as usize;
        let samples: Vec<f64> = (0..=count).map(|i| distance * i as f64 / count as f64).collect();
        self.follow(&samples, &TorchWay::leave(self.seam, self.path, law, s), None, start)
    }

    /// The worst limit not kept at a few places on the way straight out, at so many m from the seam: clearances and reach, and where
    /// `of_arm` the ranges of the arm too.
    pub fn blocked_on_leaving(
        &mut self,
        law: &Law,
        s: f64,
        distance: f64,
        start: &AxisValues,
        of_arm: bool,
    ) -> Option<Failure> {
        let way = TorchWay::leave(self.seam, self.path, law, s);
        let setup = self.setup_at(s);
        let mut axes = *start;
        let mut worst: Option<Failure> = None;
        for out in [0.25, 0.5, 0.75, 1.0].map(|share| distance * share) {
            let (lifted, angles) = way.at(out);
            let base_from_flange = setup.base_from_flange(&lifted, angles.ctwd);
            let blocked = match setup.stance_near(&base_from_flange, &axes) {
                Ok(there) => {
                    axes = there;
                    let own = if of_arm { setup.axis_violation(&axes) } else { None };
                    let clearance = self.clearance_violation_roughly(&setup, &axes, angles.ctwd);
                    own.map_or(clearance, |own| Some(own.worse(clearance)))
                }
                Err(violation) => Some(violation),
            };
            if let Some(violation) = blocked
                && worst.is_none_or(|worst| violation.exceeds(&worst.violation))
            {
                worst = Some(Failure { violation, s: out });
            }
        }
        worst
    }

    /// How far the arm is short, at most, of a few places on the way straight out of a place that is out of its reach itself.
    pub fn short_on_leaving(&self, law: &Law, s: f64, distance: f64, near: &AxisValues) -> Option<Failure> {
        let way = TorchWay::leave(self.seam, self.path, law, s);
        let setup = self.setup_at(s);
        let mut worst: Option<Failure> = None;
        for out in [0.25, 0.5, 0.75, 1.0].map(|share| distance * share) {
            let (lifted, angles) = way.at(out);
            let there = setup.stance_near(&setup.base_from_flange(&lifted, angles.ctwd), near);
            if let Err(violation) = there
                && worst.is_none_or(|worst| violation.exceeds(&worst.violation))
            {
                worst = Some(Failure { violation, s: out });
            }
        }
        worst
    }

    /// Along the seam from one run to the next, lifted by `lift` (m).
    pub fn shift(
        &mut self,
        law: &Law,
        (from, to): (f64, f64),
        lift: f64,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let steps = self.along.setup.steps();
        let samples = self.path.samples(from, to, steps.check(), steps.check_turn());
        let way = TorchWay::shift(self.seam, self.path, law, lift);
        let mut points = self.follow(&samples, &way, None, start)?;
        for point in &mut points {
            point.s -= from;
        }
        Ok(points)
    }

    /// A taught piece of a way; `s` of the points is the way along it.
    pub fn taught(
        &mut self,
        piece: &Piece,
        speed: Option<&WeldSpeed>,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let turned = piece.from.rotation.angle_to(&piece.to.rotation).max(piece.turned());
        let way = piece.way();
        let steps = self.along.setup.steps();
        let count = (way / steps.check()).max(turned / steps.check_turn()) - FILE_ROUNDING;
        let count = count.ceil().max(1.0) as usize;
        let samples: Vec<f64> = (0..=count).map(|i| way * i as f64 / count as f64).collect();
        let law = Law { points: vec![(0.0, TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd: 0.0 })] };
        self.follow(&samples, &TorchWay::taught(self.path, &law, *piece), speed, start)
    }

    /// The torch at this seam with the wire `ctwd` (m) out of the contact tip.
    fn at_seam(&self, ctwd: f64) -> Option<AtSeam> {
        self.serves().map(|seam| AtSeam { seam, ctwd })
    }

    /// The seam whose joined parts the torch may come near; none in the air.
    fn serves(&self) -> Option<SeamId> {
        (!self.in_air).then_some(self.seam_id)
    }

    /// Whether every pair of bodies keeps its clearance and `spare` (m) more at `axes`, the wire `ctwd` (m) out of the contact tip.
    pub fn clears_by(&mut self, setup: &Setup<'_>, axes: &AxisValues, ctwd: f64, spare: f64) -> bool {
        self.clearance_queries += 1;
        let forward = setup.cell.arm.arm.forward(axes);
        let at_seam = self.at_seam(ctwd);
        setup.scene.clears_by(&forward, at_seam, spare, &mut self.hint)
    }

    /// Whether the torch by itself keeps its clearance with the flange at `base_from_flange`, the wire `ctwd` (m) out of the contact tip.
    pub fn torch_clears(&mut self, setup: &Setup<'_>, base_from_flange: &Pose, ctwd: f64) -> bool {
        let at_seam = self.at_seam(ctwd);
        setup.scene.torch_clears(base_from_flange, at_seam, &mut self.torch_hint)
    }

    /// As [`Self::torch_clears`] of what is round about the wire, so that it holds at any turn about it.
    pub fn round_clears(&mut self, setup: &Setup<'_>, base_from_flange: &Pose, ctwd: f64) -> bool {
        let at_seam = self.at_seam(ctwd);
        setup.scene.round_clears(base_from_flange, at_seam, &mut self.torch_hint)
    }

    /// The clearance that `axes` does not keep, measured.
    pub fn clearance_violation(
        &mut self,
        setup: &Setup<'_>,
        axes: &AxisValues,
        ctwd: f64,
    ) -> Option<Violation> {
        self.clearance_queries += 1;
        let forward = setup.cell.arm.arm.forward(axes);
        let gap = setup.scene.tightest(&forward, self.at_seam(ctwd), 0.0)?;
        Violation::of_gap(&gap, Limit::Clearance)
    }

    /// The pair that blocked last, where no distance is asked of it and it just touches.
    fn touching(&self) -> Violation {
        let pair = self.hint.expect("a check that fails leaves the pair that made it fail");
        Violation { limit: Limit::Clearance(pair), amount: 0.0, bound: None }
    }

    /// As [`Self::clearance_violation`], quicker and rougher: for ranking many stances.
    pub fn clearance_violation_roughly(
        &mut self,
        setup: &Setup<'_>,
        axes: &AxisValues,
        ctwd: f64,
    ) -> Option<Violation> {
        self.clearance_queries += 1;
        let forward = setup.cell.arm.arm.forward(axes);
        let gap = setup.scene.worst_roughly(&forward, self.at_seam(ctwd))?;
        Violation::of_gap(&gap, Limit::Clearance)
    }

    /// The smallest margins over moves that hold.
    pub fn margins<'p>(&mut self, points: impl Iterator<Item = Measured<'p>>) -> Option<Margins> {
        let setup = &self.along.setup;
        let arm = &setup.cell.arm.arm;
        let mut margins: Option<Margins> = None;
        let mut before: Option<(f64, AxisValues)> = None;
        for Measured { at, speed, point, ctwd, external } in points {
            let margins = margins.get_or_insert(Margins {
                axis: (0, f64::INFINITY, at),
                motor: None,
                hose: None,
                clearance: None,
                wrist: (f64::INFINITY, at),
                speed: (0, 0.0, at),
                motor_speed: None,
            });
            for range in arm.range_uses(&point.axes) {
                let margin = range.margin();
                match range.drive {
                    Drive::Axis(axis) if margin < margins.axis.1 - NOISE => margins.axis = (axis, margin, at),
                    Drive::Axis(_) => {}
                    Drive::Motor(motor) => {
                        let of_axis = margin / range.per_axis;
                        if margins.motor.is_none_or(|(.., least, _)| of_axis < least - NOISE) {
                            margins.motor = Some((motor, margin, of_axis, at));
                        }
                    }
                }
            }
            if let (Some(speed), Some((s, axes))) = (speed, before)
                && at > s
            {
                for used in arm.speed_uses(&((point.axes - axes) / (at - s) * speed.least(s, at))) {
                    let share = used.share();
                    match used.drive {
                        Drive::Axis(axis) if share > margins.speed.1 + NOISE => {
                            margins.speed = (axis, share, at)
                        }
                        Drive::Axis(_) => {}
                        Drive::Motor(motor) => {
                            if margins.motor_speed.is_none_or(|(_, most, _)| share > most + NOISE) {
                                margins.motor_speed = Some((motor, share, at));
                            }
                        }
                    }
                }
            }
            before = speed.map(|_| (at, point.axes));
            for (name, range, value) in setup.cell.torch.dress.values(&point.axes) {
                let margin = range.margin(value);
                if margins.hose.is_none_or(|(_, least, _)| margin < least - NOISE) {
                    margins.hose = Some((name, margin, at));
                }
            }
            let wrist = arm.singularity(&point.axes).wrist;
            if wrist < margins.wrist.0 - NOISE {
                margins.wrist = (wrist, at);
            }
            self.clearance_queries += 1;
            let within =
                margins.clearance.as_ref().map_or(units::mm(200.0), |c| c.distance - c.asked - NOISE);
            let forward = arm.forward(&point.axes);
            let placed;
            let scene = if setup.external == external {
                &setup.scene
            } else {
                placed = setup.scene.at(&external);
                &placed
            };
            if let Some(gap) = scene.tightest(&forward, Some(AtSeam { seam: self.seam_id, ctwd }), within)
                && gap.margin() < within
            {
                let (body, other) = scene.pair_names(gap.pair);
                margins.clearance =
                    Some(ClearanceMargin { body, other, distance: gap.distance, asked: gap.asked, at });
            }
        }
        margins
    }

    /// The torch by `way` at every one of `samples`, starting near `start`, and shown between them; with a `speed` the axes must keep
    /// theirs at the least there may be.
    pub fn follow(
        &mut self,
        samples: &[f64],
        way: &TorchWay<'_>,
        speed: Option<&WeldSpeed>,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let points = self.sampled(samples, way, speed, start)?;
        self.prove(way, &points, speed)?;
        Ok(points)
    }

    /// As [`Self::follow`], but not shown between the samples.
    fn sampled(
        &mut self,
        samples: &[f64],
        way: &TorchWay<'_>,
        speed: Option<&WeldSpeed>,
        start: &AxisValues,
    ) -> Result<Vec<PathPoint>, Failure> {
        let arm = &self.along.setup.cell.arm.arm;
        // Torch angles belong to a weld, and only a weld has a speed.
        let weld = speed.is_some();
        let mut points: Vec<PathPoint> = Vec::with_capacity(samples.len());
        let mut axes = *start;
        for (index, &s) in samples.iter().enumerate() {
            let before = axes;
            axes = if index == 0 {
                self.nearest(way, s, &axes)?
            } else {
                self.advance(way, samples[index - 1], &axes, s)?
            };
            let fail = |violation| Err(Failure { violation, s });
            if let Some(violation) = self.along.setup.axis_violation(&axes) {
                return fail(violation);
            }
            if let (Some(speed), true) = (speed, index > 0) {
                let time = (s - samples[index - 1]) / speed.least(samples[index - 1], s);
                if let Some(over) = arm.speed_uses(&((axes - before) / time)).find(|at| at.share() > 1.0) {
                    return fail(Violation::of_speed(over.drive, over.share(), over.limit));
                }
            }
            points.push(PathPoint { s, axes, angles: weld.then(|| way.at(s).1) });
        }
        Ok(points)
    }

    /// Shows that a move keeps every limit between its samples too.
    fn prove(
        &mut self,
        way: &TorchWay<'_>,
        points: &[PathPoint],
        speed: Option<&WeldSpeed>,
    ) -> Result<(), Failure> {
        let along = self.along;
        let torch_move = TorchMove { way, along, seam: self.serves(), points, speed };
        let (shown, looks) = proof::torch_move(&torch_move);
        self.clearance_queries += looks;
        let Err(Refuted { doubt, at }) = shown else { return Ok(()) };
        let violation = match doubt {
            Doubt::Unshown(unshown) => Violation::of_unshown(unshown, along.setup.steps()),
            Doubt::TooNear(pair) => {
                self.hint = Some(pair);
                let after = points.partition_point(|point| point.s < at).min(points.len() - 1);
                let axes = self.nearest(way, at, &points[after].axes)?;
                let setup = self.setup_at(way.on_seam(at));
                let ctwd = way.at(at).1.ctwd;
                self.clearance_violation_roughly(&setup, &axes, ctwd).unwrap_or_else(|| self.touching())
            }
        };
        Err(Failure { violation, s: at })
    }

    /// From `axes` at `from` to the same branch at `to`, in as many steps as it takes to see that it is the same.
    fn advance(
        &mut self,
        way: &TorchWay<'_>,
        from: f64,
        axes: &AxisValues,
        to: f64,
    ) -> Result<AxisValues, Failure> {
        let next = self.nearest(way, to, axes)?;
        let step = next - axes;
        if step.amax() <= followed_turn() {
            return Ok(next);
        }
        if to - from <= SHORTEST_STEP {
            return Err(Failure { violation: Violation::of_jump(step.iamax(), step.amax()), s: to });
        }
        let middle = 0.5 * (from + to);
        let halfway = self.advance(way, from, axes, middle)?;
        self.advance(way, middle, &halfway, to)
    }

    fn nearest(&mut self, way: &TorchWay<'_>, s: f64, axes: &AxisValues) -> Result<AxisValues, Failure> {
        self.poses += 1;
        let (station_from_wire_end, angles) = way.at(s);
        let setup = self.setup_at(way.on_seam(s));
        let base_from_flange = setup.base_from_flange(&station_from_wire_end, angles.ctwd);
        setup.stance_near(&base_from_flange, axes).map_err(|violation| Failure { violation, s })
    }
}

/// How the wire end weaves on one weld of a seam.
pub(super) fn weave_of(seam: &Seam, run: usize) -> Option<Fitted> {
    seam.procedure.weave?.fitted(seam.runs[run], seam.procedure.travel_speed)
}
