//! Pictures without a window, drawn off-screen by stated time steps: the same cell gives the same picture on one driver.

use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use bevy::app::SubApps;
use bevy::camera::RenderTarget;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::render_resource::{PollType, TextureFormat, TextureUsages};
use bevy::render::renderer::RenderDevice;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::time::TimeUpdateStrategy;
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use seamwright_sim::cell::SeamId;

use crate::draw::{DrawPlugin, Paint};
use crate::graphics::{self, Effort};
use crate::logic::{Ask, LogicPlugin, Practice, Remedies, Task, View, ZonesShown};
use crate::screen::{Onto, ScreenPlugin};
use crate::show::Show;

/// Width and height of a picture, px.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size(pub u32, pub u32);

impl FromStr for Size {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let sides = text
            .split_once('x')
            .and_then(|(width, height)| Some((width.parse().ok()?, height.parse().ok()?)));
        match sides {
            Some((width, height)) if (64..=7680).contains(&width) && (64..=4320).contains(&height) => {
                Ok(Self(width, height))
            }
            _ => Err("write it as 1280x720, from 64x64 to 7680x4320".to_owned()),
        }
    }
}

/// What to draw.
pub struct Pictures {
    /// The cell.
    pub show: Show,
    /// How large.
    pub size: Size,
    /// From where.
    pub view: View,
    /// At which instant, s of the cycle.
    pub at: Option<f64>,
    /// At which seam.
    pub seam: Option<SeamId>,
    /// What is shown of spaces.
    pub zones: ZonesShown,
    /// How much is drawn.
    pub effort: Effort,
    /// With the band of which task.
    pub task: Option<Task>,
    /// Lessons.
    pub practice: Practice,
    /// What would free seams, where it was looked for.
    pub remedies: Remedies,
    /// Where one picture goes.
    pub file: Option<PathBuf>,
    /// Where the whole cycle goes, and how many pictures in a second of it.
    pub folder: Option<(PathBuf, u32)>,
}

/// Why there is no picture.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// Nothing to draw with.
    #[error("{0}")]
    NoDriver(String),
    /// The file or folder cannot be written.
    #[error("{}: {reason}", path.display())]
    NotWritten {
        /// Which.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// No picture came back from the graphics driver.
    #[error("the graphics driver gave no picture")]
    NoPicture,
}

/// Updates before the first picture: shaders and meshes must have arrived.
const WARM_UP: usize = 4;

/// Draws what is asked, and writes it.
///
/// # Errors
/// [`PictureError`] where nothing can be written or drawn.
pub fn draw(pictures: Pictures) -> Result<(), PictureError> {
    graphics::effort_in_a_window().map_err(PictureError::NoDriver)?;
    if pictures.zones == ZonesShown::Sweep {
        // Else it would come some pictures later.
        let _ = pictures.show.swept();
    }
    let mut artist = Artist::new(&pictures);
    if let Some(file) = &pictures.file {
        let image = artist.picture()?;
        return write(file, image);
    }
    let Some((folder, fps)) = &pictures.folder else { return Ok(()) };
    let refused = |reason: String| PictureError::NotWritten { path: folder.clone(), reason };
    std::fs::create_dir_all(folder).map_err(|error| refused(error.to_string()))?;
    let mut entries = std::fs::read_dir(folder).map_err(|error| refused(error.to_string()))?;
    if entries.next().is_some() {
        return Err(refused("the folder is not empty; name an empty or a new one".to_owned()));
    }
    let count = (pictures.show.day.period * f64::from(*fps)).floor() as u32;
    for frame in 0..=count {
        artist.ask(Ask::GoTo(f64::from(frame) / f64::from(*fps)));
        let image = artist.picture()?;
        write(&folder.join(format!("{frame:05}.png")), image)?;
    }
    Ok(())
}

fn write(file: &Path, image: Image) -> Result<(), PictureError> {
    let refused = |reason: String| PictureError::NotWritten { path: file.to_owned(), reason };
    let picture = image.try_into_dynamic().map_err(|error| refused(error.to_string()))?;
    // The alpha of a picture on paper means nothing.
    picture.to_rgb8().save(file).map_err(|error| refused(error.to_string()))
}

/// What is held for the cell that is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Holds {
    /// Everything in the world.
    pub entities: usize,
    /// Shapes.
    pub meshes: usize,
    /// Colours.
    pub paints: usize,
    /// Curves and letters.
    pub images: usize,
    /// Seams and edges.
    pub lines: usize,
}

/// Draws off-screen.
pub struct Artist {
    apps: SubApps,
    target: Handle<Image>,
}

