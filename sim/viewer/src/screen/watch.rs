//! The band of the cell at work: play keys, and one cycle as lanes of arm, table and person.

use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition;
use seamwright_sim::production::{Activity, Doing, PersonStep, Who};
use seamwright_sim::schedule::{EventKind, GoesInto};

use super::legend;
use super::parts::{FAINT, INK, key, saying_key, words};
use super::says::Says;
use super::tight::Fit;
use crate::logic::{Ask, Playing, Task, can_reach_in};
use crate::show::Show;

/// The field of the lanes: click and drag take the cycle to an instant.
#[derive(Component)]
pub(super) struct Lanes;

/// The line at the instant.
#[derive(Component)]
pub(super) struct Cursor;

/// Whether a drag that began in the lanes goes on.
#[derive(Resource, Default)]
pub struct Lit(bool);

const LANE: f32 = 26.0;
/// Between two lanes.
const GAP: f32 = 3.0;

/// Height of the band, px at a scale of 1: keys, lanes, what their colours mean.
pub(super) fn height(show: &Show, tight: bool) -> f32 {
    const KEYS: f32 = 54.0;
    KEYS + if tight { 0.0 } else { legend::height(show) } + names(show).len() as f32 * (LANE + GAP)
}

pub(super) fn fill(commands: &mut Commands, band: Entity, show: &Show) {
    let column = commands
        .spawn((
            Node { flex_direction: FlexDirection::Column, width: percent(100), row_gap: px(7), ..default() },
            ChildOf(band),
        ))
        .id();
    let keys = commands
        .spawn((
            Node { column_gap: px(6), row_gap: px(4), align_items: AlignItems::Center, ..default() },
            ChildOf(column),
        ))
        .id();
    let mut add = |label: &str, ask| {
        commands.spawn((key(label, ask), ChildOf(keys)));
    };
    add("event before", Ask::Step(-1));
    commands.spawn((saying_key(Says::PlayKey, Ask::PlayOrPause), ChildOf(keys)));
    let mut add = |label: &str, ask| {
        commands.spawn((key(label, ask), ChildOf(keys)));
    };
    add("next event", Ask::Step(1));
    add("slower", Ask::Pace(-1));
    add("faster", Ask::Pace(1));
    commands.spawn((
        Node { width: px(54), ..default() },
        children![(words("", 14.0, INK), Says::Pace)],
        ChildOf(keys),
    ));
    let mut add = |label: &str, ask| {
        commands.spawn((key(label, ask), Fit::ROOMY, ChildOf(keys)));
    };
    add("tightest instant", Ask::GoToTightest);
    if show.has_blocked() {
        add("blocked seam", Ask::NextBlocked);
    }
    if can_reach_in(show) {
        add("reach in now", Ask::ReachIn);
    }
    commands.spawn((Node { flex_grow: 1.0, ..default() }, ChildOf(keys)));
    commands.spawn((saying_key(Says::ViewKey, Ask::NextView), Fit::ROOMY, ChildOf(keys)));
    commands.spawn((
        Node { width: px(150), justify_content: JustifyContent::End, ..default() },
        children![(words("", 16.0, INK), Says::Clock)],
        ChildOf(keys),
    ));
    lanes(commands, column, show);
    legend::fill(commands, column, show);
}

/// A block of a lane.
struct Block {
    lane: usize,
    start: f64,
    end: f64,
    colour: Color,
    label: Option<String>,
}

/// The lanes from above, by what they are called: arm, table, people, zones.
fn names(show: &Show) -> Vec<String> {
    let people = people(show);
    let mut names = vec!["arm".to_owned()];
    names.extend(has_table(show).then(|| "table".to_owned()));
    names.extend(
        (1..=people).map(|one| if people == 1 { "person".to_owned() } else { format!("person {one}") }),
    );
    names.extend((!show.crossings.is_empty()).then(|| "zones".to_owned()));
    names
}

pub(super) fn has_table(show: &Show) -> bool {
    show.lanes.iter().any(|row| row.who == Who::Table)
}

pub(super) fn people(show: &Show) -> usize {
    let rows = show.lanes.iter().filter(|row| row.who == Who::Person);
    rows.map(|row| show.cell.stations[row.station.0].person + 1).max().unwrap_or(0)
}

