//! Decides what the command line may say and what the exit code means: 0, everything that was checked holds; 1, something does
//! not; 2, the input is wrong and nothing was written.
//!
//! Data goes to standard output, talk to standard error.

mod arm;
mod calibrate;
mod check;
mod demo;
mod estimate;
mod view;
mod watch;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};
use seamwright_kinematics::document::Problem;
use seamwright_sim::findings::{ArmFindings, CalibrationFindings, EstimateFindings, Findings, WaysToPose};

use arm::ArmArguments;
use calibrate::CalibrateArguments;
use check::CheckArguments;
use estimate::EstimateArguments;
use view::ViewArguments;

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
    /// Describe an arm, say where it stands at given axis values, find every way to given poses
    Arm(ArmArguments),
    /// Estimate cycle, output and cost of a part before there is any geometry, from a table of a first visit
    Estimate(EstimateArguments),
    /// Fit arm and controller to measured times, and write what later runs use
    Calibrate(CalibrateArguments),
    /// Open the viewer: the cell at work, a seam close by, moving by hand, lessons
    View(ViewArguments),
    /// Print the JSON schema of findings.json, or of what another command prints with --json
    Schema {
        /// Of what
        #[arg(value_enum, default_value_t)]
        of: Schema,
    },
}

/// What has a JSON schema.
#[derive(Clone, Copy, Default, ValueEnum)]
enum Schema {
    /// findings.json
    #[default]
    Findings,
    /// What `arm --json` prints
    Arm,
    /// A line of what `arm --poses --json` prints
    Pose,
    /// What `estimate --json` prints
    Estimate,
    /// What `calibrate --json` prints
    Calibration,
}

/// Something the user must hear, after which nothing was written: exit code 2.
struct Refusal(String);

/// Does what the command line asks.
pub fn run() -> ExitCode {
    let task = Arguments::parse().task.or_else(|| Arguments::parse_from(USUAL).task);
    let done = match task {
        Some(Task::Check(arguments)) => check::run(&arguments),
        Some(Task::Arm(arguments)) => arm::run(&arguments),
        Some(Task::Estimate(arguments)) => estimate::run(&arguments),
        Some(Task::Calibrate(arguments)) => calibrate::run(&arguments),
        Some(Task::View(arguments)) => view::run(&arguments),
        Some(Task::Schema { of }) => print(&schema(of)).map(|()| ExitCode::SUCCESS),
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

fn schema(of: Schema) -> String {
    let schema = match of {
        Schema::Findings => schemars::schema_for!(Findings),
        Schema::Arm => schemars::schema_for!(ArmFindings),
        Schema::Pose => schemars::schema_for!(WaysToPose),
        Schema::Calibration => schemars::schema_for!(CalibrationFindings),
        Schema::Estimate => schemars::schema_for!(EstimateFindings),
    };
    format!("{:#}\n", schema.as_value())
}

/// Runs the work on so many threads, or on as many as the machine has.
fn in_threads<R: Send>(threads: Option<u16>, work: impl FnOnce() -> R + Send) -> Result<R, Refusal> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.map_or(0, usize::from)).build();
    pool.map(|pool| pool.install(work)).map_err(|error| Refusal(format!("cannot start threads: {error}")))
}

/// More problems are of no help to anybody: a file of another kind was named.
const MOST_LISTED: usize = 500;

/// Every problem on a line of its own, how many there are, and what was not done for them.
fn listed(problems: &[Problem], undone: &str) -> String {
    let mut text: String = problems.iter().take(MOST_LISTED).map(|problem| format!("{problem}\n")).collect();
    if let Some(more) = problems.len().checked_sub(MOST_LISTED).filter(|more| *more > 0) {
        text += &format!("and {more} more\n");
    }
    text += &match problems.len() {
        1 => format!("1 problem; {undone}"),
        count => format!("{count} problems; {undone}"),
    };
    text
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
