//! Decides where a way through given values leads as a smooth function of one parameter: polynomials between knots, with
//! continuous first and second derivatives.
//!
//! Natural cubic splines after Press et al., *Numerical Recipes*, from memory; held against a trajectory library's in the tests
//! on motion. Rounded corners are derived at [`Curve::rounded`].

/// Coefficients of a piece: powers 0 to 5 of the distance from its first knot.
const ORDERS: usize = 6;

/// Pieces of a transition: on each, what its second and third derivatives may be between its ends is nearly what they are there.
const TRANSITION_PIECES: u32 = 4;

/// A piece that is twice as long as its neighbour but for rounding is no longer.
const LENGTH_ROUNDING: f64 = 1e-6;

/// A way of any number of axes: values (rad or m) as a twice continuously differentiable function of a parameter `s`.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    axes: usize,
    /// Rising, at least two.
    knots: Vec<f64>,
    /// A piece after the other; of each, order by order, a coefficient for every axis.
    coefficients: Vec<f64>,
}

/// A corner of a way: where it would be without rounding, and how much of the legs on either side the rounding takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Corner {
    /// Values of all axes.
    pub at: Vec<f64>,
    /// Length along each leg, in the measure of [`Curve::rounded`], that is replaced; of an end 0.
    pub rounding: f64,
}

impl Curve {
    /// The natural cubic spline through `points` (row by row, a value for every axis) at `knots`.
    ///
    /// `None` unless there are two knots or more, they rise, and there is a value for every axis at each.
    #[must_use]
    pub fn natural_spline(knots: &[f64], points: &[f64], axes: usize) -> Option<Self> {
        Self::spline(knots, points, axes, false)
    }

    /// The same, but at its ends it bends as the first three points, and the last three, do.
    #[must_use]
    pub fn bending_spline(knots: &[f64], points: &[f64], axes: usize) -> Option<Self> {
        Self::spline(knots, points, axes, true)
    }

    fn spline(knots: &[f64], points: &[f64], axes: usize, bends_at_ends: bool) -> Option<Self> {
        let count = knots.len();
        let rise = knots.windows(2).all(|pair| pair[1] > pair[0]);
        if count < 2 || !rise || axes == 0 || points.len() != count * axes {
            return None;
        }
        let value = |knot: usize, axis: usize| points[knot * axes + axis];
        let step = |knot: usize| knots[knot + 1] - knots[knot];
        let mut coefficients = vec![0.0; (count - 1) * ORDERS * axes];
        // Second derivatives at the knots, by elimination of the tridiagonal system.
        let (mut bends, mut carried) = (vec![0.0; count], vec![0.0; count]);
        for axis in 0..axes {
            let slope = |knot: usize| (value(knot + 1, axis) - value(knot, axis)) / step(knot);
            if bends_at_ends && count > 2 {
                let bend =
                    |knot: usize| 2.0 * (slope(knot + 1) - slope(knot)) / (knots[knot + 2] - knots[knot]);
                (bends[0], bends[count - 1]) = (bend(0), bend(count - 3));
            }
            for knot in 1..count - 1 {
                let (before, after) = (step(knot - 1), step(knot));
                let pivot = 2.0 * (before + after) - before * carried[knot - 1];
                carried[knot] = after / pivot;
                bends[knot] = (6.0 * (slope(knot) - slope(knot - 1)) - before * bends[knot - 1]) / pivot;
            }
            for knot in (1..count - 1).rev() {
                bends[knot] -= carried[knot] * bends[knot + 1];
            }
            for piece in 0..count - 1 {
                let h = step(piece);
                let of = |order: usize| (piece * ORDERS + order) * axes + axis;
                coefficients[of(0)] = value(piece, axis);
                coefficients[of(1)] = slope(piece) - h * (2.0 * bends[piece] + bends[piece + 1]) / 6.0;
                coefficients[of(2)] = bends[piece] / 2.0;
                coefficients[of(3)] = (bends[piece + 1] - bends[piece]) / (6.0 * h);
            }
            bends.fill(0.0);
        }
        Some(Self { axes, knots: knots.to_vec(), coefficients })
    }

