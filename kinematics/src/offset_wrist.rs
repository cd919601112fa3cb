//! Decides, in plain arithmetic, the ways of arms whose axes 2 and 3 are parallel and square to axis 1, and whose axes 4 and 5 meet:
//! what most arms with an offset or a hollow wrist are.
//!
//! With axis 6 given, the point where axes 4 and 5 meet is known, and so is the direction of axis 5. Axes 1 to 3 carry that point like a
//! wrist centre: two turns of axis 1 bring it to either side, and on each of them the elbow bends either way. Of these four, one is a way
//! where axis 4 then makes its own angle with axis 5. Written in the plane of the arm, with z along axis 1 and r away from it as complex
//! numbers z + i r: V the way from axis 2 to that point, U the direction of axis 5, δ what turns the way from axis 3 to that point (length
//! L; from axis 2 to axis 3 it is M) into the direction of axis 4, N = |V|², A = N + L² − M², P + i Q = δ V Ū, and C what is asked of the
//! angle less the part of it that lies along axis 2. The elbow's sides s = ±1 then ask
//!
//! P A − s Q √(4 L² N − A²) = 2 N C,
//!
//! and both at once, squared and divided by N, that A² |δ|² |U|² − 4 P A C + 4 N C² − 4 L² Q² vanish. That is α + β ρ, ρ = ± the
//! distance from axis 1 in the plane of the arm, whose square is a trigonometric polynomial of axis 6 as all else is; times its conjugate
//! and the fourth power of the distance from axis 1, it is one of degree 8. Where nothing in the arm tells one side of axis 1 from the
//! other (β = 0: axis 2 meets axis 1, the forearm is in line with axis 4 and in the plane of axis 1) degree 4 is enough, and each zero
//! stands for two ways. Derived here.

use arrayvec::ArrayVec;
use nalgebra::{Complex, Vector3};

use crate::circle_roots::{CirclePolynomial, CircleRoots, Root};
use crate::inverse::{Solution, Solutions, is_same};
use crate::lines::Lines;
use crate::turn::Turn;
use crate::zeros::{Polynomial, Zeros};
use crate::{AxisValues, Pose};

/// An arm (of size about 1) is of this class where it misses it by no more than so much, as rounding makes it. One that misses it by more
/// has solutions that no polynomial of the class tells of: two where that only all but turns back, or three at one zero.
const TOLERANCE: f64 = 1e-12;
/// Lengths below this (arm of size 1), and sines, make no elbow and no wrist.
const LEAST: f64 = 1e-3;
/// What a value may be off by for rounding, over the sum of its terms.
const BY_ROUNDING: f64 = 1e-14;
/// Squared lengths (arm of size 1) below this count as none: solutions may have become one.
const FLAT: f64 = 1e-7;
/// What the way at a zero leaves, over the sum of its terms, is less than the first; what any other leaves is more than the second, and so
/// many times as much.
const CLOSES: f64 = 1e-3;
const OPEN: f64 = 1e-4;
const BY_FAR: f64 = 30.0;
/// A way that misses the pose by less needs no correction (arm of size 1 and rad).
const MET: f64 = 1e-13;
/// A correction no longer than this (rad) leads to the solution of its own zero, where none leads to that of another.
const LONGEST: f64 = 0.01;

type Ways = ArrayVec<Solution, 16>;

/// The zeros of the polynomial.
#[derive(Clone, Debug)]
enum Circle {
    /// Where both sides of axis 1 are alike.
    Alike(Box<CircleRoots<9, 11>>),
    Four(Box<CircleRoots<17, 19>>),
}

/// The constants of such an arm, its lengths divided by its size. Vectors in the frame of axis 1: away from it, along axis 2, along axis 1.
#[derive(Clone, Debug)]
pub(crate) struct OffsetWrist {
    /// The arm as it is.
    lines: Lines,
    size: f64,
    /// From the base frame into that of axis 1.
    basis: [Vector3<f64>; 3],
    origin: Vector3<f64>,
    /// Where axes 4 and 5 meet.
    meeting: Vector3<f64>,
    /// From axis 1 to axis 2, from axis 2 to axis 3, and from there to where axes 4 and 5 meet: z + i r.
    shoulder: Complex<f64>,
    upper: Complex<f64>,
    fore: Complex<f64>,
    /// How far that point is from the plane of the arm.
    aside: f64,
    /// What turns `fore` into the direction of axis 4; that direction along axis 2; its share along axis 5.
    fore_to_axis4: Complex<f64>,
    axis4_aside: f64,
    axis4_to_5: f64,
    /// Whether axis 3 turns against axis 2.
    axis3_against: bool,
    circle: Circle,
}

