//! What the command says of changes, room and touched points: exit codes, what goes where, what is refused.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use seamwright_sim::findings::Findings;

const REPOSITORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
const CELL: &str = "scenes/round-flange/cell.toml";

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_seamwright")).args(arguments).current_dir(REPOSITORY).output().unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn words(bytes: &[u8]) -> String {
    str::from_utf8(bytes).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

fn written(folder: &Path, name: &str, text: &str) -> PathBuf {
    let file = folder.join(name);
    fs::write(&file, text).unwrap();
    file
}

fn refused(arguments: &[&str], says: &[&str]) {
    let output = run(arguments);
    assert_eq!((code(&output), words(&output.stdout).as_str()), (2, ""), "{arguments:?}");
    let said = words(&output.stderr);
    for what in says {
        assert!(said.contains(what), "{what:?} is not in {said:?}");
    }
}

#[test]
fn touched_points_that_tell_nothing_are_refused_with_the_reason() {
    let here = tempfile::tempdir().unwrap();
    let head = "x_mm,y_mm,z_mm,touched_x_mm,touched_y_mm,touched_z_mm\n";
    let check = |rows: &str, says: &[&str]| {
        let file = written(here.path(), "points.csv", rows);
        refused(&["check", CELL, "--measured", file.to_str().unwrap()], says);
    };
    check(
        &format!("{head}0,0,0,1,0,0\n100,0,0,101,0,0\n200,0,0,201,0,0\n"),
        &["on one line", "nothing was checked"],
    );
    check(&format!("{head}0,0,0,1,0,0\n100,0,0,101,0,0\n"), &["2 points were touched, and three are needed"]);
    check(&format!("{head}0,0,0,1,0,here\n"), &["points.csv:2", "touched_z_mm", "= here"]);
    check("x_mm,y_mm,z_mm\n0,0,0\n", &["touched_x_mm", "this column is missing"]);
    check(&format!("station,{head}nowhere,0,0,0,1,0,0\n"), &["points.csv:2", "no station of this name"]);
    check(head, &["this file has no points"]);
    check("", &["x_mm"]);
}

#[test]
fn findings_that_are_none_are_refused() {
    let here = tempfile::tempdir().unwrap();
    let file = written(here.path(), "old.json", "{}");
    refused(&["check", CELL, "--against", file.to_str().unwrap()], &["old.json", "nothing was checked"]);
    refused(&["check", CELL, "--against", "no-such.json"], &["no-such.json", "nothing was checked"]);
}

#[test]
fn a_cell_against_its_own_findings_has_not_changed() {
    let here = tempfile::tempdir().unwrap();
    let json = run(&["check", "--json"]);
    let file = written(here.path(), "old.json", str::from_utf8(&json.stdout).unwrap());
    let output = run(&["check", "--against", file.to_str().unwrap()]);
    assert_eq!(code(&output), 0);
    assert!(words(&output.stdout).contains("Nothing changed since"), "{}", words(&output.stdout));
}

/// Findings of the demos as an earlier build of this format wrote them: a format grows by keys that older files may lack.
#[test]
fn findings_that_an_earlier_build_wrote_are_still_read() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/earlier_findings");
    for cell in ["gate-bracket", "hinge-plate", "pump-skid"] {
        let text = fs::read_to_string(folder.join(format!("{cell}.json"))).unwrap();
        let findings: Findings =
            serde_json::from_str(&text).unwrap_or_else(|error| panic!("{cell}: {error}"));
        assert!(findings.cell.name == cell && findings.holds(), "{cell}");
    }
}

/// A blocked seam is told with what frees it; unasked nothing of it is told, and nothing else differs.
#[test]
fn advice_is_given_where_it_is_asked_for() {
    let cell = "tests/data/advice/moved-shape.toml";
    let with = run(&["check", cell, "--advice"]);
    assert_eq!(code(&with), 1);
    let said = words(&with.stdout);
    assert!(said.contains("What would free it, nearest first"), "{said}");
    assert!(said.contains("in [[fixture.clamp]] toggle write at_mm = ["), "{said}");
    let without = run(&["check", cell, "--json"]);
    let unasked: Findings = serde_json::from_slice(&without.stdout).unwrap();
    assert_eq!(unasked.advice, None);
    let threads = ["1", "2", "7"]
        .map(|threads| run(&["check", cell, "--advice", "--json", "--threads", threads]).stdout);
    assert!(threads.iter().all(|json| *json == threads[0]), "the number of threads changes the advice");
    let given: Findings = serde_json::from_slice(&threads[0]).unwrap();
    assert_eq!(Findings { advice: None, ..given }, unasked);
}
