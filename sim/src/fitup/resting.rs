//! Decides on which of too many contacts a part comes to rest, and where, for given errors.
//!
//! Without friction clamps and weight carry the part as far along their push as its contacts let it: the `x` with the greatest `f·x`
//! among all `G x ≥ e` (pins: `=`), a linear programme in six unknowns. Six contacts that answer `f` by pushing are a rest; the part
//! lies on the one rest that passes no other contact. From any rest it is found by the dual simplex method (any textbook of linear
//! programming): the contact that is passed most takes the place of the one that lets go of its force first. Where `f` leaves a choice,
//! the part is taken to be pressed lightly against every contact, by weights that are unlike, so that no two rests are equal.

use std::collections::BTreeSet;

use nalgebra::{Matrix6, Vector6};

use super::contact::{Contact, about};
use super::locating::spread;

/// The light push against every contact, as a share of the load.
const LIGHTLY: f64 = 1e-6;
/// A contact that is passed by less is not passed, m.
const TOUCHED: f64 = 1e-12;
/// Forces that change by less than this share of another's do not change.
const NOTHING: f64 = 1e-9;
/// The part goes no farther than this before it meets its contacts, m, or m at the size of the scheme.
const FAR: f64 = 100.0;
/// More steps from one rest to the next are not taken.
const MOST_STEPS: usize = 1000;

/// What a part may lean against, and what pushes it. Unknowns are taken about the middle of the contacts, turns as motion at their
/// greatest distance from it.
#[derive(Clone, Debug)]
pub(super) struct Walls {
    rows: Vec<Vector6<f64>>,
    /// Those that hold both ways.
    pins: Vec<bool>,
    load: Vector6<f64>,
    /// `[v; ω]` about the station's origin from the unknowns.
    pub(super) origin_from_own: Matrix6<f64>,
}

/// Six walls in which the part rests.
#[derive(Clone, Debug)]
pub(super) struct Corner {
    /// Walls; from the number of contacts on they are those that stand far off.
    pub(super) on: [usize; 6],
    /// Unknowns for the errors of these walls.
    pub(super) inverse: Matrix6<f64>,
    /// Their forces.
    pub(super) forces: Vector6<f64>,
}

impl Walls {
    /// Contacts, pushed by `load` (force, then moment about the station's origin) and lightly against each.
    pub(super) fn new(contacts: &[Contact], load: &Vector6<f64>) -> Self {
        let (centre, size) = spread(contacts);
        let own = |of: &Vector6<f64>| about(of, &centre, size);
        let rows: Vec<Vector6<f64>> = contacts.iter().map(|contact| own(&contact.row())).collect();
        let load = own(load);
        let lightly: Vector6<f64> = rows
            .iter()
            .enumerate()
            .filter(|(j, _)| contacts[*j].one_sided)
            .map(|(j, row)| row * (1.0 + unlike(j)) * LIGHTLY * load.norm())
            .sum();
        let mut origin_from_own = Matrix6::identity();
        origin_from_own.view_mut((0, 3), (3, 3)).copy_from(&(centre.coords.cross_matrix() / size));
        origin_from_own.view_mut((3, 3), (3, 3)).scale_mut(1.0 / size);
        let pins = contacts.iter().map(|contact| !contact.one_sided).collect();
        Self { rows, pins, load: load - lightly, origin_from_own }
    }

    /// The same contacts, those in `held` from the other side as well, for a part that is carried along `way` instead
    /// (about the station's origin): their order is that of the contacts, then of `held`.
    pub(super) fn toward(&self, way: &Vector6<f64>, held: &[usize]) -> Self {
        let mut rows = self.rows.clone();
        rows.extend(held.iter().map(|j| -self.rows[*j]));
        let load = self.origin_from_own.transpose() * way;
        let lightly: Vector6<f64> =
            rows.iter().enumerate().map(|(j, row)| row * (1.0 + unlike(j)) * NOTHING * load.norm()).sum();
        Self {
            pins: vec![false; rows.len()],
            rows,
            load: load - lightly,
            origin_from_own: self.origin_from_own,
        }
    }

