//! Decides axes 4, 5 and 6 where they meet in one point: at most two ways to turn the flange as wanted.
//!
//! The angle between axes 4 and 6 gives axis 5 by the half-angle law of a spherical triangle; axis 4 then brings axis 6
//! to its place, and axis 6 the rest. The axes may cross at any angle.

use arrayvec::ArrayVec;
use nalgebra::{UnitQuaternion, Vector2, Vector3};

use crate::lines::Lines;
use crate::spherical_wrist::{NOTHING, SAME, Slack, frame_around};
use crate::turn::Turn;
use crate::{AxisValues, Pose};

/// The constants of a wrist.
#[derive(Clone, Debug)]
pub(crate) struct Wrist {
    /// Axes 4, 5, 6.
    axes: [Vector3<f64>; 3],
    /// A unit vector across axis 6, and the third across both.
    across6: [Vector3<f64>; 2],
    /// Two unit vectors that make axis 4 a right-handed frame.
    across4: [Vector3<f64>; 2],
    /// Axis 5 where axes 4 and 6 are nearest to pointing the same way.
    straight: Turn,
    /// Squared sine of half the difference, squared cosine of half the sum, of the angles 4–5 and 5–6.
    half_difference: f64,
    half_sum: f64,
    /// From flange coordinates to those of link 6, which are the base's at axis values 0.
    link6_from_flange: UnitQuaternion<f64>,
    centre_in_flange: Vector3<f64>,
}

impl Wrist {
    /// The constants for `lines`, of which axes 4 to 6 must meet in `centre`.
    pub(crate) fn new(lines: &Lines, centre: Vector3<f64>) -> Self {
        let [.., h4, h5, h6] = lines.direction;
        let toward = |v| Turn::toward(v, 0.0).unwrap_or(Turn::NONE);
        let (along4, along6) = (h4 - h5 * h5.dot(&h4), h6 - h5 * h5.dot(&h6));
        let (angle45, angle56) = (h4.angle(&h5), h5.angle(&h6));
        Self {
            axes: [h4, h5, h6],
            across6: frame_around(&h6),
            across4: frame_around(&h4),
            straight: toward(Vector2::new(along4.dot(&along6), along4.dot(&h5.cross(&along6)))),
            half_difference: ((angle45 - angle56) / 2.0).sin().powi(2),
            half_sum: ((angle45 + angle56) / 2.0).cos().powi(2),
            link6_from_flange: lines.base_from_flange.rotation,
            centre_in_flange: lines
                .base_from_flange
                .inverse_transform_vector(&(centre - lines.base_from_flange.translation.vector)),
        }
    }

    /// Where its centre is with the flange as wanted, in the base frame.
    pub(crate) fn centre(&self, base_from_flange: &Pose) -> Vector3<f64> {
        base_from_flange.translation.vector + base_from_flange.rotation * self.centre_in_flange
    }

    /// 1 where with axis 5 at `q5` (rad) axis 6 points rather as axis 4 does, −1 where it points the other way.
    pub(crate) fn axis_6_alike(&self, q5: f64) -> f64 {
        let [h4, h5, h6] = &self.axes;
        h4.dot(&Turn::of(q5).about(h5, h6)).signum()
    }

    /// Axis 5 past straight, in (−π, π].
    pub(crate) fn bend(&self, q5: f64) -> f64 {
        Turn::of(q5).then(self.straight.back()).angle()
    }

    /// Angle between the lines of axes 4 and 6, in [0, π/2].
    pub(crate) fn opening(&self, q5: f64) -> f64 {
        let [h4, h5, h6] = &self.axes;
        let axis6 = Turn::of(q5).about(h5, h6);
        h4.cross(&axis6).norm().atan2(h4.dot(&axis6).abs())
    }

    /// 1 where positive axis 5 leaves the straight wrist of axis value 0 to the positive side, else −1.
    pub(crate) fn sense(&self) -> f64 {
        if self.straight.cos < -NOTHING { -1.0 } else { 1.0 }
    }

    /// Axis 6 and the vector across it where the flange is as wanted.
    pub(crate) fn wanted(&self, base_from_flange: &Pose) -> [Vector3<f64>; 2] {
        let base_from_link6 = base_from_flange.rotation * self.link6_from_flange.inverse();
        [base_from_link6 * self.axes[2], base_from_link6 * self.across6[0]]
    }

    /// Axes 4, 5 and 6, and whether axis 4 is free; `axis6` and `across6`: where axis 6 and the vector across it must
    /// point, with axes 1 to 3 turned back.
    pub(crate) fn turns(
        &self,
        [axis6, across6]: &[Vector3<f64>; 2],
        near: &AxisValues,
        slack: Slack,
    ) -> ArrayVec<([Turn; 3], bool), 2> {
        let mut found: ArrayVec<([Turn; 3], bool), 2> = ArrayVec::new();
        let [h4, h5, h6] = &self.axes;
        // Squared sine and cosine of half the angle between axes 4 and 6, without cancellation at either end.
        let sine = (axis6 - h4).norm_squared() / 4.0 - self.half_difference;
        let cosine = (axis6 + h4).norm_squared() / 4.0 - self.half_sum;
        if sine < -slack.met || cosine < -slack.met {
            return found;
        }
        let opening = Turn::of_half(sine.max(0.0), cosine.max(0.0));
        let wanted = Vector2::new(self.across4[0].dot(axis6), self.across4[1].dot(axis6));
        let wanted = Turn::toward(wanted, NOTHING);
        for opening in [opening, opening.back()] {
            let turn5 = self.straight.then(opening);
            let bent = turn5.about(h5, h6);
            let bent = Vector2::new(self.across4[0].dot(&bent), self.across4[1].dot(&bent));
            let turn4 = wanted
                .zip(Turn::toward(bent, 0.0))
                .map_or_else(|| Turn::of(near[3]), |(wanted, bent)| wanted.then(bent.back()));
            let rest = turn5.back().about(h5, &turn4.back().about(h4, across6));
            let turn6 = Vector2::new(self.across6[0].dot(&rest), self.across6[1].dot(&rest));
            let turn6 = Turn::toward(turn6, 0.0).unwrap_or(Turn::NONE);
            let turns = [turn4, turn5, turn6];
            let same = |(other, _): &([Turn; 3], bool)| {
                turns.iter().zip(other).all(|(one, two)| one.is_near(*two, SAME))
            };
            if !found.iter().any(same) {
                found.push((turns, wanted.is_none()));
            }
        }
        found
    }
}
