//! A gamepad from its own events on, as its device sends them: plugged in, sticks, buttons, pulled out.

use bevy::input::gamepad::{
    GamepadConnection, GamepadConnectionEvent, RawGamepadAxisChangedEvent, RawGamepadButtonChangedEvent,
    RawGamepadEvent,
};
use bevy::prelude::*;
use seamwright_kinematics::units::{deg, to_deg};
use seamwright_viewer::logic::lesson::read_lessons;
use seamwright_viewer::logic::{Ask, Hand, Held, Learner, Manner, Now, Practice, Task, View};

use super::{app, ask, axes, bracket, scenes};

/// Plugged in.
fn plug(app: &mut App) -> Entity {
    let pad = app.world_mut().spawn_empty().id();
    connect(app, pad, true);
    pad
}

fn connect(app: &mut App, pad: Entity, is_there: bool) {
    let connection = if is_there {
        GamepadConnection::Connected { name: "pad".to_owned(), vendor_id: None, product_id: None }
    } else {
        GamepadConnection::Disconnected
    };
    let event = GamepadConnectionEvent::new(pad, connection);
    // The device's backend tells it both ways.
    app.world_mut().write_message(event.clone());
    app.world_mut().write_message(RawGamepadEvent::Connection(event));
    app.update();
}

fn push(app: &mut App, pad: Entity, stick: GamepadAxis, by: f32) {
    let event = RawGamepadAxisChangedEvent::new(pad, stick, by);
    app.world_mut().write_message(RawGamepadEvent::Axis(event));
    app.update();
}

fn press(app: &mut App, pad: Entity, button: GamepadButton) {
    for pressed in [1.0, 0.0] {
        let event = RawGamepadButtonChangedEvent::new(pad, button, pressed);
        app.world_mut().write_message(RawGamepadEvent::Button(event));
        app.update();
    }
}

#[test]
fn the_stick_turns_the_chosen_axis_as_far_as_it_is_pushed_and_letting_go_stops() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::Do(Task::Hand));
    let pad = plug(&mut app);
    let before = axes(&app)[0];
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    let full = axes(&app)[0] - before;
    assert!(full > 0.0);
    // The stick stays where it is: nothing more is sent, and the arm goes on.
    app.update();
    assert!((axes(&app)[0] - before - 2.0 * full).abs() < 1e-9);
    let before = axes(&app)[0];
    push(&mut app, pad, GamepadAxis::LeftStickY, -0.5);
    // Bevy takes 0.05 to 1 of a stick as 0 to 1.
    let half = axes(&app)[0] - before;
    assert!((half + full * 0.45 / 0.95).abs() < full * 0.05, "{half} {full}");
    push(&mut app, pad, GamepadAxis::LeftStickY, 0.0);
    let rest = axes(&app);
    app.update();
    assert_eq!(axes(&app), rest);
}

#[test]
fn pulled_out_in_the_middle_of_a_jog_it_stops_the_arm_and_plugged_in_again_it_waits_for_the_stick() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::Do(Task::Hand));
    let pad = plug(&mut app);
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    assert!(app.world().resource::<Held>().0.is_some());
    connect(&mut app, pad, false);
    let rest = axes(&app);
    for _ in 0..5 {
        app.update();
    }
    assert_eq!(axes(&app), rest);
    assert_eq!(app.world().resource::<Held>().0, None);
    connect(&mut app, pad, true);
    app.update();
    assert_eq!(axes(&app), rest);
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    assert!(axes(&app)[0] > rest[0]);
}

#[test]
fn buttons_turn_to_tasks_manners_and_views_and_the_sticks_move_the_tool() {
    let mut app = app(&bracket());
    let pad = plug(&mut app);
    press(&mut app, pad, GamepadButton::Start);
    press(&mut app, pad, GamepadButton::Start);
    assert_eq!(*app.world().resource::<Task>(), Task::Hand);
    let view = *app.world().resource::<View>();
    press(&mut app, pad, GamepadButton::North);
    assert_ne!(*app.world().resource::<View>(), view);
    let speed = app.world().resource::<Hand>().speed;
    press(&mut app, pad, GamepadButton::DPadUp);
    assert_eq!(app.world().resource::<Hand>().speed, speed + 1);
    press(&mut app, pad, GamepadButton::East);
    assert_eq!(app.world().resource::<Hand>().manner, Manner::ALL[1]);
    let start = app.world().resource::<Now>().world_from_tool;
    push(&mut app, pad, GamepadAxis::RightStickY, 1.0);
    let there = app.world().resource::<Now>().world_from_tool;
    let way = there.translation.vector - start.translation.vector;
    // Up by 125 mm/s, the fourth step of speed, for 50 ms.
    assert!((way - nalgebra::Vector3::z() * 0.00625).norm() < 1e-6, "{way}");
    assert!(there.rotation.angle_to(&start.rotation) < 1e-9);
}

