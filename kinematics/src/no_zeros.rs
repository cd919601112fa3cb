//! Decides whether a trigonometric polynomial of degree 8 certainly has no zero next to a place where its coefficients leave that open.
//!
//! Coefficients hold every value to rounding of the largest. Where the values are small by themselves, one worked out there holds them
//! to rounding of its own: with nine of them close together, the polynomial of degree 8 through them is the same but for less than
//! (8 w)⁹ / (9! · 2⁸) of the largest value (the remainder of interpolation over a half-width w, with S. Bernstein's bound on derivatives
//! of trigonometric polynomials). Its coefficients in the Bernstein basis enclose it.

use nalgebra::SMatrix;

use crate::turn::Turn;

/// Values taken.
const NODES: usize = 9;
/// Places wider than this (rad, half) are halved where they leave it open.
const WIDE: f64 = 2e-3;
/// A bit beyond the place, on either side.
const BEYOND: f64 = 1.05;
/// Coefficients nearer to zero than this share of the largest of them may be zero: what the values lack, times what the basis makes of it.
const SHARE: f64 = 1e-5;
/// A place is halved so often at most.
const HALVINGS: u32 = 4;

/// Looks for it; holds what all polynomials share.
#[derive(Clone, Debug)]
pub(crate) struct NoZeros {
    /// Bernstein coefficients from values at equal steps.
    bernstein: SMatrix<f64, NODES, NODES>,
}

impl NoZeros {
    pub(crate) fn new() -> Self {
        let choose = |k: usize| (0..k).fold(1.0, |product, i| product * (8 - i) as f64 / (i + 1) as f64);
        let values = SMatrix::<f64, NODES, NODES>::from_fn(|node, k| {
            let x = node as f64 / 8.0;
            choose(k) * x.powi(k as i32) * (1.0 - x).powi(8 - k as i32)
        });
        // Values at nine places determine a polynomial of degree 8.
        Self { bernstein: values.try_inverse().unwrap_or_else(SMatrix::zeros) }
    }

    /// Whether `value`, nowhere above `largest`, has no zero within `half` (rad) of `at`.
    pub(crate) fn within(&self, at: f64, half: f64, largest: f64, value: &impl Fn(Turn) -> f64) -> bool {
        let wide = BEYOND * half;
        let values = SMatrix::<f64, NODES, 1>::from_fn(|node, _| {
            value(Turn::of(at + wide * (node as f64 / 4.0 - 1.0)))
        });
        let coefficients = self.bernstein * values;
        let remainder = (8.0 * wide).powi(9) / (362_880.0 * 256.0) * largest;
        let least = SHARE * coefficients.amax() + 2.0 * remainder;
        let sign = coefficients[0].signum();
        if is_above(std::array::from_fn(|k| sign * coefficients[k]), least, HALVINGS) {
            return true;
        }
        // Where its ends are of two signs there is a zero.
        let is_clear = coefficients[0] * coefficients[8] > 0.0;
        half > WIDE
            && is_clear
            && [-0.5, 0.5].iter().all(|by| self.within(at + by * half, half / 2.0, largest, value))
    }
}

/// Whether the polynomial is above `least` everywhere.
fn is_above(mut upper: [f64; NODES], least: f64, halvings: u32) -> bool {
    if upper.iter().all(|c| *c > least) {
        return true;
    }
    // Its values at the ends are the outer coefficients.
    if halvings == 0 || upper[0] <= least || upper[8] <= least {
        return false;
    }
    let mut lower = [0.0; NODES];
    for (j, lower) in lower.iter_mut().enumerate() {
        *lower = upper[0];
        for i in 0..NODES - 1 - j {
            upper[i] = 0.5 * (upper[i] + upper[i + 1]);
        }
    }
    is_above(lower, least, halvings - 1) && is_above(upper, least, halvings - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// cos 8θ − 1 + `rest` has a double zero at 0 where `rest` is 0, two zeros below and none above: sin²(4θ) = rest / 2.
    #[test]
    fn a_place_without_a_zero_is_told_from_one_with() {
        let no_zeros = NoZeros::new();
        let value = |rest: f64| move |turn: Turn| -2.0 * (4.0 * turn.angle()).sin().powi(2) - rest;
        for half in [1e-5, 1e-3, 0.01, 0.1] {
            for (rest, has_none) in [(0.1, true), (1.0, true), (0.0, false), (-1e-12, false)] {
                let found = no_zeros.within(1e-6, half, 3.0, &value(rest));
                assert_eq!(found, has_none, "{half} {rest}");
            }
        }
        // Far below rounding of the largest value a place of its own size is still told.
        let small = |turn: Turn| 1e-18 * (1.0 + 0.5 * turn.sin);
        assert!(no_zeros.within(0.3, 1e-4, 1.0, &small) && !no_zeros.within(0.3, 0.2, 1e9, &small));
    }
}
