//! Decides where the twelve equations of a cut have a common solution: their determinant for any value of `first`, and the vector that
//! they turn into nothing.
//!
//! Six equations in the products of (t², t, 1) of two axes stand for twelve: the same six once more times the tangent of half `second`.
//! With the squares of `second` cleared from three of the six, its cubes drop out of the twelve, and nine are left.

use crate::angle::LANES;
use crate::turn::Turn;

/// The six equations left of fourteen, at one value of `first`.
pub(super) type Six = [[f64; 9]; 6];
pub(super) type Nine = [[f64; 9]; 9];
/// What a pivot that is nothing counts as: what it divides stays a number, even where there are two.
const LEAST_PIVOT: f64 = 1e-100;

/// Equations at eight values of `first`, each number of all eight in a row.
type Row = [[f64; LANES]; 9];
type Rows<const N: usize> = [Row; N];

/// The determinants of the twelve equations, whose six are `rest + cos · with_cos + sin · with_sin`, with `first` at these angles.
pub(super) fn determinants<const N: usize>(parts: &[Six; 3], first: &[Turn; N]) -> [f64; N] {
    let mut all = [0.0; N];
    for (turns, determinants) in first.chunks(LANES).zip(all.chunks_mut(LANES)) {
        let (cos, sin) = lanes_of(turns);
        let mut eight = [0.0; LANES];
        determinants_of_eight(parts, &cos, &sin, &mut eight);
        determinants.copy_from_slice(&eight[..turns.len()]);
    }
    all
}

/// Vectors that the nine equations turn into nothing, or all but, with `first` at each of eight zeros of the determinant: number `i` of each
/// at `[i]`. What they are next to a double zero is anyone's guess; see [`null_vector`].
pub(super) fn null_vectors(parts: &[Six; 3], first: &[Turn]) -> [[f64; LANES]; 9] {
    let (cos, sin) = lanes_of(first);
    let mut vectors = [[0.0; LANES]; 9];
    null_vectors_of_eight(parts, &cos, &sin, &mut vectors);
    vectors
}

/// Cosines and sines of the first of `turns`, no more than there are lanes; lanes to spare hold the first once more.
fn lanes_of(turns: &[Turn]) -> ([f64; LANES], [f64; LANES]) {
    let lane = |lane: usize| turns.get(lane).or(turns.first()).copied().unwrap_or(Turn::NONE);
    (std::array::from_fn(|i| lane(i).cos), std::array::from_fn(|i| lane(i).sin))
}

#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn determinants_of_eight(
    parts: &[Six; 3],
    cos: &[f64; LANES],
    sin: &[f64; LANES],
    determinants: &mut [f64; LANES],
) {
    let mut nine: Rows<9> = [[[0.0; LANES]; 9]; 9];
    let of_squares = put_nine(parts, cos, sin, &mut nine);
    let (of_rest, sign) = triangulate(&mut nine, 9);
    for lane in 0..LANES {
        determinants[lane] = of_squares[lane] * (of_rest[lane] * sign[lane]);
    }
}

/// By one step of inverse iteration: what the triangle turns into ones is longest along what it turns into nothing.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn null_vectors_of_eight(
    parts: &[Six; 3],
    cos: &[f64; LANES],
    sin: &[f64; LANES],
    vectors: &mut [[f64; LANES]; 9],
) {
    let mut nine: Rows<9> = [[[0.0; LANES]; 9]; 9];
    put_nine(parts, cos, sin, &mut nine);
    triangulate(&mut nine, 9);
    for k in (0..9).rev() {
        let mut rest = [1.0; LANES];
        for j in k + 1..9 {
            for lane in 0..LANES {
                rest[lane] -= nine[k][j][lane] * vectors[j][lane];
            }
        }
        for lane in 0..LANES {
            let pivot = nine[k][k][lane];
            vectors[k][lane] = rest[lane] / if pivot.abs() < LEAST_PIVOT { LEAST_PIVOT } else { pivot };
        }
    }
    let mut largest = [0.0_f64; LANES];
    for row in &*vectors {
        for lane in 0..LANES {
            largest[lane] = largest[lane].max(row[lane].abs());
        }
    }
    for row in vectors {
        for lane in 0..LANES {
            row[lane] /= largest[lane];
        }
    }
}

/// The nine equations at each of eight values of `first`; gives the factor by which the determinant of the twelve is that of the nine.
#[inline(always)]
fn put_nine(
    [rest, with_cos, with_sin]: &[Six; 3],
    cos: &[f64; LANES],
    sin: &[f64; LANES],
    nine: &mut Rows<9>,
) -> [f64; LANES] {
    let mut six: Rows<6> = [[[0.0; LANES]; 9]; 6];
    for (i, row) in six.iter_mut().enumerate() {
        for lane in 0..LANES {
            for j in 0..9 {
                row[j][lane] = rest[i][j] + (with_cos[i][j] * cos[lane] + with_sin[i][j] * sin[lane]);
            }
        }
    }
    // Rows that change places do so in both of the six that make twelve: no sign comes of it.
    let (of_squares, _) = triangulate(&mut six, 3);
    for i in 0..3 {
        nine[i][..6].copy_from_slice(&six[i + 3][3..]);
        nine[i + 3] = six[i];
        nine[i + 6][3..].copy_from_slice(&six[i + 3][3..]);
    }
    of_squares
}

