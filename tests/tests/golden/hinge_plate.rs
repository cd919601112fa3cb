//! The hinge plate as first drawn looks right and is not; its corrected twin is.

use nalgebra::{Point3, Unit};
use seamwright_kinematics::{Basis, Pose, Range};
use seamwright_sim::cell::frames::{AxisKind, ExternalAxis, Frame, FrameId};
use seamwright_sim::cell::{Body, Locator, LocatorKind, Presence, Shape, ShapeId, StationId};
use seamwright_sim::fitup::cause::What;
use seamwright_sim::fitup::displacement::Seating;
use seamwright_sim::fitup::sampling::sample;
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::fitup::searching::Searching;
use seamwright_sim::fitup::shift::Model;
use seamwright_sim::fitup::{FitUp, Needs};
use seamwright_sim::plan::{Constraint, Verdict};
use seamwright_sim::units;
use seamwright_tests::fitted::fitted;

use super::{assert_all_hold, planned, scene};

fn answered(file: &str) -> FitUp {
    let cell = scene(file);
    fitted(&cell, 0)
}

#[test]
fn the_arm_welds_both_drafts() {
    assert_all_hold("hinge-plate/first-draft.toml");
    assert_all_hold("hinge-plate/cell.toml");
}

#[test]
fn the_first_draft_has_a_pad_too_many_and_its_side_stops_too_close() {
    let found = answered("hinge-plate/first-draft.toml");
    let body = &found.bodies[0];
    assert_eq!((body.locating.taken, body.locating.fighting.len()), (6, 1));
    assert_eq!(body.locating.fighting[0].len(), 4);
    assert_eq!(body.seating, Some(Seating::Pushed));
    // 97 % or so: fewer than the 99 % that the file asks.
    assert!((0.94..0.98).contains(&found.touched_up.unwrap()), "{:?}", found.touched_up);
    for seam in &found.seams {
        // The stops stand 40 mm apart, the seams' ends 124 mm from them and more: each millimetre counts threefold and more.
        let (gain, of) = seam.spread.gain.clone().unwrap();
        assert!(gain > 2.0 && of.contains("side stop"), "{gain} of {of}");
        assert_eq!(seam.needs, Needs::SearchBoth);
    }
    // Turned round and as the other hand it still goes in: nothing stands where the tab comes to lie.
    let ways = &body.wrong_ways.as_ref().unwrap().fit;
    assert_eq!(ways.len(), 3);
    assert!(ways.iter().any(|way| way.other_hand) && ways.iter().any(|way| !way.other_hand));
}

#[test]
fn the_corrected_twin_is_held_right_and_good() {
    let found = answered("hinge-plate/cell.toml");
    let body = &found.bodies[0];
    assert_eq!((body.locating.taken, body.locating.fighting.len()), (6, 0));
    assert_eq!(body.seating, Some(Seating::Fixed));
    assert!(body.pressing.iter().all(|press| press.moved.is_none()));
    assert!(body.wrong_ways.as_ref().unwrap().fit.is_empty(), "{:?}", body.wrong_ways);
    assert!(body.in_the_air.is_empty(), "{:?}", body.in_the_air);
    assert!(!body.loading.ways_out.is_empty());
    assert!(found.touched_up.unwrap() > 0.999);
    // All locator errors at their limits: first order is exact to a few micrometres.
    assert!(body.first_order.unwrap() < 1e-5, "{:?}", body.first_order);
    assert!(found.seams.iter().all(|seam| seam.needs == Needs::TouchUp));
}

#[test]
fn without_the_end_stop_the_plate_slides_along_x() {
    let mut cell = scene("hinge-plate/cell.toml");
    cell.bodies[0].locators.retain(|locator| locator.name != "end stop");
    let found = fitted(&cell, 0);
    assert_eq!(found.bodies[0].locating.free.len(), 1);
    assert!(found.seams.is_empty() && found.touched_up.is_none() && found.remedies.is_empty());
    assert!(found.left_out.iter().all(|(_, why)| why.contains("do not fix")), "{:?}", found.left_out);
}

