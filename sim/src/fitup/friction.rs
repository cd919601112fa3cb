//! Decides from which coefficient of friction on a part could stay where clamps would otherwise push it off its locators.
//!
//! Coulomb's law at every pad, stop and flank of a vee, the cone of friction taken as a pyramid of eight sides inside it: so the
//! coefficient is right to 8 %, and never too small. That forces exist which would hold the part does not say that they come about: that
//! depends on stiffness and on the order of things. Pins and clamps are taken to be smooth.

use std::f64::consts::TAU;

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};
use nalgebra::{Point3, Unit, Vector3, Vector6};

use super::contact::{Contact, about, square_to, wrench};
use super::pressing::Balanced;

/// Sides of the pyramid.
const SIDES: usize = 8;
/// Largest coefficient that is looked at: bare dry steel on steel has hardly more (common practice, no source). Beyond it parts would be
/// held that jam themselves.
const ROUGHEST: f64 = 0.5;
/// Halvings of the range in which the coefficient lies.
const HALVINGS: usize = 10;
/// No contact carries more than so many times the load: what would hold only by wedging itself fast does not count.
const MOST: f64 = 10.0;

/// Least coefficient of friction (no unit) with which contacts could hold `load`; none where 0.5 is not enough.
pub(super) fn held_from(contacts: &[Contact], load: &Vector6<f64>) -> Option<f64> {
    let balanced = Balanced::new(contacts, load);
    let sides: Vec<[Vector6<f64>; SIDES]> =
        contacts.iter().map(|contact| sides(contact, &balanced)).collect();
    let holds = |coefficient: f64| holds(contacts, &balanced, &sides, coefficient);
    if !holds(ROUGHEST) {
        return None;
    }
    let (mut low, mut high) = (0.0, ROUGHEST);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if holds(middle) { high = middle } else { low = middle }
    }
    Some(high)
}

/// Wrenches of a unit force along each side of the pyramid of a contact.
fn sides(contact: &Contact, balanced: &Balanced) -> [Vector6<f64>; SIDES] {
    let [one, other] = square_to(&Unit::new_normalize(contact.direction));
    std::array::from_fn(|side| {
        let (sin, cos) = (TAU * side as f64 / SIDES as f64).sin_cos();
        let along: Vector3<f64> = one * cos + other * sin;
        let at: &Point3<f64> = &contact.at;
        about(&wrench(at, &along), &balanced.centre, balanced.size)
    })
}

fn holds(
    contacts: &[Contact],
    balanced: &Balanced,
    sides: &[[Vector6<f64>; SIDES]],
    coefficient: f64,
) -> bool {
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let mut terms: Vec<(Variable, Vector6<f64>)> = Vec::new();
    for ((contact, row), sides) in contacts.iter().zip(&balanced.rows).zip(sides) {
        let least = if contact.one_sided { 0.0 } else { -MOST };
        let force = problem.add_var(0.0, (least, MOST));
        terms.push((force, *row));
        if contact.one_sided {
            let along: Vec<Variable> = sides.iter().map(|_| problem.add_var(0.0, (0.0, MOST))).collect();
            terms.extend(along.iter().copied().zip(sides.iter().copied()));
            let all = along.into_iter().map(|side| (side, -1.0)).chain([(force, coefficient)]);
            problem.add_constraint(all, ComparisonOp::Ge, 0.0);
        }
    }
    for component in 0..6 {
        let row = terms.iter().map(|(variable, wrench)| (*variable, wrench[component]));
        problem.add_constraint(row, ComparisonOp::Eq, -balanced.load[component]);
    }
    problem.solve().is_ok_and(|solved| solved.into_solution().is_ok())
}