#[test]
fn the_first_lesson_is_finished_with_it_and_its_result_is_written() {
    let show = bracket();
    let folder = tempfile::tempdir().unwrap();
    let results = folder.path().join("results.csv");
    let mut app = app(&show);
    app.insert_resource(Practice {
        lessons: read_lessons(&scenes().join("lessons"), show.cell).unwrap(),
        ..Practice::default()
    });
    app.insert_resource(Learner {
        name: Some("A. Learner".to_owned()),
        results: Some(results.clone()),
        trouble: None,
    });
    let pad = plug(&mut app);
    // From the cell at work three tasks on.
    for _ in 0..3 {
        press(&mut app, pad, GamepadButton::Start);
    }
    assert_eq!(*app.world().resource::<Task>(), Task::Learn);
    assert_eq!(app.world().resource::<Hand>().manner, Manner::Axes);
    for (button, at) in [(GamepadButton::LeftTrigger, 11), (GamepadButton::RightTrigger, 0)] {
        press(&mut app, pad, button);
        assert_eq!(app.world().resource::<Practice>().at, Some(at));
    }
    // Which axis is chosen by the pad's own buttons: 1, 3, 4, 5.
    let goals = [(0, -25.0), (2, -15.0), (1, 30.0), (1, 20.0)];
    for (goal, (presses, by)) in goals.into_iter().enumerate() {
        for _ in 0..presses {
            press(&mut app, pad, GamepadButton::DPadRight);
        }
        let axis = [0, 2, 3, 4][goal];
        let start = axes(&app)[axis];
        for _ in 0..2000 {
            let left = deg(by) - (axes(&app)[axis] - start);
            if left.abs() < deg(0.5) {
                break;
            }
            let by = (left.signum() * (to_deg(left.abs()) / 4.0).clamp(0.3, 1.0)) as f32;
            push(&mut app, pad, GamepadAxis::LeftStickY, by);
        }
        push(&mut app, pad, GamepadAxis::LeftStickY, 0.0);
        app.update();
        assert_eq!(app.world().resource::<Practice>().progress.goal, goal + 1);
    }
    let score = app.world().resource::<Practice>().progress.score.clone().unwrap();
    assert!(score.total() > 60.0 && score.stops == 0, "{score:?}");
    let written = std::fs::read_to_string(&results).unwrap();
    let lines: Vec<&str> = written.lines().collect();
    assert_eq!(lines[0], "learner,lesson,score,reached,exact,quick,careful,time_s,stops");
    assert!(lines[1].starts_with("A. Learner,01-which-axis-is-this.toml,"), "{}", lines[1]);
    assert_eq!(lines.len(), 2);
}

#[test]
fn with_a_trigger_held_the_sticks_turn_the_tool_and_the_cross_goes_on_to_external_axes() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::Do(Task::Hand));
    let pad = plug(&mut app);
    // After the six axes of the arm the table, and then axis 1 again.
    for _ in 0..6 {
        press(&mut app, pad, GamepadButton::DPadRight);
    }
    let before = app.world().resource::<Hand>().stance.clone();
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    push(&mut app, pad, GamepadAxis::LeftStickY, 0.0);
    let turned = app.world().resource::<Hand>().stance.clone();
    assert!(turned.external[0] > before.external[0] && turned.axes == before.axes);
    press(&mut app, pad, GamepadButton::DPadRight);
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    push(&mut app, pad, GamepadAxis::LeftStickY, 0.0);
    assert!(axes(&app)[0] > before.axes[0]);
    press(&mut app, pad, GamepadButton::East);
    let held = |app: &mut App, value: f32| {
        let event = RawGamepadButtonChangedEvent::new(pad, GamepadButton::LeftTrigger2, value);
        app.world_mut().write_message(RawGamepadEvent::Button(event));
        app.update();
    };
    held(&mut app, 1.0);
    let start = app.world().resource::<Now>().world_from_tool;
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    let there = app.world().resource::<Now>().world_from_tool;
    let turn = (there.rotation * start.rotation.inverse()).scaled_axis();
    // About the floor's y, the wire end where it is.
    assert!(turn.y > deg(0.1) && turn.x.abs() < 1e-9 && turn.z.abs() < 1e-9, "{turn}");
    assert!((there.translation.vector - start.translation.vector).norm() < 1e-6);
    push(&mut app, pad, GamepadAxis::LeftStickY, 0.0);
    held(&mut app, 0.0);
    push(&mut app, pad, GamepadAxis::LeftStickY, 1.0);
    let along = app.world().resource::<Now>().world_from_tool;
    assert!(along.translation.vector.x > there.translation.vector.x + 1e-4);
    assert!(along.rotation.angle_to(&there.rotation) < 1e-9);
}
