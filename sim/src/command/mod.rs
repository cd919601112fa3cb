//! Decides what the command line may say and what the exit code means: 0, everything that was checked holds; 1, something does
//! not; 2, the input is wrong and nothing was written.
//!
//! Data goes to standard output, talk to standard error.

mod check;
mod demo;
mod watch;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use check::CheckArguments;

/// Tells whether a welding robot can weld a part, and how long it takes, before the fixture is cut.
///
/// Without a command it checks the bundled demo cell.
#[derive(Parser)]
#[command(name = "seamwright", version)]
struct Arguments {
    #[command(subcommand)]
    task: Option<Task>,
}

/// What is done where nothing is asked.
const USUAL: [&str; 2] = ["seamwright", "check"];

#[derive(Subcommand)]
enum Task {
    /// Check a cell: can every seam be welded, and how long is a cycle
    Check(CheckArguments),
    /// Print the JSON schema of findings.json
    Schema,
}

/// Something the user must hear, after which nothing was written: exit code 2.
struct Refusal(String);

/// Does what the command line asks.
pub fn run() -> ExitCode {
    let task = Arguments::parse().task.or_else(|| Arguments::parse_from(USUAL).task);
    let done = match task {
        Some(Task::Check(arguments)) => check::run(&arguments),
        Some(Task::Schema) => print(&schema()).map(|()| ExitCode::SUCCESS),
        None => Ok(ExitCode::SUCCESS),
    };
    done.unwrap_or_else(|Refusal(text)| {
        say(&format!("{}\n", text.trim_end()));
        ExitCode::from(2)
    })
}

/// Talks on standard error.
fn say(text: &str) {
    // Where standard error is closed there is nobody to tell.
    let _ = anstream::stderr().write_all(text.as_bytes());
}

fn schema() -> String {
    format!("{:#}\n", schemars::schema_for!(seamwright_sim::findings::Findings).as_value())
}

/// Prints to standard output; styles are taken out where it is no terminal or `NO_COLOR` is set.
fn print(text: &str) -> Result<(), Refusal> {
    let mut out = anstream::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        // The reader has seen enough, as in `seamwright check | head`.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Refusal(format!("standard output: {error}"))),
        Ok(()) => Ok(()),
    }
}
