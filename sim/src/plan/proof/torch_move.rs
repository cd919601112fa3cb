//! Decides whether a move on which the torch is led keeps every limit all the way: a weld, or a way in, out or between stitches.
//!
//! The torch against everything that stands is shown by its own motion: the way of the wire end, and what it turns times how far a
//! body is from the wire end. For the links the axes must be bounded: [`Arm::enclosure`](seamwright_kinematics::Arm::enclosure) about the middle
//! of an interval says how far each can travel while the tool stays as near as it does, and that on that way there is one stance
//! for each place and no singularity. The stances at the ends of the interval and at every sample in it must lie in that box, so that
//! all of them are on one branch. On a weld the same bound gives the speeds.

use nalgebra::{Point3, Vector6};
use seamwright_kinematics::{AxisValues, NoRates, Pose, ToolBall, ToolRates, Travelled, Unbounded};

use super::{Doubt, Order, Refuted, Unshown, pairs_through};
use crate::cell::{SeamId, WeldSpeed};
use crate::plan::clearance::{Group, Looked, OpenPair, Spread, TorchSpread};
use crate::plan::setup::Along;
use crate::plan::torch_way::{Sweep, TorchWay};
use crate::plan::{ExternalLaw, PathPoint};

/// Axis values that differ by less than this, rad, are the same: those of a sample were found by another way to the same pose.
const SAME: f64 = 1e-7;

/// A move on which the torch is led, and how it is followed.
pub(in crate::plan) struct TorchMove<'m, 'c> {
    pub way: &'m TorchWay<'m>,
    pub along: &'m Along<'c>,
    /// The seam whose joined parts it may come near; none in the air.
    pub seam: Option<SeamId>,
    /// Rising in `s` from the move's start to its end, each with the stance there; at least one.
    pub points: &'m [PathPoint],
    /// How slow the wire end may be, on a weld.
    pub speed: Option<&'m WeldSpeed>,
}

/// Shows that a move keeps every limit all the way, and the looks it took.
pub(in crate::plan) fn torch_move(torch_move: &TorchMove<'_, '_>) -> (Result<(), Refuted>, u64) {
    let points = torch_move.points;
    let (start, end) = (points[0].s, points[points.len() - 1].s);
    let (torch, looks) = torch_move.torch(start, end);
    if torch.is_err() || end <= start {
        return (torch, looks);
    }
    let mut links = Links { of: torch_move, looks };
    let shown =
        torch_move.pieces(start, end).windows(2).try_for_each(|piece| links.piece(piece[0], piece[1]));
    (shown, links.looks)
}

/// An interval with its middle.
#[derive(Clone, Copy)]
struct Span {
    from: f64,
    middle: f64,
    to: f64,
}

impl Span {
    fn new(from: f64, to: f64) -> Self {
        Self { from, middle: f64::midpoint(from, to), to }
    }
}

impl TorchMove<'_, '_> {
    /// Shows the torch against everything that stands, and what external axes move against what they do not.
    fn torch(&self, start: f64, end: f64) -> (Result<(), Refuted>, u64) {
        let scene = &self.along.setup.scene;
        let mut open = scene.open_pairs(self.seam, Group::Torch);
        if !self.stands() {
            let axes = self.along.setup.external.len();
            let moving: Vec<bool> = (0..axes).map(|axis| self.along.law.moves(axis)).collect();
            open.extend(scene.open_turning_pairs(&moving));
        }
        let look = |from: f64, middle: f64, to: f64, open: &[OpenPair]| {
            let span = Span { from, middle, to };
            let setup = self.along.at(self.way.on_seam(middle));
            let (pose, angles) = self.way.at(middle);
            let base_from_flange = setup.base_from_flange(&pose, angles.ctwd);
            let external = self.external_off(span);
            let torch = self.torch_off(span, angles.ctwd);
            let spread = Spread {
                base_from_flange: &base_from_flange,
                arm: None,
                torch: Some(torch),
                external: &external,
            };
            (setup.scene.look(&spread, open), self.is_finest(span))
        };
        pairs_through((start, end), open, Order::AlongTheWay, |pair| pair.id(scene), look)
    }

    /// Whether no external axis moves meanwhile.
    fn stands(&self) -> bool {
        self.along.law.is_held() || self.way.on_seam(0.0) == self.way.on_seam(1.0)
    }

    /// The most that happens to the torch on either side of the middle.
    fn sweep(&self, span: Span) -> Sweep {
        let (before, after) =
            (self.way.between(span.from, span.middle), self.way.between(span.middle, span.to));
        Sweep {
            distance: before.distance.max(after.distance),
            angle: before.angle.max(after.angle),
            ctwd: before.ctwd.max(after.ctwd),
        }
    }

    /// Whether an interval is not halved again.
    fn is_finest(&self, span: Span) -> bool {
        let steps = self.along.setup.steps();
        span.to - span.from <= steps.finest() && self.sweep(span).angle <= steps.finest_turn()
    }

