//! What the colours of the lanes mean, and how much of the cycle each of them is: where the cycle goes.

use bevy::prelude::*;
use seamwright_kinematics::units;
use seamwright_sim::production::people_times;
use seamwright_sim::schedule::GoesInto;

use super::parts::{FAINT, words};
use super::tight::Fit;
use super::watch::people;
use crate::show::Show;

pub(super) const CROSSED: Color = Color::srgb(0.80, 0.47, 0.65);
pub(super) const WAITS: Color = Color::srgb(0.99, 0.96, 0.86);
pub(super) const UNLOADS: Color = Color::srgb(0.83, 0.75, 0.60);
pub(super) const LOADS: Color = Color::srgb(0.73, 0.62, 0.43);
/// Clamps, sensors, the way out, cooling.
pub(super) const SEES_TO: Color = Color::srgb(0.60, 0.49, 0.33);

/// The colour of what the arm does.
pub(super) fn of(what: GoesInto) -> Color {
    match what {
        GoesInto::Arc => Color::srgb(0.13, 0.24, 0.33),
        GoesInto::ArcEnds => Color::srgb(0.42, 0.53, 0.61),
        GoesInto::Cooling => Color::srgb(0.88, 0.76, 0.72),
        GoesInto::Ways => Color::srgb(0.66, 0.74, 0.79),
        GoesInto::Air => Color::srgb(0.80, 0.84, 0.87),
        GoesInto::External => Color::srgb(0.47, 0.41, 0.52),
    }
}

fn name(what: GoesInto) -> &'static str {
    match what {
        GoesInto::Arc => "arc, by seam number",
        GoesInto::ArcEnds => "gas, arc start, crater",
        GoesInto::Cooling => "cools",
        GoesInto::Ways => "in and out",
        GoesInto::Air => "air",
        GoesInto::External => "external axes",
    }
}

/// What one colour stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    colour: Color,
    /// What it is.
    pub name: &'static str,
    /// How much of the cycle of one, s; none of what is no time of arm or person.
    pub seconds: Option<f64>,
}

/// The rows under the lanes: the arm, the people, each with what it spends time on at all.
#[must_use]
pub fn rows(show: &Show) -> Vec<(String, Vec<Entry>)> {
    /// Less is not seen in the lanes either, s.
    const LEAST: f64 = 0.05;
    let arm = show.day.times(&show.checked.schedule);
    let entry = |colour, name, seconds| Entry { colour, name, seconds: Some(seconds) };
    let at_work = GoesInto::ALL.map(|what| entry(of(what), name(what), arm.at_work.of(what)));
    let arm = at_work.into_iter().chain([entry(WAITS, "waits", arm.waits)]);
    let person = people_times(&show.lanes);
    let person = [
        entry(UNLOADS, "takes out", person.unload),
        entry(LOADS, "loads", person.load),
        entry(SEES_TO, "clamps and the like", person.rest),
        entry(WAITS, "waits", person.waits),
    ];
    let spent = |entry: &Entry| entry.seconds.is_some_and(|seconds| seconds > LEAST);
    let mut arm: Vec<Entry> = arm.filter(spent).collect();
    arm.extend((!show.crossings.is_empty()).then_some(Entry {
        colour: CROSSED,
        name: "beyond a zone's edge",
        seconds: None,
    }));
    let person: Vec<Entry> = person.into_iter().filter(spent).collect();
    let who = if people(show) > 1 { "people" } else { "person" };
    let mut rows = vec![("arm".to_owned(), arm)];
    rows.extend((!person.is_empty()).then(|| (who.to_owned(), person)));
    rows
}

/// Height of a row, px at a scale of 1.
const ROW: f32 = 20.0;

/// Height of all of them.
pub(super) fn height(show: &Show) -> f32 {
    6.0 + rows(show).len() as f32 * ROW
}

/// How much an entry is, in seconds and as a share of the cycle of as many as there are.
#[must_use]
pub fn amount(seconds: f64, all: f64) -> String {
    format!("{seconds:.0} s, {:.0} %", units::to_percent(seconds / all.max(1e-9)))
}

pub(super) fn fill(commands: &mut Commands, column: Entity, show: &Show) {
    let table = commands
        .spawn((Node { flex_direction: FlexDirection::Column, ..default() }, Fit::ROOMY, ChildOf(column)))
        .id();
    for (index, (who, entries)) in rows(show).into_iter().enumerate() {
        let row = commands
            .spawn((
                Node { column_gap: px(14), height: px(ROW), align_items: AlignItems::Center, ..default() },
                ChildOf(table),
            ))
            .id();
        commands.spawn((
            Node { width: px(46), ..default() },
            children![words(who, 12.0, FAINT)],
            ChildOf(row),
        ));
        let all = show.day.period * if index == 0 { 1.0 } else { people(show) as f64 };
        for Entry { colour, name, seconds } in entries {
            let amount = seconds.map_or_else(String::new, |seconds| format!(" {}", amount(seconds, all)));
            commands.spawn((
                Node { column_gap: px(5), align_items: AlignItems::Center, ..default() },
                children![
                    (
                        Node { width: px(12), height: px(12), ..default() },
                        BackgroundColor(colour),
                        // Some are as light as the paper.
                        Outline { width: px(1), color: FAINT, ..default() },
                    ),
                    words(format!("{name}{amount}"), 12.0, FAINT),
                ],
                ChildOf(row),
            ));
        }
    }
}
