//! Decides every way to reach a pose for arms whose axes 2, 3 and 4 are parallel and whose axes 5 and 6 meet, in closed
//! form: at most two values of axis 1, two of axis 5 for each and two elbows for each of those.
//!
//! Axes 2 to 4 turn about one direction `n`, so together they do to the orientation what axis 4 of a spherical wrist
//! does, and they leave the height along `n` of the point where axes 5 and 6 meet (here: the wrist centre) as it is.
//! Axis 1 and the three turns 2 + 3 + 4, 5, 6 therefore follow as for a spherical wrist. With the hand (the way from
//! axis 4 to the wrist centre, across `n`) then known, axes 2 and 3 only have to bring axis 4 to its place. Moving the
//! lines of axes 2 to 4 by the hand makes this the elbow of a [`SphericalWrist`] too.
//!
//! Assumes the lines exactly so; `inverse` corrects for arms that deviate within the tolerance.

use std::f64::consts::PI;

use arrayvec::ArrayVec;
use nalgebra::{Vector2, Vector3};

use crate::angle::AsTurns;
use crate::inverse::{ReachBound, Shortfall, Solution};
use crate::lines::Lines;
use crate::nearest::least_on_circle;
use crate::spherical_wrist::{NOTHING, Slack, SphericalWrist, Stance};
use crate::turn::{Turn, wrapped};
use crate::{AxisValues, Pose};

/// The constants of such an arm.
#[derive(Clone, Debug)]
pub(crate) struct ThreeParallel {
    /// The arm with the lines of axes 2 to 4 moved by the hand, and axes 2 to 4 together for its axis 4.
    moved: SphericalWrist,
    /// From axis 4 to the wrist centre, across axis 4, at axis values 0.
    hand: Vector3<f64>,
    /// 1 where axis 4 points as axis 2 does, −1 where it points the other way.
    sense4: f64,
}

/// Steps of half a turn in which a reaching axis 1 is sought, and halvings of the last.
const HALF_STEPS: u32 = 180;
const HALVINGS: u32 = 50;

/// What turns the flange by less than this, rad, may be rounding: of a wrist that all but leans to its end too. The solution is then moved
/// onto its pose, or dropped.
const TURNED_BY_ROUNDING: f64 = 1e-9;
/// Axis 6 this near (rad) to axes 2 to 4 counts as parallel to them where a pose is out of reach.
const ALIKE: f64 = 1e-7;
/// And this near it makes dips narrower than the steps in which axis 1 is turned, no wider than so much to either side, rad.
const STEEP: f64 = 0.2;
const FAR: f64 = 0.5;

impl ThreeParallel {
    /// The constants for `lines`, which must be of this class; `wrist_centre` is where axes 5 and 6 meet.
    pub(crate) fn new(lines: &Lines, wrist_centre: Vector3<f64>) -> Self {
        let (moved, hand) = moved_by_hand(lines, wrist_centre);
        Self {
            moved: SphericalWrist::new(&moved, wrist_centre),
            hand,
            sense4: lines.direction[1].dot(&lines.direction[3]).signum(),
        }
    }

    /// The arm that is solved in its place, for what both have in common.
    pub(crate) fn moved(&self) -> &SphericalWrist {
        &self.moved
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
        let from_foot = self.moved.foot_to_wrist(base_from_flange);
        let mut found = AsTurns::default();
        for (turn1, free1) in self.moved.turns_of_axis_1(&from_foot, near, slack) {
            let bends = if free1 { 0..2 } else { 0..1 };
            for bend in bends {
                // Where axis 1 is free it turns the hand, and axes 2 and 3 may not follow everywhere: each bend of the wrist has its own range.
                let turn1 = if free1 {
                    self.nearest_that_reaches(base_from_flange, &from_foot, turn1, bend, near, slack)
                } else {
                    turn1
                };
                let wrists =
                    self.moved.wrists_at(base_from_flange, turn1, near, slack).into_iter().enumerate();
                for (mut wrist, free6) in wrists.filter(|(i, _)| !free1 || *i == bend).map(|(_, wrist)| wrist)
                {
                    // Axis 6 lies along axes 2 to 4, and any of them may turn it.
                    let kept6 = free6 && self.keep_axis_6(&mut wrist, &from_foot, turn1, near[5]);
                    let arms_with = |turn234: Turn| {
                        let swing = turn1.about(self.moved.axis_1(), &self.swing(turn234));
                        self.moved.elbows(&(from_foot - swing), turn1, free1, near, slack)
                    };
                    let mut arms = arms_with(wrist[0]);
                    if arms.is_empty() && !free6 {
                        let ill = self.all_but_alike(base_from_flange, wrist, &from_foot, turn1, slack);
                        if let Some(other) = ill {
                            (wrist, arms) = (other, arms_with(other[0]));
                        }
                    }
                    let [turn234, turn5, turn6] = wrist;
                    for arm in arms {
                        let turn4 = turn234.then(arm.turn23.back()).signed(self.sense4);
                        let ([turn1, turn2, turn3], [kept1, kept2, kept3]) = (arm.turns, arm.kept);
                        found.push(
                            [turn1, turn2, turn3, turn4, turn5, turn6],
                            [kept1, kept2, kept3, false, false, kept6],
                            arm.free().or(free6.then_some(5)),
                        );
                    }
                }
            }
        }
        found.angles(near, solutions);
        solutions.is_empty().then(|| self.shortfall_of(base_from_flange))
    }