    /// Straight from corner to corner, corners rounded; `s` is the length of the way in the measure in which an axis counts by
    /// `weights` (the root of the sum of squares of its way times its weight).
    ///
    /// Of the two legs that meet at a corner c, e₁ = c − p and e₂ = q − c of one length are replaced, from p to q, by
    /// q(λ) = p + e₁ f(λ) + e₂ g(λ), 0 ≤ λ ≤ 1, with f' = 2 (1 − h), g' = 2 h and the smooth step h = 3λ² − 2λ³. As h and h' vanish at
    /// one end, and 1 − h and h' at the other, first and second derivatives go over into those of the straight legs. At the middle
    /// f = 13/16 and g = 3/16: the way misses the corner by 3/16 of the vector from e₁ to e₂.
    ///
    /// Roundings are cut to what the shorter leg has: half of it, all of it where the other end is one of the way. `None` unless
    /// there are two corners or more, no two in a row alike.
    #[must_use]
    pub fn rounded(corners: &[Corner], weights: &[f64]) -> Option<Self> {
        let axes = weights.len();
        if corners.len() < 2 || axes == 0 || corners.iter().any(|corner| corner.at.len() != axes) {
            return None;
        }
        let legs: Vec<Vec<f64>> = corners
            .windows(2)
            .map(|pair| pair[1].at.iter().zip(&pair[0].at).map(|(to, from)| to - from).collect())
            .collect();
        let length = |leg: &Vec<f64>| {
            leg.iter().zip(weights).map(|(way, weight)| (way * weight).powi(2)).sum::<f64>().sqrt()
        };
        let lengths: Vec<f64> = legs.iter().map(length).collect();
        if !lengths.iter().all(|length| *length > 0.0 && length.is_finite()) {
            return None;
        }
        let last = corners.len() - 1;
        let rounding = |corner: usize| {
            if corner == 0 || corner == last {
                return 0.0;
            }
            let before = lengths[corner - 1] * if corner == 1 { 1.0 } else { 0.5 };
            let after = lengths[corner] * if corner + 1 == last { 1.0 } else { 0.5 };
            corners[corner].rounding.max(0.0).min(before).min(after)
        };
        let mut curve = Self { axes, knots: vec![0.0], coefficients: Vec::new() };
        for (leg, (way, length)) in legs.iter().zip(&lengths).enumerate() {
            let (cut_before, cut_after) = (rounding(leg), rounding(leg + 1));
            let straight = length - cut_before - cut_after;
            let from: Vec<f64> =
                corners[leg].at.iter().zip(way).map(|(at, way)| at + way * cut_before / length).collect();
            // A leg that its roundings use up has no straight rest; what is left of it is rounding error.
            if straight > 1e-12 * length {
                let unit: Vec<f64> = way.iter().map(|way| way / length).collect();
                curve.push(straight, &[&from, &unit]);
            }
            if cut_after > 0.0 {
                let next = &legs[leg + 1];
                let e1: Vec<f64> = way.iter().map(|way| way * cut_after / length).collect();
                let e2: Vec<f64> = next.iter().map(|way| way * cut_after / lengths[leg + 1]).collect();
                let start: Vec<f64> = corners[leg + 1].at.iter().zip(&e1).map(|(at, e)| at - e).collect();
                // p + e₁ (2λ − 2λ³ + λ⁴) + e₂ (2λ³ − λ⁴); λ runs at 1 / (2 · cut) of s, so that |dq/ds| is 1 at both ends.
                let scaled = |of: &dyn Fn(f64, f64) -> f64, power: i32| -> Vec<f64> {
                    let rate = (0.5 / cut_after).powi(power);
                    e1.iter().zip(&e2).map(|(e1, e2)| of(*e1, *e2) * rate).collect()
                };
                let first = scaled(&|e1, _| 2.0 * e1, 1);
                let third = scaled(&|e1, e2| 2.0 * (e2 - e1), 3);
                let fourth = scaled(&|e1, e2| e1 - e2, 4);
                curve.push(2.0 * cut_after, &[&start, &first, &vec![0.0; axes], &third, &fourth]);
            }
        }
        (curve.knots.len() > 1).then_some(curve)
    }

    /// The pieces from the knot with index `from` to the one with index `to`, which must come after it.
    #[must_use]
    pub fn part(&self, from: usize, to: usize) -> Self {
        let piece = ORDERS * self.axes;
        Self {
            axes: self.axes,
            knots: self.knots[from..=to].to_vec(),
            coefficients: self.coefficients[from * piece..to * piece].to_vec(),
        }
    }

