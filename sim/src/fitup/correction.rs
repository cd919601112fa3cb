//! Decides how touch searches shift a seam's program.
//!
//! Each search finds how far the joint lies off along one direction at one place. The program is shifted by the least straight motion
//! that agrees with all of them best; what they still find different at different places is put down to the least turn about the middle
//! of those places. So one search takes away its direction, two of unlike faces take away two, and two of one face at both ends take
//! away the turn between them as well.

use nalgebra::{DMatrix, Point3, Vector3};

/// What is searched: where, and along which direction.
pub(super) type Look = (Point3<f64>, Vector3<f64>);

/// How the program goes with what the searches find, a column each.
pub(super) struct Correction {
    middle: Point3<f64>,
    shift: DMatrix<f64>,
    turn: DMatrix<f64>,
}

impl Correction {
    pub(super) fn new(looks: &[Look]) -> Self {
        /// Directions and levers (m) that differ by less are the same.
        const SAME: f64 = 1e-6;
        let count = looks.len();
        let middle = looks.iter().map(|(at, _)| at.coords).sum::<Vector3<f64>>() / count.max(1) as f64;
        let rows = |of: &dyn Fn(&Look) -> Vector3<f64>| {
            DMatrix::from_fn(count, 3, |row, column| of(&looks[row])[column])
        };
        let inverse =
            |rows: DMatrix<f64>| rows.pseudo_inverse(SAME).unwrap_or_else(|_| DMatrix::zeros(3, count));
        if count == 0 {
            let none = DMatrix::zeros(3, 0);
            return Self { middle: middle.into(), shift: none.clone(), turn: none };
        }
        let ways = rows(&|(_, way)| *way);
        let shift = inverse(ways.clone());
        let left = DMatrix::identity(count, count) - ways * &shift;
        let levers = rows(&|(at, way)| (at.coords - middle).cross(way));
        let turn = inverse(levers) * left;
        Self { middle: middle.into(), shift, turn }
    }

    /// How a point of the program goes.
    pub(super) fn at(&self, point: &Point3<f64>) -> DMatrix<f64> {
        let lever = (point - self.middle).cross_matrix();
        let lever = DMatrix::from_fn(3, 3, |row, column| -lever[(row, column)]);
        &self.shift + lever * &self.turn
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is left at a point after a small motion of the joint, `v + ω × p`, was searched.
    fn left(looks: &[Look], [v, w]: [Vector3<f64>; 2], point: Point3<f64>) -> Vector3<f64> {
        let moved = |at: &Point3<f64>| v + w.cross(&at.coords);
        let found =
            nalgebra::DVector::from_iterator(looks.len(), looks.iter().map(|(at, way)| way.dot(&moved(at))));
        let taken = Correction::new(looks).at(&point) * found;
        moved(&point) - Vector3::new(taken[0], taken[1], taken[2])
    }

    /// One search takes its direction away where it was made and leaves the rest, the turn included.
    #[test]
    fn one_search_takes_away_its_direction() {
        let at = Point3::new(0.1, 0.0, 0.0);
        let motion = [Vector3::new(1e-3, 2e-3, 3e-3), Vector3::new(0.0, 0.0, 0.01)];
        let found = left(&[(at, Vector3::y())], motion, at);
        assert!((found - Vector3::new(1e-3, 0.0, 3e-3)).norm() < 1e-15, "{found}");
        // 50 mm on, the turn has carried the joint on by 0.5 mm.
        let found = left(&[(at, Vector3::y())], motion, Point3::new(0.15, 0.0, 0.0));
        assert!((found - Vector3::new(1e-3, 5e-4, 3e-3)).norm() < 1e-15, "{found}");
    }

    /// Both faces at both ends of a straight seam along x: nothing across is left anywhere on it.
    #[test]
    fn searches_at_both_ends_take_away_the_turn() {
        let looks: Vec<Look> = [0.05, 0.35]
            .iter()
            .flat_map(|x| [Vector3::y(), Vector3::z()].map(|way| (Point3::new(*x, 0.02, 0.01), way)))
            .collect();
        let motion = [Vector3::new(0.0, 2e-3, -1e-3), Vector3::new(0.0, 0.02, -0.01)];
        for x in [0.0, 0.2, 0.4] {
            let found = left(&looks, motion, Point3::new(x, 0.02, 0.01));
            assert!(found.y.abs() < 1e-12 && found.z.abs() < 1e-12, "{found}");
        }
    }

    /// One face on each leg of a corner: both straight motions in their plane are found, and no turn is made up.
    #[test]
    fn searches_on_two_legs_find_two_directions() {
        let looks = [(Point3::new(0.1, 0.0, 0.0), Vector3::y()), (Point3::new(0.2, 0.1, 0.0), Vector3::x())];
        let found =
            left(&looks, [Vector3::new(4e-4, -7e-4, 1e-3), Vector3::zeros()], Point3::new(0.2, 0.2, 0.0));
        assert!((found - Vector3::new(0.0, 0.0, 1e-3)).norm() < 1e-15, "{found}");
    }
}
