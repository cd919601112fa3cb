//! Decides where a trigonometric polynomial `a₀ + Σ (aₖ cos kθ + bₖ sin kθ)` of degree `n` is zero on the whole circle.
//!
//! The circle is cut into arcs. With x = tan of half the angle from an arc's middle, f · (1 + x²)ⁿ is a polynomial of
//! degree 2n, written in the Bernstein basis of the arc: its number of zeros there is at most the number of sign
//! changes of its coefficients, and equal to it where that is 0 or 1 (Descartes' rule of signs). Arcs with more sign
//! changes are halved, so no zero is passed over. Where two zeros fall together, or all but, the halving ends without an
//! answer: such a place is given as a touch, for the caller to prove or reject. Two values more than needed are taken;
//! what they add of a next degree, where there is none, tells how much rounding the values hold, and so where the
//! polynomial is too near to zero for its sign to be sure.

use std::f64::consts::{FRAC_PI_4, TAU};

use arrayvec::ArrayVec;
use nalgebra::Complex;

use crate::turn::Turn;

/// Arcs the circle is cut into at first.
pub(crate) const ARCS: usize = 8;
/// Tangent of a quarter of an arc: half an arc by half-angles.
pub(crate) const ARC_END: f64 = 0.198_912_367_379_658;
/// Arcs are halved so often at most: to about 2e-7 rad.
const HALVINGS: u32 = 22;
/// From here on (about 3e-3 rad) an arc with sign changes but no zero is given as a touch.
const TOUCHING: u32 = 8;
/// Touches no farther apart than this (rad), with no zero in between, are one.
const ONE_TOUCH: f64 = 1e-4;
/// Rounding is at least this fraction of the largest coefficient.
const LEAST_ROUNDING: f64 = 1e-15;
/// Where no sign changes, values within this times rounding of zero are looked at as well.
const NEAR: f64 = 10.0;
/// Rounding in a value, over what it makes of the next degree: a safe multiple of the root of half the number of values.
const SAFETY: f64 = 30.0;
/// Newton's last step to a zero is no longer than this (rad): what it leaves is about the square of it.
const LAST_STEP: f64 = 1e-8;
/// Zeros are counted by so many values on a circle about them, each so many times as far from zero as rounding may put it and turned no
/// farther (rad) from the one before.
const ROUND: usize = 128;
const WELL_CLEAR: f64 = 3.0;
const LONGEST_TURN: f64 = 2.0;
/// No more zeros and touches than this are given.
pub(crate) const MOST: usize = 48;

/// A place on the circle, rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Root {
    /// The sign changes here: there is a zero.
    Crossing {
        /// Where.
        at: f64,
        /// Whether it is certainly a single one: no sign that tells so is in doubt by rounding.
        is_simple: bool,
    },
    /// Zeros, or none: the sign tells nothing, for rounding hides it or it does not change.
    Touch {
        /// Where.
        at: f64,
        /// How far to either side of it, rad.
        half: f64,
        /// At most so many zeros (more may lie upon one another): none where the value is clear of zero by more than rounding, one
        /// where the slope is.
        zeros: usize,
    },
}

impl Root {
    /// Where it is.
    pub(crate) fn at(self) -> f64 {
        match self {
            Self::Crossing { at, .. } | Self::Touch { at, .. } => at,
        }
    }
}

impl<const N: usize> Piece<N> {
    pub(crate) fn whole(arc: usize, coefficients: [f64; N]) -> Self {
        Self { middle: arc as f64 * FRAC_PI_4, low: -1.0, high: 1.0, coefficients, halvings: 0 }
    }
}

/// A trigonometric polynomial.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CirclePolynomial<const N: usize> {
    /// (a₀, a₁, b₁, a₂, b₂, …).
    coefficients: [f64; N],
    /// How far off a value may be.
    rounding: f64,
    /// A value no farther from zero than this may be a zero all the same.
    near: f64,
}

