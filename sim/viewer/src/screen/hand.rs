//! The band of moving by hand: a gauge for each axis, keys that are held, manner and speed.

use bevy::math::Rot2;
use bevy::prelude::*;
use bevy::ui::{Pressed, UiTransform};
use nalgebra::Vector3;
use seamwright_kinematics::Range;
use seamwright_sim::by_hand::Jog;
use seamwright_sim::cell::frames::AxisKind;

use super::parts::{FAINT, INK, key, saying_key, small_cap, words};
use super::says::Says;
use super::tight::Fit;
use crate::logic::{Ask, Hand, Manner, Now, PadAxis, ReachIn, Task};
use crate::show::Show;

/// Whose needle or bar it is.
#[derive(Component, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gauge {
    /// An axis of the arm (0-based).
    Axis(usize),
    /// An external axis.
    External(usize),
}

/// All that belongs to one gauge.
#[derive(Component)]
pub(super) struct Column(Gauge);

/// A needle that stands at the axis value.
#[derive(Component)]
pub(super) struct Needle(Gauge);

/// A bar as long as the axis is fast.
#[derive(Component)]
pub(super) struct SpeedBar(Gauge);

/// A mark that stands in the range.
#[derive(Component)]
pub(super) struct RangeMark(Gauge);

/// A key that is held.
#[derive(Component, Clone, Copy)]
pub(super) struct HoldKey {
    of: Gauge,
    sense: f64,
}

/// Behind the gauge whose axis a gamepad turns.
const TINT: Color = Color::srgb(0.80, 0.87, 0.93);
const DIAL: f32 = 58.0;
const WIDTH: f32 = 100.0;

/// So wide are gauges of that many axes where it is tight, px, that all of them stand in one row, and so wide the words between their keys.
fn tight_widths(axes: usize) -> (f32, f32) {
    match axes {
        0..=7 => (92.0, 30.0),
        8 => (86.0, 24.0),
        // Two keys side by side, and nothing between them.
        _ => (61.0, 0.0),
    }
}

pub(super) fn fill(commands: &mut Commands, band: Entity, show: &Show) {
    let tight = tight_widths(6 + show.cell.frames.axes.len());
    for axis in 0..6 {
        let range = show.cell.arm.arm.axes()[axis].range;
        gauge(commands, band, Gauge::Axis(axis), None, Some(range), true, tight);
    }
    for (index, axis) in show.cell.frames.axes.iter().enumerate() {
        let turns = axis.kind == AxisKind::Turn;
        gauge(
            commands,
            band,
            Gauge::External(index),
            Some(axis.name.clone()),
            turns.then_some(axis.range),
            turns,
            tight,
        );
    }
    let right = commands
        .spawn((
            Node {
                flex_direction: FlexDirection::Column,
                row_gap: px(6),
                flex_grow: 1.0,
                align_items: AlignItems::End,
                ..default()
            },
            Fit::So(|node, tight| {
                node.width = if tight { percent(100) } else { auto() };
                node.flex_direction = if tight { FlexDirection::Row } else { FlexDirection::Column };
                node.flex_wrap = if tight { FlexWrap::Wrap } else { FlexWrap::NoWrap };
                node.column_gap = px(if tight { 12 } else { 0 });
                node.align_items = if tight { AlignItems::Center } else { AlignItems::End };
            }),
            ChildOf(band),
        ))
        .id();
    let row = |commands: &mut Commands| {
        commands
            .spawn((
                Node {
                    column_gap: px(6),
                    row_gap: px(4),
                    align_items: AlignItems::Center,
                    flex_wrap: FlexWrap::Wrap,
                    justify_content: JustifyContent::End,
                    ..default()
                },
                Fit::So(|node, tight| {
                    node.flex_wrap = if tight { FlexWrap::NoWrap } else { FlexWrap::Wrap };
                    node.flex_shrink = if tight { 0.0 } else { 1.0 };
                }),
                ChildOf(right),
            ))
            .id()
    };
    let manners = row(commands);
    for manner in Manner::ALL {
        commands.spawn((key(manner.name(), Ask::Manner(manner)), IsManner(manner), ChildOf(manners)));
    }
    let speeds = row(commands);
    commands.spawn((key("slower", Ask::Speed(-1)), ChildOf(speeds)));
    commands.spawn((
        Node { width: px(82), justify_content: JustifyContent::Center, ..default() },
        children![(words("", 15.0, INK), Says::Speed)],
        ChildOf(speeds),
    ));
    commands.spawn((key("faster", Ask::Speed(1)), ChildOf(speeds)));
    commands.spawn((key("home", Ask::Home), Fit::ROOMY, ChildOf(speeds)));
    let ways = row(commands);
    commands.entity(ways).insert(Fit::ROOMY);
    commands.spawn((saying_key(Says::ViewKey, Ask::NextView), ChildOf(ways)));
    commands.spawn((saying_key(Says::Ways, Ask::OtherWays), ChildOf(ways)));
    commands.spawn((key("take the next", Ask::NextWay), ChildOf(ways)));
    let hint = "hold a key to move, let go to stop · H lists all keys";
    commands.spawn((words(hint, 12.0, FAINT), Fit::ROOMY, ChildOf(right)));
    commands.spawn((
        words(
            "a model only: on a real floor the enabling device, the maker's data and local rules decide",
            11.0,
            FAINT,
        ),
        ChildOf(right),
    ));
}

