//! Decides the ways of the two usual arms in plain arithmetic without branches, eight at once: all ways to one pose, or one way to each
//! of eight poses. Both have axes 5 square to axes 4 and 6; the one has a spherical wrist behind parallel axes 2 and 3, the other
//! parallel axes 2, 3 and 4.
//!
//! The equations are those of `spherical_wrist` and `three_parallel`, shortened by what a square wrist makes constant and written in
//! three frames in which each turn is one about the third axis:
//!
//! - `foot`: the third axis along axis 1, the first toward what axis 2 has across it
//! - `shoulder`: the third along axis 2
//! - `wrist`: the third along axis 4, the second along axis 5, at axis values 0
//!
//! Next to a singularity or to the edge of reach, and where a bound is missed, nothing is decided here: `room` is then not above 0, and
//! those modules look at each case by itself.

use std::f64::consts::{PI, TAU};

use nalgebra::{Matrix3, Vector2, Vector3};

use crate::angle::{LANES, angle_of};
use crate::inverse::{Solution, Solutions};
use crate::lines::Lines;
use crate::spherical_wrist::frame_around;
use crate::three_parallel::moved_by_hand;
use crate::turn::Turn;
use crate::wrist::EXACT;
use crate::{AxisValues, Pose};

/// So many ways are worked out: a spherical wrist turned over leaves axes 1 to 3 as they are, and is thought of at the end.
const WAYS: usize = 4;
/// Below these, squared sines and squares of lengths (m²) are left to the careful way.
pub(crate) const LEAST_SINE: f64 = 1e-8;
const LEAST_LENGTH: f64 = 1e-8;

mod hand;
use hand::Hand;

/// The constants of such an arm.
#[derive(Clone, Debug)]
pub(crate) struct Usual {
    /// `foot_from_base` of directions, and the point of axis 1 in the foot frame.
    foot_from_base: Matrix3<f64>,
    point1: Vector3<f64>,
    /// Wrist centre, axis 6 and axis 5 in the flange frame.
    centre: Vector3<f64>,
    axis6: Vector3<f64>,
    axis5: Vector3<f64>,
    /// Axis 2 in the foot frame; its second coordinate is 0.
    axis2_across: f64,
    axis2_along: f64,
    /// Height of the wrist centre over the point of axis 1, along axis 2.
    sideways: f64,
    /// `shoulder_from_foot`, and from the point of axis 1 to that of axis 2, across axis 2.
    shoulder_from_foot: Matrix3<f64>,
    point2: Vector2<f64>,
    upper: Vector2<f64>,
    fore: Vector2<f64>,
    /// Squares of the longest and of the shortest distance of the wrist centre from axis 2; one over their difference.
    longest: f64,
    shortest: f64,
    over_between: f64,
    /// Axis 3 (in the sense of axis 2) with the arm stretched, and 1 where it points as axis 2 does, else −1.
    stretched: Turn,
    sense3: f64,
    /// `wrist_from_shoulder`; the second axis of the wrist frame is axis 5.
    wrist_from_shoulder: Matrix3<f64>,
    /// Axis 5 where axes 4 and 6 point the same way.
    straight: f64,
    /// Where axes 2, 3 and 4 are parallel. The lines of axes 2 to 4 are then moved by the hand, as `three_parallel` says, and axes 2 to 4
    /// together stand for axis 4.
    hand: Option<Hand>,
}

/// A way among those to one pose.
#[derive(Clone, Copy)]
struct Choice {
    /// Which turn of axis 1.
    turn1: usize,
    /// 1 or −1: to which side the elbow bends.
    side: f64,
}

/// What a pose asks, in the foot frame: the wrist centre (m, from the point of axis 1), axis 6, and what is axis 5 in link 6 while
/// axis 6 is at 0.
#[derive(Clone, Copy)]
struct Wanted {
    centre: Vector3<f64>,
    axis6: Vector3<f64>,
    axis5: Vector3<f64>,
}

/// What eight ways ask, each number of all eight in a row.
struct Asked {
    centre: [[f64; LANES]; 3],
    axis6: [[f64; LANES]; 3],
    axis5: [[f64; LANES]; 3],
}

