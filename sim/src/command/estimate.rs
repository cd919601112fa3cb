//! `seamwright estimate`: reads a first visit's table, says what can be promised.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use seamwright_sim::cell::read::rough_file::read_rough_job;
use seamwright_sim::findings::EstimateFindings;
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::production::estimate::estimate;
use seamwright_sim::report::{estimate as report, files};

use super::{Refusal, listed, print};

/// What `estimate` may be told.
#[derive(Args)]
pub struct EstimateArguments {
    /// The table: a row a kind of seam, of thing loaded, of clamp, and of what is given; scenes/README.md describes it
    table: PathBuf,
    /// Print JSON instead of text
    #[arg(long)]
    json: bool,
    /// Print lengths in inches; JSON stays metric
    #[arg(long, conflicts_with = "json")]
    inch: bool,
}

/// Estimates as told.
pub fn run(arguments: &EstimateArguments) -> Result<ExitCode, Refusal> {
    let job = read_rough_job(&arguments.table)
        .map_err(|problems| Refusal(listed(&problems, "nothing was estimated")))?;
    let findings = EstimateFindings::new(&job, &estimate(&job));
    if arguments.json {
        print(&files::json(&findings).map_err(|error| Refusal(error.to_string()))?)?;
    } else {
        let unit = if arguments.inch { LengthUnit::Inch } else { LengthUnit::Millimetre };
        print(&report::text(&findings, unit))?;
    }
    Ok(ExitCode::from(if findings.holds() { 0 } else { 1 }))
}