/// Clears the first columns below the diagonal, each by the row that has most in it, in each lane by itself; gives the product of what
/// then stands on the diagonal, and −1 where an odd number of rows changed places, else 1.
#[inline(always)]
fn triangulate<const N: usize>(rows: &mut Rows<N>, columns: usize) -> ([f64; LANES], [f64; LANES]) {
    let (mut product, mut sign) = ([1.0; LANES], [1.0; LANES]);
    for k in 0..columns {
        let (upper, lower) = rows.split_at_mut(k + 1);
        let above = &mut upper[k];
        for row in &mut *lower {
            exchange(k, row, above, &mut sign);
        }
        let mut pivots = above[k];
        for lane in 0..LANES {
            product[lane] *= pivots[lane];
            // Where it is 0 there is nothing to clear.
            pivots[lane] = if pivots[lane] == 0.0 { 1.0 } else { pivots[lane] };
        }
        for row in lower {
            clear(k, row, above, &pivots);
        }
    }
    (product, sign)
}

/// Exchanges two rows in each lane where the first has more in column `k`.
///
/// One loop over the lanes, and in it all columns: so the compiler takes the lanes in one step.
#[inline(always)]
fn exchange(k: usize, row: &mut Row, above: &mut Row, sign: &mut [f64; LANES]) {
    let (this, that) = (row[k], above[k]);
    for lane in 0..LANES {
        let takes = this[lane].abs() > that[lane].abs();
        sign[lane] = if takes { -sign[lane] } else { sign[lane] };
        for j in 0..9 {
            let (one, other) = (row[j][lane], above[j][lane]);
            row[j][lane] = if takes { other } else { one };
            above[j][lane] = if takes { one } else { other };
        }
    }
}

/// Clears column `k` of a row by the row above, which has `pivots` there. Divided, not multiplied by one over them: next to double zeros
/// that rounding tells.
#[inline(always)]
fn clear(k: usize, row: &mut Row, above: &Row, pivots: &[f64; LANES]) {
    let this = row[k];
    for lane in 0..LANES {
        let factor = this[lane] / pivots[lane];
        for j in 0..9 {
            row[j][lane] -= factor * above[j][lane];
        }
    }
    row[k] = [0.0; LANES];
}

/// The six equations with `first` at an angle, combined so that the last three lack the squares of `second`.
pub(super) fn six([rest, with_cos, with_sin]: &[Six; 3], first: Turn) -> Six {
    let mut six = *rest;
    for ((row, with_cos), with_sin) in six.iter_mut().zip(with_cos).zip(with_sin) {
        for ((entry, with_cos), with_sin) in row.iter_mut().zip(with_cos).zip(with_sin) {
            *entry += with_cos * first.cos + with_sin * first.sin;
        }
    }
    for k in 0..3 {
        let pivot = (k..6).fold(k, |most, i| if six[i][k].abs() > six[most][k].abs() { i } else { most });
        six.swap(k, pivot);
        let above = six[k];
        for row in &mut six[k + 1..] {
            let factor = if above[k] == 0.0 { 0.0 } else { row[k] / above[k] };
            for (entry, above) in row.iter_mut().zip(&above) {
                *entry -= factor * above;
            }
        }
    }
    six
}

/// What is left of the twelve equations when the cubes of `second` are gone.
pub(super) fn nine(six: &Six) -> Nine {
    let mut nine = [[0.0; 9]; 9];
    for i in 0..3 {
        for j in 0..6 {
            nine[i][j] = six[i + 3][j + 3];
            nine[i + 6][j + 3] = six[i + 3][j + 3];
        }
        nine[i + 3] = six[i];
    }
    nine
}

/// A vector that all rows turn into nothing, or the one they turn into least that elimination gives.
pub(super) fn null_vector(mut rows: Nine) -> [f64; 9] {
    let mut order: [usize; 9] = std::array::from_fn(|i| i);
    for k in 0..8 {
        let (mut row, mut column) = (k, k);
        for i in k..9 {
            for j in k..9 {
                if rows[i][j].abs() > rows[row][column].abs() {
                    (row, column) = (i, j);
                }
            }
        }
        if rows[row][column] == 0.0 {
            break;
        }
        rows.swap(k, row);
        for row in &mut rows {
            row.swap(k, column);
        }
        order.swap(k, column);
        let above = rows[k];
        for row in &mut rows[k + 1..] {
            let factor = row[k] / above[k];
            for j in k..9 {
                row[j] -= factor * above[j];
            }
        }
    }
    let mut ordered = [0.0; 9];
    ordered[8] = 1.0;
    for k in (0..8).rev() {
        let rest: f64 = (k + 1..9).map(|j| rows[k][j] * ordered[j]).sum();
        ordered[k] = if rows[k][k] == 0.0 { 0.0 } else { -rest / rows[k][k] };
    }
    let mut vector = [0.0; 9];
    for (at, value) in order.into_iter().zip(ordered) {
        vector[at] = value;
    }
    vector
}
