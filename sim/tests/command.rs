//! What the command promises to whoever calls it: exit codes, what goes where, the same bytes every time.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use seamwright_sim::findings::Findings;
use seamwright_sim::plan::Verdict;

const REPOSITORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
const COLUMNS: usize = 100;

/// The program, run in the repository, with no opinion about colour from outside.
fn seamwright(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seamwright"));
    command.args(arguments).current_dir(REPOSITORY).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE");
    command
}

fn run(arguments: &[&str]) -> Output {
    seamwright(arguments).output().unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn stdout(output: &Output) -> &str {
    str::from_utf8(&output.stdout).unwrap()
}

fn stderr(output: &Output) -> &str {
    str::from_utf8(&output.stderr).unwrap()
}

/// The starter cell with its arm and torch, copied so that a test may change it.
struct Copied {
    folder: tempfile::TempDir,
}

impl Copied {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for file in ["gate-bracket/cell.toml", "arms/reach-1400.toml", "torches/bent-neck.toml"] {
            let to = folder.path().join(file);
            fs::create_dir_all(to.parent().unwrap()).unwrap();
            fs::copy(Path::new(REPOSITORY).join("scenes").join(file), to).unwrap();
        }
        Self { folder }
    }

    fn cell(&self) -> PathBuf {
        self.folder.path().join("gate-bracket/cell.toml")
    }

    /// Replaces text that must be there.
    fn replace(&self, from: &str, to: &str) {
        let text = fs::read_to_string(self.cell()).unwrap();
        assert!(text.contains(from), "the starter cell no longer has {from:?}");
        fs::write(self.cell(), text.replace(from, to)).unwrap();
    }

    /// Moves a clamp along the plate until it stands at the end of a seam.
    fn with_the_left_toggle_at_the_ear(self) -> Self {
        self.replace("at_mm = [60, 125, 56]", "at_mm = [20, 100, 56]");
        self
    }

    /// Moves the arm so far back that some seams are out of its reach.
    fn with_the_arm_moved_back(self) -> Self {
        self.replace("\nat_mm = [0, 0, 450]\n", "\nat_mm = [-900, 0, 450]\n");
        self
    }

    fn run(&self, arguments: &[&str]) -> Output {
        let mut command = seamwright(&["check", "cell.toml"]);
        command.args(arguments).current_dir(self.cell().parent().unwrap()).output().unwrap()
    }
}

fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(&path).unwrap())
        })
        .collect();
    files.sort();
    files
}

#[test]
fn without_arguments_the_bundled_demo_is_checked_and_holds() {
    let (bare, named) = (run(&[]), run(&["check"]));
    assert_eq!(code(&bare), 0, "{}", stderr(&bare));
    assert!(stdout(&bare).starts_with("gate-bracket: everything that was checked holds\n"));
    assert_eq!(bare.stdout, named.stdout);
}

#[test]
fn the_bundled_demo_is_the_one_in_the_repository() {
    assert_eq!(run(&["check"]).stdout, run(&["check", "scenes/gate-bracket/cell.toml"]).stdout);
}

#[test]
fn a_clamp_in_the_way_is_named_with_what_is_left_and_where() {
    let output = Copied::new().with_the_left_toggle_at_the_ear().run(&["--json"]);
    assert_eq!(code(&output), 1, "{}", stderr(&output));
    let findings: Findings = serde_json::from_str(stdout(&output)).unwrap();
    for seam in &findings.seams {
        let at_the_ear = seam.seam.starts_with("left ear");
        assert_eq!(seam.verdict == Verdict::NotFound, at_the_ear, "{}", seam.full_name());
        let named = seam.reason.as_deref().is_some_and(|reason| {
            reason.contains("left toggle") && reason.contains("10.5 mm") && reason.contains("135 mm")
        });
        assert_eq!(named, at_the_ear, "{}: {:?}", seam.full_name(), seam.reason);
    }
}

