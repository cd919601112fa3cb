//! Decides how a part comes to lie when locators, and the faces and holes that meet them, are not where they were drawn.
//!
//! First order: `G x = e`, with `G` the contact matrix, `x = [v; ω]` and `e` how far each contact is off along its direction. Six
//! contacts that fix the part give one answer. Of more than six, the part rests on those against which clamps and weight push it:
//! without friction the work `f·x` is then greatest among all places that pass no locator, `G x ≥ e`. By the duality of linear
//! programmes that place is the one, of all that rest on six contacts which answer `f` with forces `λ ≥ 0`, for which `λ·e` is
//! greatest: few enough to be listed. Where nothing pushes, or pins contradict each other, least squares stand in, and say so.

use nalgebra::{DMatrix, Matrix6, Point3, Translation3, UnitQuaternion, Vector3, Vector6};
use seamwright_kinematics::Pose;

use super::contact::Contact;

/// More contacts than these are not listed six by six.
const MOST_CONTACTS: usize = 14;
/// Of more than six contacts, six with a smaller determinant (turns scaled by the size of the scheme) are no way to rest.
const LEAST_DETERMINANT: f64 = 1e-9;

/// How a part finds its place among its contacts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seating {
    /// Its contacts leave one place only.
    Fixed,
    /// Clamps and weight decide on which of too many contacts it rests.
    Pushed,
    /// Least squares over all contacts: no part really lies like that, but none lies farther off than its errors.
    LeastSquares,
}

/// The places at which a part may come to rest.
#[derive(Clone, Debug)]
pub struct Seats {
    /// How it finds among them.
    pub seating: Seating,
    /// At least one.
    pub rests: Vec<Rest>,
}

/// One way to rest.
#[derive(Clone, Debug)]
pub struct Rest {
    /// The contacts that it rests on: six, or all with least squares.
    pub on: Vec<usize>,
    /// `x` for the errors `e` of all contacts: six rows (m, then rad), a column a contact.
    pub displacement: DMatrix<f64>,
    /// Forces of the contacts for the load, as shares; zero where the part does not rest.
    pub forces: Vec<f64>,
}

/// The places at which a part may rest; none where its contacts do not fix it.
#[must_use]
pub fn seats(contacts: &[Contact], load: &Vector6<f64>) -> Option<Seats> {
    let rows: Vec<Vector6<f64>> = contacts.iter().map(Contact::row).collect();
    let (_, size) = super::locating::spread(contacts);
    let all: Vec<usize> = (0..contacts.len()).collect();
    if super::locating::locating(contacts).taken < 6 {
        return None;
    }
    if contacts.len() == 6 {
        let rest = rest_on(&rows, &all, &Vector6::zeros())?;
        return Some(Seats { seating: Seating::Fixed, rests: vec![rest] });
    }
    let rests = if load.norm() > 0.0 && contacts.len() <= MOST_CONTACTS {
        pushed(contacts, &rows, size, load)
    } else {
        Vec::new()
    };
    if !rests.is_empty() {
        return Some(Seats { seating: Seating::Pushed, rests });
    }
    let matrix = super::contact::matrix(contacts);
    let displacement = matrix.pseudo_inverse(1e-12).ok()?;
    let forces = vec![0.0; contacts.len()];
    let rest = Rest { on: all, displacement, forces };
    Some(Seats { seating: Seating::LeastSquares, rests: vec![rest] })
}

/// All ways to rest on six contacts, every pin among them, that answer the load by pushing.
fn pushed(contacts: &[Contact], rows: &[Vector6<f64>], size: f64, load: &Vector6<f64>) -> Vec<Rest> {
    let pins: Vec<usize> = (0..contacts.len()).filter(|j| !contacts[*j].one_sided).collect();
    let others: Vec<usize> = (0..contacts.len()).filter(|j| contacts[*j].one_sided).collect();
    let Some(wanted) = 6_usize.checked_sub(pins.len()) else { return Vec::new() };
    let mut rests = Vec::new();
    for chosen in choices(others.len(), wanted) {
        let mut on: Vec<usize> = pins.iter().copied().chain(chosen.iter().map(|i| others[*i])).collect();
        on.sort_unstable();
        let six = Matrix6::from_fn(|row, column| rows[on[row]][column]);
        if (six.determinant() / size.powi(3)).abs() < LEAST_DETERMINANT {
            continue;
        }
        let Some(rest) = rest_on(rows, &on, load) else { continue };
        let greatest = rest.forces.iter().fold(0.0_f64, |most, force| most.max(force.abs()));
        if on.iter().all(|j| !contacts[*j].one_sided || rest.forces[*j] >= -1e-9 * greatest) {
            rests.push(rest);
        }
    }
    rests
}

