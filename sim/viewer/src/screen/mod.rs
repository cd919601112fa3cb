//! Words, gauges, charts and keys. One task at a time has the band under the picture.

mod curves;
mod fails;
mod hand;
mod labels;
mod learn;
mod legend;
mod opening;
mod parts;
mod plot;
mod pointer;
mod says;
mod seam;
mod tight;
mod watch;

pub use fails::stretch;
pub use hand::Gauge;
pub use legend::{Entry, rows as where_the_cycle_goes};
pub use says::{Aloud, Says};

use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition as RelativeCursor;
use bevy::ui_widgets::Activate;

use crate::draw::Room;
use crate::logic::{Ask, Task, Trouble, Work};
use crate::show::Show;
use crate::site::Site;
use parts::{Asks, INK, PAPER, key, words};
use tight::{Fit, Tight};

/// Everything on the screen but the cell itself.
pub struct ScreenPlugin {
    /// Whether the band, its keys and gauges are there; else only names and what happens.
    pub with_band: bool,
}

/// Whether the band is there.
#[derive(Resource, Clone, Copy)]
struct Band(bool);

/// Height of the band of a task, px at a scale of 1; that of the first check where nothing is learnt yet.
fn height(task: Task, show: Option<&Show>, tight: bool) -> f32 {
    let Some(show) = show else { return opening::BAND };
    match (task, tight) {
        (Task::Watch, _) => watch::height(show, tight),
        (Task::Seam, false) => SEAM_BAND,
        (Task::Seam, true) => TIGHT_SEAM_BAND,
        (Task::Hand | Task::Learn, false) => HAND_BAND,
        (Task::Hand | Task::Learn, true) => TIGHT_HAND_BAND,
    }
}

/// The camera on which everything is drawn.
#[derive(Resource, Clone, Copy)]
pub struct Onto(pub Entity);

/// Belongs to the screen of the cell as it is now.
#[derive(Component)]
struct OfScreen;

/// The band of a task.
#[derive(Component, Clone, Copy, PartialEq, Eq)]
struct BandOf(Task);

/// A key that turns to a task.
#[derive(Component)]
struct TurnsTo(Task);

/// The list of keys.
#[derive(Component)]
struct KeyList;

/// What covers the picture for the mouse.
#[derive(Component)]
pub(crate) struct Covers;

/// Heights of bands, px at a scale of 1; that of the cell at work depends on its lanes.
const SEAM_BAND: f32 = 226.0;
const HAND_BAND: f32 = 196.0;
const TIGHT_SEAM_BAND: f32 = 162.0;
const TIGHT_HAND_BAND: f32 = 168.0;
/// Height of the strip at the top, px at a scale of 1.
const STRIP: f32 = 46.0;

impl Plugin for ScreenPlugin {
    fn build(&self, app: &mut App) {
        app.insert_resource(Band(self.with_band))
            .init_resource::<watch::Lit>()
            .init_resource::<Aloud>()
            .init_resource::<Tight>()
            .add_observer(|activate: On<Activate>, keys: Query<&Asks>, mut asks: MessageWriter<Ask>| {
                if let Ok(Asks(ask)) = keys.get(activate.entity) {
                    asks.write(ask.clone());
                }
            })
            .add_systems(Startup, parts::letters)
            .add_systems(
                Update,
                (hand::hold, pointer::look_around, watch::drag, seam::drag).in_set(Work::Listen),
            )
            .add_systems(
                Update,
                (opening::set_up.run_if(resource_added::<Site>), opening::tell)
                    .chain()
                    .run_if(not(resource_exists::<Show>))
                    .in_set(Work::Tell),
            )
            .add_systems(Update, size.run_if(resource_exists::<Site>).in_set(Work::Tell))
            .add_systems(
                Update,
                (
                    set_up.run_if(resource_exists_and_changed::<Show>),
                    tasks,
                    key_list,
                    seam::refill,
                    learn::refill,
                    watch::cursor,
                    seam::cursor,
                    hand::turn,
                    hand::tint,
                    hand::note,
                    says::say,
                    says::tell,
                    parts::hover,
                    labels::put,
                    labels::put_letters,
                    tight::fit,
                )
                    .chain()
                    .after(size)
                    .run_if(resource_exists::<Show>)
                    .in_set(Work::Tell),
            );
    }
}

