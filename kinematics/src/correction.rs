//! Decides what axis values next to a solution lead to on the true arm: the solution, the place where two of them touch, or the nearest
//! place to one.
//!
//! Where two solutions become one the arm is singular, and the pose tells the axes only to the root of its own rounding. That place
//! itself is sharp: along the one motion that is idle there the least singular value changes its sign. So it is sought as such, by
//! Newton's steps on that value, and handed out where the flange then misses the pose by no more than rounding.

use nalgebra::{Matrix6, Vector6};

use crate::lines::Lines;
use crate::turn::wrapped;
use crate::{AxisValues, Pose};

/// A corrected solution reaches its pose to this (m and rad).
pub(crate) const REACHED: f64 = 1e-11;
/// What is missed by less than this (m and rad) is met to rounding.
const EXACT: f64 = 1e-2 * REACHED;
/// And a further step would be no longer than this (rad): half way between two solutions that all but fall together the pose is
/// as good.
const SETTLED: f64 = 1e-7;
/// A pose that the arm misses by no more than this (m and rad), because it lies that far out of reach, counts as reached.
pub(crate) const TOUCHED: f64 = 5e-11;
/// Two solutions no farther apart than this (rad) are handed out as one.
const MERGED: f64 = 1e-6;
/// Steps damped by no more are not damped.
const UNDAMPED: f64 = 1e-15;
/// Newton's steps farther than this (rad) lead anywhere.
const LONGEST_STEP: f64 = 0.6;
/// How far (rad) from a nearly singular solution another is sought.
const TWINS: [f64; 6] = [3e-6, 3e-5, 3e-4, 3e-3, 1e-2, 3e-2];
/// And how far where the flange moves by less than so much (m and rad) for a rad.
const FAR_TWINS: [f64; 5] = [0.1, 0.3, 0.7, 1.3, 2.1];
const ALL_BUT_FREE: f64 = 1e-3;
/// A motion along which the flange moves by less than this (m and rad) for a rad may lead to another solution; steps along it (rad), how many,
/// and how often each is corrected.
const VALLEY: f64 = 0.1;
const VALLEY_STEP: f64 = 0.1;
/// Where the flange moves by less than the first (m and rad) for a rad, they may lie as close together as to need steps of the second (rad).
const FINER_STEPS: [[f64; 2]; 2] = [[1e-2, 1e-2], [1e-4, 1e-3]];
const VALLEY_STEPS: usize = 30;
const VALLEY_CORRECTIONS: usize = 4;
/// Steps are held back along motions that move the flange by less than about the root of this (m and rad) for a rad.
const DAMPED: f64 = 1e-9;
/// Solutions farther apart than this (rad) are never asked whether they are one.
const ONE_VALLEY: f64 = 0.05;
/// Between two solutions that are by themselves the pose is missed in the middle, or, where a third one stands there, a quarter of the way on.
const ON_THE_WAY: [f64; 2] = [0.5, 0.25];
/// Steps toward a place where solutions touch.
const TOUCHES: usize = 20;
/// A motion is idle where its singular value is below the first; but only that of the least one, where others are above the second and so many
/// times as large.
const IDLE: f64 = 1e-2;
const ALIKE: f64 = 1e-4;
const MUCH_MORE: f64 = 10.0;
/// The reach has an edge along an idle motion where it bends by more than this (m and rad, over rad²); else the motion is free.
const BENDS: f64 = 1e-5;

/// Newton's steps that leave less than this (m and rad) close in on something.
const CLOSED_IN: f64 = 1e-6;

/// A place in a valley.
struct Held {
    axes: AxisValues,
    /// The motion that rests the flange most (unit length), how fast that moves it, and what is left along it (m and rad).
    motion: AxisValues,
    speed: f64,
    miss: f64,
}

/// Where Newton's steps have led.
struct Stepped {
    axes: AxisValues,
    at: Lines,
    left: Vector6<f64>,
    last_step: f64,
    damping: f64,
}

/// Where the flange, moved by the one motion that all but rests it, turns back.
pub(crate) struct Turning {
    pub(crate) axes: AxisValues,
    /// None where it does not turn back: along a motion that is all but free, and where there are two.
    folds: Option<Fold>,
}

struct Fold {
    /// The motion (unit length).
    along: AxisValues,
    /// What the flange misses the pose by there, and how that grows on the way (twice the share of its square).
    miss: f64,
    bend: f64,
}

