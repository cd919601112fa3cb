//! Shapes that cannot stand there both, as they are drawn, are told.

use std::path::Path;

use seamwright_sim::cell::read::read_cell_with;
use seamwright_sim::cell::{Cell, ShapeId, StationId};
use seamwright_sim::findings::Findings;
use seamwright_sim::plan::{parts_in_surroundings, stations_in_one_another};
use seamwright_sim::units;

use super::advice::Rewritten;
use super::checked;

/// The jig of the file twice, the second `aside` (mm) along y, with tables of other things.
fn two_benches(aside: f64, besides: &str) -> Cell {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/advice/direction.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let second = format!(
        "\n[[station]]\nname = \"other\"\nfixture = \"jig\"\nat_mm = [900, {aside}, 600]\nload_s = 20\n"
    );
    let text = text + &second + besides;
    read_cell_with(&file, &Rewritten { file: &file, text: &text }).unwrap()
}

fn findings(cell: &Cell) -> Findings {
    checked(cell).findings
}

/// The plates, 200 mm wide, stand in one another over 20 mm, no deeper than they are thick: 10 mm. The posts stand in one another by 20 mm, which
/// is one piece that both jigs may be built on.
#[test]
fn two_stations_that_stand_in_one_another_do_not_hold() {
    let cell = two_benches(180.0, "");
    let [drawn] = stations_in_one_another(&cell)[..] else { panic!("one pair of stations") };
    let name = |shape: ShapeId| cell.shape_name(shape, StationId(0));
    assert_eq!([name(drawn.one), name(drawn.other)], ["plate", "other / plate"]);
    assert!((drawn.depth - units::mm(10.0)).abs() < 1e-6, "{drawn:?}");
    let findings = findings(&cell);
    assert!(!findings.overall.holds);
    let told = "bench / plate and other / plate stand in one another as drawn, 10.0 mm deep";
    assert!(findings.wrong_besides(Default::default()).contains(&told.to_owned()), "{:?}", findings.drawn_in);
    // The plates lie 200 mm apart, the posts 100 mm.
    assert_eq!(stations_in_one_another(&two_benches(400.0, "")), []);
}

/// A part that is drawn into what stands around is told of; one that lies on it is not.
#[test]
fn a_part_in_what_stands_around_is_told() {
    let table = |top: f64| {
        format!(
            "\n[[shape]]\nname = \"table\"\nkind = \"box\"\nat_mm = [900, 0, {}]\nsize_mm = [500, 250, 100]\n",
            top - 50.0
        )
    };
    let told = |top| {
        let cell = two_benches(400.0, &table(top));
        let depths: Vec<f64> =
            parts_in_surroundings(&cell).iter().map(|drawn| units::to_mm(drawn.depth)).collect();
        let notes = findings(&cell).assumed;
        (depths, notes.iter().any(|note| note.starts_with("bench / plate and table stand in one another")))
    };
    let (depths, is_told) = told(603.0);
    assert!(depths.len() == 1 && (depths[0] - 3.0).abs() < 1e-3 && is_told, "{depths:?}");
    assert_eq!(told(600.0), (Vec::new(), false));
}

/// Plates 200 mm wide that are repeated every 190 mm stand 10 mm in each other, no deeper than they are thick; every 210 mm they do not.
#[test]
fn copies_of_a_fixture_that_stand_in_one_another_do_not_hold() {
    let repeated = |pitch: f64| {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/advice/work-angle.toml");
        let text = std::fs::read_to_string(&file).unwrap();
        let head = "[[station]]\n";
        assert_eq!(text.matches(head).count(), 1);
        let text =
            text.replace(head, &format!("{head}repeat = {{ count = [1, 2], pitch_mm = [0, {pitch}] }}\n"));
        read_cell_with(&file, &Rewritten { file: &file, text: &text }).unwrap()
    };
    let cell = repeated(190.0);
    let [drawn] = stations_in_one_another(&cell)[..] else { panic!("one pair of copies") };
    assert!((drawn.depth - units::mm(10.0)).abs() < 1e-6, "{drawn:?}");
    assert_eq!(stations_in_one_another(&repeated(210.0)), []);
}
