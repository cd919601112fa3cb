//! Time of the cycle: played faster, slower, stepwise, taken to any instant.

use bevy::prelude::*;
use seamwright_sim::cell::SeamId;

use super::{Ask, Chosen, Task};
use crate::show::Show;

/// How many seconds of the cycle go by in one second.
pub const PACES: [f64; 9] = [0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0];

/// Index of real time in [`PACES`].
const REAL_TIME: usize = 4;

/// Where in the cycle.
#[derive(Resource, Clone, Debug)]
pub struct Playing {
    /// s from the start of the cycle.
    pub time: f64,
    /// Whether time goes on.
    pub going: bool,
    /// Index into [`PACES`].
    pub pace: usize,
}

impl Default for Playing {
    fn default() -> Self {
        Self { time: 0.0, going: false, pace: REAL_TIME }
    }
}

/// Does what is asked of time.
pub(super) fn obey(
    mut asks: MessageReader<Ask>,
    show: Res<Show>,
    mut playing: ResMut<Playing>,
    chosen: Res<Chosen>,
) {
    for ask in asks.read() {
        match ask {
            Ask::PlayOrPause => playing.going = !playing.going,
            Ask::Pace(by) => {
                let pace = playing.pace as i64 + i64::from(*by);
                playing.pace = pace.clamp(0, PACES.len() as i64 - 1) as usize;
            }
            Ask::Step(by) => step(&show, &mut playing, *by),
            Ask::GoTo(time) => playing.time = time.clamp(0.0, show.day.period),
            Ask::GoToTightest => {
                if let Some(time) = show.tightest() {
                    playing.time = time;
                    playing.going = false;
                }
            }
            Ask::NextBlocked if !show.has_blocked() => {}
            Ask::Seam(_) | Ask::NextSeam(_) | Ask::NextBlocked | Ask::Do(Task::Seam) => {
                if let Some(time) = chosen.0.and_then(|seam: SeamId| show.start_of(seam)) {
                    playing.time = time;
                }
                playing.going = false;
            }
            Ask::Do(Task::Hand | Task::Learn) => playing.going = false,
            _ => {}
        }
    }
}

/// To the start of the next event, or of this one or the one before.
fn step(show: &Show, playing: &mut Playing, by: i32) {
    /// Nearer to the start of an event than this, s, a step back goes to the one before.
    const AT_START: f64 = 0.05;
    playing.going = false;
    for _ in 0..by.unsigned_abs() {
        let starts = show.day.spans.iter().map(|span| span.start);
        let next = if by > 0 {
            starts.into_iter().find(|start| *start > playing.time + 1e-9).unwrap_or(show.day.period)
        } else {
            starts.into_iter().rev().find(|start| *start < playing.time - AT_START).unwrap_or(0.0)
        };
        playing.time = next;
    }
}

/// Lets time go on; after the end the cycle begins again.
pub(super) fn go_on(time: Res<Time>, show: Res<Show>, task: Res<Task>, mut playing: ResMut<Playing>) {
    if playing.going && matches!(*task, Task::Watch | Task::Seam) && show.day.period > 0.0 {
        playing.time += time.delta_secs_f64() * PACES[playing.pace];
        if playing.time >= show.day.period {
            playing.time = playing.time.rem_euclid(show.day.period);
        }
    }
}
