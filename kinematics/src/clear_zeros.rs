//! Decides where a trigonometric polynomial of degree 2 is zero, where that is beyond doubt: in plain arithmetic, all arcs of the circle at
//! once.
//!
//! The same rule of signs as in `circle_roots`, which finds touches too and says how sure it is. Here, where a coefficient of an arc is
//! too near to zero for its sign, or zeros lie too close together, nothing is decided.

use arrayvec::ArrayVec;

use crate::angle::LANES;
use crate::circle_roots::{ARC_END, ARCS, CircleRoots, Piece, halves, sign_changes};
use crate::turn::Turn;

/// An arc of the circle is halved so often at most: to about 0.4°.
const HALVINGS: u32 = 7;
/// A zero is found by a step no longer than this, in the tangent of half an angle: it is then off by about the square of it.
const FOUND: f64 = 1e-6;
/// Steps to it at most.
const STEPS: usize = 30;
/// At most so many zeros.
const MOST: usize = 4;

/// Finds them; holds what all polynomials share.
#[derive(Clone, Debug)]
pub(crate) struct ClearZeros {
    circle: CircleRoots<5, 7>,
    /// Bernstein coefficient `j` of all arcs from coefficient `i`, at `[j][i]`.
    bernstein: [[[f64; ARCS]; 5]; 5],
}

/// What the arcs of a polynomial say.
#[derive(Default)]
struct Arcs {
    /// Bernstein coefficient `j` of each arc, at `[j]`.
    coefficients: [[f64; ARCS]; 5],
    /// How often the sign changes among those of each.
    changes: [u64; ARCS],
    /// The least size of a coefficient of each, where all are numbers.
    least: [f64; ARCS],
}

/// Brackets of the tangents of half the angle to zeros, one in each, each number of all in a row; lanes to spare have their zero at 0.
struct Brackets {
    low: [f64; LANES],
    high: [f64; LANES],
    at: [f64; LANES],
    /// 1 where the value rises through the zero, else −1.
    sense: [f64; LANES],
    /// Coefficients of rising powers.
    powers: [[f64; LANES]; 5],
}

impl ClearZeros {
    pub(crate) fn new() -> Self {
        let circle = CircleRoots::<5, 7>::new();
        let of_unit = |i: usize| -> [[f64; 5]; ARCS] {
            let unit: [f64; 5] = std::array::from_fn(|k| if k == i { 1.0 } else { 0.0 });
            std::array::from_fn(|arc| circle.piece(&unit, arc).coefficients)
        };
        let of_units: [_; 5] = std::array::from_fn(of_unit);
        let bernstein =
            std::array::from_fn(|j| std::array::from_fn(|i| std::array::from_fn(|arc| of_units[i][arc][j])));
        Self { circle, bernstein }
    }

    /// Every zero of a₀ + a₁ cos θ + b₁ sin θ + a₂ cos 2θ + b₂ sin 2θ, from (a₀, a₁, b₁, a₂, b₂), rising from −π/8 and to about 1e-11 rad; none where a value no
    /// farther from zero than `doubt` leaves it open which there are.
    pub(crate) fn of(&self, coefficients: &[f64; 5], doubt: f64) -> Option<ArrayVec<Turn, MOST>> {
        if !coefficients.iter().chain([&doubt]).all(|c| c.is_finite()) {
            return None;
        }
        let mut arcs = Arcs::default();
        look(&self.bernstein, coefficients, &mut arcs);
        let hidden = |c: &f64| c.abs() <= doubt;
        if arcs.least.iter().any(hidden) {
            return None;
        }
        let mut brackets = Brackets::none();
        let mut middles: ArrayVec<Turn, MOST> = ArrayVec::new();
        for (arc, changes) in arcs.changes.iter().enumerate() {
            if *changes == 0 {
                continue;
            }
            let of_tangent = powers(&self.circle.about_middle(coefficients, arc));
            let mut bracket = |piece: &Piece<5>| {
                let lane = middles.len();
                middles.try_push(self.circle.middle(arc)).ok()?;
                brackets.put(lane, &of_tangent, piece);
                Some(())
            };
            let mut pieces: ArrayVec<Piece<5>, { HALVINGS as usize + 2 }> = ArrayVec::new();
            pieces.push(Piece::whole(arc, arcs.coefficients.each_ref().map(|row| row[arc])));
            while let Some(piece) = pieces.pop() {
                match sign_changes(&piece.coefficients) {
                    0 => {}
                    1 => bracket(&piece)?,
                    _ if piece.halvings < HALVINGS => {
                        let [lower, upper] = halves(&piece);
                        if lower.coefficients.iter().chain(&upper.coefficients).any(hidden) {
                            return None;
                        }
                        pieces.push(upper);
                        pieces.push(lower);
                    }
                    _ => return None,
                }
            }
        }
        narrow(&mut brackets).then(|| {
            let turn = |(middle, half): (Turn, f64)| {
                let whole = 1.0 / (1.0 + half * half);
                middle.then(Turn { cos: (1.0 - half * half) * whole, sin: 2.0 * half * whole })
            };
            middles.into_iter().zip(brackets.at).map(turn).collect()
        })
    }
}

impl Brackets {
    fn none() -> Self {
        let mut powers = [[0.0; LANES]; 5];
        powers[1] = [1.0; LANES];
        Self { low: [-1.0; LANES], high: [1.0; LANES], at: [0.0; LANES], sense: [1.0; LANES], powers }
    }