#[test]
fn a_clamp_that_presses_beyond_the_pads_lifts_the_part() {
    let mut cell = scene("hinge-plate/cell.toml");
    // The pads stand from y = −80 to 80: 20 mm beyond the line of the two right ones the plate tips about them.
    cell.bodies[0].clamps.iter_mut().find(|clamp| clamp.name == "near right toggle").unwrap().at.y = -0.1;
    let found = fitted(&cell, 0);
    let body = &found.bodies[0];
    // Both pushers are closed before it and lift nothing.
    let first = body.pressing.iter().find(|press| press.moved.is_some()).unwrap();
    let (last, moved) = (*first.closed.last().unwrap(), first.moved.as_ref().unwrap());
    assert_eq!(cell.bodies[0].clamps[last].name, "near right toggle");
    assert_eq!(moved.by, [last]);
    assert!(body.lifting_alone.iter().any(|press| press.closed == [last]), "{:?}", body.lifting_alone);
    let lifted: Vec<&str> = moved
        .lifted
        .iter()
        .map(|j| cell.bodies[0].locators[body.contacts[*j].locator].name.as_str())
        .collect();
    assert!(lifted.contains(&"left pad"), "{lifted:?}");
}

#[test]
fn a_hook_over_the_plate_closes_the_way_out() {
    let mut cell = scene("hinge-plate/cell.toml");
    let mut hook = cell.shapes.iter().find(|shape| shape.name == "end block").unwrap().clone();
    hook.name = "hook".to_owned();
    hook.frame_from_shape.translation.vector.x += 0.03;
    hook.frame_from_shape.translation.vector.z += 0.022;
    cell.shapes.push(hook);
    let found = fitted(&cell, 0);
    // Upward the hook is in the way, and every way along the table leads into a stop, a post or an open pusher.
    let loading = &found.bodies[0].loading;
    assert!(loading.ways_out.is_empty(), "{loading:?}");
    assert_eq!(loading.hooked_by, ["hook"]);
}

/// Nothing is off but two searches of unlike faces, by 2 mm either way: errors of their own, so that what they leave across is normal
/// with the root of the sum of the squares.
#[test]
fn searches_of_two_faces_are_off_by_themselves() {
    let mut cell = scene("hinge-plate/cell.toml");
    let plan = planned(&cell);
    cell.variation = seamwright_sim::cell::Variation {
        loading: 0.0,
        joint: 0.0,
        gap: 0.0,
        wire: 0.0,
        arm_repeatability: 0.0,
        arm_accuracy: 0.0,
        warmer: 0.0,
        search: units::mm(2.0),
        ..cell.variation
    };
    for locator in cell.bodies.iter_mut().flat_map(|body| &mut body.locators) {
        (locator.part_tolerance, locator.wear, locator.play) = (0.0, 0.0, 0.0);
    }
    for seam in &mut cell.seams {
        seam.searched = Searching::Both.touches(seam);
    }
    let mut model = Model::new(&cell, &plan, &Scheme::of(&cell));
    model.seams.iter_mut().for_each(|seam| seam.allowed.along_wire = 1.0);
    let tally = sample(&model, 3, 200_000, false);
    for (seam, hits) in model.seams.iter().zip(&tally.hits) {
        let [one, other] = seam.local.as_slice() else { panic!("{:?}", seam.local) };
        let sigma = units::mm(2.0) / cell.variation.sigmas * one.by[0][0].hypot(other.by[0][0]);
        let expected = statrs::function::erf::erf(seam.allowed.across / (sigma * 2.0_f64.sqrt()));
        let found = *hits as f64 / tally.parts as f64;
        let spread = (expected * (1.0 - expected) / tally.parts as f64).sqrt();
        assert!((found - expected).abs() < 5.0 * spread, "{found} is not {expected}");
    }
}

