//! Decides the ways of an arm with a spherical wrist on any three axes in plain arithmetic, all eight at once: four ways to carry the wrist
//! centre to its place, two wrists for each.
//!
//! The equations are those of `skew_shoulder` and `wrist`. The polynomial of degree 2 in one axis is written down from the arm and the
//! place, its zeros come from `clear_zeros`, and one Newton's step on the place itself then makes axes 1 to 3 exact.
//!
//! Next to a singularity or to the edge of reach, and where nothing is reached, nothing is decided here: `skew_shoulder` looks at each case
//! by itself.

use nalgebra::{Matrix2, Vector2, Vector3};

use crate::angle::{LANES, angle_of};
use crate::clear_zeros::ClearZeros;
use crate::inverse::{Solution, Solutions};
use crate::lines::{Line, Lines};
use crate::turn::Turn;
use crate::usual::has_room;
use crate::wrist::Wrist;
use crate::{AxisValues, Pose};

/// A value of the polynomial no farther from zero than this share of what it is made of leaves it open whether there is a zero.
const DOUBT: f64 = 1e-9;
/// Two equations are too nearly one where the determinant of what they say of an axis is a lesser share of the sum of squares.
const ALIKE: f64 = 1e-3;
/// Axes 1 to 3 move the wrist centre too nearly in one plane where the volume of their motions is a lesser share of the arm's size cubed.
const FLAT: f64 = 1e-4;
/// Newton's step may be no longer than this (rad): its error is the square of it, over [`FLAT`] at worst.
const STEP: f64 = 1e-8;

/// The constants of such an arm.
#[derive(Clone, Debug)]
pub(crate) struct SkewWays {
    /// Axes 1 to 3: their directions.
    directions: [Vector3<f64>; 3],
    point1: Vector3<f64>,
    /// From axis 2 to axis 1, from axis 2 to axis 3, and from axis 3 to the wrist centre, at axis values 0.
    to_axis1: Vector3<f64>,
    to_axis3: Vector3<f64>,
    to_centre: Vector3<f64>,
    /// What of the place goes into the two numbers that axis 2 keeps, by axis 1: along it, across it and square to both.
    by_axis1: [[Vector3<f64>; 3]; 2],
    /// The two numbers as axis 3 makes them.
    of_axis3: Kept,
    /// About how long the arm is (m).
    size: f64,
    wrist: Wrist,
    zeros: ClearZeros,
}

/// Two numbers of a point that turning about axis 2 keeps, as functions of another axis: a + b cos + c sin. The first is the height along
/// axis 2 (m), the second half the squared distance from a point of it (m²) over the arm's size.
type Kept = [Vector2<f64>; 3];

/// What a pose asks, the same for all its ways.
struct Asked {
    /// From axis 1 to the wanted wrist centre.
    place: Vector3<f64>,
    /// Where axis 6 and a vector across it shall point.
    wanted: [Vector3<f64>; 2],
    /// Whether the polynomial's angle is axis 3, the other then axis 1.
    seeks_3: bool,
    /// The cosine and sine of the other, times a number, as functions of the polynomial's angle.
    other: Kept,
}

/// Eight ways, each number of all eight in a row.
struct Ways {
    /// The polynomial's angle.
    cos: [f64; LANES],
    sin: [f64; LANES],
    /// 1, or −1 for the other wrist.
    over: [f64; LANES],
    /// Above 0 where the lane is the whole answer.
    room: [f64; LANES],
    /// Above 0 where the wrist can turn so.
    reached: [f64; LANES],
    /// Cosine and sine, each with a common factor, and then angle, of each axis.
    cosines: [[f64; LANES]; 6],
    sines: [[f64; LANES]; 6],
    angles: [[f64; LANES]; 6],
}

