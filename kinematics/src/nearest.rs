//! Decides where a distance is least when an axis makes its round.

use std::f64::consts::TAU;

/// Steps of the round at which the distance is first asked.
const STEPS: usize = 72;

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