/// α + β ρ.
#[derive(Clone, Copy)]
struct Sided {
    alpha: f64,
    beta: f64,
}

/// What a pose asks: where axes 4 and 5 meet and where axis 5 points, each a + b cos + c sin of axis 6.
struct Asked {
    meeting: [Vector3<f64>; 3],
    axis5: [Vector3<f64>; 3],
    /// `base_from_flange` over that at axis values 0.
    motion: Pose,
    base_from_flange: Pose,
}

/// Axis 6 at some value: the point and axis 5, and the invariants of both about axis 1.
struct Place {
    meeting: Vector3<f64>,
    axis5: Vector3<f64>,
    /// Squared distance from axis 1, and ρ².
    off_axis1: f64,
    square: f64,
    /// Along and across the way from axis 1: parts of axis 5 times the distance.
    outward: f64,
    around: f64,
}

/// What the condition is made of; `out` is |U|².
struct Condition {
    a: Sided,
    n: Sided,
    p: Sided,
    q: Sided,
    c: Sided,
    out: Sided,
}

impl OffsetWrist {
    /// The constants for `lines`; none where they are not of the class.
    pub(crate) fn new(lines: &Lines) -> Option<Self> {
        let size = lines.size();
        let lines = lines.with_near_points().scaled(1.0 / size);
        let [along, second] = [lines.direction[0], lines.direction[1]];
        let (meeting, miss) = lines.meeting_point(&[3, 4])?;
        let deviation = along.dot(&second).abs().max(lines.slant(1, 2)).max(miss);
        let across = second.cross(&along);
        if deviation > TOLERANCE || across.norm() < LEAST || lines.slant(3, 4) < LEAST {
            return None;
        }
        let radial = across.normalize();
        let basis = [radial, along.cross(&radial), along];
        let origin = lines.point[0];
        let in_basis = |v: &Vector3<f64>| Vector3::from(basis.each_ref().map(|axis| axis.dot(v)));
        let in_plane = |v: &Vector3<f64>| Complex::new(v.z, v.x);
        let [axis2, axis3] = [1, 2].map(|axis: usize| in_plane(&in_basis(&(lines.point[axis] - origin))));
        let meeting_in_basis = in_basis(&(meeting - origin));
        let axis4 = in_basis(&lines.direction[3]);
        let (upper, fore) = (axis3 - axis2, in_plane(&meeting_in_basis) - axis3);
        if upper.norm() < LEAST || fore.norm() < LEAST || in_plane(&axis4).norm() < LEAST {
            return None;
        }
        let mut arm = Self {
            size,
            basis,
            origin,
            meeting,
            shoulder: axis2,
            upper,
            fore,
            aside: meeting_in_basis.y,
            fore_to_axis4: in_plane(&axis4) / fore,
            axis4_aside: axis4.y,
            axis4_to_5: lines.direction[3].dot(&lines.direction[4]),
            axis3_against: second.dot(&lines.direction[2]) < 0.0,
            circle: Circle::Four(Box::new(CircleRoots::new())),
            lines,
        };
        let bend = arm.fore_to_axis4.im * arm.fore.norm();
        let unlike = [arm.shoulder.im, arm.aside, arm.axis4_aside, bend].map(f64::abs);
        let unlike = unlike.into_iter().fold(0.0, f64::max);
        if unlike <= TOLERANCE {
            (arm.shoulder.im, arm.aside, arm.axis4_aside, arm.fore_to_axis4.im) = (0.0, 0.0, 0.0, 0.0);
            arm.circle = Circle::Alike(Box::new(CircleRoots::new()));
        }
        Some(arm)
    }

