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
    /// Contacts that the part must leave when they close; empty where it stays.
    pub lifted: Vec<usize>,
    /// Whether they move the part, along its locators or off them.
    pub moves: bool,
    /// Force on each contact, N: the most even one where several are possible. None where the part moves.
    pub forces: Option<Vec<f64>>,
}

/// Each clamp alone, then all up to each in closing order, the last being all of them; without clamps the part's weight by itself.
///
/// `down`: the way weight pulls, unit vector in the station frame. A part without a mass has no weight.
#[must_use]
pub fn pressing(body: &Body, contacts: &[Contact], down: &Vector3<f64>) -> Vec<Pressing> {
    let count = body.clamps.len();
    // Without a clamp only its weight holds it.
    let by_weight = (count == 0 && body.mass.is_some()).then(Vec::new);
    let alone = by_weight.into_iter().chain((0..count).map(|clamp| vec![clamp]));
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
    let lifted = moved.as_ref().map_or_else(Vec::new, |motion| lifted(contacts, &load, motion));
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

/// The contacts that the part must leave to follow the load: held on any of them, it could not. Where one or another may open,
/// those that open in `motion`.
fn lifted(contacts: &[Contact], load: &Vector6<f64>, motion: &Vector6<f64>) -> Vec<usize> {
    let pushing = || (0..contacts.len()).filter(|j| contacts[*j].one_sided);
    let must_open = |j: &usize| {
        let mut held = contacts.to_vec();
        held[*j].one_sided = false;
        follows(&held, load).is_none()
    };
    let must: Vec<usize> = pushing().filter(must_open).collect();
    if must.is_empty() {
        pushing().filter(|j| contacts[*j].row().dot(motion) > LIFTS_FROM * motion.norm()).collect()
    } else {
        must
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

/// Forces of the contacts that hold `load`, N: the least of those that can only push as great as can be. Where some cannot be
/// pressed at all, every other one is: as many as can be carry at least a small share.
fn answer(contacts: &[Contact], load: &Vector6<f64>) -> Option<Vec<f64>> {
    /// Share of the load that a contact carries at least where it can, once some cannot.
    const SMALL: f64 = 1e-3;
    let evenly = forces(contacts, load, Aim::Evenly)?;
    let pressed = |forces: &[f64]| {
        let pushes = forces.iter().zip(contacts).filter(|(_, contact)| contact.one_sided);
        pushes.fold(f64::INFINITY, |least, (force, _)| least.min(*force))
    };
    let most = evenly.iter().fold(0.0_f64, |most, force| most.max(force.abs()));
    if pressed(&evenly) > LIFTS_FROM * most {
        return Some(evenly);
    }
    forces(contacts, load, Aim::AsManyAsCan { share: SMALL })
}

/// Which of many possible answers is wanted.
#[derive(Clone, Copy)]
enum Aim {
    /// The least force as great as can be.
    Evenly,
    /// As many contacts as can be carry this share of the load.
    AsManyAsCan { share: f64 },
}

fn forces(contacts: &[Contact], load: &Vector6<f64>, aim: Aim) -> Option<Vec<f64>> {
    /// No contact carries more than so many times the load; without a bound opposed pins could press each other at will.
    const MOST: f64 = 1e6;
    /// What a pin's force is charged: little against what any contact is worth.
    const PIN: f64 = 1e-5;
    let balanced = Balanced::new(contacts, load);
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let forces: Vec<Variable> = contacts
        .iter()
        .map(|contact| problem.add_var(0.0, (if contact.one_sided { 0.0 } else { -MOST }, MOST)))
        .collect();
    for component in 0..6 {
        let terms = forces.iter().zip(&balanced.rows).map(|(force, row)| (*force, row[component]));
        problem.add_constraint(terms, ComparisonOp::Eq, -balanced.load[component]);
    }
    let all = problem.add_var(if matches!(aim, Aim::Evenly) { 1.0 } else { 0.0 }, (0.0, MOST));
    for (force, _) in forces.iter().zip(contacts).filter(|(_, contact)| !contact.one_sided) {
        // Pins that press each other for nothing are no answer.
        let strength = problem.add_var(-PIN, (0.0, MOST));
        problem.add_constraint([(strength, 1.0), (*force, -1.0)], ComparisonOp::Ge, 0.0);
        problem.add_constraint([(strength, 1.0), (*force, 1.0)], ComparisonOp::Ge, 0.0);
    }
    for (force, _) in forces.iter().zip(contacts).filter(|(_, contact)| contact.one_sided) {
        let least = match aim {
            Aim::Evenly => all,
            Aim::AsManyAsCan { share } => problem.add_var(1.0, (0.0, share)),
        };
        problem.add_constraint([(*force, 1.0), (least, -1.0)], ComparisonOp::Ge, 0.0);
    }
    let solution = problem.solve().ok()?.into_solution().ok()?;
    Some(forces.iter().map(|force| solution[*force] * balanced.greatest).collect())
}

#[cfg(test)]
mod tests {
    use nalgebra::Unit;

    use super::*;
    use crate::cell::{Clamp, Locator, LocatorKind, StationId};
    use crate::fitup::contact::contacts;
    use crate::units::mm;

    /// A plate on three pads (0, 0), (300, 0), (0, 200) with two side stops and an end stop, all at z = 0; mm.
    fn plate(clamps: &[([f64; 3], [f64; 3], f64)]) -> Body {
        let locator = |at: [f64; 3], direction: [f64; 3], kind| Locator {
            name: String::new(),
            kind,
            at: Point3::from(at.map(mm)),
            direction: Unit::new_normalize(direction.into()),
            tolerance: 0.0,
            wear: 0.0,
            part_tolerance: 0.0,
            play: 0.0,
        };
        let up = [0.0, 0.0, 1.0];
        Body {
            name: String::new(),
            drawn_as: String::new(),
            fixture: String::new(),
            station: StationId(0),
            copy: 0,
            station_from_fixture: nalgebra::Matrix3::identity(),
            origin: Vector3::zeros(),
            shapes: Vec::new(),
            locators: vec![
                locator([0.0, 0.0, 0.0], up, LocatorKind::Pad),
                locator([300.0, 0.0, 0.0], up, LocatorKind::Pad),
                locator([0.0, 200.0, 0.0], up, LocatorKind::Pad),
                locator([50.0, -20.0, 0.0], [0.0, 1.0, 0.0], LocatorKind::Stop),
                locator([250.0, -20.0, 0.0], [0.0, 1.0, 0.0], LocatorKind::Stop),
                locator([-20.0, 100.0, 0.0], [1.0, 0.0, 0.0], LocatorKind::Stop),
            ],
            clamps: clamps
                .iter()
                .map(|(at, direction, force)| Clamp {
                    name: String::new(),
                    at: Point3::from(at.map(mm)),
                    direction: Unit::new_normalize((*direction).into()),
                    force: *force,
                    by_air: false,
                })
                .collect(),
            mass: None,
            other_hand: true,
        }
    }

    fn all_closed(body: &Body) -> Pressing {
        pressing(body, &contacts(body), &-Vector3::z()).pop().unwrap()
    }

    /// 600 N down at (100, 50): moments about the pads give 600·100/300 on the second, 600·50/200 on the third, the rest on the
    /// first. 100 N against the end stop at its height turns nothing; 200 N against the side stops at x = 100: 3/4 and 1/4.
    #[test]
    fn forces_are_those_of_statics() {
        let body = plate(&[
            ([100.0, 50.0, 10.0], [0.0, 0.0, -1.0], 600.0),
            ([320.0, 100.0, 0.0], [-1.0, 0.0, 0.0], 100.0),
            ([100.0, 220.0, 0.0], [0.0, -1.0, 0.0], 200.0),
        ]);
        let forces = all_closed(&body).forces.unwrap();
        for (force, expected) in forces.iter().zip([250.0, 200.0, 150.0, 150.0, 50.0, 100.0]) {
            assert!((force - expected).abs() < 1e-6, "{forces:?}");
        }
    }

    #[test]
    fn a_push_beyond_the_pads_lifts_the_pad_behind() {
        let found = all_closed(&plate(&[([-30.0, 50.0, 10.0], [0.0, 0.0, -1.0], 600.0)]));
        assert!(found.moves && found.lifted.contains(&1) && !found.lifted.contains(&0), "{found:?}");
    }

    #[test]
    fn the_weight_of_the_part_can_hold_down_what_a_clamp_would_lift() {
        let mut body = plate(&[([-30.0, 50.0, 10.0], [0.0, 0.0, -1.0], 10.0)]);
        body.mass = Some((20.0, Point3::from([100.0, 60.0, 5.0].map(mm))));
        assert!(!all_closed(&body).moves);
    }

    /// Two round pins fight: they could press each other with any force. The pads carry the clamp all the same, and no pin more than
    /// the clamps push.
    #[test]
    fn pins_that_fight_press_each_other_no_more_than_they_are_pushed() {
        let mut body = plate(&[([100.0, 60.0, 10.0], [0.0, 0.0, -1.0], 600.0)]);
        body.locators.truncate(3);
        for x in [50.0, 250.0] {
            let at = Point3::from([x, 100.0, 0.0].map(mm));
            let pin = Locator { at, kind: LocatorKind::Pin, ..body.locators[0].clone() };
            body.locators.push(pin);
        }
        let forces = all_closed(&body).forces.unwrap();
        assert!(forces[..3].iter().all(|force| *force > 1.0), "{forces:?}");
        assert!(forces[3..].iter().all(|force| force.abs() < 1e-6), "{forces:?}");
    }

    /// Without a clamp a weight beyond the pads tips the part.
    #[test]
    fn a_weight_beyond_the_pads_lifts_the_pad_behind() {
        let mut body = plate(&[]);
        body.mass = Some((5.0, Point3::from([-30.0, 50.0, 10.0].map(mm))));
        let found = all_closed(&body);
        assert!(found.moves && found.lifted.contains(&1), "{found:?}");
        body.mass = Some((5.0, Point3::from([100.0, 60.0, 10.0].map(mm))));
        assert!(!all_closed(&body).moves);
    }

    #[test]
    fn a_pull_off_a_stop_is_told_by_the_stop_that_it_leaves() {
        let found = all_closed(&plate(&[([0.0, 100.0, 0.0], [1.0, 0.0, 0.0], 50.0)]));
        assert!(found.moves && found.lifted == [5], "{found:?}");
    }

    /// Four pads and one clamp in their middle: nothing pushes against the stops, but every pad is pressed.
    #[test]
    fn only_what_cannot_be_pressed_goes_without_a_force() {
        let mut body = plate(&[([150.0, 100.0, 10.0], [0.0, 0.0, -1.0], 400.0)]);
        let mut fourth = body.locators[0].clone();
        fourth.at = Point3::from([300.0, 200.0, 0.0].map(mm));
        body.locators.push(fourth);
        let forces = all_closed(&body).forces.unwrap();
        let pressed: Vec<bool> = forces.iter().map(|force| *force > 1e-9).collect();
        assert_eq!(pressed, [true, true, true, false, false, false, true], "{forces:?}");
    }
}
