//! What binds the order of seams, as it is read and as it is refused.

use super::*;
use crate::cell::{Before, Cooling, StationId};

/// A rib on a plate, welded on both sides from −x to +x, with more keys for the cell's station, its fixture and either seam.
fn ribs(station: &str, fixture: &str, left: &str, right: &str) -> String {
    let head = HEAD
        .replace("load_s = 30\n", &format!("load_s = 30\n{station}"))
        .replace("[[fixture]]\nname = \"jig\"\n", &format!("[[fixture]]\nname = \"jig\"\n{fixture}"));
    let side = |name: &str, y: f64, rest: &str| {
        format!(
            "[[seam]]\nname = \"{name}\"\nprocedure = \"usual\"\njoint = \"fillet\"\npoints_mm = [[-100, {y}, 0], [100, {y}, 0]]\n{rest}"
        )
    };
    format!(
        "{head}{}{}{}{}",
        plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]),
        plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]),
        side("left", 4.0, left),
        side("right", -4.0, right)
    )
}

fn sound(station: &str, fixture: &str, left: &str, right: &str) -> Cell {
    read(&ribs(station, fixture, left, right), &[]).map_err(|problems| listed(&problems)).unwrap()
}

/// What is wrong, without file and line.
fn wrong(station: &str, fixture: &str, left: &str, right: &str) -> Vec<String> {
    let problems = read(&ribs(station, fixture, left, right), &[]).err().unwrap_or_default();
    problems.iter().map(|problem| format!("{}: {}", problem.key, problem.wrong)).collect()
}

fn order(cell: &Cell) -> Vec<&str> {
    cell.weld_order(StationId(0)).into_iter().map(|seam| cell.seams[seam.0].name.as_str()).collect()
}

#[test]
fn seams_are_welded_in_the_order_of_their_tables_or_of_their_station() {
    assert_eq!(order(&sound("", "", "", "")), ["left", "right"]);
    let cell = sound("weld_order = [\"right\", \"left\"]\nweld_reversed = [\"left\"]\n", "", "", "");
    assert_eq!(order(&cell), ["right", "left"]);
    assert_eq!([cell.seams[0].reversed, cell.seams[1].reversed], [true, false]);
    let start = cell.seams[0].path.as_ref().unwrap().at(0.0).point;
    assert!((start.x - 0.1).abs() < 1e-12, "{start}");
}

#[test]
fn an_order_names_every_seam_once() {
    assert_eq!(
        wrong("weld_order = [\"right\"]\n", "", "", ""),
        ["station[1].weld_order: 1 of the seams of this station are not in it, such as \"left\""]
    );
    assert_eq!(
        wrong("weld_order = [\"right\", \"left\", \"right\"]\n", "", "", ""),
        ["station[1].weld_order: \"right\" stands in it twice"]
    );
    let unknown = wrong("weld_order = [\"right\", \"lefty\"]\n", "", "", "");
    assert_eq!(unknown[0], "station[1].weld_order: no seam \"lefty\" is welded on this station");
    let no_list = wrong("weld_order = \"right\"\n", "", "", "");
    assert!(
        no_list.contains(&"station[1].weld_order: this is not a list of texts".to_owned()),
        "{no_list:?}"
    );
}

#[test]
fn what_comes_after_another_must_come_after_it_in_the_file_too() {
    let after = "after = [\"right\"]\n";
    assert_eq!(
        wrong("", "", after, ""),
        ["seam[1].after: \"left\" would be welded before \"right\", though `after` says so"]
    );
    let cell = sound("weld_order = [\"right\", \"left\"]\n", "", after, "");
    assert_eq!(cell.seams[1].comes_before(&cell.seams[0]), Some(Before::After));
    assert_eq!(cell.seams[0].comes_before(&cell.seams[1]), None);
    assert_eq!(
        wrong("weld_order = [\"left\", \"right\"]\n", "", after, ""),
        ["station[1].weld_order: \"left\" would be welded before \"right\", though `after` says so"]
    );
    assert_eq!(
        wrong("", "", after, "after = [\"left\"]\n"),
        [
            "seam[1].after: \"left\" would be welded before \"right\", though `after` says so; by other rules it would have to be, so that no \
          order keeps them all and one must go"
        ]
    );
    assert_eq!(wrong("", "", "", "after = [\"right\"]\n"), ["seam[2].after: a seam is named by itself"]);
    let unknown = wrong("", "", "", "after = [\"lef\"]\n");
    assert_eq!(unknown, ["seam[2].after: no seam of this fixture is named \"lef\""]);
}

