//! The window.

use std::path::PathBuf;

use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::window::{WindowResizeConstraints, WindowResolution};
use seamwright_sim::cell::SeamId;

use crate::command::Refusal;
use crate::draw::DrawPlugin;
use crate::graphics;
use crate::logic::{Ask, Learner, LogicPlugin, Practice, Remedies, Source, Task, View, ZonesShown};
use crate::picture::{Size, eye};
use crate::rest::RestPlugin;
use crate::screen::{Aloud, Onto, ScreenPlugin};
use crate::show::Show;

/// With what a window opens.
pub struct Opening {
    /// The cell.
    pub show: Show,
    /// Its file, to be loaded anew when it is saved.
    pub file: PathBuf,
    /// From where one looks.
    pub view: View,
    /// What is shown of spaces.
    pub zones: ZonesShown,
    /// Instant, s of the cycle.
    pub at: Option<f64>,
    /// Seam.
    pub seam: Option<SeamId>,
    /// Task.
    pub task: Task,
    /// Lessons.
    pub practice: Practice,
    /// What would free seams, where it was looked for already.
    pub remedies: Remedies,
    /// Who learns.
    pub learner: Learner,
    /// Whether the screen is told aloud.
    pub aloud: bool,
}

/// What a window needs that this machine lacks.
const NO_DISPLAY: &str =
    "no display: neither DISPLAY nor WAYLAND_DISPLAY is set; --picture FILE.png draws without one";

/// Smaller than this words can hardly be read, px.
const LEAST: (f32, f32) = (960.0, 540.0);

/// Opens the window with what `ready` comes to, and stays until it is closed. `ready` is waited for when there is everything to draw with.
///
/// # Errors
/// One sentence where there is no display or no graphics driver; whatever `ready` refuses.
pub fn open(size: Size, ready: impl FnOnce() -> Result<Opening, Refusal>) -> Result<(), Refusal> {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    if cfg!(target_os = "linux") && !set("DISPLAY") && !set("WAYLAND_DISPLAY") {
        return Err(Refusal(NO_DISPLAY.to_owned()));
    }
    let effort = graphics::effort_in_a_window().map_err(Refusal)?;
    let Size(width, height) = size;
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                primary_window: Some(Window {
                    resolution: WindowResolution::new(width, height),
                    resize_constraints: WindowResizeConstraints {
                        min_width: LEAST.0.min(width as f32),
                        min_height: LEAST.1.min(height as f32),
                        ..default()
                    },
                    ..default()
                }),
                ..default()
            })
            // Else the picture would lack its bodies while their shaders are made.
            .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
            .set(LogPlugin { filter: "error".to_owned(), ..default() }),
    );
    let opening = ready()?;
    let camera = app.world_mut().spawn(eye()).id();
    app.insert_resource(Onto(camera))
        .insert_resource(opening.show)
        .insert_resource(opening.view)
        .insert_resource(opening.zones)
        .insert_resource(effort)
        .insert_resource(opening.practice)
        .insert_resource(opening.remedies)
        .insert_resource(opening.learner)
        .insert_resource(Aloud(opening.aloud))
        .insert_resource(Source::new(opening.file))
        .add_plugins((LogicPlugin, DrawPlugin, ScreenPlugin { with_band: true }, RestPlugin));
    let first = move |mut asks: MessageWriter<Ask>| {
        if let Some(seam) = opening.seam {
            asks.write(Ask::Seam(seam));
        }
        if opening.task != Task::Watch && opening.seam.is_none() {
            asks.write(Ask::Do(opening.task));
        }
        asks.write(Ask::Look(opening.view));
        match opening.at {
            Some(at) => {
                asks.write(Ask::GoTo(at));
            }
            // Thirty seconds of looking should show where the cycle goes: it plays from the start.
            None if opening.seam.is_none() && opening.task == Task::Watch => {
                asks.write(Ask::PlayOrPause);
            }
            None => {}
        }
    };
    app.add_systems(PostStartup, first).add_systems(Update, title.run_if(resource_changed::<Show>));
    app.run();
    Ok(())
}

fn title(show: Res<Show>, mut windows: Query<&mut Window>) {
    for mut window in &mut windows {
        window.title = format!("{} – Seamwright", show.cell.name);
    }
}
