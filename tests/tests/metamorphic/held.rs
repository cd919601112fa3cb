//! A fixture that is sound, spoilt in one way whose effect is known beforehand: the way parts are held and loaded says so.

use std::path::Path;

use nalgebra::{Point3, Unit, Vector3};
use seamwright_kinematics::Pose;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Body, Cell, Locator, LocatorKind, Presence, Role, Shape, ShapeId, Solid};
use seamwright_sim::check::{Options, check};
use seamwright_sim::findings::FitUpFindings;
use seamwright_sim::fitup::presses_still;
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::fitup::shift::Model;
use seamwright_sim::plan::{self, plan};
use seamwright_sim::units::mm;
use seamwright_tests::fitted::fitted;

fn sound() -> Cell {
    read_cell(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/hinge-plate/cell.toml")).unwrap()
}

fn found(cell: &Cell) -> FitUpFindings {
    check(cell, &Options { seed: 0, watch: &() }).findings.fit_up.unwrap()
}

fn shape<'c>(cell: &'c mut Cell, name: &str) -> &'c mut Shape {
    cell.shapes.iter_mut().find(|shape| shape.name == name).unwrap()
}

fn locator<'c>(cell: &'c mut Cell, name: &str) -> &'c mut Locator {
    cell.bodies[0].locators.iter_mut().find(|locator| locator.name == name).unwrap()
}

/// Adds a block to the fixture.
fn block(cell: &mut Cell, name: &str, at: [f64; 3], size: [f64; 3]) {
    let mut block = shape(cell, "end block").clone();
    block.name = name.to_owned();
    block.solid = Solid::Box { half: Vector3::from(size.map(mm)) * 0.5 };
    block.frame_from_shape = Pose::translation(mm(at[0]), mm(at[1]), mm(at[2]));
    cell.shapes.push(block);
}

#[test]
fn a_sound_fixture_is_told_to_be_sound() {
    let found = found(&sound());
    assert!(found.holds && found.wrong().is_empty(), "{:?}", found.wrong());
    let told = found.bodies[0].sound().unwrap();
    assert!(told.contains("fully located") && told.contains("+Z"), "{told}");
}

/// A stop that is drawn half a millimetre off the face touches it, but the part comes to lie half a millimetre nearer than it is drawn: told,
/// and where programs are used as downloaded a fault.
#[test]
fn a_stop_that_stands_off_its_face_as_drawn_is_told() {
    for downloaded in [false, true] {
        let mut cell = sound();
        cell.variation.downloaded = downloaded;
        let stop =
            cell.bodies[0].locators.iter_mut().find(|locator| locator.kind == LocatorKind::Stop).unwrap();
        let back = stop.direction.into_inner() * mm(0.5);
        stop.at -= back;
        let name = stop.name.clone();
        let found = found(&cell);
        let told = format!("{name} stands 0.50 mm off the face");
        assert!(found.wrong().iter().any(|wrong| wrong.contains(&told)), "{:?}", found.wrong());
        let lies = !found.not_holding().iter().any(|wrong| wrong.contains("do not lie"));
        assert_eq!(lies, !downloaded, "{:?}", found.not_holding());
    }
}

/// A clamp that is moved off the part presses the air.
#[test]
fn a_clamp_that_is_moved_must_press_as_before() {
    let cell = sound();
    let moved = |by: [f64; 3]| {
        let mut moved = cell.clone();
        moved.bodies[0].clamps[0].at += Vector3::from(by.map(mm));
        presses_still(&cell, &moved)
    };
    assert!(moved([0.0; 3]));
    assert!(!moved([0.0, 0.0, 80.0]) && !moved([2000.0, 0.0, 0.0]));
}

/// A weight that is not stated is not said to press.
#[test]
fn a_weight_that_is_not_stated_is_not_said_to_press() {
    let mut cell = sound();
    for (mass, expected) in
        [(None, "not stated"), (Some((5.0, Point3::from([0.0, 0.0, 0.02]))), "clamps and weight")]
    {
        cell.bodies[0].mass = mass;
        let found = found(&cell);
        assert!(
            found.bodies[0].sound().is_none_or(|told| told.contains(expected)),
            "{:?}",
            found.bodies[0].sound()
        );
        let told = found.rests_on.iter().any(|told| told.contains("the weight of"));
        assert_eq!(told, mass.is_none());
    }
}

