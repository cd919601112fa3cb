//! Decides which axis values belong to a distance along a way that is given as dense exact points.

use seamwright_kinematics::AxisValues;

/// Axis values at a distance along the way.
#[derive(Clone, Copy, Debug)]
pub struct Waypoint {
    /// Distance, m.
    pub s: f64,
    /// Axis values, rad.
    pub axes: AxisValues,
}

/// A way as points of rising distance, at least one.
///
/// Between points the axes go straight, which leaves the exact way by no more than h² / 8 times the greatest second
/// derivative of the axis values by distance, h being the distance between points: some micrometres at 2 mm.
#[derive(Clone, Debug)]
pub struct AxisPath(Vec<Waypoint>);

/// Points nearer to the one before are the same point; exact differences between them would be noise.
const SAME_POINT: f64 = 1e-9;

impl AxisPath {
    /// The way through `points`; `None` where there is none. A point that does not lie beyond the one before it takes
    /// that one's place.
    #[must_use]
    pub fn new(points: impl IntoIterator<Item = Waypoint>) -> Option<Self> {
        let mut kept: Vec<Waypoint> = Vec::new();
        for point in points {
            match kept.last_mut() {
                Some(last) if point.s - last.s < SAME_POINT => {
                    *last = Waypoint { s: last.s, axes: point.axes }
                }
                _ => kept.push(point),
            }
        }
        (!kept.is_empty()).then_some(Self(kept))
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[Waypoint] {
        &self.0
    }

    /// Distance at the first point, m.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.0[0].s
    }

    /// Distance from the first point to the last, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.0[self.0.len() - 1].s - self.start()
    }

    /// Axis values (rad) at distance `s`, taken into the ends.
    #[must_use]
    pub fn at(&self, s: f64) -> AxisValues {
        let after = self.0.partition_point(|point| point.s <= s);
        if after == 0 {
            return self.0[0].axes;
        }
        let before = self.0[after - 1];
        self.0.get(after).map_or(before.axes, |next| {
            before.axes + (next.axes - before.axes) * ((s - before.s) / (next.s - before.s))
        })
    }

    /// First, second and third derivative of the axis values by distance, at `s`, by divided differences.
    #[must_use]
    pub fn derivatives(&self, s: f64) -> [AxisValues; 3] {
        let points = &self.0;
        if points.len() < 2 {
            return [AxisValues::zeros(); 3];
        }
        let interval = points.partition_point(|point| point.s <= s).clamp(1, points.len() - 1) - 1;
        // The interval itself, then one more neighbour for each further derivative, on the side where there is one.
        let window = |count: usize| {
            let count = count.min(points.len());
            let first = interval.saturating_sub((count - 2) / 2).min(points.len() - count);
            &points[first..first + count]
        };
        let derivative = |order: usize, factorial: f64| {
            let window = window(order + 1);
            if window.len() == order + 1 {
                divided_difference(window) * factorial
            } else {
                AxisValues::zeros()
            }
        };
        [derivative(1, 1.0), derivative(2, 2.0), derivative(3, 6.0)]
    }
}

/// Newton's divided difference over all the points.
fn divided_difference(points: &[Waypoint]) -> AxisValues {
    match points {
        [only] => only.axes,
        [first, .., last] => {
            (divided_difference(&points[1..]) - divided_difference(&points[..points.len() - 1]))
                / (last.s - first.s)
        }
        [] => AxisValues::zeros(),
    }
}