/// Builds the screen, anew for every cell.
fn set_up(
    mut commands: Commands,
    show: Res<Show>,
    band: Res<Band>,
    onto: Res<Onto>,
    old: Query<Entity, With<OfScreen>>,
) {
    for entity in &old {
        commands.entity(entity).despawn();
    }
    let root = commands
        .spawn((
            OfScreen,
            Node {
                width: percent(100),
                height: percent(100),
                flex_direction: FlexDirection::Column,
                justify_content: JustifyContent::SpaceBetween,
                ..default()
            },
            UiTargetCamera(onto.0),
            Pickable::IGNORE,
        ))
        .id();
    labels::set_up(&mut commands, &show, onto.0);
    let strip = commands
        .spawn((
            Node {
                min_height: px(STRIP),
                width: percent(100),
                justify_content: JustifyContent::SpaceBetween,
                align_items: AlignItems::Center,
                padding: UiRect::axes(px(14), px(4)),
                column_gap: px(16),
                ..default()
            },
            BackgroundColor(PAPER),
            Covers,
            RelativeCursor::default(),
            ChildOf(root),
        ))
        .id();
    commands.spawn((
        Node { flex_direction: FlexDirection::Column, flex_shrink: 1.0, ..default() },
        children![(words("", 17.0, INK), Says::Title), (words("", 13.0, INK), Says::Doing)],
        ChildOf(strip),
    ));
    if !band.0 {
        return;
    }
    let turns =
        commands.spawn((Node { column_gap: px(6), flex_shrink: 0.0, ..default() }, ChildOf(strip))).id();
    for task in Task::ALL {
        commands.spawn((key(task.name(), Ask::Do(task)), TurnsTo(task), Fit::ROOMY, ChildOf(turns)));
        commands.spawn((key(task.short_name(), Ask::Do(task)), TurnsTo(task), Fit::TIGHT, ChildOf(turns)));
    }
    commands.spawn((key("keys", Ask::Keys), Fit::ROOMY, ChildOf(turns)));
    hand::stop_note(&mut commands, root);
    for task in Task::ALL {
        let of_task = commands
            .spawn((
                BandOf(task),
                Node {
                    height: px(height(task, Some(&show), false)),
                    width: percent(100),
                    padding: UiRect::axes(px(14), px(8)),
                    column_gap: px(14),
                    row_gap: px(6),
                    overflow: Overflow::clip(),
                    ..default()
                },
                BackgroundColor(PAPER),
                Covers,
                RelativeCursor::default(),
                ChildOf(root),
            ))
            .id();
        match task {
            Task::Watch => watch::fill(&mut commands, of_task, &show),
            Task::Seam => seam::fill(&mut commands, of_task),
            Task::Hand | Task::Learn => {
                commands.entity(of_task).insert(Fit::So(|node, tight| {
                    node.flex_wrap = if tight { FlexWrap::Wrap } else { FlexWrap::NoWrap };
                    node.column_gap = px(if tight { 4 } else { 14 });
                }));
                hand::fill(&mut commands, of_task, &show);
            }
        }
    }
    learn::fill(&mut commands, onto.0);
    fill_key_list(&mut commands, onto.0);
    commands.spawn((
        OfScreen,
        Node {
            position_type: PositionType::Absolute,
            top: px(STRIP + 10.0),
            right: px(14),
            max_width: percent(46),
            padding: UiRect::all(px(10)),
            ..default()
        },
        UiTargetCamera(onto.0),
        BackgroundColor(Color::srgb_u8(213, 94, 0)),
        Notice,
        children![(words("", 14.0, Color::WHITE), Says::Trouble)],
    ));
}

