//! Decides what limits an arm at given axis values or rates: ranges and speeds of axes and of the motors behind them.
//!
//! Accelerations and jerks are limits of axes only.

use std::fmt;

use crate::{Arm, AxisValues, Range};

/// A value that far (rad of an axis) outside a range counts as inside: rounding in the file and in the solver.
pub(crate) const ROUNDING: f64 = 1e-9;

/// What has a limit of its own; 0-based, prints as `axis 3` or `motor 3`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Drive {
    /// An axis.
    Axis(usize),
    /// A motor that turns axes through a coupling.
    Motor(usize),
}

impl fmt::Display for Drive {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Axis(i) => write!(f, "axis {}", i + 1),
            Self::Motor(i) => write!(f, "motor {}", i + 1),
        }
    }
}

/// A range, and where in it an axis or motor stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RangeUse {
    /// Which.
    pub drive: Drive,
    /// Allowed values at this stance of the arm, rad.
    pub range: Range,
    /// Where it stands, rad.
    pub value: f64,
    /// How far it turns when the axis that moves it most turns by one: 1 for an axis. Divides its angles into angles that
    /// compare with those of an axis.
    pub per_axis: f64,
}

impl RangeUse {
    /// How far outside, rad; 0 inside.
    #[must_use]
    pub fn excess(&self) -> f64 {
        self.range.excess(self.value)
    }

    /// Distance to the nearer end, rad; negative outside.
    #[must_use]
    pub fn margin(&self) -> f64 {
        self.range.margin(self.value)
    }

    /// Whether it lies outside by more than rounding.
    fn is_outside(&self) -> bool {
        self.excess() > ROUNDING * self.per_axis
    }
}

/// A speed limit, and how fast an axis or motor turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedUse {
    /// Which.
    pub drive: Drive,
    /// How fast, rad/s, at least 0.
    pub speed: f64,
    /// Its limit, rad/s.
    pub limit: f64,
}

impl SpeedUse {
    /// The speed as a share of its limit.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.speed / self.limit
    }
}

