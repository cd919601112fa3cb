//! `seamwright check`: reads a cell, does the main job, prints or writes what was learnt.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::check::{self, Options, Stage, Watch};
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::report::{files, folder::OutputFolder, terminal};

use super::watch::Watcher;
use super::{Refusal, demo, in_threads, listed, print, say};

/// What `check` may be told.
#[derive(Args)]
pub struct CheckArguments {
    /// The cell file; without it the bundled demo is checked
    cell: Option<PathBuf>,
    /// Write findings.json, tables and drawings into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the findings as JSON instead of as text
    #[arg(long)]
    json: bool,
    /// Print lengths in inches; files stay metric
    #[arg(long, conflicts_with = "json")]
    inch: bool,
    /// How many threads may work; the results do not depend on it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Where random streams begin
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Say on standard error how long each stage took
    #[arg(long)]
    timings: bool,
}

/// Does the main job as told.
pub fn run(arguments: &CheckArguments) -> Result<ExitCode, Refusal> {
    let folder = match &arguments.out {
        Some(folder) => Some(OutputFolder::claim(folder).map_err(|error| Refusal(error.to_string()))?),
        None => None,
    };
    let watcher = Watcher::new();
    watcher.begins(Stage::Read);
    let cell = match &arguments.cell {
        Some(file) => read_cell(file),
        None => demo::read(),
    }
    .map_err(|problems| Refusal(listed(&problems, "nothing was checked")))?;
    let checked = in_threads(arguments.threads, || {
        check::check(&cell, &Options { seed: arguments.seed, watch: &watcher })
    })?;
    let json = files::json(&checked.findings).map_err(|error| Refusal(error.to_string()))?;
    let mut earlier = None;
    if let Some(folder) = folder {
        watcher.begins(Stage::Write);
        earlier = folder.earlier_findings();
        let files = files::all(&cell, &checked, json.clone()).map_err(|error| Refusal(error.to_string()))?;
        folder.write(&files).map_err(|error| Refusal(error.to_string()))?;
    }
    watcher.finish(arguments.timings);
    let unit = if arguments.inch { LengthUnit::Inch } else { LengthUnit::Millimetre };
    if arguments.json {
        print(&json)?;
    } else {
        print(&terminal::text(&checked.findings, unit))?;
    }
    // Findings of another format cannot be compared, and need not be.
    if let Some(earlier) = earlier.and_then(|text| serde_json::from_str(&text).ok()) {
        say(&terminal::changes(&earlier, &checked.findings, unit));
    }
    Ok(ExitCode::from(if checked.findings.holds() { 0 } else { 1 }))
}
