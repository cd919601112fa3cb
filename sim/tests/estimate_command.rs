//! What `seamwright estimate` and `seamwright calibrate` promise to whoever calls them.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use seamwright_sim::findings::{CalibrationFindings, EstimateFindings, Findings, FitsName};

const REPOSITORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
const TABLE: &str = "scenes/pump-skid/first-visit.csv";
const MEASURED: &str = "scenes/gate-bracket/measured.csv";

fn run(arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seamwright"));
    command.args(arguments).current_dir(REPOSITORY).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE");
    command.output().unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn text(bytes: &[u8]) -> &str {
    str::from_utf8(bytes).unwrap()
}

/// The demo table with one text replaced, which must be there.
fn changed(from: &str, to: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let table = fs::read_to_string(Path::new(REPOSITORY).join(TABLE)).unwrap();
    assert!(table.contains(from), "the demo table no longer has {from:?}");
    let file = folder.path().join("table.csv");
    fs::write(&file, table.replace(from, to)).unwrap();
    (folder, file)
}

#[test]
fn the_demo_table_is_estimated_within_the_width_of_the_page() {
    let output = run(&["estimate", TABLE]);
    assert_eq!(code(&output), 0, "{}", text(&output.stderr));
    let page = text(&output.stdout);
    assert!(page.starts_with("pump-skid: "), "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 100), "{page}");
    assert!(page.contains("Cycle         933 to 1662 s for a load of 1 part, 1222 s expected"), "{page}");
}

#[test]
fn json_holds_what_the_screen_says_and_the_same_bytes_every_time() {
    let [one, other] = [0, 1].map(|_| run(&["estimate", TABLE, "--json"]));
    assert_eq!(one.stdout, other.stdout);
    let findings: EstimateFindings = serde_json::from_slice(&one.stdout).unwrap();
    let told: f64 = findings.elements.iter().map(|element| element.total_s.expected).sum();
    assert!(
        (told - findings.cycle_s.expected).abs() < 1e-3,
        "one station: the cycle is the sum of its elements"
    );
}

#[test]
fn a_quantity_that_not_even_the_short_end_makes_ends_with_1() {
    let (_folder, file) = changed(",       2500", ",       25000");
    let output = run(&["estimate", file.to_str().unwrap(), "--json"]);
    assert_eq!(code(&output), 1);
    let findings: EstimateFindings = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(findings.demand.unwrap().fits, FitsName::DoesNotFit);
}

#[test]
fn every_problem_of_a_table_is_told_with_its_line() {
    let (_folder, file) = changed("butt,   540", "but,    nan");
    let output = run(&["estimate", file.to_str().unwrap()]);
    assert_eq!((code(&output), output.stdout.len()), (2, 0));
    let problems = text(&output.stderr);
    assert!(
        problems.contains("table.csv:8: `joint` = but: this word is not known here; is it butt?"),
        "{problems}"
    );
    assert!(
        problems.contains("table.csv:8: `length_mm` = nan: this is not a number that fits here"),
        "{problems}"
    );
}

#[test]
fn a_value_that_its_row_has_no_use_for_is_told() {
    let (_folder, file) =
        changed("clamp,  toggles,                4,     ,       ,", "clamp,  toggles, 4, ,50,");
    let output = run(&["estimate", file.to_str().unwrap()]);
    assert_eq!(code(&output), 2);
    assert!(text(&output.stderr).contains("`length_mm` = 50: a row of this kind has no use for this"));
}

/// The starter cell in a folder of its own, with `calibration` in it.
fn calibrated_cell(calibration: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    for file in ["gate-bracket/cell.toml", "arms/reach-1400.toml", "torches/bent-neck.toml"] {
        let to = folder.path().join(file);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::copy(Path::new(REPOSITORY).join("scenes").join(file), to).unwrap();
    }
    let cell = folder.path().join("gate-bracket/cell.toml");
    let plain = fs::read_to_string(&cell).unwrap();
    fs::write(&cell, plain.replacen("\nname = ", "\ncalibration = \"fitted.toml\"\nname = ", 1)).unwrap();
    fs::write(folder.path().join("gate-bracket/fitted.toml"), calibration).unwrap();
    (folder, cell)
}

#[test]
fn what_was_fitted_is_used_by_the_next_check_and_said() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("fitted.toml");
    let arguments = ["calibrate", "scenes/gate-bracket/cell.toml", MEASURED, "--json", "--out"];
    let output = run(&[&arguments[..], &[file.to_str().unwrap()]].concat());
    assert_eq!(code(&output), 0, "{}", text(&output.stderr));
    let fitted: CalibrationFindings = serde_json::from_slice(&output.stdout).unwrap();
    assert!(fitted.quality.moves.unwrap().residual_percent < fitted.off_before_percent());
    let written = fs::read_to_string(&file).unwrap();

    let (_folder, cell) = calibrated_cell(&written);
    let output = run(&["check", cell.to_str().unwrap(), "--json"]);
    assert_eq!(code(&output), 0, "{}", text(&output.stderr));
    let findings: Findings = serde_json::from_slice(&output.stdout).unwrap();
    let cycle = findings.cycle.unwrap();
    assert_eq!(cycle.calibration, Some(fitted.quality));
    let words = cycle.promise_sentence();
    assert!(words.contains("calibrated from 34 measurements, residual "), "{words}");
    // What the overlay replaces is no assumption any more.
    assert!(!findings.assumed.iter().any(|note| note.starts_with("air moves are assumed")));

    let again = run(&["calibrate", cell.to_str().unwrap(), MEASURED]);
    assert_eq!(code(&again), 2);
    assert!(text(&again.stderr).contains("this cell is calibrated already"));
}

#[test]
fn a_calibration_of_another_arm_is_refused() {
    let text_of = "format = 1\nname = \"x\"\narm = \"another\"\nmeasurements = 5\nmoves_residual_percent = 2\n\
                   degrees_of_freedom = 3\n";
    let (_folder, cell) = calibrated_cell(text_of);
    let output = run(&["check", cell.to_str().unwrap()]);
    assert_eq!(code(&output), 2);
    assert!(
        text(&output.stderr).contains("`calibration` = \"fitted.toml\": `another` was measured"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn the_schemas_of_both_are_printed() {
    for of in ["estimate", "calibration"] {
        let output = run(&["schema", of]);
        assert_eq!(code(&output), 0);
        assert!(serde_json::from_slice::<serde_json::Value>(&output.stdout).is_ok());
    }
}

/// What contradicts itself in a table is told: a person without a station, a rate without an amount, a speed that no wire fills.
#[test]
fn what_cannot_be_in_a_table_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("table.csv");
    let head = "row,name,count,joint,length_mm,leg_mm,section_mm2,speed_mm_s,welds,searches,weight_kg,by,walk_m,value\n";
    let rows = "seam,ribs,6,fillet,180,12,,40,1\ngiven,stations,,,,,,,,,,,,2\ngiven,persons,,,,,,,,,,,,3\n\
                given,labour_per_h,,,,,,,,,,,,40\ngiven,gas_per_m3,,,,,,,,,,,,5\n";
    fs::write(&file, format!("{head}{rows}")).unwrap();
    let output = run(&["estimate", file.to_str().unwrap(), "--json"]);
    assert_eq!(code(&output), 0, "{}", text(&output.stderr));
    let findings: EstimateFindings = serde_json::from_slice(&output.stdout).unwrap();
    let told = |start: &str| findings.cautions.iter().any(|caution| caution.starts_with(start));
    assert!(told("3 persons and 2 stations: who has no station"), "{:?}", findings.cautions);
    assert!(told("ribs at its speed_mm_s would take 156 m/min of 1.2 mm wire"), "{:?}", findings.cautions);
    let not_counted = findings.cost.unwrap().not_counted;
    assert!(not_counted.contains(&"gas (its gas_l_min is not given)".to_owned()), "{not_counted:?}");
}
