//! Decides how a part comes to lie when locators, and the faces and holes that meet them, are not where they were drawn.
//!
//! First order: `G x = e`, with `G` the contact matrix, `x = [v; ω]` and `e` how far each contact is off along its direction. Six
//! contacts that fix the part give one answer. Of more than six, the part rests on those against which clamps and weight push it, which
//! `resting` finds. Where nothing pushes, or pins contradict each other, least squares stand in, and say so.

use std::sync::OnceLock;

use nalgebra::{DMatrix, DVector, Matrix6, Point3, Translation3, UnitQuaternion, Vector3, Vector6};
use seamwright_kinematics::Pose;

use super::contact::Contact;
use super::resting::{Corner, Walls};

/// Rests that are looked at for a worst case.
const MOST_RESTS: usize = 4000;

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

/// How a part finds where it rests.
#[derive(Clone, Debug)]
pub struct Seats {
    /// By what.
    pub seating: Seating,
    /// Where nothing is off.
    pub drawn: Rest,
    /// What decides, where clamps and weight do.
    pushed: Option<Pushed>,
}

#[derive(Clone, Debug)]
struct Pushed {
    walls: Walls,
    /// Where nothing is off.
    drawn: Corner,
    contacts: usize,
    /// Found when they are asked for.
    all: OnceLock<Vec<Rest>>,
}

/// One way to rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Rest {
    /// The contacts that it rests on: six, or all with least squares.
    pub on: Vec<usize>,
    /// `x` for the errors `e` of all contacts: six rows (m, then rad), a column a contact.
    pub displacement: DMatrix<f64>,
}

/// How the part finds where it rests; none where its contacts do not fix it.
#[must_use]
pub fn seats(contacts: &[Contact], load: &Vector6<f64>) -> Option<Seats> {
    if super::locating::locating(contacts).taken < 6 {
        return None;
    }
    let all: Vec<usize> = (0..contacts.len()).collect();
    let displacement = super::contact::matrix(contacts).pseudo_inverse(1e-12).ok()?;
    if contacts.len() == 6 {
        return Some(Seats { seating: Seating::Fixed, drawn: Rest { on: all, displacement }, pushed: None });
    }
    Some(match pushed(contacts, load) {
        Some(pushed) => {
            Seats { seating: Seating::Pushed, drawn: pushed.rest(&pushed.drawn), pushed: Some(pushed) }
        }
        None => Seats { seating: Seating::LeastSquares, drawn: Rest { on: all, displacement }, pushed: None },
    })
}

fn pushed(contacts: &[Contact], load: &Vector6<f64>) -> Option<Pushed> {
    if load.norm() == 0.0 {
        return None;
    }
    let walls = Walls::new(contacts, load);
    let mut drawn = walls.far();
    walls.settle(&mut drawn, &vec![0.0; contacts.len()])?;
    let is_held = walls.is_held(&drawn);
    is_held.then(|| Pushed { walls, drawn, contacts: contacts.len(), all: OnceLock::new() })
}

impl Pushed {
    fn rest(&self, corner: &Corner) -> Rest {
        let inverse = self.walls.origin_from_own * corner.inverse;
        let mut displacement = DMatrix::zeros(6, self.contacts);
        for (column, contact) in corner.on.iter().enumerate() {
            displacement.column_mut(*contact).copy_from(&inverse.column(column));
        }
        let mut on = corner.on.to_vec();
        on.sort_unstable();
        Rest { on, displacement }
    }
}

impl Seats {
    /// The way to rest for these errors of the contacts, m.
    #[must_use]
    pub fn rest_for(&self, errors: &[f64]) -> Rest {
        let Some(pushed) = &self.pushed else { return self.drawn.clone() };
        let mut corner = pushed.drawn.clone();
        match pushed.walls.settle(&mut corner, errors) {
            Some(_) => pushed.rest(&corner),
            None => self.drawn.clone(),
        }
    }

    /// Where the part comes to lie for these errors: `[v; ω]`.
    #[must_use]
    pub fn place(&self, errors: &[f64]) -> Vector6<f64> {
        let settled = self.pushed.as_ref().and_then(|pushed| {
            let place = pushed.walls.settle(&mut pushed.drawn.clone(), errors)?;
            Some(pushed.walls.origin_from_own * place)
        });
        settled.unwrap_or_else(|| {
            let place = &self.drawn.displacement * DVector::from_column_slice(errors);
            Vector6::from_fn(|row, _| place[row])
        })
    }

    /// Every rest that some errors lead to, the first 4000 of them.
    #[must_use]
    pub fn rests(&self) -> &[Rest] {
        let Some(pushed) = &self.pushed else { return std::slice::from_ref(&self.drawn) };
        pushed.all.get_or_init(|| {
            let (corners, _) = pushed.walls.corners(&pushed.drawn, MOST_RESTS);
            corners.iter().map(|corner| pushed.rest(corner)).collect()
        })
    }

    /// How far `way · x` comes at most on a rest, with every contact off by `low` to `high` and none passed; none where that is not
    /// bounded.
    #[must_use]
    pub fn farthest(&self, rest: &Rest, way: &Vector6<f64>, [low, high]: [&[f64]; 2]) -> Option<f64> {
        let walls = self.pushed.as_ref()?.walls.toward(way, &rest.on);
        let errors: Vec<f64> = low.iter().copied().chain(rest.on.iter().map(|j| -high[*j])).collect();
        let mut corner = walls.far();
        let place = walls.settle(&mut corner, &errors)?;
        walls.is_held(&corner).then(|| way.dot(&(walls.origin_from_own * place)))
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
