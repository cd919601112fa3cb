//! Decides where the six axes lie as lines in the base frame, which is all that a solver may know of an arm: whatever
//! convention its file follows, arms that move alike give the same lines.

use std::f64::consts::PI;

use arrayvec::ArrayVec;
use nalgebra::{Matrix2, Matrix3, Matrix6, Quaternion, UnitQuaternion, Vector2, Vector3, Vector4};

use crate::angle::half_turns;
use crate::general::sample_axes;
use crate::turn::Turn;
use crate::{Axis, AxisValues, Pose};

/// An arm of size about 1 is next to a singularity where its Jacobian's least singular value is below this.
const NEARLY_SINGULAR: f64 = 1e-2;
/// Lines that miss being square or parallel by less (rad) are all but so.
const ALIKE: f64 = 1e-3;
/// Two numbers decide an angle where the lesser counts for more than this share of the mean of both.
const DOUBT: f64 = 1e-10;

/// A line with a point of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// m.
    pub(crate) point: Vector3<f64>,
    /// Unit length.
    pub(crate) direction: Vector3<f64>,
}

impl Line {
    /// `other` turned about this line.
    pub(crate) fn turned(&self, turn: Turn, other: &Self) -> Self {
        Self {
            point: self.point + turn.about(&self.direction, &(other.point - self.point)),
            direction: turn.about(&self.direction, &other.direction),
        }
    }

    /// m.
    pub(crate) fn distance(&self, point: &Vector3<f64>) -> f64 {
        self.direction.cross(&(point - self.point)).norm()
    }

    pub(crate) fn moved(&self, by: &Pose) -> Self {
        Self {
            point: by.rotation * self.point + by.translation.vector,
            direction: by.rotation * self.direction,
        }
    }
}

/// The arm at some axis values, in the base frame.
#[derive(Clone, Debug)]
pub(crate) struct Lines {
    /// A point of each axis, m.
    pub(crate) point: [Vector3<f64>; 6],
    /// The turning direction of each axis, unit length.
    pub(crate) direction: [Vector3<f64>; 6],
    /// `base_from_flange`.
    pub(crate) base_from_flange: Pose,
}

impl Lines {
    pub(crate) fn new(axes: &[Axis; 6], link6_from_flange: &Pose) -> Self {
        let mut base_from_link = Pose::identity();
        let mut point = [Vector3::zeros(); 6];
        let mut direction = [Vector3::zeros(); 6];
        for (i, axis) in axes.iter().enumerate() {
            base_from_link *= axis.origin;
            point[i] = base_from_link.translation.vector;
            direction[i] = base_from_link.rotation * axis.direction.into_inner();
        }
        Self { point, direction, base_from_flange: base_from_link * link6_from_flange }
    }

    pub(crate) fn line(&self, axis: usize) -> Line {
        Line { point: self.point[axis], direction: self.direction[axis] }
    }

    /// About how long the arm is: the largest distance of an axis from the flange (m).
    pub(crate) fn size(&self) -> f64 {
        let flange = self.base_from_flange.translation.vector;
        (0..6).map(|i| self.line(i).distance(&flange)).fold(1e-3, f64::max)
    }

    /// The same arm with the point of each axis where it is nearest to the flange: a file may name any point of it.
    pub(crate) fn with_near_points(&self) -> Self {
        let mut near = self.clone();
        let flange = self.base_from_flange.translation.vector;
        for (point, direction) in near.point.iter_mut().zip(&self.direction) {
            *point += direction * direction.dot(&(flange - *point));
        }
        near
    }

    /// The same arm of another size.
    pub(crate) fn scaled(&self, by: f64) -> Self {
        let mut scaled = self.clone();
        for point in &mut scaled.point {
            *point *= by;
        }
        scaled.base_from_flange.translation.vector *= by;
        scaled
    }

    /// This arm (at axis values 0) turned to `axes` (rad).
    pub(crate) fn at(&self, axes: &AxisValues) -> Self {
        let mut moved = self.clone();
        let mut motion = Pose::identity();
        for (i, Turn { cos, sin }) in half_turns(axes).into_iter().enumerate() {
            let line = self.line(i).moved(&motion);
            (moved.point[i], moved.direction[i]) = (line.point, line.direction);
            let turn = UnitQuaternion::new_unchecked(Quaternion::from_parts(cos, self.direction[i] * sin));
            let shift = self.point[i] - turn * self.point[i];
            motion *= Pose::from_parts(shift.into(), turn);
        }
        moved.base_from_flange = motion * self.base_from_flange;
        moved
    }

    /// Geometric Jacobian at the flange origin, of an arm as it stands.
    pub(crate) fn jacobian(&self) -> Matrix6<f64> {
        let mut jacobian = Matrix6::zeros();
        for i in 0..6 {
            let way = self.base_from_flange.translation.vector - self.point[i];
            jacobian.fixed_view_mut::<3, 1>(0, i).copy_from(&self.direction[i].cross(&way));
            jacobian.fixed_view_mut::<3, 1>(3, i).copy_from(&self.direction[i]);
        }
        jacobian
    }

    /// Where the arm as it stands is at a singularity or next to one: how the axes can move (unit length) while the
    /// flange all but rests (in m and rad: scale the arm to about 1), and how fast it does move.
    pub(crate) fn idle_motion(&self) -> Option<(AxisValues, f64)> {
        let jacobian = self.jacobian();
        // The least singular value is no less than one over the norm of the inverse.
        if jacobian.try_inverse().is_some_and(|inverse| inverse.norm() * NEARLY_SINGULAR < 1.0) {
            return None;
        }
        let svd = jacobian.svd(false, true);
        let least = svd.singular_values.imin();
        let value = svd.singular_values[least];
        svd.v_t.filter(|_| value < NEARLY_SINGULAR).map(|v| (v.row(least).transpose(), value))
    }