    /// Where axis 6 is all but parallel to axes 2 to 4, rounding of the pose turns these far, and axis 6 back: the wrist at which the arm
    /// reaches, if the flange is turned by no more than rounding.
    fn all_but_alike(
        &self,
        base_from_flange: &Pose,
        wrist: [Turn; 3],
        from_foot: &Vector3<f64>,
        turn1: Turn,
        slack: Slack,
    ) -> Option<[Turn; 3]> {
        let axis6 = turn1.back().about(self.moved.axis_1(), &self.moved.wrist().wanted(base_from_flange)[0]);
        let slant = axis6.cross(self.moved.axis_2()).norm();
        let mut other = wrist;
        self.keep_axis_6(&mut other, from_foot, turn1, wrist[2].angle());
        let turned = wrapped(other[0].angle() - wrist[0].angle()).abs();
        let rounded = if slack.is_exact() { TURNED_BY_ROUNDING } else { slack.met };
        (turned * slant < rounded).then_some(other)
    }

    /// Distance from a wrist centre to the nearest that is reachable with the flange turned as wanted, found as for a
    /// spherical wrist: with axis 1 given, the orientation gives the hand, and the ring of axes 2 and 3 is moved by it.
    ///
    /// Where axis 6 is nearly parallel to axes 2 to 4 the hand swings fast with axis 1: there it is looked at in steps of that swing. A
    /// dip narrower than the steps can be passed over: the distance is then too large, never too small.
    pub(crate) fn shortfall_of(&self, base_from_flange: &Pose) -> Shortfall {
        let from_foot = self.moved.foot_to_wrist(base_from_flange);
        let none = Shortfall { distance: f64::INFINITY, bound: ReachBound::Orientation };
        let [axis6, _] = self.moved.wrist().wanted(base_from_flange);
        let in_link1 = |turn1: Turn, v: &Vector3<f64>| turn1.back().about(self.moved.axis_1(), v);
        let gap_with = |turn1: Turn, turn234: Turn| {
            self.moved.gap_in_link1(&(in_link1(turn1, &from_foot) - self.swing(turn234)))
        };
        let nearer = |a: Shortfall, b: Shortfall| if b.distance < a.distance { b } else { a };
        let gap_at = |turn1: Turn| {
            let turns = self.moved.wrist().turns_of_axis_4(&in_link1(turn1, &axis6));
            turns.iter().map(|turn234| gap_with(turn1, *turn234)).fold(none, nearer)
        };
        let mut least = gap_at(least_on_circle(|turn1| gap_at(turn1).distance).0);
        for along in [axis6, -axis6] {
            let Some(turn1) = self.moved.alike_at(&along) else { continue };
            let slant = in_link1(turn1, &along).cross(self.moved.axis_2()).norm();
            let here = if slant < ALIKE {
                gap_with(turn1, least_on_circle(|turn234| gap_with(turn1, turn234).distance).0)
            } else if slant < STEEP {
                // With axis 1 turned by so much the hand is turned by about `half` twice.
                let beside = |half: Turn| {
                    let by = slant * half.sin / (1.0 + half.cos).max(f64::MIN_POSITIVE);
                    turn1.then(Turn::of(by.clamp(-FAR, FAR)))
                };
                gap_at(beside(least_on_circle(|half| gap_at(beside(half)).distance).0))
            } else {
                continue;
            };
            least = nearer(least, here);
        }
        if least.distance.is_finite() { least } else { Shortfall { distance: 0.0, ..none } }
    }