impl SkewWays {
    /// The constants for `lines`, whose axes 4 to 6 must meet in `centre`.
    pub(crate) fn new(lines: &Lines, centre: Vector3<f64>) -> Self {
        let lines = &lines.with_near_points();
        let axes: [Line; 3] = std::array::from_fn(|i| lines.line(i));
        let directions = axes.map(|axis| axis.direction);
        let size = axes.iter().map(|axis| (axis.point - centre).norm()).fold(1e-3, f64::max);
        let to_axis1 = axes[0].point - axes[1].point;
        let to_axis3 = axes[2].point - axes[1].point;
        let to_centre = centre - axes[2].point;
        let measures = |to_axis: &Vector3<f64>| [directions[1], to_axis / size];
        let by_axis1 = measures(&to_axis1).map(|measure| {
            let h1 = &directions[0];
            let along = h1 * h1.dot(&measure);
            [along, measure - along, -measure.cross(h1)]
        });
        let by_axis3 = measures(&to_axis3).map(|measure| {
            let h3 = &directions[2];
            let along = h3 * h3.dot(&measure);
            [along, measure - along, measure.cross(h3)]
        });
        let of_axis3 = kept(&by_axis3, &to_axis3, &to_centre, &directions[1], size);
        Self {
            directions,
            point1: axes[0].point,
            to_axis1,
            to_axis3,
            to_centre,
            by_axis1,
            of_axis3,
            size,
            wrist: Wrist::new(lines, centre),
            zeros: ClearZeros::new(),
        }
    }

    /// Puts every solution for `base_from_flange` into `solutions`; none, and false, where the careful way is needed.
    pub(crate) fn solve(&self, base_from_flange: &Pose, solutions: &mut Solutions) -> bool {
        let place = self.wrist.centre(base_from_flange) - self.point1;
        let of_axis1 = kept(&self.by_axis1, &self.to_axis1, &place, &self.directions[1], self.size);
        let seeks_3 = tells_apart(&of_axis1) >= tells_apart(&self.of_axis3);
        let (eliminated, sought) =
            if seeks_3 { (&of_axis1, &self.of_axis3) } else { (&self.of_axis3, &of_axis1) };
        if tells_apart(eliminated) < ALIKE {
            return false;
        }
        let matrix = Matrix2::from_columns(&[eliminated[1], eliminated[2]]);
        let determinant = matrix.determinant();
        let adjugate = Matrix2::new(matrix.m22, -matrix.m12, -matrix.m21, matrix.m11);
        let other = [adjugate * (sought[0] - eliminated[0]), adjugate * sought[1], adjugate * sought[2]];
        // The other's cosine and sine are `other / determinant`: the sum of their squares is 1.
        let squares = other.map(|v| v.norm_squared());
        let coefficients = [
            squares[0] + (squares[1] + squares[2]) / 2.0 - determinant * determinant,
            2.0 * other[0].dot(&other[1]),
            2.0 * other[0].dot(&other[2]),
            (squares[1] - squares[2]) / 2.0,
            other[1].dot(&other[2]),
        ];
        let of_other = matrix.norm_squared();
        let touches = of_other.sqrt() * determinant.abs() * self.size;
        let doubt = DOUBT * (squares.iter().sum::<f64>() + of_other * of_other + touches);
        let Some(zeros) = self.zeros.of(&coefficients, doubt).filter(|zeros| !zeros.is_empty()) else {
            return false;
        };
        let sign = determinant.signum();
        let wanted = self.wrist.wanted(base_from_flange);
        let asked = Asked { place, wanted, seeks_3, other: other.map(|v| v * sign) };
        let mut ways = Ways::of(&zeros);
        fill(self, &asked, &mut ways);
        let lanes = 2 * zeros.len();
        if !(0..lanes).all(|lane| has_room(ways.room[lane])) {
            return false;
        }
        for lane in (0..lanes).filter(|lane| ways.reached[*lane] > 0.0) {
            let axes = AxisValues::from_fn(|axis, _| ways.angles[axis][lane]);
            solutions.all.push(Solution { axes, free_axis: None });
        }
        !solutions.all.is_empty()
    }

