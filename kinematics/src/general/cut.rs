//! Decides how the closed loop of six axes is cut into a chain of three, the next one after them, and the two that remain.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

use crate::Pose;
use crate::lines::{Line, Lines};
use crate::spherical_wrist::frame_around;
use crate::turn::Turn;

/// The halves of `second` and `third` are taken from these angles (rad), at which no arm is likely to stand: a value
/// half a turn away has an infinite tangent.
const FROM: [f64; 2] = [0.7, -1.9];
/// No place among a chain of axes.
const NEVER: usize = 3;

/// Fourteen numbers of a line, each as products of (1, cos, sin) or, where said, (t², t, 1) of two axes.
pub(super) type Products = SMatrix<f64, 14, 9>;

/// One way to cut the loop. Axes are 0-based.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    pub(super) first: usize,
    pub(super) second: usize,
    pub(super) third: usize,
    pub(super) far: usize,
    /// The two axes of the far side, in the order in which they act on the far line.
    pub(super) others: [usize; 2],
    /// How many of them act before the flange is passed; [`NEVER`] where the chain of three passes it.
    pub(super) before_flange: usize,
    /// From which of `second`, `third` and `far` on (0 to 2) the chain has passed the flange; [`NEVER`] where the others pass it.
    pub(super) beyond_flange: usize,
    /// 1 where the chain of three runs from base to flange, −1 where it runs back.
    pub(super) sense: f64,
    /// A point of `first`, and a right-handed frame whose last vector is its direction.
    pub(super) origin: Vector3<f64>,
    pub(super) frame: Matrix3<f64>,
    /// The numbers of the far line over `second` and `third`, in that frame; products of (t², t, 1). None where they hang on the pose.
    pub(super) near: Option<Products>,
    /// [`FROM`] as turns.
    pub(super) from: [Turn; 2],
}

impl Cut {
    /// The chain runs on from `first` to axes farther from the base, or back.
    pub(super) fn new(lines: &Lines, first: usize, onward: bool) -> Self {
        // Round the closed loop of six.
        let step = |by: usize| if onward { (first + by) % 6 } else { (first + 6 - by) % 6 };
        // Where axis 6 is followed by axis 1, or the other way.
        let last = if onward { 5 } else { 0 };
        let passed = (0..6).find(|by| step(*by) == last).unwrap_or(0);
        let before_flange = if passed < 3 { NEVER } else { passed - 3 };
        let direction = lines.direction[first];
        let [e1, e2] = frame_around(&direction);
        let mut cut = Self {
            first,
            second: step(1),
            third: step(2),
            far: step(3),
            others: [step(4), step(5)],
            before_flange,
            beyond_flange: if passed < 3 { passed } else { NEVER },
            sense: if onward { 1.0 } else { -1.0 },
            origin: lines.point[first],
            frame: Matrix3::from_rows(&[e1.transpose(), e2.transpose(), direction.transpose()]),
            near: None,
            from: FROM.map(Turn::of),
        };
        if cut.beyond_flange == NEVER {
            cut.near = Some(cut.numbers_of_chain(&cut.chain(lines, &Pose::identity())));
        }
        cut
    }

    /// The lines of `second`, `third` and `far`, as the base sees those that lie beyond the flange; `passage` as in [`Equations`].
    pub(super) fn chain(&self, lines: &Lines, passage: &Pose) -> [Line; 3] {
        let back = passage.inverse();
        let mut chain = [self.second, self.third, self.far].map(|axis| lines.line(axis));
        for line in chain.iter_mut().skip(self.beyond_flange) {
            *line = line.moved(&back);
        }
        chain
    }

    /// The numbers of the far line over `second` and `third`; products of (t², t, 1).
    pub(super) fn numbers_of_chain(&self, [second, third, far]: &[Line; 3]) -> Products {
        let near = products(|turns| {
            let turn = |i: usize| turns[i].then(self.from[i]).signed(self.sense);
            self.numbers(&second.turned(turn(0), &third.turned(turn(1), far)))
        });
        // 1, cos, sin of an angle whose half has the tangent t, times (1 + t²): t² + 1, 1 − t², 2 t.
        let tangents = Matrix3::new(1.0, 0.0, 1.0, -1.0, 0.0, 1.0, 0.0, 2.0, 0.0);
        near * tangents.kronecker(&tangents)
    }

    /// The numbers of a line, vectors in the frame of `first`: first what turning about `first` leaves as it is, then
    /// pairs that it turns.
    pub(super) fn numbers(&self, line: &Line) -> SVector<f64, 14> {
        let p = self.frame * (line.point - self.origin);
        let d = self.frame * line.direction;
        let (pp, pd) = (p.dot(&p), p.dot(&d));
        let moment = p.cross(&d);
        let reflected = d * pp - p * (2.0 * pd);
        SVector::from([
            p.z,
            d.z,
            moment.z,
            reflected.z,
            pp,
            pd, //
            p.x,
            p.y,
            d.x,
            d.y,
            moment.x,
            moment.y,
            reflected.x,
            reflected.y,
        ])
    }

    /// The far line where the far side puts it, with its two axes turned so.
    pub(super) fn round_the_other_way(&self, lines: &Lines, passage: &Pose, turns: [Turn; 2]) -> Line {
        let mut line = lines.line(self.far);
        for (i, (&other, turn)) in self.others.iter().zip(turns).enumerate() {
            if i == self.before_flange {
                line = line.moved(passage);
            }
            line = lines.line(other).turned(turn.signed(-self.sense), &line);
        }
        if self.before_flange == self.others.len() { line.moved(passage) } else { line }
    }
}

/// Coefficients of the products of (1, cos, sin) of two axes in what `numbers` gives for their turns, from its values
/// at three angles of each.
pub(super) fn products(numbers: impl Fn([Turn; 2]) -> SVector<f64, 14>) -> Products {
    let third = 3.0_f64.sqrt() / 2.0;
    let turns = [(1.0, 0.0), (-0.5, third), (-0.5, -third)].map(|(cos, sin)| Turn { cos, sin });
    let weights = turns.map(|turn| [1.0 / 3.0, 2.0 / 3.0 * turn.cos, 2.0 / 3.0 * turn.sin]);
    let mut products = Products::zeros();
    for (first, weights1) in turns.into_iter().zip(weights) {
        for (second, weights2) in turns.into_iter().zip(weights) {
            let values = numbers([first, second]);
            for i in 0..9 {
                products.column_mut(i).axpy(weights1[i / 3] * weights2[i % 3], &values, 1.0);
            }
        }
    }
    products
}
