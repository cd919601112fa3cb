//! Decides every way to reach a pose for arms whose axes 4, 5 and 6 meet in one point and whose axes 2 and 3 are
//! parallel, in closed form: at most two values of axis 1, two elbows for each and two wrists for each of those.
//!
//! Axis 1 may cross axis 2 at any angle but parallel, the axes of the wrist may cross at any angle, and every offset is
//! allowed. The wrist centre is split from the orientation as in D. L. Pieper's thesis; the angles then come from the
//! axes as lines (product of exponentials), so no link frame convention enters. Derivation:
//!
//! - Turning about axes 2 and 3 (both along `n`) leaves the height of the wrist centre along `n` unchanged, so
//!   `n · R(z, −q1) p` is a constant of the arm: an equation `A cos q1 + B sin q1 = c`.
//! - Across `n` the upper arm `a` and the forearm `b` make a triangle with the way `v` to the wrist centre.
//! - The wrist: see [`Wrist`].
//!
//! Assumes the lines exactly so; `inverse` corrects for arms that deviate within the tolerance.

use arrayvec::ArrayVec;
use nalgebra::{Vector2, Vector3};

use crate::angle::AsTurns;
use crate::inverse::{ReachBound, Shortfall, Solution};
use crate::lines::Lines;
use crate::nearest::least_on_circle;
use crate::turn::Turn;
use crate::wrist::Wrist;
use crate::{AxisValues, Pose};

/// Lengths below this (m) and sines below this count as nothing: a bound missed by less is met, and an axis that would
/// move the flange less than this is free.
pub(crate) const NOTHING: f64 = 1e-10;
/// Lengths below this (m) are rounding.
const ROUNDING: f64 = 1e-14;
/// Two roots nearer than this (rad) are one: at a double root their poses differ by its square.
pub(crate) const SAME: f64 = 1e-6;

/// Where an axis is all but at its bound rounding turns it by the root of itself, some 1e-8 rad; several of them, and a safe multiple.
pub(crate) const BESIDE_A_BOUND: f64 = 1e-6;

/// The constants of such an arm.
#[derive(Clone, Debug)]
pub(crate) struct SphericalWrist {
    /// Axis 1: a point and its direction.
    foot: Vector3<f64>,
    z: Vector3<f64>,
    /// Direction of axes 2 and 3, and two unit vectors that make it a right-handed frame.
    n: Vector3<f64>,
    across: [Vector3<f64>; 2],
    /// 1 where axis 3 points as axis 2 does, −1 where it points the other way.
    sense3: f64,
    /// From the point of axis 1 to that of axis 2.
    shoulder: Vector3<f64>,
    /// Upper arm (axis 2 to axis 3) and forearm (axis 3 to wrist centre) across `n`, and their lengths.
    upper: Vector2<f64>,
    fore: Vector2<f64>,
    upper_length: f64,
    fore_length: f64,
    /// Axis 3 (in the sense of axis 2) with the arm stretched.
    stretched: Turn,
    /// Height of the wrist centre over the point of axis 1, along `n`.
    sideways: f64,
    wrist: Wrist,
}

/// How strictly the bounds of reach are taken, in m or rad.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slack {
    /// A bound missed by less is met.
    pub(crate) met: f64,
    /// Two roots are kept at least this far inside the bound at which they are one.
    floor: f64,
}

impl Slack {
    /// For an arm whose lines are exactly of this class.
    pub(crate) const EXACT: Self = Self { met: NOTHING, floor: 0.0 };

    /// For an arm whose lines miss this class by `deviation` (m or rad): roots that the true arm may have are kept,
    /// and kept apart, so that each can be corrected by itself.
    pub(crate) fn about(deviation: f64) -> Self {
        Self { met: NOTHING + 4.0 * deviation, floor: deviation }
    }

    /// The bound of a wrist, which has the flange's turn less what axes 1 to 3 turn: by several times more than they miss their place, and by what
    /// rounding makes of an elbow or shoulder that is all but at its own bound.
    pub(crate) fn turned(self) -> f64 {
        10.0 * self.met + BESIDE_A_BOUND
    }

    pub(crate) fn is_exact(self) -> bool {
        self.floor == 0.0
    }

    /// How far (m) a root counts as inside its bound. Rounding alone is on the bound, where two roots are one: its
    /// square root would be felt in every axis that follows.
    fn inside(self, distance: f64) -> f64 {
        if distance < ROUNDING { self.floor } else { distance.max(self.floor) }
    }
}

