//! The command `seamwright`: reads a cell, checks it, shows what was learnt.

mod command;

use std::process::ExitCode;

fn main() -> ExitCode {
    command::run()
}
