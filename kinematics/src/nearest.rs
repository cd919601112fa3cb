//! Decides where a distance is least when an axis, or two of them, make their round.

use std::f64::consts::TAU;

use nalgebra::{Matrix2, Vector2};

use crate::angle::cosine_and_sine;
use crate::turn::Turn;

/// Steps of the round at which the distance is first asked.
const STEPS: usize = 72;
const STEP: f64 = TAU / STEPS as f64;
/// A dip is narrowed to about this (rad), in so many steps at most: the distance is flat where it is least, and half the digits of the angle
/// give all of the distance.
const NARROW: f64 = 1e-8;
const MOST_NARROWINGS: usize = 60;
/// The longest step downhill (rad).
const MOST_STEP: f64 = 0.2;

/// The turn at which `of` is least, and the least: every dip on a circle of steps, narrowed by parabolas.
///
/// A dip narrower than a step can be passed over.
pub(crate) fn least_on_circle(of: impl Fn(Turn) -> f64) -> (Turn, f64) {
    let by_step = Turn::of(STEP);
    let mut turns = [Turn::NONE; STEPS];
    for i in 1..STEPS {
        turns[i] = turns[i - 1].then(by_step);
    }
    let coarse = turns.map(&of);
    let mut least = (Turn::NONE, coarse[0]);
    for (i, &here) in coarse.iter().enumerate() {
        let around = [coarse[(i + STEPS - 1) % STEPS], here, coarse[(i + 1) % STEPS]];
        if here <= around[0] && here <= around[2] && here.is_finite() {
            let found = narrowed(&of, turns[i], around);
            if found.1 < least.1 {
                least = found;
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

/// The least within a step of `middle`, from its values a step before, there and a step after: each time at the vertex of the parabola through
/// the three best places, or by golden section where that leads nowhere.
///
/// R. P. Brent's way to a minimum without slopes (from memory).
fn narrowed(of: impl Fn(Turn) -> f64, middle: Turn, [before, here, after]: [f64; 3]) -> (Turn, f64) {
    /// The lesser part of a way cut by golden section.
    const GOLDEN: f64 = 0.381_966_011_250_105;
    let turn = |by: f64| {
        let (cos, sin) = cosine_and_sine(by);
        middle.then(Turn { cos, sin })
    };
    let (mut low, mut high) = (-STEP, STEP);
    let mut best = (0.0, here);
    let [mut second, mut third] =
        if before < after { [(-STEP, before), (STEP, after)] } else { [(STEP, after), (-STEP, before)] };
    let (mut step, mut step_before) = (STEP, 2.0 * STEP);
    for _ in 0..MOST_NARROWINGS {
        let centre = (low + high) / 2.0;
        if (best.0 - centre).abs() + (high - low) / 2.0 <= 2.0 * NARROW {
            break;
        }
        let (from_second, from_third) = (best.0 - second.0, best.0 - third.0);
        let (r, q) = (from_second * (best.1 - third.1), from_third * (best.1 - second.1));
        let vertex = -(from_third * q - from_second * r) / (2.0 * (q - r));
        let next = best.0 + vertex;
        // Not where the three places make no parabola: then `vertex` is no number.
        if vertex.abs() < step_before.abs() / 2.0 && next > low && next < high {
            step_before = step;
            step = vertex;
        } else {
            step_before = if best.0 >= centre { low - best.0 } else { high - best.0 };
            step = GOLDEN * step_before;
        }
        let at = best.0 + if step.abs() < NARROW { NARROW.copysign(step) } else { step };
        let tried = (at, of(turn(at)));
        if tried.1 <= best.1 {
            if at >= best.0 {
                low = best.0;
            } else {
                high = best.0;
            }
            (best, second, third) = (tried, best, second);
        } else {
            if at < best.0 {
                low = at;
            } else {
                high = at;
            }
            if tried.1 <= second.1 {
                (second, third) = (tried, second);
            } else if tried.1 <= third.1 {
                third = tried;
            }
        }
    }
    (turn(best.0), best.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The distance of a point of a circle from a place off it is least where the circle comes nearest: at the place's own angle.
    #[test]
    fn the_least_distance_is_where_the_circle_comes_nearest() {
        for k in 0..1000 {
            let (angle, away) = (0.013 * f64::from(k), 0.1 + 0.01 * f64::from(k % 300));
            let place = Turn::of(angle);
            let off = |turn: Turn| (turn.cos - away * place.cos).hypot(turn.sin - away * place.sin);
            let (turn, least) = least_on_circle(off);
            // From a place on the circle the distance grows as the angle does, else as its square.
            let off_circle = (away - 1.0).abs();
            let tolerance = if off_circle < 1e-3 { 2.0 * NARROW } else { 1e-14 };
            assert!((least - off_circle).abs() < tolerance, "{angle} {away}: {least}");
            assert!(turn.is_near(place, 1e-6), "{angle} {away}: {turn:?}");
        }
    }

    /// Where it has a kink, where it is the same everywhere, and where it is no number or infinite but for a step.
    #[test]
    fn what_is_not_smooth_is_narrowed_too() {
        let kink = Turn::of(0.1234);
        let (_, least) = least_on_circle(|turn| (turn.cos - kink.cos).abs() + (turn.sin - kink.sin).abs());
        assert!(least < 1e-7, "{least}");
        assert_eq!(least_on_circle(|_| 3.0).1, 3.0);
        let only = |turn: Turn| {
            if turn.is_near(Turn::of(STEP * 7.2), 0.05) { 2.0 - turn.sin } else { f64::INFINITY }
        };
        let expected = 2.0 - (STEP * 7.2 + 0.05).sin();
        assert!((least_on_circle(only).1 - expected).abs() < 1e-3, "{}", least_on_circle(only).1);
        assert!(least_on_circle(|_| f64::NAN).1.is_nan());
    }
}