#[test]
fn from_the_fixed_place_a_seam_goes_away() {
    let held = "fixed_at_mm = [-100, 50, 0]\n";
    let free = "fixed_to_free = true\n";
    let cell = sound("weld_order = [\"left\", \"right\"]\n", held, free, free);
    // 46 and 54 mm off.
    assert_eq!(cell.seams[0].comes_before(&cell.seams[1]), Some(Before::FromFixed));
    assert!(!cell.seams[0].may_turn());
    assert_eq!(
        wrong("", held, "", &format!("{free}reversed = true\n")),
        [
            "seam[2].fixed_to_free: it starts 207.2 mm from where the parts are held fast and ends 54.0 mm from there"
        ]
    );
    assert_eq!(
        wrong("", "", free, ""),
        ["seam[1].fixed_to_free: it is not said where the parts are held fast"]
    );
    assert_eq!(
        wrong("weld_order = [\"right\", \"left\"]\n", held, free, free),
        [
            "station[1].weld_order: \"right\" would be welded before \"left\", though it is nearer to where the parts are held fast"
        ]
    );
}

/// 8 mm apart all along.
#[test]
fn what_must_cool_is_said_of_the_procedure_or_of_the_seam() {
    let near = "cool_within_mm = 8.5\ncool_for_s = 30\n";
    let cell = sound("", "", "", near);
    assert_eq!(cell.seams[1].procedure.cooling, Some(Cooling { within: 0.0085, time: 30.0 }));
    assert!((cell.seams[0].cools_before(&cell.seams[1]) - 30.0).abs() < 1e-12);
    assert!(cell.seams[1].cools_before(&cell.seams[0]).abs() < 1e-12, "the left one asks for nothing");
    let far = sound("", "", "", "cool_within_mm = 7.5\ncool_for_s = 30\n");
    assert!(far.seams[0].cools_before(&far.seams[1]).abs() < 1e-12);
    assert_eq!(
        wrong("", "", "", "cool_for_s = 30\n"),
        ["seam[2].cool_for_s: this says half of what must cool"]
    );
}

#[test]
fn only_a_seam_whose_metal_stays_where_it_is_may_be_turned_round() {
    assert!(sound("", "", "", "").seams[0].may_turn());
    assert!(sound("", "", "start_inset_mm = 5\nend_inset_mm = 5\n", "").seams[0].may_turn());
    for kept in [
        "start_inset_mm = 5\n",
        "keep_direction = true\n",
        // 20 and 60 mm to 190 mm: the last stitch ends 20 mm before the end, the first begins at the start.
        "stitch = { weld_mm = 40, pitch_mm = 70 }\n",
        "tacks = { at_mm = [50], length_mm = 10, height_mm = 2, by = \"person\", each_s = 5 }\n",
    ] {
        assert!(!sound("", "", kept, "").seams[0].may_turn(), "{kept}");
        let turned = wrong("weld_reversed = [\"left\"]\n", "", kept, "");
        assert_eq!(turned, ["station[1].weld_reversed: \"left\" cannot be turned round by this"], "{kept}");
    }
    // Two stitches of 80 mm, from either end alike: 0 to 80 and 120 to 200 mm.
    let even = "stitch = { weld_mm = 80, pitch_mm = 120 }\n";
    assert!(sound("", "", even, "").seams[0].may_turn());
}

#[test]
fn what_balances_stands_side_by_side() {
    let cell = sound("", "", "", "balances = \"left\"\n");
    assert!(cell.seams[0].balances(&cell.seams[1]) && cell.seams[1].balances(&cell.seams[0]));
    let third = "[[seam]]\nname = \"end\"\nprocedure = \"usual\"\njoint = \"fillet\"\npoints_mm = [[100, -4, 0], [100, 4, 0]]\n\
                 balances = \"left\"\n";
    assert_eq!(
        wrong("", "", "", third),
        ["seam[1].name: \"left\" and \"end\" balance each other, and others stand between"]
    );
}
