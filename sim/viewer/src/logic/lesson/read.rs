//! Reads lessons: TOML files that a trainer writes, described in `scenes/README.md`.

use std::path::Path;

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::document::{Document, Problem, Problems, Table};
use seamwright_kinematics::{AxisValues, Elbow, Shoulder, Wrist, units};
use seamwright_sim::cell::{Cell, SeamId, StationId};

use crate::site::Site;

/// A lesson, resolved against its cell. SI.
#[derive(Clone, Debug)]
pub struct Lesson {
    /// Name of its file, for the results.
    pub file: String,
    /// Name on the screen.
    pub name: String,
    /// What the learner reads, a line each.
    pub text: Vec<String>,
    /// At which station it is practised.
    pub station: StationId,
    /// Axis values at the start, rad.
    pub start: AxisValues,
    /// How far the controller's tool centre point is off in the tool frame, m; zero but in lessons on that.
    pub tool_error: Vector3<f64>,
    /// Whether contacts stop the arm.
    pub contacts: bool,
    /// A quick learner's time, s.
    pub par: f64,
    /// In order.
    pub goals: Vec<Goal>,
}

/// Something to reach.
#[derive(Clone, Debug)]
pub struct Goal {
    /// One line for the learner.
    pub say: String,
    /// What is measured.
    pub kind: GoalKind,
}

/// What is measured.
#[derive(Clone, Debug)]
pub enum GoalKind {
    /// Turn one axis by so much (rad, signed), the others staying within `others`.
    Turn {
        /// 0-based.
        axis: usize,
        /// From the start of the goal, rad.
        by: f64,
        /// Allowed miss, rad.
        tolerance: f64,
        /// What the other axes may turn, rad.
        others: f64,
    },
    /// Wire end at a place in the world.
    WireEnd {
        /// Where.
        at: Point3<f64>,
        /// Allowed miss, m.
        tolerance: f64,
    },
    /// Torch against a joint, held for a while.
    Torch(TorchGoal),
    /// Along a seam from its start to its end, torch within tolerance.
    Follow(TorchGoal),
    /// Another way of holding the wire end where it was when the goal began.
    Stance {
        /// Shoulder asked.
        shoulder: Option<Shoulder>,
        /// Elbow asked.
        elbow: Option<Elbow>,
        /// Wrist asked.
        wrist: Option<Wrist>,
        /// Allowed miss of the wire end, m.
        tolerance: f64,
    },
    /// An axis so near to the end of its range, not stopped by it.
    NearLimit {
        /// 0-based.
        axis: usize,
        /// rad.
        within: f64,
    },
    /// The singularity slows a move of the tool down.
    SlowedBySingularity,
    /// Axis 5 to the other side of the straight wrist.
    CrossWrist,
    /// The tool turned so far from where it was when the goal began, while the wire end wandered no farther than allowed.
    TurnTool {
        /// rad.
        by: f64,
        /// How far the true wire end has to wander to count (m): to be watched in lessons on a wrong tool centre point.
        wander_at_least: f64,
    },
    /// The tool centre point from marks that touch one point, so many at least.
    ToolCentre {
        /// Marks.
        marks: u32,
        /// Allowed miss, m.
        tolerance: f64,
    },
    /// Marks along a seam so that straight ways between them keep to it.
    Points {
        /// Which.
        seam: SeamId,
        /// How far the ways may be off the seam, m.
        tolerance: f64,
        /// More marks than this cost score.
        few: u32,
    },
}

/// A torch against a joint.
#[derive(Clone, Debug)]
pub struct TorchGoal {
    /// Which seam.
    pub seam: SeamId,
    /// Where along it, m from its start; anywhere where absent.
    pub at: Option<f64>,
    /// Allowed miss of `at`, m.
    pub at_tolerance: f64,
    /// How far the wire may pass beside the root, m.
    pub beside: f64,
    /// How long it has to be held, s.
    pub hold: f64,
}

impl GoalKind {
    /// The seam it is about.
    #[must_use]
    pub fn seam(&self) -> Option<SeamId> {
        match self {
            Self::Torch(goal) | Self::Follow(goal) => Some(goal.seam),
            Self::Points { seam, .. } => Some(*seam),
            _ => None,
        }
    }

    /// Whether it is reached by places that the learner marks.
    #[must_use]
    pub fn collects_marks(&self) -> bool {
        matches!(self, Self::ToolCentre { .. } | Self::Points { .. })
    }

    /// Whether it is judged only when the learner says that it is done.
    #[must_use]
    pub fn waits_for_done(&self) -> bool {
        matches!(self, Self::Points { .. })
    }

    /// Where in the world the wire end is to be brought, where that is one place.
    #[must_use]
    pub fn place(&self, site: &Site, external: &[f64]) -> Option<Point3<f64>> {
        match self {
            Self::WireEnd { at, .. } => Some(*at),
            Self::Torch(torch) => {
                let path = site.cell.seams[torch.seam.0].path.as_ref()?;
                Some(site.world_from_station(torch.seam, external) * path.at(torch.at?).point)
            }
            _ => None,
        }
    }
}