/// Eight ways, each number of all eight in a row.
struct Ways {
    /// Axis 1.
    cos1: [f64; LANES],
    sin1: [f64; LANES],
    /// See [`Choice`].
    side: [f64; LANES],
    /// Above 0 where the lane is the whole answer.
    room: [f64; LANES],
    /// Above 0 where the elbow reaches.
    reached: [f64; LANES],
    /// Cosine and sine, each with a common factor, and then angle, of axes 1 to 4, of the opening of axis 5 and of axis 6.
    cosines: [[f64; LANES]; 6],
    sines: [[f64; LANES]; 6],
    angles: [[f64; LANES]; 6],
}

impl Usual {
    /// The constants for an arm of `lines` whose axes 2, 3 and 4 are parallel and whose axes 5 and 6 meet in `hand_centre`.
    pub(crate) fn three_parallel(lines: &Lines, hand_centre: Vector3<f64>) -> Option<Self> {
        let (moved, hand) = moved_by_hand(lines, hand_centre);
        let [first, second] = frame_around(&moved.direction[1]);
        let way = Vector2::new(first.dot(&hand), second.dot(&hand));
        let sense4 = moved.direction[1].dot(&lines.direction[3]).signum();
        let arm = Self::spherical_wrist(&moved, hand_centre)?;
        Some(Self { hand: Some(Hand::new(way, sense4, arm.upper, arm.fore)), ..arm })
    }

    /// The constants for an arm of `lines` whose axes 2 and 3 are parallel and whose axes 4 to 6 meet in `wrist_centre`; none where the
    /// wrist is not square.
    pub(crate) fn spherical_wrist(lines: &Lines, wrist_centre: Vector3<f64>) -> Option<Self> {
        let [point1, point2, point3, ..] = lines.point;
        let [h1, h2, h3, h4, h5, h6] = lines.direction;
        if h4.dot(&h5).abs().max(h5.dot(&h6).abs()) > EXACT {
            return None;
        }
        let rows = |rows: [Vector3<f64>; 3]| Matrix3::from_rows(&rows.map(|row| row.transpose()));
        let across1 = (h2 - h1 * h1.dot(&h2)).normalize();
        let foot_from_base = rows([across1, h1.cross(&across1), h1]);
        let [first, second] = frame_around(&h2);
        let shoulder_from_base = rows([first, second, h2]);
        let wrist_from_base = rows([h5.cross(&h4), h5, h4]);
        let flat = |v: Vector3<f64>| (shoulder_from_base * v).xy();
        let (upper, fore) = (flat(point3 - point2), flat(wrist_centre - point3));
        let (longest, shortest) = (upper.norm() + fore.norm(), upper.norm() - fore.norm());
        let toward = |v| Turn::toward(v, 0.0).unwrap_or(Turn::NONE);
        let at_zero = lines.base_from_flange;
        let in_flange = |v: &Vector3<f64>| at_zero.rotation.inverse_transform_vector(v);
        let axis6_in_wrist = wrist_from_base * h6;
        Some(Self {
            foot_from_base,
            point1: foot_from_base * point1,
            centre: in_flange(&(wrist_centre - at_zero.translation.vector)),
            axis6: in_flange(&h6),
            axis5: in_flange(&h5),
            axis2_across: across1.dot(&h2),
            axis2_along: h1.dot(&h2),
            sideways: h2.dot(&(wrist_centre - point1)),
            shoulder_from_foot: shoulder_from_base * foot_from_base.transpose(),
            point2: flat(point2 - point1),
            upper,
            fore,
            longest: longest * longest,
            shortest: shortest * shortest,
            over_between: 1.0 / (longest * longest - shortest * shortest),
            stretched: toward(upper).then(toward(fore).back()),
            sense3: h2.dot(&h3).signum(),
            wrist_from_shoulder: wrist_from_base * shoulder_from_base.transpose(),
            straight: -axis6_in_wrist.x.atan2(axis6_in_wrist.z),
            hand: None,
        })
    }