/// The key of a manner.
#[derive(Component)]
pub(super) struct IsManner(Manner);

fn gauge(
    commands: &mut Commands,
    band: Entity,
    of: Gauge,
    name: Option<String>,
    range: Option<Range>,
    turns: bool,
    (tight_width, tight_words): (f32, f32),
) {
    let column = commands
        .spawn((
            Node {
                flex_direction: FlexDirection::Column,
                align_items: AlignItems::Center,
                width: px(WIDTH),
                row_gap: px(2),
                flex_shrink: 0.0,
                border_radius: BorderRadius::all(px(6)),
                ..default()
            },
            BackgroundColor(Color::NONE),
            Fit::Width(WIDTH, tight_width),
            Column(of),
            ChildOf(band),
        ))
        .id();
    let (says_value, says_room) = match of {
        Gauge::Axis(axis) => (Says::AxisValue(axis), Says::AxisRoom(axis)),
        Gauge::External(axis) => (Says::ExternalValue(axis), Says::ExternalRoom(axis)),
    };
    match (of, name) {
        (Gauge::Axis(axis), _) => {
            commands.spawn((words(format!("axis {}", axis + 1), 12.5, FAINT), ChildOf(column)));
        }
        (Gauge::External(_), name) => {
            commands.spawn((words(name.unwrap_or_default(), 12.5, FAINT), ChildOf(column)));
        }
    }
    if turns {
        dial(commands, column, of, range);
    } else {
        commands.spawn((Node { height: px(DIAL), ..default() }, Fit::ROOMY, ChildOf(column)));
    }
    commands.spawn((words("", 15.0, INK), says_value, ChildOf(column)));
    bar(commands, column, of);
    commands.spawn((words("", 11.5, FAINT), says_room, ChildOf(column)));
    let keys = commands
        .spawn((Node { column_gap: px(3), align_items: AlignItems::Center, ..default() }, ChildOf(column)))
        .id();
    commands.spawn((small_cap("–"), HoldKey { of, sense: -1.0 }, ChildOf(keys)));
    if let Gauge::Axis(axis) = of {
        commands.spawn((
            Node { width: px(38), justify_content: JustifyContent::Center, ..default() },
            Fit::Width(38.0, tight_words),
            children![(words("", 11.0, INK), Says::Pair(axis))],
            ChildOf(keys),
        ));
    }
    commands.spawn((small_cap("+"), HoldKey { of, sense: 1.0 }, ChildOf(keys)));
}