impl<const N: usize> CirclePolynomial<N> {
    /// The same where a value may be off by `doubt`, if that is more than its rounding.
    pub(crate) fn with_doubt(self, doubt: f64) -> Self {
        let rounding = self.rounding.max(doubt);
        Self { rounding, near: self.near.max(rounding), ..self }
    }

    /// How many zeros, real or not, lie about the angle `at` within `radius`; none where rounding hides it.
    ///
    /// The value goes round 0 as often as the angle goes round zeros (principle of the argument), and so it does whatever rounding did to the
    /// coefficients, where that is less than the least value on the way (Rouché's theorem).
    pub(crate) fn zeros_within(&self, at: f64, radius: f64) -> Option<usize> {
        let least = WELL_CLEAR * self.rounding * ((N / 2) as f64 * radius).exp();
        let value = |k: usize| {
            let way = Complex::from_polar(radius, TAU * k as f64 / ROUND as f64);
            self.complex_value(Complex::new(at, 0.0) + way)
        };
        let (mut before, mut turned) = (value(0), 0.0);
        for k in 1..=ROUND {
            let here = value(k % ROUND);
            let step = (here / before).arg();
            if here.norm() <= least || step.is_nan() || step.abs() >= LONGEST_TURN {
                return None;
            }
            turned += step;
            before = here;
        }
        Some((turned / TAU).round().max(0.0) as usize)
    }

    fn complex_value(&self, at: Complex<f64>) -> Complex<f64> {
        let turn = (Complex::<f64>::i() * at).exp();
        let (mut on, mut back) = (turn, turn.inv());
        let (by_on, by_back) = (on, back);
        let mut value = Complex::from(self.coefficients[0]);
        for k in 1..=N / 2 {
            let (a, b) = (self.coefficients[2 * k - 1], self.coefficients[2 * k]);
            value += (on * Complex::new(a, -b) + back * Complex::new(a, b)) / 2.0;
            (on, back) = (on * by_on, back * by_back);
        }
        value
    }

    #[cfg(test)]
    pub(crate) fn coefficients(&self) -> &[f64; N] {
        &self.coefficients
    }
}

/// Finds the zeros of trigonometric polynomials with `N` = 2 · degree + 1 coefficients from `S` = N + 2 values; holds
/// what all of them share.
#[derive(Clone, Debug)]
pub(crate) struct CircleRoots<const N: usize, const S: usize> {
    /// Coefficients of this degree and the next from values at [`Self::sample`].
    from_samples: [[f64; S]; S],
    /// Bernstein coefficients on the arc around angle 0 from coefficients.
    bernstein: [[f64; N]; N],
    /// Cosine and sine of `k` arcs.
    turns: [(f64, f64); ARCS],
    /// The turns by [`Self::sample`].
    pub(crate) samples: [Turn; S],
}

/// A piece of the circle: the arc around `middle`, and there the part of x/`ARC_END` from `low` to `high`.
#[derive(Clone, Copy)]
pub(crate) struct Piece<const N: usize> {
    middle: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) coefficients: [f64; N],
    pub(crate) halvings: u32,
}

impl<const N: usize, const S: usize> CircleRoots<N, S> {
    const DEGREE: usize = N / 2;

    pub(crate) fn new() -> Self {
        let mut from_samples = [[0.0; S]; S];
        let mut bernstein = [[0.0; N]; N];
        for (row, coefficients) in from_samples.iter_mut().enumerate() {
            for (i, coefficient) in coefficients.iter_mut().enumerate() {
                let (sin, cos) = (row.div_ceil(2) as f64 * Self::sample(i)).sin_cos();
                let share = if row == 0 { 1.0 } else { 2.0 } / S as f64;
                *coefficient = share * if row % 2 == 0 && row > 0 { sin } else { cos };
            }
        }
        for (j, row) in bernstein.iter_mut().enumerate() {
            row[0] = Self::bernstein_of(j, 0).0;
            for k in 1..=Self::DEGREE {
                (row[2 * k - 1], row[2 * k]) = Self::bernstein_of(j, k);
            }
        }
        let turns = std::array::from_fn(|k| {
            let (sin, cos) = (k as f64 * FRAC_PI_4).sin_cos();
            (cos, sin)
        });
        let samples = std::array::from_fn(|i| Turn::of(Self::sample(i)));
        Self { from_samples, bernstein, turns, samples }
    }