/// Every way to choose `count` of `of` things, in order.
fn choices(of: usize, count: usize) -> Vec<Vec<usize>> {
    if count == 0 {
        return vec![Vec::new()];
    }
    if of < count {
        return Vec::new();
    }
    let mut all = choices(of - 1, count);
    all.extend(choices(of - 1, count - 1).into_iter().map(|mut chosen| {
        chosen.push(of - 1);
        chosen
    }));
    all
}

/// The rest on these six contacts; none where they do not fix the part.
fn rest_on(rows: &[Vector6<f64>], on: &[usize], load: &Vector6<f64>) -> Option<Rest> {
    let matrix = Matrix6::from_fn(|row, column| rows[on[row]][column]);
    let inverse = matrix.try_inverse()?;
    let answer = -(inverse.transpose() * load);
    let mut displacement = DMatrix::zeros(6, rows.len());
    let mut forces = vec![0.0; rows.len()];
    for (column, contact) in on.iter().enumerate() {
        displacement.column_mut(*contact).copy_from(&inverse.column(column));
        forces[*contact] = answer[column];
    }
    Some(Rest { on: on.to_vec(), displacement, forces })
}

impl Seats {
    /// The way to rest for these errors: index among the rests. Of equals the first.
    #[must_use]
    pub fn rest_for(&self, errors: &[f64]) -> usize {
        let work = |rest: &Rest| -> f64 { rest.forces.iter().zip(errors).map(|(force, e)| force * e).sum() };
        let mut best = 0;
        for index in 1..self.rests.len() {
            if work(&self.rests[index]) > work(&self.rests[best]) {
                best = index;
            }
        }
        best
    }
}

/// Displacement of the point `at` for `x = [v; ω]`: `v + ω × p`, as a matrix.
#[must_use]
pub fn at_point(at: &Point3<f64>) -> DMatrix<f64> {
    let cross = -at.coords.cross_matrix();
    DMatrix::from_fn(3, 6, |row, column| match column {
        0..3 => f64::from(u8::from(row == column)),
        _ => cross[(row, column - 3)],
    })
}

/// The exact place of a rigid part with plane faces that rests on six contacts with these errors: `station_from_part`, the part
/// drawn in the station frame. None where Newton's method does not settle.
///
/// Contact `j` has moved to `p + e n`, and the face of the part that was drawn through `p` square to `n` must go through it.
#[must_use]
pub fn exact(contacts: &[Contact], rest: &Rest, errors: &[f64]) -> Option<Pose> {
    if rest.on.len() != 6 {
        return None;
    }
    let mut pose = Pose::identity();
    for _ in 0..30 {
        let mut matrix = Matrix6::zeros();
        let mut missing = Vector6::zeros();
        for (row, j) in rest.on.iter().enumerate() {
            let contact = &contacts[*j];
            let tip = contact.at + contact.direction * errors[*j];
            let face = pose.rotation * contact.direction;
            missing[row] = contact.direction.dot(&(pose.inverse() * tip - contact.at));
            matrix.set_row(row, &super::contact::wrench(&tip, &face).transpose());
        }
        let step = matrix.try_inverse()? * missing;
        let turn = UnitQuaternion::from_scaled_axis(Vector3::new(step[3], step[4], step[5]));
        pose = Pose::from_parts(Translation3::new(step[0], step[1], step[2]), turn) * pose;
        if step.amax() < 1e-14 {
            return Some(pose);
        }
        if !step.amax().is_finite() {
            return None;
        }
    }
    (errors.iter().all(|e| e.abs() < 1.0)).then_some(pose)
}
