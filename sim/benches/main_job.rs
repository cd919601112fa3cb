//! How long the main job takes on the pump skid, stage by stage, and in all against the 5 s that it may take on two cores.
//!
//! `cargo bench -p seamwright-sim --bench main_job` prints the median of five runs. Times are never asserted.

use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

use seamwright_sim::cell::read::read_cell;
use seamwright_sim::check::{Options, Stage, Watch, check};
use seamwright_sim::report::files;

const RUNS: usize = 5;
const ALLOWED_S: f64 = 5.0;

/// Notes when each stage begins.
struct Clock(Mutex<Vec<(Stage, Instant)>>);

impl Watch for Clock {
    fn begins(&self, stage: Stage) {
        if let Ok(mut begun) = self.0.lock() {
            begun.push((stage, Instant::now()));
        }
    }

    fn seams_done(&self, _: usize, _: usize) {}
}

fn main() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/pump-skid/cell.toml");
    let mut stages: Vec<(&str, Vec<f64>)> = Vec::new();
    for _ in 0..RUNS {
        let clock = Clock(Mutex::new(Vec::new()));
        clock.begins(Stage::Read);
        let Ok(cell) = read_cell(&file) else {
            eprintln!("the pump skid cannot be read");
            return;
        };
        let checked = check(&cell, &Options { seed: 0, watch: &clock });
        clock.begins(Stage::Write);
        let written = files::json(&checked.findings).and_then(|json| files::all(&cell, &checked, json));
        if written.is_err() {
            eprintln!("the files cannot be made");
            return;
        }
        let end = Instant::now();
        let begun = clock.0.into_inner().unwrap_or_default();
        for (index, (stage, start)) in begun.iter().enumerate() {
            let next = begun.get(index + 1).map_or(end, |(_, next)| *next);
            let seconds = next.duration_since(*start).as_secs_f64();
            match stages.iter_mut().find(|(name, _)| *name == stage.name()) {
                Some((_, times)) => times.push(seconds),
                None => stages.push((stage.name(), vec![seconds])),
            }
        }
    }
    let mut total = 0.0;
    for (name, times) in &mut stages {
        times.sort_by(f64::total_cmp);
        let median = times[times.len() / 2];
        total += median;
        println!("{name:10} {median:8.3} s");
    }
    println!("{:10} {total:8.3} s, {:.2} of the {ALLOWED_S} s allowed", "total", total / ALLOWED_S);
}