    /// One way: all axes, 4 and 6 with common factors; the room; and whether the wrist can turn so.
    #[inline(always)]
    fn way(&self, asked: &Asked, sought: Turn, over: f64) -> ([Turn; 6], f64, f64) {
        let [h1, h2, h3] = &self.directions;
        let other = asked.other[0] + asked.other[1] * sought.cos + asked.other[2] * sought.sin;
        let length = 1.0 / (other.x * other.x + other.y * other.y).sqrt();
        let other = Turn { cos: other.x * length, sin: other.y * length };
        let (turn1, turn3) = if asked.seeks_3 { (other, sought) } else { (sought, other) };
        // From axis 2, in link 1: where the wrist centre shall be, and where axis 3 brings it.
        let place = turn1.back().about(h1, &asked.place) + self.to_axis1;
        let from_axis3 = turn3.about(h3, &self.to_centre);
        let carried = from_axis3 + self.to_axis3;
        let turn2 = Turn {
            cos: place.dot(&carried) - h2.dot(&place) * h2.dot(&carried),
            sin: h2.dot(&carried.cross(&place)),
        };
        let length = 1.0 / (turn2.cos * turn2.cos + turn2.sin * turn2.sin).sqrt();
        let turn2 = Turn { cos: turn2.cos * length, sin: turn2.sin * length };
        let centre = turn2.about(h2, &carried);
        // How each axis moves it, and what is left: Newton's step.
        let by1 = h1.cross(&(centre - self.to_axis1));
        let by2 = h2.cross(&centre);
        let by3 = turn2.about(h2, &h3.cross(&from_axis3));
        let left = place - centre;
        let square_to_1 = by2.cross(&by3);
        let volume = by1.dot(&square_to_1);
        let over_volume = 1.0 / volume;
        let steps = [
            left.dot(&square_to_1) * over_volume,
            left.dot(&by3.cross(&by1)) * over_volume,
            left.dot(&by1.cross(&by2)) * over_volume,
        ];
        let longest = steps[0].abs().max(steps[1].abs()).max(steps[2].abs());
        let stepped =
            |turn: Turn, by: f64| Turn { cos: turn.cos - by * turn.sin, sin: turn.sin + by * turn.cos };
        let (turn1, turn2, turn3) =
            (stepped(turn1, steps[0]), stepped(turn2, steps[1]), stepped(turn3, steps[2]));
        let volume_room = volume.abs() - FLAT * self.size * self.size * self.size;
        let room = volume_room.min(STEP - longest);
        let back =
            |v: &Vector3<f64>| turn3.back().about(h3, &turn2.back().about(h2, &turn1.back().about(h1, v)));
        let wanted = [back(&asked.wanted[0]), back(&asked.wanted[1])];
        let ([turn4, turn5, turn6], wrist_room, reached) = self.wrist.turns_plainly(&wanted, over);
        ([turn1, turn2, turn3, turn4, turn5, turn6], room.min(wrist_room), reached)
    }

