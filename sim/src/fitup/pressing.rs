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

/// While it is loaded each clamp alone, then all up to each in closing order, without clamps the part's weight by itself; then all of it
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

/// The same, but only whether the part moves.
pub(super) fn moves(body: &Body, contacts: &[Contact], downs: &Downs) -> Vec<bool> {
    let moves =
        |closed: &[usize], down: &Vector3<f64>| follows(contacts, &load(body, closed, down)).is_some();
    let loading: Vec<bool> = turns(body).iter().map(|closed| moves(closed, &downs.loading)).collect();
    let all: Vec<usize> = (0..body.clamps.len()).collect();
    let tilted = downs.welding.iter().filter(|_| body.mass.is_some());
    loading.into_iter().chain(tilted.map(|down| moves(&all, down))).collect()
}

/// Which clamps are closed together.
fn turns(body: &Body) -> Vec<Vec<usize>> {
    let count = body.clamps.len();
    // Without a clamp only its weight holds it.
    let by_weight = (count == 0 && body.mass.is_some()).then(Vec::new);
    let alone = by_weight.into_iter().chain((0..count).map(|clamp| vec![clamp]));
    let in_order = (2..=count).map(|upto| (0..upto).collect());
    alone.chain(in_order).collect()
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
mod tests {
    use nalgebra::Unit;

    use super::*;
    use crate::cell::{Clamp, Locator, LocatorKind, StationId};
    use crate::fitup::carrying::{Pressed, carried};
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

    /// Weight pulls along -z, while it is welded too.
    fn level() -> Downs {
        Downs { loading: -Vector3::z(), welding: vec![-Vector3::z()] }
    }

    /// A plate that is loaded flat and welded tilted so that it slides off its end stop, and the other way round: each is told where it happens.
    #[test]
    fn weight_pulls_as_the_part_stands_while_it_is_loaded_and_while_it_is_welded() {
        let mut body = plate(&[([100.0, 60.0, 10.0], [0.0, 0.0, -1.0], 100.0)]);
        body.mass = Some((20.0, Point3::from([100.0, 60.0, 5.0].map(mm))));
        let (flat, tilted) = (-Vector3::z(), Vector3::new(0.6, 0.0, -0.8));
        for (loading, welding, expected) in [(flat, tilted, true), (tilted, flat, false)] {
            let found = pressing(&body, &contacts(&body), &Downs { loading, welding: vec![welding] });
            let moved: Vec<bool> =
                found.iter().filter(|press| press.moved.is_some()).map(|press| press.welding).collect();
            assert_eq!(moved, [expected], "{found:?}");
        }
    }

    fn all_closed(body: &Body) -> Pressing {
        pressing(body, &contacts(body), &level()).pop().unwrap()
    }

    fn forces(body: &Body) -> Vec<f64> {
        let all = carried(body, &contacts(body), &-Vector3::z()).unwrap();
        all.iter().map(|carried| carried.even).collect()
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
        let forces = forces(&body);
        for (force, expected) in forces.iter().zip([250.0, 200.0, 150.0, 150.0, 50.0, 100.0]) {
            assert!((force - expected).abs() < 1e-6, "{forces:?}");
        }
    }

    #[test]
    fn a_push_beyond_the_pads_lifts_the_pad_behind() {
        let found = all_closed(&plate(&[([-30.0, 50.0, 10.0], [0.0, 0.0, -1.0], 600.0)]));
        let moved = found.moved.unwrap();
        assert!(moved.lifted.contains(&1) && !moved.lifted.contains(&0), "{moved:?}");
        assert_eq!((moved.surely, moved.by.as_slice()), (true, [0].as_slice()));
    }

    #[test]
    fn the_weight_of_the_part_can_hold_down_what_a_clamp_would_lift() {
        let mut body = plate(&[([-30.0, 50.0, 10.0], [0.0, 0.0, -1.0], 10.0)]);
        body.mass = Some((20.0, Point3::from([100.0, 60.0, 5.0].map(mm))));
        assert_eq!(all_closed(&body).moved, None);
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
        let forces = forces(&body);
        assert!(forces[..3].iter().all(|force| *force > 1.0), "{forces:?}");
        assert!(forces[3..].iter().all(|force| force.abs() < 1e-6), "{forces:?}");
    }

    /// Without a clamp a weight beyond the pads tips the part.
    #[test]
    fn a_weight_beyond_the_pads_lifts_the_pad_behind() {
        let mut body = plate(&[]);
        body.mass = Some((5.0, Point3::from([-30.0, 50.0, 10.0].map(mm))));
        let found = all_closed(&body);
        let moved = found.moved.unwrap();
        assert!(moved.lifted.contains(&1) && moved.by.is_empty(), "{moved:?}");
        body.mass = Some((5.0, Point3::from([100.0, 60.0, 10.0].map(mm))));
        assert_eq!(all_closed(&body).moved, None);
    }

    #[test]
    fn a_pull_off_a_stop_is_told_by_the_stop_that_it_leaves() {
        let found = all_closed(&plate(&[([0.0, 100.0, 0.0], [1.0, 0.0, 0.0], 50.0)]));
        let moved = found.moved.unwrap();
        // 50 N along the pads with nothing that presses: no friction holds that.
        assert_eq!((moved.lifted.as_slice(), moved.friction), ([5].as_slice(), None));
    }

    /// Four pads and one clamp in their middle: nothing pushes against the stops, but every pad is pressed.
    #[test]
    fn only_what_cannot_be_pressed_goes_without_a_force() {
        let mut body = plate(&[([150.0, 100.0, 10.0], [0.0, 0.0, -1.0], 400.0)]);
        let mut fourth = body.locators[0].clone();
        fourth.at = Point3::from([300.0, 200.0, 0.0].map(mm));
        body.locators.push(fourth);
        let forces = forces(&body);
        let pressed: Vec<bool> = forces.iter().map(|force| *force > 1e-9).collect();
        assert_eq!(pressed, [true, true, true, false, false, false, true], "{forces:?}");
    }

    /// The same four pads: by moments about the clamp each diagonal's pads carry alike, and both diagonals together 400 N. So a pad may
    /// carry anything from nothing to 200 N, and whether it is pressed is not for statics to say. That no stop is pressed is.
    #[test]
    fn where_statics_allow_many_answers_only_the_bounds_are_certain() {
        let mut body = plate(&[([150.0, 100.0, 10.0], [0.0, 0.0, -1.0], 400.0)]);
        let mut fourth = body.locators[0].clone();
        fourth.at = Point3::from([300.0, 200.0, 0.0].map(mm));
        body.locators.push(fourth);
        let all = carried(&body, &contacts(&body), &-Vector3::z()).unwrap();
        for (j, carried) in all.iter().enumerate() {
            let stop = (3..6).contains(&j);
            let most = carried.most.unwrap();
            assert!(carried.least.abs() < 1e-6, "{carried:?}");
            assert!((most - if stop { 0.0 } else { 200.0 }).abs() < 1e-6, "{carried:?}");
            let pressed = if stop { Pressed::Not } else { Pressed::Perhaps };
            assert_eq!((carried.pressed(400.0), carried.is_open(400.0)), (pressed, !stop));
        }
        // Three pads leave one answer, 600 N as in `forces_are_those_of_statics`.
        let one = plate(&[([100.0, 50.0, 10.0], [0.0, 0.0, -1.0], 600.0)]);
        for carried in &carried(&one, &contacts(&one), &-Vector3::z()).unwrap()[..3] {
            assert_eq!((carried.pressed(600.0), carried.is_open(600.0)), (Pressed::Surely, false));
        }
    }

    /// A clamp that leans by an angle a off the end stop, at the height of the pads, goes along its friction cone: friction holds it from
    /// tan a on (school physics). The pyramid has a side along X, so that it is exact here; to 1 in 1024 by halving.
    #[test]
    fn a_leaning_clamp_is_held_by_friction_from_its_tangent_on() {
        for tangent in [0.1, 0.4] {
            let found = all_closed(&plate(&[([100.0, 100.0, 0.0], [tangent, 0.0, -1.0], 600.0)]));
            let moved = found.moved.unwrap();
            assert_eq!(moved.lifted, [5]);
            assert!((moved.friction.unwrap() - tangent).abs() < 2e-3, "{moved:?}");
        }
    }

    /// The second clamp lifts what the first one pressed: it is told, the first is not blamed.
    #[test]
    fn the_clamp_that_lifts_is_named() {
        let body = plate(&[
            ([100.0, 60.0, 10.0], [0.0, 0.0, -1.0], 100.0),
            ([-30.0, 50.0, 10.0], [0.0, 0.0, -1.0], 600.0),
        ]);
        let moved = all_closed(&body).moved.unwrap();
        assert_eq!((moved.lifted.as_slice(), moved.by.as_slice()), ([1].as_slice(), [1].as_slice()));
    }

    /// Two clamps that press against each other on one line add up to nothing, whatever rounding leaves of them.
    #[test]
    fn clamps_that_hold_each_other_lift_nothing() {
        let way = [0.31, 0.77, 0.55];
        let body = plate(&[
            ([110.0, 63.0, 7.0], way, 500.0),
            ([110.0 + 310.0, 63.0 + 770.0, 7.0 + 550.0], way.map(|part| -part), 500.0),
        ]);
        assert_eq!(all_closed(&body).moved, None);
    }
}