    /// Angles at which values determine the polynomial, rad.
    pub(crate) fn sample(i: usize) -> f64 {
        TAU * i as f64 / S as f64
    }

    /// Bernstein coefficient `j` of cos kθ and of sin kθ, each times (1 + x²)ⁿ: the real and imaginary part of
    /// (1 + ix)ⁿ⁺ᵏ (1 − ix)ⁿ⁻ᵏ. It is the mean over all choices of `j` of the 2n factors taken at the upper end of the
    /// arc, the others at the lower.
    fn bernstein_of(j: usize, k: usize) -> (f64, f64) {
        let (plus, minus) = (Self::DEGREE + k, Self::DEGREE - k);
        let quarter = ARC_END.atan();
        let size = (1.0 + ARC_END * ARC_END).powi(Self::DEGREE as i32);
        let (mut cos, mut sin) = (0.0, 0.0);
        for m in j.saturating_sub(minus)..=plus.min(j) {
            let weight = choose(plus, m) * choose(minus, j - m) / choose(2 * Self::DEGREE, j) * size;
            let at_upper = m as f64 - (j - m) as f64;
            let at_lower = (plus - m) as f64 - (minus + m - j) as f64;
            let angle = quarter * (at_upper - at_lower);
            cos += weight * angle.cos();
            sin += weight * angle.sin();
        }
        (cos, sin)
    }

    /// The polynomial that has these values at [`Self::sample`]; where it turns back no more than `near` before zero, it may touch.
    pub(crate) fn polynomial(&self, values: &[f64; S], near: f64) -> CirclePolynomial<N> {
        let all = times(&self.from_samples, values);
        let coefficients: [f64; N] = std::array::from_fn(|i| all[i]);
        let largest = coefficients.iter().fold(0.0_f64, |most, c| most.max(c.abs()));
        let next_degree = all[N].hypot(all[N + 1]);
        let rounding = (SAFETY * next_degree).max(LEAST_ROUNDING * largest);
        CirclePolynomial { coefficients, rounding, near: near.max(NEAR * rounding) }
    }

    /// Every zero and touch, each in [−π/8, 2π − π/8).
    pub(crate) fn roots(&self, polynomial: &CirclePolynomial<N>) -> ArrayVec<Root, MOST> {
        let mut roots = ArrayVec::new();
        let coefficients = &polynomial.coefficients;
        if !(polynomial.rounding > 0.0 && polynomial.rounding.is_finite()) {
            return roots;
        }
        for arc in 0..ARCS {
            search(&self.piece(coefficients, arc), polynomial, &mut roots);
        }
        roots
    }

    /// An arc, whole.
    pub(crate) fn piece(&self, coefficients: &[f64; N], arc: usize) -> Piece<N> {
        Piece::whole(arc, times(&self.bernstein, &self.about_middle(coefficients, arc)))
    }

    /// Coefficients for angles from the middle of an arc.
    pub(crate) fn about_middle(&self, coefficients: &[f64; N], arc: usize) -> [f64; N] {
        let mut about_middle = *coefficients;
        for k in 1..=Self::DEGREE {
            let (cos, sin) = self.turns[k * arc % ARCS];
            let (a, b) = (coefficients[2 * k - 1], coefficients[2 * k]);
            about_middle[2 * k - 1] = a * cos + b * sin;
            about_middle[2 * k] = b * cos - a * sin;
        }
        about_middle
    }

    /// The turn to the middle of an arc.
    pub(crate) fn middle(&self, arc: usize) -> Turn {
        let (cos, sin) = self.turns[arc];
        Turn { cos, sin }
    }
}

