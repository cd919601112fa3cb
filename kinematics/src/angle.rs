//! Decides the sines of angles and the angles of sines, many at once, in plain arithmetic without branches: the compiler can then take
//! several in one step of the processor's wider registers, and every processor gives the same bits.
//!
//! - Sine and cosine: whole quarter turns are taken off in two parts (Cody and Waite: the first has so few digits that its multiples
//!   are exact), and of the rest, within π/4, Taylor's series is summed; what it leaves out is less than 3·10⁻¹⁸.
//! - Arctangent: the lesser of |cosine| and |sine| over the greater is the tangent of an angle in [0, π/4]. Of 0, π/8 and π/4 the
//!   nearest is taken off by the formula for the tangent of a difference; what is left is within tan(π/16) ≈ 0.199, where Taylor's
//!   series up to the 25th power leaves out less than 2·10⁻²⁰ of 0.2.

use std::f64::consts::{FRAC_2_PI, FRAC_PI_2, FRAC_PI_4, FRAC_PI_8, PI};

use arrayvec::ArrayVec;

use crate::AxisValues;
use crate::inverse::Solution;
use crate::turn::Turn;

/// tan(π/16), tan(3π/16) and tan(π/8).
const TAN_1_16: f64 = 0.198_912_367_379_658;
const TAN_3_16: f64 = 0.668_178_637_919_298_9;
const TAN_2_16: f64 = 0.414_213_562_373_095_05;

/// π/2 in two parts: 33 binary digits, and the rest.
const QUARTER_HIGH: f64 = f64::from_bits(0x3ff9_21fb_5440_0000);
const QUARTER_LOW: f64 = 6.077_100_506_506_192e-11;
/// Added and taken off again it leaves a number rounded to a whole one, which then stands in its last binary digits.
const ROUNDS: f64 = 6_755_399_441_055_744.0;
/// Up to this angle (rad) multiples of [`QUARTER_HIGH`] are exact.
const MOST: f64 = 1e6;

/// So many are taken at once; of the angles of one arm six, and two to spare.
pub(crate) const LANES: usize = 8;

/// The turns by half of each axis value (rad).
pub(crate) fn half_turns(axes: &AxisValues) -> [Turn; 6] {
    turns_of(&(axes / 2.0))
}

/// The turns by each axis value (rad).
pub(crate) fn turns_of(axes: &AxisValues) -> [Turn; 6] {
    let mut angles = [0.0; LANES];
    angles[..6].copy_from_slice(axes.as_slice());
    if !can_turn_plainly(&angles) {
        return std::array::from_fn(|i| Turn::of(axes[i]));
    }
    let (mut cosines, mut sines) = ([0.0; LANES], [0.0; LANES]);
    cosines_and_sines(&angles, &mut cosines, &mut sines);
    std::array::from_fn(|i| Turn { cos: cosines[i], sin: sines[i] })
}

/// Whether [`cosine_and_sine`] serves for all of these (rad); not where one is no number.
#[inline(always)]
pub(crate) fn can_turn_plainly(angles: &[f64; LANES]) -> bool {
    angles.iter().fold(true, |plain, angle| plain & (angle.abs() < MOST))
}

#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn cosines_and_sines(angles: &[f64; LANES], cosines: &mut [f64; LANES], sines: &mut [f64; LANES]) {
    for i in 0..LANES {
        (cosines[i], sines[i]) = cosine_and_sine(angles[i]);
    }
}

/// Of an angle of at most [`MOST`].
#[inline(always)]
pub(crate) fn cosine_and_sine(angle: f64) -> (f64, f64) {
    let shifted = angle * FRAC_2_PI + ROUNDS;
    let quarters = shifted.to_bits();
    let whole = shifted - ROUNDS;
    let rest = (angle - whole * QUARTER_HIGH) - whole * QUARTER_LOW;
    let square = rest * rest;
    let sine = rest + rest * square * series(square, &SINE);
    let cosine = 1.0 + square * series(square, &COSINE);
    let (cosine, sine) = if quarters & 1 == 0 { (cosine, sine) } else { (sine, cosine) };
    let cosine_sign = (quarters.wrapping_add(1) & 2) << 62;
    let sine_sign = (quarters & 2) << 62;
    (f64::from_bits(cosine.to_bits() ^ cosine_sign), f64::from_bits(sine.to_bits() ^ sine_sign))
}