impl Turning {
    /// How far along the motion (rad) two solutions are, to either side; below 0 where there are none: then they are no real numbers, and so far
    /// aside.
    pub(crate) fn apart(&self) -> Option<f64> {
        let Fold { miss, bend, .. } = self.folds.as_ref()?;
        let square = -2.0 * miss / bend;
        Some(square.abs().sqrt().copysign(square))
    }

    /// What the flange misses the pose by, where the motion turns back.
    pub(crate) fn missed(&self) -> f64 {
        self.folds.as_ref().map_or(0.0, |fold| fold.miss.abs())
    }

    /// The motion by which it comes there, unit length.
    pub(crate) fn along(&self) -> Option<&AxisValues> {
        self.folds.as_ref().map(|fold| &fold.along)
    }
}

impl Lines {
    /// The solution next to `axes`, or the place next to them where solutions touch, in (−π, π].
    pub(crate) fn corrected(&self, axes: AxisValues, base_from_flange: &Pose) -> Option<AxisValues> {
        self.polished(axes, base_from_flange)
            .or_else(|| self.along_a_valley(axes, base_from_flange))
            .or_else(|| self.touching(axes, base_from_flange))
    }

    /// Solutions beside the one at `axes`: next to a singularity two lie close together, along the motion that is idle there, or anywhere
    /// along it where it is all but free. Some more than once, that at `axes` too.
    pub(crate) fn twins(
        &self,
        axes: &AxisValues,
        base_from_flange: &Pose,
    ) -> impl Iterator<Item = AxisValues> {
        let idle = self.at(axes).idle_motion();
        idle.into_iter().flat_map(move |(idle, speed)| {
            let far = if speed < ALL_BUT_FREE { &FAR_TWINS[..] } else { &[] };
            let aside = TWINS.iter().chain(far).flat_map(move |by| [axes + idle * *by, axes - idle * *by]);
            aside.filter_map(|axes| self.polished(axes, base_from_flange))
        })
    }

    /// Solutions at the other end of the valley that the one at `axes` lies in: where the flange moves little along some motion, it may come
    /// back to the pose far along it. The motion is followed in steps, each corrected but for what only moves along it, until the flange
    /// passes the pose. An arm of size about 1.
    pub(crate) fn beyond_the_valley(
        &self,
        axes: &AxisValues,
        base_from_flange: &Pose,
    ) -> impl Iterator<Item = AxisValues> {
        let speed = self.at(axes).idle_motion().map_or(f64::INFINITY, |(_, speed)| speed);
        let finer = FINER_STEPS.into_iter().filter(move |[below, _]| speed < *below).map(|[_, step]| step);
        let ways = std::iter::once(VALLEY_STEP).chain(finer).flat_map(|step| [step, -step]);
        ways.filter_map(move |way| {
            let (sense, by) = (way.signum(), way.abs());
            let (mut at, mut along) = (*axes, None::<AxisValues>);
            for _ in 0..VALLEY_STEPS {
                let held = self.held(at, base_from_flange)?;
                if along.is_none() && held.speed > VALLEY {
                    return None;
                }
                let Held { motion, miss, .. } = held;
                at = held.axes;
                let forward = along.map_or(sense, |along| motion.dot(&along));
                let motion = if forward < 0.0 { -motion } else { motion };
                // What is left points back along the motion, until the flange has come round to the pose and passes it.
                let passes = if forward < 0.0 { miss < 0.0 } else { miss > 0.0 };
                if along.is_some() && passes {
                    return self.polished(at, base_from_flange);
                }
                along = Some(motion);
                at += motion * by;
            }
            None
        })
    }

    /// The place next to `axes` where the flange is held in the pose but for what the motion that rests it most could bring it nearer.
    fn held(&self, mut axes: AxisValues, base_from_flange: &Pose) -> Option<Held> {
        let mut held = None;
        for _ in 0..VALLEY_CORRECTIONS {
            let now = self.at(&axes);
            let left = now.left_to(base_from_flange);
            let svd = now.jacobian().svd(true, true);
            let (from_pose, to_axes, values) = (svd.u?, svd.v_t?, svd.singular_values);
            let least = values.imin();
            let across = (0..6).filter(|i| *i != least && values[*i] > f64::EPSILON);
            let step: AxisValues = across
                .map(|i| to_axes.row(i).transpose() * (from_pose.column(i).dot(&left) / values[i]))
                .sum();
            if step.amax() > LONGEST_STEP {
                return None;
            }
            axes += step;
            let (motion, miss) = (to_axes.row(least).transpose(), from_pose.column(least).dot(&left));
            held = Some(Held { axes, motion, miss, speed: values[least] });
            if step.amax() < SETTLED {
                break;
            }
        }
        held
    }

