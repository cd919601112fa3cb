//! What the command line may say, and the exit code: 0, shown; 2, the input is wrong or there is nothing to show it on.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;
use seamwright_sim::cell::{Cell, Seam, SeamId};

use crate::graphics::Effort;
use crate::logic::lesson::read_lessons;
use crate::logic::{Learner, Practice, Remedies, Source, Task, View, ZonesShown};
use crate::picture::{self, Pictures, Size};
use crate::show::Show;
use crate::site::Site;
use crate::window::{self, First, Opening};

/// Shows a welding cell at work, lets its arm be moved by hand, and teaches it.
#[derive(Parser)]
#[command(name = "seamwright-viewer", version)]
pub struct Arguments {
    /// The cell file
    pub cell: PathBuf,
    /// Write one picture to this PNG file instead of opening a window
    #[arg(long, value_name = "FILE.png")]
    pub picture: Option<PathBuf>,
    /// Write the whole cycle as numbered pictures into this folder, which must not exist or be empty
    #[arg(long, value_name = "DIR", conflicts_with = "picture", requires = "fps")]
    pub frames: Option<PathBuf>,
    /// Pictures in a second of the cycle
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=120))]
    pub fps: Option<u32>,
    /// At this instant of the cycle, in seconds
    #[arg(long, value_name = "SECONDS", conflicts_with = "seam")]
    pub at: Option<f64>,
    /// At this seam, by its number or name
    #[arg(long, value_name = "S")]
    pub seam: Option<String>,
    /// From where to look; at the seam where one is named
    #[arg(long, value_enum)]
    pub view: Option<View>,
    /// What to show of the spaces of the cell
    #[arg(long, value_enum, default_value = "zones")]
    pub show: ZonesShown,
    /// Size of pictures, or of the window
    #[arg(long, value_name = "WxH", default_value = "1280x720")]
    pub size: Size,
    /// Show the band with keys and gauges of this task in pictures; the task with which a window opens
    #[arg(long, value_name = "TASK", value_enum)]
    pub task: Option<TaskName>,
    /// Draw pictures without shadows and smooth edges, as a window does where there is no graphics card: many times quicker
    #[arg(long)]
    pub quick: bool,
    /// Folder with lessons; without it the folder `lessons` beside that of the cell, where there is one
    #[arg(long, value_name = "DIR")]
    pub lessons: Option<PathBuf>,
    /// Begin with this lesson, by its number
    #[arg(long, value_name = "N", conflicts_with_all = ["seam", "at"])]
    pub lesson: Option<usize>,
    /// Who learns, for the results
    #[arg(long, value_name = "NAME")]
    pub learner: Option<String>,
    /// Look at once for what would free the seams that do not hold; else a key in the window does it
    #[arg(long)]
    pub advice: bool,
    /// Tell every line of the screen that changes on standard output too
    #[arg(long)]
    pub aloud: bool,
    /// Append the results of lessons to this CSV file
    #[arg(long, value_name = "FILE.csv")]
    pub results: Option<PathBuf>,
}

/// A task by its word on the command line.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum TaskName {
    /// The cell at work
    Watch,
    /// One seam
    Seam,
    /// Moving the arm by hand
    Hand,
    /// A lesson
    Learn,
}

impl From<TaskName> for Task {
    fn from(name: TaskName) -> Self {
        match name {
            TaskName::Watch => Self::Watch,
            TaskName::Seam => Self::Seam,
            TaskName::Hand => Self::Hand,
            TaskName::Learn => Self::Learn,
        }
    }
}

/// Something the user must hear: exit code 2.
pub struct Refusal(pub String);

/// Does what the command line asks.
#[must_use]
pub fn run() -> ExitCode {
    match show(Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(Refusal(text)) => {
            eprintln!("{}", text.trim_end());
            ExitCode::from(2)
        }
    }
}