#[test]
fn a_seam_out_of_reach_says_so_and_the_exit_code_is_1() {
    let output = Copied::new().with_the_arm_moved_back().run(&[]);
    assert_eq!(code(&output), 1, "{}", stderr(&output));
    let text = stdout(&output);
    assert!(text.starts_with("gate-bracket: does not hold as it stands\n"), "{text}");
    let reasons = text.split("What does not hold").nth(1).unwrap().split("Seams on").next().unwrap();
    assert!(reasons.contains("- side A / latch lug far: "), "{reasons}");
    assert!(reasons.contains("mm too short"), "{reasons}");
}

#[test]
fn every_problem_of_a_file_is_said_with_its_line_and_nothing_is_written() {
    let copied = Copied::new();
    copied.replace("radius_mm = 160", "radius_mm = -160");
    copied.replace("max_speed_deg_s = 90", "max_sped_deg_s = 90");
    let output = copied.run(&["--out", "results"]);
    assert_eq!((code(&output), stdout(&output)), (2, ""));
    let problems: Vec<&str> = stderr(&output).lines().collect();
    assert!(
        problems.iter().any(|line| line.starts_with("cell.toml:") && line.contains("radius_mm")),
        "{problems:?}"
    );
    assert!(problems.iter().any(|line| line.starts_with("cell.toml:") && line.contains("max_sped_deg_s")));
    assert!(problems.last().unwrap().ends_with("problems; nothing was checked"));
    assert!(!copied.cell().with_file_name("results").exists());
}

#[test]
fn problems_are_told_one_a_line_in_the_order_of_the_file() {
    let copied = Copied::new();
    let broken = r#"format = 1
name = "broken"

[arm]
file = "../arms/reach-1400.toml"

[torch]
file = "../torches/straight.toml"

[[axis]]
name = "table"
kind = "turn"
min_deg = -10
max_deg = 190
max_sped_deg_s = 90

[[shape]]
name = "column"
kind = "cylinder"
on = "tabel"
radius_mm = -160
height_mm = 660
"#;
    fs::write(copied.cell(), broken).unwrap();
    insta::assert_snapshot!("problems", stderr(&copied.run(&[])));
}

#[test]
fn a_name_that_would_move_the_cursor_or_break_a_table_is_refused() {
    for name in [r"left\u001b[2J toggle", r"left\ntoggle", r"left\ttoggle"] {
        let copied = Copied::new();
        copied.replace("name = \"left toggle\"", &format!("name = \"{name}\""));
        let output = copied.run(&[]);
        assert_eq!((code(&output), stdout(&output)), (2, ""), "{name}");
        assert!(stderr(&output).contains("control character"), "{}", stderr(&output));
        assert!(!stderr(&output).contains('\u{1b}'));
    }
}

#[test]
fn a_missing_file_and_a_folder_are_input_problems() {
    for given in ["no-such-cell.toml", "scenes"] {
        let output = run(&["check", given]);
        assert_eq!((code(&output), stdout(&output)), (2, ""), "{given:?}");
        assert!(stderr(&output).ends_with("1 problem; nothing was checked\n"), "{}", stderr(&output));
    }
}

#[test]
fn arguments_that_are_not_understood_are_refused() {
    for arguments in
        [&["check", "--threads", "0"][..], &["check", "--seed", "-1"], &["chek"], &["check", "a", "b"]]
    {
        let output = run(arguments);
        assert_eq!((code(&output), stdout(&output)), (2, ""), "{arguments:?}");
    }
}

#[test]
fn json_goes_to_standard_output_alone_and_reads_back_as_findings() {
    let output = run(&["check", "--json"]);
    assert_eq!((code(&output), stderr(&output)), (0, ""));
    let findings: Findings = serde_json::from_str(stdout(&output)).unwrap();
    assert_eq!(findings.format, 1);
    assert_eq!(findings.overall.seams, findings.seams.len());
    assert_eq!(findings.overall.holding, findings.seams.len());
}

