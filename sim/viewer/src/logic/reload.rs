//! Loads the cell anew when its file or one that it names is saved. A file with problems leaves the last good cell where it is, and says
//! so.

use std::path::PathBuf;
use std::time::Duration;

use bevy::prelude::*;
use seamwright_kinematics::document::Problem;

use super::beside::Wake;
use super::checking::Far;
use super::lesson::{Progress, read_lessons};
use super::{Ask, Checking, Chosen, Hand, Playing, Practice, Task, Watched};
use crate::show::Show;
use crate::site::Site;

/// Where the cell comes from; nothing is watched without a file.
#[derive(Resource, Default)]
pub struct Source {
    /// The cell file.
    pub file: Option<PathBuf>,
    /// What was read of it and of the files that it names.
    pub watched: Watched,
    next_look: Duration,
    checking: Option<Checking>,
}

impl Source {
    /// Time between two looks at the files.
    pub const LOOK_EVERY: Duration = Duration::from_millis(300);

    /// Watches this file, and those that are read with it.
    #[must_use]
    pub fn new(file: PathBuf) -> Self {
        let watched = Watched::default();
        watched.note(&file);
        Self { file: Some(file), watched, ..Self::default() }
    }

    /// Begins to check what was read of the file just now.
    #[must_use]
    pub fn checking(self, site: Site, wake: &Wake) -> Self {
        Self { checking: Some(Checking::begin(wake, move |watch| Ok(Show::learn(site, watch)))), ..self }
    }

    /// How far the check of the file is; none where none goes on.
    #[must_use]
    pub fn far(&self) -> Option<Far> {
        self.checking.as_ref().map(Checking::far)
    }
}

/// What is wrong with the file as last saved: one sentence each, with file and line.
#[derive(Resource, Default, Debug, PartialEq, Eq)]
pub struct Trouble(pub Vec<String>);

/// Looks whether a file was saved, and whether what was read of it is ready.
pub(super) fn watch(
    mut commands: Commands,
    time: Res<Time<Real>>,
    wake: Res<Wake>,
    mut source: ResMut<Source>,
    show: Option<ResMut<Show>>,
    mut trouble: ResMut<Trouble>,
    mut chosen: ResMut<Chosen>,
    mut playing: ResMut<Playing>,
    mut practice: ResMut<Practice>,
    hand: Option<ResMut<Hand>>,
    task: Res<Task>,
    mut asks: MessageWriter<Ask>,
) {
    let now = time.elapsed();
    if now >= source.next_look && source.checking.is_none() {
        source.next_look = now + Source::LOOK_EVERY;
        if let Some(file) = source.file.clone().filter(|_| source.watched.has_changed()) {
            let watched = source.watched.clone();
            source.checking = Some(Checking::begin(&wake, move |watch| {
                let site = Site::read(&file, &watched);
                let said =
                    |problems: Vec<Problem>| problems.iter().map(Problem::to_string).collect::<Vec<_>>();
                Ok(Show::learn(site.map_err(said)?, watch))
            }));
        }
    }
    // What was read has no problems any more, however long its check takes.
    if source.far().is_some_and(|far| far.stage.is_some()) && !trouble.0.is_empty() {
        trouble.0.clear();
    }
    let Some(came) = source.checking.as_ref().and_then(Checking::came) else { return };
    source.checking = None;
    let fresh = match came {
        Ok(fresh) => fresh,
        Err(problems) => {
            trouble.0 = problems;
            return;
        }
    };
    trouble.0.clear();
    let Some(mut show) = show else {
        commands.insert_resource(fresh);
        return;
    };
    *show = fresh.clone();
    chosen.0 = chosen.0.filter(|seam| seam.0 < fresh.cell.seams.len());
    playing.time = playing.time.min(fresh.day.period);
    // Of the seam that is looked at, the instant is one at which it is served.
    if let Some(seam) = chosen.0.filter(|_| *task == Task::Seam) {
        playing.time = fresh.instant_at(seam, playing.time);
    }
    if let Some(mut hand) = hand {
        hand.start_anew(&fresh);
    }
    // Seams and stations may be others now: lessons are read anew too, and the one at hand begins anew.
    let at_hand = practice.lesson().map(|lesson| lesson.file.clone());
    let lessons = practice.folder.as_ref().map(|folder| read_lessons(folder, fresh.cell));
    let lessons = lessons.unwrap_or_else(|| Ok(Vec::new())).unwrap_or_else(|problems| {
        trouble.0 = problems.iter().map(ToString::to_string).collect();
        Vec::new()
    });
    let at = lessons.iter().position(|lesson| Some(&lesson.file) == at_hand.as_ref());
    *practice = Practice { lessons, at, progress: Progress::default(), folder: practice.folder.clone() };
    if let Some(at) = at.filter(|_| *task == Task::Learn) {
        asks.write(Ask::Lesson(at));
    }
}
