//! Decides the flange's nearest place to one out of reach, with the flange turned as wanted: downhill from many stances.
//!
//! Damped Gauss-Newton steps (Levenberg, Marquardt) on the way that is left, along which the turn counts for so much more that it is met to
//! first order. What a step is worth is told with the turn counting for little more: on a bent way it is met only in the end. Where the place stays out of reach they close in on the nearest one only by a share of the way each; so all starts first take a few, and
//! only those that came nearest go on to the end. A nearer place can be passed over.

use arrayvec::ArrayVec;
use nalgebra::{Matrix6, Vector3, Vector6};

use crate::general::sample_axes;
use crate::lines::Lines;
use crate::{AxisValues, Pose};

/// Axis values from which the nearest place is sought.
const STARTS: u64 = 24;
/// Steps that each start takes, and steps that those go on for that came nearest; and how many these are.
const FIRST_STEPS: usize = 20;
const LAST_STEPS: usize = 200;
const NEAREST: usize = 4;
/// The turn (rad) counts for so much more than the place (m) in a step, and in what the step is worth.
const TURN: f64 = 1e4;
const TURN_LEFT: f64 = 3.0;
/// And where starts are compared.
const TURN_RANKS: f64 = 20.0;
/// Met to this (rad) it counts as met.
const TURNED: f64 = 1e-5;
/// The end is where a step (rad) is no longer than this, or comes nearer (m) by no more.
const SHORTEST_STEP: f64 = 1e-10;
const LEAST_GAIN: f64 = 1e-10;
/// Starts that have come to places no farther apart than this (rad) go on as one.
const ALIKE: f64 = 1e-3;

/// A stance on its way down.
struct Descent<'a> {
    wanted: &'a Pose,
    axes: AxisValues,
    at: Lines,
    /// The way and the turn that are left, and what they count.
    left: Vector6<f64>,
    cost: f64,
    damping: f64,
}

impl<'a> Descent<'a> {
    fn from(arm: &Lines, axes: AxisValues, wanted: &'a Pose) -> Self {
        let at = arm.at(&axes);
        let left = at.left_to(wanted);
        Self { wanted, axes, at, left, cost: cost(&left, TURN_LEFT), damping: 1e-3 }
    }

    /// At most so many steps down; whether more would lead on.
    fn go(&mut self, arm: &Lines, steps: usize) -> bool {
        for _ in 0..steps {
            let (mut jacobian, mut left) = (self.at.jacobian(), self.left);
            jacobian.fixed_rows_mut::<3>(3).scale_mut(TURN);
            left.fixed_rows_mut::<3>(3).scale_mut(TURN);
            let slope = jacobian.transpose() * left;
            let normal = jacobian.transpose() * jacobian + Matrix6::identity() * self.damping;
            let Some(step) = normal.cholesky().map(|normal| normal.solve(&slope)) else { return false };
            if step.amax() < SHORTEST_STEP {
                return false;
            }
            let next = self.axes + step;
            let at_next = arm.at(&next);
            let left_next = at_next.left_to(self.wanted);
            let cost_next = cost(&left_next, TURN_LEFT);
            let gain = self.cost - cost_next;
            if gain > 0.0 {
                (self.axes, self.at, self.left, self.cost) = (next, at_next, left_next, cost_next);
                if gain < LEAST_GAIN {
                    return false;
                }
                self.damping = (self.damping / 4.0).max(1e-9);
            } else {
                self.damping *= 8.0;
            }
        }
        true
    }

    fn is_turned(&self) -> bool {
        self.left.fixed_rows::<3>(3).norm() < TURNED
    }
}

impl Lines {
    /// The nearest place found for the flange; none where the flange cannot be turned as wanted from any start. An arm of size about 1.
    pub(crate) fn nearest_place(&self, wanted: &Pose) -> Option<Vector3<f64>> {
        let mut all: ArrayVec<Descent, { STARTS as usize }> = ArrayVec::new();
        for k in 0..STARTS {
            let mut descent = Descent::from(self, sample_axes(k), wanted);
            descent.go(self, FIRST_STEPS);
            all.push(descent);
        }
        all.sort_by(|a, b| cost(&a.left, TURN_RANKS).total_cmp(&cost(&b.left, TURN_RANKS)));
        let mut nearest: ArrayVec<Descent, NEAREST> = ArrayVec::new();
        for descent in all {
            let is_known = nearest.iter().any(|other| (other.axes - descent.axes).amax() < ALIKE);
            if !is_known && nearest.try_push(descent).is_err() {
                break;
            }
        }
        for descent in &mut nearest {
            descent.go(self, LAST_STEPS);
        }
        let turned = nearest.iter().filter(|descent| descent.is_turned());
        let best = turned.min_by(|a, b| a.cost.total_cmp(&b.cost))?;
        Some(best.at.base_from_flange.translation.vector)
    }
}

/// What the way and the turn that are left count, a rad as much as `turn` m. A sum, not squares: however near the place could be had, its
/// least then lies where the turn is met, if `turn` is more than a rad moves the flange.
fn cost(left: &Vector6<f64>, turn: f64) -> f64 {
    left.fixed_rows::<3>(0).norm() + turn * left.fixed_rows::<3>(3).norm()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    use super::*;
    use crate::description::{OriginAxis, origin_axes};
    use crate::{ArmBuilder, Geometry};

    /// With a spherical wrist that can turn every way, the nearest place with the flange turned as wanted is as far as the nearest place
    /// of the wrist centre, which is sought in another way: over all of axes 2 and 3.
    #[test]
    fn the_nearest_place_is_that_of_the_wrist_centre_where_there_is_one() {
        let line = |point: [f64; 3], direction: [f64; 3]| OriginAxis {
            point: point.into(),
            direction: nalgebra::UnitVector3::new_normalize(direction.into()),
        };
        let wrist = [0.9, 0.2, 0.4];
        let axes = [
            line([0.0; 3], [0.1, 0.2, 1.0]),
            line([0.2, 0.1, 0.3], [0.3, 1.0, 0.1]),
            line([0.3, 0.2, 0.7], [-0.2, 0.5, 0.4]),
            line(wrist, [1.0, 0.0, 0.0]),
            line(wrist, [0.0, 1.0, 0.0]),
            line(wrist, [1.0, 0.0, 0.0]),
        ];
        let flange = Pose::new(Vector3::new(1.0, 0.3, 0.5), Vector3::new(0.3, 1.0, -0.4));
        let arm = ArmBuilder::new("skew", origin_axes(&axes, &flange)).build().expect("an arm");
        assert_eq!(arm.geometry(), Ok(Geometry::SphericalWrist));
        let solver = arm.solver().expect("a solver");
        let mut random = ChaCha8Rng::seed_from_u64(4);
        let mut number = || PI * (f64::from(random.next_u32()) / f64::from(1_u32 << 31) - 1.0);
        let (mut asked, mut passed_over) = (0, 0);
        while asked < 100 {
            let at = Vector3::from_fn(|_, _| 0.5 * number());
            let turn = Vector3::from_fn(|_, _| number());
            let pose = Pose::new(at, turn);
            let Some(exact) = arm.inverse(&pose, &AxisValues::zeros()).shortfall else { continue };
            asked += 1;
            let place = solver.lines.nearest_place(&pose).expect("the wrist turns every way");
            let distance = (place - at).norm();
            assert!(distance > exact.distance - 1e-6, "{distance} is nearer than {exact:?}");
            passed_over += usize::from(distance > exact.distance + 1e-3);
        }
        assert!(passed_over < 5, "in {passed_over} of {asked} a nearer place was passed over");
    }
}