/// Axes 1 to 3 of one solution.
pub(crate) struct Carried {
    pub(crate) turns: [Turn; 3],
    /// Axes 2 and 3 together, about `n`.
    pub(crate) turn23: Turn,
    /// Which of them keep their value.
    pub(crate) kept: [bool; 3],
}

impl Carried {
    /// The first of those that keep their value.
    pub(crate) fn free(&self) -> Option<usize> {
        self.kept.iter().position(|kept| *kept)
    }
}

/// What the signs of an arm's three configurations are made of; see [`crate::Configuration`].
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stance {
    /// Signed distance of the wrist centre from axis 1 in the plane across axes 2 and 3 (m).
    pub(crate) forward: f64,
    /// Axis 3 past stretched, in (−π, π], in the sense of axis 2.
    pub(crate) bend: f64,
}

impl SphericalWrist {
    /// The constants for `lines`, which must be of this class; `wrist_centre` is where axes 4 to 6 meet.
    pub(crate) fn new(lines: &Lines, wrist_centre: Vector3<f64>) -> Self {
        let [foot, point2, point3, ..] = lines.point;
        let [z, n, direction3, ..] = lines.direction;
        let across = frame_around(&n);
        let flat = |v: Vector3<f64>| Vector2::new(across[0].dot(&v), across[1].dot(&v));
        let (upper, fore) = (flat(point3 - point2), flat(wrist_centre - point3));
        let toward = |v| Turn::toward(v, 0.0).unwrap_or(Turn::NONE);
        Self {
            foot,
            z,
            n,
            across,
            sense3: n.dot(&direction3).signum(),
            shoulder: point2 - foot,
            upper,
            fore,
            upper_length: upper.norm(),
            fore_length: fore.norm(),
            stretched: toward(upper).then(toward(fore).back()),
            sideways: n.dot(&(wrist_centre - foot)),
            wrist: Wrist::new(lines, wrist_centre),
        }
    }

    /// Puts every solution for `base_from_flange` into `solutions`, which must be empty; if there is none, how far
    /// they are.
    pub(crate) fn solve(
        &self,
        base_from_flange: &Pose,
        near: &AxisValues,
        slack: Slack,
        solutions: &mut ArrayVec<Solution, 16>,
    ) -> Option<Shortfall> {
        let from_foot = self.foot_to_wrist(base_from_flange);
        let wrist_in_base = self.wrist.wanted(base_from_flange);
        let mut carried = false;
        let mut found = AsTurns::default();
        for (turn1, free1) in self.turns_of_axis_1(&from_foot, near, slack) {
            let in_link1 = wrist_in_base.each_ref().map(|v| turn1.back().about(&self.z, v));
            for arm in self.elbows(&from_foot, turn1, free1, near, slack) {
                carried = true;
                let in_wrist = |v: &Vector3<f64>| arm.turn23.back().about(&self.n, v);
                let ([turn1, turn2, turn3], [kept1, kept2, kept3]) = (arm.turns, arm.kept);
                for ([turn4, turn5, turn6], free4) in
                    self.wrist.turns(&in_link1.each_ref().map(in_wrist), near, slack)
                {
                    found.push(
                        [turn1, turn2, turn3, turn4, turn5, turn6],
                        [kept1, kept2, kept3, free4, false, false],
                        arm.free().or(free4.then_some(3)),
                    );
                }
            }
        }
        found.angles(near, solutions);
        if !carried {
            return Some(self.shortfall_of(base_from_flange));
        }
        solutions.is_empty().then_some(Shortfall { distance: 0.0, bound: ReachBound::Orientation })
    }

    pub(crate) fn turns_of_axis_1(
        &self,
        from_foot: &Vector3<f64>,
        near: &AxisValues,
        slack: Slack,
    ) -> ArrayVec<(Turn, bool), 2> {
        let mut turns = ArrayVec::new();
        let slope = self.n.dot(&self.z);
        let flat = self.n - self.z * slope;
        let reach = Vector2::new(flat.dot(from_foot), self.z.cross(&self.n).dot(from_foot));
        let wanted = self.sideways - slope * self.z.dot(from_foot);
        let radius = reach.norm();
        let Some(middle) = Turn::toward(reach, NOTHING) else {
            if wanted.abs() <= slack.met {
                turns.push((Turn::of(near[0]), true));
            }
            return turns;
        };
        if wanted.abs() > radius + slack.met {
            return turns;
        }
        let half = Turn::of_half(slack.inside(radius - wanted), slack.inside(radius + wanted));
        turns.push((middle.then(half), false));
        if !half.is_near(half.back(), SAME) {
            turns.push((middle.then(half.back()), false));
        }
        turns
    }