    #[inline(always)]
    fn fill(&self, asked: &Asked, ways: &mut Ways) {
        for i in 0..LANES {
            let sought = Turn { cos: ways.cos[i], sin: ways.sin[i] };
            let (turns, room, reached) = self.way(asked, sought, ways.over[i]);
            for (axis, turn) in turns.iter().enumerate() {
                ways.cosines[axis][i] = turn.cos;
                ways.sines[axis][i] = turn.sin;
            }
            ways.room[i] = room;
            ways.reached[i] = reached;
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
fn fill(arm: &SkewWays, asked: &Asked, ways: &mut Ways) {
    arm.fill(asked, ways);
}

impl Ways {
    /// Two for each zero; lanes to spare repeat the first.
    fn of(zeros: &[Turn]) -> Self {
        let zero = |lane: usize| zeros.get(lane / 2).unwrap_or(&zeros[0]);
        let row = [0.0; LANES];
        Self {
            cos: std::array::from_fn(|lane| zero(lane).cos),
            sin: std::array::from_fn(|lane| zero(lane).sin),
            over: std::array::from_fn(|lane| if lane % 2 == 0 { 1.0 } else { -1.0 }),
            room: row,
            reached: row,
            cosines: [row; 6],
            sines: [row; 6],
            angles: [row; 6],
        }
    }
}

/// The two numbers of the point `way` from an axis that is `to_axis` from axis 2 (direction `h2`), turned about that axis.
fn kept(
    by_axis: &[[Vector3<f64>; 3]; 2],
    to_axis: &Vector3<f64>,
    way: &Vector3<f64>,
    h2: &Vector3<f64>,
    size: f64,
) -> Kept {
    let [height, square] = by_axis.each_ref().map(|parts| parts.each_ref().map(|part| part.dot(way)));
    let fixed = [h2.dot(to_axis), (way.norm_squared() + to_axis.norm_squared()) / (2.0 * size)];
    [
        Vector2::new(height[0] + fixed[0], square[0] + fixed[1]),
        Vector2::new(height[1], square[1]),
        Vector2::new(height[2], square[2]),
    ]
}

/// How well two numbers tell an axis: the determinant of what they say of its cosine and sine over the sum of squares.
fn tells_apart([_, by_cos, by_sin]: &Kept) -> f64 {
    let squares = by_cos.norm_squared() + by_sin.norm_squared();
    if squares > 0.0 { (by_cos.x * by_sin.y - by_cos.y * by_sin.x).abs() / squares } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use proptest::prelude::*;
    use proptest::test_runner::{RngSeed, TestRunner};

    use super::*;
    use crate::description::{OriginAxis, origin_axes};
    use crate::plain::answers_as_carefully;
    use crate::{Arm, ArmBuilder, Geometry};

    /// Axes 1 to 3 by chance, a wrist by chance or square, its centre by chance.
    fn skew_arm(numbers: [[f64; 3]; 9], is_square: bool) -> Option<Arm> {
        let [d1, d2, d3, d4, d5, d6, p2, p3, centre] = numbers.map(Vector3::from);
        let (d5, d6) = if is_square { (d4.cross(&d5), d4) } else { (d5, d6) };
        let line = |point: Vector3<f64>, direction: Vector3<f64>| {
            let long_enough = direction.norm() > 0.1;
            long_enough
                .then(|| OriginAxis { point, direction: nalgebra::UnitVector3::new_normalize(direction) })
        };
        let axes = [
            line(Vector3::zeros(), d1)?,
            line(p2, d2)?,
            line(p3, d3)?,
            line(centre, d4)?,
            line(centre, d5)?,
            line(centre, d6)?,
        ];
        let flange = Pose::new(centre + Vector3::new(0.05, 0.1, -0.02), Vector3::new(0.3, 1.0, -0.4));
        let arm = ArmBuilder::new("by chance", origin_axes(&axes, &flange)).build().ok()?;
        (arm.geometry() == Ok(Geometry::SphericalWrist)).then_some(arm)
    }

    /// Held against the careful way, which has its own search and its own correction; and nearly all poses are answered plainly.
    #[test]
    fn a_way_in_plain_arithmetic_is_one_of_the_careful_way() {
        let vector = || prop::array::uniform3(-1.0..1.0_f64);
        let inputs = (prop::array::uniform9(vector()), any::<bool>(), prop::array::uniform6(-PI..PI));
        let mut runner = TestRunner::new(ProptestConfig {
            cases: 20_000,
            failure_persistence: None,
            rng_seed: RngSeed::Fixed(5),
            ..Default::default()
        });
        let (asked, answered) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
        let result = runner.run(&inputs, |(numbers, is_square, axes)| {
            let Some(arm) = skew_arm(numbers, is_square) else { return Ok(()) };
            asked.set(asked.get() + 1);
            answered.set(answered.get() + u32::from(answers_as_carefully(&arm, &AxisValues::from(axes))?));
            Ok(())
        });
        println!("{} of {} answered plainly", answered.get(), asked.get());
        assert!(result.is_ok(), "{result:?}");
        assert!(answered.get() * 10 > asked.get() * 9, "{} of {}", answered.get(), asked.get());
    }
}
