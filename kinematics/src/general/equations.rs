//! Decides what a cut makes of a pose: six equations in two of its axes, linear in the cosine and sine of the first; and which axes go with a
//! zero of their determinant.

use arrayvec::ArrayVec;
use nalgebra::{SMatrix, Vector2, Vector3};

use super::cut::{Cut, products};
use super::twelve::{Six, nine, six};
use crate::lines::{Line, Lines, turns_to};
use crate::turn::Turn;
use crate::{AxisValues, Pose};

/// A singular value counts as nothing below the first share of the largest and as something above the second.
const NOTHING: f64 = 1e-6;
const SOMETHING: f64 = 1e-5;
/// Two tangents are certainly no real numbers where they are aside by this share of 1 and their square.
const NOT_REAL: f64 = 0.02;

/// What a cut makes of a pose.
pub(super) struct Equations<'a> {
    cut: &'a Cut,
    lines: &'a Lines,
    base_from_flange: &'a Pose,
    /// What the far line undergoes where the flange is passed.
    passage: Pose,
    /// The lines of `second`, `third` and `far`.
    chain: [Line; 3],
    /// Six equations in products of (t², t, 1): parts without `first`, with its cosine, with its sine.
    pub(super) parts: [Six; 3],
}

impl<'a> Equations<'a> {
    pub(super) fn new(cut: &'a Cut, lines: &'a Lines, base_from_flange: &'a Pose) -> Self {
        let about = base_from_flange * lines.base_from_flange.inverse();
        let passage = if cut.sense > 0.0 { about } else { about.inverse() };
        let far = products(|turns| cut.numbers(&cut.round_the_other_way(lines, &passage, turns)));
        let chain = cut.chain(lines, &passage);
        let of_chain = cut.near.is_none().then(|| cut.numbers_of_chain(&chain));
        let numbers = cut.near.as_ref().or(of_chain.as_ref());
        let mut rows = [[0.0; 35]; 14];
        for (i, row) in rows.iter_mut().enumerate() {
            let near = |row: usize| numbers.map(|numbers| numbers.row(row));
            for (j, entry) in row[..8].iter_mut().enumerate() {
                *entry = far[(i, j + 1)];
            }
            // What `first` leaves as it is, and the pairs (x, y) that it turns.
            let parts: &[(usize, usize, f64)] = match i {
                0..6 => &[(8, i, 1.0)],
                _ if i % 2 == 0 => &[(17, i, 1.0), (26, i + 1, -cut.sense)],
                _ => &[(17, i, 1.0), (26, i - 1, cut.sense)],
            };
            for (at, of, sign) in parts {
                let near = near(*of);
                for (entry, near) in row[*at..at + 9].iter_mut().zip(near.iter().flat_map(|row| row.iter())) {
                    *entry = sign * near;
                }
            }
            // The part of the far side without its axes, times (1 + t²) (1 + t²).
            for product in [0, 2, 6, 8] {
                row[8 + product] -= far[(i, 0)];
            }
        }
        eliminate(&mut rows);
        let part =
            |at: usize| -> Six { std::array::from_fn(|i| std::array::from_fn(|j| rows[8 + i][at + j])) };
        let parts = [part(8), part(17), part(26)];
        Self { cut, lines, base_from_flange, passage, chain, parts }
    }

    /// Every choice of the axes (up to what is left to correct) that goes with a zero of the determinant and the `products` of (t², t, 1) of
    /// `second` and `third` there, up to a common factor.
    pub(super) fn axes(&self, first: Turn, products: &[f64; 9]) -> ArrayVec<AxisValues, 2> {
        let block = |i: usize| Vector3::new(products[3 * i], products[3 * i + 1], products[3 * i + 2]);
        let blocks = [block(0), block(1), block(2)];
        let (upper, lower) = ratio(|i, j| blocks[i].dot(&blocks[j]));
        let second = twice(upper, lower).then(self.cut.from[0]);
        let block = if upper.abs() > lower.abs() { blocks[0] } else { blocks[2] };
        let (upper, lower) = ratio(|i, j| block[i] * block[j]);
        let third = twice(upper, lower).then(self.cut.from[1]);
        self.completed([first, second, third])
    }