    fn push(&mut self, length: f64, orders: &[&Vec<f64>]) {
        self.knots.push(self.knots[self.knots.len() - 1] + length);
        for order in orders {
            self.coefficients.extend_from_slice(order);
        }
        self.coefficients.resize((self.knots.len() - 1) * ORDERS * self.axes, 0.0);
    }

    /// How many axes.
    #[must_use]
    pub fn axes(&self) -> usize {
        self.axes
    }

    /// Parameter where it begins.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.knots[0]
    }

    /// Parameter where it ends.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.knots[self.knots.len() - 1]
    }

    /// The parameters between which it is one polynomial.
    #[must_use]
    pub fn knots(&self) -> &[f64] {
        &self.knots
    }

    /// The piece in which `s` lies, from 0; that of an end where it lies beyond it.
    #[must_use]
    pub fn piece(&self, s: f64) -> usize {
        self.knots.partition_point(|knot| *knot <= s).clamp(1, self.knots.len() - 1) - 1
    }

    /// Values of all axes at `s`, taken into the ends.
    #[must_use]
    pub fn at(&self, s: f64) -> Vec<f64> {
        let s = s.clamp(self.start(), self.end());
        let piece = self.piece(s);
        let t = s - self.knots[piece];
        let of = |order: usize, axis: usize| self.coefficients[(piece * ORDERS + order) * self.axes + axis];
        (0..self.axes)
            .map(|axis| (0..ORDERS).rev().fold(0.0, |sum, order| sum * t + of(order, axis)))
            .collect()
    }

    /// First, second and third derivatives of all axes at `s` on `piece`, written over `first`, `second` and `third`.
    pub fn derivatives(
        &self,
        piece: usize,
        s: f64,
        first: &mut [f64],
        second: &mut [f64],
        third: &mut [f64],
    ) {
        let axes = self.axes;
        let t = s - self.knots[piece];
        let piece = &self.coefficients[piece * ORDERS * axes..(piece + 1) * ORDERS * axes];
        let (c1, rest) = piece[axes..].split_at(axes);
        let (c2, rest) = rest.split_at(axes);
        let (c3, rest) = rest.split_at(axes);
        let (c4, c5) = rest.split_at(axes);
        for axis in 0..axes {
            let (c1, c2, c3, c4, c5) = (c1[axis], c2[axis], c3[axis], c4[axis], c5[axis]);
            first[axis] = c1 + t * (2.0 * c2 + t * (3.0 * c3 + t * (4.0 * c4 + t * 5.0 * c5)));
            second[axis] = 2.0 * c2 + t * (6.0 * c3 + t * (12.0 * c4 + t * 20.0 * c5));
            third[axis] = 6.0 * c3 + t * (24.0 * c4 + t * 60.0 * c5);
        }
    }

    /// What lies between two parameters inside it, of which the second is the greater.
    pub(super) fn between(&self, from: f64, to: f64) -> Self {
        let (first, last) = (self.piece(from), self.knots.partition_point(|knot| *knot < to).max(1) - 1);
        let last = last.clamp(first, self.knots.len() - 2);
        let mut part = self.part(first, last + 1);
        let coefficients = self.coefficients_at(first, from);
        part.coefficients[..coefficients.len()].copy_from_slice(&coefficients);
        part.knots[0] = from;
        part.knots[last + 1 - first] = to;
        part
    }

    /// The one polynomial of fifth degree that leaves `before` at `from` and meets `after` at `to` with their values, first and second
    /// derivatives.
    pub(super) fn transition(before: &Self, from: f64, after: &Self, to: f64) -> Self {
        let axes = before.axes;
        let length = to - from;
        let state = |of: &Self, s: f64| {
            let mut rates = [0; 3].map(|_| vec![0.0; axes]);
            let [first, second, third] = &mut rates;
            of.derivatives(of.piece(s), s, first, second, third);
            let [first, second, _] = rates;
            [of.at(s), first, second]
        };
        let ([c0, c1, bend], [end, end_rate, end_bend]) = (state(before, from), state(after, to));
        let mut coefficients = vec![0.0; ORDERS * axes];
        for axis in 0..axes {
            let c2 = bend[axis] / 2.0;
            // What is left of the end's value, rate and bend, each in the unit of the value.
            let value = end[axis] - (c0[axis] + length * (c1[axis] + length * c2));
            let rate = (end_rate[axis] - (c1[axis] + 2.0 * c2 * length)) * length;
            let bent = (end_bend[axis] - bend[axis]) * length * length;
            let c3 = (10.0 * value - 4.0 * rate + 0.5 * bent) / length.powi(3);
            let c4 = (-15.0 * value + 7.0 * rate - bent) / length.powi(4);
            let c5 = (6.0 * value - 3.0 * rate + 0.5 * bent) / length.powi(5);
            for (order, c) in [c0[axis], c1[axis], c2, c3, c4, c5].into_iter().enumerate() {
                coefficients[order * axes + axis] = c;
            }
        }
        let whole = Self { axes, knots: vec![from, to], coefficients };
        let mut divided = Self { axes, knots: vec![from], coefficients: Vec::new() };
        for piece in 0..TRANSITION_PIECES {
            let at = |part: u32| from + length * f64::from(part) / f64::from(TRANSITION_PIECES);
            divided.coefficients.extend(whole.coefficients_at(0, at(piece)));
            divided.knots.push(if piece + 1 == TRANSITION_PIECES { to } else { at(piece + 1) });
        }
        divided
    }

    /// Goes on with `next`, which begins where this one ends.
    pub(super) fn append(&mut self, next: &Self) {
        self.knots.extend_from_slice(&next.knots[1..]);
        self.coefficients.extend_from_slice(&next.coefficients);
    }

    /// The same with long pieces halved until none is more than twice as long as its neighbour, those shorter than `least` taken for so
    /// long.
    pub(super) fn graded(&self, least: f64) -> Self {
        let mut knots = self.knots.clone();
        loop {
            let lengths: Vec<f64> = knots.windows(2).map(|ends| (ends[1] - ends[0]).max(least)).collect();
            let is_long = |piece: usize| {
                let neighbours = [piece.wrapping_sub(1), piece + 1];
                let shortest = neighbours.iter().filter_map(|next| lengths.get(*next)).copied();
                lengths[piece] > 2.0 * (1.0 + LENGTH_ROUNDING) * shortest.fold(f64::INFINITY, f64::min)
            };
            let long: Vec<usize> = (0..lengths.len()).filter(|piece| is_long(*piece)).collect();
            if long.is_empty() {
                break;
            }
            for piece in long.into_iter().rev() {
                knots.insert(piece + 1, f64::midpoint(knots[piece], knots[piece + 1]));
            }
        }
        let starts = &knots[..knots.len() - 1];
        let coefficients = starts.iter().flat_map(|s| self.coefficients_at(self.piece(*s), *s)).collect();
        Self { axes: self.axes, knots, coefficients }
    }

    /// The same with the parameter itself as one axis more.
    pub(super) fn with_parameter(&self) -> Self {
        let axes = self.axes + 1;
        let pieces = self.coefficients.chunks(ORDERS * self.axes).zip(&self.knots);
        let of_piece = |(piece, knot): (&[f64], &f64)| {
            let parameter = |order: usize| [*knot, 1.0].get(order).copied().unwrap_or(0.0);
            let orders = piece.chunks(self.axes).enumerate();
            orders.flat_map(|(order, row)| row.iter().copied().chain([parameter(order)])).collect::<Vec<_>>()
        };
        Self { axes, knots: self.knots.clone(), coefficients: pieces.flat_map(of_piece).collect() }
    }

    /// The most that each axis can be off its value at `middle` anywhere within `half` of it; all of that in `piece`.
    #[must_use]
    pub fn off(&self, piece: usize, middle: f64, half: f64) -> Vec<f64> {
        let mut off = vec![0.0; self.axes];
        let about = self.coefficients_at(piece, middle);
        for (order, row) in about.chunks(self.axes).enumerate().skip(1) {
            let most = half.powi(order as i32);
            off.iter_mut().zip(row).for_each(|(off, c)| *off += c.abs() * most);
        }
        off
    }

    /// Coefficients of a piece in powers of the distance from `s`, by repeated synthetic division.
    fn coefficients_at(&self, piece: usize, s: f64) -> Vec<f64> {
        let axes = self.axes;
        let mut c = self.coefficients[piece * ORDERS * axes..(piece + 1) * ORDERS * axes].to_vec();
        let shift = s - self.knots[piece];
        for done in 0..ORDERS {
            for order in (done..ORDERS - 1).rev() {
                for axis in 0..axes {
                    c[order * axes + axis] += shift * c[(order + 1) * axes + axis];
                }
            }
        }
        c
    }
}
