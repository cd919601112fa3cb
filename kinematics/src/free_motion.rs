//! Decides whether the axes can move while the flange rests, and which stance then stands for all that they can take: the one that keeps
//! the value that an axis had.
//!
//! There the Jacobian has a motion that it turns into nothing, and so it has beside; a place where two solutions touch has one too, but
//! leads nowhere. The way is followed in short steps along that motion, each corrected to the pose, until the axis has its value or turns
//! back.

use nalgebra::{Matrix6, Vector6};

use crate::lines::Lines;
use crate::turn::wrapped;
use crate::{AxisValues, Pose};

/// Where the flange moves by less than this (arm of size 1) for a rad of some motion, it may be free.
const IDLE: f64 = 1e-7;
/// And it is where so far along the motion (rad) the pose is met as well.
const ALONG: f64 = 0.05;
/// The square of what the axis that is named moves is no less than this share of the greatest.
const MOVES: f64 = 0.25;
/// The longest step on the way (rad), and the most steps: three times round.
const STEP: f64 = 0.1;
const MOST_STEPS: usize = 200;
/// Where the motion ends it is followed in steps down to this (rad).
const SHORTEST_STEP: f64 = 1e-4;
/// The motion leads to a stance where it comes no farther from it than this (rad): on the way it is told to little more.
const LED_THERE: f64 = 1e-3;
/// An axis that moves by less than this for a rad of the motion turns back.
const TURNS_BACK: f64 = 1e-3;
/// An axis this near (rad) to its value has it.
const KEPT: f64 = 1e-12;
/// A stance meets the pose after so many corrections at most.
const MOST_CORRECTIONS: usize = 8;

impl Lines {
    /// Where the axes are free at a solution: the first of the axes that move (0-based), and the stance of the same motion at which it has
    /// its value in `near` (rad), or comes nearest to it on the shorter way. None where nothing is free. A stance that
    /// misses the pose by less than `met` (m and rad) meets it. An arm of size about 1.
    pub(crate) fn kept_free(
        &self,
        axes: &AxisValues,
        base_from_flange: &Pose,
        near: &AxisValues,
        met: f64,
    ) -> Option<(usize, AxisValues)> {
        let jacobian = self.at(axes).jacobian();
        // The product of all singular values, of which none is much above 4.
        if jacobian.determinant().abs() > IDLE * 4.0_f64.powi(5) {
            return None;
        }
        let idle = self.idle_motions(axes)?;
        let shares = idle.diagonal();
        let axis = shares.iter().position(|share| *share > 0.0 && *share >= MOVES * shares.max())?;
        let motion = along(&idle, axis)?;
        let is_met = |by: f64| {
            let beside = axes + motion * by;
            self.met_across(beside, base_from_flange, met)
                .is_some_and(|met| (met - beside).amax() < ALONG / 2.0)
        };
        (is_met(ALONG) && is_met(-ALONG)).then(|| {
            let brought = self.brought_near(*axes, axis, near[axis], base_from_flange, met);
            // Where the motion ends the pose is met no better than it must be.
            let ends = brought[axis] != near[axis];
            let better = if ends { self.polished(brought, base_from_flange) } else { None };
            (axis, better.unwrap_or(brought))
        })
    }

    /// Whether the motion that leaves the flange where it is leads from `one` to `other`, `axis` moving.
    pub(crate) fn is_on_the_motion(
        &self,
        one: &AxisValues,
        axis: usize,
        other: &AxisValues,
        base_from_flange: &Pose,
        met: f64,
    ) -> bool {
        let there = self.brought_near(*one, axis, other[axis], base_from_flange, met);
        (there - other).map(wrapped).amax() < LED_THERE
    }

    /// The stance on the way along which the flange rests where `axis` has the value `near`, or turns back.
    fn brought_near(
        &self,
        from: AxisValues,
        axis: usize,
        near: f64,
        base_from_flange: &Pose,
        met: f64,
    ) -> AxisValues {
        let (mut axes, mut longest) = (from, STEP);
        for _ in 0..MOST_STEPS {
            let left = wrapped(near - axes[axis]);
            if left.abs() < KEPT {
                axes[axis] = near;
                break;
            }
            let motion = self.idle_motions(&axes).and_then(|idle| along(&idle, axis));
            let Some(motion) = motion.filter(|motion| motion[axis] > TURNS_BACK) else { break };
            let next = axes + motion * (left / motion[axis]).clamp(-longest, longest);
            // Not elsewhere, and nearer.
            let is_on_the_way = |met: &AxisValues| {
                (met - next).amax() < STEP / 2.0 && wrapped(near - met[axis]).abs() < left.abs()
            };
            match self.met_across(next, base_from_flange, met).filter(is_on_the_way) {
                Some(met) => axes = met,
                // It ends within the step.
                None if longest > SHORTEST_STEP => longest /= 2.0,
                None => break,
            }
        }
        let kept = axes[axis];
        axes = axes.map(wrapped);
        axes[axis] = if kept == near { near } else { axes[axis] };
        axes
    }

    /// The stance next to `axes` that meets the pose, without a step along the motion that moves the flange least.
    fn met_across(&self, mut axes: AxisValues, base_from_flange: &Pose, met: f64) -> Option<AxisValues> {
        for _ in 0..MOST_CORRECTIONS {
            let at = self.at(&axes);
            let left = at.left_to(base_from_flange);
            if left.amax() < met {
                return Some(axes);
            }
            let svd = at.jacobian().svd(true, true);
            let (from_pose, to_axes, values) = (svd.u?, svd.v_t?, svd.singular_values);
            let least = values.imin();
            let across = (0..6).filter(|i| *i != least && values[*i] > IDLE);
            let step =
                across.map(|i| to_axes.row(i).transpose() * (from_pose.column(i).dot(&left) / values[i]));
            axes += step.sum::<Vector6<f64>>();
        }
        None
    }

    /// What of a motion leaves the flange where it is, as a projection.
    fn idle_motions(&self, axes: &AxisValues) -> Option<Matrix6<f64>> {
        let svd = self.at(axes).jacobian().svd(false, true);
        let motions = svd.v_t?;
        let idle = (0..6).filter(|i| svd.singular_values[*i] < IDLE);
        Some(idle.map(|i| motions.row(i).transpose() * motions.row(i)).sum())
    }
}

/// The idle motion (unit length) that moves `axis` most, forward; none where nothing does.
fn along(idle: &Matrix6<f64>, axis: usize) -> Option<Vector6<f64>> {
    Vector6::from(idle.column(axis)).try_normalize(f64::EPSILON)
}
