//! Decides whether triangles close to a solid, and winds them so that their normals point out of it.
//!
//! Triangles close where none has a free edge. Pieces are connected by the edges that just two triangles share; of several pieces
//! each is wound outward, but for a cavity, which lies inside another piece and is wound toward its own middle.

use nalgebra::Point3;

/// A side of a triangle: the edge by its lower and higher corner, and whether the triangle runs from the lower to the higher.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Side {
    edge: (u32, u32),
    triangle: u32,
    upward: bool,
}

/// Winds closed triangles outward and says how many had to be turned. `None`, and nothing turned, where they are open or cannot be
/// wound alike.
pub(super) fn close(corners: &[Point3<f64>], triangles: &mut [[u32; 3]]) -> Option<usize> {
    let sides = sides(triangles);
    let mut pieces = Pieces::new(triangles.len());
    for edge in sides.chunk_by(|a, b| a.edge == b.edge) {
        match edge {
            [a, b] => pieces.join(a.triangle, b.triangle, a.upward == b.upward)?,
            // Bodies that touch along an edge share it in pairs.
            several if several.len() % 2 == 0 => {}
            _ => return None,
        }
    }
    let (piece_of, mut turned): (Vec<u32>, Vec<bool>) =
        (0..triangles.len() as u32).map(|triangle| pieces.find(triangle)).unzip();
    let mut shells = shells(corners, triangles, &piece_of, &turned);
    let inside_out = shells.iter().map(|shell| shell.volume).sum::<f64>() < 0.0;
    if inside_out {
        shells.iter_mut().for_each(Shell::turn);
    }
    for index in 0..shells.len() {
        if shells[index].volume < 0.0 && !is_cavity(corners, triangles, &shells, index) {
            shells[index].turn();
        }
    }
    for shell in shells.iter().filter(|shell| shell.turned) {
        for triangle in &shell.triangles {
            turned[*triangle as usize] ^= true;
        }
    }
    let balance = |edge: &[Side]| {
        edge.iter().filter(|side| side.upward != turned[side.triangle as usize]).count() * 2 == edge.len()
    };
    if !sides.chunk_by(|a, b| a.edge == b.edge).all(balance) {
        return None;
    }
    for (triangle, _) in triangles.iter_mut().zip(&turned).filter(|(_, turned)| **turned) {
        triangle.swap(1, 2);
    }
    Some(turned.iter().filter(|turned| **turned).count())
}

fn sides(triangles: &[[u32; 3]]) -> Vec<Side> {
    let mut sides: Vec<Side> = triangles
        .iter()
        .enumerate()
        .flat_map(|(index, [a, b, c])| {
            [(*a, *b), (*b, *c), (*c, *a)].map(|(from, to)| Side {
                edge: (from.min(to), from.max(to)),
                triangle: index as u32,
                upward: from < to,
            })
        })
        .collect();
    sides.sort_unstable();
    sides
}

/// Sets of connected triangles; of each triangle, whether it is wound against the first of its set.
struct Pieces {
    /// Another triangle of the same set (itself at the set's head), and whether wound against that one.
    toward: Vec<(u32, bool)>,
}

impl Pieces {
    fn new(count: usize) -> Self {
        Self { toward: (0..count as u32).map(|index| (index, false)).collect() }
    }

    /// Head of the set of `triangle`, and whether it is wound against the head.
    fn find(&mut self, triangle: u32) -> (u32, bool) {
        let (mut head, mut against) = (triangle, false);
        while self.toward[head as usize].0 != head {
            let (next, flip) = self.toward[head as usize];
            (head, against) = (next, against ^ flip);
        }
        // Straight to the head, so that the next search is short.
        let (mut next, mut rest) = (triangle, against);
        while next != head {
            let (after, flip) = std::mem::replace(&mut self.toward[next as usize], (head, rest));
            (next, rest) = (after, rest ^ flip);
        }
        (head, against)
    }

