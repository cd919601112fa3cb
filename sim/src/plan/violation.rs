//! Decides how limits of different kinds are compared, so that the one that binds can be named.
//!
//! One *band* is 1 mm of distance, 1° of angle (of an axis, also where a motor is what is limited), or 1 % of a speed limit: amounts that a fixture designer would call about equally
//! hard to win back. It orders violations only; every reported amount is in its own unit.

use seamwright_kinematics::{Drive, Range, RangeUse, ReachBound, Shortfall};

use super::clearance::{Gap, PairId, Scene};
use super::proof::Unshown;
use super::rule::{Rule, TorchAngle};
use super::steps::Steps;
use super::{Constraint, NotShown, TorchAngles};
use crate::cell::{Bands, CornerZone, SeamPath};
use crate::units;

/// A limit, before names are put to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Limit {
    /// m beyond what the arm can span.
    Reach(ReachBound),
    /// rad outside the range of an axis (0-based).
    AxisRange(usize),
    /// rad outside the range of a motor (0-based), which turns by `per_axis` when the axis that moves it most turns by 1.
    MotorRange { motor: usize, per_axis: f64 },
    /// rad outside a hose limit.
    Hose(&'static str),
    /// m short of the clearance asked of a pair.
    Clearance(PairId),
    /// m short, with no arm in the way: the nozzle does not fit into the joint.
    JointTooTight(PairId),
    /// Share above the speed limit of an axis.
    AxisSpeed(usize),
    /// Share above the speed limit of a motor.
    MotorSpeed(usize),
    /// Share above the acceleration limit of an axis.
    AxisAcceleration(usize),
    /// rad that an axis would jump.
    Flip(usize),
    /// rad or m by which the torch would be off beyond its tolerance.
    Angle(TorchAngle),
    /// m of the step down to which it was looked at: kept at samples, but not shown between them.
    Unshown(Unshown),
}

/// Bands within which two violations are even, so that the first counts and rounding names no limit and no place.
const NOISE: f64 = 1e-6;

/// Torch angles (rad) and distances (m) this little outside their tolerance are rounding.
const ROUNDING: f64 = 1e-9;

/// What six decimals of a degree or a millimetre, as in `points.csv`, may take an angle (rad) or the tip-to-work distance (m) past an end of
/// its tolerance on which it was planned.
const FILE_ROUNDING: f64 = 1e-6;
/// How far half a millionth of a degree of an axis puts the wire end beside its place at an arm's length, m: there a corner zone of a tenth
/// of a millimetre asks other angles, some thousandths of a degree off.
const FILE_ROUNDING_OF_PLACES: f64 = 1e-8;

/// A limit that is not kept, and by how much in its own unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Violation {
    pub limit: Limit,
    pub amount: f64,
    /// The number that is not kept, where there is one: range end (rad), distance asked (m), speed limit (rad/s).
    pub bound: Option<f64>,
}

impl Violation {
    /// The pair's clearance falls short.
    pub fn of_gap(gap: &Gap, limit: fn(PairId) -> Limit) -> Option<Self> {
        let short = -gap.margin();
        (short > 0.0).then(|| Self { limit: limit(gap.pair), amount: short, bound: Some(gap.asked) })
    }

    /// `value` lies outside `range`.
    pub fn of_range(range: &Range, value: f64, limit: Limit) -> Option<Self> {
        let bound = if value < range.min { range.min } else { range.max };
        let amount = range.excess(value);
        (amount > 0.0).then_some(Self { limit, amount, bound: Some(bound) })
    }

    /// An axis or motor lies outside its range.
    pub fn of_range_use(at: &RangeUse) -> Option<Self> {
        let limit = match at.drive {
            Drive::Axis(axis) => Limit::AxisRange(axis),
            Drive::Motor(motor) => Limit::MotorRange { motor, per_axis: at.per_axis },
        };
        Self::of_range(&at.range, at.value, limit)
    }

    /// The pose lies beyond what the arm can span.
    pub fn of_shortfall(shortfall: &Shortfall) -> Self {
        Self { limit: Limit::Reach(shortfall.bound), amount: shortfall.distance, bound: None }
    }

    /// An axis (0-based) would jump by `step` (rad).
    pub fn of_jump(axis: usize, step: f64) -> Self {
        Self { limit: Limit::Flip(axis), amount: step, bound: None }
    }

    /// An axis (0-based) would go by `step` (rad) from one place looked at to the next, more than is followed; it could go by `in_time` there.
    pub fn of_long_step(axis: usize, step: f64, in_time: f64) -> Self {
        Self { bound: Some(in_time), ..Self::of_jump(axis, step) }
    }

    /// The torch stands outside its tolerance, by the worst of work angle, travel angle and CTWD.
    pub fn of_angles(bands: &Bands, angles: &TorchAngles) -> Option<Self> {
        let off = [
            (TorchAngle::Work, bands.work.excess(angles.work), bands.work.aim),
            (TorchAngle::Travel, bands.travel.excess(angles.travel), bands.travel.aim),
            (TorchAngle::Ctwd, bands.ctwd.excess(angles.ctwd), bands.ctwd.aim),
        ];
        let off = off.into_iter().filter(|(_, amount, _)| *amount > ROUNDING);
        let off =
            off.map(|(angle, amount, aim)| Self { limit: Limit::Angle(angle), amount, bound: Some(aim) });
        off.reduce(|worst, next| worst.worse(Some(next)))
    }

