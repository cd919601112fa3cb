//! Decides which cells of a plane some axes reach, by going outward from cell to cell.
//!
//! A first set of axis values is spread evenly; from each cell that is reached, Newton steps lead into its neighbours as long
//! as the ranges allow, and along the edge they are tried again from shifted axis values. So every cell that is filled
//! is reached; that no cell is missed is not proven, but a cell is half the stated resolution wide.

use std::collections::{BTreeMap, VecDeque};

use nalgebra::{Matrix2, Matrix2x6, Point2, Vector2};

use crate::AxisValues;

/// Axis vectors spread over the ranges at first.
const SPREAD: u32 = 20_000;
/// Newton steps toward a neighbour, at most.
const STEPS: usize = 8;
/// Steps of a climb to an extreme, its first length and the one at which it ends (rad).
const CLIMB_STEPS: usize = 500;
const FIRST_CLIMB: f64 = 0.1;
const LEAST_CLIMB: f64 = 1e-9;
/// How often each edge cell tries from shifted axis values, and how far these are shifted at most, in parts of the range.
const SHIFTS: u32 = 3;
const SHIFT: f64 = 0.15;
/// How often the whole edge is tried so, as long as that fills cells.
const ROUNDS: u32 = 3;
/// Damping of a Newton step, as a part of the squared lever.
const DAMPING: f64 = 1e-6;

/// A region of a plane, in square cells.
#[derive(Clone, Debug)]
pub struct Region {
    low: Point2<f64>,
    cell: f64,
    columns: usize,
    rows: usize,
    filled: Vec<bool>,
    /// Lowest and highest of both coordinates that were reached.
    extremes: (Point2<f64>, Point2<f64>),
}

impl Region {
    /// Whether any point within `distance` (m) of `point` is in a filled cell.
    #[must_use]
    pub fn is_within(&self, point: &Point2<f64>, distance: f64) -> bool {
        let place = (point - self.low) / self.cell;
        let reach = distance / self.cell;
        let span = |at: f64, count: usize| {
            let first = (at - reach).floor().max(0.0) as usize;
            let past = ((at + reach).floor() + 1.0).clamp(0.0, count as f64) as usize;
            first..past
        };
        span(place.y, self.rows).any(|row| {
            span(place.x, self.columns).any(|column| {
                let nearest = Vector2::new(
                    place.x.clamp(column as f64, column as f64 + 1.0),
                    place.y.clamp(row as f64, row as f64 + 1.0),
                );
                self.filled[row * self.columns + column] && (nearest - place).norm() <= reach
            })
        })
    }

    /// Area of the filled cells, m².
    #[must_use]
    pub fn area(&self) -> f64 {
        self.filled.iter().filter(|filled| **filled).count() as f64 * self.cell * self.cell
    }

    /// The lowest values of both coordinates that were reached, and the highest (m); not those of one point.
    #[must_use]
    pub fn extremes(&self) -> (Point2<f64>, Point2<f64>) {
        self.extremes
    }

    /// The edge of the filled cells as closed lines (m), counter-clockwise around what is filled and clockwise around holes.
    #[must_use]
    pub fn outline(&self) -> Vec<Vec<Point2<f64>>> {
        let is_filled = |column: isize, row: isize| {
            column >= 0
                && row >= 0
                && (column as usize) < self.columns
                && (row as usize) < self.rows
                && self.filled[row as usize * self.columns + column as usize]
        };
        // Every edge between a filled cell and one that is not, filled cell to its left, by its starting corner.
        let mut edges: BTreeMap<[isize; 2], Vec<[isize; 2]>> = BTreeMap::new();
        for row in 0..self.rows as isize {
            for column in (0..self.columns as isize).filter(|column| is_filled(*column, row)) {
                let corners = [[column, row], [column + 1, row], [column + 1, row + 1], [column, row + 1]];
                let beyond = [[column, row - 1], [column + 1, row], [column, row + 1], [column - 1, row]];
                for side in (0..4).filter(|side: &usize| !is_filled(beyond[*side][0], beyond[*side][1])) {
                    edges.entry(corners[side]).or_default().push(corners[(side + 1) % 4]);
                }
            }
        }
        let mut lines = Vec::new();
        while let Some(start) = edges.keys().next().copied() {
            let mut line: Vec<[isize; 2]> = vec![start];
            let mut at = start;
            while let Some(next) = edges.get_mut(&at).and_then(Vec::pop) {
                if edges.get(&at).is_some_and(Vec::is_empty) {
                    edges.remove(&at);
                }
                let straight = line.len() >= 2 && {
                    let before = line[line.len() - 2];
                    (at[0] - before[0]) * (next[1] - at[1]) == (at[1] - before[1]) * (next[0] - at[0])
                };
                if straight {
                    line.pop();
                }
                line.push(next);
                at = next;
                if at == start {
                    break;
                }
            }
            line.pop();
            let point =
                |[column, row]: [isize; 2]| self.low + Vector2::new(column as f64, row as f64) * self.cell;
            lines.push(line.into_iter().map(point).collect());
        }
        lines
    }

