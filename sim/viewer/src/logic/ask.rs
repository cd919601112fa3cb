//! What can be asked of the viewer, by whatever means.

use bevy::prelude::*;
use seamwright_sim::by_hand::Jog;
use seamwright_sim::cell::SeamId;

use super::{Hand, Now, Playing};
use crate::show::Show;

/// Something asked.
#[derive(Message, Clone, Debug, PartialEq)]
pub enum Ask {
    /// Turn to another task.
    Do(Task),
    /// Start or stop playing.
    PlayOrPause,
    /// Play so many paces faster (or slower).
    Pace(i32),
    /// Forward (or back) by so many events.
    Step(i32),
    /// Go to this instant of the cycle, s.
    GoTo(f64),
    /// Go to where arm or torch come nearest to anything.
    GoToTightest,
    /// Look at this seam.
    Seam(SeamId),
    /// Look at the next (or previous) seam.
    NextSeam(i32),
    /// Look at the next seam that does not hold.
    NextBlocked,
    /// Look from there.
    Look(View),
    /// Look from the next of the views.
    NextView,
    /// One click of a jog key while it is held; asked anew every frame, so letting go stops.
    Hold(Jog),
    /// So many steps faster (or slower) by hand.
    Speed(i32),
    /// Move single axes, or the tool in another frame.
    Manner(super::Manner),
    /// Show the other ways of holding this pose, or hide them.
    OtherWays,
    /// Take the next of the other ways.
    NextWay,
    /// Take the arm home.
    Home,
    /// Begin (or begin anew) this lesson.
    Lesson(usize),
    /// Begin the next (or previous) lesson.
    NextLesson(i32),
    /// The learner is done with what the lesson asks: judged as it stands.
    Done,
    /// Remember this place, in lessons that collect places.
    Mark,
    /// Forget the place that was remembered last.
    TakeBack,
    /// Somebody reaches in now.
    ReachIn,
    /// Look for what would free the seams that do not hold.
    Remedies,
    /// Show zones, the space that is passed through besides, or neither.
    Zones,
    /// Show the list of keys, or hide it.
    Keys,
}

/// The one thing that fills the screen.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Task {
    /// The cell at work.
    #[default]
    Watch,
    /// One seam.
    Seam,
    /// Moving the arm by hand.
    Hand,
    /// A lesson.
    Learn,
}

impl Task {
    /// All, in the order in which they are offered.
    pub const ALL: [Self; 4] = [Self::Watch, Self::Seam, Self::Hand, Self::Learn];

    /// As it is called on the screen.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Watch => "Watch",
            Self::Seam => "Look at a seam",
            Self::Hand => "Move by hand",
            Self::Learn => "Learn",
        }
    }
}

impl Task {
    /// The same where room is scarce.
    #[must_use]
    pub fn short_name(self) -> &'static str {
        match self {
            Self::Watch => "Watch",
            Self::Seam => "Seam",
            Self::Hand => "By hand",
            Self::Learn => "Learn",
        }
    }
}

/// Where one looks from.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum View {
    /// From the operator's place, outside the cell beside the stations
    #[default]
    Operator,
    /// From the front, toward the arm
    Front,
    /// Straight down
    Above,
    /// From the side
    Side,
    /// Along the wire, toward the work
    Wire,
    /// Close to the torch, following it
    Torch,
    /// Close to the seam that is looked at
    Seam,
}

impl View {
    /// Those that a person steps through.
    pub const ALL: [Self; 7] =
        [Self::Operator, Self::Front, Self::Above, Self::Side, Self::Wire, Self::Torch, Self::Seam];

    fn next(self) -> Self {
        Self::ALL[(Self::ALL.iter().position(|one| *one == self).unwrap_or(0) + 1) % Self::ALL.len()]
    }

    /// As it is called on the screen.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Operator => "operator",
            Self::Front => "front",
            Self::Above => "above",
            Self::Side => "side",
            Self::Wire => "along the wire",
            Self::Torch => "at the torch",
            Self::Seam => "at the seam",
        }
    }
}

/// What is shown of the spaces of the cell.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum ZonesShown {
    /// Zones
    #[default]
    Zones,
    /// Zones, and the space that is passed through in the cycle
    Sweep,
    /// Neither
    Nothing,
}

impl ZonesShown {
    /// What the key shows next.
    fn next(self) -> Self {
        match self {
            Self::Zones => Self::Sweep,
            Self::Sweep => Self::Nothing,
            Self::Nothing => Self::Zones,
        }
    }
}

/// The seam that is looked at.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Chosen(pub Option<SeamId>);

/// From where one looked before a seam was looked at; there one looks again afterwards.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Before(View);

/// Changes task, view and seam.
pub(super) fn obey(
    mut asks: MessageReader<Ask>,
    show: Res<Show>,
    now: Res<Now>,
    mut task: ResMut<Task>,
    mut view: ResMut<View>,
    mut chosen: ResMut<Chosen>,
    mut hand: ResMut<Hand>,
    mut zones: ResMut<ZonesShown>,
    mut before: ResMut<Before>,
    playing: Res<Playing>,
) {
    let seams = show.cell.seams.len();
    let mut look_at = |seam: SeamId, task: &mut Task, view: &mut View, before: &mut Before| {
        chosen.0 = Some(seam);
        if *view != View::Seam {
            before.0 = *view;
        }
        *task = Task::Seam;
        *view = View::Seam;
    };
    for ask in asks.read() {
        let at = now.chosen_or_welded.map_or(0, |seam| seam.0);
        match ask {
            Ask::Do(next) => {
                // What is moved by hand starts where the cell was watched.
                if *next == Task::Hand && *task != Task::Hand && *task != Task::Learn {
                    let openings = match (*task, now.chosen_or_welded) {
                        (Task::Seam, Some(seam)) => show.cell.seams[seam.0].openings,
                        _ => show.openings_at(now.station, playing.time),
                    };
                    hand.take(&show, now.stance.clone(), (now.station, openings));
                    hand.seam = now.span.and_then(|span| span.seam);
                }
                if *next == Task::Seam && seams > 0 {
                    look_at(SeamId(at.min(seams - 1)), &mut task, &mut view, &mut before);
                } else if *next != Task::Seam && *view == View::Seam {
                    *view = before.0;
                }
                *task = *next;
            }
            Ask::Seam(seam) if seam.0 < seams => look_at(*seam, &mut task, &mut view, &mut before),
            Ask::NextSeam(by) if seams > 0 => {
                let next = (at as i64 + i64::from(*by)).rem_euclid(seams as i64);
                look_at(SeamId(next as usize), &mut task, &mut view, &mut before);
            }
            Ask::NextBlocked => {
                let after = (at + 1..seams).chain(0..=at.min(seams.saturating_sub(1)));
                let blocked =
                    |seam: &usize| show.findings_of(SeamId(*seam)).is_some_and(|seam| !seam.is_welded());
                if let Some(next) = after.into_iter().find(blocked) {
                    look_at(SeamId(next), &mut task, &mut view, &mut before);
                }
            }
            Ask::Look(next) => *view = *next,
            Ask::NextView => *view = view.next(),
            Ask::Zones => *zones = zones.next(),
            _ => {}
        }
    }
}
