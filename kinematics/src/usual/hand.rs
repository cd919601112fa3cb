//! Decides the ways of the usual arm with parallel axes 2, 3 and 4, each angle taken once for all ways that share it.
//!
//! The orientation comes first: with axis 1 at one of its two values it gives axes 5 and 6 and the sum of axes 2, 3 and 4, up to turning
//! the hand over, and so where the hand needs axis 4. Then the triangle of upper arm, forearm and the way there gives axes 2 and 3 from
//! three angles, the elbow to either side, and axis 4 is what is left of the sum.

use nalgebra::Vector2;

use super::{Asked, Usual, Wanted, half_a_turn_on, has_room, within_a_turn};
use crate::angle::{LANES, angle_of};
use crate::inverse::{Solution, Solutions};
use crate::turn::Turn;
use crate::{AxisValues, Pose};

/// So many ways: two turns of axis 1, for each the hand turned over or not, for each the elbow to both sides.
const WAYS: usize = 8;

/// The constants of the hand, and of the arm's triangle.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hand {
    /// From axis 4 to where axes 5 and 6 meet, across axis 4 at axis values 0, in the shoulder frame.
    way: Vector2<f64>,
    /// 1 where axis 4 points as axis 2 does, −1 where it points the other way.
    sense4: f64,
    /// Lengths of upper arm and forearm (m), and where they point at axis values 0 (rad).
    upper: f64,
    fore: f64,
    upper_angle: f64,
    stretched: f64,
}

/// What axis 1 decides.
struct OfAxis1 {
    /// Axes 2, 3 and 4 together.
    sum: Turn,
    /// From axis 2 to where axes 5 and 6 meet, had the hand no length.
    way: Vector2<f64>,
    /// Axis 5 past straight, and axis 6, with common factors.
    opening: Turn,
    turn6: Turn,
    room: f64,
}

/// The triangle of upper arm, forearm and the way to axis 4: three turns whose angles it takes, with common factors.
struct Triangle {
    way: Turn,
    /// Axis 3 past stretched, to the positive side.
    bend: Turn,
    /// From the upper arm to the way, to the same side.
    lean: Turn,
    room: f64,
    reached: f64,
}

/// One number of eight poses, or of eight ways to one.
type Row = [f64; LANES];

/// Eight ways to each of eight poses.
struct Ways {
    /// Of each way the axes.
    angles: [[Row; 6]; WAYS],
    /// Of each two ways: above 0 where they are the whole answer, and where the elbow reaches.
    room: [Row; WAYS / 2],
    reached: [Row; WAYS / 2],
}

impl Hand {
    pub(super) fn new(way: Vector2<f64>, sense4: f64, upper: Vector2<f64>, fore: Vector2<f64>) -> Self {
        let angle = |v: Vector2<f64>| angle_of(v.x, v.y);
        let upper_angle = angle(upper);
        let stretched = within_a_turn(upper_angle - angle(fore));
        Self { way, sense4, upper: upper.norm(), fore: fore.norm(), upper_angle, stretched }
    }

    /// Puts every solution into `solutions`; none, and false, where the careful way is needed.
    pub(super) fn solve(
        &self,
        arm: &Usual,
        wanted: &Wanted,
        turns: &[Turn; 2],
        solutions: &mut Solutions,
    ) -> bool {
        let mut ways = One::default();
        fill_one(arm, self, wanted, turns, &mut ways);
        if !ways.room.iter().all(|room| has_room(*room)) {
            return false;
        }
        for way in (0..WAYS).filter(|way| ways.reached[*way] > 0.0) {
            let axes = AxisValues::from(ways.angles.each_ref().map(|row| row[way]));
            solutions.all.push(Solution { axes, free_axis: None });
        }
        !solutions.all.is_empty()
    }

    /// The same for eight poses; which of them need the careful way.
    pub(super) fn solve_eight(
        &self,
        arm: &Usual,
        poses: &[Pose; LANES],
        solutions: &mut [Solutions; LANES],
    ) -> [bool; LANES] {
        let mut ways = Ways::default();
        fill_eight(arm, self, poses, &mut ways);
        std::array::from_fn(|lane| {
            let all = &mut solutions[lane].all;
            if !ways.room.iter().all(|room| has_room(room[lane])) {
                return true;
            }
            for (way, angles) in ways.angles.iter().enumerate() {
                if ways.reached[way / 2][lane] > 0.0 {
                    let axes = AxisValues::from(angles.each_ref().map(|row| row[lane]));
                    all.push(Solution { axes, free_axis: None });
                }
            }
            all.is_empty()
        })
    }

