//! Decides whether locators fix a part, which motion is left where they do not, and which of them are too many.
//!
//! Small motions only, contacts taken as holding both ways: whether something presses the part against them is `pressing`'s to
//! say. Turns are scaled with the size of the locating scheme, so that metres and radians compare.

use nalgebra::{DMatrix, Point3, Vector3, Vector6};

use super::contact::{Contact, matrix};

/// Singular values below this share of the greatest count as none.
const RANK_FROM: f64 = 1e-6;
/// Entries below this count as zero where motions are put in words.
const NOTHING: f64 = 1e-6;

/// What locators do to a body.
#[derive(Clone, Debug)]
pub struct Locating {
    /// Freedoms that they take, 0 to 6.
    pub taken: usize,
    /// Whether the one motion left is the turn of a round part about its own line, which changes nothing.
    pub turns_in_itself: bool,
    /// The motions left, each as simple as can be.
    pub free: Vec<FreeMotion>,
    /// Contacts that hold what others hold already, group by group: indices of contacts, and with which weight the errors of
    /// each make the misfit.
    pub fighting: Vec<Vec<(usize, f64)>>,
    /// How well the scheme is spread: least over greatest singular value, turns scaled by its size. 0 where a freedom is left.
    pub evenness: f64,
}

/// A motion that no locator stops.
#[derive(Clone, Debug, PartialEq)]
pub enum FreeMotion {
    /// Straight.
    Slide {
        /// Unit vector, station frame.
        along: Vector3<f64>,
    },
    /// About a line, perhaps sliding along it as well.
    Turn {
        /// Unit vector along the line.
        about: Vector3<f64>,
        /// A point of the line, the nearest to the middle of the locators.
        through: Point3<f64>,
        /// Slide along the line for each radian, m.
        pitch: f64,
    },
}

impl Locating {
    /// Whether every motion is taken that changes anything.
    #[must_use]
    pub fn fixes(&self) -> bool {
        self.taken == 6 || self.turns_in_itself
    }
}

/// What these contacts do.
#[must_use]
pub fn locating(contacts: &[Contact]) -> Locating {
    let (centre, size) = spread(contacts);
    let scaled = scaled(contacts, &centre, size);
    // With as many rows as columns the decomposition has all right vectors.
    let rows = scaled.nrows().max(6);
    let svd = scaled.clone().resize(rows, 6, 0.0).svd(true, true);
    let greatest = svd.singular_values.max();
    let is_none = |value: f64| value <= RANK_FROM * greatest;
    let taken = svd.singular_values.iter().filter(|value| !is_none(**value)).count();
    let rest = |vectors: Option<DMatrix<f64>>| {
        let vectors = vectors.unwrap_or_else(|| DMatrix::identity(6, 6));
        let kept: Vec<usize> = (0..6).filter(|i| is_none(svd.singular_values[*i])).collect();
        DMatrix::from_fn(kept.len(), vectors.ncols(), |row, column| vectors[(kept[row], column)])
    };
    let free = free_motions(&rest(svd.v_t.clone()), &centre, size);
    let least = svd.singular_values.min();
    Locating {
        taken,
        turns_in_itself: false,
        free,
        fighting: fighting(&scaled),
        evenness: if taken == 6 { least / greatest } else { 0.0 },
    }
}

/// Middle of the contacts, and their greatest distance from it (1 m where there is none).
pub(super) fn spread(contacts: &[Contact]) -> (Point3<f64>, f64) {
    let count = contacts.len().max(1) as f64;
    let centre = contacts.iter().map(|contact| contact.at.coords).sum::<Vector3<f64>>() / count;
    let size = contacts.iter().map(|contact| (contact.at.coords - centre).norm()).fold(0.0, f64::max);
    (Point3::from(centre), if size > NOTHING { size } else { 1.0 })
}

/// The contact matrix about `centre`, turns in units of motion at the distance `size`.
fn scaled(contacts: &[Contact], centre: &Point3<f64>, size: f64) -> DMatrix<f64> {
    let about: Vec<Contact> = contacts
        .iter()
        .map(|contact| Contact { at: Point3::from(contact.at - centre), ..contact.clone() })
        .collect();
    let mut scaled = matrix(&about);
    scaled.columns_mut(3, 3).scale_mut(1.0 / size);
    scaled
}

/// The motions of the rows of `basis` (v, size·ω), the turning ones first reduced to as few axes as can be.
fn free_motions(basis: &DMatrix<f64>, centre: &Point3<f64>, size: f64) -> Vec<FreeMotion> {
    // Turns first: then what has no turn left is a slide.
    let mut rows = DMatrix::from_fn(basis.nrows(), 6, |row, column| basis[(row, (column + 3) % 6)]);
    reduce(&mut rows);
    let mut motions: Vec<FreeMotion> = Vec::new();
    for row in rows.row_iter() {
        let turn = Vector3::new(row[0], row[1], row[2]) / size;
        let slide = Vector3::new(row[3], row[4], row[5]);
        let strength = turn.norm() * size;
        if strength < NOTHING {
            if slide.norm() > NOTHING {
                motions.push(FreeMotion::Slide { along: tidy(slide) });
            }
            continue;
        }
        // The line of points that the motion only moves along itself.
        let foot = turn.cross(&slide) / turn.norm_squared();
        let pitch = turn.dot(&slide) / turn.norm_squared();
        motions.push(FreeMotion::Turn {
            about: tidy(turn),
            through: centre + foot,
            pitch: if pitch.abs() < NOTHING * size { 0.0 } else { pitch },
        });
    }
    // Slides are the simpler thing to say.
    motions.sort_by_key(|motion| matches!(motion, FreeMotion::Turn { .. }));
    motions
}

