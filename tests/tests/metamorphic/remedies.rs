//! Each change that the fit-up promises to buy good parts is made in the cell file, and buys what was promised.

use std::fs;
use std::path::Path;

use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, SeamId, SearchedFace, Solid};
use seamwright_sim::fitup::FitUp;
use seamwright_sim::fitup::offered_search::touch_search;
use seamwright_sim::fitup::remedies::{Change, Remedy, Which};
use seamwright_sim::plan::{Options, plan};
use seamwright_sim::schedule::schedule;
use seamwright_sim::units::{mm, to_mm};
use seamwright_tests::fitted::fitted;

const DRAFT: &str = "hinge-plate/first-draft.toml";

fn scenes() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes")
}

fn answered(cell: &Cell) -> FitUp {
    fitted(cell, 0)
}

/// The file with one value of one locator replaced, as a fixture designer would.
fn with_value(text: &str, locator: &str, key: &str, value: &str) -> String {
    let start = text.find("[[fixture.locator]]").unwrap();
    let row = start + text[start..].find(&format!("name = \"{locator}\"")).unwrap();
    let key = row + text[row..].find(&format!("\n{key} = ")).unwrap() + 1;
    let end = key + text[key..].find('\n').unwrap();
    let name = text[key..end].split(" = ").next().unwrap();
    format!("{}{name} = {value}{}", &text[..key], &text[end..])
}

fn value_of(text: &str, key: &str) -> f64 {
    let row = text.lines().find(|line| line.starts_with(&format!("{key} = "))).unwrap();
    row.split(" = ").nth(1).unwrap().parse().unwrap()
}

fn halved(cell: &Cell, which: &Which, of: fn(&seamwright_sim::cell::Locator) -> f64) -> String {
    let locators = cell.bodies.iter().flat_map(|body| &body.locators);
    let locator = locators.into_iter().find(|locator| locator.name == which.locator).unwrap();
    format!("{}", to_mm(of(locator)) / 2.0)
}

/// The cell file with a change made, written as the findings say it.
fn made(cell: &Cell, text: &str, change: &Change) -> String {
    let half = |key: &str| {
        let value = value_of(text, key);
        text.replace(&format!("\n{key} = {value}\n"), &format!("\n{key} = {}\n", value / 2.0))
    };
    match change {
        Change::Move(which, to) => {
            let at = [to.x, to.y, to.z].map(|part| format!("{:.3}", to_mm(part))).join(", ");
            with_value(text, &which.locator, "at_mm", &format!("[{at}]"))
        }
        Change::HalvePartTolerance(which) => {
            with_value(text, &which.locator, "part_tolerance_mm", &halved(cell, which, |l| l.part_tolerance))
        }
        Change::HalveTolerance(which) => {
            with_value(text, &which.locator, "tolerance_mm", &halved(cell, which, |l| l.tolerance))
        }
        Change::Search(searches) => {
            let mut text = text.to_owned();
            for (seam, touches) in searches {
                let of = &cell.seams[seam.0];
                let rows: String = touches
                    .iter()
                    .map(|(face, at)| {
                        let search = touch_search(cell, of, (*face, *at)).unwrap();
                        let [at, off, before, speed] =
                            [*at, search.off, search.distance, search.speed].map(to_mm);
                        format!(
                            "[[seam.search]]\nface = \"{}\"\nat_mm = {at:.6}\noff_mm = {off:.6}\ndistance_mm = {before:.6}\n\
                             speed_mm_s = {speed:.6}\n",
                            face.name()
                        )
                    })
                    .collect();
                let name = text.find(&format!("[[seam]]\nname = \"{}\"", of.drawn_as)).unwrap() + 8;
                let end = text[name..].find("\n[").map_or(text.len(), |end| name + end + 1);
                text = format!("{}\n{rows}\n{}", &text[..end], &text[end..]);
            }
            text
        }
        Change::HalveJoint => half("joint_mm"),
        Change::HalveGap => half("gap_mm"),
        Change::HalveLoading => half("loading_mm"),
        Change::HalveWire => half("wire_mm"),
        other => panic!("{other:?} is not written into this file by this test"),
    }
}

/// The cell that a text says.
fn written(text: &str) -> Cell {
    let folder = tempfile::tempdir().unwrap();
    for shared in ["arms/reach-1400.toml", "torches/bent-neck.toml"] {
        let to = folder.path().join(shared);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::copy(scenes().join(shared), to).unwrap();
    }
    let file = folder.path().join("cell/cell.toml");
    fs::create_dir_all(file.parent().unwrap()).unwrap();
    fs::write(&file, text).unwrap();
    read_cell(&file).unwrap_or_else(|problems| panic!("{problems:?}"))
}

/// How long the arm's round takes in a cell, s.
fn round(cell: &Cell) -> f64 {
    let plan = plan(cell, &Options::default());
    assert!((0..cell.seams.len()).all(|seam| plan.is_welded(SeamId(seam))));
    *schedule(cell, &plan).round().last().unwrap()
}