    #[inline(always)]
    fn of_axis_1(&self, arm: &Usual, wanted: &Wanted, turn1: Turn) -> OfAxis1 {
        let ([sum, opening, turn6], room) = arm.wrist(wanted, turn1, Turn::NONE);
        let factor = 1.0 / opening.sin;
        let sum = Turn { cos: sum.cos * factor, sin: sum.sin * factor };
        let way = arm.in_link1(turn1, &wanted.centre).xy() - arm.point2;
        OfAxis1 { sum, way, opening, turn6, room }
    }

    /// `over`: 1, or −1 for the hand turned over.
    #[inline(always)]
    fn triangle(&self, arm: &Usual, of_axis_1: &OfAxis1, over: f64) -> Triangle {
        let sum = Turn { cos: over * of_axis_1.sum.cos, sin: over * of_axis_1.sum.sin };
        let way = of_axis_1.way - (sum.turn(self.way) - self.way);
        let (bend, room, reached) = arm.bend(way);
        let lean = Turn { cos: self.upper + self.fore * bend.cos, sin: self.fore * bend.sin };
        Triangle { way: Turn { cos: way.x, sin: way.y }, bend, lean, room, reached }
    }

    /// All axes. `of_axis_1`: axis 1, axes 2 to 4 together, axis 5 past straight and axis 6; `triangle`: the way, the bend and the lean.
    #[inline(always)]
    fn axes(
        &self,
        arm: &Usual,
        [axis1, sum, opening, axis6]: [f64; 4],
        [way, bend, lean]: [f64; 3],
        over: f64,
        side: f64,
    ) -> [f64; 6] {
        let turned_over = |angle: f64| if over < 0.0 { half_a_turn_on(angle) } else { angle };
        let axis2 = within_a_turn(within_a_turn(way - self.upper_angle) - side * lean);
        let turn3 = within_a_turn(self.stretched + side * bend);
        let turn4 = within_a_turn(within_a_turn(turned_over(sum) - axis2) - turn3);
        [
            axis1,
            axis2,
            within_a_turn(arm.sense3 * turn3),
            within_a_turn(self.sense4 * turn4),
            within_a_turn(arm.straight + over * opening),
            turned_over(axis6),
        ]
    }
}

/// The eight ways to one pose.
#[derive(Default)]
struct One {
    angles: [Row; 6],
    room: Row,
    reached: Row,
}

/// 1 or −1.
const SIGNS: [f64; 2] = [1.0, -1.0];

/// All ways to one pose, each in a lane.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn fill_one(arm: &Usual, hand: &Hand, wanted: &Wanted, turns: &[Turn; 2], ways: &mut One) {
    let (mut cosines, mut sines) = ([[0.0; LANES]; 7], [[0.0; LANES]; 7]);
    let mut angles = [[0.0; LANES]; 7];
    let (mut cos1, mut sin1) = ([0.0; LANES], [0.0; LANES]);
    let (mut over, mut side) = ([0.0; LANES], [0.0; LANES]);
    for way in 0..WAYS {
        (cos1[way], sin1[way]) = (turns[way / 4].cos, turns[way / 4].sin);
        (over[way], side[way]) = (SIGNS[way / 2 % 2], SIGNS[way % 2]);
    }
    for i in 0..LANES {
        let turn1 = Turn { cos: cos1[i], sin: sin1[i] };
        let of_axis_1 = hand.of_axis_1(arm, wanted, turn1);
        let triangle = hand.triangle(arm, &of_axis_1, over[i]);
        let OfAxis1 { sum, opening, turn6, .. } = of_axis_1;
        let turns = [turn1, sum, opening, turn6, triangle.way, triangle.bend, triangle.lean];
        for (row, turn) in turns.iter().enumerate() {
            (cosines[row][i], sines[row][i]) = (turn.cos, turn.sin);
        }
        ways.room[i] = of_axis_1.room.min(triangle.room);
        ways.reached[i] = triangle.reached;
    }
    for row in 0..7 {
        for i in 0..LANES {
            angles[row][i] = angle_of(cosines[row][i], sines[row][i]);
        }
    }
    let [axis1, sum, opening, axis6, way, bend, lean] = &angles;
    for i in 0..LANES {
        let axes = hand.axes(
            arm,
            [axis1[i], sum[i], opening[i], axis6[i]],
            [way[i], bend[i], lean[i]],
            over[i],
            side[i],
        );
        for (row, axis) in ways.angles.iter_mut().zip(axes) {
            row[i] = axis;
        }
    }
}