/// The far lug held by stops of its own: its joint follows the plate along the plate's normal and the lug square to it, and a lug
/// that is lifted, or a plate that is lowered, opens the gap by as much.
#[test]
fn a_joint_between_parts_that_are_located_apart_follows_each_by_its_own_face() {
    let mut cell = scene("hinge-plate/cell.toml");
    let shape = |name: &str| ShapeId(cell.shapes.iter().position(|shape| shape.name == name).unwrap());
    let lug = shape("far lug");
    let stop = |name: &str, at: [f64; 3], direction: [f64; 3]| Locator {
        name: format!("lug {name}"),
        at: Point3::from(at.map(units::mm)),
        direction: Unit::new_normalize(direction.into()),
        ..cell.bodies[0].locators[0].clone()
    };
    let locators = vec![
        stop("x", [76.0, -50.0, 60.0], [1.0, 0.0, 0.0]),
        stop("x", [76.0, 50.0, 60.0], [1.0, 0.0, 0.0]),
        stop("x", [76.0, 0.0, 100.0], [1.0, 0.0, 0.0]),
        stop("z", [80.0, -50.0, 48.0], [0.0, 0.0, 1.0]),
        stop("z", [80.0, 50.0, 48.0], [0.0, 0.0, 1.0]),
        stop("y", [80.0, -60.0, 78.0], [0.0, 1.0, 0.0]),
    ];
    let own = Body {
        name: "far lug".to_owned(),
        shapes: vec![lug],
        locators,
        clamps: Vec::new(),
        ..cell.bodies[0].clone()
    };
    cell.bodies[0].shapes.retain(|shape| *shape != lug);
    cell.bodies.push(own);
    let model = Model::new(&cell, &planned(&cell), &Scheme::of(&cell));
    let seam = model.seams.iter().find(|seam| cell.seams[seam.seam.0].name == "far lug, near side").unwrap();
    // What all locators of one kind, a millimetre off together, do: across, along the wire, gap.
    let moved = |whose: &str| {
        let mut sum = [0.0; 3];
        for term in &seam.terms {
            let by_cause = model.by_cause(term);
            for (column, cause) in term.causes.clone().enumerate() {
                let cause = &model.causes[cause];
                if cause.what == What::PartAtLocator && cause.whose.contains(whose) {
                    for (row, sum) in [0, 1, 3].into_iter().zip(&mut sum) {
                        *sum += by_cause[(row * seam.points, column)];
                    }
                }
            }
        }
        sum
    };
    let near = |found: [f64; 3], expected: [f64; 3]| {
        assert!(
            found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9),
            "{found:?} is not {expected:?}"
        );
    };
    // Half way between plate and lug the wire sees half of each, but for the travel angle, which tips it along the weld.
    let [across, along_wire, gap] = moved("lug x");
    assert!((across.abs() - 0.5_f64.sqrt()).abs() < 1e-9 && along_wire.abs() > 0.6 && gap.abs() < 1e-9);
    let [across, along_wire, gap] = moved("pad");
    assert!(
        (across.abs() - 0.5_f64.sqrt()).abs() < 1e-9 && along_wire.abs() > 0.6 && (gap + 1.0).abs() < 1e-9
    );
    near(moved("lug z"), [0.0, 0.0, 1.0]);
    near(moved("side stop"), [0.0, moved("side stop")[1], 0.0]);
}

/// The table on a shuttle that slides square to the seams: a millimetre that it stops off lies half across and half along the wire of a
/// torch at 45 degrees to a fillet, √½ mm each, but for the travel angle. A shuttle of which nothing is stated is not counted.
#[test]
fn where_a_slide_stops_shifts_the_wire_as_far_as_its_repeatability_is_stated() {
    let shuttled = |repeatability: Option<f64>| {
        let mut cell = scene("hinge-plate/cell.toml");
        let axis = ExternalAxis {
            name: "shuttle".to_owned(),
            kind: AxisKind::Slide,
            direction: nalgebra::Vector3::x_axis(),
            range: Range { min: -1.0, max: 1.0 },
            rest: 0.0,
            max_speed: 0.5,
            max_acceleration: 1.0,
            acceleration_basis: Basis::File,
            index_time: None,
            loads_ahead: None,
            repeatability,
            rating: Default::default(),
            stopping: Vec::new(),
        };
        let station = cell.stations[0].frame.0;
        // The shuttle comes before the station in the tree: it takes the station's own frame, and the station a new one upon it.
        let placed = cell.frames.frames[station].clone();
        cell.frames.axes.push(axis);
        cell.frames.frames[station] = Frame { axis: Some(0), ..placed.clone() };
        cell.frames.frames.push(Frame {
            name: "on the shuttle".to_owned(),
            parent: Some(FrameId(station)),
            parent_from_frame: Pose::identity(),
            axis: None,
        });
        let frame = FrameId(cell.frames.frames.len() - 1);
        cell.stations[0].frame = frame;
        cell.stations[0].external = vec![0.0];
        for shape in cell.shapes.iter_mut().filter(|shape| shape.station.is_some()) {
            shape.frame = frame;
        }
        for seam in &mut cell.seams {
            seam.external = vec![0.0];
            seam.axis_uses = vec![Default::default()];
        }
        cell.stations[0].axis_uses = vec![Default::default()];
        cell
    };
    let cell = shuttled(Some(units::mm(0.3)));
    let model = Model::new(&cell, &planned(&cell), &Scheme::of(&cell));
    let cause = model.causes.iter().position(|cause| cause.what == What::Index).unwrap();
    assert_eq!(model.causes[cause].whose, "shuttle");
    assert!((model.causes[cause].law.limit() - units::mm(0.3)).abs() < 1e-12);
    for seam in &model.seams {
        let term = seam.terms.iter().find(|term| term.causes.contains(&cause)).unwrap();
        let across = term.rows[(0, cause - term.causes.start)];
        assert!((across.abs() - 0.5_f64.sqrt()).abs() < 1e-6, "{across}");
    }
    let unstated = shuttled(None);
    let model = Model::new(&unstated, &planned(&unstated), &Scheme::of(&unstated));
    assert!(model.causes.iter().all(|cause| cause.what != What::Index));
    let told = |cell: &seamwright_sim::cell::Cell| {
        let options = seamwright_sim::check::Options { seed: 0, watch: &() };
        seamwright_sim::check::check(cell, &options).findings.fit_up.unwrap().rests_on
    };
    assert!(told(&unstated).iter().any(|line| line.contains("where shuttle stops (no repeatability_mm)")));
    assert!(!told(&cell).iter().any(|line| line.contains("shuttle")));
}