/// Puts the zeros and touches of a piece into `roots`; whether there was any.
fn search<const N: usize>(
    piece: &Piece<N>,
    polynomial: &CirclePolynomial<N>,
    roots: &mut ArrayVec<Root, MOST>,
) -> bool {
    let angle = |x: f64| piece.middle + 2.0 * (ARC_END * x).atan();
    let middle = || angle((piece.low + piece.high) / 2.0);
    let half = || (angle(piece.high) - angle(piece.low)) / 2.0;
    let hidden = |c: &f64| c.abs() <= polynomial.rounding;
    if piece.coefficients.iter().all(hidden) {
        touch(middle(), half(), 2, roots);
        return true;
    }
    let changes = sign_changes(&piece.coefficients);
    if changes < 2 {
        // A zero at an end has no sign, and a neighbour may see it with another. The second coefficient tells the slope there.
        let [first, second, .., before_last, last] = &piece.coefficients[..] else { return false };
        let least = if changes == 0 { polynomial.near } else { polynomial.rounding };
        for (end, next, x) in [(first, second, piece.low), (last, before_last, piece.high)] {
            if end.abs() <= least {
                touch(angle(x), 0.0, if next.abs() <= least { 2 } else { 1 }, roots);
            }
        }
    }
    if changes == 0 {
        if piece.coefficients[1..N - 1].iter().any(|c| c.abs() <= polynomial.near) {
            touch(middle(), half(), 2, roots);
        }
        return false;
    }
    if changes == 1 {
        let (low, high) = (angle(piece.low), angle(piece.high));
        let rises = piece.coefficients[N - 1] > piece.coefficients[0];
        let from = angle(piece.low + (piece.high - piece.low) * polygon_crossing(&piece.coefficients));
        let at = crossing(&polynomial.coefficients, [low, high], from, rises);
        let is_simple = has_one_change(&piece.coefficients, polynomial.rounding);
        let _ = roots.try_push(Root::Crossing { at, is_simple });
        return true;
    }
    let mut found = false;
    if piece.halvings < HALVINGS {
        for half in halves(piece) {
            found |= search(&half, polynomial, roots);
        }
    }
    if !found && piece.halvings >= TOUCHING {
        // Halves without a change of sign are clear of zero, or have said themselves that rounding hides it; the last are not halved.
        let zeros = if piece.halvings < HALVINGS { 0 } else { 2 };
        touch(middle(), half(), zeros, roots);
        found = true;
    }
    found
}

/// One more touch, or the same as the last.
fn touch(at: f64, half: f64, zeros: usize, roots: &mut ArrayVec<Root, MOST>) {
    match roots.last_mut() {
        Some(Root::Touch { at: last, half: widest, zeros: most }) if (at - *last).abs() < ONE_TOUCH => {
            *widest = widest.max((at - *last).abs() + half);
            *most = zeros.max(*most);
        }
        _ => {
            let _ = roots.try_push(Root::Touch { at, half, zeros });
        }
    }
}

/// Both halves of a piece, by repeated means of neighbouring coefficients (de Casteljau).
pub(crate) fn halves<const N: usize>(piece: &Piece<N>) -> [Piece<N>; 2] {
    let mut lower = [0.0; N];
    let mut upper = piece.coefficients;
    for (j, lower) in lower.iter_mut().enumerate() {
        *lower = upper[0];
        for i in 0..N - 1 - j {
            upper[i] = 0.5 * (upper[i] + upper[i + 1]);
        }
    }
    let middle = (piece.low + piece.high) / 2.0;
    let halvings = piece.halvings + 1;
    [
        Piece { high: middle, coefficients: lower, halvings, ..*piece },
        Piece { low: middle, coefficients: upper, halvings, ..*piece },
    ]
}

pub(crate) fn sign_changes<const N: usize>(coefficients: &[f64; N]) -> usize {
    let mut changes = 0;
    let mut last = 0.0;
    for &c in coefficients {
        if c != 0.0 {
            changes += usize::from(c * last < 0.0 || (c < 0.0) != (last < 0.0) && last != 0.0);
            last = c;
        }
    }
    changes
}

