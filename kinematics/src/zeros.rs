//! Decides how many solutions of a pose, real or not, have a value of some axis near a place: as many as the polynomial whose zeros these
//! values are has there, or twice as many.

use arrayvec::ArrayVec;

use crate::circle_roots::{CirclePolynomial, MOST, Root};

/// The zeros of a polynomial, each a value of `axis` (0-based).
#[derive(Clone, Debug)]
pub(crate) struct Zeros {
    pub(crate) axis: usize,
    pub(crate) roots: ArrayVec<Root, MOST>,
    pub(crate) of: Polynomial,
}

/// What they are zeros of.
#[derive(Clone, Debug)]
pub(crate) enum Polynomial {
    /// Each stands for one solution.
    Once(CirclePolynomial<17>),
    /// Each stands for two.
    Twice(CirclePolynomial<9>),
}

impl Zeros {
    /// How many solutions have a value `within` (rad) of `at`; none where rounding hides it.
    pub(crate) fn solutions_within(&self, at: f64, within: f64) -> Option<usize> {
        match &self.of {
            Polynomial::Once(polynomial) => polynomial.zeros_within(at, within),
            Polynomial::Twice(polynomial) => polynomial.zeros_within(at, within).map(|count| 2 * count),
        }
    }
}