    /// Puts every solution for `base_from_flange` into `solutions`; none, and false, where the careful way is needed.
    pub(crate) fn solve(&self, base_from_flange: &Pose, solutions: &mut Solutions) -> bool {
        let asked = self.asked(base_from_flange);
        let is_clear = match &self.circle {
            Circle::Alike(circle) => self.add_all(circle.as_ref(), &asked, &mut solutions.all),
            Circle::Four(circle) => self.add_all(circle.as_ref(), &asked, &mut solutions.all),
        };
        if !is_clear {
            solutions.all.clear();
        }
        is_clear && !solutions.all.is_empty()
    }

    /// Adds every solution; false where it is in doubt which there are.
    fn add_all<const N: usize, const S: usize>(
        &self,
        circle: &CircleRoots<N, S>,
        asked: &Asked,
        all: &mut Ways,
    ) -> bool {
        let polynomial = self.polynomial(circle, asked);
        circle.roots(&polynomial).into_iter().all(|root| match root {
            Root::Touch { zeros: 0, .. } => true,
            Root::Crossing { at, is_simple: true } => self.add_ways(asked, at, all),
            _ => false,
        })
    }

    fn polynomial<const N: usize, const S: usize>(
        &self,
        circle: &CircleRoots<N, S>,
        asked: &Asked,
    ) -> CirclePolynomial<N> {
        let mut values = [0.0; S];
        let mut largest = 0.0_f64;
        for (value, turn) in values.iter_mut().zip(&circle.samples) {
            let terms;
            (*value, terms) = self.value(&asked.place(*turn, self.aside));
            largest = largest.max(terms);
        }
        circle.polynomial(&values, 0.0).with_doubt(BY_ROUNDING * largest)
    }

    /// The values that axis 6 has in solutions.
    pub(crate) fn zeros(&self, base_from_flange: &Pose) -> Zeros {
        let asked = self.asked(base_from_flange);
        let (roots, of) = match &self.circle {
            Circle::Alike(circle) => {
                let polynomial = self.polynomial(circle.as_ref(), &asked);
                (circle.roots(&polynomial), Polynomial::Twice(polynomial))
            }
            Circle::Four(circle) => {
                let polynomial = self.polynomial(circle.as_ref(), &asked);
                (circle.roots(&polynomial), Polynomial::Once(polynomial))
            }
        };
        Zeros { axis: 5, roots, of }
    }

    /// Stances with axis 6 at `at` (rad) that may be next to solutions.
    pub(crate) fn stances(&self, base_from_flange: &Pose, at: f64) -> impl Iterator<Item = AxisValues> {
        let asked = self.asked(base_from_flange);
        let place = asked.place(Turn::of(at), self.aside);
        let rho = place.square.max(0.0).sqrt();
        let ways = [[rho, 1.0], [rho, -1.0], [-rho, 1.0], [-rho, -1.0]];
        ways.into_iter()
            .map(move |way| self.axes(&asked, &place, at, way))
            .filter(|axes| axes.iter().all(|value| value.is_finite()))
    }

    fn asked(&self, base_from_flange: &Pose) -> Asked {
        let mut base_from_flange = *base_from_flange;
        base_from_flange.translation.vector /= self.size;
        let motion = base_from_flange * self.lines.base_from_flange.inverse();
        let [point, direction] = [self.lines.point[5], self.lines.direction[5]];
        // Axis 6 turned back, then the whole motion.
        let parts = |v: &Vector3<f64>| {
            let along = direction * direction.dot(v);
            [along, v - along, -direction.cross(v)]
        };
        let turned = |v: &Vector3<f64>| self.in_basis(&(motion.rotation * v));
        let mut meeting = parts(&(self.meeting - point)).each_ref().map(turned);
        meeting[0] += self.in_basis(&(motion * nalgebra::Point3::from(point) - self.origin).coords);
        let axis5 = parts(&self.lines.direction[4]).each_ref().map(turned);
        Asked { meeting, axis5, motion, base_from_flange }
    }

    fn in_basis(&self, v: &Vector3<f64>) -> Vector3<f64> {
        Vector3::from(self.basis.each_ref().map(|axis| axis.dot(v)))
    }