    pub(crate) fn elbows(
        &self,
        from_foot: &Vector3<f64>,
        turn1: Turn,
        free1: bool,
        near: &AxisValues,
        slack: Slack,
    ) -> ArrayVec<Carried, 2> {
        let mut arms = ArrayVec::new();
        let (longest, shortest) = self.reach();
        let way = self.shoulder_to(&turn1.back().about(&self.z, from_foot));
        let distance = way.norm();
        let (to_longest, to_shortest) = (longest - distance, distance - shortest);
        if to_longest < -slack.met || to_shortest < -slack.met {
            return arms;
        }
        let bend = Turn::of_half(
            slack.inside(to_longest) * (longest + distance),
            slack.inside(to_shortest) * (distance + shortest),
        );
        let mut turns: ArrayVec<(Turn, Option<Turn>), 2> = ArrayVec::new();
        for bend in [bend, bend.back()] {
            let turn3 = self.stretched.then(bend);
            let folded = self.upper + turn3.turn(self.fore);
            // With equal upper arm and forearm the wrist centre can lie on axis 2, which is then free.
            let turn2 = Turn::toward(way, NOTHING)
                .zip(Turn::toward(folded, 0.0))
                .map(|(to_wrist, at_zero)| to_wrist.then(at_zero.back()));
            let same = |other: &(Turn, Option<Turn>)| {
                turn3.is_near(other.0, SAME)
                    && turn2.zip(other.1).is_none_or(|(one, two)| one.is_near(two, SAME))
            };
            if !turns.iter().any(same) {
                turns.push((turn3, turn2));
            }
        }
        for (turn3, found) in turns {
            let turn2 = found.unwrap_or_else(|| Turn::of(near[1]));
            arms.push(Carried {
                turns: [turn1, turn2, turn3.signed(self.sense3)],
                turn23: turn2.then(turn3),
                kept: [free1, found.is_none(), false],
            });
        }
        arms
    }

    /// Axes 4, 5 and 6 that give the flange its orientation with axis 1 at `turn1` and axes 2 and 3 at 0, and whether axis 4 is free.
    pub(crate) fn wrists_at(
        &self,
        base_from_flange: &Pose,
        turn1: Turn,
        near: &AxisValues,
        slack: Slack,
    ) -> ArrayVec<([Turn; 3], bool), 2> {
        let in_wrist = |v: &Vector3<f64>| turn1.back().about(&self.z, v);
        let wanted = self.wrist.wanted(base_from_flange).each_ref().map(in_wrist);
        self.wrist.turns(&wanted, near, slack)
    }

    /// From axis 2 to a point of link 1 (both from the point of axis 1), across `n`.
    pub(crate) fn shoulder_to(&self, point: &Vector3<f64>) -> Vector2<f64> {
        self.flat(&(point - self.shoulder))
    }

    /// Axis 1 where axis 2 comes nearest to a direction; none where that lies along axis 1.
    pub(crate) fn alike_at(&self, direction: &Vector3<f64>) -> Option<Turn> {
        let across = self.n - self.z * self.z.dot(&self.n);
        Turn::toward(Vector2::new(across.dot(direction), self.z.dot(&across.cross(direction))), NOTHING)
    }

    /// Direction of axis 1.
    pub(crate) fn axis_1(&self) -> &Vector3<f64> {
        &self.z
    }

    /// Direction of axis 2.
    pub(crate) fn axis_2(&self) -> &Vector3<f64> {
        &self.n
    }

    /// 1 where axis 3 points as axis 2 does, −1 where it points the other way.
    pub(crate) fn sense3(&self) -> f64 {
        self.sense3
    }

    pub(crate) fn wrist(&self) -> &Wrist {
        &self.wrist
    }

    pub(crate) fn flat(&self, v: &Vector3<f64>) -> Vector2<f64> {
        Vector2::new(self.across[0].dot(v), self.across[1].dot(v))
    }