/// A round face with a needle, and two short lines at the ends of the range.
fn dial(commands: &mut Commands, column: Entity, of: Gauge, range: Option<Range>) {
    let face = commands
        .spawn((
            Node { width: px(DIAL), height: px(DIAL), border_radius: BorderRadius::MAX, ..default() },
            BackgroundColor(Color::WHITE),
            Outline { width: px(1), color: FAINT, ..default() },
            Fit::ROOMY,
            ChildOf(column),
        ))
        .id();
    // A box over the whole face that is turned; the line stands in its upper half, so that 0 points up.
    let hand = |turn: f64, from: f32, length: f32, width: f32, colour: Color| {
        (
            Node { position_type: PositionType::Absolute, width: px(DIAL), height: px(DIAL), ..default() },
            UiTransform::from_rotation(Rot2::radians(turn as f32)),
            Pickable::IGNORE,
            children![(
                Node {
                    position_type: PositionType::Absolute,
                    left: px(DIAL / 2.0 - width / 2.0),
                    top: px(from),
                    width: px(width),
                    height: px(length),
                    ..default()
                },
                BackgroundColor(colour),
                Pickable::IGNORE,
            )],
        )
    };
    let ends = range.into_iter().flat_map(|range| [range.min, range.max]);
    for end in ends.filter(|end| end.is_finite() && end.abs() <= std::f64::consts::PI + 1e-9) {
        commands.spawn((hand(end, 0.0, 9.0, 2.0, Color::srgb_u8(213, 94, 0)), ChildOf(face)));
    }
    commands.spawn((Needle(of), hand(0.0, 3.0, DIAL / 2.0 - 1.0, 3.0, INK), ChildOf(face)));
}

/// The range as a bar with a mark, and below it how fast the axis is.
fn bar(commands: &mut Commands, column: Entity, of: Gauge) {
    let field = commands
        .spawn((
            Node { width: percent(84), height: px(8), border_radius: BorderRadius::all(px(2)), ..default() },
            BackgroundColor(Color::srgb(0.84, 0.87, 0.89)),
            ChildOf(column),
        ))
        .id();
    commands.spawn((
        SpeedBar(of),
        Node {
            position_type: PositionType::Absolute,
            height: px(3),
            bottom: px(0),
            width: percent(0),
            ..default()
        },
        BackgroundColor(Color::srgb_u8(0, 114, 178)),
        ChildOf(field),
    ));
    commands.spawn((
        RangeMark(of),
        Node { position_type: PositionType::Absolute, width: px(3), height: percent(100), ..default() },
        BackgroundColor(INK),
        ChildOf(field),
    ));
}

/// The note over the band that says what stops or slows the arm, by hand or because somebody reaches in.
#[derive(Component)]
pub(super) struct StopNote;

pub(super) fn stop_note(commands: &mut Commands, root: Entity) {
    let middle = commands
        .spawn((
            Node {
                flex_grow: 1.0,
                justify_content: JustifyContent::Center,
                align_items: AlignItems::End,
                padding: UiRect::all(px(10)),
                ..default()
            },
            Pickable::IGNORE,
            ChildOf(root),
        ))
        .id();
    commands.spawn((
        StopNote,
        Node {
            padding: UiRect::axes(px(14), px(6)),
            border_radius: BorderRadius::all(px(4)),
            display: Display::None,
            ..default()
        },
        BackgroundColor(Color::srgb(0.16, 0.10, 0.04)),
        Pickable::IGNORE,
        children![(words("", 17.0, Color::WHITE), Says::Stop)],
        ChildOf(middle),
    ));
}

/// The note is there while something stops or slows the arm.
pub(super) fn note(
    hand: Res<Hand>,
    reach_in: Res<ReachIn>,
    task: Res<Task>,
    mut notes: Query<&mut Node, With<StopNote>>,
) {
    let there = match *task {
        Task::Hand | Task::Learn => hand.stopped.is_some() || hand.slowed.is_some(),
        Task::Watch => !matches!(*reach_in, ReachIn::Nobody),
        Task::Seam => false,
    };
    let wanted = if there { Display::Flex } else { Display::None };
    for mut node in &mut notes {
        if node.display != wanted {
            node.display = wanted;
        }
    }
}