    /// Where walls that stand far off stop the part before it has met any contact.
    pub(super) fn far(&self) -> Corner {
        let away = self.load.map(|push| if push > 0.0 { -1.0 } else { 1.0 });
        Corner {
            on: std::array::from_fn(|i| self.rows.len() + i),
            inverse: Matrix6::from_diagonal(&away),
            forces: self.load.abs(),
        }
    }

    /// Whether contacts alone hold it there.
    pub(super) fn is_held(&self, corner: &Corner) -> bool {
        corner.on.iter().all(|wall| *wall < self.rows.len())
    }

    /// Goes on from a corner to the one in which the part rests for these errors; the place. None where contacts contradict.
    pub(super) fn settle(&self, corner: &mut Corner, errors: &[f64]) -> Option<Vector6<f64>> {
        for _ in 0..MOST_STEPS {
            let off = Vector6::from_fn(|k, _| errors.get(corner.on[k]).copied().unwrap_or(-FAR));
            let place = corner.inverse * off;
            let gap = |j: usize| self.rows[j].dot(&place) - errors[j];
            let pin = (0..self.rows.len()).find(|j| self.pins[*j] && !corner.on.contains(j));
            if let Some(j) = pin {
                let side = if gap(j) > 0.0 { -1.0 } else { 1.0 };
                if !self.swap(corner, j, side) && !self.swap(corner, j, -side) {
                    return None;
                }
                continue;
            }
            let mut most = (0, -TOUCHED);
            for j in 0..self.rows.len() {
                let gap = gap(j);
                if gap < most.1 && !corner.on.contains(&j) {
                    most = (j, gap);
                }
            }
            if most.1 == -TOUCHED {
                return Some(place);
            }
            if !self.swap(corner, most.0, 1.0) {
                return None;
            }
        }
        None
    }

    /// Lets the part lean against wall `j` in place of the wall that lets go first; whether one does. `side`: from which side.
    fn swap(&self, corner: &mut Corner, j: usize, side: f64) -> bool {
        let shares = corner.inverse.tr_mul(&self.rows[j]) * side;
        let holds = |k: &usize| {
            let wall = corner.on[*k];
            shares[*k] > NOTHING && !self.pins.get(wall).copied().unwrap_or(false)
        };
        let first = (0..6)
            .filter(holds)
            .map(|k| (k, corner.forces[k] / shares[k]))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((leaves, force)) = first else { return false };
        let own = corner.inverse.column(leaves) / shares[leaves];
        for k in 0..6 {
            if k != leaves {
                let mut column = corner.inverse.column_mut(k);
                column -= own * shares[k];
            }
        }
        corner.inverse.set_column(leaves, &(own * side));
        corner.forces -= shares * force;
        corner.forces[leaves] = force * side;
        corner.on[leaves] = j;
        true
    }

    /// Every corner that answers the load, from one that does; at most `most`, and whether that are all.
    pub(super) fn corners(&self, from: &Corner, most: usize) -> (Vec<Corner>, bool) {
        let key = |corner: &Corner| {
            let mut on = corner.on;
            on.sort_unstable();
            on
        };
        let mut known = BTreeSet::from([key(from)]);
        let mut found = vec![from.clone()];
        let mut next = 0;
        while next < found.len() {
            for j in (0..self.rows.len()).filter(|j| !self.pins[*j]) {
                let mut beside = found[next].clone();
                if !beside.on.contains(&j) && self.swap(&mut beside, j, 1.0) && known.insert(key(&beside)) {
                    if found.len() == most {
                        return (found, false);
                    }
                    found.push(beside);
                }
            }
            next += 1;
        }
        (found, true)
    }
}

/// Numbers from 0 to 1 without a pattern: multiples of the golden section.
fn unlike(j: usize) -> f64 {
    (j as f64 * 0.618_033_988_749_894_9).fract()
}
