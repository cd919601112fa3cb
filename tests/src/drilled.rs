//! A plate with holes through it, as an OBJ file.

use std::fmt::Write;

use nalgebra::Vector2;
use seamwright_sim::units::deg;

/// Corners of a hole: so many, and one toward each corner of its square.
const CORNERS: usize = 24;

/// A hole: where its middle is and its radius, mm.
pub type Hole = ([f64; 2], f64);

/// A hole of any outline that is seen whole from its middle: where that is, half the side of a square around it that is free, and the
/// corners about the middle, counter-clockwise, mm.
pub type Cut = ([f64; 2], f64, Vec<[f64; 2]>);

/// Corners of a round about a point, from one angle to another, degrees.
#[must_use]
pub fn arc([x, y]: [f64; 2], radius: f64, [from, to]: [f64; 2]) -> Vec<[f64; 2]> {
    let count = (CORNERS as f64 * (to - from) / 360.0).round().max(1.0);
    let corner = |step: usize| {
        let turn = deg(from + (to - from) * step as f64 / count);
        [x + radius * turn.cos(), y + radius * turn.sin()]
    };
    (0..=count as usize).map(corner).collect()
}

/// A round hole in a square so wide.
#[must_use]
pub fn round(at: [f64; 2], radius: f64, half: f64) -> Cut {
    let mut corners = arc([0.0, 0.0], radius, [-135.0, 225.0]);
    corners.pop();
    (at, half, corners)
}

/// A plate with round holes, each in a square that is 2 mm wider.
#[must_use]
pub fn plate(size: [f64; 3], holes: &[Hole]) -> String {
    cut(size, &holes.iter().map(|(at, radius)| round(*at, *radius, radius + 2.0)).collect::<Vec<_>>())
}

/// The plate, `size` mm along x, y and z, its lower face in z = 0 and its middle over the origin. The square around each
/// hole must be free, and be cut by the sides of no other.
#[must_use]
pub fn cut([length, width, height]: [f64; 3], holes: &[Cut]) -> String {
    let sides = |half: f64, axis: usize| {
        let of_holes = holes.iter().flat_map(|(at, half, _)| [at[axis] - half, at[axis] + half]);
        let mut all: Vec<f64> = of_holes.chain([-half, half]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        all
    };
    let (xs, ys) = (sides(length / 2.0, 0), sides(width / 2.0, 1));
    let mut obj = Obj::default();
    for x in xs.windows(2) {
        for y in ys.windows(2) {
            let square = [[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]].map(Vector2::from);
            let middle = (square[0] + square[2]) / 2.0;
            match holes.iter().find(|(at, ..)| (Vector2::from(*at) - middle).norm() < 1e-9) {
                Some((.., corners)) => obj.hole(square, middle, corners, height),
                None => obj.cover(&square, height),
            }
        }
    }
    let outline = [(0, -width / 2.0), (1, length / 2.0), (0, width / 2.0), (1, -length / 2.0)];
    for (side, (axis, at)) in outline.into_iter().enumerate() {
        let mut along = if axis == 0 { xs.clone() } else { ys.clone() };
        if side > 1 {
            along.reverse();
        }
        let corner = |by: f64| if axis == 0 { Vector2::new(by, at) } else { Vector2::new(at, by) };
        along.windows(2).for_each(|ends| obj.wall(corner(ends[0]), corner(ends[1]), height));
    }
    obj.text
}

#[derive(Default)]
struct Obj {
    text: String,
}

impl Obj {
    fn face(&mut self, corners: &[[f64; 3]]) {
        for [x, y, z] in corners {
            let _ = writeln!(self.text, "v {x:.9} {y:.9} {z:.9}");
        }
        let last: Vec<String> = (1..=corners.len()).rev().map(|back| format!("-{back}")).collect();
        let _ = writeln!(self.text, "f {}", last.join(" "));
    }

    /// Upper and lower face over an area, its corners counter-clockwise seen from above.
    fn cover(&mut self, corners: &[Vector2<f64>], height: f64) {
        let above: Vec<[f64; 3]> = corners.iter().map(|at| [at.x, at.y, height]).collect();
        let below: Vec<[f64; 3]> = corners.iter().rev().map(|at| [at.x, at.y, 0.0]).collect();
        self.face(&above);
        self.face(&below);
    }

    /// An upright wall; who goes along it has the material at the left.
    fn wall(&mut self, from: Vector2<f64>, to: Vector2<f64>, height: f64) {
        self.face(&[
            [from.x, from.y, 0.0],
            [to.x, to.y, 0.0],
            [to.x, to.y, height],
            [from.x, from.y, height],
        ]);
    }

    fn hole(&mut self, square: [Vector2<f64>; 4], middle: Vector2<f64>, corners: &[[f64; 2]], height: f64) {
        let corner = |step: usize| Vector2::from(corners[step % corners.len()]);
        // The square's corner in whose quarter the middle of a side lies; where all sides look outward, that which lies farthest out before it.
        let bends_inward = |step: usize| {
            let [before, after] = [step, step + 1].map(|step| corner(step + 1) - corner(step));
            before.perp(&after) < 0.0
        };
        let is_convex = !(0..corners.len()).any(bends_inward);
        let quarter = |step: usize| {
            let along = corner(step + 1) - corner(step);
            let out = Vector2::new(along.y, -along.x);
            let side = if is_convex { out } else { corner(step) + corner(step + 1) };
            match (side.x < 0.0, side.y < 0.0) {
                (true, true) => 0,
                (false, true) => 1,
                (false, false) => 2,
                (true, false) => 3,
            }
        };
        for step in 0..corners.len() {
            let (one, next) = (middle + corner(step), middle + corner(step + 1));
            let (mut here, ahead) = (quarter(step), quarter(step + 1));
            self.cover(&[next, one, square[here]], height);
            self.wall(next, one, height);
            while here != ahead {
                self.cover(&[next, square[here], square[(here + 1) % 4]], height);
                here = (here + 1) % 4;
            }
        }
    }
}
