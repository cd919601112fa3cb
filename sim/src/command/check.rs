//! `seamwright check`: reads a cell, does the main job, prints or writes what was learnt.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use seamwright_sim::advice::{self, AsBuilt, Touched};
use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::touched_file::read_touched;
use seamwright_sim::cell::read::{Disk, Files, read_cell, reason};
use seamwright_sim::check::{self, Options, Stage, Watch};
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::findings::{FORMAT, Findings};
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
    /// Look for the nearest changes that would free seams that do not hold; takes seconds for each, for one that is long to plan a minute
    #[arg(long)]
    advice: bool,
    /// Say how much room each seam that holds has left, and how far the fixture may stray
    #[arg(long)]
    comfort: bool,
    /// Look for an order and directions of the seams that take less time, under the rules of the file, and say what they save; this searches
    /// every seam in both directions and may take as long again as the check
    #[arg(long)]
    offer_order: bool,
    /// Weld in that order: everything is checked and written as if the file said it. Distortion is not predicted
    #[arg(long)]
    reorder: bool,
    /// Check fixtures where they really stand, by points of them that the arm touched
    #[arg(long, value_name = "POINTS.csv")]
    measured: Option<PathBuf>,
    /// Say what changed since these findings of an earlier check
    #[arg(long, value_name = "FINDINGS.json")]
    against: Option<PathBuf>,
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
    let against = arguments.against.as_deref().map(findings_of).transpose()?;
    let (cell, as_built) = match &arguments.measured {
        Some(points) => as_touched(cell, points)?,
        None => (cell, Vec::new()),
    };
    let (cell, mut checked) = in_threads(arguments.threads, || {
        let options = Options { seed: arguments.seed, watch: &watcher };
        let (cell, mut checked) = if arguments.offer_order || arguments.reorder {
            check::check_order(&cell, arguments.reorder, &options)
        } else {
            let checked = check::check(&cell, &options);
            (cell, checked)
        };
        if arguments.advice {
            checked = check::advised(&cell, checked, &watcher);
        }
        if arguments.comfort {
            checked = check::with_comfort(&cell, checked, &watcher);
        }
        (cell, checked)
    })?;
    checked.findings = checked.findings.as_built(&cell, &as_built);
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
        say(&terminal::changes(&earlier, &checked.findings, "the results that were in the folder", unit));
    }
    if let (Some(file), Some(against)) = (&arguments.against, against) {
        let changes = terminal::changes(&against, &checked.findings, &file.display().to_string(), unit);
        if arguments.json { say(&changes) } else { print(&changes)? }
    }
    Ok(ExitCode::from(if checked.findings.holds() { 0 } else { 1 }))
}

/// Findings of an earlier check.
fn findings_of(file: &Path) -> Result<Findings, Refusal> {
    let refused = |line: Option<usize>, wrong: &str| {
        let line = line.map(|line| format!(":{line}")).unwrap_or_default();
        Refusal(format!("{}{line}: {wrong}; nothing was checked", file.display()))
    };
    let text = Disk.text(file).map_err(|error| refused(None, &reason(&error)))?;
    let findings: Findings = serde_json::from_str(&text).map_err(|error| {
        let told = error.to_string();
        let told = told.rsplit_once(" at line ").map_or(told.as_str(), |(told, _)| told);
        let wrong =
            format!("these are no findings of this version ({told}); name a findings.json that it wrote");
        refused(Some(error.line()), &wrong)
    })?;
    if findings.format != FORMAT {
        let wrong =
            format!("these findings are of format {}, and format {FORMAT} is known here", findings.format);
        return Err(refused(None, &wrong));
    }
    Ok(findings)
}

/// The cell with fixtures where their touched points say that they stand.
fn as_touched(cell: Cell, points: &Path) -> Result<(Cell, Vec<AsBuilt>), Refusal> {
    let rows =
        read_touched(points, &cell).map_err(|problems| Refusal(listed(&problems, "nothing was checked")))?;
    let touched: Vec<Touched> =
        rows.into_iter().map(|(station, drawn, in_base)| Touched { station, drawn, in_base }).collect();
    advice::as_built(&cell, &touched).map_err(|(station, error)| {
        let station = &cell.stations[station.0].name;
        Refusal(format!("{}: {station}: {error}; nothing was checked", points.display()))
    })
}
