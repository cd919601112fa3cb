//! Decides the fastest way along a given curve within limits of speed and acceleration of every axis.
//!
//! Time-optimal path parametrisation by reachability: Pham and Pham, "A new approach to time-optimal path parameterization based
//! on reachability analysis" (2018), from memory; held against a trajectory library's times in the tests on motion. With x = ṡ²
//! and u = s̈, held over each step of the grid, axis accelerations are q' u + q'' x, so every limit is linear in x and u. From
//! the end back, the greatest x at each point of the grid from which the end can still be met; then from the start on, at each
//! point the greatest u that stays below. Limits are held at the points of the grid; between them they may be passed by
//! something that shrinks with the step.

/// Where and how far a way is limited: one row a point of the grid.
#[derive(Clone, Debug, Default)]
pub struct Grid {
    axes: usize,
    /// Rising.
    s: Vec<f64>,
    /// Greatest x that speeds allow.
    speed: Vec<f64>,
    /// Of every row the greatest u of each axis at x = 0, and how much of it each unit of x takes.
    ///
    /// Interleaved by row: `axes` of the first, then `axes` of the second.
    rows: Vec<f64>,
}

/// An axis whose share of the way is smaller than this beside the greatest is limited by its bend alone: what its share of s̈
/// would add lies below rounding.
const NO_SHARE: f64 = 1e-9;

/// Corrections after which a point of the grid is taken as it is; they converge in as many as there are axes.
const MOST_CORRECTIONS: u32 = 64;

impl Grid {
    /// An empty grid for so many axes.
    #[must_use]
    pub fn new(axes: usize) -> Self {
        Self { axes, ..Self::default() }
    }

    /// Takes all points away and keeps the memory.
    pub fn clear(&mut self) {
        self.s.clear();
        self.speed.clear();
        self.rows.clear();
    }

    /// Adds the point at `s` (above the last one): first and second derivatives of every axis there, their limits of acceleration
    /// and the greatest ṡ.
    pub fn push(&mut self, s: f64, first: &[f64], second: &[f64], acceleration: &[f64], speed: f64) {
        self.s.push(s);
        let mut greatest = speed * speed;
        let share =
            first.iter().zip(acceleration).map(|(first, limit)| first.abs() / limit).fold(0.0, f64::max);
        let least_share = share * NO_SHARE;
        let start = self.rows.len();
        self.rows.resize(start + 2 * self.axes, 0.0);
        let (reach, bend) = self.rows[start..].split_at_mut(self.axes);
        for axis in 0..self.axes {
            let (first, second, limit) = (first[axis], second[axis], acceleration[axis]);
            if first.abs() <= least_share * limit {
                reach[axis] = f64::INFINITY;
                greatest = greatest.min(limit / second.abs());
            } else {
                let inverse = 1.0 / first;
                reach[axis] = limit * inverse.abs();
                bend[axis] = second * inverse;
            }
        }
        self.speed.push(greatest);
    }

    /// Parameters of the points.
    #[must_use]
    pub fn s(&self) -> &[f64] {
        &self.s
    }

    /// Greatest and least u at `x` over all axes, each with its slope in x.
    #[inline]
    fn bounds(&self, point: usize, x: f64) -> [(f64, f64); 2] {
        let row = &self.rows[point * 2 * self.axes..(point + 1) * 2 * self.axes];
        let (reach, bend) = row.split_at(self.axes);
        let (mut most, mut least) = ((f64::INFINITY, 0.0), (f64::NEG_INFINITY, 0.0));
        for (reach, bend) in reach.iter().zip(bend) {
            let middle = -bend * x;
            if middle + reach < most.0 {
                most = (middle + reach, -bend);
            }
            if middle - reach > least.0 {
                least = (middle - reach, -bend);
            }
        }
        [most, least]
    }

    /// The greatest x at each point of the fastest way from ṡ = `start` to ṡ = `end`, written over `x`; each no more than the limits
    /// allow there. The whole time.
    ///
    /// Where the start would have to be slower for the way to be possible at all, it is.
    pub fn fastest(&self, start: f64, end: f64, x: &mut Vec<f64>) -> f64 {
        x.clear();
        let Some(last) = self.s.len().checked_sub(1) else { return 0.0 };
        x.resize(last + 1, 0.0);
        x[last] = self.speed[last].min(end * end);
        for point in (0..last).rev() {
            x[point] = self.controllable(point, x[point + 1]);
        }
        x[0] = x[0].min(start * start);
        let mut time = 0.0;
        for point in 0..last {
            let step = self.s[point + 1] - self.s[point];
            let [(most, _), _] = self.bounds(point, x[point]);
            x[point + 1] = (x[point] + 2.0 * step * most).clamp(0.0, x[point + 1]);
            time += 2.0 * step / (x[point].sqrt() + x[point + 1].sqrt());
        }
        time
    }

    /// The greatest x at `point` from which the next point can be met with an x of at most `next`.
    ///
    /// What must not be above zero is the convex function (greatest of the lower bounds of u) − (least of the upper bounds); it is
    /// no more than zero at x = 0, so Newton's method from above comes down to its greatest zero and never passes it.
    fn controllable(&self, point: usize, next: f64) -> f64 {
        let inverse = 0.5 / (self.s[point + 1] - self.s[point]);
        let mut x = self.speed[point];
        for _ in 0..MOST_CORRECTIONS {
            if x.is_nan() || x <= 0.0 {
                return 0.0;
            }
            let [mut most, mut least] = self.bounds(point, x);
            let onto = ((next - x) * inverse, -inverse);
            if onto.0 < most.0 {
                most = onto;
            }
            let stop = (-x * inverse, -inverse);
            if stop.0 > least.0 {
                least = stop;
            }
            let over = least.0 - most.0;
            if over <= 0.0 {
                return x;
            }
            let lower = x - over / (least.1 - most.1);
            if lower >= x * (1.0 - 1e-14) {
                return lower.min(x);
            }
            x = lower;
        }
        x.max(0.0)
    }
}