    /// Puts every solution for `base_from_flange` into `solutions`; none, and false, where the careful way is needed.
    pub(crate) fn solve(&self, base_from_flange: &Pose, solutions: &mut Solutions) -> bool {
        let wanted = self.wanted(base_from_flange);
        let (turns, room) = self.turns_of_axis_1(&wanted);
        if !has_room(room) {
            return false;
        }
        if let Some(hand) = &self.hand {
            return hand.solve(self, &wanted, &turns, solutions);
        }
        let (mut asked, mut ways) = (Asked::default(), Ways::default());
        for lane in 0..LANES {
            asked.put(lane, &wanted);
            ways.put(lane, &turns, self.choice(lane));
        }
        fill(self, &asked, &mut ways);
        self.take(|way| (&ways, way), solutions)
    }

    /// The same for eight poses, one after the other; which of them need the careful way.
    pub(crate) fn solve_eight(
        &self,
        poses: &[Pose; LANES],
        solutions: &mut [Solutions; LANES],
    ) -> [bool; LANES] {
        if let Some(hand) = &self.hand {
            return hand.solve_eight(self, poses, solutions);
        }
        let mut asked = Asked::default();
        let mut ways: [Ways; WAYS] = Default::default();
        let mut room = [0.0; LANES];
        fill_eight(self, poses, &mut asked, &mut ways, &mut room);
        std::array::from_fn(|lane| {
            !has_room(room[lane]) || !self.take(|way| (&ways[way], lane), &mut solutions[lane])
        })
    }

    fn choice(&self, way: usize) -> Choice {
        let sign = |bit: usize| if bit == 0 { 1.0 } else { -1.0 };
        Choice { turn1: way / 2 % 2, side: sign(way % 2) }
    }

