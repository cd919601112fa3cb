//! Decides what would still be wrong with files if every misspelt key were mended.

use std::io;
use std::path::Path;

use seamwright_kinematics::document::{Problem, Slip};

use super::Files;

/// Files whose misspelt keys are what may have been meant. Every line keeps its number.
pub(super) struct Mended<'a> {
    pub(super) files: &'a dyn Files,
    pub(super) slips: &'a [Slip],
}

impl Files for Mended<'_> {
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
        self.files.bytes(path)
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        self.files.names_in(folder)
    }

    fn text(&self, path: &Path) -> io::Result<String> {
        let mut text = self.files.text(path)?;
        let mut slips: Vec<&Slip> = self.slips.iter().filter(|slip| Path::new(&slip.file) == path).collect();
        // From the end, so that the places of those before stay; what heads several tables only when every place has been used.
        slips.sort_by_key(|slip| std::cmp::Reverse(slip.at.start));
        let mut headings = Vec::new();
        for slip in slips {
            let Some(written) = text.get(slip.at.clone()).map(str::to_owned) else { continue };
            text.replace_range(slip.at.clone(), &slip.meant);
            if text.lines().nth(slip.line - 1).is_some_and(is_heading) {
                headings.push((written, &slip.meant));
            }
        }
        for (written, meant) in headings {
            text = in_headings(&text, &written, meant);
        }
        Ok(text)
    }
}

fn is_heading(line: &str) -> bool {
    line.trim_start().starts_with('[')
}

/// The text with the key `written` as `meant` wherever it heads a table.
fn in_headings(text: &str, written: &str, meant: &str) -> String {
    let heading = |line: &str| {
        let inner = line.trim_start_matches([' ', '\t', '[']);
        let before = &line[..line.len() - inner.len()];
        let (keys, after) = inner.split_at(inner.find(']').unwrap_or(inner.len()));
        let keys: Vec<&str> =
            keys.split('.').map(|key| if key.trim() == written { meant } else { key }).collect();
        format!("{before}{}{after}", keys.join("."))
    };
    text.split_inclusive('\n')
        .map(|line| if is_heading(line) { heading(line) } else { line.to_owned() })
        .collect()
}

/// Of `problems` those that would be there if the `slips` were mended, and the slips themselves; `then` is what was
/// found with them mended. All `problems` where something is wrong with what was taken to be meant.
pub(super) fn without_what_follows(
    problems: Vec<Problem>,
    slips: &[Slip],
    then: Vec<Problem>,
) -> Vec<Problem> {
    let is_at = |problem: &Problem, slip: &Slip| problem.file == slip.file && problem.line == Some(slip.line);
    if then.iter().any(|problem| slips.iter().any(|slip| is_at(problem, slip))) {
        return problems;
    }
    let mut left: Vec<Problem> = problems.into_iter().filter(Problem::is_unknown_key).chain(then).collect();
    left.sort();
    left.dedup();
    left
}
