//! Decides axes 4, 5 and 6 where they meet in one point: at most two ways to turn the flange as wanted.
//!
//! The angle between axes 4 and 6 gives axis 5 by the half-angle law of a spherical triangle; axis 4 then brings axis 6
//! to its place, and axis 6 the rest. The axes may cross at any angle.

use std::f64::consts::PI;

use arrayvec::ArrayVec;
use nalgebra::{Matrix3, UnitQuaternion, Vector2, Vector3};

use crate::lines::Lines;
use crate::spherical_wrist::{BESIDE_A_BOUND, NOTHING, SAME, Slack, frame_around};
use crate::turn::Turn;
use crate::usual::LEAST_SINE;
use crate::{AxisValues, Pose};

/// Directions are square where the cosine between them is less: rounding of what stands in a file.
pub(crate) const EXACT: f64 = 4e-15;

/// Axes 4 and 6 that come no nearer to one line than by this (rad) count as on it where they are nearest: files write a quarter turn with
/// ten digits.
const IN_LINE: f64 = 1e-9;

/// The constants of a wrist.
#[derive(Clone, Debug)]
pub(crate) struct Wrist {
    /// Axes 4, 5, 6.
    axes: [Vector3<f64>; 3],
    /// A unit vector across axis 6, and the third across both.
    across6: [Vector3<f64>; 2],
    /// To the frame of axis 4: two unit vectors across it, and axis 4 as the third.
    frame4: Matrix3<f64>,
    /// Axis 6 and the vectors across it as axis 5 carries them, in that frame.
    carried6: Carried,
    carried_across6: [Carried; 2],
    /// Whether axis 5 is square to axes 4 and 6.
    square: bool,
    /// Axis 5 where axes 4 and 6 are nearest to pointing the same way.
    straight: Turn,
    /// Squared sine of half the difference, squared cosine of half the sum, of the angles 4–5 and 5–6.
    half_difference: f64,
    half_sum: f64,
    /// Below this sine between axes 4 and 6, axis 4 is free.
    in_line: f64,
    /// From flange coordinates to those of link 6, which are the base's at axis values 0.
    link6_from_flange: UnitQuaternion<f64>,
    centre_in_flange: Vector3<f64>,
}

/// A vector that axis 5 carries round: `fixed + cos · cosine + sin · sine`.
#[derive(Clone, Debug)]
struct Carried {
    fixed: Vector3<f64>,
    cos: Vector3<f64>,
    sin: Vector3<f64>,
}

impl Carried {
    /// `vector` carried about `axis` (unit length), seen in `frame`.
    fn new(frame: &Matrix3<f64>, axis: &Vector3<f64>, vector: &Vector3<f64>) -> Self {
        let along = axis * axis.dot(vector);
        Self { fixed: frame * along, cos: frame * (vector - along), sin: frame * axis.cross(vector) }
    }

    #[inline(always)]
    fn at(&self, turn: Turn) -> Vector3<f64> {
        self.fixed + self.cos * turn.cos + self.sin * turn.sin
    }
}