    /// Whether a zero of the determinant belongs to two ways whose axes are no real numbers though their value of `first` is: then all twelve
    /// products are combinations of those of both, and the tangent of half `second` that makes a product of one of them is not real.
    pub(super) fn has_only_complex_ways(&self, first: f64) -> bool {
        let nine = nine(&six(&self.parts, Turn::of(first)));
        // Rows of one size, that none hides the others.
        let rows = SMatrix::<f64, 9, 9>::from_fn(|i, j| {
            nine[i][j] / nine[i].iter().fold(f64::MIN_POSITIVE, |most, x| most.max(x.abs()))
        });
        let svd = rows.svd(false, true);
        let Some(ways) = svd.v_t else { return false };
        let mut order: [usize; 9] = std::array::from_fn(|i| i);
        order.sort_by(|a, b| svd.singular_values[*a].total_cmp(&svd.singular_values[*b]));
        let value = |i: usize| svd.singular_values[order[i]] / svd.singular_values[order[8]];
        if value(1) > NOTHING || value(2) < SOMETHING {
            return false;
        }
        // Products run by t² t 1 of `second`: those of the upper two are t times those of the lower two.
        let of_way = |i: usize, from: usize| SMatrix::<f64, 6, 1>::from_fn(|j, _| ways[(order[i], from + j)]);
        let upper = SMatrix::<f64, 6, 2>::from_columns(&[of_way(0, 0), of_way(1, 0)]);
        let lower = SMatrix::<f64, 6, 2>::from_columns(&[of_way(0, 3), of_way(1, 3)]);
        let Some(square) = (lower.transpose() * lower).try_inverse() else { return false };
        let tangents = square * (lower.transpose() * upper);
        let left = (upper - lower * tangents).norm();
        let half_difference = (tangents.m11 - tangents.m22) / 2.0;
        let product = tangents.m12 * tangents.m21;
        let size = 1.0 + (tangents.m11 + tangents.m22).powi(2) / 4.0;
        left < 1e-3 * upper.norm() && half_difference.powi(2) + product < -(NOT_REAL * size).powi(2)
    }

    /// With the chain of three given, the two axes of the far side and the far axis.
    fn completed(&self, [first, second, third]: [Turn; 3]) -> ArrayVec<AxisValues, 2> {
        let (cut, lines) = (self.cut, self.lines);
        let [line2, line3, mut target] = self.chain;
        for (line, turn) in [(&line3, third), (&line2, second), (&lines.line(cut.first), first)] {
            target = line.turned(turn.signed(cut.sense), &target);
        }
        // Everything as seen between the two axes, before the flange where that lies between them.
        let [one, other] = cut.others;
        let mut start = lines.line(cut.far);
        let mut axis = lines.line(other);
        match cut.before_flange {
            0 => start = start.moved(&self.passage),
            1 => {
                axis = axis.moved(&self.passage.inverse());
                target = target.moved(&self.passage.inverse());
            }
            2 => target = target.moved(&self.passage.inverse()),
            _ => {}
        }
        let angles = turns_to(&lines.line(one), &axis, &start, &target);
        let completed = |[a, b]: [f64; 2]| {
            let mut axes = AxisValues::zeros();
            (axes[cut.first], axes[cut.second], axes[cut.third]) =
                (first.angle(), second.angle(), third.angle());
            axes[one] = -cut.sense * a;
            axes[other] = -cut.sense * b;
            let at = lines.at(&axes);
            let left = self.base_from_flange.rotation * at.base_from_flange.rotation.inverse();
            let along = left.vector().dot(&at.direction[cut.far]);
            axes[cut.far] = twice(along, left.w).angle();
            axes
        };
        angles.into_iter().map(completed).collect()
    }
}

/// Twice the angle whose tangent is `upper / lower`; none where both are 0.
fn twice(upper: f64, lower: f64) -> Turn {
    Turn::toward(Vector2::new(lower * lower - upper * upper, 2.0 * upper * lower), 0.0).unwrap_or(Turn::NONE)
}

/// Fourteen equations in eight products of the far side, then in nine of the near side without `first`, with its cosine
/// and with its sine.
type Fourteen = [[f64; 35]; 14];

/// Clears the first eight columns of the last six rows by adding multiples of other rows, the largest entry first.
fn eliminate(rows: &mut Fourteen) {
    let largest = |row: &[f64; 35]| row[..8].iter().fold(0.0_f64, |most, x| most.max(x.abs()));
    for k in 0..8 {
        let by_size = |a: &usize, b: &usize| largest(&rows[*a]).total_cmp(&largest(&rows[*b]));
        let Some(pivot) = (k..14).max_by(by_size) else { return };
        rows.swap(k, pivot);
        let above = rows[k];
        let size = largest(&above);
        let Some(column) = above[..8].iter().position(|x| size > 0.0 && x.abs() == size) else { return };
        for row in &mut rows[k + 1..] {
            let factor = row[column] / above[column];
            for (entry, above) in row.iter_mut().zip(&above) {
                *entry -= factor * above;
            }
            row[column] = 0.0;
        }
    }
}

/// t as upper / lower, from the products of (t², t, 1) with one another.
fn ratio(product: impl Fn(usize, usize) -> f64) -> (f64, f64) {
    if product(0, 0) > product(2, 2) {
        (product(0, 0), product(0, 1))
    } else {
        (product(1, 2), product(2, 2))
    }
}