impl Arm {
    /// Every range of an axis or motor at `axes` (rad): axes first, each in order.
    pub fn range_uses(&self, axes: &AxisValues) -> impl Iterator<Item = RangeUse> + use<'_> {
        let axes = *axes;
        let of_axes = self.axis_ranges(&axes).into_iter().enumerate().map(move |(i, range)| RangeUse {
            drive: Drive::Axis(i),
            range,
            value: axes[i],
            per_axis: 1.0,
        });
        let of_motors = self.drives.iter().flat_map(move |drives| {
            let values = drives.coupling.motors(&axes);
            let per_axis = drives.coupling.motors_per_axis();
            drives.motors.iter().enumerate().filter_map(move |(i, motor)| {
                let (value, per_axis) = (values[i], per_axis[i]);
                motor.range.map(|range| RangeUse { drive: Drive::Motor(i), range, value, per_axis })
            })
        });
        of_axes.chain(of_motors)
    }

    /// The axis or motor that lies farthest outside its range, and by how much (its own rad); none where all lie inside.
    ///
    /// Less than 1e-9 rad of an axis outside counts as inside. Motors compare by how far the axis that moves them most
    /// would have to turn back.
    #[must_use]
    pub fn range_excess(&self, axes: &AxisValues) -> Option<(Drive, f64)> {
        let outside = self.range_uses(axes).filter(RangeUse::is_outside);
        let far = |at: &RangeUse| at.excess() / at.per_axis;
        outside
            .reduce(|most, next| if far(&next) > far(&most) { next } else { most })
            .map(|at| (at.drive, at.excess()))
    }

    /// The same over the whole straight way in axis space between two places (rad): the worst anywhere on it.
    ///
    /// Exact: on a straight way each value and each end of a range goes straight between the places where an axis passes a
    /// point of a dependent range, so the worst is at one of these or at an end.
    #[must_use]
    pub fn range_excess_between(&self, from: &AxisValues, to: &AxisValues) -> Option<(Drive, f64)> {
        let bends = self.dependent_ranges().iter().flat_map(|range| {
            let (start, end) = (from[range.by_axis()], to[range.by_axis()]);
            range.points().iter().map(move |point| (point.at - start) / (end - start))
        });
        // A by-axis that stands still passes no point: its shares are infinite or not numbers.
        let shares = [0.0, 1.0].into_iter().chain(bends.filter(|share| (0.0..=1.0).contains(share)));
        shares
            .filter_map(|share| self.range_excess(&from.lerp(to, share)))
            .reduce(|worst, next| if next.1 > worst.1 { next } else { worst })
    }

    /// The axis or motor that leaves its range farthest, by how much (its own rad), where every axis may be anywhere within `around`
    /// (rad, at least 0) of `axes` (rad); none where all stay inside.
    ///
    /// Exact for ranges of axes by themselves and of motors; for an axis whose range depends on another, the range is the one that
    /// all places of the other have in common.
    #[must_use]
    pub fn range_excess_around(&self, axes: &AxisValues, around: &AxisValues) -> Option<(Drive, f64)> {
        let mut ranges = self.axis_ranges(axes);
        for dependent in self.dependent_ranges() {
            let by = dependent.by_axis();
            let (from, to) = (axes[by] - around[by], axes[by] + around[by]);
            let bends = dependent.points().iter().map(|point| point.at).filter(|at| (from..=to).contains(at));
            for at in [from, to].into_iter().chain(bends) {
                let (here, range) = (dependent.at(at), &mut ranges[dependent.axis()]);
                *range = Range { min: range.min.max(here.min), max: range.max.min(here.max) };
            }
        }
        let of_axes = (0..6).map(|i| {
            let excess = ranges[i].excess(axes[i] - around[i]).max(ranges[i].excess(axes[i] + around[i]));
            (Drive::Axis(i), excess, 1.0)
        });
        let of_motors = self.drives.iter().flat_map(|drives| {
            let (values, per_axis) = (drives.coupling.motors(axes), drives.coupling.motors_per_axis());
            let around = drives.coupling.greatest_motor_rates(around);
            drives.motors.iter().enumerate().filter_map(move |(i, motor)| {
                let range = motor.range?;
                let excess = range.excess(values[i] - around[i]).max(range.excess(values[i] + around[i]));
                Some((Drive::Motor(i), excess, per_axis[i]))
            })
        });
        of_axes
            .chain(of_motors)
            .filter(|(_, excess, per_axis)| *excess > ROUNDING * per_axis)
            .reduce(|most, next| if next.1 / next.2 > most.1 / most.2 { next } else { most })
            .map(|(drive, excess, _)| (drive, excess))
    }

    /// The axis or motor that uses most of its speed limit where no axis is faster than `rates` (rad/s, at least 0), whatever the
    /// senses of turning.
    #[must_use]
    pub fn greatest_speed_use(&self, rates: &AxisValues) -> SpeedUse {
        let axis =
            |i: usize| SpeedUse { drive: Drive::Axis(i), speed: rates[i], limit: self.axes()[i].max_speed };
        let of_motors = self.drives.iter().flat_map(|drives| {
            let rates = drives.coupling.greatest_motor_rates(rates);
            drives.motors.iter().enumerate().filter_map(move |(i, motor)| {
                let limit = motor.max_speed?;
                Some(SpeedUse { drive: Drive::Motor(i), speed: rates[i], limit })
            })
        });
        (1..6).map(axis).chain(of_motors).fold(
            axis(0),
            |most, next| {
                if next.share() > most.share() { next } else { most }
            },
        )
    }

    /// Every speed limit of an axis or motor at `rates` (rad/s): axes first, each in order.
    pub fn speed_uses(&self, rates: &AxisValues) -> impl Iterator<Item = SpeedUse> + use<'_> {
        let rates = *rates;
        let of_axes = self.axes().iter().enumerate().map(move |(i, axis)| SpeedUse {
            drive: Drive::Axis(i),
            speed: rates[i].abs(),
            limit: axis.max_speed,
        });
        let of_motors = self.drives.iter().flat_map(move |drives| {
            let rates = drives.coupling.motor_rates(&rates);
            drives.motors.iter().enumerate().filter_map(move |(i, motor)| {
                let limit = motor.max_speed?;
                Some(SpeedUse { drive: Drive::Motor(i), speed: rates[i].abs(), limit })
            })
        });
        of_axes.chain(of_motors)
    }

    /// The least time (s) in which the axes can turn by `step` (rad) together, accelerations aside: that of the slowest axis or
    /// motor at full speed.
    #[must_use]
    pub fn least_time(&self, step: &AxisValues) -> f64 {
        self.speed_uses(step).map(|at| at.share()).fold(0.0, f64::max)
    }

    /// Whether ranges of the axes alone, each by itself, say which turns are allowed.
    pub(crate) fn has_only_own_ranges(&self) -> bool {
        self.dependent_ranges().is_empty()
            && self.motors().is_none_or(|motors| motors.iter().all(|motor| motor.range.is_none()))
    }
}