/// Reads every lesson of a folder that fits the cell; those that name another cell are passed over.
///
/// # Errors
/// Every problem of every lesson.
pub fn read_lessons(folder: &Path, cell: &Cell) -> Result<Vec<Lesson>, Vec<Problem>> {
    let problems = Problems::default();
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) => {
            return Err(vec![whole_file(folder, error.to_string())]);
        }
    };
    let mut files: Vec<_> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    files.retain(|file| file.extension().is_some_and(|ending| ending == "toml"));
    files.sort();
    let lessons = files.iter().filter_map(|file| read_into(file, cell, &problems)).collect();
    if problems.is_empty() { Ok(lessons) } else { Err(problems.into_sorted()) }
}

/// Reads one lesson; none where it is for another cell.
///
/// # Errors
/// Every problem of the file.
pub fn read_lesson(file: &Path, cell: &Cell) -> Result<Option<Lesson>, Vec<Problem>> {
    let problems = Problems::default();
    let lesson = read_into(file, cell, &problems);
    if problems.is_empty() { Ok(lesson) } else { Err(problems.into_sorted()) }
}

fn whole_file(file: &Path, wrong: String) -> Problem {
    let file = file.to_string_lossy().into_owned();
    Problem { file, line: None, key: String::new(), value: None, wrong, right: None }
}

fn read_into(file: &Path, cell: &Cell, problems: &Problems) -> Option<Lesson> {
    let text = match std::fs::read_to_string(file) {
        Ok(text) => text,
        Err(error) => {
            problems.add(whole_file(file, error.to_string()));
            return None;
        }
    };
    let document = Document::parse(&file.to_string_lossy(), &text, problems);
    let root = document.root(problems);
    if !root.has("format") {
        root.problem("format", "this key is missing", "write format = 1".to_owned());
    }
    root.opt_whole("format", 1..=1);
    let name = root.text("name");
    if root.opt_text("cell").is_some_and(|wanted| wanted != cell.name) {
        return None;
    }
    let station = named(&root, "station", cell.stations.iter().map(|station| station.name.as_str()));
    let text = root.texts("text");
    if text.is_empty() {
        root.problem(
            "text",
            "there is nothing to read",
            "write text = [\"one line\", \"another\"]".to_owned(),
        );
    }
    let start = root.opt_numbers::<6>("start_deg", -720.0..=720.0).map(radians);
    let start = start.unwrap_or(cell.arm.home);
    if let Some((drive, past)) = cell.arm.arm.range_excess(&start) {
        let wrong = format!("there {drive} is {:.1} degrees past its range", units::to_deg(past));
        root.problem("start_deg", wrong, None);
    }
    let tool_error = root.opt_numbers::<3>("tool_error_mm", -100.0..=100.0).unwrap_or([0.0; 3]);
    let contacts = root.opt_flag("contacts").unwrap_or(true);
    let par = root.number("par_s", 1.0..=3600.0);
    let goals: Vec<Goal> = root.tables("goal").into_iter().filter_map(|table| goal(table, cell)).collect();
    if goals.is_empty() && !root.has("goal") {
        root.problem("goal", "there is nothing to reach", "write at least one table [[goal]]".to_owned());
    }
    let station = station.map_or(0, |station| station.unwrap_or(0));
    root.finish();
    let file_name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    Some(Lesson {
        file: file_name,
        name: name?,
        text,
        station: StationId(station),
        start,
        tool_error: Vector3::from(tool_error.map(units::mm)),
        contacts,
        par: par?,
        goals,
    })
}

fn radians(degrees: [f64; 6]) -> AxisValues {
    AxisValues::from(degrees.map(units::deg))
}

/// The place of the name under `key` among `known`: `None` where the key is absent, `Some(None)` where the name is not known.
fn named<'k>(table: &Table<'_>, key: &str, known: impl Iterator<Item = &'k str>) -> Option<Option<usize>> {
    let wanted = table.opt_text(key)?;
    let known: Vec<&str> = known.collect();
    let at = known.iter().position(|name| *name == wanted);
    if at.is_none() {
        let nearest = seamwright_kinematics::document::nearest(&wanted, known.iter().copied());
        table.problem(
            key,
            "the cell has nothing of this name",
            nearest.map(|name| format!("is it `{name}`?")),
        );
    }
    Some(at)
}

/// The kinds of goals, by the word in files.
#[derive(Clone, Copy)]
enum Word {
    Turn,
    WireEnd,
    Torch,
    Follow,
    Stance,
    NearLimit,
    SlowedBySingularity,
    CrossWrist,
    TurnTool,
    ToolCentre,
    Points,
}