    /// The value of the polynomial, and the sum of the sizes of what it is made of.
    fn value(&self, place: &Place) -> (f64, f64) {
        let Condition { a, n, p, q, c, out } = self.condition(place);
        let times = |x: Sided, y: Sided| x.times(y, place.square);
        let terms = [
            times(times(a, a), out).by(self.fore_to_axis4.norm_sqr()),
            times(times(p, a), c).by(-4.0),
            times(times(c, c), n).by(4.0),
            times(q, q).by(-4.0 * self.fore.norm_sqr()),
        ];
        let root = place.square.abs().sqrt();
        let size: f64 = terms.iter().map(|term| term.alpha.abs() + term.beta.abs() * root).sum();
        let [first, rest @ ..] = terms;
        let sum = rest.into_iter().fold(first, Sided::and).by(place.off_axis1);
        let size = size * place.off_axis1;
        match self.circle {
            Circle::Alike(_) => (sum.alpha, size),
            Circle::Four(_) => (sum.alpha * sum.alpha - sum.beta * sum.beta * place.square, size * size),
        }
    }

    fn condition(&self, place: &Place) -> Condition {
        let times = |x: Sided, y: Sided| x.times(y, place.square);
        let over = 1.0 / place.off_axis1;
        // V is `height` + i `side`; the direction of axis 5 `up` along axis 1, `outward` and `along2`.
        let (height, side) = (place.meeting.z - self.shoulder.re, Sided::RHO.plus(-self.shoulder.im));
        let up = place.axis5.z;
        let outward = Sided { alpha: self.aside * place.around, beta: place.outward }.by(over);
        let along2 = Sided { alpha: self.aside * place.outward, beta: -place.around }.by(over);
        let n = times(side, side).plus(height * height);
        let re = times(side, outward).plus(height * up);
        let im = side.by(up).and(outward.by(-height));
        let turn = self.fore_to_axis4;
        Condition {
            a: n.plus(self.fore.norm_sqr() - self.upper.norm_sqr()),
            n,
            p: re.by(turn.re).and(im.by(-turn.im)),
            q: im.by(turn.re).and(re.by(turn.im)),
            c: along2.by(-self.axis4_aside).plus(self.axis4_to_5),
            out: times(outward, outward).plus(up * up),
        }
    }

    /// Adds the ways that stand at a zero; false where it is in doubt which these are.
    fn add_ways(&self, asked: &Asked, at: f64, all: &mut Ways) -> bool {
        let place = asked.place(Turn::of(at), self.aside);
        if place.square < FLAT {
            return false;
        }
        let mut add = |way: Option<[f64; 2]>| {
            let axes = way.and_then(|way| self.checked(self.axes(asked, &place, at, way), asked));
            let own = axes.filter(|axes| !all.iter().any(|it| is_same(&it.axes, axes)));
            own.is_some_and(|axes| all.try_push(Solution { axes, free_axis: None }).is_ok())
        };
        let sides = [1.0, -1.0].map(|side| self.elbows(&place, side * place.square.sqrt()));
        let [Some(one), Some(other)] = sides else { return false };
        match self.circle {
            Circle::Alike(_) => add(only_one_closes(&one)) && add(only_one_closes(&other)),
            Circle::Four(_) => {
                let both: ArrayVec<_, 4> = one.into_iter().chain(other).collect();
                add(only_one_closes(&both))
            }
        }
    }

    /// Both ways of the elbow (ρ and side), each with what it leaves of the condition over the sum of its terms, where there are any on this
    /// side of axis 1; none where that is in doubt.
    fn elbows(&self, place: &Place, rho: f64) -> Option<ArrayVec<([f64; 2], f64), 2>> {
        let Condition { a, n, p, q, c, .. } = self.condition(place);
        let [a, n, p, q, c] = [a, n, p, q, c].map(|sided| sided.at(rho));
        let bent = 4.0 * self.fore.norm_sqr() * n - a * a;
        if n < FLAT || bent.abs() < FLAT {
            return None;
        }
        let mut elbows = ArrayVec::new();
        if bent > 0.0 {
            let size = p.hypot(q) * (a.abs() + bent.sqrt()) + (2.0 * n * c).abs();
            for elbow in [1.0, -1.0] {
                let left = p * a - elbow * q * bent.sqrt() - 2.0 * n * c;
                elbows.push(([rho, elbow], left.abs() / size));
            }
        }
        Some(elbows)
    }

