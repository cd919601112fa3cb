//! The window: opened at once, with the cell as it stands; what is learnt of it comes when it is checked.

use std::sync::{Arc, Mutex, PoisonError};

use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::window::{RequestRedraw, WindowResizeConstraints, WindowResolution};
use bevy::winit::{EventLoopProxyWrapper, WinitUserEvent};
use seamwright_sim::cell::SeamId;

use crate::command::{Refusal, within_cycle};
use crate::draw::DrawPlugin;
use crate::graphics;
use crate::logic::{
    Ask, Learner, LogicPlugin, Practice, Source, Task, Trouble, View, Wake, Work, ZonesShown,
};
use crate::picture::{Size, eye};
use crate::rest::RestPlugin;
use crate::screen::{Aloud, Onto, ScreenPlugin};
use crate::show::Show;
use crate::site::Site;

/// With what a window opens.
pub struct Opening {
    /// How large it is.
    pub size: Size,
    /// The cell as it was read.
    pub site: Site,
    /// Its file, to be loaded anew when it is saved.
    pub source: Source,
    /// From where one looks.
    pub view: View,
    /// What is shown of spaces.
    pub zones: ZonesShown,
    /// What is asked for first.
    pub first: First,
    /// Lessons.
    pub practice: Practice,
    /// Who learns.
    pub learner: Learner,
    /// Whether the screen is told aloud.
    pub aloud: bool,
}

/// What is asked for when the cell has been checked.
#[derive(Resource, Clone, Copy)]
pub struct First {
    /// Instant, s of the cycle.
    pub at: Option<f64>,
    /// Seam.
    pub seam: Option<SeamId>,
    /// Task.
    pub task: Task,
    /// Whether it is looked for what would free seams.
    pub remedies: bool,
}

/// Why the window closed by itself.
#[derive(Resource, Clone, Default)]
struct Refused(Arc<Mutex<Option<String>>>);

/// What a window needs that this machine lacks.
const NO_DISPLAY: &str =
    "no display: neither DISPLAY nor WAYLAND_DISPLAY is set; --picture FILE.png draws without one";

/// Smaller than this words can hardly be read, px.
const LEAST: (f32, f32) = (640.0, 360.0);

/// Opens the window, and stays until it is closed.
///
/// # Errors
/// One sentence where there is no display or no graphics driver, or where what is asked for turns out not to be there.
pub fn open(opening: Opening) -> Result<(), Refusal> {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    if cfg!(target_os = "linux") && !set("DISPLAY") && !set("WAYLAND_DISPLAY") {
        return Err(Refusal(NO_DISPLAY.to_owned()));
    }
    // What is needed to draw comes up meanwhile.
    let wake = Wake::default();
    let source = opening.source.checking(opening.site, &wake);
    let effort = graphics::effort_in_a_window().map_err(Refusal)?;
    let Size(width, height) = opening.size;
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                primary_window: Some(Window {
                    title: title_of(&opening.site),
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
    let window = (**app.world().resource::<EventLoopProxyWrapper>()).clone();
    // Where the window is gone there is nobody to wake.
    wake.by(move || {
        let _ = window.send_event(WinitUserEvent::WakeUp);
    });
    let camera = app.world_mut().spawn(eye()).id();
    let refused = Refused::default();
    app.insert_resource(Onto(camera))
        .insert_resource(opening.site)
        .insert_resource(source)
        .insert_resource(wake)
        .insert_resource(opening.view)
        .insert_resource(opening.zones)
        .insert_resource(opening.first)
        .insert_resource(effort)
        .insert_resource(opening.practice)
        .insert_resource(opening.learner)
        .insert_resource(Aloud(opening.aloud))
        .insert_resource(refused.clone())
        .add_plugins((LogicPlugin, DrawPlugin, ScreenPlugin { with_band: true }, RestPlugin))
        .add_systems(
            Update,
            (
                first.run_if(resource_exists::<Show>).in_set(Work::Listen),
                broke_off.run_if(not(resource_exists::<Show>)).after(Work::Load),
                title.run_if(resource_exists_and_changed::<Site>),
            ),
        );
    app.run();
    let refused = refused.0.lock().unwrap_or_else(PoisonError::into_inner).take();
    refused.map_or(Ok(()), |why| Err(Refusal(why)))
}

impl Refused {
    fn close(&self, why: String, exits: &mut MessageWriter<AppExit>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(why);
        exits.write(AppExit::error());
    }
}

/// What was asked for of what the command line asks for.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
enum Asked {
    #[default]
    Nothing,
    /// A seam or an instant.
    Where,
    /// The task.
    What,
    All,
}

/// Asks for what the command line asked for: first where, then what is done there. What is moved by hand starts where the cell was watched.
fn first(
    show: Res<Show>,
    first: Res<First>,
    view: Res<View>,
    refused: Res<Refused>,
    mut asked: Local<Asked>,
    mut wanted: Local<View>,
    mut asks: MessageWriter<Ask>,
    mut redraws: MessageWriter<RequestRedraw>,
    mut exits: MessageWriter<AppExit>,
) {
    match *asked {
        Asked::Nothing => {
            *asked = Asked::Where;
            *wanted = *view;
            redraws.write(RequestRedraw);
            asks.write_batch(first.seam.map(Ask::Seam));
            match first.at.map(|at| (at, within_cycle(&show, at))) {
                Some((at, Ok(()))) => {
                    asks.write(Ask::GoTo(at));
                }
                Some((_, Err(Refusal(why)))) => refused.close(why, &mut exits),
                None => {}
            }
        }
        Asked::Where => {
            *asked = Asked::What;
            redraws.write(RequestRedraw);
            let at_hand = if first.seam.is_some() { Task::Seam } else { Task::Watch };
            asks.write_batch((first.task != at_hand).then_some(Ask::Do(first.task)));
        }
        Asked::What => {
            *asked = Asked::All;
            // A lesson begins with a view of its own.
            if first.task != Task::Learn || *wanted != View::default() {
                asks.write(Ask::Look(*wanted));
            }
            if first.remedies {
                asks.write(Ask::Remedies);
            }
            // Thirty seconds of looking should show where the cycle goes: it plays from the start.
            if first.at.is_none() && first.seam.is_none() && first.task == Task::Watch {
                asks.write(Ask::PlayOrPause);
            }
        }
        Asked::All => {}
    }
}

/// Closes the window where the first check comes to nothing: there would be nothing to show.
fn broke_off(trouble: Res<Trouble>, refused: Res<Refused>, mut exits: MessageWriter<AppExit>) {
    if !trouble.0.is_empty() {
        refused.close(trouble.0.join("\n"), &mut exits);
    }
}

fn title(site: Res<Site>, mut windows: Query<&mut Window>) {
    for mut window in &mut windows {
        window.title = title_of(&site);
    }
}

fn title_of(site: &Site) -> String {
    format!("{} – Seamwright", site.cell.name)
}
