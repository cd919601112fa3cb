//! Decides which axis values belong to a distance along a way that is given as dense exact points.

use seamwright_kinematics::AxisValues;

use super::Curve;

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
/// Between points the axes follow the natural cubic spline through them, which leaves a smooth exact way by something of the
/// fourth power of the distance between points: far less than a micrometre at 2 mm. Between the first two points, and the last two, it may
/// leave a bent way by as much as a straight line would. Where the way has a kink, it is rounded within a
/// point or two of it.
#[derive(Clone, Debug)]
pub struct AxisPath {
    points: Vec<Waypoint>,
    /// Through all of them; none where there is only one.
    curve: Option<Curve>,
}

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
        let knots: Vec<f64> = kept.iter().map(|point| point.s).collect();
        let values: Vec<f64> = kept.iter().flat_map(|point| point.axes.iter().copied()).collect();
        let curve = Curve::natural_spline(&knots, &values, 6);
        (!kept.is_empty()).then_some(Self { points: kept, curve })
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[Waypoint] {
        &self.points
    }

    /// Distance at the first point, m.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.points[0].s
    }

    /// Distance from the first point to the last, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.points[self.points.len() - 1].s - self.start()
    }

    /// Axis values (rad) at distance `s`, taken into the ends.
    #[must_use]
    pub fn at(&self, s: f64) -> AxisValues {
        // Its own values at both ends, to the bit.
        let last = self.points[self.points.len() - 1];
        match &self.curve {
            Some(curve) if s > self.start() && s < last.s => AxisValues::from_column_slice(&curve.at(s)),
            _ if s >= last.s => last.axes,
            _ => self.points[0].axes,
        }
    }

    /// First, second and third derivative of the axis values by distance, at `s`, taken into the ends.
    #[must_use]
    pub fn derivatives(&self, s: f64) -> [AxisValues; 3] {
        let mut derivatives = [AxisValues::zeros(); 3];
        if let Some(curve) = &self.curve {
            let s = s.clamp(curve.start(), curve.end());
            let [first, second, third] = &mut derivatives;
            let slices = (first.as_mut_slice(), second.as_mut_slice(), third.as_mut_slice());
            curve.derivatives(curve.piece(s), s, slices.0, slices.1, slices.2);
        }
        derivatives
    }
}