    /// From axis 2 to where axes 4 and 5 meet, in the plane of the arm.
    fn way(&self, place: &Place, rho: f64) -> Complex<f64> {
        Complex::new(place.meeting.z, rho) - self.shoulder
    }

    /// The axis values (rad) of one way (ρ and side of the elbow) with axis 6 at `at`.
    fn axes(&self, asked: &Asked, place: &Place, at: f64, [rho, elbow]: [f64; 2]) -> AxisValues {
        let way = self.way(place, rho);
        let n = way.norm_sqr();
        let a = n + self.fore.norm_sqr() - self.upper.norm_sqr();
        let bent = (4.0 * self.fore.norm_sqr() * n - a * a).max(0.0).sqrt();
        let fore = way * Complex::new(a, elbow * bent) / (2.0 * n);
        let both = fore / self.fore;
        let second = (way - fore) / self.upper;
        let third = both * second.conj();
        let (x, y) = (place.meeting.x, place.meeting.y);
        let turn = |cos: f64, sin: f64| {
            let length = cos.hypot(sin);
            Turn { cos: cos / length, sin: sin / length }
        };
        let turn1 = turn(x * rho + y * self.aside, y * rho - x * self.aside);
        let turn2 = turn(second.re, second.im);
        let turn3 = turn(third.re, if self.axis3_against { -third.im } else { third.im });
        let direction = &self.lines.direction;
        let back = |v: &Vector3<f64>| {
            let v = turn1.back().about(&direction[0], v);
            turn3.back().about(&direction[2], &turn2.back().about(&direction[1], &v))
        };
        // Axis 5 and a vector across it, as axes 4 and 5 have to bring them.
        let across = direction[3] - direction[4] * self.axis4_to_5;
        let after_6 = |v: &Vector3<f64>| asked.motion.rotation * Turn::of(at).back().about(&direction[5], v);
        let [fifth, wanted] = [&direction[4], &across].map(|v| back(&after_6(v)));
        let angle = |about: &Vector3<f64>, from: &Vector3<f64>, to: &Vector3<f64>| {
            let cos = from.dot(to) - about.dot(from) * about.dot(to);
            turn(cos, about.dot(&from.cross(to)))
        };
        let turn4 = angle(&direction[3], &direction[4], &fifth);
        let turn5 = angle(&direction[4], &across, &turn4.back().about(&direction[3], &wanted));
        let [q1, q2, q3, q4, q5] = [turn1, turn2, turn3, turn4, turn5].map(Turn::angle);
        AxisValues::new(q1, q2, q3, q4, q5, crate::turn::wrapped(at))
    }

    /// The way on the arm as it is; none where it leads elsewhere.
    fn checked(&self, way: AxisValues, asked: &Asked) -> Option<AxisValues> {
        if self.lines.at(&way).left_to(&asked.base_from_flange).amax() < MET {
            return Some(way);
        }
        let axes = self.lines.polished(way, &asked.base_from_flange)?;
        let step = (axes - way).map(crate::turn::wrapped).amax();
        (step < LONGEST).then_some(axes)
    }
}

impl Asked {
    fn place(&self, Turn { cos, sin }: Turn, aside: f64) -> Place {
        let at = |[fixed, by_cos, by_sin]: &[Vector3<f64>; 3]| fixed + by_cos * cos + by_sin * sin;
        let (meeting, axis5) = (at(&self.meeting), at(&self.axis5));
        let off_axis1 = meeting.xy().norm_squared();
        Place {
            meeting,
            axis5,
            off_axis1,
            square: off_axis1 - aside * aside,
            outward: meeting.xy().dot(&axis5.xy()),
            around: meeting.y * axis5.x - meeting.x * axis5.y,
        }
    }
}

impl Sided {
    const RHO: Self = Self { alpha: 0.0, beta: 1.0 };

    fn at(self, rho: f64) -> f64 {
        self.alpha + self.beta * rho
    }