/// Searches that are written into the file take the time, and buy the good parts, that were promised; no search that is offered makes a
/// seam fail.
#[test]
fn searches_take_the_time_that_they_are_offered_with() {
    let text = fs::read_to_string(scenes().join(DRAFT)).unwrap();
    let cell = read_cell(&scenes().join(DRAFT)).unwrap();
    let before = answered(&cell);
    let searches = before.remedies.iter().filter(|remedy| matches!(remedy.change, Change::Search(_)));
    let mut seen = 0;
    for remedy in searches {
        let changed = written(&made(&cell, &text, &remedy.change));
        let added = round(&changed) - round(&cell);
        assert_eq!(remedy.time.assumed, 0.0);
        assert!((added - remedy.time.scheduled).abs() < 1e-6, "{remedy:?} takes {added} s");
        let found = answered(&changed).touched_up.unwrap();
        assert!((found - remedy.good).abs() < 1e-4, "{remedy:?}: {found}");
        seen += 1;
    }
    assert!(seen > 0);
}

/// A face that ends before the wire meets it is searched neither: of a lug 2 mm high nothing is left 3 mm from the root.
#[test]
fn a_search_that_would_miss_its_face_is_not_offered() {
    let cell = read_cell(&scenes().join(DRAFT)).unwrap();
    let mut low = cell.clone();
    for shape in low.shapes.iter_mut().filter(|shape| shape.name.contains("lug")) {
        let Solid::Box { half } = &mut shape.solid else { panic!("a box is expected") };
        shape.frame_from_shape.translation.vector.z -= half.z - mm(1.0);
        half.z = mm(1.0);
    }
    for (cell, is_searched) in [(&cell, true), (&low, false)] {
        let found = answered(cell);
        let faces = found.remedies.iter().filter_map(|remedy| match &remedy.change {
            Change::Search(searches) => Some(searches.iter().flat_map(|(_, touches)| touches)),
            _ => None,
        });
        let other = faces.flatten().any(|(face, _)| *face == SearchedFace::Other);
        assert_eq!(other, is_searched);
    }
}

#[test]
fn the_three_changes_that_buy_most_buy_what_they_promise() {
    let text = fs::read_to_string(scenes().join(DRAFT)).unwrap();
    let cell = read_cell(&scenes().join(DRAFT)).unwrap();
    let before = answered(&cell);
    let best: Vec<&Remedy> =
        before.remedies.iter().filter(|remedy| remedy.change.is_of_fixture()).take(3).collect();
    assert_eq!(best.len(), 3);
    assert!(best.windows(2).all(|pair| pair[0].gain >= pair[1].gain), "{best:?}");
    let wire = before.remedies.iter().find(|remedy| remedy.change == Change::HalveWire);
    for remedy in best.into_iter().chain(wire) {
        let after = answered(&written(&made(&cell, &text, &remedy.change)));
        // Positions are written to 0.001 mm and back, so a part in a hundred thousand may fall on the other side of a limit.
        let found = after.touched_up.unwrap();
        assert!((found - remedy.good).abs() < 1e-4, "{remedy:?}: {found}");
        let gain = found - before.touched_up.unwrap();
        assert!(gain > 0.0 && (gain - remedy.gain).abs() < 1e-4, "{remedy:?} buys {gain}");
    }
}

/// A remedy's promise does not hang on the seed: other draws promise the same within five standard deviations of a drawn share.
#[test]
fn another_seed_promises_the_same() {
    let cell = read_cell(&scenes().join(DRAFT)).unwrap();
    let [one, other] = [0, 99].map(|seed| fitted(&cell, seed));
    for remedy in one.remedies.iter().take(5) {
        let same = other.remedies.iter().find(|known| known.change == remedy.change).unwrap();
        let spread = (remedy.good * (1.0 - remedy.good) * 2.0 / one.parts as f64).sqrt().max(1e-5);
        assert!((same.good - remedy.good).abs() < 5.0 * spread, "{remedy:?} against {same:?}");
    }
}

/// What may only be made better: no tolerance halved costs good parts (same draws, so no noise hides it).
#[test]
fn halved_tolerances_cost_no_good_parts() {
    let cell = read_cell(&scenes().join(DRAFT)).unwrap();
    let before = answered(&cell);
    let mut tighter = cell.clone();
    for locator in tighter.bodies.iter_mut().flat_map(|body| &mut body.locators) {
        locator.part_tolerance /= 2.0;
        locator.tolerance /= 2.0;
    }
    tighter.variation.joint /= 2.0;
    tighter.variation.loading /= 2.0;
    let after = answered(&tighter);
    assert!(after.touched_up.unwrap() >= before.touched_up.unwrap());
    assert!(after.downloaded.unwrap() > before.downloaded.unwrap());
}