    /// Whether two solutions are places of one valley: where three or more solutions have become one, the pose is met to rounding over
    /// thousandths of a radian, and so it is everywhere between them.
    pub(crate) fn are_one(&self, one: &AxisValues, other: &AxisValues, base_from_flange: &Pose) -> bool {
        let way = (other - one).map(wrapped);
        let apart = way.amax();
        if apart > ONE_VALLEY {
            return false;
        }
        let missed = [one, other].map(|axes| self.missed(axes, base_from_flange));
        // A place where the flange turns back short of the pose is the same as what lies in one valley with it.
        let is_exact = missed[0].max(missed[1]) < EXACT;
        let as_well_as = if is_exact { EXACT } else { TOUCHED };
        ON_THE_WAY.iter().all(|share| {
            let held = self.held(one + way * *share, base_from_flange);
            // There the pose is met as well as anywhere: nothing parts them.
            held.is_some_and(|held| held.miss.abs() < as_well_as)
        })
    }

    /// By how much axis values miss a pose (m and rad).
    pub(crate) fn missed(&self, axes: &AxisValues, base_from_flange: &Pose) -> f64 {
        self.at(axes).left_to(base_from_flange).amax()
    }

    /// The solution next to `axes`, in (−π, π], if a few Newton steps, damped where they lead away, reach one.
    pub(crate) fn polished(&self, axes: AxisValues, base_from_flange: &Pose) -> Option<AxisValues> {
        let Stepped { axes, at, left, last_step, damping } = self.stepped(axes, base_from_flange)?;
        let rest = || at.jacobian().lu().solve(&left).is_some_and(|step| step.amax() < SETTLED);
        let settled = left.amax() < 1e-15 || last_step < SETTLED && damping <= UNDAMPED || rest();
        (left.amax() < REACHED && settled).then(|| axes.map(wrapped))
    }

    /// The place to which Newton's steps lead from `axes` where solutions touch, in (−π, π]: they close in on it slowly, and then it is sought as
    /// such.
    pub(crate) fn touched(&self, axes: AxisValues, base_from_flange: &Pose) -> Option<AxisValues> {
        let Stepped { axes, left, .. } = self.stepped(axes, base_from_flange)?;
        let nearest = (left.amax() < CLOSED_IN).then_some(axes)?;
        self.touching(nearest, base_from_flange).or_else(|| self.met_nearly(nearest, base_from_flange))
    }

    fn stepped(&self, mut axes: AxisValues, base_from_flange: &Pose) -> Option<Stepped> {
        let mut at = self.at(&axes);
        let mut left = at.left_to(base_from_flange);
        let mut damping = UNDAMPED;
        let mut last_step = f64::INFINITY;
        for _ in 0..40 {
            // Next to a singularity long steps change the pose but little: there, no error is small enough by itself.
            let is_near = left.amax() < EXACT && last_step < SETTLED && damping <= UNDAMPED;
            if left.amax() < 1e-15 || is_near {
                break;
            }
            let jacobian = at.jacobian();
            let step = if damping > UNDAMPED {
                let normal = jacobian.transpose() * jacobian + Matrix6::identity() * damping;
                normal.cholesky()?.solve(&(jacobian.transpose() * left))
            } else {
                jacobian.lu().solve(&left).filter(|step| step.amax() < 1.0).unwrap_or_else(Vector6::zeros)
            };
            let next = axes + step;
            let at_next = self.at(&next);
            let left_next = at_next.left_to(base_from_flange);
            last_step = step.amax();
            if left_next.norm() < left.norm() {
                (axes, at, left) = (next, at_next, left_next);
                damping = (damping / 10.0).max(UNDAMPED);
            } else if left.amax() < EXACT {
                // Rounding leaves no better.
                break;
            } else {
                damping = (damping * 10.0).max(1e-12);
            }
        }
        Some(Stepped { axes, at, left, last_step, damping })
    }