/// Coefficients of Taylor's series, from the second term on: ∓1/3!, ±1/5!, … and ∓1/2!, ±1/4!, …
const SINE: [f64; 8] = reciprocal_factorials(3);
const COSINE: [f64; 8] = reciprocal_factorials(2);

/// Coefficients of the arctangent's: 1, −1/3, 1/5, … to 1/25.
const ARCTANGENT: [[f64; 8]; 2] = {
    let mut terms = [[0.0; 8]; 2];
    let mut power = 0;
    while power < 13 {
        let term = 1.0 / (2 * power + 1) as f64;
        terms[power / 8][power % 8] = if power % 2 == 0 { term } else { -term };
        power += 1;
    }
    terms
};

const fn reciprocal_factorials(first: u32) -> [f64; 8] {
    let mut terms = [0.0; 8];
    let mut factorial = 1.0;
    let mut n = 1;
    while n < first + 16 {
        n += 1;
        factorial *= n as f64;
        if n >= first && (n - first).is_multiple_of(2) {
            let term = ((n - first) / 2) as usize;
            if term < 8 {
                terms[term] = if term.is_multiple_of(2) { -1.0 / factorial } else { 1.0 / factorial };
            }
        }
    }
    terms
}

/// The sum of the terms times rising powers of `x`, in pairs (Estrin): the processor can work on several at once.
#[inline(always)]
fn series(x: f64, terms: &[f64; 8]) -> f64 {
    let pair = |i: usize| terms[i] + terms[i + 1] * x;
    let square = x * x;
    let fourth = square * square;
    (pair(0) + pair(2) * square) + (pair(4) + pair(6) * square) * fourth
}

/// The angle of each turn, in (−π, π]; as many rows of each.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn angles_of(cosines: &[[f64; LANES]], sines: &[[f64; LANES]], angles: &mut [[f64; LANES]]) {
    for ((cosines, sines), angles) in cosines.iter().zip(sines).zip(angles) {
        for i in 0..LANES {
            angles[i] = angle_of(cosines[i], sines[i]);
        }
    }
}

/// The angle of a turn whose cosine and sine may have a common factor, in (−π, π].
#[inline(always)]
pub(crate) fn angle_of(cos: f64, sin: f64) -> f64 {
    let (across, up) = (cos.abs(), sin.abs());
    let (lesser, greater) = if up > across { (across, up) } else { (up, across) };
    let (tangent, base) = if lesser <= TAN_1_16 * greater {
        (0.0, 0.0)
    } else if lesser < TAN_3_16 * greater {
        (TAN_2_16, FRAC_PI_8)
    } else {
        (1.0, FRAC_PI_4)
    };
    // Where both are 0 the angle counts as 0.
    let left = (lesser - tangent * greater) / (greater + tangent * lesser).max(f64::MIN_POSITIVE);
    let square = left * left;
    let eighth = square.powi(2).powi(2).powi(2);
    let steep = base + left * (series(square, &ARCTANGENT[0]) + series(square, &ARCTANGENT[1]) * eighth);
    let first_quarter = if up > across { FRAC_PI_2 - steep } else { steep };
    let upper_half = if cos < 0.0 { PI - first_quarter } else { first_quarter };
    // Never −π, and −0 only where the sine is so small that its sign is all there is.
    if sin < 0.0 && upper_half < PI { -upper_half } else { upper_half }
}

/// Solutions as turns, whose angles are taken all at once.
#[derive(Default)]
pub(crate) struct AsTurns {
    cosines: ArrayVec<[f64; LANES], 8>,
    sines: ArrayVec<[f64; LANES], 8>,
    /// Which axes keep their value in `near`, and which of them is named.
    kept: ArrayVec<([bool; 6], Option<usize>), 8>,
}