    /// Joins the sets of two neighbours; `None` where they are connected already and cannot both keep their winding (a band with one
    /// side).
    fn join(&mut self, a: u32, b: u32, against: bool) -> Option<()> {
        let ((head_a, a_against), (head_b, b_against)) = (self.find(a), self.find(b));
        let flip = a_against ^ b_against ^ against;
        if head_a == head_b {
            return (!flip).then_some(());
        }
        self.toward[head_a.max(head_b) as usize] = (head_a.min(head_b), flip);
        Some(())
    }
}

/// The triangles of one piece, wound alike.
struct Shell {
    triangles: Vec<u32>,
    /// Enclosed volume times six, m³; negative where wound inward.
    volume: f64,
    low: Point3<f64>,
    high: Point3<f64>,
    turned: bool,
}

impl Shell {
    fn turn(&mut self) {
        self.volume = -self.volume;
        self.turned = !self.turned;
    }

    fn surrounds(&self, other: &Self) -> bool {
        (0..3).all(|k| self.low[k] < other.low[k] && other.high[k] < self.high[k])
    }
}

fn shells(corners: &[Point3<f64>], triangles: &[[u32; 3]], piece_of: &[u32], turned: &[bool]) -> Vec<Shell> {
    let mut order: Vec<u32> = (0..triangles.len() as u32).collect();
    order.sort_by_key(|triangle| piece_of[*triangle as usize]);
    let pieces = order.chunk_by(|a, b| piece_of[*a as usize] == piece_of[*b as usize]);
    pieces
        .map(|members| {
            let origin = corners[triangles[members[0] as usize][0] as usize];
            let (mut low, mut high, mut volume) = (origin, origin, 0.0);
            for member in members {
                let [a, b, c] = triangles[*member as usize].map(|i| corners[i as usize]);
                for corner in [a, b, c] {
                    (low, high) = (low.inf(&corner), high.sup(&corner));
                }
                let signed = (a - origin).dot(&(b - origin).cross(&(c - origin)));
                volume += if turned[*member as usize] { -signed } else { signed };
            }
            // A flat, doubled sheet has no inside; rounding must not give it one.
            let flat = volume.abs() < 1e-9 * (high - low).norm().powi(3);
            let volume = if flat { 0.0 } else { volume };
            Shell { triangles: members.to_vec(), volume, low, high, turned: false }
        })
        .collect()
}

/// Whether a shell lies inside another one.
fn is_cavity(corners: &[Point3<f64>], triangles: &[[u32; 3]], shells: &[Shell], index: usize) -> bool {
    let point = corners[triangles[shells[index].triangles[0] as usize][0] as usize];
    shells.iter().enumerate().any(|(other, shell)| {
        other != index && shell.surrounds(&shells[index]) && is_inside(corners, triangles, shell, &point)
    })
}

