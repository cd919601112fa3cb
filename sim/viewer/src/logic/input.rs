//! Keys and gamepad become asks.
//!
//! Hold to run: a jog is asked anew in every frame in which its key is down. Sticks run as far as they are pushed.

use bevy::prelude::*;
use nalgebra::Vector3;
use seamwright_sim::by_hand::{Jog, JogFrame};

use super::{Ask, Hand, Manner, Task};

/// What a key does, for the list on the screen.
pub struct KeyMeans {
    /// The keys.
    pub keys: &'static str,
    /// What they do.
    pub means: &'static str,
}

/// Every key, for the list on the screen and the README.
pub const KEYS: [KeyMeans; 23] = [
    KeyMeans { keys: "F1 F2 F3 F4", means: "watch, look at a seam, move by hand, learn" },
    KeyMeans { keys: "space", means: "play or pause" },
    KeyMeans { keys: "left, right", means: "event, seam or lesson before, next one" },
    KeyMeans { keys: "up, down", means: "play faster, slower" },
    KeyMeans { keys: "N", means: "next seam that does not hold" },
    KeyMeans { keys: "R", means: "look for what would free the seams that do not hold" },
    KeyMeans { keys: "T", means: "the tightest instant" },
    KeyMeans { keys: "G", means: "somebody reaches in at this instant: how everything stops" },
    KeyMeans { keys: "V", means: "next view; drag to turn it, right drag to shift it, wheel to come nearer" },
    KeyMeans { keys: "Q", means: "zones, with the swept space, or neither" },
    KeyMeans { keys: "1 to 6, with shift", means: "by hand: axis 1 to 6 forward, back" },
    KeyMeans { keys: "X Y Z, with shift", means: "by hand: tool along x, y, z; with alt about them" },
    KeyMeans { keys: "M", means: "by hand: next manner of moving" },
    KeyMeans { keys: "plus, minus", means: "by hand: faster, slower" },
    KeyMeans { keys: "W, E", means: "by hand: show the other ways of holding this pose, take the next" },
    KeyMeans { keys: "enter, B, U", means: "learn: done, mark this place, take the last mark back" },
    KeyMeans { keys: "H", means: "this list" },
    KeyMeans {
        keys: "gamepad: start",
        means: "next task; upper button next view, shoulder buttons before, next",
    },
    KeyMeans { keys: "lower, left button", means: "play, next blocked seam; by hand: done, mark this place" },
    KeyMeans { keys: "right button", means: "by hand: next manner of moving" },
    KeyMeans { keys: "cross", means: "up, down faster, slower; left, right event, or by hand which axis" },
    KeyMeans { keys: "left stick", means: "by hand: the tinted axis, or tool along x and y" },
    KeyMeans {
        keys: "right stick",
        means: "by hand: tool along z, about z; with a lower trigger both turn it",
    },
];

/// The axis (0-based, external axes after the six of the arm) that the left stick of a gamepad turns.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PadAxis(pub usize);

/// Sticks nearer to the middle than this are at rest.
const AT_REST: f64 = 0.15;

const AXIS_KEYS: [KeyCode; 6] =
    [KeyCode::Digit1, KeyCode::Digit2, KeyCode::Digit3, KeyCode::Digit4, KeyCode::Digit5, KeyCode::Digit6];

/// Listens to keyboard and gamepad.
pub(super) fn listen(
    keys: Option<Res<ButtonInput<KeyCode>>>,
    gamepads: Query<&Gamepad>,
    task: Res<Task>,
    hand: Option<Res<Hand>>,
    mut axis: ResMut<PadAxis>,
    mut asks: MessageWriter<Ask>,
) {
    let manner = hand.as_ref().map_or(Manner::Axes, |hand| hand.manner);
    let axes = 6 + hand.as_ref().map_or(0, |hand| hand.stance.external.len());
    // Of another cell there may be fewer.
    axis.0 = axis.0.min(axes - 1);
    if let Some(keys) = keys {
        keyboard(&keys, *task, manner, &mut asks);
    }
    for gamepad in &gamepads {
        listen_to_gamepad(gamepad, *task, manner, axes, &mut axis, &mut asks);
    }
}

fn keyboard(keys: &ButtonInput<KeyCode>, task: Task, manner: Manner, asks: &mut MessageWriter<Ask>) {
    let back = keys.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]);
    let about = keys.any_pressed([KeyCode::AltLeft, KeyCode::AltRight]);
    let sense = if back { -1.0 } else { 1.0 };
    let once = [
        (KeyCode::F1, Ask::Do(Task::Watch)),
        (KeyCode::F2, Ask::Do(Task::Seam)),
        (KeyCode::F3, Ask::Do(Task::Hand)),
        (KeyCode::F4, Ask::Do(Task::Learn)),
        (KeyCode::Space, Ask::PlayOrPause),
        (KeyCode::ArrowUp, Ask::Pace(1)),
        (KeyCode::ArrowDown, Ask::Pace(-1)),
        (KeyCode::KeyN, Ask::NextBlocked),
        (KeyCode::KeyR, Ask::Remedies),
        (KeyCode::KeyT, Ask::GoToTightest),
        (KeyCode::KeyG, Ask::ReachIn),
        (KeyCode::KeyV, Ask::NextView),
        (KeyCode::KeyM, Ask::Manner(next_manner(manner))),
        (KeyCode::Equal, Ask::Speed(1)),
        (KeyCode::NumpadAdd, Ask::Speed(1)),
        (KeyCode::Minus, Ask::Speed(-1)),
        (KeyCode::NumpadSubtract, Ask::Speed(-1)),
        (KeyCode::KeyW, Ask::OtherWays),
        (KeyCode::KeyE, Ask::NextWay),
        (KeyCode::Enter, Ask::Done),
        (KeyCode::KeyB, Ask::Mark),
        (KeyCode::KeyU, Ask::TakeBack),
        (KeyCode::KeyQ, Ask::Zones),
        (KeyCode::KeyH, Ask::Keys),
    ];
    for (key, ask) in once {
        if keys.just_pressed(key) {
            asks.write(ask);
        }
    }
    for (key, by) in [(KeyCode::ArrowRight, 1), (KeyCode::ArrowLeft, -1)] {
        if keys.just_pressed(key) {
            asks.write_batch(next(task, by));
        }
    }
    if let Some(axis) = AXIS_KEYS.iter().position(|key| keys.pressed(*key)) {
        asks.write(Ask::Hold(Jog::Axis(axis, sense)));
    }
    let directions =
        [(KeyCode::KeyX, Vector3::x()), (KeyCode::KeyY, Vector3::y()), (KeyCode::KeyZ, Vector3::z())];
    let direction: Vector3<f64> =
        directions.iter().filter(|(key, _)| keys.pressed(*key)).map(|(_, direction)| *direction).sum();
    if direction != Vector3::zeros() {
        let frame = frame_of(manner);
        let direction = direction * sense;
        asks.write(Ask::Hold(if about {
            Jog::About(frame, direction)
        } else {
            Jog::Along(frame, direction)
        }));
    }
}