fn lanes(commands: &mut Commands, column: Entity, show: &Show) {
    let names = names(show);
    let zones = (!show.crossings.is_empty()).then_some(names.len() - 1);
    let row = commands.spawn((Node { column_gap: px(8), ..default() }, ChildOf(column))).id();
    let left = commands
        .spawn((
            Node { flex_direction: FlexDirection::Column, width: px(52), row_gap: px(GAP), ..default() },
            ChildOf(row),
        ))
        .id();
    for name in &names {
        commands.spawn((
            Node { height: px(LANE), align_items: AlignItems::Center, ..default() },
            children![words(name.clone(), 13.0, FAINT)],
            ChildOf(left),
        ));
    }
    let field = commands
        .spawn((
            Lanes,
            RelativeCursorPosition::default(),
            Node { flex_grow: 1.0, height: px(names.len() as f32 * (LANE + GAP)), ..default() },
            BackgroundColor(Color::srgb(0.93, 0.94, 0.95)),
            ChildOf(row),
        ))
        .id();
    let period = show.day.period.max(1e-9);
    let crossings = zones.into_iter().flat_map(|lane| crossings(show, lane));
    for block in blocks(show, has_table(show)).into_iter().chain(crossings) {
        // A block that reaches into the next cycle goes on at the left.
        let pieces = [(block.start, block.end.min(period)), (0.0, block.end - period)];
        for (start, end) in pieces.into_iter().filter(|(start, end)| end > start) {
            let share = ((end - start) / period) as f32;
            let piece = commands
                .spawn((
                    Node {
                        position_type: PositionType::Absolute,
                        left: percent((start / period) as f32 * 100.0),
                        width: percent(share * 100.0),
                        min_width: px(2),
                        top: px(block.lane as f32 * (LANE + GAP)),
                        height: px(LANE),
                        justify_content: JustifyContent::Center,
                        align_items: AlignItems::Center,
                        overflow: Overflow::clip(),
                        ..default()
                    },
                    BackgroundColor(block.colour),
                    Pickable::IGNORE,
                    ChildOf(field),
                ))
                .id();
            // At 1100 px a letter wants about 7.
            let wanted =
                block.label.as_ref().map_or(0.0, |label| label.chars().count() as f32 * 7.0 / 1000.0);
            if let Some(label) = block.label.clone().filter(|_| share > wanted + 0.004) {
                let dark = block.colour.to_srgba().green < 0.45;
                let words = words(label, 12.0, if dark { Color::WHITE } else { INK });
                let label = commands.spawn((words, ChildOf(piece))).id();
                // Lanes of a tight window are two thirds as long.
                if share < wanted * 1.5 + 0.006 {
                    commands.entity(label).insert(Fit::ROOMY);
                }
            }
        }
    }
    commands.spawn((
        Cursor,
        Node {
            position_type: PositionType::Absolute,
            width: px(3),
            top: px(-3),
            bottom: px(-1),
            ..default()
        },
        BackgroundColor(Color::srgb_u8(213, 94, 0)),
        Pickable::IGNORE,
        ChildOf(field),
    ));
}

fn blocks(show: &Show, has_table: bool) -> Vec<Block> {
    let mut blocks = Vec::new();
    for span in &show.day.spans {
        let (colour, label) = match span.doing {
            Doing::Event(_, EventKind::Weld) => {
                (legend::of(GoesInto::Arc), span.seam.map(|seam| (seam.0 + 1).to_string()))
            }
            Doing::Event(_, kind) => (legend::of(kind.goes_into()), None),
            Doing::Index => (legend::of(GoesInto::External), None),
            Doing::Wait { .. } => (legend::WAITS, Some("waits".to_owned())),
        };
        let lane = usize::from(has_table && span.doing == Doing::Index);
        blocks.push(Block { lane, start: span.start, end: span.end, colour, label });
    }
    let person_lane = 1 + usize::from(has_table);
    for row in show.lanes.iter().filter(|row| row.who == Who::Person) {
        let station = &show.cell.stations[row.station.0];
        let (name, lane) = (&station.name, person_lane + station.person);
        let (colour, label) = match row.activity {
            Activity::Step(PersonStep::Unload) => (legend::UNLOADS, format!("{name} out")),
            Activity::Step(PersonStep::Load) => (legend::LOADS, format!("{name} loads")),
            Activity::Step(
                PersonStep::Cool
                | PersonStep::PartPresent
                | PersonStep::Clamp
                | PersonStep::Leave
                | PersonStep::Acknowledge,
            ) => (legend::SEES_TO, String::new()),
            Activity::Wait | Activity::Event(_) => (legend::WAITS, "waits".to_owned()),
        };
        let label = (!label.is_empty()).then_some(label);
        blocks.push(Block { lane, start: row.start, end: row.start + row.duration, colour, label });
    }
    blocks
}

/// Where something is beyond the edge of a zone.
fn crossings(show: &Show, lane: usize) -> impl Iterator<Item = Block> {
    show.crossings.iter().map(move |crossing| {
        let at = |t: f64| show.day.from_round(&show.checked.schedule, t);
        let label = format!("{}: {}", show.cell.zones[crossing.zone.0].name, crossing.body);
        let (start, end) = (at(crossing.from), at(crossing.to));
        Block { lane, start, end: end.max(start + 1e-3), colour: legend::CROSSED, label: Some(label) }
    })
}

/// A click or drag in the lanes.
pub(super) fn drag(
    buttons: Option<Res<ButtonInput<MouseButton>>>,
    lanes: Query<&RelativeCursorPosition, With<Lanes>>,
    show: Res<Show>,
    task: Res<Task>,
    mut lit: ResMut<Lit>,
    mut asks: MessageWriter<Ask>,
) {
    let Some(buttons) = buttons.filter(|_| *task == Task::Watch) else { return };
    for lane in &lanes {
        if buttons.just_pressed(MouseButton::Left) {
            lit.0 = lane.cursor_over();
        }
        if !buttons.pressed(MouseButton::Left) {
            lit.0 = false;
        }
        if let Some(at) = lane.normalized.filter(|_| lit.0) {
            asks.write(Ask::GoTo(f64::from(at.x + 0.5) * show.day.period));
        }
    }
}

/// Puts the line at the instant.
pub(super) fn cursor(show: Res<Show>, playing: Res<Playing>, mut cursors: Query<&mut Node, With<Cursor>>) {
    let share = (playing.time / show.day.period.max(1e-9)) as f32;
    for mut node in &mut cursors {
        let left = percent(share * 100.0);
        if node.left != left {
            node.left = left;
        }
    }
}