    /// Where axis 1 is free: the turn nearest to `turn1` at which the arm reaches with the wrist bent this way (0 or 1); `turn1` where there
    /// is none, or none wider than the steps.
    fn nearest_that_reaches(
        &self,
        base_from_flange: &Pose,
        from_foot: &Vector3<f64>,
        turn1: Turn,
        bend: usize,
        near: &AxisValues,
        slack: Slack,
    ) -> Turn {
        let reaches = |by: f64| {
            let turn1 = turn1.then(Turn::of(by));
            let wrists = self.moved.wrists_at(base_from_flange, turn1, near, slack);
            wrists.get(bend).is_some_and(|([turn234, ..], _)| {
                let swing = turn1.about(self.moved.axis_1(), &self.swing(*turn234));
                !self.moved.elbows(&(from_foot - swing), turn1, true, near, slack).is_empty()
            })
        };
        if reaches(0.0) {
            return turn1;
        }
        let step = PI / f64::from(HALF_STEPS);
        let aside = (1..=HALF_STEPS).flat_map(|i| [f64::from(i) * step, -f64::from(i) * step]);
        let Some(mut inside) = aside.into_iter().find(|by| reaches(*by)) else { return turn1 };
        let mut outside = inside - step.copysign(inside);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(inside, outside);
            *(if reaches(middle) { &mut inside } else { &mut outside }) = middle;
        }
        turn1.then(Turn::of(inside))
    }

    /// How the arm stands at `axes`.
    pub(crate) fn stance(&self, axes: &AxisValues) -> Stance {
        let stance = self.moved.stance(axes);
        let turn3 = Turn::of(axes[2]).signed(self.moved.sense3());
        let turn234 = Turn::of(axes[1]).then(turn3).then(Turn::of(axes[3]).signed(self.sense4));
        Stance { forward: stance.forward + self.moved.forward().dot(&self.swing(turn234)), ..stance }
    }

    /// How far axes 2 to 4 together, turned by `turn234`, move the wrist centre by the hand alone.
    fn swing(&self, turn234: Turn) -> Vector3<f64> {
        turn234.about(self.moved.axis_2(), &self.hand) - self.hand
    }

    /// Where axis 6 is parallel to axes 2 to 4, the arm can move while its flange rests: this puts axis 6 at `q6` (or as
    /// near to it as axes 2 and 3 can follow) and the sum of axes 2 to 4, first of `wrist`, to suit. Whether axis 6 then keeps `q6`.
    fn keep_axis_6(&self, wrist: &mut [Turn; 3], from_foot: &Vector3<f64>, turn1: Turn, q6: f64) -> bool {
        let alike = self.moved.wrist().axis_6_alike(wrist[1]);
        let sum = wrist[0].angle() + alike * wrist[2].angle();
        let mut turn234 = sum - alike * q6;
        // The way from axis 2 to axis 4 is `way − hand`, the hand turned by `turn234`.
        let in_link1 = turn1.back().about(self.moved.axis_1(), from_foot);
        let way: Vector2<f64> = self.moved.shoulder_to(&(in_link1 + self.hand));
        let hand = self.moved.flat(&self.hand);
        let both = 2.0 * way.norm() * hand.norm();
        if both > NOTHING {
            let (longest, shortest) = self.moved.reach();
            let squares = way.norm_squared() + hand.norm_squared();
            let (least, most) =
                ((squares - longest * longest) / both, (squares - shortest * shortest) / both);
            let at_zero = hand.y.atan2(hand.x) - way.y.atan2(way.x);
            let between = wrapped(at_zero + turn234);
            let cos = between.cos();
            // Stretched or folded to the end these are beyond 1 or −1 by rounding: whether the arm reaches is asked elsewhere.
            if !(least..=most).contains(&cos) {
                let allowed = cos.max(least).min(most).clamp(-1.0, 1.0).acos();
                turn234 += allowed.copysign(between) - between;
            }
        }
        wrist[0] = Turn::of(turn234);
        let turned6 = alike * (sum - turn234);
        wrist[2] = Turn::of(turned6);
        wrapped(turned6 - q6).abs() < NOTHING
    }
}

/// The lines with those of axes 2 to 4 moved by the hand and axis 4 pointing as axis 2 does; and the hand, the way from axis 4 to
/// `wrist_centre` across axis 4.
pub(crate) fn moved_by_hand(lines: &Lines, wrist_centre: Vector3<f64>) -> (Lines, Vector3<f64>) {
    let n = lines.direction[1];
    let way = wrist_centre - lines.point[3];
    let hand = way - n * n.dot(&way);
    let mut moved = lines.clone();
    moved.direction[3] = n;
    moved.point[1] += hand;
    moved.point[2] += hand;
    (moved, hand)
}
