//! Decides which zeros of a polynomial, the determinant of a cut or that of an offset wrist, no solution explains.
//!
//! Where zeros lie close together rounding hides which they are, but not how many lie within some distance, real or not. Each is that of
//! a solution whose value of that axis is about as far away, or of one that is no real number: two of these lie about each place where the flange
//! comes near the pose and turns back, and some share a real value of the axis though their others are none. Where as many are known as there are zeros, none is missing.

use arrayvec::ArrayVec;

use super::equations::Equations;
use super::twelve::determinants;
use super::{Found, General, MERGED, MOST, MOST_ROOTS, OWN, Wanted, is_sure};
use crate::AxisValues;
use crate::circle_roots::Root;
use crate::turn::{Turn, wrapped};
use crate::zeros::{Polynomial, Zeros};

/// Zeros are counted within this of a place (rad) at least, and at most.
const NARROWEST: f64 = 1e-4;
const WIDEST: f64 = 0.3;
/// No farther than this (rad) there are no others than those that lie close together.
const SURE: f64 = 0.03;

/// What zeros leave open.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct OpenZeros {
    /// Places where zeros are not told apart.
    pub(super) touches: usize,
    /// Those of them that have more zeros than is known.
    pub(super) unexplained: usize,
}

impl General {
    /// What zeros leave open, with what is `found`. Where they cannot be told from others well aside, those no farther than `about` (rad) from that
    /// of a solution count as parts of it, put aside by rounding.
    pub(super) fn open_zeros(&self, zeros: &Zeros, wanted: &Wanted, found: &Found, about: f64) -> OpenZeros {
        let (mut open, mut is_dark) = (OpenZeros::default(), false);
        let mut claimed: ArrayVec<usize, MOST> = ArrayVec::new();
        let mut counted: ArrayVec<(f64, f64), MOST_ROOTS> = ArrayVec::new();
        for root in &zeros.roots {
            let (at, half) = match *root {
                Root::Touch { at, half, .. } => (at, half),
                Root::Crossing { at, .. } => (at, 0.0),
            };
            if is_sure(root) {
                // A sign that changes is a solution of its own.
                let near = |i: &usize| wrapped(found.all[*i].axes[zeros.axis] - at).abs();
                let own = (0..found.all.len()).filter(|i| !claimed.contains(i) && near(i) < OWN);
                let own = own.min_by(|a, b| near(a).total_cmp(&near(b)));
                claimed.extend(own);
                if own.is_some() || matches!(root, Root::Touch { .. }) {
                    continue;
                }
            }
            open.touches += 1;
            if counted.iter().any(|(about, within)| wrapped(at - about).abs() + half <= *within) {
                continue;
            }
            let mut within = NARROWEST.max(2.0 * half);
            let count = loop {
                match zeros.solutions_within(at, within) {
                    None if within < WIDEST => within *= 2.0,
                    count => break count,
                }
            };
            counted.push((at, within));
            let is_counted = count.is_some_and(|count| {
                let known = self.known_within(zeros.axis, at, within, found);
                count <= known
                    || count == 2 + known && self.has_only_complex_ways(zeros, at, wanted)
                    || known == 0 && self.has_no_zero(zeros, at, within, wanted)
            });
            // Far about them there are others, of solutions that are no real numbers.
            let is_of_one = about > 0.0 && (count.is_none() || within > SURE) && {
                let is_about = |it: &AxisValues| wrapped(it[zeros.axis] - at).abs() < half + about;
                found.all.iter().any(|it| is_about(&it.axes))
                    || found.passed.iter().any(|it| is_about(&it.axes))
            };
            let is_explained = is_counted || is_of_one;
            // Where it cannot even be told how many there are, it can be nowhere: one doubt is enough.
            open.unexplained += usize::from(!is_explained && (count.is_some() || !is_dark));
            is_dark |= count.is_none();
        }
        open
    }

    /// Whether two solutions that are no real numbers share the value `at` of the axis, as far as the cut that these zeros are of can say.
    fn has_only_complex_ways(&self, zeros: &Zeros, at: f64, wanted: &Wanted) -> bool {
        let cut = self.cuts.iter().find(|cut| cut.first == zeros.axis);
        let Some(cut) = cut.filter(|_| matches!(zeros.of, Polynomial::Once(_))) else { return false };
        Equations::new(cut, &self.lines, &wanted.base_from_flange).has_only_complex_ways(at)
    }

    /// Whether certainly no real value `within` (rad) of `at` is a zero, as far as values of the determinant of a cut, small by themselves, can say.
    fn has_no_zero(&self, zeros: &Zeros, at: f64, within: f64, wanted: &Wanted) -> bool {
        let cut = self.cuts.iter().find(|cut| cut.first == zeros.axis);
        let Some(cut) = cut.filter(|_| matches!(zeros.of, Polynomial::Once(_))) else { return false };
        let equations = Equations::new(cut, &self.lines, &wanted.base_from_flange);
        let value = |turn: Turn| determinants(&equations.parts, &[turn])[0];
        let of_samples = determinants(&equations.parts, &self.circle.samples);
        // No polynomial of degree 8 is more than a few times as large between 19 places as in them.
        let largest = 4.0 * of_samples.iter().fold(0.0, |most: f64, x| most.max(x.abs()));
        self.no_zeros.within(at, within, largest, &value)
    }

    /// How many solutions are known, real or not, whose value of an axis is `within` (rad) of a place; no end of them where they are not told
    /// apart.
    fn known_within(&self, axis: usize, at: f64, within: f64, found: &Found) -> usize {
        let is_near = |aside: f64, value: f64| wrapped(value - at).hypot(aside) < within;
        let real = found.all.iter().filter(|it| is_near(0.0, it.axes[axis])).map(|it| {
            let idle = self.lines.at(&it.axes).idle_motion();
            let is_one = it.free_axis.is_none() && idle.is_none_or(|(_, speed)| speed > MERGED);
            if is_one { 1 } else { usize::MAX }
        });
        let passed = found.passed.iter().filter(|it| is_near(it.aside[axis], it.axes[axis]));
        real.fold(2 * passed.count(), usize::saturating_add)
    }
}
