//! A cell in which nearly every key stands: what one of them says is not blamed on another.

use super::*;

const NAMES: [&str; 3] = ["cell.toml", "arm.toml", "torch.toml"];
const TEXTS: [&str; 3] = [
    include_str!("../../../../../tests/data/every_key/cell.toml"),
    include_str!("../../../../../tests/data/every_key/arm.toml"),
    include_str!("../../../../../tests/data/every_key/torch.toml"),
];
const CUBE: &[u8] = include_bytes!("../../../../../tests/data/every_key/cube.stl");
const LINE_CSV: &[u8] = include_bytes!("../../../../../tests/data/every_key/line.csv");
const VISIT: &[u8] = include_bytes!("../../../../../tests/data/every_key/visit.csv");

/// Reads the cell with the text of one file changed.
fn read_changed(changed: usize, text: &str) -> Result<Cell, Vec<Problem>> {
    let mut texts = TEXTS;
    texts[changed] = text;
    let mut files: Vec<(&str, &[u8])> =
        vec![("cube.stl", CUBE), ("line.csv", LINE_CSV), ("visit.csv", VISIT)];
    files.extend(NAMES.into_iter().zip(texts.map(str::as_bytes)));
    read_cell_with(Path::new(NAMES[0]), &Bundled(&files))
}

/// Every file with the value of one of its keys replaced by `value`, key by key; `file`, its line, and the text.
fn with_each_value_replaced(value: &str) -> Vec<(usize, String, String)> {
    let mut all = Vec::new();
    for (file, text) in TEXTS.iter().enumerate() {
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let Some((key, _)) = line.split_once(" = ").filter(|_| !line.starts_with('#')) else { continue };
            let mut changed: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
            changed[at] = format!("{key} = {value}");
            all.push((file, format!("{}:{}: {}", NAMES[file], at + 1, changed[at]), changed.join("\n")));
        }
    }
    all
}

#[test]
fn every_key_is_read() {
    let cell = read_changed(0, TEXTS[0]).map_err(|problems| listed(&problems));
    assert_eq!(cell.map(|cell| cell.seams.len()), Ok(7));
}

#[test]
fn a_wrong_value_makes_no_key_unknown_and_none_that_is_there_missing() {
    let mut blamed = String::new();
    for value in ["nan", "[]", "true"] {
        for (file, change, text) in with_each_value_replaced(value) {
            let Err(problems) = read_changed(file, &text) else { continue };
            for problem in problems {
                let unknown = problem.wrong.contains("key is not known here");
                let missing = problem.value.is_some() && problem.wrong.contains("missing");
                if unknown || missing || problem.line.is_none() {
                    blamed += &format!("{change}\n    {problem}\n");
                }
            }
        }
    }
    assert_eq!(blamed, "");
}

#[test]
fn a_slip_in_one_key_is_told_as_that_and_blamed_on_nothing_else() {
    let mut blamed = String::new();
    for (file, text) in TEXTS.iter().enumerate() {
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let Some((key, value)) = line.split_once(" = ").filter(|_| !line.starts_with('#')) else {
                continue;
            };
            let mut changed: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
            changed[at] = format!("{key}z = {value}");
            let problems = read_changed(file, &changed.join("\n")).unwrap_err();
            let here =
                |problem: &Problem| problem.file.ends_with(NAMES[file]) && problem.line == Some(at + 1);
            let told = format!("is it `{key}`?");
            let slip = |problem: &Problem| here(problem) && problem.right.as_ref() == Some(&told);
            for problem in problems.iter().filter(|problem| !slip(problem)) {
                blamed += &format!("{}:{}: {key}\n    {problem}\n", NAMES[file], at + 1);
            }
            if !problems.iter().any(slip) {
                blamed += &format!("{}:{}: {key}: the slip is not told\n", NAMES[file], at + 1);
            }
        }
    }
    assert_eq!(blamed, "");
}

#[test]
fn a_key_that_stands_twice_is_named_with_its_second_line() {
    let text = TEXTS[0].replacen("about = ", "name = \"again\"\nabout = ", 1);
    let problems = read_changed(0, &text).unwrap_err();
    assert!(
        listed(&problems)
            .contains("cell.toml:4: `name`: this stands here a second time; leave one of the two out")
    );
}

#[test]
fn names_that_would_flood_a_screen_or_turn_its_text_around_are_refused() {
    for (name, wrong) in
        [("x".repeat(1001), "this text has 1001 characters"), ("\u{202e}bir".into(), "control character")]
    {
        let text = TEXTS[0].replacen("name = \"every key\"", &format!("name = \"{name}\""), 1);
        let listed = listed(&read_changed(0, &text).unwrap_err());
        assert!(listed.contains(wrong) && listed.len() < 300, "{listed}");
    }
}
