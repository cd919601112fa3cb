//! Lessons: a short text, a start, goals in order, measured while the learner moves the arm, a score at the end.

mod measure;
mod read;
mod result;

pub use measure::{Progress, Reading};
pub use read::{Goal, GoalKind, Lesson, read_lesson, read_lessons};
pub use result::{Learner, Score};

use bevy::prelude::*;
use seamwright_sim::by_hand::Around;
use seamwright_sim::schedule::Stance;

use super::{Ask, Hand, Held, Now, Task, View};
use crate::show::Show;

/// The lessons there are, and the one being practised.
#[derive(Resource, Clone, Default)]
pub struct Practice {
    /// All that fit this cell, in order of their file names.
    pub lessons: Vec<Lesson>,
    /// Where they come from, to be read anew with the cell.
    pub folder: Option<std::path::PathBuf>,
    /// The one at hand.
    pub at: Option<usize>,
    /// How far the learner is.
    pub progress: Progress,
}

impl Practice {
    /// The lesson at hand.
    #[must_use]
    pub fn lesson(&self) -> Option<&Lesson> {
        self.lessons.get(self.at?)
    }

    /// What has to be reached now.
    #[must_use]
    pub fn goal(&self) -> Option<&Goal> {
        self.lesson()?.goals.get(self.progress.goal)
    }
}

/// Begins lessons, takes marks.
pub(super) fn obey(
    mut asks: MessageReader<Ask>,
    show: Res<Show>,
    mut task: ResMut<Task>,
    mut hand: ResMut<Hand>,
    mut practice: ResMut<Practice>,
    mut view: ResMut<View>,
) {
    for ask in asks.read() {
        match ask {
            Ask::Do(Task::Learn) => {
                if let Some(at) = practice.at.or((!practice.lessons.is_empty()).then_some(0)) {
                    *view = begin(&show, &mut hand, &mut practice, at);
                }
            }
            Ask::Do(_) => leave(&show, &mut hand),
            Ask::Lesson(at) if *at < practice.lessons.len() => {
                *task = Task::Learn;
                *view = begin(&show, &mut hand, &mut practice, *at);
            }
            Ask::NextLesson(by) if !practice.lessons.is_empty() => {
                *task = Task::Learn;
                let next = practice.at.unwrap_or(0) as i64 + i64::from(*by);
                let next = next.rem_euclid(practice.lessons.len() as i64) as usize;
                *view = begin(&show, &mut hand, &mut practice, next);
            }
            Ask::Mark if *task == Task::Learn => {
                let stance = hand.stance.clone();
                practice.progress.mark(&stance);
            }
            Ask::TakeBack if *task == Task::Learn => practice.progress.take_back(),
            Ask::Done if *task == Task::Learn => practice.progress.says_done = true,
            _ => {}
        }
    }
}

/// The torch no farther than this from the middle of a seam: both are seen at the torch, m.
const NEAR: f64 = 0.25;

/// Puts the arm where the lesson starts; from where to look: at the torch where it stands at the seam that is practised.
fn begin(show: &Show, hand: &mut Hand, practice: &mut Practice, at: usize) -> View {
    practice.at = Some(at);
    let Some(lesson) = practice.lesson() else { return View::default() };
    let station = lesson.station;
    let external = show.cell.stations[station.0].external.clone();
    hand.take(show, Stance { axes: lesson.start, external }, (station, 0));
    hand.stops = 0;
    let seam = lesson.goals.iter().find_map(|goal| goal.kind.seam());
    let mut believed = show.cell.torch.flange_from_tool;
    believed.translation.vector += believed.rotation * lesson.tool_error;
    let jogger = hand.jogger();
    jogger.around = if lesson.contacts { Around::Everything(seam) } else { Around::Nothing };
    jogger.flange_from_tool = believed;
    practice.progress = Progress::begin(&hand.stance);
    let near = seam.is_some_and(|seam| {
        let middle = show.middle_of(seam, &hand.stance.external);
        let at = show.world_from_tool(&hand.stance).translation.vector;
        middle.is_some_and(|(middle, ..)| (middle.coords - at).norm() < NEAR)
    });
    if near { View::Torch } else { View::default() }
}

/// Gives the arm its true torch and all contacts back.
fn leave(show: &Show, hand: &mut Hand) {
    let seam = hand.seam;
    let jogger = hand.jogger();
    jogger.around = Around::Everything(seam);
    jogger.flange_from_tool = show.cell.torch.flange_from_tool;
}

/// Measures against the goal at hand; writes the result of a lesson that has ended.
pub(super) fn measure(
    time: Res<Time>,
    show: Res<Show>,
    task: Res<Task>,
    held: Res<Held>,
    hand: Res<Hand>,
    now: Res<Now>,
    mut practice: ResMut<Practice>,
    mut learner: ResMut<Learner>,
) {
    if *task != Task::Learn {
        return;
    }
    let practice = &mut *practice;
    let Some(lesson) = practice.at.and_then(|at| practice.lessons.get(at)) else { return };
    let ended = practice.progress.go_on(&measure::Moment {
        show: &show,
        lesson,
        stance: &hand.stance,
        rates: &now.rates,
        stops: hand.stops,
        slowed: hand.slowed.is_some(),
        jogging: held.0.is_some(),
        seconds: time.delta_secs_f64(),
    });
    if ended && let Some(score) = &practice.progress.score {
        learner.record(lesson, score);
    }
}