/// Whether the signs change once whatever rounding did to them: of all coefficients at most one may be too near to zero for its sign, the
/// one between both signs.
fn has_one_change<const N: usize>(coefficients: &[f64; N], rounding: f64) -> bool {
    let mut hidden = (0..N).filter(|i| coefficients[*i].abs() <= rounding);
    match (hidden.next(), hidden.next()) {
        (None, _) => true,
        (Some(i), None) => i > 0 && i + 1 < N && (coefficients[i - 1] < 0.0) != (coefficients[i + 1] < 0.0),
        _ => false,
    }
}

/// Where (0 at the lower end of a piece, 1 at the upper) the way through its coefficients, in equal steps, changes its sign: close to the
/// zero of the polynomial.
fn polygon_crossing<const N: usize>(coefficients: &[f64; N]) -> f64 {
    let changes = |i: &usize| (coefficients[*i] < 0.0) != (coefficients[*i + 1] < 0.0);
    let before = (0..N - 1).find(changes).unwrap_or(0);
    let (one, other) = (coefficients[before], coefficients[before + 1]);
    (before as f64 + one / (one - other)) / (N - 1) as f64
}

/// The zero between `low` and `high` (rad), where the values have opposite signs: Newton's steps, halving where one
/// would leave the bracket.
fn crossing<const N: usize>(
    polynomial: &[f64; N],
    [mut low, mut high]: [f64; 2],
    from: f64,
    rises: bool,
) -> f64 {
    let mut at = from;
    for _ in 0..60 {
        let (value, slope) = value_and_slope(polynomial, at);
        if (value > 0.0) == rises {
            high = at;
        } else {
            low = at;
        }
        let step = value / slope;
        let next = at - step;
        if value == 0.0 || step.abs() < LAST_STEP {
            return if next > low && next < high { next } else { at };
        }
        at = if next > low && next < high { next } else { (low + high) / 2.0 };
        if high - low < 1e-12 {
            break;
        }
    }
    at
}

fn value_and_slope<const N: usize>(polynomial: &[f64; N], at: f64) -> (f64, f64) {
    let (sin1, cos1) = at.sin_cos();
    let (mut cos, mut sin) = (cos1, sin1);
    let (mut value, mut slope) = (polynomial[0], 0.0);
    for k in 1..=N / 2 {
        let (a, b) = (polynomial[2 * k - 1], polynomial[2 * k]);
        value += a * cos + b * sin;
        slope += k as f64 * (b * cos - a * sin);
        (cos, sin) = (cos * cos1 - sin * sin1, sin * cos1 + cos * sin1);
    }
    (value, slope)
}

fn times<const N: usize>(matrix: &[[f64; N]; N], vector: &[f64; N]) -> [f64; N] {
    std::array::from_fn(|i| matrix[i].iter().zip(vector).map(|(m, v)| m * v).sum())
}

