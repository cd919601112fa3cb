//! Decides where a distance is least when an axis, or two of them, make their round.

use std::f64::consts::TAU;

use nalgebra::{Matrix2, Vector2};

use crate::turn::Turn;

/// Steps of the round at which the distance is first asked.
const STEPS: usize = 72;
/// The longest step downhill (rad).
const MOST_STEP: f64 = 0.2;

/// The angle (rad) at which `of` is least, and the least: every dip on a circle of steps, narrowed by golden section.
///
/// A dip narrower than a step can be passed over.
pub(crate) fn least_on_circle(of: impl Fn(f64) -> f64) -> (f64, f64) {
    let step = TAU / STEPS as f64;
    let coarse: [f64; STEPS] = std::array::from_fn(|i| of(i as f64 * step));
    let mut least = (0.0, coarse[0]);
    for (i, &here) in coarse.iter().enumerate() {
        let dips = here <= coarse[(i + STEPS - 1) % STEPS] && here <= coarse[(i + 1) % STEPS];
        if dips && here.is_finite() {
            let middle = i as f64 * step;
            for found in [(middle, here), narrowed(&of, middle - step, middle + step)] {
                if found.1 < least.1 {
                    least = found;
                }
            }
        }
    }
    least
}

/// The two angles (rad) at which `of` is least: every dip on a net of steps, then downhill from it.
///
/// A dip narrower than a step can be passed over.
pub(crate) fn least_on_torus(of: impl Fn([Turn; 2]) -> f64) -> [f64; 2] {
    const NET: usize = 24;
    let step = TAU / NET as f64;
    let turns: [Turn; NET] = std::array::from_fn(|i| Turn::of(i as f64 * step));
    let coarse: [[f64; NET]; NET] =
        std::array::from_fn(|i| std::array::from_fn(|j| of([turns[i], turns[j]])));
    let mut least = ([0.0; 2], coarse[0][0]);
    for i in 0..NET {
        for j in 0..NET {
            let here = coarse[i][j];
            let around = |i: usize| [NET - 1, 0, 1].map(|by| (i + by) % NET);
            let dips = around(i).iter().all(|&i| around(j).iter().all(|&j| here <= coarse[i][j]));
            if dips && here.is_finite() {
                let found = downhill(&of, [i as f64 * step, j as f64 * step], here);
                if found.1 < least.1 {
                    least = found;
                }
            }
        }
    }
    least.0
}

/// The least found by damped Newton's steps on half the square, whose slopes are differences.
fn downhill(of: impl Fn([Turn; 2]) -> f64, from: [f64; 2], value: f64) -> ([f64; 2], f64) {
    const ASIDE: f64 = 1e-4;
    let half_square = |q: &Vector2<f64>| of([Turn::of(q.x), Turn::of(q.y)]).powi(2) / 2.0;
    let (mut here, mut value) = (Vector2::from(from), value * value / 2.0);
    let mut damping = 0.0_f64;
    for _ in 0..60 {
        let [x, y] = [Vector2::x() * ASIDE, Vector2::y() * ASIDE];
        let [east, west, north, south] = [x, -x, y, -y].map(|by| half_square(&(here + by)));
        let both = half_square(&(here + x + y)) + half_square(&(here - x - y));
        let slope = Vector2::new(east - west, north - south) / (2.0 * ASIDE);
        let bend = |one: f64, other: f64| (one + other - 2.0 * value) / (ASIDE * ASIDE);
        let (xx, yy) = (bend(east, west), bend(north, south));
        let xy = ((both - 2.0 * value) / (ASIDE * ASIDE) - xx - yy) / 2.0;
        // The least bend in any direction: a step leads down where it is above 0.
        let least = (xx + yy) / 2.0 - ((xx - yy) / 2.0).hypot(xy);
        let size = xx.abs().max(yy.abs());
        let lifted = damping.max(1e-6 * size - least);
        let bends = Matrix2::new(xx + lifted, xy, xy, yy + lifted);
        let Some(step) = bends.try_inverse().map(|inverse| -(inverse * slope)) else { break };
        let step = step * (MOST_STEP / step.amax()).min(1.0);
        // The distance is flat where it is least: half the digits of the angles give all of the distance.
        if step.amax() < 1e-8 || -slope.dot(&step) < f64::EPSILON * value {
            break;
        }
        let next = here + step;
        let lower = half_square(&next);
        if lower >= value || lower.is_nan() {
            damping = (damping * 8.0).max(1e-3 * size);
            continue;
        }
        (here, value) = (next, lower);
        damping /= 8.0;
    }
    (here.into(), (2.0 * value).sqrt())
}

/// The least found by golden section.
fn narrowed(of: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> (f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    let (mut left, mut right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut at_left, mut at_right) = (of(left), of(right));
    // The distance is flat where it is least: half the digits of the angle give all of the distance.
    while high - low > 1e-8 {
        if at_left <= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = of(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = of(right);
        }
    }
    if at_left <= at_right { (left, at_left) } else { (right, at_right) }
}