#[test]
fn the_printed_schema_describes_every_key_of_the_findings() {
    let schema: serde_json::Value = serde_json::from_str(stdout(&run(&["schema"]))).unwrap();
    let findings: serde_json::Value = serde_json::from_str(stdout(&run(&["check", "--json"]))).unwrap();
    let described = described_keys(&schema);
    let written = written_keys(&findings);
    assert!(written.len() > 100, "{}", written.len());
    let missing: Vec<&String> = written.iter().filter(|key| !described.contains(*key)).collect();
    // The names of external axes' columns are the cell's own.
    assert_eq!(missing, ["ext_table_deg"]);
}

/// Names of all properties that a schema describes, wherever they stand.
fn described_keys(schema: &serde_json::Value) -> BTreeSet<String> {
    let mut keys = BTreeSet::new();
    match schema {
        serde_json::Value::Object(object) => {
            if let Some(properties) = object.get("properties").and_then(|value| value.as_object()) {
                for (name, property) in properties {
                    // A property without a word on what it is helps nobody.
                    let says = property.get("description").or_else(|| property.get("const"));
                    assert!(says.is_some(), "`{name}` has no description");
                    keys.insert(name.clone());
                }
            }
            keys.extend(object.values().flat_map(described_keys));
        }
        serde_json::Value::Array(array) => keys.extend(array.iter().flat_map(described_keys)),
        _ => {}
    }
    keys
}

fn written_keys(value: &serde_json::Value) -> BTreeSet<String> {
    match value {
        serde_json::Value::Object(object) => {
            object.keys().cloned().chain(object.values().flat_map(written_keys)).collect()
        }
        serde_json::Value::Array(array) => array.iter().flat_map(written_keys).collect(),
        _ => BTreeSet::new(),
    }
}

#[test]
fn the_same_bytes_come_out_for_any_number_of_threads_and_from_another_folder() {
    assert_same_bytes("scenes/pump-skid/cell.toml");
}

#[test]
fn the_same_bytes_come_out_where_external_axes_are_chosen_and_move() {
    assert_same_bytes("scenes/long-frame/cell.toml");
}

fn assert_same_bytes(file: &str) {
    let here = tempfile::tempdir().unwrap();
    let mut results = Vec::new();
    for (index, threads) in ["1", "2", "7"].into_iter().enumerate() {
        let out = here.path().join(index.to_string());
        let cell = Path::new(REPOSITORY).join(file);
        let output = seamwright(&["check", "--threads", threads, "--out"])
            .arg(&out)
            .arg(if index == 1 { Path::new(file) } else { &cell })
            .current_dir(if index == 1 { Path::new(REPOSITORY) } else { here.path() })
            .output()
            .unwrap();
        assert!(code(&output) < 2, "{}", stderr(&output));
        results.push((output.stdout, files(&out)));
    }
    let names: Vec<&str> = results[0].1.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names,
        [
            "findings.json",
            "path.csv",
            "plan-view.svg",
            "points.csv",
            "seams.csv",
            "side-view.svg",
            "timeline.csv"
        ]
    );
    for other in &results[1..] {
        assert_eq!(results[0].0, other.0, "the text on the screen differs");
        for (one, other) in results[0].1.iter().zip(&other.1) {
            assert!(one == other, "{} differs", one.0);
        }
    }
    // Nothing in them says where they were made.
    for (name, bytes) in &results[0].1 {
        let text = String::from_utf8_lossy(bytes);
        assert!(!text.contains(here.path().to_str().unwrap()), "{name}");
        assert!(!text.contains(REPOSITORY.trim_end_matches("/..")), "{name}");
    }
}

