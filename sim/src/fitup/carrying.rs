//! Decides with which forces contacts hold a load without friction: one answer, and from where to where each force may lie.
//!
//! Six contacts or fewer leave one answer at most. Of more, statics allow many; which one comes about depends on how stiff part and
//! fixture are and on friction, so that a single answer is one of many, and only the bounds are certain.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};
use nalgebra::{Vector3, Vector6};

use super::contact::Contact;
use super::pressing::{Balanced, load};
use crate::cell::Body;

/// A force below this share of the load is none.
const NOTHING: f64 = 1e-6;
/// No contact carries more than so many times the load; without a bound opposed contacts could press each other at will.
const MOST: f64 = 1e4;

/// The force of one contact, N.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carried {
    /// Of the most even answer: the least of those that only push is as great as can be. Where some cannot be pressed at all, as many
    /// others as can be are.
    pub even: f64,
    /// Least that statics allow; none where pins may pull at each other at will.
    pub least: Option<f64>,
    /// Most; none where opposed contacts may press each other at will.
    pub most: Option<f64>,
    /// Most where no more forces act than hold the load: what contacts press each other with for nothing is not pressed by a clamp.
    pub by_load: f64,
}

/// Whether a contact is pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pressed {
    /// Whatever part and fixture are like.
    Surely,
    /// That depends on how stiff they are, and on friction.
    Perhaps,
    /// By nothing.
    Not,
}

/// What each contact carries with all clamps closed, without a clamp by the part's weight; none where neither is known, or where the part
/// does not stay.
#[must_use]
pub fn carried(body: &Body, contacts: &[Contact], down: &Vector3<f64>) -> Option<Vec<Carried>> {
    if body.clamps.is_empty() && body.mass.is_none() {
        return None;
    }
    let all: Vec<usize> = (0..body.clamps.len()).collect();
    let load = load(body, &all, down);
    let bounds: Option<Vec<[Option<f64>; 2]>> =
        (0..contacts.len()).map(|j| bounds(contacts, &load, j)).collect();
    let bounds = bounds?;
    let least =
        if bounds.iter().any(|[_, most]| most.is_none()) { Some(least_sum(contacts, &load)?) } else { None };
    let even = evenly(contacts, &load)?;
    let mut all = Vec::with_capacity(contacts.len());
    for (j, (even, [least_of, most])) in even.into_iter().zip(bounds).enumerate() {
        let by_load = match (most, least) {
            (None, Some(least)) => by_load(contacts, &load, j, least)?,
            (most, _) => most.unwrap_or_default(),
        };
        all.push(Carried { even, least: least_of, most, by_load });
    }
    Some(all)
}

impl Carried {
    /// Whether the contact is pressed; `greatest`: force of any.
    #[must_use]
    pub fn pressed(&self, greatest: f64) -> Pressed {
        let some = |force: f64| force > NOTHING * greatest;
        if self.least.is_some_and(some) {
            Pressed::Surely
        } else if some(self.by_load) {
            Pressed::Perhaps
        } else {
            Pressed::Not
        }
    }

    /// Whether statics leave it open; `greatest`: force of any.
    #[must_use]
    pub fn is_open(&self, greatest: f64) -> bool {
        let range = self.most.zip(self.least);
        range.is_none_or(|(most, least)| most - least > NOTHING * greatest)
    }
}

/// Forces that hold `load`, N.
fn evenly(contacts: &[Contact], load: &Vector6<f64>) -> Option<Vec<f64>> {
    /// Share of the load that a contact carries at least where it can, once some cannot.
    const SMALL: f64 = 1e-3;
    let evenly = answer(contacts, load, Aim::Evenly)?;
    let pushes = evenly.iter().zip(contacts).filter(|(_, contact)| contact.one_sided);
    let least = pushes.fold(f64::INFINITY, |least, (force, _)| least.min(*force));
    let most = evenly.iter().fold(0.0_f64, |most, force| most.max(force.abs()));
    if least > NOTHING * most {
        Some(evenly)
    } else {
        answer(contacts, load, Aim::AsManyAsCan { share: SMALL })
    }
}

/// Which of many possible answers is wanted.
#[derive(Clone, Copy)]
enum Aim {
    /// The least force as great as can be.
    Evenly,
    /// As many contacts as can be carry this share of the load.
    AsManyAsCan { share: f64 },
}