/// All ways to each of eight poses, the poses in lanes.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn fill_eight(arm: &Usual, hand: &Hand, poses: &[Pose; LANES], ways: &mut Ways) {
    let mut asked = Asked::default();
    let (mut cosines1, mut sines1) = ([[0.0; LANES]; 2], [[0.0; LANES]; 2]);
    let mut room1 = [0.0; LANES];
    for i in 0..LANES {
        let wanted = arm.wanted(&poses[i]);
        let (turns, room) = arm.turns_of_axis_1(&wanted);
        (cosines1[0][i], sines1[0][i]) = (turns[0].cos, turns[0].sin);
        (cosines1[1][i], sines1[1][i]) = (turns[1].cos, turns[1].sin);
        room1[i] = room;
        asked.put(i, &wanted);
    }
    // With axis 1 at either of its values: the angles of [`Hand::axes`], then for each way of the hand those of its triangle.
    let mut angles = [[[0.0; LANES]; 10]; 2];
    for t in 0..2 {
        let (mut cosines, mut sines) = ([[0.0; LANES]; 10], [[0.0; LANES]; 10]);
        let (mut rooms, mut reached) = ([[0.0; LANES]; 2], [[0.0; LANES]; 2]);
        for i in 0..LANES {
            let turn1 = Turn { cos: cosines1[t][i], sin: sines1[t][i] };
            let of_axis_1 = hand.of_axis_1(arm, &asked.get(i), turn1);
            let first = hand.triangle(arm, &of_axis_1, SIGNS[0]);
            let second = hand.triangle(arm, &of_axis_1, SIGNS[1]);
            let OfAxis1 { sum, opening, turn6, .. } = of_axis_1;
            let room = room1[i].min(of_axis_1.room);
            (rooms[0][i], rooms[1][i]) = (room.min(first.room), room.min(second.room));
            (reached[0][i], reached[1][i]) = (first.reached, second.reached);
            let [way1, bend1, lean1, way2, bend2, lean2] =
                [first.way, first.bend, first.lean, second.way, second.bend, second.lean];
            let rows = [turn1, sum, opening, turn6, way1, bend1, lean1, way2, bend2, lean2];
            for (row, turn) in rows.iter().enumerate() {
                (cosines[row][i], sines[row][i]) = (turn.cos, turn.sin);
            }
        }
        (ways.room[2 * t], ways.room[2 * t + 1]) = (rooms[0], rooms[1]);
        (ways.reached[2 * t], ways.reached[2 * t + 1]) = (reached[0], reached[1]);
        for row in 0..10 {
            for i in 0..LANES {
                angles[t][row][i] = angle_of(cosines[row][i], sines[row][i]);
            }
        }
    }
    for way in 0..WAYS {
        let [axis1, sum, opening, axis6, triangles @ ..] = &angles[way / 4];
        let [way_there, bend, lean] = if way / 2 % 2 == 0 {
            [&triangles[0], &triangles[1], &triangles[2]]
        } else {
            [&triangles[3], &triangles[4], &triangles[5]]
        };
        let (over, side) = (SIGNS[way / 2 % 2], SIGNS[way % 2]);
        let [row1, row2, row3, row4, row5, row6] = &mut ways.angles[way];
        for i in 0..LANES {
            [row1[i], row2[i], row3[i], row4[i], row5[i], row6[i]] = hand.axes(
                arm,
                [axis1[i], sum[i], opening[i], axis6[i]],
                [way_there[i], bend[i], lean[i]],
                over,
                side,
            );
        }
    }
}

impl Default for Ways {
    fn default() -> Self {
        let row = [0.0; LANES];
        Self { angles: [[row; 6]; WAYS], room: [row; WAYS / 2], reached: [row; WAYS / 2] }
    }
}