#[test]
fn tables_hold_finite_numbers_without_minus_zero_and_time_rises() {
    let here = tempfile::tempdir().unwrap();
    let out = here.path().join("out");
    assert_eq!(code(&run(&["check", "--out", out.to_str().unwrap()])), 0);
    for table in ["path.csv", "points.csv", "seams.csv", "timeline.csv"] {
        let mut reader = csv::Reader::from_path(out.join(table)).unwrap();
        let heads = reader.headers().unwrap().clone();
        let mut last_time = f64::NEG_INFINITY;
        let mut rows = 0;
        for row in reader.records() {
            let row = row.unwrap();
            rows += 1;
            for (head, field) in heads.iter().zip(&row) {
                let is_number =
                    head.contains("_mm") || head.contains("_deg") || head.ends_with("_s") || head == "qw";
                if !is_number || field.is_empty() {
                    continue;
                }
                let number: f64 = field.parse().unwrap_or_else(|_| panic!("{table} {head}: {field}"));
                assert!(number.is_finite(), "{table} {head}: {field}");
                assert!(!(number == 0.0 && field.starts_with('-')), "{table} {head}: {field}");
                assert!(head != "qw" || number >= 0.0, "{table}: {field}");
                let decimals = field.split_once('.').map_or(0, |(_, decimals)| decimals.len());
                assert_eq!(decimals, if head == "qw" { 9 } else { 6 }, "{table} {head}: {field}");
            }
            if table == "path.csv" {
                let time: f64 = row[0].parse().unwrap();
                assert!(time > last_time, "{time} after {last_time}");
                last_time = time;
            }
        }
        assert!(rows > 0, "{table} is empty");
    }
}

#[test]
fn a_folder_with_foreign_files_in_it_is_refused_before_any_work() {
    let here = tempfile::tempdir().unwrap();
    fs::write(here.path().join("notes.txt"), "mine").unwrap();
    let output = run(&["check", "--out", here.path().to_str().unwrap()]);
    assert_eq!((code(&output), stdout(&output)), (2, ""));
    assert!(stderr(&output).contains("`notes.txt`"), "{}", stderr(&output));
    assert_eq!(files(here.path()), [("notes.txt".to_owned(), b"mine".to_vec())]);
}

#[test]
fn a_second_run_into_the_same_folder_says_what_changed() {
    let copied = Copied::new();
    assert_eq!(code(&copied.run(&["--out", "results"])), 0);
    let same = copied.run(&["--out", "results"]);
    assert!(stderr(&same).contains("Nothing changed"), "{}", stderr(&same));
    let copied = copied.with_the_left_toggle_at_the_ear();
    let changed = copied.run(&["--out", "results"]);
    assert_eq!(code(&changed), 1);
    let said = stderr(&changed).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("- side A / left ear inside: not found: left toggle"), "{said}");
    assert!(said.contains("before: holds"), "{said}");
}

#[test]
fn no_line_is_wider_than_a_hundred_columns() {
    for arguments in [
        &["check", "scenes/gate-bracket/cell.toml"][..],
        &["check", "scenes/gate-bracket/cell.toml", "--inch"],
        &["check", "scenes/pump-skid/first-draft.toml"],
        &["check", "scenes/round-flange/cell.toml"],
        &["check", "scenes/long-frame/post-too-near.toml"],
    ] {
        let output = run(arguments);
        assert!(code(&output) < 2, "{}", stderr(&output));
        let wide = stdout(&output).lines().find(|line| line.chars().count() > COLUMNS);
        assert_eq!(wide, None, "{arguments:?}");
    }
}

#[test]
fn colour_only_repeats_words_and_no_color_is_honoured() {
    let with = |variables: &[(&str, &str)]| {
        seamwright(&["check"]).envs(variables.iter().copied()).output().unwrap().stdout
    };
    let plain = with(&[]);
    let forced = with(&[("CLICOLOR_FORCE", "1")]);
    assert!(!plain.contains(&0x1b), "styles in a pipe");
    assert!(forced.contains(&0x1b));
    assert_eq!(with(&[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")]), plain);
    assert_eq!(anstream::adapter::strip_str(str::from_utf8(&forced).unwrap()).to_string().as_bytes(), plain);
}

#[test]
fn a_reader_that_has_seen_enough_is_no_fault() {
    let mut child = seamwright(&["check"]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((code(&output), stderr(&output)), (0, ""));
}

#[test]
fn timings_are_talk_and_not_data() {
    let (with, without) = (run(&["check", "--timings"]), run(&["check"]));
    assert_eq!(with.stdout, without.stdout);
    assert!(stderr(&with).contains("plan") && stderr(&with).contains("total"));
    assert_eq!(stderr(&without), "");
}