/// What stands open at the station that is loaded is in the way of the arm that welds at the other.
#[test]
fn an_open_clamp_of_the_other_side_stands_in_the_arms_way() {
    let mut cell = scene("gate-bracket/cell.toml");
    let before = planned(&cell);
    let toggle = cell.shapes.iter().find(|shape| shape.name == "left toggle").unwrap();
    let frame = cell.stations[0].frame;
    // Stands over the middle of a seam of side A, but belongs to side B, where it is open while B is loaded.
    let open = Shape {
        name: "left toggle, open".to_owned(),
        presence: Presence::Empty,
        station: Some(StationId(1)),
        frame,
        frame_from_shape: Pose::translation(-0.06, 0.09, 0.06),
        ..toggle.clone()
    };
    cell.shapes.push(open);
    let after = planned(&cell);
    assert_eq!(before.seams[0].verdict, Verdict::Holds);
    assert_ne!(after.seams[0].verdict, Verdict::Holds);
    let binding = after.seams[0].binding.as_ref().unwrap();
    assert!(
        matches!(&binding.constraint, Constraint::Clearance(_, other) if other == "side B / left toggle, open"),
        "{binding:?}"
    );
}

/// A round pin and a slot pin with three pads take six freedoms. No turned part goes on; the other-hand part does, its hole on the slot
/// pin and its slot on the round one, since nothing says that the pins are of unlike thickness: they stand alike left and right.
#[test]
fn pins_and_pads_locate_the_plate_and_keep_turned_parts_out() {
    let mut cell = scene("hinge-plate/first-draft.toml");
    let body = &mut cell.bodies[0];
    body.locators.retain(|locator| locator.kind == LocatorKind::Pad && locator.name != "far left pad");
    let pin = |name: &str, kind, x: f64, direction: [f64; 3], of: &Locator| Locator {
        name: name.to_owned(),
        kind,
        at: Point3::new(units::mm(x), units::mm(-80.0), units::mm(40.0)),
        direction: Unit::new_normalize(direction.into()),
        play: units::mm(0.1),
        ..of.clone()
    };
    let pad = body.locators[0].clone();
    body.locators.push(pin("round pin", LocatorKind::Pin, -100.0, [0.0, 0.0, 1.0], &pad));
    body.locators.push(pin("slot pin", LocatorKind::SlotPin, 100.0, [0.0, 1.0, 0.0], &pad));
    let found = fitted(&cell, 0);
    let body = &found.bodies[0];
    assert_eq!((body.locating.taken, body.locating.fighting.len(), body.contacts.len()), (6, 0, 6));
    assert_eq!(body.seating, Some(Seating::Fixed));
    let mirror = nalgebra::Matrix3::from_diagonal(&nalgebra::Vector3::new(-1.0, 1.0, 1.0));
    let ways = &body.wrong_ways.as_ref().unwrap().fit;
    assert!(ways.len() == 1 && ways[0].other_hand && ways[0].turned == mirror, "{ways:?}");
    assert!(body.in_the_air.is_empty(), "{:?}", body.in_the_air);
    // It only comes out along the pins.
    assert!(body.loading.ways_out.iter().all(|way| way.z > 0.999), "{:?}", body.loading);
    assert!(!body.loading.ways_out.is_empty());
}
