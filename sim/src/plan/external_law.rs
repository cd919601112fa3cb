//! Decides where external axes stand along a move: held, or linear in the distance along it between some points.

use crate::cell::frames::ExternalValues;

/// External axes along a move or a seam.
///
/// Linear in `s` between its points, as torch angles are between taught points; the first point's values before it, the last
/// one's after it.
#[derive(Clone, Debug, PartialEq)]
pub struct ExternalLaw {
    /// Rising in `s` (m), at least one.
    points: Vec<(f64, ExternalValues)>,
}

impl ExternalLaw {
    /// Every axis stands still.
    #[must_use]
    pub fn held(values: ExternalValues) -> Self {
        Self { points: vec![(0.0, values)] }
    }

    /// Straight from point to point; `None` unless there is one, all of as many axes, and `s` rises from each to the next.
    #[must_use]
    pub fn through(points: Vec<(f64, ExternalValues)>) -> Option<Self> {
        let axes = points.first()?.1.len();
        let sound = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        (sound && points.iter().all(|(_, values)| values.len() == axes)).then_some(Self { points })
    }

    /// The points between which it is linear.
    #[must_use]
    pub fn points(&self) -> &[(f64, ExternalValues)] {
        &self.points
    }

    /// Values at the first point.
    #[must_use]
    pub fn start(&self) -> &ExternalValues {
        &self.points[0].1
    }

    /// Values at the last point.
    #[must_use]
    pub fn end(&self) -> &ExternalValues {
        &self.points[self.points.len() - 1].1
    }

    /// Whether no axis moves.
    #[must_use]
    pub fn is_held(&self) -> bool {
        self.points.iter().all(|(_, values)| values == self.start())
    }

    /// Whether the axis with this index moves.
    #[must_use]
    pub fn moves(&self, axis: usize) -> bool {
        self.points.iter().any(|(_, values)| values[axis] != self.start()[axis])
    }

    /// Values (rad or m) at `s`.
    #[must_use]
    pub fn at(&self, s: f64) -> ExternalValues {
        let after = self.points.partition_point(|(at, _)| *at <= s);
        match (after.checked_sub(1).map(|i| &self.points[i]), self.points.get(after)) {
            (Some((from, a)), Some((to, b))) => {
                let share = (s - from) / (to - from);
                a.iter().zip(b).map(|(a, b)| a + (b - a) * share).collect()
            }
            (Some((_, values)), None) | (None, Some((_, values))) => values.clone(),
            (None, None) => Vec::new(),
        }
    }

    /// How much each axis moves for a metre of `s`, rad/m or m/m: 0 beyond the ends, at a point that of what follows.
    #[must_use]
    pub fn rates_at(&self, s: f64) -> ExternalValues {
        let after = self.points.partition_point(|(at, _)| *at <= s);
        match (after.checked_sub(1).map(|i| &self.points[i]), self.points.get(after)) {
            (Some((from, a)), Some((to, b))) => a.iter().zip(b).map(|(a, b)| (b - a) / (to - from)).collect(),
            _ => vec![0.0; self.start().len()],
        }
    }

    /// The most that the axis with this index moves for a metre of `s`, rad/m or m/m.
    #[must_use]
    pub fn greatest_rate(&self, axis: usize) -> f64 {
        let rate = |pair: &[(f64, ExternalValues)]| {
            ((pair[1].1[axis] - pair[0].1[axis]) / (pair[1].0 - pair[0].0)).abs()
        };
        self.points.windows(2).map(rate).fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_straight_between_points_and_constant_beyond_them() {
        let law = ExternalLaw::through(vec![(0.1, vec![1.0, 5.0]), (0.3, vec![2.0, 5.0])]).unwrap();
        assert_eq!(law.at(0.0), vec![1.0, 5.0]);
        assert!((law.at(0.25)[0] - 1.75).abs() < 1e-12);
        assert_eq!(law.at(0.4), vec![2.0, 5.0]);
        assert!((law.greatest_rate(0) - 5.0).abs() < 1e-12);
        assert!(law.moves(0) && !law.moves(1) && !law.is_held());
    }

    #[test]
    fn points_that_do_not_rise_make_no_law() {
        assert!(ExternalLaw::through(vec![(0.1, vec![1.0]), (0.1, vec![2.0])]).is_none());
        assert!(ExternalLaw::through(Vec::new()).is_none());
    }
}