    /// The zero of a piece whose ends have opposite signs.
    fn put(&mut self, lane: usize, powers: &[f64; 5], piece: &Piece<5>) {
        (self.low[lane], self.high[lane]) = (ARC_END * piece.low, ARC_END * piece.high);
        let [at_low, .., at_high] = piece.coefficients;
        self.at[lane] = self.low[lane] + (self.high[lane] - self.low[lane]) * (at_low / (at_low - at_high));
        self.sense[lane] = at_high.signum();
        for (row, power) in self.powers.iter_mut().zip(powers) {
            row[lane] = *power;
        }
    }
}

/// Newton's steps to the zero in each bracket, halving where one would leave it; whether all are found.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn narrow(brackets: &mut Brackets) -> bool {
    let Brackets { low, high, at, sense, powers: [c0, c1, c2, c3, c4] } = brackets;
    let mut steps = [0.0; LANES];
    for _ in 0..STEPS {
        for i in 0..LANES {
            let x = at[i];
            let square = x * x;
            let value = (c0[i] + c1[i] * x) + ((c2[i] + c3[i] * x) + c4[i] * square) * square;
            let slope = (c1[i] + 2.0 * c2[i] * x) + (3.0 * c3[i] + 4.0 * c4[i] * x) * square;
            let is_high = value * sense[i] > 0.0;
            let (least, most) = (if is_high { low[i] } else { x }, if is_high { x } else { high[i] });
            let next = x - value / slope;
            let middle = 0.5 * (least + most);
            let next = if next >= least { next } else { middle };
            let next = if next <= most { next } else { middle };
            (low[i], high[i], at[i]) = (least, most, next);
            steps[i] = (next - x).abs();
        }
        if steps.iter().all(|step| *step < FOUND) {
            return true;
        }
    }
    false
}

#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn look(bernstein: &[[[f64; ARCS]; 5]; 5], &[c0, c1, c2, c3, c4]: &[f64; 5], arcs: &mut Arcs) {
    let Arcs { coefficients: [r0, r1, r2, r3, r4], changes, least } = arcs;
    let [of0, of1, of2, of3, of4] = bernstein;
    // One loop, over the arcs: the compiler takes them all in one step.
    for arc in 0..ARCS {
        let sum = |[m0, m1, m2, m3, m4]: &[[f64; ARCS]; 5]| {
            (m0[arc] * c0 + m1[arc] * c1) + (m2[arc] * c2 + m3[arc] * c3) + m4[arc] * c4
        };
        let (b0, b1, b2, b3, b4) = (sum(of0), sum(of1), sum(of2), sum(of3), sum(of4));
        (r0[arc], r1[arc], r2[arc], r3[arc], r4[arc]) = (b0, b1, b2, b3, b4);
        let lesser = |one: f64, other: f64| if one < other { one } else { other };
        let ends = lesser(b0.abs(), b4.abs());
        least[arc] = lesser(lesser(ends, b2.abs()), lesser(b1.abs(), b3.abs()));
        let differ = |one: f64, other: f64| (one.to_bits() ^ other.to_bits()) >> 63;
        changes[arc] = differ(b0, b1) + differ(b1, b2) + differ(b2, b3) + differ(b3, b4);
    }
}

/// Coefficients of rising powers of x in what the polynomial is times (1 + x²)², x the tangent of half the angle.
fn powers(&[a0, a1, b1, a2, b2]: &[f64; 5]) -> [f64; 5] {
    [a0 + a1 + a2, 2.0 * b1 + 4.0 * b2, 2.0 * a0 - 6.0 * a2, 2.0 * b1 - 4.0 * b2, a0 - a1 + a2]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::test_runner::RngSeed;

    use super::*;
    use crate::turn::wrapped;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 20_000, failure_persistence: None, rng_seed: RngSeed::Fixed(3), ..Default::default() })]

        /// Zeros are put in as the product of sines of half the way to each: derived, not found.
        #[test]
        fn the_zeros_that_were_put_in_are_found_or_left_open(
            first in -3.0..3.0_f64, gaps in prop::array::uniform3(prop::sample::select(vec![1e-9, 1e-5, 0.01, 0.05, 0.3, 1.0, 1.7])),
            count in prop::sample::select(vec![0_usize, 2, 4]), rest in 1e-3..3.0_f64,
        ) {
            let circle = CircleRoots::<5, 7>::new();
            let clear = ClearZeros::new();
            let mut zeros = vec![first];
            zeros.extend(gaps.iter().scan(first, |at, gap| { *at += gap; Some(*at) }));
            zeros.truncate(count);
            let values = std::array::from_fn(|i| {
                let at = CircleRoots::<5, 7>::sample(i);
                let turns = zeros.iter().map(|zero| ((at - zero) / 2.0).sin()).product::<f64>();
                turns * (1.0 + rest - (at - 0.3).cos()).powi((4 - count as i32) / 2)
            });
            let polynomial = circle.polynomial(&values, 0.0);
            let apart = gaps.iter().take(count.saturating_sub(1)).all(|gap| *gap > 0.02) && (count == 4 || rest > 0.1);
            let Some(found) = clear.of(polynomial.coefficients(), 1e-9) else {
                prop_assert!(!apart, "{zeros:?}");
                return Ok(());
            };
            prop_assert_eq!(found.len(), zeros.len(), "{:?} {:?}", found, zeros);
            for zero in &zeros {
                let nearest = found.iter().map(|turn| wrapped(turn.angle() - zero).abs()).fold(f64::INFINITY, f64::min);
                prop_assert!(nearest < 1e-8, "{nearest} {found:?} {zeros:?}");
            }
        }
    }
}
