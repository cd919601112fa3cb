//! Decides every way to reach a pose for arms whose axes 4, 5 and 6 meet in one point, whatever axes 1 to 3 are: at most
//! four ways to carry the wrist centre to its place, and two wrists for each.
//!
//! Axes 1 to 3 have to bring the wrist centre c to its place p: R₂ R₃ c = R₁⁻¹ p, each about its own line. Turning about
//! axis 2 keeps the height along it and the distance from a point of it. That makes two equations without axis 2, linear
//! in the cosine and sine of axis 1 and in those of axis 3: with one axis of the two eliminated, a trigonometric
//! polynomial of degree 2 is left for the other, so at most four roots (D. L. Pieper, 'The Kinematics of Manipulators
//! Under Computer Control', 1968, found that four suffice). Where the equations are but one for the eliminated axis (as
//! for axes that are parallel or meet), one combination of them is free of it and takes the polynomial's place.
//!
//! Roots are handed on for correction on the true arm, so two that nearly fall together lose no digits.

use arrayvec::ArrayVec;
use nalgebra::{Matrix2, Vector2, Vector3};

use crate::circle_roots::CircleRoots;
use crate::inverse::{ReachBound, Shortfall, Solution};
use crate::lines::{Line, Lines, turns_to};
use crate::nearest::least_on_torus;
use crate::spherical_wrist::{NOTHING, Slack};
use crate::turn::Turn;
use crate::wrist::Wrist;
use crate::{AxisValues, Pose};

/// Two equations are one where their parts differ by less than this share.
const ALIKE: f64 = 1e-7;
/// A place out of reach by less than this share of the arm counts as reached.
const TOUCHED: f64 = 1e-10;
/// A way to carry the wrist centre that misses by more than this share of the arm is none.
const MISSED: f64 = 1e-3;

/// The constants of such an arm.
#[derive(Clone, Debug)]
pub(crate) struct SkewShoulder {
    /// Axes 1 to 3.
    axes: [Line; 3],
    wrist: Wrist,
    /// The wrist centre at axis values 0; a direction of zero length stands for none.
    centre: Line,
    /// About how long the arm is (m).
    size: f64,
    circle: CircleRoots<5, 7>,
}

/// Two numbers of a point that turning about axis 2 keeps, as functions of another axis: a + b cos + c sin.
struct Kept([Vector2<f64>; 3]);

impl Kept {
    fn at(&self, turn: Turn) -> Vector2<f64> {
        let [a, b, c] = &self.0;
        a + b * turn.cos + c * turn.sin
    }

    fn matrix(&self) -> Matrix2<f64> {
        Matrix2::from_columns(&[self.0[1], self.0[2]])
    }
}

impl SkewShoulder {
    /// The constants for `lines`, of which axes 4 to 6 must meet in `centre`.
    pub(crate) fn new(lines: &Lines, centre: Vector3<f64>) -> Self {
        let lines = &lines.with_near_points();
        let axes = [0, 1, 2].map(|i| lines.line(i));
        let size = axes.iter().map(|axis| (axis.point - centre).norm()).fold(1e-3, f64::max);
        Self {
            axes,
            wrist: Wrist::new(lines, centre),
            centre: Line { point: centre, direction: Vector3::zeros() },
            size,
            circle: CircleRoots::new(),
        }
    }

    /// Puts every solution for `base_from_flange` (to be corrected) into `solutions`, which must be empty; if there is
    /// none, how far they are.
    pub(crate) fn solve(
        &self,
        base_from_flange: &Pose,
        near: &AxisValues,
        slack: Slack,
        solutions: &mut ArrayVec<Solution, 16>,
    ) -> Option<Shortfall> {
        let wanted = self.wrist.wanted(base_from_flange);
        let carried = self.carried(&self.wrist.centre(base_from_flange), near);
        for (q, free) in &carried {
            let back = |v: &Vector3<f64>| {
                (0..3).fold(*v, |v, i| Turn::of(q[i]).back().about(&self.axes[i].direction, &v))
            };
            for (turns, free4) in self.wrist.turns(&wanted.each_ref().map(back), near, slack) {
                let [q4, q5, q6] = turns.map(Turn::angle);
                let q4 = if free4 { near[3] } else { q4 };
                let _ = solutions.try_push(Solution {
                    axes: AxisValues::new(q[0], q[1], q[2], q4, q5, q6),
                    free_axis: free.or(free4.then_some(3)),
                });
            }
        }
        if carried.is_empty() {
            return Some(self.shortfall_of(base_from_flange));
        }
        solutions.is_empty().then_some(Shortfall { distance: 0.0, bound: ReachBound::Orientation })
    }

