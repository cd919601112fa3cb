//! Clamps that seat a plate, and clamps that lift it.

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

/// Two side stops 200 mm apart, pressed by 1000 N in their middle: 500 N each. 200 N against the end stop, 20 mm beside it, turn the part by
/// 4 N m, which is 20 N more on one and less on the other. So closed after the side clamp the end clamp lifts nothing; closed before it, with
/// nothing on the side stops yet, it does.
#[test]
fn clamps_are_judged_in_the_order_in_which_they_are_closed() {
    let down = ([100.0, 60.0, 10.0], [0.0, 0.0, -1.0], 600.0);
    let side = ([150.0, 220.0, 0.0], [0.0, -1.0, 0.0], 1000.0);
    let end = ([320.0, 120.0, 0.0], [-1.0, 0.0, 0.0], 200.0);
    for (order, steps) in [([down, side, end], [false; 3]), ([down, end, side], [false, true, false])] {
        let body = plate(&order);
        let found = pressing(&body, &contacts(&body), &level());
        let moved: Vec<bool> = found.iter().map(|press| press.moved.is_some()).collect();
        assert_eq!(moved, steps, "{found:?}");
    }
    // By itself it would, which is told; the side clamp would not.
    let body = plate(&[down, side, end]);
    let alone = lifting_alone(&body, &contacts(&body), &level());
    assert_eq!(alone.iter().map(|press| press.closed.clone()).collect::<Vec<_>>(), [[2]]);
    let forces = forces(&body);
    assert!((forces[3] - 520.0).abs() < 1e-6 && (forces[4] - 480.0).abs() < 1e-6, "{forces:?}");
}

/// Three round pins may pull at each other along the line between two of them without end: neither bound of such a force is a number. On the
/// pads, which only push, statics leave one answer.
#[test]
fn forces_of_pins_that_pull_at_each_other_have_no_bounds() {
    let mut body = plate(&[([100.0, 50.0, 10.0], [0.0, 0.0, -1.0], 600.0)]);
    for locator in &mut body.locators[3..] {
        locator.kind = LocatorKind::Pin;
        locator.direction = Vector3::z_axis();
    }
    let contacts = contacts(&body);
    let all = carried(&body, &contacts, &-Vector3::z()).unwrap();
    for (carried, contact) in all.iter().zip(&contacts) {
        let bounds = (carried.least.is_none(), carried.most.is_none());
        assert_eq!(bounds, (!contact.one_sided, !contact.one_sided), "{carried:?}");
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
        assert!(carried.least.unwrap().abs() < 1e-6, "{carried:?}");
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
