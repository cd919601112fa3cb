//! Decides whether clamps press a part against its locators, without friction and with a rigid part.
//!
//! Clamps that lift the part off a locator are found by the motion that follows them most while no locator is passed: a linear
//! programme over small motions. By its dual, no such motion exists exactly where locators can answer the clamps with forces that
//! only push (pins may pull as well). Friction, which holds back small pushes in practice, is left out: it cannot be relied on
//! to seat a part.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};
use nalgebra::{Point3, Vector3, Vector6};

use super::contact::{Contact, wrench};
use super::locating::spread;
use crate::cell::Body;

/// A motion that opens a contact by less than this share of the greatest motion does not count as lifting.
const LIFTS_FROM: f64 = 1e-6;
/// Gravity, m/s².
const GRAVITY: f64 = 9.806_65;

/// What some clamps do.
#[derive(Clone, Debug)]
pub struct Pressing {
    /// Indices of the clamps that are closed.
    pub closed: Vec<usize>,
    /// Contacts that the part leaves when they close; empty where it stays.
    pub lifted: Vec<usize>,
    /// Whether they move the part, along its locators or off them.
    pub moves: bool,
    /// Force on each contact, N: the most even one where several are possible. None where the part moves.
    pub forces: Option<Vec<f64>>,
}

/// Each clamp alone, then all up to each in closing order, the last being all of them.
///
/// `down`: the way weight pulls, unit vector in the station frame. A part without a mass has no weight.
#[must_use]
pub fn pressing(body: &Body, contacts: &[Contact], down: &Vector3<f64>) -> Vec<Pressing> {
    let count = body.clamps.len();
    let alone = (0..count).map(|clamp| vec![clamp]);
    let in_order = (2..=count).map(|upto| (0..upto).collect());
    alone.chain(in_order).map(|closed| press(body, contacts, closed, down)).collect()
}

/// All that presses a body when these clamps are closed: force and moment about the station's origin.
pub(super) fn load(body: &Body, closed: &[usize], down: &Vector3<f64>) -> Vector6<f64> {
    let clamps = closed.iter().map(|clamp| {
        let clamp = &body.clamps[*clamp];
        wrench(&clamp.at, &clamp.direction) * clamp.force
    });
    let weight = body.mass.iter().map(|(mass, centre)| wrench(centre, down) * (mass * GRAVITY));
    clamps.chain(weight).sum()
}

fn press(body: &Body, contacts: &[Contact], closed: Vec<usize>, down: &Vector3<f64>) -> Pressing {
    let load = load(body, &closed, down);
    let moved = follows(contacts, &load);
    let lifted = moved.as_ref().map_or_else(Vec::new, |motion| {
        let opens =
            |contact: &Contact| contact.one_sided && contact.row().dot(motion) > LIFTS_FROM * motion.norm();
        (0..contacts.len()).filter(|j| opens(&contacts[*j])).collect()
    });
    let forces = if moved.is_none() { answer(contacts, &load) } else { None };
    Pressing { closed, lifted, moves: moved.is_some(), forces }
}

/// Contacts and load about the middle of the scheme, moments in units of force at its size, so that a programme over them is
/// even.
struct Balanced {
    rows: Vec<Vector6<f64>>,
    /// Divided by `greatest`.
    load: Vector6<f64>,
    greatest: f64,
    centre: Point3<f64>,
    size: f64,
}

impl Balanced {
    fn new(contacts: &[Contact], load: &Vector6<f64>) -> Self {
        let (centre, size) = spread(contacts);
        let shift = |of: &Vector6<f64>| {
            let force = Vector3::new(of[0], of[1], of[2]);
            let moment = (Vector3::new(of[3], of[4], of[5]) - centre.coords.cross(&force)) / size;
            Vector6::new(force.x, force.y, force.z, moment.x, moment.y, moment.z)
        };
        let rows = contacts.iter().map(|contact| shift(&contact.row())).collect();
        let load = shift(load);
        let greatest = load.amax().max(f64::MIN_POSITIVE);
        Self { rows, load: load / greatest, greatest, centre, size }
    }
}

/// The small motion that follows `load` and passes no locator, as `[v; ω]`; none where there is none.
fn follows(contacts: &[Contact], load: &Vector6<f64>) -> Option<Vector6<f64>> {
    let balanced = Balanced::new(contacts, load);
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let motion: [Variable; 6] = std::array::from_fn(|i| problem.add_var(balanced.load[i], (-1.0, 1.0)));
    for (row, contact) in balanced.rows.iter().zip(contacts) {
        let operation = if contact.one_sided { ComparisonOp::Ge } else { ComparisonOp::Eq };
        problem.add_constraint(motion.into_iter().zip(row.iter().copied()), operation, 0.0);
    }
    let solution = problem.solve().ok()?.into_solution().ok()?;
    if solution.objective() < LIFTS_FROM {
        return None;
    }
    let found = Vector6::from_fn(|i, _| solution[motion[i]]);
    // Back to the station's origin.
    let turn = Vector3::new(found[3], found[4], found[5]) / balanced.size;
    let slide = Vector3::new(found[0], found[1], found[2]) - turn.cross(&balanced.centre.coords);
    Some(Vector6::new(slide.x, slide.y, slide.z, turn.x, turn.y, turn.z))
}

/// Forces of the contacts that hold `load`, the least of those that can only push as great as can be; N.
fn answer(contacts: &[Contact], load: &Vector6<f64>) -> Option<Vec<f64>> {
    /// No contact carries more than so many times the load; without a bound opposed pins could press each other at will.
    const MOST: f64 = 1e6;
    let balanced = Balanced::new(contacts, load);
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let least = problem.add_var(1.0, (0.0, MOST));
    let forces: Vec<Variable> = contacts
        .iter()
        .map(|contact| problem.add_var(0.0, (if contact.one_sided { 0.0 } else { -MOST }, MOST)))
        .collect();
    for component in 0..6 {
        let terms = forces.iter().zip(&balanced.rows).map(|(force, row)| (*force, row[component]));
        problem.add_constraint(terms, ComparisonOp::Eq, -balanced.load[component]);
    }
    for (force, _) in forces.iter().zip(contacts).filter(|(_, contact)| contact.one_sided) {
        problem.add_constraint([(*force, 1.0), (least, -1.0)], ComparisonOp::Ge, 0.0);
    }
    let solution = problem.solve().ok()?.into_solution().ok()?;
    Some(forces.iter().map(|force| solution[*force] * balanced.greatest).collect())
}
