//! Decides how far an axis may turn where that depends on another axis: a forearm that would touch the upper arm, a
//! linkage that runs out of stroke.
//!
//! The range is piecewise linear between stated points, and beyond the first and the last of them as it is there. It
//! holds beside the axis's own range.

use crate::{Arm, AxisValues, Range};

/// The range of an axis at one value of another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RangePoint {
    /// Value of the axis that the range depends on, rad.
    pub at: f64,
    /// Allowed values of the axis that is limited, rad.
    pub range: Range,
}

/// The range of one axis as a function of another.
#[derive(Clone, Debug, PartialEq)]
pub struct DependentRange {
    axis: usize,
    by_axis: usize,
    points: Vec<RangePoint>,
}

/// What is wrong with a dependent range.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum DependentRangeError {
    /// An axis is not one of the six.
    #[error("there is no such axis")]
    NoSuchAxis,
    /// The range of an axis is said to depend on that axis.
    #[error("the range of an axis cannot depend on the axis itself")]
    OnItself,
    /// Fewer than two points.
    #[error("there are fewer than two points")]
    TooFewPoints,
    /// A number is not finite.
    #[error("point {point} has a number that is not finite")]
    NotFinite {
        /// Counted from 1.
        point: usize,
    },
    /// A point does not lie beyond the one before.
    #[error("point {point} does not lie beyond the one before it")]
    NotRising {
        /// Counted from 1.
        point: usize,
    },
    /// The least value allowed is above the greatest.
    #[error("at point {point} the least value is above the greatest")]
    Empty {
        /// Counted from 1.
        point: usize,
    },
}

impl DependentRange {
    /// The range of `axis` as a function of `by_axis` (both 0-based), through `points` in rising order.
    ///
    /// # Errors
    /// [`DependentRangeError`] says which point, and what is wrong with it.
    pub fn new(axis: usize, by_axis: usize, points: Vec<RangePoint>) -> Result<Self, DependentRangeError> {
        if axis > 5 || by_axis > 5 {
            return Err(DependentRangeError::NoSuchAxis);
        }
        if axis == by_axis {
            return Err(DependentRangeError::OnItself);
        }
        if points.len() < 2 {
            return Err(DependentRangeError::TooFewPoints);
        }
        for (i, RangePoint { at, range }) in points.iter().enumerate() {
            let point = i + 1;
            if ![*at, range.min, range.max].iter().all(|x| x.is_finite()) {
                return Err(DependentRangeError::NotFinite { point });
            }
            if range.min > range.max {
                return Err(DependentRangeError::Empty { point });
            }
            if i > 0 && points[i - 1].at >= *at {
                return Err(DependentRangeError::NotRising { point });
            }
        }
        Ok(Self { axis, by_axis, points })
    }

    /// The axis that is limited, 0-based.
    #[must_use]
    pub fn axis(&self) -> usize {
        self.axis
    }

    /// The axis that its range depends on, 0-based.
    #[must_use]
    pub fn by_axis(&self) -> usize {
        self.by_axis
    }

    /// The points, in rising order of [`RangePoint::at`].
    #[must_use]
    pub fn points(&self) -> &[RangePoint] {
        &self.points
    }

    /// The allowed values of the axis, rad, where the other stands at `value` (rad).
    #[must_use]
    pub fn at(&self, value: f64) -> Range {
        let after = self.points.partition_point(|point| point.at <= value);
        let last = self.points[self.points.len() - 1].range;
        match (after.checked_sub(1).map(|before| self.points[before]), self.points.get(after)) {
            (Some(before), Some(after)) => {
                let share = (value - before.at) / (after.at - before.at);
                let between = |one: f64, other: f64| one + (other - one) * share;
                Range {
                    min: between(before.range.min, after.range.min),
                    max: between(before.range.max, after.range.max),
                }
            }
            (None, Some(first)) => first.range,
            (_, None) => last,
        }
    }
}

impl Arm {
    /// The same arm with ranges that depend on other axes; they hold beside the axes' own.
    #[must_use]
    pub fn with_dependent_ranges(mut self, dependent_ranges: Vec<DependentRange>) -> Self {
        self.dependent_ranges = dependent_ranges;
        self
    }

    /// The ranges that depend on other axes.
    #[must_use]
    pub fn dependent_ranges(&self) -> &[DependentRange] {
        &self.dependent_ranges
    }

    /// The range of every axis (rad) while the others stand as in `axes` (rad).
    ///
    /// Where an axis's own range and a dependent one have nothing in common, `min` is above `max` and every value lies outside.
    #[must_use]
    pub fn axis_ranges(&self, axes: &AxisValues) -> [Range; 6] {
        let mut ranges = std::array::from_fn(|i| self.axes()[i].range);
        for dependent in &self.dependent_ranges {
            let range = &mut ranges[dependent.axis];
            let here = dependent.at(axes[dependent.by_axis]);
            *range = Range { min: range.min.max(here.min), max: range.max.min(here.max) };
        }
        ranges
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(at: f64, min: f64, max: f64) -> RangePoint {
        RangePoint { at, range: Range { min, max } }
    }

    #[test]
    fn the_range_is_straight_between_points_and_stays_beyond_them() {
        let range = DependentRange::new(
            2,
            1,
            vec![point(-1.0, -2.0, 0.0), point(0.0, -2.0, 1.0), point(2.0, 0.0, 2.0)],
        )
        .expect("it is sound");
        assert_eq!(range.at(-5.0), Range { min: -2.0, max: 0.0 });
        assert_eq!(range.at(-0.5), Range { min: -2.0, max: 0.5 });
        assert_eq!(range.at(0.0), Range { min: -2.0, max: 1.0 });
        assert_eq!(range.at(1.5), Range { min: -0.5, max: 1.75 });
        assert_eq!(range.at(9.0), Range { min: 0.0, max: 2.0 });
    }

    #[test]
    fn what_makes_no_range_is_refused() {
        let sound = vec![point(0.0, -1.0, 1.0), point(1.0, -1.0, 1.0)];
        let with = |points: [RangePoint; 2]| DependentRange::new(2, 1, points.to_vec());
        use DependentRangeError as Error;
        assert_eq!(DependentRange::new(6, 1, sound.clone()), Err(Error::NoSuchAxis));
        assert_eq!(DependentRange::new(1, 1, sound.clone()), Err(Error::OnItself));
        assert_eq!(DependentRange::new(2, 1, sound[..1].to_vec()), Err(Error::TooFewPoints));
        let nan = point(0.0, f64::NAN, 1.0);
        assert_eq!(with([nan, sound[1]]), Err(Error::NotFinite { point: 1 }));
        assert_eq!(with([sound[1], sound[1]]), Err(Error::NotRising { point: 2 }));
        assert_eq!(with([sound[0], point(1.0, 1.0, 0.0)]), Err(Error::Empty { point: 2 }));
    }
}