    fn index(&self, point: &Point2<f64>) -> Option<usize> {
        let place = (point - self.low) / self.cell;
        let inside = |at: f64, count: usize| (at >= 0.0 && at < count as f64).then_some(at as usize);
        Some(inside(place.y, self.rows)? * self.columns + inside(place.x, self.columns)?)
    }

    /// The neighbours of a cell, with their centres.
    fn neighbours(&self, index: usize) -> impl Iterator<Item = (usize, Point2<f64>)> + use<> {
        let (column, row) = ((index % self.columns) as isize, (index / self.columns) as isize);
        let (columns, rows, low, cell) = (self.columns, self.rows, self.low, self.cell);
        let around = [(-1, -1), (0, -1), (1, -1), (-1, 0), (1, 0), (-1, 1), (0, 1), (1, 1)];
        around.into_iter().filter_map(move |(right, up): (isize, isize)| {
            let (column, row) = (column + right, row + up);
            if column < 0 || row < 0 || column as usize >= columns || row as usize >= rows {
                return None;
            }
            let centre = low + Vector2::new(column as f64 + 0.5, row as f64 + 0.5) * cell;
            Some((row as usize * columns + column as usize, centre))
        })
    }
}

/// What maps axis values to the plane.
pub(crate) trait Reach {
    /// The place (m) and its derivative by each axis (m/rad).
    fn at(&self, axes: &AxisValues) -> (Point2<f64>, Matrix2x6<f64>);
}

/// Fills a region from `low` to `high` (m) in cells of `cell` (m), axes between `from` and `to` (rad).
pub(crate) fn explore(
    reach: &impl Reach,
    (from, to): (&AxisValues, &AxisValues),
    (low, high): (Point2<f64>, Point2<f64>),
    cell: f64,
) -> Region {
    let size = ((high - low) / cell).map(|count| count.ceil().max(1.0) as usize);
    let region = Region {
        low,
        cell,
        columns: size.x,
        rows: size.y,
        filled: vec![false; size.x * size.y],
        extremes: (high, low),
    };
    let by_cell = vec![None; region.filled.len()];
    let mut search = Search { reach, from: *from, to: *to, region, by_cell, queue: VecDeque::new() };
    for corner in 0..64_u32 {
        search.visit(&AxisValues::from_fn(|i, _| if corner >> i & 1 == 0 { from[i] } else { to[i] }));
    }
    for number in 0..SPREAD {
        search.visit(&AxisValues::from_fn(|i, _| from[i] + (to[i] - from[i]) * spread(number, i)));
    }
    search.flow();
    // A shift may open a way to cells that are then explored in turn.
    let _ = (0..ROUNDS).find(|round| !search.shift_edge(*round));
    search.sharpen();
    search.region
}

/// Number `number` of a sequence that is spread evenly over 0 to 1 in each of six coordinates (Halton 1960).
fn spread(number: u32, coordinate: usize) -> f64 {
    const BASES: [u32; 6] = [2, 3, 5, 7, 11, 13];
    let base = BASES[coordinate];
    let (mut left, mut share, mut value) = (number + 1, 1.0, 0.0);
    while left > 0 {
        share /= f64::from(base);
        value += share * f64::from(left % base);
        left /= base;
    }
    value
}

struct Search<'r, R> {
    reach: &'r R,
    from: AxisValues,
    to: AxisValues,
    region: Region,
    /// Axis values that reach a cell.
    by_cell: Vec<Option<AxisValues>>,
    queue: VecDeque<usize>,
}