/// Left stick: the chosen axis, or the tool along x and y; right stick: along z and about z. With a lower trigger held both turn it.
fn listen_to_gamepad(
    gamepad: &Gamepad,
    task: Task,
    manner: Manner,
    axes: usize,
    axis: &mut PadAxis,
    asks: &mut MessageWriter<Ask>,
) {
    let by_hand = matches!(task, Task::Hand | Task::Learn);
    let next_task =
        Task::ALL[(Task::ALL.iter().position(|one| *one == task).unwrap_or(0) + 1) % Task::ALL.len()];
    let once = [
        (GamepadButton::Start, Ask::Do(next_task)),
        (GamepadButton::South, if by_hand { Ask::Done } else { Ask::PlayOrPause }),
        (GamepadButton::West, if by_hand { Ask::Mark } else { Ask::NextBlocked }),
        (GamepadButton::North, Ask::NextView),
        (GamepadButton::East, Ask::Manner(next_manner(manner))),
        (GamepadButton::DPadUp, if by_hand { Ask::Speed(1) } else { Ask::Pace(1) }),
        (GamepadButton::DPadDown, if by_hand { Ask::Speed(-1) } else { Ask::Pace(-1) }),
    ];
    for (button, ask) in once {
        if gamepad.just_pressed(button) {
            asks.write(ask);
        }
    }
    for (button, by) in [(GamepadButton::RightTrigger, 1), (GamepadButton::LeftTrigger, -1)] {
        if gamepad.just_pressed(button) {
            asks.write_batch(next(task, by));
        }
    }
    for (button, by) in [(GamepadButton::DPadRight, 1), (GamepadButton::DPadLeft, -1)] {
        if gamepad.just_pressed(button) {
            if by_hand {
                axis.0 = (axis.0 as i64 + i64::from(by)).rem_euclid(axes as i64) as usize;
            } else {
                asks.write(Ask::Step(by));
            }
        }
    }
    if !by_hand {
        return;
    }
    let pushed = |axis: GamepadAxis| {
        let value = f64::from(gamepad.get(axis).unwrap_or_default());
        if value.abs() > AT_REST { value } else { 0.0 }
    };
    let (left_x, left_y) = (pushed(GamepadAxis::LeftStickX), pushed(GamepadAxis::LeftStickY));
    let (right_x, right_y) = (pushed(GamepadAxis::RightStickX), pushed(GamepadAxis::RightStickY));
    let along = Vector3::new(left_y, -left_x, right_y);
    let about = Vector3::new(left_x, left_y, right_x);
    let turns = gamepad.any_pressed([GamepadButton::LeftTrigger2, GamepadButton::RightTrigger2]);
    match manner {
        Manner::Axes if left_y != 0.0 && axis.0 < 6 => {
            asks.write(Ask::Hold(Jog::Axis(axis.0, left_y)));
        }
        Manner::Axes if left_y != 0.0 => {
            asks.write(Ask::Hold(Jog::External(axis.0 - 6, left_y)));
        }
        Manner::Tool(frame) if turns && about != Vector3::zeros() => {
            asks.write(Ask::Hold(Jog::About(frame, about)));
        }
        Manner::Tool(frame) if right_x != 0.0 => {
            asks.write(Ask::Hold(Jog::About(frame, Vector3::z() * right_x)));
        }
        Manner::Tool(frame) if !turns && along != Vector3::zeros() => {
            asks.write(Ask::Hold(Jog::Along(frame, along)));
        }
        _ => {}
    }
}

/// The frame of a manner; tool keys work in the world while single axes are moved.
fn frame_of(manner: Manner) -> JogFrame {
    match manner {
        Manner::Axes => JogFrame::World,
        Manner::Tool(frame) => frame,
    }
}

/// The next of what a task goes through, or the one before.
fn next(task: Task, by: i32) -> Option<Ask> {
    match task {
        Task::Watch => Some(Ask::Step(by)),
        Task::Seam => Some(Ask::NextSeam(by)),
        Task::Hand => None,
        Task::Learn => Some(Ask::NextLesson(by)),
    }
}

fn next_manner(manner: Manner) -> Manner {
    Manner::ALL[(Manner::ALL.iter().position(|one| *one == manner).unwrap_or(0) + 1) % Manner::ALL.len()]
}