    /// The solutions of all ways to one pose, each in a lane; none, and false, where the careful way is needed for one of them.
    fn take<'w>(&self, lane_of: impl Fn(usize) -> (&'w Ways, usize), solutions: &mut Solutions) -> bool {
        let lanes = || (0..WAYS).map(&lane_of);
        if !lanes().all(|(ways, lane)| has_room(ways.room[lane])) {
            return false;
        }
        let all = &mut solutions.all;
        for (ways, lane) in lanes().filter(|(ways, lane)| ways.reached[*lane] > 0.0) {
            let [axis1, axis2, axis3, axis4, opening, axis6] = ways.angles.each_ref().map(|row| row[lane]);
            let mut push = |axis4: f64, opening: f64, axis6: f64| {
                let axis5 = within_a_turn(self.straight + opening);
                let axes = AxisValues::new(axis1, axis2, axis3, axis4, axis5, axis6);
                all.push(Solution { axes, free_axis: None });
            };
            push(axis4, opening, axis6);
            push(half_a_turn_on(axis4), -opening, half_a_turn_on(axis6));
        }
        !all.is_empty()
    }

    /// What a pose asks.
    #[inline(always)]
    fn wanted(&self, base_from_flange: &Pose) -> Wanted {
        let foot_from_flange =
            self.foot_from_base * base_from_flange.rotation.to_rotation_matrix().into_inner();
        Wanted {
            centre: self.foot_from_base * base_from_flange.translation.vector
                + foot_from_flange * self.centre
                - self.point1,
            axis6: foot_from_flange * self.axis6,
            axis5: foot_from_flange * self.axis5,
        }
    }

    /// Both turns of axis 1 that bring the wrist centre to its height along axis 2, and the room to the edge of what they can.
    ///
    /// With r the wrist centre across axis 1, turned back by q1: `axis2_across · r.x = wanted`.
    #[inline(always)]
    fn turns_of_axis_1(&self, wanted: &Wanted) -> ([Turn; 2], f64) {
        let across = self.axis2_across * wanted.centre.xy();
        let height = self.sideways - self.axis2_along * wanted.centre.z;
        let square = across.norm_squared();
        let aside = square - height * height;
        let root = aside.max(0.0).sqrt();
        let over = 1.0 / square;
        let turn = |root: f64| Turn {
            cos: (across.x * height - across.y * root) * over,
            sin: (across.y * height + across.x * root) * over,
        };
        ([turn(root), turn(-root)], (aside * over - LEAST_SINE).min(square - LEAST_LENGTH))
    }

    /// A vector of the foot frame in the shoulder frame, axis 1 turned back.
    #[inline(always)]
    fn in_link1(&self, turn1: Turn, v: &Vector3<f64>) -> Vector3<f64> {
        let flat = turn1.back().turn(v.xy());
        self.shoulder_from_foot * Vector3::new(flat.x, flat.y, v.z)
    }

    /// Axis 3 past stretched to the positive side, with the wrist centre `way` from axis 2; the room, and how far the elbow reaches. By the
    /// half-angle law in the triangle of upper arm, forearm and way.
    #[inline(always)]
    fn bend(&self, way: Vector2<f64>) -> (Turn, f64, f64) {
        let square = way.norm_squared();
        let to_longest = (self.longest - square) * self.over_between;
        let to_shortest = (square - self.shortest) * self.over_between;
        let product = to_longest * to_shortest;
        let bend = Turn { cos: to_shortest - to_longest, sin: 2.0 * product.max(0.0).sqrt() };
        let room = (product.abs() - LEAST_SINE).min(square - LEAST_LENGTH);
        (bend, room, to_longest.min(to_shortest))
    }

    /// Axes 2, 3 (in the sense of axis 2) and both together, that bring the wrist centre `way` from axis 2; the room, and how far the
    /// elbow reaches.
    #[inline(always)]
    fn elbow(&self, way: Vector2<f64>, side: f64) -> ([Turn; 3], f64, f64) {
        let (bend, room, reached) = self.bend(way);
        let turn3 = self.stretched.then(bend.signed(side));
        let folded = self.upper + turn3.turn(self.fore);
        let over = 1.0 / way.norm_squared();
        let turn2 = Turn {
            cos: (way.x * folded.x + way.y * folded.y) * over,
            sin: (way.y * folded.x - way.x * folded.y) * over,
        };
        ([turn2, turn3, turn2.then(turn3)], room, reached)
    }

    /// Axis 4, the opening of axis 5 and axis 6, with common factors, with axes 1 to 3 at `turn1` and `turn23`; and the room.
    ///
    /// Axis 5 is square to both others, so axis 4 brings it across axis 6, and axis 6 finds it where it must be.
    #[inline(always)]
    fn wrist(&self, wanted: &Wanted, turn1: Turn, turn23: Turn) -> ([Turn; 3], f64) {
        let in_wrist = |v: &Vector3<f64>| {
            let in_link1 = self.in_link1(turn1, v);
            let flat = turn23.back().turn(in_link1.xy());
            self.wrist_from_shoulder * Vector3::new(flat.x, flat.y, in_link1.z)
        };
        let (axis6, axis5) = (in_wrist(&wanted.axis6), in_wrist(&wanted.axis5));
        let aside = axis6.xy().norm_squared();
        let turn4 = Turn { cos: axis6.x, sin: axis6.y };
        let opening = Turn { cos: axis6.z, sin: aside.sqrt() };
        let turn6 = Turn { cos: axis6.x * axis5.y - axis6.y * axis5.x, sin: axis5.z };
        ([turn4, opening, turn6], aside - LEAST_SINE)
    }

    /// One way: axes 2 to 4, the opening of axis 5, and axis 6, with common factors; the room; and how far the elbow reaches.
    #[inline(always)]
    fn way(&self, wanted: &Wanted, turn1: Turn, side: f64) -> ([Turn; 5], f64, f64) {
        let way = self.in_link1(turn1, &wanted.centre).xy() - self.point2;
        let ([turn2, turn3, turn23], elbow_room, reached) = self.elbow(way, side);
        let ([turn4, opening, turn6], wrist_room) = self.wrist(wanted, turn1, turn23);
        let room = if reached > 0.0 { elbow_room.min(wrist_room) } else { elbow_room };
        ([turn2, turn3.signed(self.sense3), turn4, opening, turn6], room, reached)
    }

    /// Finds eight ways.
    #[inline(always)]
    fn fill(&self, asked: &Asked, ways: &mut Ways) {
        for i in 0..LANES {
            let turn1 = ways.turn1(i);
            let way = self.way(&asked.get(i), turn1, ways.side[i]);
            ways.found(i, turn1, &way);
        }
        for axis in 0..6 {
            for i in 0..LANES {
                ways.angles[axis][i] = angle_of(ways.cosines[axis][i], ways.sines[axis][i]);
            }
        }
    }
}

