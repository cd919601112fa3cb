//! Clamps that open between welds, as they are read and as they are refused.

use super::*;
use crate::cell::StationId;

/// A rib on a plate, tacked by the arm on its left, welded left and right; `station` and `clamp` add keys.
fn ribs(station: &str, clamp: &str) -> String {
    let side = |name: &str, y: f64, rest: &str| {
        format!(
            "[[seam]]\nname = \"{name}\"\nprocedure = \"usual\"\njoint = \"fillet\"\npoints_mm = [[-100, {y}, 0], [100, {y}, 0]]\n{rest}"
        )
    };
    format!(
        "{}{}{}[[fixture.clamp]]\nname = \"toggle\"\nkind = \"box\"\nat_mm = [0, 20, 20]\nsize_mm = [30, 30, 30]\nclose_s = 2\nopen_s = 1\n\
         {clamp}{}{}",
        HEAD.replace("load_s = 30\n", &format!("load_s = 30\n{station}")),
        plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]),
        plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]),
        side("left", 4.0, "tacks = { at_mm = [20, 180], length_mm = 8, height_mm = 1, by = \"arm\" }\n"),
        side("right", -4.0, "")
    )
}

const OPENS: &str = "open_at_mm = [0, 120, 60]\nby = \"air\"\nopens_after = [\"left, tacks\"]\n";

fn sound(station: &str, clamp: &str) -> Cell {
    read(&ribs(station, clamp), &[]).map_err(|problems| listed(&problems)).unwrap()
}

fn wrong(clamp: &str) -> Vec<String> {
    let problems = read(&ribs("", clamp), &[]).err().unwrap_or_default();
    problems.iter().map(|problem| format!("{}: {}", problem.key, problem.wrong)).collect()
}

#[test]
fn a_clamp_opens_between_the_tacks_and_the_welds_and_the_arm_waits_for_it() {
    let cell = sound("", OPENS);
    let openings: Vec<(&str, usize)> =
        cell.seams.iter().map(|seam| (seam.name.as_str(), seam.openings)).collect();
    assert_eq!(openings, [("left, tacks", 0), ("left", 1), ("right", 1)]);
    let station = &cell.stations[0];
    let [opening] = station.openings.as_slice() else { panic!("{:?}", station.openings) };
    assert_eq!((opening.clamps.as_slice(), opening.time), (["toggle".to_owned()].as_slice(), 1.0));
    let names = |shapes: &[ShapeId]| -> Vec<&str> {
        shapes.iter().map(|shape| cell.shapes[shape.0].name.as_str()).collect()
    };
    assert_eq!((names(&opening.closed), names(&opening.open)), (vec!["toggle"], vec!["toggle, open"]));
    // The person closes it and no longer opens it.
    assert_eq!(station.loading.clamping, 2.0);
    assert_eq!(sound("", "").stations[0].loading.clamping, 3.0);
    assert_eq!(sound("", "").stations[0].openings, []);
}

#[test]
fn every_copy_of_a_fixture_opens_its_own_clamp() {
    let cell = sound("repeat = { count = [2, 1], pitch_mm = [400, 0] }\n", OPENS);
    let station = &cell.stations[0];
    let clamps: Vec<_> = station.openings.iter().map(|opening| opening.clamps.clone()).collect();
    assert_eq!(clamps, [["toggle (1)"], ["toggle (2)"]]);
    let order: Vec<(&str, usize)> = cell
        .weld_order(StationId(0))
        .into_iter()
        .map(|seam| (cell.seams[seam.0].name.as_str(), cell.seams[seam.0].openings))
        .collect();
    assert_eq!(
        order,
        [
            ("left (1), tacks", 0),
            ("left (1)", 1),
            ("right (1)", 1),
            ("left (2), tacks", 1),
            ("left (2)", 2),
            ("right (2)", 2)
        ]
    );
}

#[test]
fn a_clamp_that_cannot_open_there_is_refused() {
    let key = "fixture[1].clamp[1].opens_after";
    let one = |clamp: &str, what: &str| assert_eq!(wrong(clamp), [format!("{key}: {what}")], "{clamp}");
    one(&OPENS.replace("air", "hand"), "nobody can open a clamp by hand while the arm welds");
    one(&OPENS.replace("by = \"air\"\n", ""), "nobody can open a clamp by hand while the arm welds");
    one(&OPENS.replace("open_at_mm = [0, 120, 60]\n", ""), "it is not said where this clamp stands open");
    one(&OPENS.replace("left, tacks", "left tacks"), "no seam \"left tacks\" is welded in this fixture");
    one(&OPENS.replace("left, tacks", "right"), "nothing is welded after these seams");
    one(&OPENS.replace("\"left, tacks\"", ""), "there is no seam in it");
}