/// The notice of a file with problems.
#[derive(Component)]
struct Notice;

fn fill_key_list(commands: &mut Commands, camera: Entity) {
    let list = commands
        .spawn((
            OfScreen,
            KeyList,
            Node {
                position_type: PositionType::Absolute,
                display: Display::None,
                top: px(STRIP + 10.0),
                right: px(14),
                flex_direction: FlexDirection::Column,
                row_gap: px(4),
                padding: UiRect::all(px(14)),
                ..default()
            },
            UiTargetCamera(camera),
            BackgroundColor(PAPER),
        ))
        .id();
    for line in crate::logic::KEYS {
        commands.spawn((
            Node { column_gap: px(14), ..default() },
            children![
                (Node { width: px(150), ..default() }, children![words(line.keys, 13.0, INK)]),
                words(line.means, 13.0, INK),
            ],
            ChildOf(list),
        ));
    }
}

fn key_list(mut asks: MessageReader<Ask>, mut lists: Query<&mut Node, With<KeyList>>) {
    for _ in asks.read().filter(|ask| **ask == Ask::Keys) {
        for mut node in &mut lists {
            node.display = if node.display == Display::None { Display::Flex } else { Display::None };
        }
    }
}

/// Scales the screen with its height, and tells the camera what the band covers.
fn size(
    cameras: Query<&Camera>,
    onto: Res<Onto>,
    band: Res<Band>,
    task: Res<Task>,
    show: Option<Res<Show>>,
    mut scale: ResMut<UiScale>,
    mut tight: ResMut<Tight>,
    mut room: ResMut<Room>,
) {
    let Some(size) = cameras.get(onto.0).ok().and_then(Camera::logical_viewport_size) else { return };
    let (wanted, is_tight) = tight::scale(size);
    tight.set_if_neq(is_tight);
    if (scale.0 - wanted).abs() > 1e-3 {
        scale.0 = wanted;
    }
    let height = if band.0 { height(*task, show.as_deref(), tight.0) } else { 0.0 };
    // The strip at the top covers as much the other way.
    let covered = f64::from((height - STRIP) * wanted / size.y).clamp(-0.5, 0.6);
    let free = 1.0 - f64::from((height + STRIP) * wanted / size.y);
    let card = if band.0 && *task == Task::Learn { learn::covers(size.x / wanted, tight.0) } else { 0.0 };
    let wanted = Room {
        covered: if band.0 { covered } else { 0.0 },
        free,
        aspect: f64::from(size.x / size.y),
        left: f64::from(card),
    };
    let off = [room.free - wanted.free, room.aspect - wanted.aspect, room.left - wanted.left];
    if off.iter().any(|off| off.abs() > 1e-3) {
        *room = wanted;
    }
}

/// Shows the band of the task.
fn tasks(
    task: Res<Task>,
    trouble: Res<Trouble>,
    show: Res<Show>,
    tight: Res<Tight>,
    mut bands: Query<(&BandOf, &mut Node)>,
    mut turns: Query<(&TurnsTo, &mut BorderColor)>,
    mut notices: Query<&mut Visibility, With<Notice>>,
) {
    for (of, mut node) in &mut bands {
        let wanted = if of.0 == *task { Display::Flex } else { Display::None };
        let height = px(height(of.0, Some(&show), tight.0));
        if (node.display, node.height) != (wanted, height) {
            (node.display, node.height) = (wanted, height);
        }
    }
    for (turn, mut border) in &mut turns {
        border.set_if_neq(BorderColor::all(if turn.0 == *task { INK } else { Color::NONE }));
    }
    for mut notice in &mut notices {
        notice.set_if_neq(if trouble.0.is_empty() { Visibility::Hidden } else { Visibility::Visible });
    }
}
