//! The viewer without a picture, driven by stated time steps.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod clamps;
mod gamepad;
mod lessons;
mod looks;
mod opening;
mod reach_in;
mod reload;
mod shown;

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use bevy::input::ButtonState;
use bevy::input::InputPlugin;
use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::prelude::*;
use bevy::time::TimeUpdateStrategy;
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::units::{deg, to_deg};
use seamwright_kinematics::{AxisValues, Drive};
use seamwright_sim::by_hand::{Jog, JogFrame, Stop};
use seamwright_sim::cell::SeamId;
use seamwright_sim::schedule::Stance;
use seamwright_viewer::logic::{Ask, Hand, LogicPlugin, Now, PACES, Playing, Task, View};
use seamwright_viewer::place::{bevy_from_world, own, point, world_point};
use seamwright_viewer::show::Show;

/// Every update is one step of 50 ms.
const STEP: Duration = Duration::from_millis(50);

fn scenes() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenes")
}

/// The starter cell, checked once.
fn bracket() -> Show {
    static SHOW: OnceLock<Show> = OnceLock::new();
    SHOW.get_or_init(|| Show::load(&scenes().join("gate-bracket/cell.toml")).unwrap()).clone()
}

/// Nothing is known of any cell yet.
fn empty() -> App {
    let mut app = App::new();
    app.add_plugins((MinimalPlugins, InputPlugin, LogicPlugin))
        .insert_resource(TimeUpdateStrategy::ManualDuration(STEP));
    app
}

fn app(show: &Show) -> App {
    let mut app = empty();
    app.insert_resource(show.clone());
    // The first update has no duration.
    app.update();
    app
}

fn ask(app: &mut App, ask: Ask) {
    app.world_mut().write_message(ask);
    app.update();
}

fn key(app: &mut App, key_code: KeyCode, state: ButtonState) {
    app.world_mut().write_message(KeyboardInput {
        key_code,
        logical_key: Key::Character("".into()),
        state,
        text: None,
        repeat: false,
        window: Entity::PLACEHOLDER,
    });
}

fn axes(app: &App) -> AxisValues {
    app.world().resource::<Now>().stance.axes
}

fn time(app: &App) -> f64 {
    app.world().resource::<Playing>().time
}

#[test]
fn playing_goes_on_by_the_step_times_the_pace_and_pauses() {
    let mut app = app(&bracket());
    assert_eq!(time(&app), 0.0);
    ask(&mut app, Ask::PlayOrPause);
    for _ in 0..9 {
        app.update();
    }
    assert!((time(&app) - 0.5).abs() < 1e-9, "{}", time(&app));
    ask(&mut app, Ask::Pace(1));
    assert!((time(&app) - 0.5 - 0.05 * PACES[5]).abs() < 1e-9);
    ask(&mut app, Ask::PlayOrPause);
    let paused = time(&app);
    app.update();
    assert_eq!(time(&app), paused);
}

#[test]
fn after_its_end_the_cycle_begins_again() {
    let show = bracket();
    let mut app = app(&show);
    ask(&mut app, Ask::GoTo(show.day.period - 0.06));
    ask(&mut app, Ask::PlayOrPause);
    app.update();
    assert!((time(&app) - 0.04).abs() < 1e-9, "{}", time(&app));
}

#[test]
fn steps_go_from_event_to_event_and_back() {
    let show = bracket();
    let mut app = app(&show);
    let starts: Vec<f64> = show.day.spans.iter().map(|span| span.start).collect();
    for start in &starts[1..6] {
        ask(&mut app, Ask::Step(1));
        assert_eq!(time(&app), *start);
    }
    ask(&mut app, Ask::Step(-1));
    assert_eq!(time(&app), starts[4]);
}

#[test]
fn spans_fill_the_cycle_without_gaps() {
    let show = bracket();
    let spans = &show.day.spans;
    assert_eq!(spans[0].start, 0.0);
    for pair in spans.windows(2) {
        assert!((pair[0].end - pair[1].start).abs() < 1e-5, "{pair:?}");
    }
    assert!((spans[spans.len() - 1].end - show.day.period).abs() < 1e-5);
}

