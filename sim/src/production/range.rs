//! Decides how three guesses at one number are kept together and put together.

use std::ops::Mul;

/// A number that is not known: what it may be at least, what is expected, what it may be at most.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Range {
    /// At least.
    pub low: f64,
    /// Expected.
    pub expected: f64,
    /// At most.
    pub high: f64,
}

impl Range {
    /// A number that is known.
    #[must_use]
    pub fn known(value: f64) -> Self {
        Self { low: value, expected: value, high: value }
    }

    /// `expected`, and on either side the root of the sum of squares of what each of `effects`, which are independent of one another,
    /// takes away or adds. An effect is what the number becomes less `expected` with one cause at either of its ends.
    #[must_use]
    pub fn from_effects(expected: f64, effects: impl IntoIterator<Item = [f64; 2]>) -> Self {
        let (less, more) = effects.into_iter().fold((0.0, 0.0), |(less, more), [one, other]| {
            let down = one.min(other).min(0.0);
            let up = one.max(other).max(0.0);
            (less + down * down, more + up * up)
        });
        Self { low: expected - f64::sqrt(less), expected, high: expected + f64::sqrt(more) }
    }
}

impl Mul<f64> for Range {
    type Output = Self;

    /// Every one of them times `factor`, which is at least 0.
    fn mul(self, factor: f64) -> Self {
        Self { low: self.low * factor, expected: self.expected * factor, high: self.high * factor }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 3² + 4² = 5², on one side and the other.
    #[test]
    fn independent_effects_add_as_squares_on_their_side() {
        let range = Range::from_effects(100.0, [[-3.0, 6.0], [8.0, -4.0]]);
        assert_eq!(range, Range { low: 95.0, expected: 100.0, high: 110.0 });
    }

    #[test]
    fn an_effect_that_lengthens_at_both_ends_shortens_nothing() {
        assert_eq!(Range::from_effects(10.0, [[1.0, 2.0]]), Range { low: 10.0, expected: 10.0, high: 12.0 });
    }
}
