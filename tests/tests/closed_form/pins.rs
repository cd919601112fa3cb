//! Pins and the holes that a part has drawn: how far a pin stands off, and which other holes go onto pins, by the figures they are drawn with.

use nalgebra::Matrix3;
use seamwright_sim::cell::Cell;
use seamwright_sim::fitup::{BodyFitUp, Off, WrongWay};
use seamwright_sim::units::{mm, to_mm};
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::drilled::{Hole, plate};
use seamwright_tests::fitted::fitted;

/// A plate of 300 x 200 x 8 mm beside the bench's own, on three pads under it; `pins`: locators besides.
fn held(holes: &[Hole], pins: &str) -> BodyFitUp {
    let shape = "[[fixture.shape]]\nname = \"drilled\"\nrole = \"part\"\nkind = \"mesh\"\nfile = \"plate.obj\"\nunit = \"mm\"\n\
                 at_mm = [0, 400, 0]\n";
    let pad = |x: i32, y: i32| {
        format!(
            "[[fixture.locator]]\nname = \"pad {x} {y}\"\npart = \"drilled\"\nkind = \"pad\"\nat_mm = [{x}, {}, 0]\ndirection = [0, 0, 1]\n",
            y + 400
        )
    };
    let besides = [shape, &pad(-120, -85), &pad(120, -85), &pad(0, 60), pins].concat();
    let file = plate([300.0, 200.0, 8.0], holes);
    let files = [("cells/plate.obj", file.as_bytes())];
    let cell: Cell = Question { besides: &besides, seam: LEFT, files: &files, ..Question::default() }.cell();
    fitted(&cell, 0).bodies.remove(0)
}

fn pin(name: &str, kind: &str, [x, y]: [f64; 2], direction: &str, more: &str) -> String {
    format!(
        "[[fixture.locator]]\nname = \"{name}\"\npart = \"drilled\"\nkind = \"{kind}\"\nat_mm = [{x}, {}, 4]\ndirection = {direction}\n{more}\n",
        y + 400.0
    )
}

const TWO: [Hole; 2] = [([-100.0, -60.0], 8.0), ([100.0, -60.0], 8.0)];

/// Where the round pin is, if it does not stand as it should, the pin in a slot standing in the middle of the other hole.
fn off(holes: &[Hole], at: [f64; 2]) -> Option<Off> {
    let pins =
        [pin("pin", "pin", at, "[0, 0, 1]", ""), pin("slot", "slot_pin", [100.0, -60.0], "[0, 1, 0]", "")];
    let found = held(holes, &pins.concat());
    assert!(found.in_the_air.iter().all(|off| off.name == "pin"), "{:?}", found.in_the_air);
    found.in_the_air.first().map(|found| found.off)
}

/// Distances of points in the plane: 25 mm beside the edge x = −150; 2, 10 and 80 mm beside the middle of the hole at (−100, −60), of
/// radius 8 mm, which has room for 0.1 mm of play. A plate that has no hole drawn is pierced by its pins, as solids are.
#[test]
fn a_pin_beside_its_hole_is_off_as_far_as_it_is_drawn() {
    assert_eq!(off(&TWO, [-100.0, -60.0]), None);
    assert_eq!(off(&[], [-100.0, 20.0]), None);
    let Some(Off::Face(beside)) = off(&TWO, [-175.0, -60.0]) else { panic!("in the air") };
    assert!((to_mm(beside) - 25.0).abs() < 0.01, "{beside}");
    let Some(Off::Middle { by, play }) = off(&TWO, [-98.0, -60.0]) else { panic!("beside its middle") };
    assert!((by - mm(2.0)).abs() < 1e-9 && (play - mm(0.1)).abs() < 1e-12, "{by} {play}");
    for (at, expected) in [([-90.0, -60.0], 10.0), ([-100.0, 20.0], 80.0)] {
        let Some(Off::Hole(by)) = off(&TWO, at) else { panic!("in no hole") };
        assert!((to_mm(by) - expected).abs() < 1e-6, "{by}");
    }
}

/// A pin in a slot minds nothing along the slot. Off within its play a part goes on and comes to lie elsewhere than drawn.
#[test]
fn what_a_pin_leaves_free_it_may_be_off_by() {
    let with = |at, more: &str| {
        let round = pin("pin", "pin", [-100.0, -60.0], "[0, 0, 1]", "");
        held(&TWO, &[round, pin("slot", "slot_pin", at, "[0, 1, 0]", more)].concat())
    };
    let along = with([97.0, -60.0], "");
    assert!(along.in_the_air.is_empty() && along.off_face.is_empty());
    let across = with([97.0, -59.6], "");
    let [off] = across.in_the_air.as_slice() else { panic!("{:?}", across.in_the_air) };
    assert!(matches!(off.off, Off::Middle { by, .. } if (by - mm(0.4)).abs() < 1e-9), "{off:?}");
    let loose = with([97.0, -59.6], "play_mm = 1");
    assert!(loose.in_the_air.is_empty() && loose.off_face.len() == 1, "{:?}", loose.off_face);
}

fn wrong(holes: &[Hole]) -> Vec<WrongWay> {
    let pins = [
        pin("pin", "pin", [-100.0, -60.0], "[0, 0, 1]", ""),
        pin("slot", "slot_pin", [100.0, -60.0], "[0, 1, 0]", ""),
    ];
    held(&[&TWO[..], holes].concat(), &pins.concat()).wrong_ways.unwrap().fit
}

/// A second pair of holes as far apart goes onto the pins where the half turn about z carries it there, (x, y) → (−x, c − y): whatever
/// c is, so long as the pads at y = −85 and 60 stay under the plate, and however much wider the holes are. 40 mm nearer together they
/// do not. Only where all of the plate comes to lie as before, with equal holes at y = 60, is that no wrong way.
#[test]
fn other_holes_go_onto_the_pins_wherever_they_are_and_however_wide() {
    let half_turn = Matrix3::new(-1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 1.0);
    let turns = |y: f64, radius: f64, x: f64| {
        wrong(&[([-x, y], radius), ([x, y], radius)]).iter().any(|way| (way.turned - half_turn).amax() < 1e-9)
    };
    for (y, radius) in [(57.0, 8.0), (45.0, 8.0), (60.0, 9.0), (57.0, 12.0)] {
        assert!(turns(y, radius, 100.0), "{y} {radius}");
    }
    assert!(!turns(60.0, 8.0, 80.0) && !turns(60.0, 5.0, 100.0) && !turns(60.0, 8.0, 100.0));
}

/// Holes 25 mm beside those of the pins: the part goes on without any turn, 25 mm off. The pads at y = −85 need the plate there, whose
/// edge at −100 comes to lie at −75 where the holes lie on the far side of the pins'.
#[test]
fn other_holes_go_onto_the_pins_without_a_turn() {
    let shifted = |y: f64| {
        wrong(&[([-100.0, y], 8.0), ([100.0, y], 8.0)])
            .iter()
            .any(|way| (way.turned - Matrix3::identity()).amax() < 1e-9)
    };
    assert!(shifted(-35.0) && !shifted(-85.0));
}