    /// The stance in which axes 1 and 4 are half a turn on and axes 2 and 3, parallel, stand mirrored in the plane through axes 1 and 2: for an
    /// arm that bends in a plane through axis 1, with axis 4 along it, the flange stays where it is. At axis values 0; none for other arms.
    pub(crate) fn on_the_other_side(&self, axes: &AxisValues) -> Option<AxisValues> {
        let [up, n, third, fourth, ..] = self.direction;
        if up.dot(&n).abs() > ALIKE || self.slant(1, 2) > ALIKE || fourth.dot(&n).abs() > ALIKE {
            return None;
        }
        // Angles about axis 2 from axis 1.
        let from_up = |v: &Vector3<f64>| n.dot(&up.cross(v)).atan2(up.dot(v));
        let (upper, fore) = (from_up(&(self.point[2] - self.point[1])), from_up(&fourth));
        let mut other = *axes;
        other[0] += PI;
        other[1] = -2.0 * upper - axes[1];
        other[2] = 2.0 * n.dot(&third).signum() * (upper - fore) - axes[2];
        other[3] += PI;
        Some(other)
    }

    /// Whether at every sample the axes leave the flange a direction in which it cannot move (scale the arm to about 1).
    pub(crate) fn lacks_freedom(&self) -> bool {
        let most = (0..8).map(|k| self.at(&sample_axes(k)).jacobian().singular_values().min());
        most.fold(0.0, f64::max) < 1e-6
    }

    /// Sine of the angle between two axes, whichever way they point.
    pub(crate) fn slant(&self, one: usize, other: usize) -> f64 {
        self.direction[one].cross(&self.direction[other]).norm()
    }

    /// The point nearest to all of `axes`, by least squares, and its largest distance from one of them (m).
    ///
    /// None where all of them are parallel.
    pub(crate) fn meeting_point(&self, axes: &[usize]) -> Option<(Vector3<f64>, f64)> {
        let across = |i: usize| Matrix3::identity() - self.direction[i] * self.direction[i].transpose();
        let sum: Matrix3<f64> = axes.iter().map(|&i| across(i)).sum();
        let moment: Vector3<f64> = axes.iter().map(|&i| across(i) * self.point[i]).sum();
        let meeting = sum.cholesky()?.solve(&moment);
        let miss = axes.iter().map(|&i| (across(i) * (meeting - self.point[i])).norm()).fold(0.0, f64::max);
        (meeting.iter().all(|x| x.is_finite())).then_some((meeting, miss))
    }
}

/// Angles (rad) by which turning `start` about `one` and then about `other` gives `target`, both points included.
///
/// Turning about `other` keeps four numbers of a line and its point; each is linear in the cosine and sine of the angle
/// about `one`. Where they leave that angle in doubt, both choices are given.
pub(crate) fn turns_to(one: &Line, other: &Line, start: &Line, target: &Line) -> ArrayVec<[f64; 2], 2> {
    let kept = |line: &Line| {
        let way = line.point - other.point;
        Vector4::new(
            other.direction.dot(&line.direction),
            other.direction.dot(&way),
            way.norm_squared(),
            line.direction.dot(&way),
        )
    };
    let at = |cos: f64, sin: f64| kept(&one.turned(Turn { cos, sin }, start));
    let (east, north, west) = (at(1.0, 0.0), at(0.0, 1.0), at(-1.0, 0.0));
    let middle = (east + west) / 2.0;
    let columns = [(east - west) / 2.0, north - middle];
    let wanted = kept(target) - middle;
    let squares = Matrix2::new(
        columns[0].norm_squared(),
        columns[0].dot(&columns[1]),
        columns[0].dot(&columns[1]),
        columns[1].norm_squared(),
    );
    let sides = Vector2::new(columns[0].dot(&wanted), columns[1].dot(&wanted));
    let (middle, half) =
        ((squares.m11 + squares.m22) / 2.0, ((squares.m11 - squares.m22) / 2.0).hypot(squares.m12));
    let mut turns: ArrayVec<Turn, 2> = ArrayVec::new();
    if middle - half > DOUBT * middle {
        let solved = squares.try_inverse().map(|inverse| inverse * sides);
        turns.extend(solved.and_then(|turn| Turn::toward(turn, 0.0)));
    } else {
        // Only the direction in which the numbers change most is sure.
        let along = 0.5 * (2.0 * squares.m12).atan2(squares.m11 - squares.m22);
        let sure = Turn::of(along);
        let share =
            if middle > 0.0 { (sure.cos * sides.x + sure.sin * sides.y) / (middle + half) } else { 1.0 };
        let share = share.clamp(-1.0, 1.0);
        let aside = Turn { cos: share, sin: (1.0 - share * share).sqrt() };
        turns.push(sure.then(aside));
        turns.push(sure.then(aside.back()));
    }
    let both = |turn: Turn| {
        let turned = one.turned(turn, start);
        let (mut cos, mut sin) = (0.0, 0.0);
        for (from, to) in
            [(turned.direction, target.direction), (turned.point - other.point, target.point - other.point)]
        {
            let along = other.direction;
            cos += from.dot(&to) - along.dot(&from) * along.dot(&to);
            sin += along.dot(&from.cross(&to));
        }
        [turn.angle(), sin.atan2(cos)]
    };
    turns.into_iter().map(both).collect()
}
