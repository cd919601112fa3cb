//! `seamwright calibrate`: fits arm and controller to measured times, writes what later runs use.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use seamwright_kinematics::units::to_percent;
use seamwright_sim::cell::read::measured_file::read_measurements;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::findings::CalibrationFindings;
use seamwright_sim::plan::{self, plan};
use seamwright_sim::production::calibration::{calibrate, needs_plan};
use seamwright_sim::report::folder::write_file;
use seamwright_sim::report::{calibration as report, files};

use super::{Refusal, in_threads, listed, print, say};

/// What `calibrate` may be told.
#[derive(Args)]
pub struct CalibrateArguments {
    /// The cell file that was measured; without calibration of its own
    cell: PathBuf,
    /// The measured times; scenes/README.md describes the columns
    measured: PathBuf,
    /// Write what was fitted into this file, which a cell then names as `calibration`
    #[arg(long, value_name = "FILE.toml", value_parser = toml_file)]
    out: Option<PathBuf>,
    /// Print JSON instead of text
    #[arg(long)]
    json: bool,
    /// How many threads may work; the results do not depend on it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

fn toml_file(name: &str) -> Result<PathBuf, String> {
    let file = PathBuf::from(name);
    let is_toml = file.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    if is_toml { Ok(file) } else { Err("write a name that ends in .toml".into()) }
}

/// Calibrates as told.
pub fn run(arguments: &CalibrateArguments) -> Result<ExitCode, Refusal> {
    let refused = |problems: Vec<_>| Refusal(listed(&problems, "nothing was fitted"));
    let cell = read_cell(&arguments.cell).map_err(refused)?;
    if cell.calibration.is_some() {
        let file = arguments.cell.display();
        let text =
            format!("{file}: `calibration`: this cell is calibrated already; take the key out and fit again");
        return Err(Refusal(text));
    }
    if let Some(out) = &arguments.out
        && is_input(out, [&arguments.cell, &arguments.measured])
    {
        return Err(Refusal(format!("{}: this file was read; write another", out.display())));
    }
    if let Some(out) = &arguments.out
        && out.exists()
        && !std::fs::read_to_string(out).is_ok_and(|text| report::is_calibration(&text))
    {
        let right = "name a new file, or an earlier calibration";
        return Err(Refusal(format!("{}: this is no calibration file; {right}", out.display())));
    }
    let measured = read_measurements(&arguments.measured, &cell).map_err(refused)?;
    let calibrated = in_threads(arguments.threads, || {
        let plan = needs_plan(&measured).then(|| plan(&cell, &plan::Options::default()));
        calibrate(&cell, plan.as_ref(), &measured)
    })?;
    let findings = CalibrationFindings::new(&cell, &measured, &calibrated);
    if let Some(off) = calibrated.contradiction() {
        return Err(Refusal(format!(
            "{}: with the best fit these times are still off by {:.0} %: they are of another arm or cell, or not in s; nothing \
             was written",
            arguments.measured.display(),
            to_percent(off)
        )));
    }
    if let Some(out) = &arguments.out {
        let text = report::file(&calibrated.calibration, &findings);
        write_file(out, text.as_bytes()).map_err(|error| Refusal(error.to_string()))?;
    }
    if arguments.json {
        print(&files::json(&findings).map_err(|error| Refusal(error.to_string()))?)?;
    } else {
        print(&report::text(&findings))?;
    }
    if let Some(out) = &arguments.out {
        say(&format!(
            "\nwritten: {}; write calibration = \"...\" with its path into the cell\n",
            out.display()
        ));
    }
    Ok(ExitCode::SUCCESS)
}

/// Whether `out` is one of the files that are read, by whatever path.
fn is_input(out: &std::path::Path, inputs: [&PathBuf; 2]) -> bool {
    let Ok(out) = out.canonicalize() else { return false };
    inputs.into_iter().any(|input| input.canonicalize().is_ok_and(|input| input == out))
}