fn choose(n: usize, k: usize) -> f64 {
    (0..k).fold(1.0, |product, i| product * (n - i) as f64 / (i + 1) as f64)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::test_runner::RngSeed;

    use super::*;

    /// The polynomial with these zeros: the product of sin((θ − zero) / 2), whose number must be even.
    fn with_zeros<const N: usize, const S: usize>(
        solver: &CircleRoots<N, S>,
        zeros: &[f64],
        rest: f64,
    ) -> CirclePolynomial<N> {
        let values = std::array::from_fn(|i| {
            let at = CircleRoots::<N, S>::sample(i);
            let turns = zeros.iter().map(|zero| ((at - zero) / 2.0).sin()).product::<f64>();
            let left = (N - 1 - zeros.len()) as i32 / 2;
            turns * (1.0 + rest - at.cos()).powi(left)
        });
        solver.polynomial(&values, 0.0)
    }

    fn apart(one: f64, other: f64) -> f64 {
        crate::turn::wrapped(one - other).abs()
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

        #[test]
        fn the_zeros_that_were_put_in_are_found_and_no_other(
            first in -3.0..3.0_f64, mut gaps in prop::collection::vec(0.2..0.75_f64, 0..=8), rest in 1.0..3.0_f64,
        ) {
            gaps.truncate(gaps.len() / 2 * 2);
            let zeros: Vec<f64> = gaps.iter().scan(first, |at, gap| { *at += gap; Some(*at) }).collect();
            let solver = CircleRoots::<17, 19>::new();
            let polynomial = with_zeros(&solver, &zeros, rest);
            let found = solver.roots(&polynomial);
            let crossings: Vec<f64> = found.iter().filter_map(|root| match root {
                Root::Crossing { at, .. } => Some(*at),
                Root::Touch { .. } => None,
            }).collect();
            prop_assert_eq!(crossings.len(), zeros.len(), "{:?} {:?}", found, zeros);
            for zero in zeros {
                prop_assert!(crossings.iter().any(|at| apart(*at, zero) < 1e-5), "{zero} {crossings:?}");
            }
        }

        /// There no piece has a sign of its own at the zero; there may be others in both.
        #[test]
        fn a_double_zero_between_two_pieces_is_not_lost(
            part in 0..64_u32, before in 0.05..0.6_f64, after in 0.05..0.6_f64, by in prop::sample::select(vec![0.0, 1e-16, -1e-15]),
        ) {
            let zero = FRAC_PI_4 / 8.0 * f64::from(part) + by;
            let solver = CircleRoots::<17, 19>::new();
            let polynomial = with_zeros(&solver, &[zero, zero, zero - before, zero + after], 1.0);
            let found = solver.roots(&polynomial);
            let crossings = |zero: f64| found.iter().filter(|root| matches!(root, Root::Crossing { at, .. } if apart(*at, zero) < 1e-5)).count();
            let doubled = found.iter().any(|root| matches!(root, Root::Touch { at, zeros: 2, .. } if apart(*at, zero) < 4e-3));
            prop_assert!(doubled || crossings(zero) == 2, "{found:?} {zero}");
            prop_assert_eq!([crossings(zero - before), crossings(zero + after)], [1, 1], "{:?}", found);
        }

        /// A double zero counts twice, and so do two that are no real numbers: cos(θ − zero) = cosh(aside) at zero ± i aside.
        #[test]
        fn zeros_about_a_place_are_counted_real_or_not(
            zero in -3.0..3.0_f64, apart in prop::sample::select(vec![0.0, 1e-9, 1e-3, 0.02]), aside in prop::sample::select(vec![0.0, 1e-9, 1e-4, 0.02, 0.3]),
        ) {
            let solver = CircleRoots::<17, 19>::new();
            let values = std::array::from_fn(|i| {
                let at = CircleRoots::<17, 19>::sample(i);
                let two = ((at - zero) / 2.0).sin() * ((at - zero - apart) / 2.0).sin();
                two * ((at - zero).cos() - f64::cosh(aside)) * (2.0 - (at - zero).cos()).powi(6)
            });
            let polynomial = solver.polynomial(&values, 0.0);
            prop_assert_eq!(polynomial.zeros_within(zero, 0.05), Some(if aside < 0.05 { 4 } else { 2 }));
            prop_assert_eq!(polynomial.zeros_within(zero + 1.0, 0.05), Some(0));
        }

        #[test]
        fn a_double_zero_is_never_lost(zero in -3.0..3.0_f64, others in -3.0..3.0_f64, by in 0.0..1e-6_f64) {
            let solver = CircleRoots::<5, 7>::new();
            prop_assume!(apart(zero, others) > 0.1);
            let polynomial = with_zeros(&solver, &[zero, zero + by, others, others + 0.05], 1.0);
            let found = solver.roots(&polynomial);
            prop_assert!(found.iter().any(|root| apart(root.at(), zero) < 4e-3), "{found:?} {zero}");
            let sharp = found.iter().filter(|root| matches!(root, Root::Crossing { at, .. } if apart(*at, others) < 1e-9)).count();
            prop_assert_eq!(sharp, 1, "{:?}", found);
        }
    }
}
