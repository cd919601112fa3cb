//! Decides which corners of loose triangles are one corner: those within a micrometre.

use std::collections::HashMap;

use nalgebra::Point3;

/// Corners nearer to each other than this are one, m: more than the rounding of a four-byte number at the size of a cell.
const SAME_CORNER: f64 = 1e-6;

/// Each corner once, and the triangles as indices into them.
pub(super) fn weld(listed: &[[Point3<f64>; 3]]) -> (Vec<Point3<f64>>, Vec<[u32; 3]>) {
    let mut exact: HashMap<[u64; 3], u32> = HashMap::with_capacity(listed.len());
    let mut grid = Grid::default();
    let triangles = listed
        .iter()
        .map(|corners| {
            corners.map(|corner| {
                // Adding zero makes −0 the same as 0.
                let bits = [corner.x, corner.y, corner.z].map(|x| (x + 0.0).to_bits());
                *exact.entry(bits).or_insert_with(|| grid.index_of(corner))
            })
        })
        .collect();
    (grid.corners, triangles)
}

/// Corners by the cell of space they lie in.
#[derive(Default)]
struct Grid {
    corners: Vec<Point3<f64>>,
    /// The last corner added in each cell.
    last: HashMap<[i64; 3], u32>,
    /// The corner added before it in the same cell.
    before: Vec<Option<u32>>,
}

impl Grid {
    /// The first known corner found within [`SAME_CORNER`], or this one as a new one.
    fn index_of(&mut self, corner: Point3<f64>) -> u32 {
        // Cells are twice as wide as the tolerance, so that only the nearer neighbour in each direction matters.
        let scaled = corner.coords / (2.0 * SAME_CORNER);
        let own = [scaled.x, scaled.y, scaled.z].map(|x| x.floor() as i64);
        let beside = [scaled.x, scaled.y, scaled.z].map(|x| if x - x.floor() < 0.5 { -1 } else { 1 });
        for neighbour in 0..8 {
            let cell = std::array::from_fn(|k| {
                if neighbour >> k & 1 == 0 { own[k] } else { own[k].saturating_add(beside[k]) }
            });
            let mut next = self.last.get(&cell).copied();
            while let Some(index) = next {
                if (self.corners[index as usize] - corner).norm() <= SAME_CORNER {
                    return index;
                }
                next = self.before[index as usize];
            }
        }
        let index = self.corners.len() as u32;
        self.corners.push(corner);
        self.before.push(self.last.insert(own, index));
        index
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_apart_by_rounding_become_one_wherever_the_grid_lies() {
        for shift in [0.0, 0.3e-6, 1e-6, 1.7e-6, 0.123_456_7, -1.0] {
            let a = Point3::new(shift, 0.0, 0.0);
            let near = Point3::new(shift + 0.9e-6, 0.0, 0.0);
            let far = Point3::new(shift + 3e-6, 0.0, 0.0);
            let (corners, triangles) = weld(&[[a, near, far]]);
            assert_eq!((corners.len(), triangles[0]), (2, [0, 0, 1]), "at {shift}");
        }
    }
}