/// Without forces and weight nobody knows whether the part is pressed; by its weight alone it is pressed on its pads and on no stop.
#[test]
fn what_presses_nothing_is_not_passed_over() {
    let mut cell = sound();
    cell.bodies[0].clamps.clear();
    let none = found(&cell);
    assert!(
        !none.holds && none.wrong().iter().any(|wrong| wrong.contains("is not known")),
        "{:?}",
        none.wrong()
    );
    cell.bodies[0].mass = Some((5.0, Point3::new(0.0, -0.02, 0.05)));
    let weight = found(&cell);
    let idle = weight.wrong().into_iter().find(|wrong| wrong.contains("nothing pushes")).unwrap();
    for stop in ["near side stop", "far side stop", "end stop"] {
        assert!(idle.contains(stop), "{idle}");
    }
    assert!(!weight.holds && !idle.contains("pad"), "{idle}");
}

/// A stop turned round pushes away from the part, one at 45 degrees meets no plane face squarely; the axis of a pin beside the part, or
/// above it where at_mm lies, is told by where its line goes.
#[test]
fn locators_that_cannot_hold_as_they_stand_are_named() {
    for direction in [Vector3::new(0.0, -1.0, 0.0), Vector3::new(1.0, 1.0, 0.0)] {
        let mut cell = sound();
        locator(&mut cell, "near side stop").direction = Unit::new_normalize(direction);
        let found = fitted(&cell, 0);
        let [askew] = found.bodies[0].askew.as_slice() else { panic!("{:?}", found.bodies[0].askew) };
        assert!(askew.name == "near side stop" && (askew.into - Vector3::y()).norm() < 1e-3, "{askew:?}");
    }
    for (at, is_in_the_air) in
        [([0.0, -120.0, 44.0], true), ([0.0, -80.0, 75.0], false), ([0.0, -80.0, 44.0], false)]
    {
        let mut cell = sound();
        let pin = locator(&mut cell, "near side stop");
        pin.kind = LocatorKind::Pin;
        pin.at = Point3::from(at.map(mm));
        pin.direction = Vector3::z_axis();
        let found = fitted(&cell, 0);
        assert_eq!(!found.bodies[0].in_the_air.is_empty(), is_in_the_air, "{at:?}");
    }
}

/// The plate as a sheet of 2 mm under lips of 1.5 mm over its edges, walls around it: the sheet would pass a lip between two looks at
/// every 5 mm.
#[test]
fn a_thin_lip_hooks_a_thin_sheet() {
    let mut cell = sound();
    let plate = ShapeId(cell.shapes.iter().position(|shape| shape.name == "plate").unwrap());
    cell.bodies[0].shapes = vec![plate];
    cell.shapes[plate.0].solid = Solid::Box { half: Vector3::new(0.18, 0.1, 0.001) };
    cell.shapes[plate.0].frame_from_shape.translation.vector.z = mm(41.0);
    for (name, x, y, size) in
        [("wall +x", 186.0, 0.0, [10.0, 220.0, 10.0]), ("wall +y", 0.0, 106.0, [360.0, 10.0, 10.0])]
    {
        block(&mut cell, name, [x, y, 42.0], size);
    }
    assert!(!fitted(&cell, 0).bodies[0].loading.ways_out.is_empty());
    for (name, x, y, size) in
        [("lip +x", 175.0, 0.0, [20.0, 200.0, 1.5]), ("lip -y", 0.0, -95.0, [100.0, 20.0, 1.5])]
    {
        block(&mut cell, name, [x, y, 42.0 + 0.6 + 0.75], size);
    }
    let loading = &fitted(&cell, 0).bodies[0].loading;
    assert!(loading.ways_out.is_empty(), "{loading:?}");
    for lip in ["lip +x", "lip -y"] {
        assert!(loading.hooked_by.iter().any(|hook| hook == lip), "{loading:?}");
    }
}

/// The far lug held by locators of its own: three stops along x, two pads, a stop along y.
fn lug_apart(cell: &mut Cell) {
    let lug = ShapeId(cell.shapes.iter().position(|shape| shape.name == "far lug").unwrap());
    let pad = cell.bodies[0].locators[0].clone();
    let stop = |name: &str, at: [f64; 3], direction: Vector3<f64>| Locator {
        name: format!("lug {name}"),
        kind: LocatorKind::Stop,
        at: Point3::from(at.map(mm)),
        direction: Unit::new_normalize(direction),
        ..pad.clone()
    };
    let own = Body {
        name: "far lug".to_owned(),
        shapes: vec![lug],
        locators: vec![
            stop("x", [76.0, -50.0, 60.0], Vector3::x()),
            stop("x", [76.0, 50.0, 60.0], Vector3::x()),
            stop("x", [76.0, 0.0, 100.0], Vector3::x()),
            stop("z", [80.0, -50.0, 48.0], Vector3::z()),
            stop("z", [80.0, 50.0, 48.0], Vector3::z()),
            stop("y", [80.0, -60.0, 78.0], Vector3::y()),
        ],
        clamps: Vec::new(),
        ..cell.bodies[0].clone()
    };
    cell.bodies[0].shapes.retain(|shape| *shape != lug);
    cell.bodies.push(own);
}

