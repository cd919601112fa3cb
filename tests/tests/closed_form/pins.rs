//! Pins and the holes that a part has drawn: how far a pin stands off, and which other holes go onto pins, by the figures they are drawn with.

use nalgebra::Matrix3;
use seamwright_sim::cell::Cell;
use seamwright_sim::check::{Options, check};
use seamwright_sim::fitup::{BodyFitUp, Off, WrongWay};
use seamwright_sim::units::{deg, mm, to_deg, to_mm};
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::drilled::{Cut, Hole, arc, cut, plate, round};
use seamwright_tests::fitted::fitted;

pub(crate) const SIZE: [f64; 3] = [300.0, 200.0, 8.0];

/// A plate of 300 x 200 x 8 mm beside the bench's own, on three pads under it; `pins`: locators besides.
fn held(holes: &[Hole], pins: &str) -> BodyFitUp {
    on_pads(&plate(SIZE, holes), pins)
}

pub(crate) fn on_pads(file: &str, pins: &str) -> BodyFitUp {
    fitted(&cell(file, pins), 0).bodies.remove(0)
}

fn cell(file: &str, pins: &str) -> Cell {
    let shape = "[[fixture.shape]]\nname = \"drilled\"\nrole = \"part\"\nkind = \"mesh\"\nfile = \"plate.obj\"\nunit = \"mm\"\n\
                 at_mm = [0, 400, 0]\n";
    let pad = |x: i32, y: i32| {
        format!(
            "[[fixture.locator]]\nname = \"pad {x} {y}\"\npart = \"drilled\"\nkind = \"pad\"\nat_mm = [{x}, {}, 0]\ndirection = [0, 0, 1]\n",
            y + 400
        )
    };
    let besides = [shape, &pad(-120, -85), &pad(120, -85), &pad(0, 60), pins].concat();
    let files = [("cells/plate.obj", file.as_bytes())];
    Question { besides: &besides, seam: LEFT, files: &files, ..Question::default() }.cell()
}

