//! What the command says of files and folders that it cannot use: by name, before any work, and with nothing written.

#![allow(clippy::unwrap_used, reason = "a check that cannot be made must fail")]

use std::fs;
use std::path::Path;
use std::process::Command;

const REPOSITORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
const DEMO: &str = "scenes/gate-bracket/cell.toml";

/// Exit code, standard output and standard error of the program, run in the repository.
fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_seamwright"))
        .args(arguments)
        .current_dir(REPOSITORY)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// Runs what must be refused: exit code 2, and nothing but the reason.
fn refused(arguments: &[&str]) -> String {
    let (code, out, said) = run(arguments);
    assert_eq!((code, out.as_str()), (2, ""), "{said}");
    said
}

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).to_str().unwrap().to_owned()
}

#[test]
fn findings_that_cannot_be_compared_are_refused_by_name() {
    let here = tempfile::tempdir().unwrap();
    let (_, sound, _) = run(&["check", DEMO, "--json"]);
    for (name, text, wrong) in [
        (
            "other.json",
            sound.replacen("\"format\": 1", "\"format\": 2", 1),
            "these findings are of format 2, and format 1 is",
        ),
        (
            "cut.json",
            sound[..sound.len() / 2].to_owned(),
            "these are no findings of this version (EOF while parsing",
        ),
        (
            "none.json",
            "{}".to_owned(),
            "none.json:1: these are no findings of this version (missing field `format`)",
        ),
    ] {
        let file = path(here.path(), name);
        fs::write(&file, text).unwrap();
        let said = refused(&["check", DEMO, "--against", &file]);
        assert!(said.contains(wrong) && said.contains(&file), "{said}");
    }
    for no_file in ["nowhere.json", "scenes"] {
        let said = refused(&["check", DEMO, "--against", no_file]);
        assert!(said.starts_with(no_file) && !said.contains("os error"), "{said}");
    }
}

/// A device has no end: it must not be read at all.
#[cfg(unix)]
#[test]
fn a_device_is_no_findings_file() {
    assert_eq!(
        refused(&["check", DEMO, "--against", "/dev/zero"]),
        "/dev/zero: this is not a file; nothing was checked\n"
    );
}

#[test]
fn findings_of_another_cell_are_said_to_be_so() {
    let here = tempfile::tempdir().unwrap();
    let file = path(here.path(), "findings.json");
    let (_, findings, _) = run(&["check", DEMO, "--json"]);
    fs::write(&file, findings.replacen("\"name\": \"gate-bracket\"", "\"name\": \"other\"", 1)).unwrap();
    let (code, out, _) = run(&["check", DEMO, "--against", &file]);
    assert_eq!(code, 0);
    assert!(out.contains("- those are of another cell, other: hardly comparable\n"), "{out}");
}

#[test]
fn a_folder_below_a_file_is_refused_in_words() {
    let here = tempfile::tempdir().unwrap();
    fs::write(here.path().join("file"), "mine").unwrap();
    let said = refused(&["check", DEMO, "--out", &path(here.path(), "file/results")]);
    assert!(said.ends_with("a part of this path is a file, not a folder\n"), "{said}");
}

/// `--out` of `calibrate` names one file of our own kind: an arm file beside the cell has the same ending.
#[test]
fn a_calibration_is_written_over_no_other_file() {
    let here = tempfile::tempdir().unwrap();
    let arm = path(here.path(), "arm.toml");
    let text = fs::read(Path::new(REPOSITORY).join("scenes/arms/reach-1400.toml")).unwrap();
    fs::write(&arm, &text).unwrap();
    let said = refused(&["calibrate", DEMO, "scenes/gate-bracket/measured.csv", "--out", &arm]);
    assert!(said.contains("this is no calibration file"), "{said}");
    assert_eq!(fs::read(&arm).unwrap(), text);
}

#[test]
fn times_that_no_fit_explains_are_refused() {
    let here = tempfile::tempdir().unwrap();
    let measured =
        fs::read_to_string(Path::new(REPOSITORY).join("scenes/gate-bracket/measured.csv")).unwrap();
    let in_ms = measured.replace("move,0.", "move,").replace("move,1.", "move,1");
    let (file, out) = (path(here.path(), "ms.csv"), path(here.path(), "fitted.toml"));
    fs::write(&file, in_ms).unwrap();
    let (code, _, said) = run(&["calibrate", DEMO, &file, "--out", &out]);
    assert_eq!(code, 2);
    assert!(said.contains("with the best fit these times are still off by"), "{said}");
    assert!(!Path::new(&out).exists());
}

#[test]
fn a_move_beyond_the_axes_was_not_measured_on_this_arm() {
    let here = tempfile::tempdir().unwrap();
    let measured =
        fs::read_to_string(Path::new(REPOSITORY).join("scenes/gate-bracket/measured.csv")).unwrap();
    let file = path(here.path(), "far.csv");
    fs::write(&file, measured.replacen(",35,-10,", ",999,-10,", 1)).unwrap();
    let said = refused(&["calibrate", DEMO, &file]);
    assert!(said.contains("`to1_deg` = 999: axis 1 is 829.000 degrees outside its range here"), "{said}");
}

#[test]
fn a_table_separated_by_semicolons_is_told_so() {
    let here = tempfile::tempdir().unwrap();
    let file = path(here.path(), "visit.csv");
    fs::write(&file, "row;name;joint;length_mm;leg_mm\nseam;rib;fillet;180;5\n").unwrap();
    let said = refused(&["estimate", &file]);
    assert!(
        said.contains("visit.csv:1: values are separated by semicolons here; separate them by commas"),
        "{said}"
    );
}

#[test]
fn an_arm_file_is_judged_by_itself_as_in_a_cell() {
    let here = tempfile::tempdir().unwrap();
    let file = path(here.path(), "arm.toml");
    let text = fs::read_to_string(Path::new(REPOSITORY).join("scenes/arms/reach-1400.toml")).unwrap();
    fs::write(&file, text.replacen("home_deg", "ignored_pairs = [[1, 9]]\nhome_deg", 1)).unwrap();
    let said = refused(&["arm", &file]);
    assert!(said.contains("`ignored_pairs` = [[1, 9]]: 9 is out of bounds"), "{said}");
}