/// A plate between walls only comes out upward, a lug under a stop only sideways: each goes in, but once they are welded nothing comes out.
#[test]
fn what_is_welded_comes_out_as_one() {
    let mut cell = sound();
    lug_apart(&mut cell);
    for (name, x, y, size) in
        [("wall +x", 186.0, 0.0, [10.0, 220.0, 8.0]), ("wall +y", 0.0, 116.0, [360.0, 10.0, 8.0])]
    {
        block(&mut cell, name, [x, y, 42.0], size);
    }
    let free = fitted(&cell, 0);
    assert!(free.bodies.iter().all(|body| !body.loading.ways_out.is_empty()), "{:?}", free.bodies[0].loading);
    let mut top = cell.bodies[1].locators[3].clone();
    top.name = "lug top".to_owned();
    top.at.z = mm(108.0);
    top.direction = Unit::new_normalize(-Vector3::z());
    cell.bodies[1].locators.push(top);
    let hooked = fitted(&cell, 0);
    for body in &hooked.bodies {
        assert!(!body.alone.ways_out.is_empty(), "{:?}", body.alone);
        assert!(body.loading.ways_out.is_empty(), "{:?}", body.loading);
        assert!(body.loading.hooked_by.contains(&"lug top".to_owned()), "{:?}", body.loading);
    }
}

/// A joint between parts that are located apart opens by as much as the lug is lifted off the plate, whichever of both has the reference
/// face.
#[test]
fn a_gap_opens_as_the_parts_go_apart_whichever_is_the_reference() {
    let mut cell = sound();
    lug_apart(&mut cell);
    let plates = cell.shapes.iter().position(|shape| shape.name == "plate").map(ShapeId).unwrap();
    let lug = cell.bodies[1].shapes[0];
    let number = cell.seams.iter().position(|seam| seam.name == "far lug, near side").unwrap();
    let ways = plan(&cell, &plan::Options::default());
    for reference in [plates, lug] {
        let mut cell = cell.clone();
        if cell.seams[number].reference != [reference] {
            // The other face becomes the reference: the same line with the two directions exchanged.
            cell.seams[number].reference = vec![reference];
            let path = cell.seams[number].path.as_mut().unwrap();
            for piece in &mut path.pieces {
                std::mem::swap(&mut piece.n1, &mut piece.b);
            }
        }
        let model = Model::new(&cell, &ways, &Scheme::of(&cell));
        let seam = model.seams.iter().find(|seam| seam.seam.0 == number).unwrap();
        let opened = |whose: &str| -> f64 {
            let of = |term: &seamwright_sim::fitup::shift::Term| -> f64 {
                let by_cause = model.by_cause(term);
                let causes = term.causes.clone().enumerate().filter(|(_, cause)| {
                    let cause = &model.causes[*cause];
                    cause.what == seamwright_sim::fitup::cause::What::PartAtLocator
                        && cause.whose.contains(whose)
                });
                causes.map(|(column, _)| by_cause[(3 * seam.points, column)]).sum()
            };
            seam.terms.iter().map(of).sum()
        };
        assert!((opened("lug z") - 1.0).abs() < 1e-9, "{reference:?}: {}", opened("lug z"));
        assert!((opened("pad") + 1.0).abs() < 1e-9 && opened("lug x").abs() < 1e-9);
    }
}

/// On a dozen pads the wire hits on nearly every part, so that three standard deviations of what is off lie within what is allowed: rests
/// on which parts hardly ever lie make no spread.
#[test]
fn many_pads_spread_no_more_than_parts_do() {
    let mut cell = sound();
    for (index, [x, y]) in
        [[-100.0, 70.0], [100.0, 60.0], [-60.0, -85.0], [40.0, -88.0], [120.0, 84.0], [-140.0, 10.0]]
            .into_iter()
            .enumerate()
    {
        let mut pad = cell.bodies[0].locators[0].clone();
        pad.name = format!("pad {index}");
        pad.at = Point3::new(mm(x), mm(y), pad.at.z);
        cell.bodies[0].locators.push(pad);
    }
    for seam in fitted(&cell, 0).seams {
        assert!(seam.touched_up > 0.999, "{}", seam.touched_up);
        assert!(seam.spread.spreads[0].squares < seam.allowed.across, "{:?}", seam.spread.spreads);
        let (gain, of) = seam.spread.gain.unwrap();
        assert!(gain < 2.0, "{gain} of {of}");
    }
}

