//! When the window is drawn anew: all the time while anything moves or is held or a lesson is timed, else only when something happens,
//! so that a window that stands still costs nothing.

use std::time::Duration;

use bevy::prelude::*;
use bevy::window::WindowEvent;
use bevy::winit::{EventLoopProxyWrapper, UpdateMode, WinitSettings, WinitUserEvent};

use crate::logic::{Held, Playing, Practice, ReachIn, Source, Task};

/// Frames drawn after something has happened: what is under the mouse, and what came of a key, show a frame or two later.
const AFTER: u32 = 6;

/// Time between two looks at how far a check is that goes on beside: where the processor draws, every look takes time from it.
const WHILE_CHECKING: Duration = Duration::from_secs(1);

/// The most that time goes on in the first frame after a rest: nothing was held meanwhile.
const FIRST_STEP: Duration = Duration::from_millis(20);

/// The most that time goes on in a frame, where the machine is slow.
const LONGEST_STEP: Duration = Duration::from_millis(250);

/// Lets the window rest.
pub(crate) struct RestPlugin;

/// Frames still to be drawn since something happened last.
#[derive(Resource)]
struct Left(u32);

impl Plugin for RestPlugin {
    fn build(&self, app: &mut App) {
        app.insert_resource(Left(AFTER)).add_systems(Startup, wake_when_saved).add_systems(Last, rest);
    }
}

fn rest(
    mut left: ResMut<Left>,
    mut happened: MessageReader<WindowEvent>,
    keys: Res<ButtonInput<KeyCode>>,
    buttons: Res<ButtonInput<MouseButton>>,
    gamepads: Query<(), With<Gamepad>>,
    playing: Res<Playing>,
    task: Res<Task>,
    held: Res<Held>,
    practice: Res<Practice>,
    reach_in: Res<ReachIn>,
    source: Res<Source>,
    mut settings: ResMut<WinitSettings>,
    mut time: ResMut<Time<Virtual>>,
) {
    left.0 = if happened.read().count() > 0 { AFTER } else { left.0.saturating_sub(1) };
    let is_held =
        held.0.is_some() || keys.get_pressed().next().is_some() || buttons.get_pressed().next().is_some();
    // A gamepad does not wake the window.
    let moves = time_counts(*task, &playing, &practice)
        || reach_in.goes_on()
        || is_held
        || left.0 > 0
        || !gamepads.is_empty();
    let mode = if moves {
        UpdateMode::Continuous
    } else if source.far().is_some() {
        UpdateMode::reactive_low_power(WHILE_CHECKING)
    } else if cfg!(feature = "gamepad-device") {
        // Nor does one that is plugged in.
        UpdateMode::reactive_low_power(Duration::from_secs(1))
    } else {
        UpdateMode::reactive_low_power(Duration::MAX)
    };
    settings.focused_mode = mode;
    settings.unfocused_mode = mode;
    time.set_max_delta(if moves { LONGEST_STEP } else { FIRST_STEP });
}

/// Whether time matters though nothing is held: the cycle is played, or a lesson has begun and not ended, in which what stands still
/// is timed too.
fn time_counts(task: Task, playing: &Playing, practice: &Practice) -> bool {
    match task {
        Task::Watch | Task::Seam => playing.going,
        Task::Hand => false,
        Task::Learn => practice.at.is_some() && practice.progress.is_timed(),
    }
}

/// Wakes the window when one of the cell's files is saved.
fn wake_when_saved(source: Res<Source>, window: Res<EventLoopProxyWrapper>) {
    let watched = source.watched.clone();
    let window = (**window).clone();
    std::thread::spawn(move || {
        loop {
            std::thread::sleep(Source::LOOK_EVERY);
            // Until it is read anew. Where the window is gone there is nobody to wake.
            if watched.has_changed() && window.send_event(WinitUserEvent::WakeUp).is_err() {
                return;
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logic::lesson::{Progress, Score};

    #[test]
    fn the_window_rests_in_a_lesson_before_its_first_move_and_after_its_score_but_not_between() {
        let playing = Playing { going: true, ..Playing::default() };
        let at = |progress| Practice { at: Some(0), progress, ..Practice::default() };
        let mut begun = Progress::default();
        begun.elapsed = 0.5;
        let mut ended = begun.clone();
        ended.score = Some(Score::new(&[1.0], 0.5, 60.0, 0));
        assert!(!time_counts(Task::Learn, &playing, &at(Progress::default())));
        assert!(time_counts(Task::Learn, &playing, &at(begun)));
        assert!(!time_counts(Task::Learn, &playing, &at(ended)));
        assert!(!time_counts(Task::Hand, &playing, &Practice::default()));
        assert!(time_counts(Task::Watch, &playing, &Practice::default()));
    }
}
