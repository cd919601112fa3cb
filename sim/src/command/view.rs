//! `seamwright view`: starts the viewer, which is a program of its own so that everything else is built without its graphics.

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::{Command, ExitCode};

use clap::Args;

use super::Refusal;

/// The viewer's file name.
const VIEWER: &str = if cfg!(windows) { "seamwright-viewer.exe" } else { "seamwright-viewer" };

/// What `view` may be told.
#[derive(Args)]
pub struct ViewArguments {
    /// The cell file
    cell: PathBuf,
    /// Handed on to the viewer; `seamwright-viewer --help` lists what it takes
    #[arg(trailing_var_arg = true, allow_hyphen_values = true)]
    rest: Vec<OsString>,
}

/// Starts the viewer and waits until it is closed; its exit code is handed on.
pub fn run(arguments: &ViewArguments) -> Result<ExitCode, Refusal> {
    let beside = std::env::current_exe().ok().and_then(|own| Some(own.parent()?.join(VIEWER)));
    let Some(viewer) = beside.filter(|viewer| viewer.is_file()) else {
        return Err(Refusal(format!(
            "{VIEWER} is not beside this program; `cargo build --release -p seamwright-viewer` in the source folder makes it, \
             in `target/release` beside a seamwright built there"
        )));
    };
    let status = Command::new(&viewer).arg(&arguments.cell).args(&arguments.rest).status();
    let status = status.map_err(|error| Refusal(format!("{VIEWER}: {error}")))?;
    // A viewer that was ended by a signal has no exit code.
    Ok(ExitCode::from(status.code().and_then(|code| u8::try_from(code).ok()).unwrap_or(2)))
}
