//! Decides whether clamps press a part against its locators, with a rigid part, and which clamp lifts it off which locator.
//!
//! Clamps that lift the part off a locator are found by the motion that follows them most while no locator is passed: a linear
//! programme over small motions. By its dual, no such motion exists exactly where locators can answer the clamps with forces that
//! only push (pins may pull as well): `carrying` finds these. Friction, which holds back small pushes in practice, cannot be relied on to
//! seat a part; `friction` says from which coefficient on it could.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};
use nalgebra::{Point3, Vector3, Vector6};

use super::contact::{Contact, about, wrench};
use super::friction::held_from;
use super::locating::spread;
use crate::cell::Body;

/// A motion that opens a contact by less than this share of the greatest motion does not count as lifting.
const LIFTS_FROM: f64 = 1e-6;
/// Gravity, m/s².
const GRAVITY: f64 = 9.806_65;

/// What some clamps do.
#[derive(Clone, Debug, PartialEq)]
pub struct Pressing {
    /// Indices of the clamps that are closed.
    pub closed: Vec<usize>,
    /// Whether the part is welded so; else it is being loaded.
    pub welding: bool,
    /// How they move the part without friction; none where it stays.
    pub moved: Option<Moved>,
}

/// How a part goes off its locators.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Contacts that it leaves.
    pub lifted: Vec<usize>,
    /// Whether it must leave all of these; else one or another of them.
    pub surely: bool,
    /// Indices of the clamps that push that way.
    pub by: Vec<usize>,
    /// From which coefficient of friction on the part could stay; none where bare steel is not rough enough.
    pub friction: Option<f64>,
}

/// Which way weight pulls, unit vectors in the station frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Downs {
    /// While the part is loaded.
    pub loading: Vector3<f64>,
    /// While it is welded, in every place in which it is.
    pub welding: Vec<Vector3<f64>>,
}

/// While it is loaded all clamps up to each in closing order, without clamps the part's weight by itself; then all of it
/// while it is welded, in the first place where that moves the part, where it does in any. A part without a mass has no weight.
#[must_use]
pub fn pressing(body: &Body, contacts: &[Contact], downs: &Downs) -> Vec<Pressing> {
    let press = |closed: Vec<usize>, down: &Vector3<f64>, welding: bool| {
        let load = load(body, &closed, down);
        let moved = follows(contacts, &load).map(|motion| moved(body, contacts, &closed, &load, &motion));
        Pressing { closed, welding, moved }
    };
    let loading = turns(body).into_iter().map(|closed| press(closed, &downs.loading, false));
    let all: Vec<usize> = (0..body.clamps.len()).collect();
    let tilted = downs.welding.iter().filter(|_| body.mass.is_some());
    let welding = tilted.map(|down| press(all.clone(), down, true)).find(|press| press.moved.is_some());
    loading.chain(welding).collect()
}

/// Clamps that would lift the part if they were closed by themselves, though others are closed before them: the order counts.
#[must_use]
pub fn lifting_alone(body: &Body, contacts: &[Contact], downs: &Downs) -> Vec<Pressing> {
    let alone = (1..body.clamps.len()).map(|clamp| vec![clamp]);
    alone
        .filter_map(|closed| {
            let load = load(body, &closed, &downs.loading);
            let motion = follows(contacts, &load)?;
            let moved = Some(moved(body, contacts, &closed, &load, &motion));
            Some(Pressing { closed, welding: false, moved })
        })
        .collect()
}

/// The same as [`pressing`], but only whether the part moves.
pub(super) fn moves(body: &Body, contacts: &[Contact], downs: &Downs) -> Vec<bool> {
    let moves =
        |closed: &[usize], down: &Vector3<f64>| follows(contacts, &load(body, closed, down)).is_some();
    let loading: Vec<bool> = turns(body).iter().map(|closed| moves(closed, &downs.loading)).collect();
    let all: Vec<usize> = (0..body.clamps.len()).collect();
    let tilted = downs.welding.iter().filter(|_| body.mass.is_some());
    loading.into_iter().chain(tilted.map(|down| moves(&all, down))).collect()
}

/// Which clamps are closed together, as they are closed one after another.
fn turns(body: &Body) -> Vec<Vec<usize>> {
    let count = body.clamps.len();
    // Without a clamp only its weight holds it.
    let by_weight = (count == 0 && body.mass.is_some()).then(Vec::new);
    let in_order = (1..=count).map(|upto| (0..upto).collect());
    by_weight.into_iter().chain(in_order).collect()
}

/// All that presses a body when these clamps are closed: force and moment about the station's origin.
pub(super) fn load(body: &Body, closed: &[usize], down: &Vector3<f64>) -> Vector6<f64> {
    /// Share of what is added up below which a sum is what rounding left of clamps that hold each other.
    const DUST: f64 = 1e-12;
    let clamps = closed.iter().map(|clamp| push(body, *clamp));
    let weight = body.mass.iter().map(|(mass, centre)| wrench(centre, down) * (mass * GRAVITY));
    let all: Vec<Vector6<f64>> = clamps.chain(weight).collect();
    let sum: Vector6<f64> = all.iter().sum();
    let added: Vector6<f64> = all.iter().map(|part| part.abs()).sum();
    sum.zip_map(&added, |sum, added| if sum.abs() < DUST * added { 0.0 } else { sum })
}

fn push(body: &Body, clamp: usize) -> Vector6<f64> {
    let clamp = &body.clamps[clamp];
    wrench(&clamp.at, &clamp.direction) * clamp.force
}

/// What follows from the motion that follows the load.
fn moved(
    body: &Body,
    contacts: &[Contact],
    closed: &[usize],
    load: &Vector6<f64>,
    motion: &Vector6<f64>,
) -> Moved {
    let pushing = || (0..contacts.len()).filter(|j| contacts[*j].one_sided);
    // Held on any of these, the part could not go.
    let must_open = |j: &usize| {
        let mut held = contacts.to_vec();
        held[*j].one_sided = false;
        follows(&held, load).is_none()
    };
    let must: Vec<usize> = pushing().filter(must_open).collect();
    let surely = !must.is_empty();
    let opens = |j: &usize| contacts[*j].row().dot(motion) > LIFTS_FROM * motion.norm();
    let lifted = if surely { must } else { pushing().filter(opens).collect() };
    let work = |clamp: &usize| push(body, *clamp).dot(motion);
    let most = closed.iter().map(work).fold(0.0, f64::max);
    let by = closed.iter().copied().filter(|clamp| work(clamp) > LIFTS_FROM * most).collect();
    Moved { lifted, surely, by, friction: held_from(contacts, load) }
}

/// Contacts and load about the middle of the scheme, moments in units of force at its size, so that a programme over them is
/// even.
pub(super) struct Balanced {
    pub(super) rows: Vec<Vector6<f64>>,
    /// Divided by `greatest`.
    pub(super) load: Vector6<f64>,
    pub(super) greatest: f64,
    pub(super) centre: Point3<f64>,
    pub(super) size: f64,
}

impl Balanced {
    pub(super) fn new(contacts: &[Contact], load: &Vector6<f64>) -> Self {
        let (centre, size) = spread(contacts);
        let rows = contacts.iter().map(|contact| about(&contact.row(), &centre, size)).collect();
        let load = about(load, &centre, size);
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

#[cfg(test)]
mod tests;