#[test]
fn dragged_to_any_row_of_the_path_the_wire_end_is_where_the_path_says() {
    let show = bracket();
    let mut app = app(&show);
    for row in show.checked.path.iter().step_by(97) {
        ask(&mut app, Ask::GoTo(show.time_of(row)));
        let now = app.world().resource::<Now>();
        assert!((now.stance.axes - row.axes).amax() < 1e-5, "at {} s", row.t);
        // The row tells of the wire end at the planned CTWD, the tool frame stands at the nominal one: 15 mm both here.
        let far =
            (now.world_from_tool.translation.vector - row.world_from_wire_end.translation.vector).norm();
        assert!(far < 1e-5, "{far} m at {} s", row.t);
    }
}

#[test]
fn the_wire_end_appears_where_it_should_in_bevys_world() {
    // From `seamwright arm scenes/arms/reach-1400.toml --axes-deg 0,-40,40,0,60,0 --torch scenes/torches/bent-neck.toml`, whose
    // forward kinematics is held against other libraries: tool at (537.616, 0, 579.599) mm in the base frame, foot at 450 mm.
    let show = bracket();
    let stance = Stance {
        axes: AxisValues::from([0.0, -40.0, 40.0, 0.0, 60.0, 0.0].map(deg)),
        external: show.cell.frames.rest(),
    };
    let transform = bevy_from_world(&show.world_from_tool(&stance));
    let wanted = Vec3::new(0.537_616, 1.029_599, 0.0);
    assert!(transform.translation.distance(wanted) < 1e-5, "{transform:?}");
}

#[test]
fn a_body_turned_any_way_keeps_its_corners_in_place() {
    let pose = seamwright_kinematics::Pose::new(Vector3::new(0.3, -1.2, 0.8), Vector3::new(0.4, -1.1, 2.0));
    let transform = bevy_from_world(&pose);
    for corner in [Point3::new(0.1, 0.0, 0.0), Point3::new(0.0, 0.2, -0.3), Point3::new(-0.5, 0.4, 0.9)] {
        let in_world = pose * corner;
        assert!(transform.transform_point(own(&corner)).distance(point(&in_world)) < 1e-6);
        assert!((world_point(point(&in_world)) - in_world).norm() < 1e-6);
    }
    // Up is up, and what is on the left of one who looks along x stays on the left: right-handed.
    assert_eq!(point(&Point3::new(0.0, 0.0, 1.0)), Vec3::Y);
    assert_eq!(point(&Point3::new(1.0, 0.0, 0.0)).cross(point(&Point3::new(0.0, 1.0, 0.0))), Vec3::Y);
}

#[test]
fn a_held_key_turns_its_axis_to_the_limit_which_is_named_and_letting_go_stops() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::Do(Task::Hand));
    for _ in 0..4 {
        ask(&mut app, Ask::Speed(1));
    }
    let before = axes(&app);
    key(&mut app, KeyCode::Digit5, ButtonState::Pressed);
    app.update();
    let moved = axes(&app);
    assert!(moved[4] > before[4] + deg(0.2));
    assert!((0..6).filter(|i| *i != 4).all(|i| moved[i] == before[i]));
    key(&mut app, KeyCode::Digit5, ButtonState::Released);
    app.update();
    let let_go = axes(&app);
    app.update();
    assert_eq!(axes(&app), let_go);
    key(&mut app, KeyCode::Digit5, ButtonState::Pressed);
    for _ in 0..200 {
        app.update();
    }
    // 128 degrees in the arm's file.
    assert_eq!(app.world().resource::<Hand>().stopped, Some(Stop::Limit(Drive::Axis(4), deg(128.0))));
    assert!((to_deg(axes(&app)[4]) - 128.0).abs() < 0.01, "{}", to_deg(axes(&app)[4]));
}

#[test]
fn shift_turns_back_and_tool_keys_move_straight() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::Do(Task::Hand));
    let before = axes(&app);
    key(&mut app, KeyCode::ShiftLeft, ButtonState::Pressed);
    key(&mut app, KeyCode::Digit1, ButtonState::Pressed);
    app.update();
    assert!(axes(&app)[0] < before[0]);
    key(&mut app, KeyCode::ShiftLeft, ButtonState::Released);
    key(&mut app, KeyCode::Digit1, ButtonState::Released);
    app.update();
    let start = app.world().resource::<Now>().world_from_tool;
    key(&mut app, KeyCode::KeyZ, ButtonState::Pressed);
    app.update();
    let way = app.world().resource::<Now>().world_from_tool.translation.vector - start.translation.vector;
    // 50 mm/s, the third step of speed, for 50 ms.
    assert!((way - Vector3::z() * 0.0025).norm() < 1e-9, "{way}");
}