/// The hand post keeps the other-hand part out. Without it that goes in, unless the file says that it is not made; where another station
/// carries the fixture mirrored it is made all the same.
#[test]
fn the_other_hand_is_tried_where_the_cell_makes_it() {
    let mut cell = sound();
    shape(&mut cell, "hand post").frame_from_shape.translation.vector.z -= 10.0;
    let hands = |cell: &Cell| {
        fitted(cell, 0).bodies[0].wrong_ways.as_ref().unwrap().fit.iter().any(|way| way.other_hand)
    };
    assert!(hands(&cell));
    cell.bodies[0].other_hand = false;
    assert!(!hands(&cell));
    let mut mirrored = cell.bodies[0].clone();
    mirrored.copy = 1;
    mirrored.name = "hinge fixture 2".to_owned();
    mirrored.station_from_fixture[(0, 0)] = -1.0;
    cell.bodies.push(mirrored);
    assert!(hands(&cell));
}

/// A guard beside the table is in the way as well as a wall of the fixture.
#[test]
fn what_stands_beside_the_fixture_is_in_the_way() {
    let mut cell = sound();
    assert!(!fitted(&cell, 0).bodies[0].loading.ways_out.is_empty());
    let mut roof = shape(&mut cell, "end block").clone();
    let world_from_station = cell.frames.world_from(roof.frame, &cell.stations[0].external);
    roof.name = "roof".to_owned();
    roof.role = Role::Surroundings;
    roof.presence = Presence::Always;
    roof.station = None;
    roof.frame = seamwright_sim::cell::frames::FrameId(0);
    let world_from_frame = cell.frames.world_from(roof.frame, &cell.stations[0].external);
    roof.solid = Solid::Box { half: Vector3::new(0.2, 0.2, 0.005) };
    roof.frame_from_shape =
        world_from_frame.inverse() * world_from_station * Pose::translation(0.0, 0.0, 0.14);
    cell.shapes.push(roof);
    let loading = &fitted(&cell, 0).bodies[0].loading;
    assert!(loading.ways_out.iter().all(|way| way.z < 0.5), "{loading:?}");
}

/// A pin in a slot that holds along Y half way between the two side stops: the part goes on where the slot lies no lower than the mean of
/// the stops, less half the play. With normal errors of the part alone, σ at each, the difference has σ √(3/2).
#[test]
fn parts_that_do_not_go_onto_contradicting_locators_count_as_not_good() {
    for play_mm in [0.0, 0.1] {
        let mut cell = sound();
        let mut slot = locator(&mut cell, "near side stop").clone();
        slot.name = "slot".to_owned();
        slot.kind = LocatorKind::SlotPin;
        slot.at = Point3::from([0.0, -60.0, 44.0].map(mm));
        cell.bodies[0].locators.push(slot);
        for locator in &mut cell.bodies[0].locators {
            (locator.tolerance, locator.wear, locator.play) = (0.0, 0.0, 0.0);
        }
        locator(&mut cell, "slot").play = mm(play_mm);
        let sigma = 0.2 / cell.variation.sigmas * 1.5_f64.sqrt();
        let expected = 0.5 * (1.0 - statrs::function::erf::erf(play_mm / 2.0 / sigma / 2.0_f64.sqrt()));
        // The side pusher may rest on the pin, on the stops or on all of them: no stop is said to be pressed by nothing.
        let told = found(&cell);
        assert!(!told.wrong().iter().any(|wrong| wrong.contains("nothing pushes")), "{:?}", told.wrong());
        assert!(told.bodies[0].sound().is_none());
        let found = fitted(&cell, 0);
        let left_off = found.bodies[0].left_off.unwrap();
        let spread = (expected * (1.0 - expected) / found.parts as f64).sqrt();
        assert!((left_off - expected).abs() < 5.0 * spread, "{left_off} is not {expected}");
        assert!(found.touched_up.unwrap() <= 1.0 - left_off + 1e-12);
    }
}

/// Stops that face each other could press each other at will; no clamp does, so nothing is said to push the part against them.
#[test]
fn stops_that_face_each_other_are_pressed_by_nothing_without_a_clamp() {
    let mut cell = sound();
    let mut facing = locator(&mut cell, "near side stop").clone();
    facing.name = "facing stop".to_owned();
    facing.at = Point3::from([0.0, 100.0, 44.0].map(mm));
    facing.direction = Unit::new_normalize(-Vector3::y());
    cell.bodies[0].locators.push(facing);
    cell.bodies[0].clamps.retain(|clamp| clamp.name != "side pusher");
    let found = found(&cell);
    let idle = found.wrong().into_iter().find(|wrong| wrong.contains("nothing pushes")).unwrap();
    assert!(idle.contains("near side stop") && idle.contains("facing stop"), "{idle}");
    // Between fixed stops half of the parts would be too wide, but for what wear gives.
    assert!((15.0..50.0).contains(&found.bodies[0].left_off_percent.unwrap()) && !found.holds);
}