    fn torch_off(&self, span: Span, ctwd: f64) -> TorchSpread {
        let sweep = self.sweep(span);
        let setup = &self.along.setup;
        TorchSpread {
            station: setup.station,
            distance: sweep.distance + sweep.ctwd,
            angle: sweep.angle,
            ctwd,
            seam: self.seam,
        }
    }

    /// How far each external axis may be from its middle value; nothing where all stand.
    fn external_off(&self, span: Span) -> Vec<f64> {
        if self.stands() { Vec::new() } else { off(&self.along.law, span) }
    }

    /// Ends of stretches in which every rate of turn is constant, from `start` to `end`.
    fn pieces(&self, start: f64, end: f64) -> Vec<f64> {
        let mut marks = self.way.marks();
        if !self.stands() {
            marks.extend(self.along.law.points().iter().map(|(s, _)| *s));
        }
        marks.retain(|s| start < *s && *s < end);
        marks.extend([start, end]);
        marks.sort_by(f64::total_cmp);
        marks.dedup_by(|a, b| *a - *b < 1e-9);
        // The ends are the samples' own.
        if let Some(last) = marks.last_mut() {
            *last = end;
        }
        marks
    }

    /// The stance at `s`, on the branch of the samples.
    fn stance(&self, s: f64) -> Option<AxisValues> {
        let after = self.points.partition_point(|point| point.s < s);
        let near = match (after.checked_sub(1).map(|i| &self.points[i]), self.points.get(after)) {
            (_, Some(here)) if here.s == s => return Some(here.axes),
            (Some(before), Some(next)) => before.axes.lerp(&next.axes, (s - before.s) / (next.s - before.s)),
            (Some(only), None) | (None, Some(only)) => only.axes,
            (None, None) => return None,
        };
        let (pose, angles) = self.way.at(s);
        let setup = self.along.at(self.way.on_seam(s));
        setup.stance_near(&setup.base_from_flange(&pose, angles.ctwd), &near).ok()
    }

    /// Samples strictly between two places.
    fn samples(&self, from: f64, to: f64) -> &[PathPoint] {
        let first = self.points.partition_point(|point| point.s <= from);
        let end = self.points.partition_point(|point| point.s < to);
        &self.points[first.min(end)..end]
    }
}

/// How far each axis of a law may be from its middle value.
fn off(law: &ExternalLaw, span: Span) -> Vec<f64> {
    let middle = law.at(span.middle);
    let inner =
        law.points().iter().filter(|(s, _)| span.from < *s && *s < span.to).map(|(_, values)| values.clone());
    let ends = [law.at(span.from), law.at(span.to)];
    let mut off = vec![0.0_f64; middle.len()];
    for values in inner.chain(ends) {
        for (off, (value, middle)) in off.iter_mut().zip(values.iter().zip(&middle)) {
            *off = off.max((value - middle).abs());
        }
    }
    off
}

/// Shows what takes the axes to be bounded.
struct Links<'l, 'm, 'c> {
    of: &'l TorchMove<'m, 'c>,
    looks: u64,
}

/// What is still to be shown in an interval.
struct Task {
    from: (f64, AxisValues),
    to: (f64, AxisValues),
    open: Vec<OpenPair>,
    /// Whether ranges and speeds are shown already.
    limits_shown: bool,
}

