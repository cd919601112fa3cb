//! The band of the cell at work: play keys, and one cycle as lanes of arm, table and person.

use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition;
use seamwright_sim::production::{Activity, Doing, PersonStep, Who};
use seamwright_sim::schedule::EventKind;

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
    const COLOURS: f32 = 26.0;
    KEYS + if tight { 0.0 } else { COLOURS } + names(show).len() as f32 * (LANE + GAP)
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
    commands.spawn((words("", 14.0, FAINT), Says::View, Fit::ROOMY, ChildOf(keys)));
    commands.spawn((
        Node { width: px(150), justify_content: JustifyContent::End, ..default() },
        children![(words("", 16.0, INK), Says::Clock)],
        ChildOf(keys),
    ));
    lanes(commands, column, show);
    legend(commands, column, show);
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

fn has_table(show: &Show) -> bool {
    show.lanes.iter().any(|row| row.who == Who::Table)
}

fn people(show: &Show) -> usize {
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
            let wanted = block.label.as_ref().map_or(0.0, |label| label.len() as f32 * 7.0 / 1000.0);
            if let Some(label) = block.label.clone().filter(|_| share > wanted + 0.004) {
                let dark = block.colour.to_srgba().green < 0.45;
                commands.spawn((words(label, 12.0, if dark { Color::WHITE } else { INK }), ChildOf(piece)));
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
            Doing::Event(_, EventKind::Weld) => (WELD, span.seam.map(|seam| (seam.0 + 1).to_string())),
            Doing::Event(_, kind) => (of_event(kind), None),
            Doing::Index => (INDEX, None),
            Doing::Wait { .. } => (WAIT, Some("waits".to_owned())),
        };
        let lane = usize::from(has_table && span.doing == Doing::Index);
        blocks.push(Block { lane, start: span.start, end: span.end, colour, label });
    }
    let person_lane = 1 + usize::from(has_table);
    for row in show.lanes.iter().filter(|row| row.who == Who::Person) {
        let station = &show.cell.stations[row.station.0];
        let (name, lane) = (&station.name, person_lane + station.person);
        let (colour, label) = match row.activity {
            Activity::Step(PersonStep::Unload) => (UNLOAD, format!("{name} out")),
            Activity::Step(PersonStep::Load) => (LOAD, format!("{name} loads")),
            Activity::Step(
                PersonStep::Cool
                | PersonStep::PartPresent
                | PersonStep::Clamp
                | PersonStep::Leave
                | PersonStep::Acknowledge,
            ) => (CLAMP, String::new()),
            Activity::Wait | Activity::Event(_) => (WAIT, "waits".to_owned()),
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
        Block { lane, start, end: end.max(start + 1e-3), colour: CROSSED, label: Some(label) }
    })
}

const CROSSED: Color = Color::srgb(0.80, 0.47, 0.65);
const WELD: Color = Color::srgb(0.13, 0.24, 0.33);
const ARC_ENDS: Color = Color::srgb(0.42, 0.53, 0.61);
const WAYS: Color = Color::srgb(0.66, 0.74, 0.79);
const AIR: Color = Color::srgb(0.80, 0.84, 0.87);
const INDEX: Color = Color::srgb(0.47, 0.41, 0.52);
const WAIT: Color = Color::srgb(0.99, 0.96, 0.86);
const UNLOAD: Color = Color::srgb(0.83, 0.75, 0.60);
const LOAD: Color = Color::srgb(0.73, 0.62, 0.43);
const CLAMP: Color = Color::srgb(0.60, 0.49, 0.33);

fn of_event(kind: EventKind) -> Color {
    match kind {
        EventKind::Weld => WELD,
        EventKind::GasBefore
        | EventKind::RunIn
        | EventKind::ArcStart
        | EventKind::ArcRetry
        | EventKind::CraterBack
        | EventKind::Crater
        | EventKind::BurnBack
        | EventKind::WireCheck
        | EventKind::GasAfter => ARC_ENDS,
        EventKind::SearchWay
        | EventKind::Search
        | EventKind::Approach
        | EventKind::Retract
        | EventKind::Shift => WAYS,
        EventKind::AirMove | EventKind::AssumedAirMove | EventKind::Settle => AIR,
        EventKind::Interpass
        | EventKind::Cooling
        | EventKind::StartSignal
        | EventKind::ArmClear
        | EventKind::ClampsOpen => WAIT,
        EventKind::Position | EventKind::Index => INDEX,
    }
}

fn legend(commands: &mut Commands, column: Entity, show: &Show) {
    let row = commands
        .spawn((
            Node { column_gap: px(14), margin: UiRect::left(px(60)), ..default() },
            Fit::ROOMY,
            ChildOf(column),
        ))
        .id();
    let entries = [
        (WELD, "arc, by seam number"),
        (ARC_ENDS, "gas, arc start, crater"),
        (WAYS, "in and out"),
        (AIR, "air"),
        (INDEX, "external axes"),
        (WAIT, "waits"),
        (LOAD, "loads"),
        (UNLOAD, "takes out"),
        (CLAMP, "clamps"),
    ];
    let crossed = (!show.crossings.is_empty()).then_some((CROSSED, "beyond a zone's edge"));
    for (colour, name) in entries.into_iter().chain(crossed) {
        commands.spawn((
            Node { column_gap: px(5), align_items: AlignItems::Center, ..default() },
            children![
                (Node { width: px(12), height: px(12), ..default() }, BackgroundColor(colour)),
                words(name, 12.0, FAINT),
            ],
            ChildOf(row),
        ));
    }
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