#[test]
fn what_is_moved_by_hand_starts_where_the_cell_was_watched() {
    let show = bracket();
    let mut app = app(&show);
    ask(&mut app, Ask::GoTo(show.day.period * 0.37));
    let watched = axes(&app);
    ask(&mut app, Ask::Do(Task::Hand));
    assert_eq!(axes(&app), watched);
}

#[test]
fn stepping_through_the_other_ways_keeps_the_wire_end_and_comes_round() {
    let show = bracket();
    let mut app = app(&show);
    // At home the hose leaves no other way; on this seam axis 4 is turned to one side.
    ask(&mut app, Ask::GoTo(show.start_of(SeamId(1)).unwrap()));
    ask(&mut app, Ask::Do(Task::Hand));
    ask(&mut app, Ask::OtherWays);
    let ways = app.world().resource::<Hand>().others.len();
    assert!(ways > 0);
    let (start, tool) = (axes(&app), app.world().resource::<Now>().world_from_tool);
    for step in 0..=ways {
        ask(&mut app, Ask::NextWay);
        let there = app.world().resource::<Now>().world_from_tool;
        assert!((there.translation.vector - tool.translation.vector).norm() < 1e-8);
        assert_eq!((axes(&app) - start).amax() < 1e-6, step == ways, "after {step} steps");
    }
}

/// Updates until it is so; the check runs beside on a thread of its own.
fn wait(app: &mut App, so: impl Fn(&App) -> bool) {
    let begun = Instant::now();
    while !so(app) {
        assert!(begun.elapsed() < Duration::from_secs(300), "it never came to be so");
        app.update();
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn looking_at_a_seam_goes_to_its_start_and_the_next_blocked_one_is_found() {
    let show = bracket();
    let mut app = app(&show);
    ask(&mut app, Ask::Seam(SeamId(3)));
    assert_eq!(time(&app), show.start_of(SeamId(3)).unwrap());
    assert_eq!(*app.world().resource::<Task>(), Task::Seam);
    ask(&mut app, Ask::NextSeam(1));
    assert_eq!(app.world().resource::<Now>().chosen_or_welded, Some(SeamId(4)));
}

#[test]
fn after_a_seam_one_looks_again_from_where_one_looked_before() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::Look(View::Above));
    ask(&mut app, Ask::Seam(SeamId(2)));
    ask(&mut app, Ask::NextSeam(1));
    assert_eq!(*app.world().resource::<View>(), View::Seam);
    ask(&mut app, Ask::Do(Task::Watch));
    assert_eq!(*app.world().resource::<View>(), View::Above);
    // A view that was chosen at the seam stays.
    ask(&mut app, Ask::Seam(SeamId(2)));
    ask(&mut app, Ask::Look(View::Side));
    ask(&mut app, Ask::Do(Task::Hand));
    assert_eq!(*app.world().resource::<View>(), View::Side);
}

#[test]
fn an_arm_taken_over_in_the_middle_of_a_weld_comes_away_and_then_the_wire_may_touch_nothing() {
    let show = bracket();
    let mut app = app(&show);
    let weld = show.welds().next().unwrap();
    ask(&mut app, Ask::GoTo((weld.start + weld.end) / 2.0));
    ask(&mut app, Ask::Do(Task::Hand));
    assert_eq!(app.world().resource::<Hand>().seam, Some(weld.seam));
    let away = Jog::Along(JogFrame::Tool, -Vector3::z());
    for _ in 0..10 {
        ask(&mut app, Ask::Hold(away));
        assert_eq!(app.world().resource::<Hand>().stopped, None);
    }
    // 50 mm/s for half a second.
    assert_eq!(app.world().resource::<Hand>().seam, None);
    for _ in 0..20 {
        ask(&mut app, Ask::Hold(Jog::Along(JogFrame::Tool, Vector3::z())));
    }
    let stopped = app.world().resource::<Hand>().stopped.clone();
    assert!(matches!(&stopped, Some(Stop::Contact(one, _)) if one == "wire"), "{stopped:?}");
}
