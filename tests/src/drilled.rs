//! A plate with round holes through it, as an OBJ file.

use std::fmt::Write;

use nalgebra::Vector2;

/// Corners of a hole: so many, and one toward each corner of its square.
const CORNERS: usize = 24;

/// A hole: where its middle is and its radius, mm.
pub type Hole = ([f64; 2], f64);

/// The plate, `size` mm along x, y and z, its lower face in z = 0 and its middle over the origin. Around each hole a square that is 2 mm
/// wider must be free, and be cut by the sides of no other.
#[must_use]
pub fn plate([length, width, height]: [f64; 3], holes: &[Hole]) -> String {
    let sides = |half: f64, axis: usize| {
        let of_holes =
            holes.iter().flat_map(|(at, radius)| [at[axis] - radius - 2.0, at[axis] + radius + 2.0]);
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
            match holes.iter().find(|(at, _)| (Vector2::from(*at) - middle).norm() < 1e-9) {
                Some((_, radius)) => obj.drilled(square, middle, *radius, height),
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

    fn drilled(&mut self, square: [Vector2<f64>; 4], middle: Vector2<f64>, radius: f64, height: f64) {
        let corner = |step: usize| {
            // The first lies toward the square's first corner, (−, −).
            let turn = std::f64::consts::TAU * (step as f64 / CORNERS as f64 + 0.625);
            middle + Vector2::new(turn.cos(), turn.sin()) * radius
        };
        let quarter = CORNERS / 4;
        for side in 0..4 {
            let (one, next) = (square[side], square[(side + 1) % 4]);
            let half = side * quarter + quarter / 2;
            let own = side * quarter..(side + 1) * quarter;
            for step in own {
                let outer = if step < half { one } else { next };
                self.cover(&[corner(step + 1), corner(step), outer], height);
                self.wall(corner(step + 1), corner(step), height);
            }
            self.cover(&[corner(half), one, next], height);
        }
    }
}
