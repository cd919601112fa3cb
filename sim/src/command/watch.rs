//! Decides what is said while the work goes on: a bar where somebody is looking, stage times where they are asked for.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressFinish, ProgressStyle};
use seamwright_sim::check::{Stage, Watch};

/// Watches one run of the main job.
pub struct Watcher {
    bar: ProgressBar,
    stages: Mutex<Vec<(Stage, Instant)>>,
}

impl Watcher {
    /// A bar on standard error; it shows nothing where that is no terminal.
    pub fn new() -> Self {
        let bar = ProgressBar::new(0).with_finish(ProgressFinish::AndClear);
        if let Ok(style) = ProgressStyle::with_template("planning [{bar:40}] {pos} of {len} seams") {
            bar.set_style(style.progress_chars("=> "));
        }
        Self { bar, stages: Mutex::default() }
    }

    /// Takes the bar away; with `timings`, says how long each stage took.
    pub fn finish(&self, timings: bool) {
        self.bar.finish_and_clear();
        if !timings {
            return;
        }
        let end = Instant::now();
        let Ok(stages) = self.stages.lock() else { return };
        let ends = stages.iter().skip(1).map(|(_, start)| *start).chain([end]);
        let mut text = String::new();
        for ((stage, start), end) in stages.iter().zip(ends) {
            text += &line(stage.name(), end - *start);
        }
        if let Some((_, first)) = stages.first() {
            text += &line("total", end - *first);
        }
        super::say(&text);
    }
}

fn line(name: &str, time: Duration) -> String {
    format!("{name:<10}{:>9.3} s\n", time.as_secs_f64())
}

impl Watch for Watcher {
    fn begins(&self, stage: Stage) {
        if let Ok(mut stages) = self.stages.lock() {
            stages.push((stage, Instant::now()));
        }
        // The seams are done.
        if stage == Stage::Schedule {
            self.bar.finish_and_clear();
        }
    }

    fn seams_done(&self, done: usize, all: usize) {
        self.bar.set_length(all as u64);
        self.bar.set_position(done as u64);
    }
}