impl<R: Reach> Search<'_, R> {
    fn visit(&mut self, axes: &AxisValues) -> (Point2<f64>, Matrix2x6<f64>) {
        let (place, by_axis) = self.reach.at(axes);
        let (lowest, highest) = &mut self.region.extremes;
        *lowest = lowest.inf(&place);
        *highest = highest.sup(&place);
        if let Some(index) = self.region.index(&place)
            && !self.region.filled[index]
        {
            self.region.filled[index] = true;
            self.by_cell[index] = Some(*axes);
            self.queue.push_back(index);
        }
        (place, by_axis)
    }

    /// Damped Newton steps toward `target`, each held within the ranges.
    fn go(&mut self, mut axes: AxisValues, target: &Point2<f64>, steps: usize) {
        for _ in 0..steps {
            let (place, by_axis) = self.visit(&axes);
            if self.region.index(target).is_some_and(|index| self.region.filled[index]) {
                return;
            }
            let way = target - place;
            let (step, moves) = self.step(&axes, &by_axis, &way);
            axes = step;
            if !moves {
                return;
            }
        }
    }

    /// One step toward `way`; axes at an end of their range that would leave it stay and the others do their part.
    fn step(&self, axes: &AxisValues, by_axis: &Matrix2x6<f64>, way: &Vector2<f64>) -> (AxisValues, bool) {
        let mut free = *by_axis;
        let mut step = AxisValues::zeros();
        for _ in 0..6 {
            let square = free * free.transpose();
            let damped = square + Matrix2::identity() * (DAMPING * square.trace() + f64::MIN_POSITIVE);
            let Some(inverse) = damped.try_inverse() else { break };
            step = free.transpose() * (inverse * way);
            let largest = step.amax();
            if largest > 0.3 {
                step *= 0.3 / largest;
            }
            let leaves =
                |i: usize| step[i] > 0.0 && axes[i] >= self.to[i] || step[i] < 0.0 && axes[i] <= self.from[i];
            let Some(stopped) = (0..6).find(|&i| leaves(i)) else { break };
            free.column_mut(stopped).fill(0.0);
            step[stopped] = 0.0;
        }
        let next = AxisValues::from_fn(|i, _| (axes[i] + step[i]).clamp(self.from[i], self.to[i]));
        (next, (next - axes).amax() > 1e-9)
    }

    fn flow(&mut self) {
        while let Some(index) = self.queue.pop_front() {
            let Some(axes) = self.by_cell[index] else { continue };
            for (neighbour, centre) in self.region.neighbours(index) {
                if !self.region.filled[neighbour] {
                    self.go(axes, &centre, STEPS);
                }
            }
        }
    }

    /// Tries every edge cell again from shifted axis values; whether that filled any cell.
    fn shift_edge(&mut self, round: u32) -> bool {
        let filled = |region: &Region| region.filled.iter().filter(|filled| **filled).count();
        let before = filled(&self.region);
        for index in 0..self.by_cell.len() {
            let Some(axes) = self.by_cell[index] else { continue };
            for (neighbour, centre) in self.region.neighbours(index) {
                for shift in 0..SHIFTS {
                    if self.region.filled[neighbour] {
                        break;
                    }
                    let number =
                        (index as u32).wrapping_mul(SHIFTS).wrapping_add(shift + 7 * round) % 1_000_003;
                    let shifted = AxisValues::from_fn(|i, _| {
                        let width = self.to[i] - self.from[i];
                        let moved = axes[i] + (2.0 * spread(number, i) - 1.0) * SHIFT * width;
                        moved.clamp(self.from[i], self.to[i])
                    });
                    self.go(shifted, &centre, STEPS);
                }
            }
        }
        self.flow();
        filled(&self.region) > before
    }

    /// Climbs on from the outermost cells, so that the extremes are sharper than a cell.
    fn sharpen(&mut self) {
        for (coordinate, outward) in [(0, 1.0), (0, -1.0), (1, 1.0), (1, -1.0)] {
            let height = |axes: &AxisValues| outward * self.reach.at(axes).0[coordinate];
            let outermost = self.by_cell.iter().flatten().map(|axes| (height(axes), *axes));
            let outermost = outermost.reduce(|best, next| if next.0 > best.0 { next } else { best });
            if let Some((height, axes)) = outermost {
                self.climb(axes, height, coordinate, outward);
            }
        }
    }

    /// Steepest way up within the ranges; steps that do not lead up are shortened.
    fn climb(&mut self, mut axes: AxisValues, mut height: f64, coordinate: usize, outward: f64) {
        let mut length = FIRST_CLIMB;
        for _ in 0..CLIMB_STEPS {
            let (_, by_axis) = self.visit(&axes);
            let slope = by_axis.row(coordinate).transpose() * outward;
            let uphill = AxisValues::from_fn(|i, _| {
                let stopped =
                    slope[i] > 0.0 && axes[i] >= self.to[i] || slope[i] < 0.0 && axes[i] <= self.from[i];
                if stopped { 0.0 } else { slope[i] }
            });
            let steepness = uphill.norm();
            if steepness < f64::MIN_POSITIVE || length < LEAST_CLIMB {
                return;
            }
            let next = AxisValues::from_fn(|i, _| {
                (axes[i] + uphill[i] * (length / steepness)).clamp(self.from[i], self.to[i])
            });
            let next_height = outward * self.visit(&next).0[coordinate];
            if next_height > height {
                (axes, height, length) = (next, next_height, length * 2.0);
            } else {
                length *= 0.5;
            }
        }
    }
}
