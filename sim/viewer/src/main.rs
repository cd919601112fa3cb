//! The command `seamwright-viewer`.

use std::process::ExitCode;

fn main() -> ExitCode {
    seamwright_viewer::command::run()
}
