//! Decides which edges of a solid are near something, by balls about more and more of them.

use std::ops::Range;

use nalgebra::{Point3, Vector3};

/// So many edges are looked at one by one.
const FEW: usize = 4;

/// Edges in the frame of their solid.
pub(super) struct Edges {
    lines: Vec<[Point3<f64>; 2]>,
    /// The first holds all; none where there are no edges.
    groups: Vec<Group>,
}

/// Some edges and a ball about them.
pub(super) struct Group {
    pub(super) middle: Point3<f64>,
    pub(super) radius: f64,
    pub(super) holds: Held,
}

/// What a group is made of.
#[derive(Clone)]
pub(super) enum Held {
    /// Two groups, by index.
    Groups([usize; 2]),
    /// Edges, by index.
    Edges(Range<usize>),
}

impl Edges {
    pub(super) fn new(mut lines: Vec<[Point3<f64>; 2]>) -> Self {
        let mut groups = Vec::new();
        if !lines.is_empty() {
            let count = lines.len();
            grouped(&mut lines, 0..count, &mut groups);
        }
        Self { lines, groups }
    }

    pub(super) fn group(&self, index: usize) -> Option<&Group> {
        self.groups.get(index)
    }

    pub(super) fn line(&self, index: usize) -> [Point3<f64>; 2] {
        self.lines[index]
    }
}

/// Groups the edges of a range, which it sorts, and says which group holds them all.
fn grouped(lines: &mut [[Point3<f64>; 2]], range: Range<usize>, groups: &mut Vec<Group>) -> usize {
    let own = &mut lines[range.clone()];
    let ends = || own.iter().flatten();
    let low = ends().fold(Vector3::repeat(f64::INFINITY), |low, end| low.inf(&end.coords));
    let high = ends().fold(Vector3::repeat(f64::NEG_INFINITY), |high, end| high.sup(&end.coords));
    let middle = Point3::from((low + high) / 2.0);
    let radius = ends().map(|end| (end - middle).norm()).fold(0.0, f64::max);
    let index = groups.len();
    groups.push(Group { middle, radius, holds: Held::Edges(range.clone()) });
    if range.len() > FEW {
        let axis = (high - low).imax();
        own.sort_by(|a, b| (a[0][axis] + a[1][axis]).total_cmp(&(b[0][axis] + b[1][axis])));
        let half = range.start + range.len() / 2;
        let parts = [range.start..half, half..range.end].map(|part| grouped(lines, part, groups));
        groups[index].holds = Held::Groups(parts);
    }
    index
}