    /// Whether an angle or distance off its tolerance at arc length `s` (m) is more than what the digits of a file leave: beside themselves
    /// also what the seam frame turns in a corner zone where they put the torch a little beside its place.
    pub fn is_past_rounding(&self, path: &SeamPath, s: f64) -> bool {
        let (from, to) = (s - FILE_ROUNDING_OF_PLACES, s + FILE_ROUNDING_OF_PLACES);
        let turns = |zone: &CornerZone| zone.from < zone.to && from < zone.to && zone.from < to;
        let is_angle = !matches!(self.limit, Limit::Angle(TorchAngle::Ctwd));
        let turned =
            if is_angle && path.corner_zones().iter().any(turns) { path.turn_over(from, to) } else { 0.0 };
        self.amount > FILE_ROUNDING + turned
    }

    /// An axis or motor would have to run at `share` of its speed limit (rad/s), above 1.
    pub fn of_speed(drive: Drive, share: f64, limit: f64) -> Self {
        let bound = Some(limit);
        let limit = match drive {
            Drive::Axis(axis) => Limit::AxisSpeed(axis),
            Drive::Motor(motor) => Limit::MotorSpeed(motor),
        };
        Self { limit, amount: share - 1.0, bound }
    }

    /// An axis (0-based) would have to speed up at `share` of its limit (rad/s²), above 1.
    pub fn of_acceleration(axis: usize, share: f64, limit: f64) -> Self {
        Self { limit: Limit::AxisAcceleration(axis), amount: share - 1.0, bound: Some(limit) }
    }

    /// The finest step does not show it.
    pub fn of_unshown(unshown: Unshown, steps: Steps) -> Self {
        Self { limit: Limit::Unshown(unshown), amount: steps.finest(), bound: None }
    }

    /// The amount in bands; above 0.
    pub fn bands(&self) -> f64 {
        match self.limit {
            Limit::Reach(_) | Limit::Clearance(_) | Limit::JointTooTight(_) | Limit::Unshown(_) => {
                units::to_mm(self.amount)
            }
            Limit::AxisRange(_) | Limit::Hose(_) | Limit::Flip(_) => units::to_deg(self.amount),
            Limit::MotorRange { per_axis, .. } => units::to_deg(self.amount / per_axis),
            Limit::AxisSpeed(_) | Limit::MotorSpeed(_) | Limit::AxisAcceleration(_) => {
                self.amount / units::percent(1.0)
            }
            Limit::Angle(TorchAngle::Ctwd) => units::to_mm(self.amount),
            Limit::Angle(TorchAngle::Work | TorchAngle::Travel) => units::to_deg(self.amount),
        }
    }

    /// Whether it has more bands than `other`, by more than rounding can make.
    pub fn exceeds(&self, other: &Self) -> bool {
        self.bands() > other.bands() + NOISE
    }

    /// Whether both are the same but for rounding.
    pub fn is_like(&self, other: &Self) -> bool {
        self.limit == other.limit && (self.bands() - other.bands()).abs() <= NOISE
    }

    /// The one with more bands; the first on a tie.
    pub fn worse(self, other: Option<Self>) -> Self {
        other.filter(|other| other.exceeds(&self)).unwrap_or(self)
    }

    /// The limit with its names.
    pub fn constraint(&self, scene: &Scene<'_>) -> Constraint {
        match self.limit {
            Limit::Reach(bound) => Constraint::Reach(bound),
            Limit::AxisRange(axis) => Constraint::AxisRange(axis),
            Limit::MotorRange { motor, .. } => Constraint::MotorRange(motor),
            Limit::Hose(name) => Constraint::Hose(name),
            Limit::Clearance(pair) => {
                let (body, other) = scene.pair_names(pair);
                Constraint::Clearance(body, other)
            }
            Limit::JointTooTight(pair) => {
                let (body, other) = scene.pair_names(pair);
                Constraint::JointTooTight(body, other)
            }
            Limit::AxisSpeed(axis) => Constraint::AxisSpeed(axis),
            Limit::MotorSpeed(motor) => Constraint::MotorSpeed(motor),
            Limit::AxisAcceleration(axis) => Constraint::AxisAcceleration(axis),
            Limit::Flip(axis) => Constraint::Flip(axis),
            Limit::Angle(angle) => Constraint::Rule(Rule::Angle(angle)),
            Limit::Unshown(unshown) => Constraint::NotShown(match unshown {
                Unshown::Clearance(pair) => {
                    let (body, other) = scene.pair_names(pair);
                    NotShown::Clearance(body, other)
                }
                Unshown::Travel(axis) => NotShown::Travel(axis),
                Unshown::Range(drive) => NotShown::Range(drive),
                Unshown::Hose(name) => NotShown::Hose(name),
                Unshown::Speed(drive) => NotShown::Speed(drive),
            }),
        }
    }
}