/// Keys that are down move the arm.
pub(super) fn hold(
    hand: Option<Res<Hand>>,
    keys: Query<&HoldKey, With<Pressed>>,
    mut asks: MessageWriter<Ask>,
) {
    let Some(hand) = hand else { return };
    for key in &keys {
        let unit = |pair: usize| Vector3::ith(pair % 3, key.sense);
        let jog = match (key.of, hand.manner) {
            (Gauge::External(axis), _) => Jog::External(axis, key.sense),
            (Gauge::Axis(axis), Manner::Axes) => Jog::Axis(axis, key.sense),
            (Gauge::Axis(pair), Manner::Tool(frame)) if pair < 3 => Jog::Along(frame, unit(pair)),
            (Gauge::Axis(pair), Manner::Tool(frame)) => Jog::About(frame, unit(pair)),
        };
        asks.write(Ask::Hold(jog));
    }
}

/// Where a gamepad is at hand the axis that its stick turns is tinted.
pub(super) fn tint(
    axis: Res<PadAxis>,
    hand: Option<Res<Hand>>,
    gamepads: Query<(), With<Gamepad>>,
    mut columns: Query<(&Column, &mut BackgroundColor)>,
) {
    let by_pad = hand.is_some_and(|hand| hand.manner == Manner::Axes) && !gamepads.is_empty();
    let turned = if axis.0 < 6 { Gauge::Axis(axis.0) } else { Gauge::External(axis.0 - 6) };
    for (column, mut colour) in &mut columns {
        let chosen = by_pad && column.0 == turned;
        colour.set_if_neq(BackgroundColor(if chosen { TINT } else { Color::NONE }));
    }
}

/// Needles, marks and bars stand as the axes do.
pub(super) fn turn(
    show: Res<Show>,
    now: Res<Now>,
    hand: Res<Hand>,
    task: Res<Task>,
    mut needles: Query<(&Needle, &mut UiTransform)>,
    mut marks: Query<(&RangeMark, &mut Node), Without<SpeedBar>>,
    mut bars: Query<(&SpeedBar, &mut Node), Without<RangeMark>>,
    mut manners: Query<(&IsManner, &mut BorderColor)>,
) {
    if !matches!(*task, Task::Hand | Task::Learn) {
        return;
    }
    let value = |of: Gauge| match of {
        Gauge::Axis(axis) => now.stance.axes[axis],
        Gauge::External(axis) => now.stance.external.get(axis).copied().unwrap_or_default(),
    };
    let range = |of: Gauge| match of {
        Gauge::Axis(axis) => show.cell.arm.arm.axes()[axis].range,
        Gauge::External(axis) => show.cell.frames.axes[axis].range,
    };
    for (needle, mut transform) in &mut needles {
        let wanted = UiTransform::from_rotation(Rot2::radians(value(needle.0) as f32));
        if *transform != wanted {
            *transform = wanted;
        }
    }
    for (mark, mut node) in &mut marks {
        let range = range(mark.0);
        let share = if range.min.is_finite() && range.max > range.min {
            (value(mark.0) - range.min) / (range.max - range.min)
        } else {
            0.5
        };
        let left = percent((share.clamp(0.0, 1.0) * 97.0) as f32);
        if node.left != left {
            node.left = left;
        }
    }
    for (bar, mut node) in &mut bars {
        let share = match bar.0 {
            Gauge::Axis(axis) => now.rates[axis].abs() / show.cell.arm.arm.axes()[axis].max_speed,
            Gauge::External(_) => 0.0,
        };
        let width = percent((share.clamp(0.0, 1.0) * 100.0) as f32);
        if node.width != width {
            node.width = width;
        }
    }
    for (manner, mut border) in &mut manners {
        border.set_if_neq(BorderColor::all(if manner.0 == hand.manner { INK } else { Color::NONE }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_it_is_tight_the_gauges_of_up_to_eleven_axes_stand_in_one_row() {
        // 640 px at the scale of a window of 640 by 360, less 14 px of the band at each side; gauges stand 4 px apart.
        let row = 640.0 / super::super::tight::scale(Vec2::new(640.0, 360.0)).0 - 2.0 * 14.0;
        for axes in 6..=11 {
            let (width, words) = tight_widths(axes);
            assert!(axes as f32 * width + (axes - 1) as f32 * 4.0 <= row, "{axes}");
            // Two keys of 28 px, 3 px apart from the words or, where there are none, from each other.
            let keys = 28.0 * 2.0 + if words > 0.0 { words + 6.0 } else { 3.0 };
            assert!(keys <= width, "{axes}");
        }
    }
}