    /// The solution that Newton's steps lead to from `axes`, in (−π, π], though the pose may be missed by more on the way: next to a
    /// singularity the axes must go far along a bent motion that all but keeps it, and straight steps leave that.
    fn along_a_valley(&self, mut axes: AxisValues, base_from_flange: &Pose) -> Option<AxisValues> {
        for _ in 0..15 {
            let at = self.at(&axes);
            let step = at.jacobian().lu().solve(&at.left_to(base_from_flange))?;
            // What is not a number ends it too.
            if !(0.0..LONGEST_STEP).contains(&step.amax()) {
                return None;
            }
            axes += step;
            if step.amax() < SETTLED {
                return self.polished(axes, base_from_flange);
            }
        }
        None
    }

    /// The place next to `axes`, in (−π, π], where the arm is singular and reaches the pose, or misses it by no more than
    /// [`TOUCHED`], its two solutions there being no more than [`MERGED`] apart.
    fn touching(&self, axes: AxisValues, base_from_flange: &Pose) -> Option<AxisValues> {
        let turning = self.turning(axes, base_from_flange)?;
        let apart = turning.apart().map_or(0.0, |apart| 2.0 * apart.max(0.0));
        let left = self.at(&turning.axes).left_to(base_from_flange).amax();
        (left < TOUCHED && apart < MERGED).then_some(turning.axes)
    }

    /// The place next to `axes` where the flange, moved by the one motion that all but rests it and held in the pose else, turns back.
    pub(crate) fn turning(&self, mut axes: AxisValues, base_from_flange: &Pose) -> Option<Turning> {
        for _ in 0..TOUCHES {
            let at = self.at(&axes);
            let left = at.left_to(base_from_flange);
            let svd = at.jacobian().svd(true, true);
            let (from_pose, to_axes) = (svd.u?, svd.v_t?);
            let values = svd.singular_values;
            let idle =
                values.iter().filter(|value| **value < IDLE.min(ALIKE.max(MUCH_MORE * values[5]))).count();
            let mut step = AxisValues::zeros();
            for i in 0..6 - idle {
                step += to_axes.row(i).transpose() * (from_pose.column(i).dot(&left) / values[i]);
            }
            if idle == 0 || step.amax() > 1.0 {
                return None;
            }
            let (out, along) = (from_pose.column(5), to_axes.row(5).transpose());
            let beyond = |by: f64| out.dot(&self.at(&(axes + step + along * by)).left_to(base_from_flange));
            const ASIDE: f64 = 1e-4;
            let miss = beyond(0.0);
            let bend = (beyond(ASIDE) + beyond(-ASIDE) - 2.0 * miss) / (ASIDE * ASIDE);
            // With two idle motions, and along one that is all but free, the axes stay where they are if they can.
            let folds = idle == 1 && bend.abs() > BENDS;
            if folds {
                step += along * (values[5] / bend).clamp(-0.1, 0.1);
            } else {
                for i in 6 - idle..6 {
                    let miss = from_pose.column(i).dot(&left);
                    if miss.abs() > TOUCHED / 10.0 && values[i] > f64::EPSILON {
                        step += to_axes.row(i).transpose() * (miss / values[i]).clamp(-0.3, 0.3);
                    }
                }
            }
            axes += step;
            if step.amax() < 1e-10 {
                let folds = folds.then_some(Fold { along, miss, bend });
                return Some(Turning { axes: axes.map(wrapped), folds });
            }
        }
        None
    }

    /// Axis values next to `axes`, in (−π, π], that miss the pose by no more than [`TOUCHED`]: all that can be had where the arm is singular in
    /// several ways at once.
    pub(crate) fn met_nearly(&self, mut axes: AxisValues, base_from_flange: &Pose) -> Option<AxisValues> {
        for _ in 0..TOUCHES {
            let at = self.at(&axes);
            let left = at.left_to(base_from_flange);
            if left.amax() < TOUCHED {
                return Some(axes.map(wrapped));
            }
            let jacobian = at.jacobian();
            let normal = jacobian.transpose() * jacobian + Matrix6::identity() * DAMPED;
            axes += normal.cholesky()?.solve(&(jacobian.transpose() * left));
        }
        None
    }

    /// What is left to the wanted pose: a way (m) and a rotation vector (rad), base axes.
    pub(crate) fn left_to(&self, wanted: &Pose) -> Vector6<f64> {
        let turn = (wanted.rotation * self.base_from_flange.rotation.inverse()).scaled_axis();
        let way = wanted.translation.vector - self.base_from_flange.translation.vector;
        Vector6::new(way.x, way.y, way.z, turn.x, turn.y, turn.z)
    }
}
