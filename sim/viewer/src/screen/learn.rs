//! The card of a lesson: what to read, what to reach, what is measured, what it was worth.

use bevy::prelude::*;
use seamwright_kinematics::units;

use super::parts::{FAINT, INK, PAPER, key, words};
use super::tight::{Fit, Tight};
use super::{Aloud, Covers, OfScreen, STRIP};
use crate::logic::lesson::Reading;
use crate::logic::{Ask, Learner, Practice, Task};

/// The card.
#[derive(Component)]
pub(super) struct Card;

/// Left of the card, and its width where there is room, px at a scale of 1.
const MARGIN: f32 = 14.0;
const WIDTH: f32 = 372.0;
/// Its width where it is tight, percent of the window's.
const TIGHT_WIDTH: f32 = 50.0;

/// The share of the width of a window of so many px (at a scale of 1) that the card covers.
pub(super) fn covers(width: f32, tight: bool) -> f32 {
    if tight { TIGHT_WIDTH / 100.0 + MARGIN / width } else { (MARGIN + WIDTH) / width }
}

pub(super) fn fill(commands: &mut Commands, camera: Entity) {
    commands.spawn((
        OfScreen,
        Card,
        Covers,
        bevy::ui::RelativeCursorPosition::default(),
        Node {
            position_type: PositionType::Absolute,
            display: Display::None,
            top: px(STRIP + 10.0),
            left: px(MARGIN),
            width: px(WIDTH),
            flex_direction: FlexDirection::Column,
            row_gap: px(6),
            padding: UiRect::all(px(12)),
            border_radius: BorderRadius::all(px(6)),
            ..default()
        },
        Fit::So(|node, tight| {
            node.width = if tight { percent(TIGHT_WIDTH) } else { px(WIDTH) };
            node.row_gap = px(if tight { 3 } else { 6 });
            node.padding = UiRect::all(px(if tight { 7 } else { 12 }));
        }),
        UiTargetCamera(camera),
        BackgroundColor(PAPER),
    ));
}

/// What the card says, to see whether it has changed.
#[derive(Clone, PartialEq, Default)]
pub(super) struct Said(Vec<(String, f32, bool)>, bool);

/// Writes the card anew where anything on it has changed.
pub(super) fn refill(
    mut commands: Commands,
    task: Res<Task>,
    practice: Res<Practice>,
    learner: Res<Learner>,
    aloud: Res<Aloud>,
    tight: Res<Tight>,
    mut said: Local<Said>,
    mut cards: Query<(Entity, &mut Node), With<Card>>,
    added: Query<(), Added<Card>>,
) {
    for (card, mut node) in &mut cards {
        let wanted = if *task == Task::Learn { Display::Flex } else { Display::None };
        if node.display != wanted {
            node.display = wanted;
        }
        let now = Said(lines(&practice, &learner, tight.0), *task == Task::Learn);
        if now == *said && added.is_empty() {
            continue;
        }
        if now.1 {
            for (text, ..) in now.0.iter().filter(|line| !said.1 || !said.0.contains(line)) {
                aloud.say("lesson", text);
            }
        }
        *said = now.clone();
        commands.entity(card).despawn_related::<Children>();
        let at = practice.at.filter(|_| !practice.lessons.is_empty());
        // At the top, where they stay while the text below them changes.
        let turn = at.map(|at| {
            [
                ("lesson before", Ask::NextLesson(-1)),
                ("begin anew", Ask::Lesson(at)),
                ("next lesson", Ask::NextLesson(1)),
            ]
        });
        if let Some(turn) = turn.filter(|_| !tight.0) {
            keys(&mut commands, card, turn);
        }
        for (text, size, strong) in now.0 {
            commands.spawn((words(text, size, if strong { INK } else { FAINT }), ChildOf(card)));
        }
        let goal = practice.goal().filter(|_| !(tight.0 && practice.progress.is_fresh()));
        if goal.is_some_and(|goal| goal.kind.collects_marks()) {
            let marks = [("mark this place", Ask::Mark), ("take the last back", Ask::TakeBack)];
            let done = goal.is_some_and(|goal| goal.kind.waits_for_done()).then_some(("done", Ask::Done));
            keys(&mut commands, card, marks.into_iter().chain(done));
        }
    }
}

/// A row of keys.
fn keys(commands: &mut Commands, card: Entity, keys: impl IntoIterator<Item = (&'static str, Ask)>) {
    let row = commands
        .spawn((
            Node { column_gap: px(6), row_gap: px(4), flex_wrap: FlexWrap::Wrap, ..default() },
            ChildOf(card),
        ))
        .id();
    for (label, ask) in keys {
        commands.spawn((key(label, ask), ChildOf(row)));
    }
}

/// Where it is tight what the lesson says goes when the learner begins, and of the goals only the one at hand is told.
fn lines(practice: &Practice, learner: &Learner, tight: bool) -> Vec<(String, f32, bool)> {
    let Some((at, lesson)) = practice.at.zip(practice.lesson()) else {
        let none = "no lessons here: a folder is given by --lessons, and a lesson fits the cell it names";
        return vec![(none.to_owned(), 14.0, true)];
    };
    let progress = &practice.progress;
    let mut lines = vec![(format!("{} of {}  {}", at + 1, practice.lessons.len(), lesson.name), 17.0, true)];
    if !tight || progress.is_fresh() {
        lines.extend(lesson.text.iter().map(|line| (line.clone(), 13.5, true)));
    }
    for (index, goal) in lesson.goals.iter().enumerate() {
        let (mark, strong) = match index.cmp(&progress.goal) {
            std::cmp::Ordering::Less => ("done:  ", false),
            std::cmp::Ordering::Equal => ("now:  ", true),
            std::cmp::Ordering::Greater => ("then:  ", false),
        };
        // Once the points are told: where those for exactness went.
        let spare = progress.spare.get(index).filter(|_| progress.score.is_some());
        let left = spare.map_or_else(String::new, |spare| {
            format!(" ({:.0} % of the tolerance left)", units::to_percent(*spare))
        });
        if strong || !tight {
            lines.push((format!("{mark}{}{left}", goal.say), 13.5, strong));
        }
    }
    if let Some(score) = &progress.score {
        lines.push((format!("{:.0} of 100 points", score.total()), 19.0, true));
        lines.push((
            format!(
                "reached {:.0} of 40 · exact {:.0} of 30 · quick {:.0} of 15 ({:.0} s) · careful {:.0} of 15 ({} stops)",
                score.reached, score.exact, score.quick, score.seconds, score.careful, score.stops
            ),
            12.5,
            false,
        ));
    } else {
        let readings: &[Reading] = if tight && progress.is_fresh() { &[] } else { &progress.readings };
        for reading in readings {
            let asked = if reading.asked.is_empty() {
                String::new()
            } else {
                format!("  (asked: {})", reading.asked)
            };
            let mark = if reading.holds { "+" } else { "–" };
            lines.push((format!("{mark} {} {}{asked}", reading.what, reading.value), 13.5, reading.holds));
        }
        lines.push((format!("{:.0} s", progress.elapsed), 12.5, false));
    }
    lines.extend(learner.trouble.iter().map(|trouble| (trouble.clone(), 13.0, true)));
    lines
}