#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn fill(arm: &Usual, asked: &Asked, ways: &mut Ways) {
    arm.fill(asked, ways);
}

/// All ways to each of eight poses, and the room that axis 1 leaves.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn fill_eight(
    arm: &Usual,
    poses: &[Pose; LANES],
    asked: &mut Asked,
    ways: &mut [Ways],
    room: &mut [f64; LANES],
) {
    let mut turns = [[Turn::NONE; 2]; LANES];
    for i in 0..LANES {
        let wanted = arm.wanted(&poses[i]);
        (turns[i], room[i]) = arm.turns_of_axis_1(&wanted);
        asked.put(i, &wanted);
    }
    for (way, ways) in ways.iter_mut().enumerate() {
        let choice = arm.choice(way);
        for (i, turns) in turns.iter().enumerate() {
            ways.put(i, turns, choice);
        }
        arm.fill(asked, ways);
    }
}

impl Default for Asked {
    fn default() -> Self {
        let row = [0.0; LANES];
        Self { centre: [row; 3], axis6: [row; 3], axis5: [row; 3] }
    }
}

impl Asked {
    #[inline(always)]
    fn put(&mut self, lane: usize, wanted: &Wanted) {
        for axis in 0..3 {
            self.centre[axis][lane] = wanted.centre[axis];
            self.axis6[axis][lane] = wanted.axis6[axis];
            self.axis5[axis][lane] = wanted.axis5[axis];
        }
    }

    #[inline(always)]
    fn get(&self, lane: usize) -> Wanted {
        let at = |rows: &[[f64; LANES]; 3]| Vector3::new(rows[0][lane], rows[1][lane], rows[2][lane]);
        Wanted { centre: at(&self.centre), axis6: at(&self.axis6), axis5: at(&self.axis5) }
    }
}

impl Default for Ways {
    fn default() -> Self {
        let row = [0.0; LANES];
        Self {
            cos1: row,
            sin1: row,
            side: row,
            room: row,
            reached: row,
            cosines: [row; 6],
            sines: [row; 6],
            angles: [row; 6],
        }
    }
}

impl Ways {
    #[inline(always)]
    fn put(&mut self, lane: usize, turns: &[Turn; 2], choice: Choice) {
        self.cos1[lane] = turns[choice.turn1].cos;
        self.sin1[lane] = turns[choice.turn1].sin;
        self.side[lane] = choice.side;
    }

    #[inline(always)]
    fn turn1(&self, lane: usize) -> Turn {
        Turn { cos: self.cos1[lane], sin: self.sin1[lane] }
    }

    #[inline(always)]
    fn found(&mut self, lane: usize, turn1: Turn, (turns, room, reached): &([Turn; 5], f64, f64)) {
        for (axis, turn) in [turn1, turns[0], turns[1], turns[2], turns[3], turns[4]].iter().enumerate() {
            self.cosines[axis][lane] = turn.cos;
            self.sines[axis][lane] = turn.sin;
        }
        self.room[lane] = *room;
        self.reached[lane] = *reached;
    }
}

/// Also false where `room` is not a number.
pub(crate) fn has_room(room: f64) -> bool {
    room > 0.0
}

/// Half a turn further, in (−π, π].
fn half_a_turn_on(angle: f64) -> f64 {
    if angle > 0.0 { angle - PI } else { angle + PI }
}

/// In (−π, π], from less than a turn outside.
fn within_a_turn(angle: f64) -> f64 {
    if angle > PI {
        angle - TAU
    } else if angle <= -PI {
        angle + TAU
    } else {
        angle
    }
}