    /// Axes 1 to 3 by which the wrist centre comes to `place`, or close to it, and which of them is free.
    fn carried(&self, place: &Vector3<f64>, near: &AxisValues) -> ArrayVec<([f64; 3], Option<usize>), 8> {
        let place = Line { point: *place, ..self.centre };
        let of_1 = self.kept(|turn| self.axes[0].turned(turn.back(), &place));
        let of_3 = self.kept(|turn| self.axes[2].turned(turn, &self.centre));
        // Eliminate the axis whose cosine and sine the equations tell apart better.
        let by_3 = likeness(&of_1.matrix()) >= likeness(&of_3.matrix());
        let (eliminated, sought) = if by_3 { (&of_1, &of_3) } else { (&of_3, &of_1) };
        let (values, nearly_zero) = polynomial_values(eliminated, sought);
        let mut carried: ArrayVec<([f64; 3], Option<usize>), 8> = ArrayVec::new();
        for root in self.circle.roots(&self.circle.polynomial(&values, nearly_zero)) {
            let turn = Turn::of(root.at());
            let (one, other, start, target) = if by_3 {
                (&self.axes[1], &self.axes[0], self.axes[2].turned(turn, &self.centre), place)
            } else {
                (&self.axes[2], &self.axes[1], self.centre, self.axes[0].turned(turn.back(), &place))
            };
            for [first, second] in turns_to(one, other, &start, &target) {
                let mut q = if by_3 { [second, first, root.at()] } else { [root.at(), second, first] };
                let free = self.free(&place.point, &mut q, near);
                let off = (self.wrist_centre(&q) - place.point).norm();
                if off < MISSED * self.size {
                    let _ = carried.try_push((q, free));
                }
            }
        }
        carried
    }

    /// Where turning axis 1 or 2 leaves the wrist centre in its place, this axis keeps its value.
    fn free(&self, place: &Vector3<f64>, q: &mut [f64; 3], near: &AxisValues) -> Option<usize> {
        if self.axes[0].distance(place) < NOTHING {
            q[0] = near[0];
            return Some(0);
        }
        let before = self.axes[2].turned(Turn::of(q[2]), &self.centre).point;
        (self.axes[1].distance(&before) < NOTHING).then(|| {
            q[1] = near[1];
            1
        })
    }

    fn wrist_centre(&self, q: &[f64; 3]) -> Vector3<f64> {
        (0..3).rev().fold(self.centre, |line, i| self.axes[i].turned(Turn::of(q[i]), &line)).point
    }

    fn kept(&self, carried: impl Fn(Turn) -> Line) -> Kept {
        let axis = &self.axes[1];
        let numbers = |cos, sin| {
            let way = carried(Turn { cos, sin }).point - axis.point;
            Vector2::new(axis.direction.dot(&way), way.norm_squared() / (2.0 * self.size)) / self.size
        };
        let (east, north, west) = (numbers(1.0, 0.0), numbers(0.0, 1.0), numbers(-1.0, 0.0));
        let middle = (east + west) / 2.0;
        Kept([middle, (east - west) / 2.0, north - middle])
    }

    /// Distance of the wrist centre from the nearest place that axes 1 to 3 can bring it to: about axis 1 only its distance from that line
    /// and its height along it count, so axes 2 and 3 are sought.
    pub(crate) fn shortfall_of(&self, base_from_flange: &Pose) -> Shortfall {
        let place = self.wrist.centre(base_from_flange);
        let wanted = self.profile(&place);
        let off = |turns: [Turn; 2]| (self.profile(&self.carried_by_2_and_3(turns)) - wanted).norm();
        let [q2, q3] = least_on_torus(off);
        let nearest = self.profile(&self.wrist_centre(&[0.0, q2, q3]));
        let bound = ReachBound::between(&wanted, &nearest, &self.profile(&self.axes[1].point));
        Shortfall { distance: (nearest - wanted).norm(), bound }
    }

    /// Distance from axis 1 and height along it.
    fn profile(&self, point: &Vector3<f64>) -> Vector2<f64> {
        let axis = &self.axes[0];
        Vector2::new(axis.distance(point), axis.direction.dot(&(point - axis.point)))
    }

    /// The wrist centre with axis 1 at 0.
    fn carried_by_2_and_3(&self, [turn2, turn3]: [Turn; 2]) -> Vector3<f64> {
        self.axes[1].turned(turn2, &self.axes[2].turned(turn3, &self.centre)).point
    }

    pub(crate) fn wrist(&self) -> &Wrist {
        &self.wrist
    }
}

/// How far the two equations are from being one: the ratio of the singular values of what they say of an axis.
fn likeness(matrix: &Matrix2<f64>) -> f64 {
    let values = matrix.singular_values();
    if values.max() > 0.0 { values.min() / values.max() } else { 0.0 }
}

/// Values of a polynomial in the sought axis that is zero where some value of the other meets both equations; and how near to zero it is
/// where they are met to within [`TOUCHED`].
fn polynomial_values(eliminated: &Kept, sought: &Kept) -> ([f64; 7], f64) {
    let matrix = eliminated.matrix();
    let rest = |i: usize| sought.at(Turn::of(CircleRoots::<5, 7>::sample(i))) - eliminated.0[0];
    if likeness(&matrix) < ALIKE {
        // The combination in which the eliminated axis does not appear.
        let free_of_it =
            matrix.transpose().svd(false, true).v_t.map_or(Vector2::x(), |v| v.row(1).transpose());
        return (std::array::from_fn(|i| free_of_it.dot(&rest(i))), TOUCHED);
    }
    let determinant = matrix.determinant();
    let adjugate = Matrix2::new(matrix.m22, -matrix.m12, -matrix.m21, matrix.m11);
    let nearly_zero = TOUCHED * adjugate.norm() * (2.0 * determinant.abs() + TOUCHED * adjugate.norm());
    (std::array::from_fn(|i| (adjugate * rest(i)).norm_squared() - determinant * determinant), nearly_zero)
}
