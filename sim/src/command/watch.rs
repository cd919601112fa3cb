//! Decides what is said while the work goes on: a bar where somebody is looking, stage times where they are asked for.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressFinish, ProgressStyle};
use seamwright_sim::check::{Stage, Watch};

/// Watches one run of the main job.
pub struct Watcher {
    seams: ProgressBar,
    shifts: ProgressBar,
    stages: Mutex<Vec<(Stage, Instant)>>,
}

impl Watcher {
    /// Bars on standard error, each from when there is something to tell; they show nothing where that is no terminal.
    pub fn new() -> Self {
        let bar = |template| {
            let bar = ProgressBar::new(0).with_finish(ProgressFinish::AndClear);
            if let Ok(style) = ProgressStyle::with_template(template) {
                bar.set_style(style.progress_chars("=> "));
            }
            bar
        };
        Self {
            seams: bar("planning [{bar:40}] {pos} of {len} seams"),
            shifts: bar("playing [{bar:40}] {pos} of {len} shifts, {eta} to go"),
            stages: Mutex::default(),
        }
    }

    /// Takes the bar away; with `timings`, says how long each stage took.
    pub fn finish(&self, timings: bool) {
        self.seams.finish_and_clear();
        self.shifts.finish_and_clear();
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
        match stage {
            Stage::Schedule => self.seams.finish_and_clear(),
            Stage::Path => self.shifts.finish_and_clear(),
            _ => (),
        }
    }

    fn seams_done(&self, done: usize, all: usize) {
        self.seams.set_length(all as u64);
        self.seams.set_position(done as u64);
    }

    fn shifts_played(&self, done: usize, all: usize) {
        // A shift takes microseconds: each by itself would be slowed by telling of it.
        if done.is_multiple_of(100) || done == all {
            self.shifts.set_length(all as u64);
            self.shifts.set_position(done as u64);
        }
    }
}