impl AsTurns {
    /// One more; beyond eight there is none in the classes that use this.
    pub(crate) fn push(&mut self, turns: [Turn; 6], kept: [bool; 6], free_axis: Option<usize>) {
        let lanes = |of: fn(&Turn) -> f64| std::array::from_fn(|i| turns.get(i).map_or(1.0, of));
        let _ = self.cosines.try_push(lanes(|turn| turn.cos));
        let _ = self.sines.try_push(lanes(|turn| turn.sin));
        let _ = self.kept.try_push((kept, free_axis));
    }

    /// The solutions as angles.
    pub(crate) fn angles(&self, near: &AxisValues, solutions: &mut ArrayVec<Solution, 16>) {
        let mut angles = [[0.0; LANES]; 8];
        angles_of(&self.cosines, &self.sines, &mut angles[..self.kept.len()]);
        for (angles, (kept, free_axis)) in angles.iter().zip(&self.kept) {
            let axes = AxisValues::from_fn(|i, _| if kept[i] { near[i] } else { angles[i] });
            solutions.push(Solution { axes, free_axis: *free_axis });
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::test_runner::RngSeed;

    use super::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 50_000, failure_persistence: None, rng_seed: RngSeed::Fixed(2), ..Default::default() })]

        /// Held against the arctangent of the standard library.
        #[test]
        fn an_angle_is_that_of_the_standard_library(angle in -3.2..3.2_f64, size in 0.5..2.0_f64, by_power in -300..0_i32) {
            let small = 10.0_f64.powi(by_power);
            for (sin, cos) in [angle.sin_cos(), (small, 1.0), (-small, 1.0), (small, -1.0), (1.0, small), (-1.0, -small)] {
                let (cos, sin) = (cos * size, sin * size);
                let expected = sin.atan2(cos);
                let mut angles = [[0.0; LANES]];
                angles_of(&[[cos; LANES]], &[[sin; LANES]], &mut angles);
                for found in angles[0] {
                    prop_assert!((found - expected).abs() <= 1e-15 * expected.abs().max(1e-300), "{cos} {sin}: {found} {expected}");
                    prop_assert_eq!(found.to_bits(), angle_of(cos, sin).to_bits(), "the same bits on every processor");
                }
            }
        }

        /// Held against the sine and cosine of the standard library.
        #[test]
        fn a_sine_is_that_of_the_standard_library(angle in -10.0..10.0_f64, far in -9.9e5..9.9e5_f64, by_power in -300..0_i32) {
            let small = 10.0_f64.powi(by_power);
            let quarter = FRAC_PI_2 * (far / 1e4).round() + small;
            let angles = AxisValues::new(angle, far, small, -small, quarter, -angle);
            for (turn, angle) in turns_of(&angles).iter().zip(&angles) {
                let (sin, cos) = angle.sin_cos();
                let plain = cosine_and_sine(*angle);
                prop_assert_eq!((turn.cos.to_bits(), turn.sin.to_bits()), (plain.0.to_bits(), plain.1.to_bits()), "the same bits on every processor");
                prop_assert!((turn.sin - sin).abs() <= 3e-16 && (turn.cos - cos).abs() <= 3e-16, "{angle}: {turn:?} {sin} {cos}");
            }
        }
    }

    #[test]
    fn the_ends_are_exact() {
        assert_eq!(
            [angle_of(1.0, 0.0), angle_of(0.0, 1.0), angle_of(-1.0, 0.0), angle_of(-1.0, -0.0)],
            [0.0, FRAC_PI_2, PI, PI]
        );
        assert_eq!([angle_of(0.0, -1.0), angle_of(0.0, 0.0), angle_of(-1.0, -1e-300)], [-FRAC_PI_2, 0.0, PI]);
        assert_eq!(turns_of(&AxisValues::zeros())[0], Turn::NONE);
    }

    #[test]
    fn what_is_far_or_not_a_number_goes_the_slow_way() {
        let turns = turns_of(&AxisValues::new(1e9, f64::NAN, 0.5, 0.0, 0.0, f64::INFINITY));
        assert_eq!(turns[0], Turn::of(1e9));
        assert!(turns[1].sin.is_nan() && turns[5].cos.is_nan());
    }
}