/// A unit vector without the dust of rounding.
fn tidy(vector: Vector3<f64>) -> Vector3<f64> {
    vector.normalize().map(|part| if part.abs() < NOTHING { 0.0 } else { part }).normalize()
}

/// Reduced row echelon form, in place, pivots by size.
fn reduce(rows: &mut DMatrix<f64>) {
    let mut top = 0;
    for column in 0..rows.ncols() {
        let Some(pivot) = (top..rows.nrows())
            .max_by(|a, b| rows[(*a, column)].abs().total_cmp(&rows[(*b, column)].abs()))
            .filter(|row| rows[(*row, column)].abs() > NOTHING)
        else {
            continue;
        };
        rows.swap_rows(top, pivot);
        let scale = rows[(top, column)];
        rows.row_mut(top).unscale_mut(scale);
        for other in (0..rows.nrows()).filter(|row| *row != top) {
            let share = rows[(other, column)];
            let taken = rows.row(top) * share;
            let mut row = rows.row_mut(other);
            row -= taken;
        }
        top += 1;
    }
}

/// Combinations of contacts that move together whatever the part does.
fn fighting(scaled: &DMatrix<f64>) -> Vec<Vec<(usize, f64)>> {
    // Rows of the transpose in reduced form: each column without a pivot depends on those with one.
    let mut reduced = scaled.transpose();
    reduce(&mut reduced);
    let contacts = reduced.ncols();
    let mut pivots = Vec::new();
    let mut groups = Vec::new();
    for column in 0..contacts {
        let top = pivots.len();
        let is_pivot = top < 6
            && (reduced[(top, column)] - 1.0).abs() < NOTHING
            && (0..6).all(|row| row == top || reduced[(row, column)].abs() < NOTHING);
        if is_pivot {
            pivots.push(column);
            continue;
        }
        let mut group: Vec<(usize, f64)> = pivots
            .iter()
            .enumerate()
            .map(|(row, pivot)| (*pivot, -reduced[(row, column)]))
            .filter(|(_, weight)| weight.abs() > NOTHING)
            .collect();
        group.push((column, 1.0));
        groups.push(group);
    }
    groups
}

/// A motion as `[v; ω]` about the station's origin, of unit turn or unit slide.
#[must_use]
pub fn twist(motion: &FreeMotion) -> Vector6<f64> {
    let (v, w) = match motion {
        FreeMotion::Slide { along } => (*along, Vector3::zeros()),
        FreeMotion::Turn { about, through, pitch } => (through.coords.cross(about) + about * *pitch, *about),
    };
    Vector6::new(v.x, v.y, v.z, w.x, w.y, w.z)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn contact(at: [f64; 3], direction: [f64; 3]) -> Contact {
        Contact { locator: 0, at: at.into(), direction: direction.into(), one_sided: true }
    }

    /// Three pads under a plate, two stops on a long edge, one on a short one.
    fn three_two_one() -> Vec<Contact> {
        vec![
            contact([0.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
            contact([0.3, 0.0, 0.0], [0.0, 0.0, 1.0]),
            contact([0.0, 0.2, 0.0], [0.0, 0.0, 1.0]),
            contact([0.05, -0.02, 0.01], [0.0, 1.0, 0.0]),
            contact([0.25, -0.02, 0.01], [0.0, 1.0, 0.0]),
            contact([-0.02, 0.1, 0.01], [1.0, 0.0, 0.0]),
        ]
    }

    #[test]
    fn three_two_one_leaves_nothing_free_and_nothing_fights() {
        let found = locating(&three_two_one());
        assert_eq!((found.taken, found.free.len(), found.fighting.len()), (6, 0, 0));
        assert!(found.evenness > 0.1, "{}", found.evenness);
    }

    #[test]
    fn without_the_end_stop_the_part_slides_along_x() {
        let found = locating(&three_two_one()[..5]);
        assert_eq!(found.free, [FreeMotion::Slide { along: Vector3::x() }]);
    }

    #[test]
    fn one_side_stop_alone_lets_the_part_slide_and_turn() {
        let found = locating(&three_two_one()[..4]);
        assert_eq!(found.taken, 4);
        let [FreeMotion::Slide { along }, FreeMotion::Turn { about, .. }] = found.free.as_slice() else {
            panic!("{:?}", found.free)
        };
        assert_eq!(*along, Vector3::x());
        assert_eq!(about.z.abs(), 1.0);
    }

    #[test]
    fn what_is_free_moves_no_contact() {
        for left_out in 0..6 {
            let mut contacts = three_two_one();
            contacts.remove(left_out);
            for motion in locating(&contacts).free {
                let twist = twist(&motion);
                for contact in &contacts {
                    assert!(contact.row().dot(&twist).abs() < 1e-9, "{motion:?} moves {contact:?}");
                }
            }
        }
    }

    #[test]
    fn a_fourth_pad_fights_the_other_three() {
        let mut contacts = three_two_one();
        contacts.push(contact([0.3, 0.2, 0.0], [0.0, 0.0, 1.0]));
        let found = locating(&contacts);
        assert_eq!(found.taken, 6);
        let [group] = found.fighting.as_slice() else { panic!("{:?}", found.fighting) };
        // The corners of a rectangle lie in one plane where z1 − z2 − z3 + z4 = 0.
        let weights: Vec<(usize, i32)> = group.iter().map(|(j, w)| (*j, w.round() as i32)).collect();
        assert_eq!(weights, [(0, 1), (1, -1), (2, -1), (6, 1)]);
    }
}
