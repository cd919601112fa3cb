//! What `seamwright view` promises: it starts the viewer beside it, or says how to get it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::{Mutex, PoisonError};

/// Held while a program is written and started: a file that one thread still has open for writing when another starts
/// a program stays open in that program for a moment, and a file open for writing cannot be run.
static WRITE_AND_RUN: Mutex<()> = Mutex::new(());

/// The program alone in a folder of its own.
fn alone(folder: &Path) -> PathBuf {
    let program = folder.join("seamwright");
    std::fs::copy(env!("CARGO_BIN_EXE_seamwright"), &program).unwrap();
    program
}

fn run(program: &Path, arguments: &[&str]) -> Output {
    Command::new(program).args(arguments).output().unwrap()
}

#[test]
fn without_the_viewer_beside_it_it_says_how_to_get_one() {
    let _one_at_a_time = WRITE_AND_RUN.lock().unwrap_or_else(PoisonError::into_inner);
    let folder = tempfile::tempdir().unwrap();
    let output = run(&alone(folder.path()), &["view", "cell.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("cargo build --release -p seamwright-viewer"), "{said}");
}

#[cfg(unix)]
#[test]
fn the_viewer_beside_it_gets_every_argument_and_its_exit_code_is_handed_on() {
    use std::os::unix::fs::PermissionsExt;
    let _one_at_a_time = WRITE_AND_RUN.lock().unwrap_or_else(PoisonError::into_inner);
    let folder = tempfile::tempdir().unwrap();
    let program = alone(folder.path());
    let viewer = folder.path().join("seamwright-viewer");
    std::fs::write(&viewer, "#!/bin/sh\nprintf '%s\\n' \"$@\"\nexit 7\n").unwrap();
    std::fs::set_permissions(&viewer, std::fs::Permissions::from_mode(0o755)).unwrap();
    let output = run(&program, &["view", "a cell.toml", "--picture", "out.png", "--at", "3"]);
    assert_eq!(output.status.code(), Some(7));
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "a cell.toml\n--picture\nout.png\n--at\n3\n");
}