    fn times(self, other: Self, square: f64) -> Self {
        Self {
            alpha: self.alpha * other.alpha + self.beta * other.beta * square,
            beta: self.alpha * other.beta + self.beta * other.alpha,
        }
    }

    fn by(self, factor: f64) -> Self {
        Self { alpha: self.alpha * factor, beta: self.beta * factor }
    }

    fn plus(self, number: f64) -> Self {
        Self { alpha: self.alpha + number, ..self }
    }

    fn and(self, other: Self) -> Self {
        Self { alpha: self.alpha + other.alpha, beta: self.beta + other.beta }
    }
}

/// The way that leaves nothing, where all others leave much.
fn only_one_closes(ways: &[([f64; 2], f64)]) -> Option<[f64; 2]> {
    let (mut closing, mut least, mut next) = (None, f64::INFINITY, f64::INFINITY);
    for &(way, left) in ways {
        if left < least {
            (closing, least, next) = (Some(way), left, least);
        } else {
            next = next.min(left);
        }
    }
    closing.filter(|_| least < CLOSES && next > OPEN.max(BY_FAR * least))
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

    /// Axis 1 upright, axes 2 and 3 level: lengths by chance, axes 4 to 6 anyhow through where 4 and 5 meet. `alike`: both sides of axis 1
    /// alike.
    fn offset_arm(numbers: [[f64; 3]; 5], alike: bool) -> Option<Arm> {
        let [lengths, asides, d4, d5, d6] = numbers.map(Vector3::from);
        let (shoulder, upper, fore) = (0.3 * lengths.x, 0.6 + 0.2 * lengths.y, 0.6 + 0.2 * lengths.z);
        let meeting = Vector3::new(shoulder + fore, 0.1 * asides.x, 0.4 + upper + 0.2 * asides.y);
        let (shoulder, meeting, d4) = if alike {
            (0.0, Vector3::new(fore, 0.0, 0.4 + upper), Vector3::x())
        } else {
            (shoulder, meeting, d4 + Vector3::x())
        };
        let line = |point: Vector3<f64>, direction: Vector3<f64>| {
            (direction.norm() > 0.1)
                .then(|| OriginAxis { point, direction: nalgebra::UnitVector3::new_normalize(direction) })
        };
        let axes = [
            line(Vector3::zeros(), Vector3::z())?,
            line(Vector3::new(shoulder, 0.2, 0.4), Vector3::y())?,
            line(
                Vector3::new(shoulder, 0.1, 0.4 + upper),
                if asides.z > 0.0 { Vector3::y() } else { -Vector3::y() },
            )?,
            line(meeting, d4)?,
            line(meeting, d5)?,
            line(meeting + 0.15 * asides, d6)?,
        ];
        let flange = Pose::new(meeting + Vector3::new(0.05, 0.1, -0.02), Vector3::new(0.3, 1.0, -0.4));
        let arm = ArmBuilder::new("by chance", origin_axes(&axes, &flange)).build().ok()?;
        (arm.geometry() == Ok(Geometry::General)).then_some(arm)
    }

    /// Held against the search for any arm, which knows nothing of this class; and nearly all poses are answered plainly.
    #[test]
    fn the_ways_of_an_offset_wrist_are_those_of_the_search_for_any_arm() {
        let vector = || prop::array::uniform3(-1.0..1.0_f64);
        let inputs = (prop::array::uniform5(vector()), any::<bool>(), prop::array::uniform6(-PI..PI));
        let mut runner = TestRunner::new(ProptestConfig {
            cases: 800,
            failure_persistence: None,
            rng_seed: RngSeed::Fixed(7),
            ..Default::default()
        });
        let (asked, answered) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
        let result = runner.run(&inputs, |(numbers, alike, axes)| {
            let Some(arm) = offset_arm(numbers, alike) else { return Ok(()) };
            asked.set(asked.get() + 1);
            answered.set(answered.get() + u32::from(answers_as_carefully(&arm, &AxisValues::from(axes))?));
            Ok(())
        });
        println!("{} of {} answered plainly", answered.get(), asked.get());
        assert!(result.is_ok(), "{result:?}");
        assert!(f64::from(answered.get()) > 0.95 * f64::from(asked.get()));
    }
}