impl Artist {
    /// Everything ready for the first picture.
    #[must_use]
    pub fn new(pictures: &Pictures) -> Self {
        let mut app = App::new();
        app.add_plugins(
            DefaultPlugins
                .set(WindowPlugin {
                    primary_window: None,
                    exit_condition: ExitCondition::DontExit,
                    ..default()
                })
                .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
                .set(LogPlugin { filter: "error".to_owned(), ..default() })
                .disable::<WinitPlugin>(),
        );
        app.insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_millis(20)))
            .insert_resource(pictures.show.clone())
            .insert_resource(pictures.view)
            .insert_resource(pictures.zones)
            .insert_resource(pictures.effort)
            .insert_resource(pictures.practice.clone())
            .insert_resource(pictures.remedies.clone());
        let Size(width, height) = pictures.size;
        let mut target = Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
        target.texture_descriptor.usage |= TextureUsages::COPY_SRC;
        let target = app.world_mut().resource_mut::<Assets<Image>>().add(target);
        let camera = app.world_mut().spawn((eye(), RenderTarget::Image(target.clone().into()))).id();
        app.insert_resource(Onto(camera));
        app.add_plugins((LogicPlugin, DrawPlugin, ScreenPlugin { with_band: pictures.task.is_some() }));
        app.finish();
        app.cleanup();
        let mut artist = Self { apps: std::mem::take(app.sub_apps_mut()), target };
        artist.update();
        // First the seam or the instant: what is moved by hand starts where the cell was watched.
        if let Some(seam) = pictures.seam {
            artist.ask(Ask::Seam(seam));
        }
        if let Some(at) = pictures.at {
            artist.ask(Ask::GoTo(at));
        }
        artist.update();
        if let Some(task) = pictures.task.filter(|task| !(pictures.seam.is_some() && *task == Task::Seam)) {
            artist.ask(Ask::Do(task));
        }
        artist.update();
        // A lesson begins with a view of its own; what was asked for comes after it.
        if pictures.task != Some(Task::Learn) || pictures.view != View::default() {
            artist.ask(Ask::Look(pictures.view));
        }
        for _ in 0..WARM_UP {
            artist.update();
        }
        artist
    }

    /// Another cell in the place of this one, as when its file is saved.
    pub fn show(&mut self, show: &Show) {
        self.apps.main.world_mut().insert_resource(show.clone());
    }

    /// How much there is now of what is made for a cell.
    #[must_use]
    pub fn holds(&mut self) -> Holds {
        let world = self.apps.main.world_mut();
        let entities = world.query::<Entity>().iter(world).count();
        let lines = world.resource::<Assets<GizmoAsset>>().len();
        Holds {
            entities,
            meshes: world.resource::<Assets<Mesh>>().len(),
            paints: world.resource::<Assets<Paint>>().len(),
            images: world.resource::<Assets<Image>>().len(),
            lines,
        }
    }

    /// Asks as a key would.
    pub fn ask(&mut self, ask: Ask) {
        self.apps.main.world_mut().write_message(ask);
    }

    /// One step of time, drawn.
    pub fn update(&mut self) {
        self.apps.update();
        let device = self.apps.main.world().get_resource::<RenderDevice>();
        if let Some(device) = device {
            // A device that is lost gives no picture, and that is reported.
            let _ = device.wgpu_device().poll(PollType::Wait { submission_index: None, timeout: None });
        }
    }

    /// The picture as it is after two steps of time: one to obey, one to draw what came of it.
    ///
    /// # Errors
    /// [`PictureError::NoPicture`] where the driver gives none.
    pub fn picture(&mut self) -> Result<Image, PictureError> {
        self.update();
        self.update();
        let caught: Arc<Mutex<Option<Image>>> = Arc::default();
        let catch = Arc::clone(&caught);
        self.apps.main.world_mut().spawn(Screenshot::image(self.target.clone())).observe(
            move |captured: On<ScreenshotCaptured>| {
                if let Ok(mut place) = catch.lock() {
                    *place = Some(captured.image.clone());
                }
            },
        );
        // It comes one or two updates later.
        for _ in 0..12 {
            self.update();
            if let Some(image) = caught.lock().ok().and_then(|mut place| place.take()) {
                return Ok(image);
            }
        }
        Err(PictureError::NoPicture)
    }
}

/// The camera of window and pictures alike.
pub(crate) fn eye() -> impl Bundle {
    (
        Camera3d::default(),
        Projection::Perspective(PerspectiveProjection { near: 0.02, ..default() }),
        Tonemapping::AcesFitted,
        Msaa::Sample4,
        Transform::default(),
    )
}