impl Links<'_, '_, '_> {
    /// Shows a stretch in which every rate of turn is constant.
    fn piece(&mut self, from: f64, to: f64) -> Result<(), Refuted> {
        let stance = |s: f64| {
            let unshown = Refuted { doubt: Doubt::Unshown(Unshown::Travel(0)), at: s };
            self.of.stance(s).map(|axes| (s, axes)).ok_or(unshown)
        };
        let open = self.of.along.setup.scene.open_pairs(self.of.seam, Group::Links);
        let mut waiting = vec![Task { from: stance(from)?, to: stance(to)?, open, limits_shown: false }];
        while let Some(task) = waiting.pop() {
            if let Some([first, second]) = self.task(task)? {
                waiting.extend([second, first]);
            }
        }
        Ok(())
    }

    /// Looks at one interval: nothing where all is shown, else its halves.
    fn task(&mut self, task: Task) -> Result<Option<[Task; 2]>, Refuted> {
        self.looks += 1;
        let span = Span::new(task.from.0, task.to.0);
        let refuted = |doubt| Err(Refuted { doubt, at: span.middle });
        let finest = self.of.is_finest(span);
        let Some(middle) = self.of.stance(span.middle) else {
            return refuted(Doubt::Unshown(Unshown::Travel(0)));
        };
        let halves = |open: Vec<OpenPair>, limits_shown: bool| {
            let half = |from, to| Task { from, to, open: open.clone(), limits_shown };
            let middle = (span.middle, middle);
            Some([half(task.from, middle), half(middle, task.to)])
        };
        let bounded = self.travelled(span, &middle).map_err(|unbounded| match unbounded {
            Unbounded::TooFar { axis } | Unbounded::NoRates(NoRates::Singular { axis }) => axis,
            Unbounded::NoRates(NoRates::NotFinite) | Unbounded::NoBall => 0,
        });
        let travelled = match bounded {
            Ok(travelled) => travelled,
            Err(axis) if finest => return refuted(Doubt::Unshown(Unshown::Travel(axis))),
            Err(_) => return Ok(halves(task.open, task.limits_shown)),
        };
        let samples = self.of.samples(span.from, span.to).iter().map(|point| point.axes);
        let outside = [task.from.1, task.to.1].into_iter().chain(samples).find_map(|axes| {
            let beyond = (axes - middle).abs() - travelled.travel;
            (beyond.max() > SAME).then(|| beyond.imax())
        });
        if let Some(axis) = outside {
            return if finest {
                refuted(Doubt::Unshown(Unshown::Travel(axis)))
            } else {
                Ok(halves(task.open, task.limits_shown))
            };
        }
        let exceeded = if task.limits_shown { None } else { self.exceeded(&middle, &travelled) };
        if let (Some(unshown), true) = (exceeded, finest) {
            return refuted(Doubt::Unshown(unshown));
        }
        let open = match self.look(span, &middle, &travelled.travel, &task.open) {
            Looked::TooNear(pair) => return refuted(Doubt::TooNear(pair)),
            Looked::Open(open) => open,
        };
        match open.first() {
            Some(pair) if finest => {
                refuted(Doubt::Unshown(Unshown::Clearance(pair.id(&self.of.along.setup.scene))))
            }
            None if exceeded.is_none() => Ok(None),
            _ => Ok(halves(open, exceeded.is_none())),
        }
    }

    /// How far and how fast the axes go while the torch goes over an interval.
    fn travelled(&self, span: Span, middle: &AxisValues) -> Result<Travelled, Unbounded> {
        let of = self.of;
        let setup = &of.along.setup;
        let ctwd = of.way.at(span.middle).1.ctwd;
        let wire_end_in_flange =
            setup.cell.torch.flange_from_tool * Point3::new(0.0, 0.0, ctwd - setup.cell.torch.nominal_ctwd);
        let base_from_flange = |s: f64| -> Pose {
            let (pose, angles) = of.way.at(s);
            of.along.at(of.way.on_seam(s)).base_from_flange(&pose, angles.ctwd)
        };
        let sweep = of.sweep(span);
        let external = of.external_off(span);
        let mut ball = ToolBall { distance: sweep.distance + sweep.ctwd, angle: sweep.angle };
        if !external.is_empty() {
            let placed = of.along.at(of.way.on_seam(span.middle));
            let wire_end = base_from_flange(span.middle) * wire_end_in_flange;
            let (distance, angle) = placed.scene.station_off(setup.station, &external, &wire_end);
            // The wire end is no farther from where the external axes were bounded than it went in the station.
            ball.distance += distance + angle * ball.distance;
            ball.angle += angle;
        }
        let arm = &setup.cell.arm.arm;
        let Some(speed) = of.speed else {
            let travel = arm.enclosure(middle, &wire_end_in_flange, ball)?;
            return Ok(Travelled { travel, rates: AxisValues::zeros() });
        };
        let (first, last) = (base_from_flange(span.from), base_from_flange(span.to));
        let length = span.to - span.from;
        let way = last * wire_end_in_flange - first * wire_end_in_flange;
        let turn = (last.rotation * first.rotation.inverse()).scaled_axis();
        let mean = Vector6::new(way.x, way.y, way.z, turn.x, turn.y, turn.z) / length;
        // Rates of turn are constant here and each turns what is inside it, so no rate changes by more than twice what turns
        // meanwhile times itself.
        let turned = 2.0 * ball.angle;
        let rates = ToolRates {
            mean,
            linear_spread: 2.0 * turned * 2.0 * ball.distance / length + of.way.bend(length),
            angular_spread: 2.0 * turned * turned / length,
        };
        let travelled = arm.enclosure_with_rates(middle, &wire_end_in_flange, ball, &rates)?;
        Ok(Travelled { rates: travelled.rates * speed.least(span.from, span.to), ..travelled })
    }

    /// A limit of the arm itself that the axes may exceed.
    fn exceeded(&self, middle: &AxisValues, travelled: &Travelled) -> Option<Unshown> {
        let cell = self.of.along.setup.cell;
        let arm = &cell.arm.arm;
        if let Some((drive, _)) = arm.range_excess_around(middle, &travelled.travel) {
            return Some(Unshown::Range(drive));
        }
        if let Some(name) = cell.torch.dress.excess_around(middle, &travelled.travel) {
            return Some(Unshown::Hose(name));
        }
        self.of.speed?;
        let fastest = arm.greatest_speed_use(&travelled.rates);
        (fastest.share() > 1.0).then_some(Unshown::Speed(fastest.drive))
    }

    fn look(&self, span: Span, middle: &AxisValues, off: &AxisValues, open: &[OpenPair]) -> Looked {
        if open.is_empty() {
            return Looked::Open(Vec::new());
        }
        let setup = self.of.along.at(self.of.way.on_seam(span.middle));
        let forward = setup.cell.arm.arm.forward(middle);
        let external = self.of.external_off(span);
        let spread = Spread {
            base_from_flange: &forward.base_from_flange,
            arm: Some((&forward, off)),
            torch: None,
            external: &external,
        };
        setup.scene.look(&spread, open)
    }
}