fn show(arguments: Arguments) -> Result<(), Refusal> {
    let source = Source::new(arguments.cell.clone());
    let site = Site::read(&arguments.cell, &source.watched)
        .map_err(|problems| listed(&problems, "nothing is shown"))?;
    let seam = arguments.seam.as_deref().map(|wanted| named_seam(site.cell, wanted)).transpose()?;
    let practice = lessons(&arguments, site.cell)?;
    let task = arguments.task.map(Task::from).or(arguments.lesson.map(|_| Task::Learn));
    let at_a_seam = seam.is_some() || task == Some(Task::Seam);
    let view = arguments.view.unwrap_or(if at_a_seam { View::Seam } else { View::default() });
    if arguments.picture.is_none() && arguments.frames.is_none() {
        let task = task.unwrap_or(if seam.is_some() { Task::Seam } else { Task::Watch });
        return window::open(Opening {
            size: arguments.size,
            site,
            source,
            view,
            zones: arguments.show,
            first: First { at: arguments.at, seam, task, remedies: arguments.advice },
            practice,
            learner: Learner { name: arguments.learner, results: arguments.results, trouble: None },
            aloud: arguments.aloud,
        });
    }
    let show = Show::learn(site, &());
    arguments.at.map_or(Ok(()), |at| within_cycle(&show, at))?;
    let remedies = if arguments.advice { Remedies::look(&show) } else { Remedies::default() };
    let drawn = picture::draw(Pictures {
        show,
        size: arguments.size,
        view,
        zones: arguments.show,
        effort: if arguments.quick { Effort::Light } else { Effort::Full },
        at: arguments.at,
        seam,
        task,
        practice,
        remedies,
        file: arguments.picture,
        folder: arguments.frames.zip(arguments.fps),
    });
    drawn.map_err(|error| Refusal(error.to_string()))
}

/// Refuses an instant that the cycle does not come to.
pub(crate) fn within_cycle(show: &Show, at: f64) -> Result<(), Refusal> {
    let period = show.day.period;
    if (0.0..=period).contains(&at) {
        return Ok(());
    }
    Err(Refusal(format!("--at {at}: the cycle goes from 0 to {period:.1} s")))
}

fn listed(problems: &[seamwright_kinematics::document::Problem], undone: &str) -> Refusal {
    let mut text: String = problems.iter().map(|problem| format!("{problem}\n")).collect();
    text += &match problems.len() {
        1 => format!("1 problem; {undone}"),
        count => format!("{count} problems; {undone}"),
    };
    Refusal(text)
}

/// A seam by its number on the drawings, its name, or station and name.
fn named_seam(cell: &Cell, wanted: &str) -> Result<SeamId, Refusal> {
    let count = cell.seams.len();
    let by_number =
        wanted.parse().ok().filter(|number: &usize| (1..=count).contains(number)).map(|number| number - 1);
    let full_name = |seam: &Seam| format!("{} / {}", cell.stations[seam.station.0].name, seam.name);
    let by_name = || cell.seams.iter().position(|seam| seam.name == wanted || full_name(seam) == wanted);
    by_number.or_else(by_name).map(SeamId).ok_or_else(|| {
        let names = cell.seams.iter().map(|seam| seam.name.as_str());
        let nearest = seamwright_kinematics::document::nearest(wanted, names);
        let hint = nearest
            .map_or_else(|| format!("write a number from 1 to {count}"), |name| format!("is it `{name}`?"));
        Refusal(format!("--seam {wanted}: the cell has no such seam; {hint}"))
    })
}

/// The lessons that fit the cell: those of the folder that is named, or of the one beside the cell's folder.
fn lessons(arguments: &Arguments, cell: &Cell) -> Result<Practice, Refusal> {
    let beside = || {
        let folder = arguments.cell.parent()?.join("..").join("lessons");
        folder.is_dir().then_some(folder)
    };
    let folder = arguments.lessons.clone().or_else(beside);
    let lessons = folder.as_ref().map_or_else(|| Ok(Vec::new()), |folder| read_lessons(folder, cell));
    let lessons = lessons.map_err(|problems| listed(&problems, "nothing is shown"))?;
    let at = arguments.lesson.map(|number| {
        let count = lessons.len();
        let at = number.checked_sub(1).filter(|at| *at < count);
        at.ok_or_else(|| {
            let right = if count == 0 {
                "none fits the cell".to_owned()
            } else {
                format!("write a number from 1 to {count}")
            };
            Refusal(format!("--lesson {number}: there is no such lesson; {right}"))
        })
    });
    Ok(Practice { at: at.transpose()?, lessons, folder, ..Practice::default() })
}