impl Wrist {
    /// The constants for `lines`, of which axes 4 to 6 must meet in `centre`.
    pub(crate) fn new(lines: &Lines, centre: Vector3<f64>) -> Self {
        let [.., h4, h5, h6] = lines.direction;
        let toward = |v| Turn::toward(v, 0.0).unwrap_or(Turn::NONE);
        let (along4, along6) = (h4 - h5 * h5.dot(&h4), h6 - h5 * h5.dot(&h6));
        let (angle45, angle56) = (h4.angle(&h5), h5.angle(&h6));
        // How far they stay from one line, straight and folded.
        let least = [angle45 - angle56, PI - angle45 - angle56].map(f64::abs);
        let in_line = least.into_iter().filter(|least| *least < IN_LINE).fold(0.0, f64::max);
        let [first, second] = frame_around(&h4);
        let frame4 = Matrix3::from_rows(&[first.transpose(), second.transpose(), h4.transpose()]);
        let across6 = frame_around(&h6);
        Self {
            axes: [h4, h5, h6],
            carried6: Carried::new(&frame4, &h5, &h6),
            carried_across6: across6.each_ref().map(|across| Carried::new(&frame4, &h5, across)),
            across6,
            frame4,
            square: h4.dot(&h5).abs().max(h5.dot(&h6).abs()) < EXACT,
            straight: toward(Vector2::new(along4.dot(&along6), along4.dot(&h5.cross(&along6)))),
            half_difference: ((angle45 - angle56) / 2.0).sin().powi(2),
            half_sum: ((angle45 + angle56) / 2.0).cos().powi(2),
            in_line: NOTHING + in_line,
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

    /// 1 where with axis 5 at `turn5` axis 6 points rather as axis 4 does, −1 where it points the other way.
    pub(crate) fn axis_6_alike(&self, turn5: Turn) -> f64 {
        let [h4, h5, h6] = &self.axes;
        h4.dot(&turn5.about(h5, h6)).signum()
    }

    /// Axis 5 past straight, in (−π, π].
    pub(crate) fn bend(&self, q5: f64) -> f64 {
        Turn::of(q5).then(self.straight.back()).angle()
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
        let [axis6, across6] = [self.frame4 * axis6, self.frame4 * across6];
        let Some(opening) = self.opening(&axis6, slack) else { return found };
        let wanted = Turn::toward(axis6.xy(), self.in_line);
        let first = self.turned(opening, wanted, &across6, near);
        found.push((first, wanted.is_none()));
        let second = match wanted {
            // Half a turn of axes 4 and 6 and the wrist bent the other way leave the flange as it is.
            Some(_) if self.square => {
                [first[0].half_on(), self.straight.then(opening.back()), first[2].half_on()]
            }
            _ => self.turned(opening.back(), wanted, &across6, near),
        };
        // Where axes 4 and 5 are the same, axis 6 is.
        if !(first[0].is_near(second[0], SAME) && first[1].is_near(second[1], SAME)) {
            found.push((second, wanted.is_none()));
        }
        found
    }

    /// How far axis 5 is opened where axis 6, in the frame of axis 4, points along `axis6`; none where the wrist cannot turn so.
    fn opening(&self, axis6: &Vector3<f64>, slack: Slack) -> Option<Turn> {
        // Squared sine and cosine of half the angle between axes 4 and 6, without cancellation at either end.
        let aside = axis6.xy().norm_squared();
        let sine = (aside + (axis6.z - 1.0).powi(2)) / 4.0 - self.half_difference;
        let cosine = (aside + (axis6.z + 1.0).powi(2)) / 4.0 - self.half_sum;
        let is_met = sine >= -slack.turned() && cosine >= -slack.turned();
        is_met.then(|| Turn::of_half(sine.max(0.0), cosine.max(0.0)))
    }

    /// Axis 4 of both wrists, without the others; `axis6` as in [`Self::turns`].
    pub(crate) fn turns_of_axis_4(&self, axis6: &Vector3<f64>) -> ArrayVec<Turn, 2> {
        let axis6 = self.frame4 * axis6;
        let Some(opening) = self.opening(&axis6, Slack::EXACT) else { return ArrayVec::new() };
        // Where axis 4 is free it stands at 0.
        let Some(wanted) = Turn::toward(axis6.xy(), self.in_line) else {
            return [Turn::NONE].into_iter().collect();
        };
        let turn4 = |opening: Turn| {
            let bent = Turn::toward(self.carried6.at(self.straight.then(opening)).xy(), 0.0);
            wanted.then(bent.unwrap_or(Turn::NONE).back())
        };
        let first = turn4(opening);
        let second = if self.square { first.half_on() } else { turn4(opening.back()) };
        ArrayVec::from([first, second])
    }

    /// What [`Self::turns`] gives for one of both wrists, axis 5 opened to the side of `over` (1 or −1), in plain arithmetic; the room to where the wrist is
    /// singular or at its edge, and above 0 where it can turn so at all. Axes 4 and 6 have common factors.
    #[inline(always)]
    pub(crate) fn turns_plainly(
        &self,
        [axis6, across6]: &[Vector3<f64>; 2],
        over: f64,
    ) -> ([Turn; 3], f64, f64) {
        let (axis6, across6) = (self.frame4 * axis6, self.frame4 * across6);
        let aside = axis6.x * axis6.x + axis6.y * axis6.y;
        let (below, above) = (axis6.z - 1.0, axis6.z + 1.0);
        let sine = (aside + below * below) / 4.0 - self.half_difference;
        let cosine = (aside + above * above) / 4.0 - self.half_sum;
        let product = sine * cosine;
        let sum = 1.0 / (sine + cosine);
        let opening = Turn { cos: (cosine - sine) * sum, sin: over * 2.0 * product.max(0.0).sqrt() * sum };
        let turn5 = self.straight.then(opening);
        let bent = self.carried6.at(turn5);
        let turn4 = Turn { cos: axis6.x, sin: axis6.y }.then(Turn { cos: bent.x, sin: -bent.y });
        let length = 1.0 / (turn4.cos * turn4.cos + turn4.sin * turn4.sin).sqrt();
        let turn4 = Turn { cos: turn4.cos * length, sin: turn4.sin * length };
        let back = turn4.back().turn(across6.xy());
        let rest = Vector3::new(back.x, back.y, across6.z);
        let [first, second] = &self.carried_across6;
        let turn6 = Turn { cos: first.at(turn5).dot(&rest), sin: second.at(turn5).dot(&rest) };
        let reached = sine.min(cosine);
        // One whose axes are not square has an end, past which rounding of the elbow may put it.
        let least = if self.square { LEAST_SINE } else { 2.0 * BESIDE_A_BOUND };
        ([turn4, turn5, turn6], (product.abs() - least).min(aside - LEAST_SINE), reached)
    }

    /// Axes 4 to 6 with axis 5 opened by `opening`; `wanted` is where axis 6 must point and `across6` the vector across it, in the
    /// frame of axis 4.
    fn turned(
        &self,
        opening: Turn,
        wanted: Option<Turn>,
        across6: &Vector3<f64>,
        near: &AxisValues,
    ) -> [Turn; 3] {
        let turn5 = self.straight.then(opening);
        let turn4 = wanted
            .zip(Turn::toward(self.carried6.at(turn5).xy(), 0.0))
            .map_or_else(|| Turn::of(near[3]), |(wanted, bent)| wanted.then(bent.back()));
        let back = turn4.back().turn(across6.xy());
        let rest = Vector3::new(back.x, back.y, across6.z);
        let turn6 = self.carried_across6.each_ref().map(|across| across.at(turn5).dot(&rest));
        [turn4, turn5, Turn::toward(turn6.into(), 0.0).unwrap_or(Turn::NONE)]
    }
}