    /// Longest and shortest distance of the wrist centre from axis 2.
    pub(crate) fn reach(&self) -> (f64, f64) {
        (self.upper_length + self.fore_length, (self.upper_length - self.fore_length).abs())
    }

    /// The wanted wrist centre, from the point of axis 1.
    pub(crate) fn foot_to_wrist(&self, base_from_flange: &Pose) -> Vector3<f64> {
        self.wrist.centre(base_from_flange) - self.foot
    }

    /// Lengths of upper arm and forearm (m).
    pub(crate) fn lengths(&self) -> (f64, f64) {
        (self.upper_length, self.fore_length)
    }

    /// Distance from a wrist centre to the nearest reachable one: the least over axis 1 of its distance from the ring
    /// that axes 2 and 3 sweep.
    pub(crate) fn shortfall_of(&self, base_from_flange: &Pose) -> Shortfall {
        let from_foot = self.foot_to_wrist(base_from_flange);
        let (turn1, _) = least_on_circle(|turn1| self.gap(&from_foot, turn1).distance);
        self.gap(&from_foot, turn1)
    }

    /// With axis 1 at `turn1`: distance from the ring that axes 2 and 3 sweep.
    fn gap(&self, from_foot: &Vector3<f64>, turn1: Turn) -> Shortfall {
        self.gap_in_link1(&turn1.back().about(&self.z, from_foot))
    }

    /// The distance from that ring of a point of link 1 (from the point of axis 1).
    pub(crate) fn gap_in_link1(&self, point: &Vector3<f64>) -> Shortfall {
        let aside = (self.n.dot(point) - self.sideways).abs();
        let way = self.shoulder_to(point);
        let distance = way.norm();
        let (longest, shortest) = self.reach();
        let (too_far, too_near) = ((distance - longest).max(0.0), (shortest - distance).max(0.0));
        let bound = if too_far >= aside && too_far > 0.0 {
            ReachBound::TooFar
        } else if too_near >= aside && too_near > 0.0 {
            ReachBound::TooNear
        } else {
            ReachBound::TooNearAxis1
        };
        let beyond = too_far.max(too_near);
        Shortfall { distance: (aside * aside + beyond * beyond).sqrt(), bound }
    }

    /// How the arm stands at `axes`.
    pub(crate) fn stance(&self, axes: &AxisValues) -> Stance {
        let turn3 = Turn::of(axes[2]).signed(self.sense3);
        let way = Turn::of(axes[1]).turn(self.upper + turn3.turn(self.fore));
        let in_plane = self.shoulder + self.across[0] * way.x + self.across[1] * way.y;
        Stance { forward: self.forward().dot(&in_plane), bend: turn3.then(self.stretched.back()).angle() }
    }

    /// The unit vector across axes 1 and 2 at axis values 0, pointing to the side where the wrist centre then is (or,
    /// if that is above axis 1, to the side of axis 2).
    pub(crate) fn forward(&self) -> Vector3<f64> {
        let forward = self.n.cross(&self.z).normalize();
        let at_zero = self.upper + self.fore;
        let wrist = self.shoulder + self.across[0] * at_zero.x + self.across[1] * at_zero.y;
        let side = |v: &Vector3<f64>| Some(forward.dot(v)).filter(|x| x.abs() > 1e-6);
        let sign = side(&wrist).or_else(|| side(&self.shoulder)).unwrap_or(1.0).signum();
        forward * sign
    }

    /// 1 where a positive bend is a sinking forearm of an arm that stands on its foot and reaches forward, else −1.
    pub(crate) fn bend_sense(&self) -> f64 {
        let up = if self.z.z < 0.0 { -self.z } else { self.z };
        -self.n.dot(&self.forward().cross(&up)).signum()
    }
}

/// Two unit vectors that with `direction` make a right-handed frame: first × second = direction.
pub(crate) fn frame_around(direction: &Vector3<f64>) -> [Vector3<f64>; 2] {
    let least = if direction.x.abs() <= direction.y.abs() && direction.x.abs() <= direction.z.abs() {
        Vector3::x()
    } else if direction.y.abs() <= direction.z.abs() {
        Vector3::y()
    } else {
        Vector3::z()
    };
    let first = (least - direction * direction.dot(&least)).normalize();
    [first, direction.cross(&first)]
}