fn answer(contacts: &[Contact], load: &Vector6<f64>, aim: Aim) -> Option<Vec<f64>> {
    /// What a pin's force is charged: little against what any contact is worth.
    const PIN: f64 = 1e-5;
    let balanced = Balanced::new(contacts, load);
    let (mut problem, forces) = balance(contacts, &balanced, &|_| 0.0);
    let all = problem.add_var(if matches!(aim, Aim::Evenly) { 1.0 } else { 0.0 }, (0.0, MOST));
    for (force, contact) in forces.iter().zip(contacts) {
        if contact.one_sided {
            let least = match aim {
                Aim::Evenly => all,
                Aim::AsManyAsCan { share } => problem.add_var(1.0, (0.0, share)),
            };
            problem.add_constraint([(*force, 1.0), (least, -1.0)], ComparisonOp::Ge, 0.0);
        } else {
            // Pins that press each other for nothing are no answer.
            let strength = problem.add_var(-PIN, (0.0, MOST));
            problem.add_constraint([(strength, 1.0), (*force, -1.0)], ComparisonOp::Ge, 0.0);
            problem.add_constraint([(strength, 1.0), (*force, 1.0)], ComparisonOp::Ge, 0.0);
        }
    }
    let solution = problem.solve().ok()?.into_solution().ok()?;
    Some(forces.iter().map(|force| solution[*force] * balanced.greatest).collect())
}

/// Least and most that one contact can carry, N, where these are bounded.
fn bounds(contacts: &[Contact], load: &Vector6<f64>, of: usize) -> Option<[Option<f64>; 2]> {
    let balanced = Balanced::new(contacts, load);
    let farthest = |way: f64| {
        let (problem, forces) = balance(contacts, &balanced, &|j| if j == of { way } else { 0.0 });
        let solution = problem.solve().ok()?.into_solution().ok()?;
        Some(solution[forces[of]])
    };
    // At the bound it is the bound that holds it.
    let bounded = |force: f64| (force.abs() < 0.5 * MOST).then_some(force * balanced.greatest);
    Some([bounded(farthest(-1.0)?), bounded(farthest(1.0)?)])
}

/// Least sum of all forces that hold the load, in shares of it.
fn least_sum(contacts: &[Contact], load: &Vector6<f64>) -> Option<f64> {
    let balanced = Balanced::new(contacts, load);
    let (mut problem, forces) = balance(contacts, &balanced, &|_| 0.0);
    strengths(&mut problem, &forces, -1.0);
    Some(-problem.solve().ok()?.into_solution().ok()?.objective())
}

/// Most that one contact carries, N, where all forces together are no more than `least`.
fn by_load(contacts: &[Contact], load: &Vector6<f64>, of: usize, least: f64) -> Option<f64> {
    let balanced = Balanced::new(contacts, load);
    let (mut problem, forces) = balance(contacts, &balanced, &|j| if j == of { 1.0 } else { 0.0 });
    let all = strengths(&mut problem, &forces, 0.0);
    let sum = all.into_iter().map(|strength| (strength, 1.0));
    problem.add_constraint(sum, ComparisonOp::Le, least + 0.1 * NOTHING * (1.0 + least));
    Some(problem.solve().ok()?.into_solution().ok()?[forces[of]] * balanced.greatest)
}

/// How strong each force is, whichever way it acts; `worth`: of a unit of each.
fn strengths(problem: &mut Problem, forces: &[Variable], worth: f64) -> Vec<Variable> {
    let strength = |force: &Variable| {
        let strength = problem.add_var(worth, (0.0, MOST));
        problem.add_constraint([(strength, 1.0), (*force, -1.0)], ComparisonOp::Ge, 0.0);
        problem.add_constraint([(strength, 1.0), (*force, 1.0)], ComparisonOp::Ge, 0.0);
        strength
    };
    forces.iter().map(strength).collect()
}

/// A programme over forces that hold the load; `worth`: of each contact's force.
fn balance(
    contacts: &[Contact],
    balanced: &Balanced,
    worth: &dyn Fn(usize) -> f64,
) -> (Problem, Vec<Variable>) {
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let forces: Vec<Variable> = contacts
        .iter()
        .enumerate()
        .map(|(j, contact)| problem.add_var(worth(j), (if contact.one_sided { 0.0 } else { -MOST }, MOST)))
        .collect();
    for component in 0..6 {
        let terms = forces.iter().zip(&balanced.rows).map(|(force, row)| (*force, row[component]));
        problem.add_constraint(terms, ComparisonOp::Eq, -balanced.load[component]);
    }
    (problem, forces)
}