/// Whether a ray along +Z from `point` leaves the shell an odd number of times.
fn is_inside(corners: &[Point3<f64>], triangles: &[[u32; 3]], shell: &Shell, point: &Point3<f64>) -> bool {
    let crossings = shell.triangles.iter().filter(|triangle| {
        let [a, b, c] = triangles[**triangle as usize].map(|i| corners[i as usize]);
        // Seen from above, each side that spans the point's y and lies beyond it in x is crossed once.
        let spans = [(a, b), (b, c), (c, a)].into_iter().filter(|(from, to)| {
            (from.y <= point.y) != (to.y <= point.y) && {
                let (low, high) = if from.y <= to.y { (from, to) } else { (to, from) };
                (high.x - low.x) * (point.y - low.y) - (high.y - low.y) * (point.x - low.x) > 0.0
            }
        });
        let normal = (b - a).cross(&(c - a));
        spans.count() % 2 == 1 && normal.dot(&(a - point)) * normal.z > 0.0
    });
    crossings.count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cube of edge `size` about the origin, its corners from index `first` on.
    fn cube(corners: &mut Vec<Point3<f64>>, triangles: &mut Vec<[u32; 3]>, size: f64, at: [f64; 3]) {
        let first = corners.len() as u32;
        for corner in 0..8 {
            let side = |bit: u32| if corner >> bit & 1 == 0 { -size / 2.0 } else { size / 2.0 };
            corners.push(Point3::new(at[0] + side(0), at[1] + side(1), at[2] + side(2)));
        }
        let faces = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        for [a, b, c, d] in faces {
            triangles.push([first + a, first + b, first + c]);
            triangles.push([first + a, first + c, first + d]);
        }
    }

    fn volume(corners: &[Point3<f64>], triangles: &[[u32; 3]]) -> f64 {
        let signed = triangles.iter().map(|triangle| {
            let [a, b, c] = triangle.map(|i| corners[i as usize].coords);
            a.dot(&b.cross(&c)) / 6.0
        });
        signed.sum()
    }

    #[test]
    fn a_cube_with_some_faces_turned_gets_its_volume_back() {
        for pattern in 0..4096_u32 {
            let (mut corners, mut triangles) = (Vec::new(), Vec::new());
            cube(&mut corners, &mut triangles, 2.0, [5.0, 0.0, 0.0]);
            for (index, triangle) in triangles.iter_mut().enumerate() {
                if pattern >> index & 1 == 1 {
                    triangle.swap(0, 1);
                }
            }
            assert_eq!(close(&corners, &mut triangles), Some(pattern.count_ones() as usize));
            assert!((volume(&corners, &triangles) - 8.0).abs() < 1e-12, "{pattern:b}");
        }
    }

    #[test]
    fn a_cavity_keeps_its_winding_and_is_not_filled() {
        for turn_all in [false, true] {
            let (mut corners, mut triangles) = (Vec::new(), Vec::new());
            cube(&mut corners, &mut triangles, 2.0, [0.0; 3]);
            let outer = triangles.len();
            cube(&mut corners, &mut triangles, 1.0, [0.0; 3]);
            triangles[outer..].iter_mut().for_each(|triangle| triangle.swap(0, 1));
            if turn_all {
                triangles.iter_mut().for_each(|triangle| triangle.swap(0, 1));
            }
            assert_eq!(close(&corners, &mut triangles), Some(if turn_all { 24 } else { 0 }));
            assert!((volume(&corners, &triangles) - 7.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_body_beside_another_is_no_cavity() {
        let (mut corners, mut triangles) = (Vec::new(), Vec::new());
        cube(&mut corners, &mut triangles, 2.0, [0.0; 3]);
        let outer = triangles.len();
        cube(&mut corners, &mut triangles, 1.0, [3.0, 0.0, 0.0]);
        triangles[outer..].iter_mut().for_each(|triangle| triangle.swap(0, 1));
        assert_eq!(close(&corners, &mut triangles), Some(12));
        assert!((volume(&corners, &triangles) - 9.0).abs() < 1e-12);
    }

    #[test]
    fn bodies_that_share_an_edge_are_closed_and_one_open_edge_is_not() {
        let (mut corners, mut triangles) = (Vec::new(), Vec::new());
        cube(&mut corners, &mut triangles, 2.0, [0.0; 3]);
        cube(&mut corners, &mut triangles, 2.0, [2.0, 2.0, 0.0]);
        // The second cube's edge at x = y = 1 becomes that of the first.
        for triangle in &mut triangles {
            for corner in triangle {
                *corner = match *corner {
                    8 => 3,
                    12 => 7,
                    other => other,
                };
            }
        }
        assert_eq!(close(&corners, &mut triangles), Some(0));
        triangles.pop();
        let before = triangles.clone();
        assert_eq!(close(&corners, &mut triangles), None);
        assert_eq!(triangles, before);
    }

    #[test]
    fn a_band_with_one_side_cannot_be_closed() {
        // The real projective plane on six corners: every edge in two triangles, but no two sides.
        let corners: Vec<Point3<f64>> =
            (0..6_i32).map(|i| Point3::from([0, 1, 2].map(|k| f64::from((i * i + k) % 5)))).collect();
        let mut triangles: Vec<[u32; 3]> = [
            [0, 1, 2],
            [0, 2, 3],
            [0, 3, 4],
            [0, 4, 5],
            [0, 5, 1],
            [1, 2, 4],
            [2, 3, 5],
            [3, 4, 1],
            [4, 5, 2],
            [5, 1, 3],
        ]
        .to_vec();
        assert_eq!(close(&corners, &mut triangles), None);
    }
}