pub(crate) fn pin(name: &str, kind: &str, [x, y]: [f64; 2], direction: &str, more: &str) -> String {
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
    let along = with([99.0, -60.0], "");
    assert!(along.in_the_air.is_empty() && along.off_face.is_empty());
    let across = with([99.0, -59.6], "");
    let [off] = across.in_the_air.as_slice() else { panic!("{:?}", across.in_the_air) };
    assert!(matches!(off.off, Off::Middle { by, .. } if (by - mm(0.4)).abs() < 1e-9), "{off:?}");
    let loose = with([99.0, -59.6], "play_mm = 1");
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
    // The pins have 16 mm less 0.2 mm of play: 15.9 mm take them in, 15.4 and 15 mm do not.
    assert!(turns(57.0, 7.95, 100.0) && !turns(57.0, 7.7, 100.0) && !turns(57.0, 7.5, 100.0));
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

/// A slot of so much from end to end along x, 16 mm wide, about its middle.
fn slot(at: [f64; 2], length: f64) -> Cut {
    let end = length / 2.0 - 8.0;
    let left = arc([-end, 0.0], 8.0, [90.0, 270.0]);
    (at, length / 2.0 + 3.0, [left, arc([end, 0.0], 8.0, [-90.0, 90.0])].concat())
}

fn turned(hole: Cut) -> Cut {
    (hole.0, hole.1, hole.2.iter().map(|[x, y]| [-y, *x]).collect())
}

/// How the plate is held whose round pin stands at `at`, in a cut as big as the other, and whose pin in a slot in the other.
fn pinned(holes: &[Cut; 2], at: [f64; 2], slot_at: [f64; 2], besides: &str) -> BodyFitUp {
    let pins = [
        pin("pin", "pin", at, "[0, 0, 1]", ""),
        pin("slot", "slot_pin", slot_at, "[0, 1, 0]", ""),
        besides.to_owned(),
    ];
    on_pads(&cut(SIZE, holes), &pins.concat())
}

/// A round of radius 8 mm with a keyway 4 mm wide up to 15 mm above its middle, whose sides start at √(64 − 4) mm, and one with a flat at
/// 5 mm: the middle of the round is where the pin stands, and 3 mm up is 3 mm off. Where a hole that narrows is meant to
/// hold, nobody knows.
#[test]
fn a_pin_stands_in_the_round_of_a_hole_that_has_a_keyway_or_a_flat() {
    let side = to_deg((60.0_f64.sqrt() / 2.0).atan());
    let mut keyed = arc([0.0, 0.0], 8.0, [180.0 - side, 360.0 + side]);
    keyed.extend([[2.0, 15.0], [-2.0, 15.0]]);
    let flat = to_deg((5.0_f64 / 8.0).acos());
    let other = || round([100.0, -60.0], 8.0, 20.0);
    let found = |corners: &[[f64; 2]], y: f64| {
        let holes = [([-100.0, -60.0], 20.0, corners.to_vec()), other()];
        pinned(&holes, [-100.0, y], [100.0, -60.0], "")
    };
    for corners in [&keyed, &arc([0.0, 0.0], 8.0, [flat - 180.0, 180.0 - flat])] {
        let right = found(corners, -60.0);
        assert!(right.in_the_air.is_empty() && right.in_uneven_holes.is_empty(), "{:?}", right.in_the_air);
        let off = found(corners, -57.0).in_the_air;
        assert!(matches!(off[0].off, Off::Middle { by, .. } if (by - mm(3.0)).abs() < 1e-8), "{off:?}");
    }
    let narrowing = found(&[[-8.0, -8.0], [0.0, -8.0], [8.0, -8.0], [6.0, 10.0], [-6.0, 10.0]], -60.0);
    assert!(narrowing.in_the_air.is_empty());
    assert_eq!(narrowing.in_uneven_holes, ["pin"]);
}

/// A cross whose arms are 16 mm wide and end a tenth of a millimetre unlike: a hair beside its middle the pin goes in as well, which is no way to
/// load the part wrongly but its play.
#[test]
fn the_right_way_a_hair_aside_is_no_wrong_way() {
    let (long, short) = (16.1, 16.0);
    let cross = vec![
        [8.0, 8.0],
        [8.0, long],
        [-8.0, long],
        [-8.0, 8.0],
        [-short, 8.0],
        [-short, -8.0],
        [-8.0, -8.0],
        [-8.0, -short],
        [8.0, -short],
        [8.0, -8.0],
        [long, -8.0],
        [long, 8.0],
    ];
    let holes = [([-100.0, -60.0], 24.0, cross), round([100.0, -60.0], 8.0, 24.0)];
    let found = pinned(&holes, [-100.0, -60.0], [100.0, -60.0], "");
    let fit = found.wrong_ways.unwrap().fit;
    let is_right = |way: &WrongWay| !way.other_hand && (way.turned - Matrix3::identity()).amax() < 0.1;
    assert!(!fit.iter().any(is_right), "{fit:?}");
}

/// A bore of 80 mm is no hole that any pin may stand in, but its spigot does: on its middle, or as far off it as it is drawn.
#[test]
fn a_spigot_stands_in_the_middle_of_a_wide_bore() {
    let off = |x: f64| {
        let holes = [round([-100.0, -40.0], 40.0, 42.0), round([100.0, -40.0], 8.0, 42.0)];
        pinned(&holes, [x, -40.0], [100.0, -40.0], "").in_the_air.first().map(|found| found.off)
    };
    assert_eq!(off(-100.0), None);
    assert!(matches!(off(-99.0), Some(Off::Middle { by, .. }) if (by - mm(1.0)).abs() < 1e-8));
    // 10 mm from the wall; flats of 15 degrees lie up to 40 (1 - cos 7.5°) mm within the round.
    assert!(matches!(off(-70.0), Some(Off::Face(by)) if (9.6..10.01).contains(&to_mm(by))));
}

/// A round of radius r is 2 √(r² − x²) wide x mm beside its middle: 14.83 mm at 3 mm of 16 mm, and 15.49 mm 2 mm beyond where the sides of
/// a slot end, which are 16 mm apart up to there. The flats of a slot's end lie within its round, by 8 (1 - cos 7.5°) mm on either side.
#[test]
fn a_pin_in_a_slot_needs_its_width_where_it_stands() {
    let off = |hole: Cut, x: f64| {
        let holes = [round([-100.0, -60.0], 8.0, hole.1), hole];
        pinned(&holes, [-100.0, -60.0], [x, -60.0], "").in_the_air.first().map(|found| found.off)
    };
    let at = [100.0, -60.0];
    for (hole, x, width) in
        [(round(at, 8.0, 10.0), 103.0, 55.0_f64.sqrt() * 2.0), (slot(at, 20.0), 104.0, 60.0_f64.sqrt() * 2.0)]
    {
        let Some(Off::Narrow { here, middle }) = off(hole, x) else { panic!("it is not told") };
        assert!(
            (0.0..0.15).contains(&(width - to_mm(here))) && (to_mm(middle) - 16.0).abs() < 1e-6,
            "{here}"
        );
    }
    assert_eq!(off(slot(at, 20.0), 102.0), None);
}

/// Pins of 15.8 mm drawn in a hole of 24 mm have 8.2 mm, in a slot of 30 mm along the way in which it holds 14.2 mm of play; without the pin
/// drawn the slot has 14 mm more than across. What stands as written is not told.
#[test]
fn a_pin_that_is_drawn_with_more_play_than_is_written_is_told() {
    let drawn = |x: i32| {
        format!(
            "[[fixture.shape]]\nname = \"stud {x}\"\nkind = \"cylinder\"\nat_mm = [{x}, 340, 4]\nradius_mm = 7.9\nheight_mm = 16\n"
        )
    };
    let studs = [drawn(-100), drawn(100)].concat();
    let play = |radius: f64, other: Cut, besides: &str| {
        let holes = [round([-100.0, -60.0], radius, 20.0), (other.0, 20.0, other.2)];
        let found = pinned(&holes, [-100.0, -60.0], [100.0, -60.0], besides);
        let told = found.loose_pins.iter().map(|pin| (pin.name.clone(), to_mm(pin.hole - pin.pin)));
        told.collect::<Vec<(String, f64)>>()
    };
    let at = [100.0, -60.0];
    let is_told = |found: &[(String, f64)], name: &str, expected: f64| {
        assert!(found.len() == 1 && found[0].0 == name && (found[0].1 - expected).abs() < 1e-6, "{found:?}");
    };
    is_told(&play(12.0, slot(at, 30.0), &studs), "pin", 8.2);
    is_told(&play(8.0, turned(slot(at, 30.0)), &studs), "slot", 14.2);
    is_told(&play(8.0, turned(slot(at, 30.0)), ""), "slot", 14.0);
    // Four corners lie on one round, which makes them none.
    let square_ended = (at, 20.0, vec![[-8.0, -15.0], [8.0, -15.0], [8.0, 15.0], [-8.0, 15.0]]);
    is_told(&play(8.0, square_ended, ""), "slot", 14.0);
    assert!(play(8.0, slot(at, 30.0), &studs).is_empty() && play(12.0, slot(at, 30.0), "").is_empty());
}

/// A round pin that goes along Y has no say in the axis of a pin that holds along Y: that stands upright like the pads, 2 mm beside the
/// middle of its hole.
#[test]
fn a_pin_in_a_slot_does_not_stand_along_the_way_in_which_it_holds() {
    let pins = [
        pin("pin", "pin", [-100.0, -60.0], "[0, 1, 0]", ""),
        pin("slot", "slot_pin", [100.0, -58.0], "[0, 1, 0]", ""),
    ];
    let found = held(&TWO, &pins.concat()).in_the_air;
    let [off] = found.as_slice() else { panic!("{found:?}") };
    assert!(off.name == "slot", "{off:?}");
    assert!(matches!(off.off, Off::Middle { by, .. } if (by - mm(2.0)).abs() < 1e-8), "{off:?}");
}

/// Turned by half a turn, (x, y) → (−x, c − y), a round hole at (100, 57) comes onto the round pin, and the middle of a slot of 30 x 16 mm at
/// −96 or −94 mm to 4 or 6 mm beside the pin of 15.8 mm, which has 7.1 mm both ways along it. At −91 it is 9 mm beside it, and a round hole
/// at −96 mm lets it in nowhere.
#[test]
fn a_slot_lets_a_pin_in_all_along_it() {
    let beside = |(at, half, corners): Cut, by: f64| {
        (at, half, corners.iter().map(|[x, y]| [x + by, *y]).collect::<Vec<[f64; 2]>>())
    };
    let half_turn = Matrix3::new(-1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 1.0);
    let half = 25.0;
    let turns = |second: Cut| {
        let row = [round([-100.0, -60.0], 8.0, half), slot([100.0, -60.0], 30.0)];
        let holes = [&row[..], &[round([100.0, 57.0], 8.0, half), second]].concat();
        let holes: Vec<Cut> = holes.into_iter().map(|(at, _, corners)| (at, half, corners)).collect();
        let pins = [
            pin("pin", "pin", [-100.0, -60.0], "[0, 0, 1]", ""),
            pin("slot", "slot_pin", [100.0, -60.0], "[0, 1, 0]", ""),
        ];
        let found = on_pads(&cut(SIZE, &holes), &pins.concat()).wrong_ways.unwrap().fit;
        found.iter().any(|way| (way.turned - half_turn).amax() < 1e-6)
    };
    let at = [-100.0, 57.0];
    for by in [0.0, 4.0, 6.0] {
        assert!(turns(beside(slot(at, 30.0), by)), "{by}");
    }
    assert!(!turns(beside(slot(at, 30.0), 9.0)) && !turns(beside(round(at, 8.0, half), 4.0)));
}

/// A plate 5 mm higher.
fn raised(text: &str) -> String {
    let line = |line: &str| match line.rsplit_once(' ').filter(|_| line.starts_with('v')) {
        Some((before, z)) => format!("{before} {}\n", z.parse::<f64>().unwrap() + 5.0),
        None => format!("{line}\n"),
    };
    text.lines().map(line).collect()
}

/// Two plates of 3 mm, the upper 5 to 8 mm up, the pin up to between them: the hole of the lower is 3 mm beside its axis, or 10 mm, so that it
/// would go through material there. A mouth that is 4 mm wider may lie 2 mm beside it, and what lies above the pin is not asked.
#[test]
fn a_pin_goes_through_every_layer_on_its_way() {
    const SHEET: [f64; 3] = [300.0, 200.0, 3.0];
    let off = |lower: Hole, upper: Hole, z: f64| {
        let other = ([100.0, -60.0], 8.0);
        let file = plate(SHEET, &[lower, other]) + &raised(&plate(SHEET, &[upper, other]));
        let pins = [
            pin("pin", "pin", [-100.0, -60.0], "[0, 0, 1]", ""),
            pin("slot", "slot_pin", [100.0, -60.0], "[0, 1, 0]", ""),
        ];
        let pins =
            pins.concat().replace("-60, 4]", &format!("-60, {z}]")).replace("340, 4]", &format!("340, {z}]"));
        let found = on_pads(&file, &pins).in_the_air;
        assert!(found.iter().all(|off| off.name == "pin"), "{found:?}");
        found.first().map(|found| found.off)
    };
    let hole = |x: f64, radius: f64| ([x, -60.0], radius);
    assert_eq!(off(hole(-100.0, 8.0), hole(-100.0, 8.0), 4.0), None);
    let beside = off(hole(-97.0, 8.0), hole(-100.0, 8.0), 4.0);
    assert!(matches!(beside, Some(Off::Middle { by, .. }) if (by - mm(3.0)).abs() < 1e-8), "{beside:?}");
    let steel = off(hole(-90.0, 8.0), hole(-100.0, 8.0), 4.0);
    assert!(matches!(steel, Some(Off::Hole(by)) if (by - mm(10.0)).abs() < 1e-8), "{steel:?}");
    assert_eq!(off(hole(-98.0, 10.0), hole(-100.0, 8.0), 4.0), None);
    assert_eq!(off(hole(-100.0, 8.0), hole(-90.0, 8.0), 2.0), None);
}

/// Four round pins hold two ways each, and a plate has three in its plane: five too many.
#[test]
fn what_pins_hold_too_much_is_counted_in_ways() {
    let at = [[-100.0, -60.0], [100.0, -60.0], [-100.0, 60.0], [100.0, 60.0]];
    let pins: String =
        at.iter().enumerate().map(|(i, at)| pin(&format!("pin {i}"), "pin", *at, "[0, 0, 1]", "")).collect();
    let cell = cell(&plate(SIZE, &at.map(|at| (at, 8.0))), &pins);
    let wrong = check(&cell, &Options { seed: 0, watch: &() }).findings.fit_up.unwrap().wrong();
    assert!(
        wrong.iter().any(|line| line.contains("4 of its locators hold 5 ways more than it can go")),
        "{wrong:?}"
    );
}

/// The plate with a slot 16 mm wide from its edge at y = −100 up to y = −52 around x = −100, of nine boxes less one.
fn notched() -> String {
    let (xs, ys) = ([-150.0, -108.0, -92.0, 150.0], [-100.0, -52.0, 100.0]);
    let is_there = |i: i32, j: i32| (0..3).contains(&i) && (0..2).contains(&j) && (i, j) != (1, 0);
    let mut text = String::new();
    let mut face = |corners: [[f64; 3]; 4]| {
        text.extend(corners.iter().map(|[x, y, z]| format!("v {x} {y} {z}\n")));
        text.push_str("f -4 -3 -2 -1\n");
    };
    for (i, j) in (0..3).flat_map(|i| (0..2).map(move |j| (i, j))).filter(|(i, j)| is_there(*i, *j)) {
        let ([x, to_x], [y, to_y]) =
            ([0, 1].map(|by| xs[i as usize + by]), [0, 1].map(|by| ys[j as usize + by]));
        let round = [[x, y], [to_x, y], [to_x, to_y], [x, to_y]];
        face(round.map(|[x, y]| [x, y, 8.0]));
        face([3, 2, 1, 0].map(|corner: usize| [round[corner][0], round[corner][1], 0.0]));
        for (side, (beside, over)) in [(0, -1), (1, 0), (0, 1), (-1, 0)].into_iter().enumerate() {
            if !is_there(i + beside, j + over) {
                let [[x, y], [to_x, to_y]] = [round[side], round[(side + 1) % 4]];
                face([[x, y, 0.0], [to_x, to_y, 0.0], [to_x, to_y, 8.0], [x, y, 8.0]]);
            }
        }
    }
    text
}

/// Nothing holds a round pin toward the side on which its hole is open, here along −y. A pin in a slot that holds along x minds nothing along y,
/// and stands 2 mm off there if it does.
#[test]
fn an_open_slot_does_not_hold_a_round_pin_toward_its_opening() {
    let off = |kind: &str, x: f64, direction: &str| {
        let pins = pin("pin", kind, [x, -60.0], direction, "");
        on_pads(&notched(), &pins).in_the_air.first().map(|found| found.off)
    };
    let Some(Off::Open(way)) = off("pin", -100.0, "[0, 0, 1]") else { panic!("it is not told") };
    assert!((way - nalgebra::Vector3::new(0.0, -1.0, 0.0)).norm() < 1e-9, "{way}");
    assert_eq!(off("slot_pin", -100.0, "[1, 0, 0]"), None);
    assert!(
        matches!(off("slot_pin", -98.0, "[1, 0, 0]"), Some(Off::Middle { by, .. }) if (by - mm(2.0)).abs() < 1e-9)
    );
    // 25 mm beside the plate half of all ways are open.
    assert!(
        matches!(off("pin", -175.0, "[0, 0, 1]"), Some(Off::Face(by)) if (to_mm(by) - 25.0).abs() < 0.01)
    );
}

/// A triangle whose inscribed round has 8 mm does not tell where in it a pin should stand, be it round or one in a slot.
#[test]
fn in_a_triangle_no_pin_has_a_place_of_its_own() {
    let triangle: Vec<[f64; 2]> =
        [90.0_f64, 210.0, 330.0].map(|turn| [16.0 * deg(turn).cos(), 16.0 * deg(turn).sin()]).to_vec();
    for (odd, name) in [([-100.0, -60.0], "pin"), ([100.0, -60.0], "slot")] {
        let holes = [(odd, 20.0, triangle.clone()), round([-odd[0], -60.0], 8.0, 20.0)];
        let found = pinned(&holes, [-100.0, -60.0], [100.0, -60.0], "");
        assert!(found.in_the_air.is_empty() && found.off_face.is_empty(), "{:?}", found.in_the_air);
        assert_eq!(found.in_uneven_holes, [name]);
    }
}