const WORDS: [(&str, Word); 11] = [
    ("turn", Word::Turn),
    ("wire_end", Word::WireEnd),
    ("torch", Word::Torch),
    ("follow", Word::Follow),
    ("stance", Word::Stance),
    ("near_limit", Word::NearLimit),
    ("slowed_by_singularity", Word::SlowedBySingularity),
    ("cross_wrist", Word::CrossWrist),
    ("turn_tool", Word::TurnTool),
    ("tool_centre", Word::ToolCentre),
    ("points", Word::Points),
];

fn goal(table: Table<'_>, cell: &Cell) -> Option<Goal> {
    let say = table.text("say");
    let word = table.choice("kind", &WORDS);
    let kind = word.and_then(|word| kind(&table, word, cell));
    if word.is_some() {
        table.finish();
    }
    Some(Goal { say: say?, kind: kind? })
}

fn kind(table: &Table<'_>, word: Word, cell: &Cell) -> Option<GoalKind> {
    let deg = |key: &str, default: f64| units::deg(table.opt_number(key, 0.0..=720.0).unwrap_or(default));
    let mm = |key: &str, default: f64| units::mm(table.opt_number(key, 0.0..=1000.0).unwrap_or(default));
    let axis = || table.whole("axis", 1..=6).map(|axis| axis as usize - 1);
    // Every key is read before any that is missing or wrong ends the goal: else the others would count as not known.
    match word {
        Word::Turn => {
            let (axis, by) = (axis(), table.number("by_deg", -360.0..=360.0));
            let (tolerance, others) = (deg("tolerance_deg", 1.0), deg("others_deg", 1.0));
            Some(GoalKind::Turn { axis: axis?, by: units::deg(by?), tolerance, others })
        }
        Word::WireEnd => {
            let (at, tolerance) = (table.numbers::<3>("at_mm", -1e5..=1e5), mm("tolerance_mm", 5.0));
            Some(GoalKind::WireEnd { at: Point3::from(at?.map(units::mm)), tolerance })
        }
        Word::Torch => torch_goal(table, cell).map(GoalKind::Torch),
        Word::Follow => torch_goal(table, cell).map(GoalKind::Follow),
        Word::Stance => Some(GoalKind::Stance {
            shoulder: table.opt_choice("shoulder", &[("front", Shoulder::Front), ("back", Shoulder::Back)]),
            elbow: table.opt_choice("elbow", &[("up", Elbow::Up), ("down", Elbow::Down)]),
            wrist: table.opt_choice("wrist", &[("plus", Wrist::Plus), ("minus", Wrist::Minus)]),
            tolerance: mm("tolerance_mm", 5.0),
        }),
        Word::NearLimit => {
            let (axis, within) = (axis(), table.number("within_deg", 0.1..=90.0));
            Some(GoalKind::NearLimit { axis: axis?, within: units::deg(within?) })
        }
        Word::SlowedBySingularity => Some(GoalKind::SlowedBySingularity),
        Word::CrossWrist => Some(GoalKind::CrossWrist),
        Word::TurnTool => {
            let (by, wander) = (table.number("by_deg", 1.0..=175.0), mm("wander_at_least_mm", 0.0));
            Some(GoalKind::TurnTool { by: units::deg(by?), wander_at_least: wander })
        }
        Word::ToolCentre => Some(GoalKind::ToolCentre {
            marks: table.opt_whole("marks", 3..=20).unwrap_or(4),
            tolerance: mm("tolerance_mm", 2.0),
        }),
        Word::Points => {
            let (seam, few) = (seam(table, cell), table.whole("few", 2..=100));
            let tolerance = mm("tolerance_mm", 1.0);
            Some(GoalKind::Points { seam: seam?, tolerance, few: few? })
        }
    }
}

fn seam(table: &Table<'_>, cell: &Cell) -> Option<SeamId> {
    if !table.has("seam") {
        table.problem("seam", "this key is missing", "write the name of a seam of the cell".to_owned());
    }
    let seam = named(table, "seam", cell.seams.iter().map(|seam| seam.name.as_str()))??;
    if cell.seams[seam].path.is_none() {
        table.problem("seam", "this seam is given by its length only", "name a seam with a path".to_owned());
        return None;
    }
    Some(SeamId(seam))
}

fn torch_goal(table: &Table<'_>, cell: &Cell) -> Option<TorchGoal> {
    let mm = |key: &str| table.opt_number(key, 0.0..=1e5).map(units::mm);
    let seam = seam(table, cell);
    let (at, at_tolerance, beside) = (mm("at_mm"), mm("at_tolerance_mm"), mm("beside_mm"));
    let hold = table.opt_number("hold_s", 0.0..=60.0);
    Some(TorchGoal {
        seam: seam?,
        at,
        at_tolerance: at_tolerance.unwrap_or(0.01),
        beside: beside.unwrap_or(0.003),
        hold: hold.unwrap_or(1.0),
    })
}
