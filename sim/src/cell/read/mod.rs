//! Decides what a cell file and the files it names say, or everything that is wrong with them.
//!
//! The format is described in `scenes/README.md`. Every problem is reported at once, each with file, line, key, value and what
//! would be right; a cell is returned only where there is none.

pub(crate) mod aims;
pub mod alone;
mod arm;
mod calibration;
mod corner;
mod csv_file;
mod elements;
mod faces;
mod files;
mod first_visit;
mod fit_up;
mod fixture;
mod frames;
mod index_time;
mod job;
mod joint;
mod line;
mod loads;
pub mod measured_file;
mod money;
mod names;
mod opening;
mod place;
mod points_file;
pub mod poses_file;
mod procedure;
mod region;
pub mod rough_file;
mod runs;
mod safety_device;
mod seam;
mod search;
mod section;
mod sequence;
mod service;
mod settings;
mod shapes;
mod shift;
mod slips;
mod station;
mod stopping;
mod taught_file;
#[cfg(test)]
mod tests;
mod torch;
pub mod touched_file;
mod urdf;
mod urdf_shapes;
mod variation;
mod zone;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::Path;

use seamwright_kinematics::document::{Document, Problem, Problems, Slip, Table};

pub use files::{Bundled, Disk, Files, reason};
pub use search::face_goes_on;
pub use section::part_at;
pub use urdf_shapes::looks_of;

use super::{
    Band, Cell, ClearanceRules, Drawn, DrawnPiece, Placing, Seam, Shape, ShapeId, Torch, Tracked,
    frames::AxisUse, mesh::NamedMesh,
};
use crate::units;
use files::shown;
use names::Catalogue;
use shapes::MeshKey;
use slips::Mended;

/// Reads a cell file from the disk.
///
/// # Errors
/// Every problem of the file and of those it names, sorted by file and line.
pub fn read_cell(file: &Path) -> Result<Cell, Vec<Problem>> {
    read_cell_with(file, &Disk)
}

/// Reads a cell file, and those it names, from `files`.
///
/// # Errors
/// Every problem of the file and of those it names, sorted by file and line.
pub fn read_cell_with(file: &Path, files: &dyn Files) -> Result<Cell, Vec<Problem>> {
    read_with(file, files, |reading, text| {
        let document = Document::parse(&file.to_string_lossy(), text, reading.problems);
        let cell = cell(reading, document.root(reading.problems));
        cell.map(|cell| Cell { notes: reading.notes.take(), ..cell })
    })
}

/// Reads a file, and those it names, from `files`: what `read` makes of its text, or every problem, sorted by file and line.
///
/// Where keys are misspelt it is read once more as if they were not: what follows from a slip is not reported beside it.
fn read_with<T>(
    file: &Path,
    files: &dyn Files,
    read: impl Fn(&Reading<'_>, &str) -> Option<T>,
) -> Result<T, Vec<Problem>> {
    let found = read_once(file, files, &read).map_err(|Unread { problems, slips }| {
        if slips.is_empty() {
            return problems;
        }
        let mended = read_once(file, &Mended { files, slips: &slips }, &read);
        let then = mended.err().map_or(Vec::new(), |unread| unread.problems);
        slips::without_what_follows(problems, &slips, then)
    });
    found.map_err(|mut problems| {
        for problem in &mut problems {
            problem.file = shown(problem.file.as_ref());
        }
        problems.sort();
        problems
    })
}

/// What is wrong with files.
struct Unread {
    problems: Vec<Problem>,
    slips: Vec<Slip>,
}

fn read_once<T>(
    file: &Path,
    files: &dyn Files,
    read: impl Fn(&Reading<'_>, &str) -> Option<T>,
) -> Result<T, Unread> {
    let problems = Problems::default();
    let reading = Reading {
        file,
        files,
        problems: &problems,
        meshes: RefCell::default(),
        notes: RefCell::default(),
        for_a_job: false,
    };
    let found = match files.text(file) {
        Ok(text) => read(&reading, &text),
        Err(error) => {
            problems.add(Problem {
                file: file.to_string_lossy().into_owned(),
                line: None,
                key: String::new(),
                value: None,
                wrong: reason(&error),
                right: None,
            });
            None
        }
    };
    match found {
        Some(found) if problems.is_empty() => Ok(found),
        _ => {
            let slips = problems.slips();
            Err(Unread { problems: problems.into_sorted(), slips })
        }
    }
}

/// What all parts of the reader share.
struct Reading<'a> {
    /// The cell's file.
    file: &'a Path,
    files: &'a dyn Files,
    problems: &'a Problems,
    meshes: RefCell<BTreeMap<MeshKey, Vec<NamedMesh>>>,
    notes: RefCell<Vec<String>>,
    /// Whether the cell is read for a job of another: its own jobs are passed over.
    for_a_job: bool,
}

impl<'a> Reading<'a> {
    /// The reading of another file for a job of the one that is being read: problems are noted together, notes apart.
    fn for_a_job(file: &'a Path, reading: &Reading<'a>) -> Self {
        Self {
            file,
            files: reading.files,
            problems: reading.problems,
            meshes: RefCell::default(),
            notes: RefCell::default(),
            for_a_job: true,
        }
    }

    /// A file's path as seen from the cell's folder: what is noted must not depend on where the program was started.
    fn seen_from_cell(&self, path: &Path) -> String {
        let folder = self.file.parent().unwrap_or(Path::new(""));
        shown(path.strip_prefix(folder).unwrap_or(path))
    }

    /// Something the findings must tell: an assumption, a repair.
    fn note(&self, note: String) {
        let mut notes = self.notes.borrow_mut();
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
}

/// Reads `format` and `name`, which every file begins with.
fn header(root: &Table<'_>) -> Option<String> {
    if !root.has("format") {
        root.problem("format", "this key is missing", "write format = 1".to_owned());
    }
    root.opt_whole("format", 1..=1);
    names::read(root)
}

fn cell(reading: &Reading<'_>, root: Table<'_>) -> Option<Cell> {
    let name = header(&root);
    let about = root.opt_text("about").unwrap_or_default();
    let mut frames = frames::read(reading, &root);
    let calibration = calibration::read(reading, &root);
    let arm = arm::read(reading, &root, &frames, calibration.as_ref());
    let (torch, spare_torches) =
        torch::read(reading, &root).map_or((None, Vec::new()), |(torch, spare)| (Some(torch), spare));
    let load = torch.as_ref().map_or(0.0, |torch| torch.mass);
    let mut arm = arm.map(|arm| arm::loaded(reading, arm, load));
    if let (Some(calibration), Some(arm)) = (&calibration, &mut arm) {
        // What was measured was measured with the load on.
        calibration.apply_to_arm(arm);
    }
    if let (Some(arm), Some(torch)) = (&arm, &torch) {
        for (name, range, value) in torch.dress.values(&arm.home) {
            let excess = range.excess(value);
            if excess > 0.0 {
                let wrong = format!(
                    "where the arm waits the {name} is passed by {:.3} degrees",
                    units::to_deg(excess)
                );
                root.problem("torch", wrong, "change home_deg, or the torch file's [hose]".to_owned());
            }
        }
    }
    let clearance = clearance(reading, &root);
    let finer = finer(&root);
    let (mut shapes, mut drawn) = surroundings(reading, &root, &frames);
    let mut fixtures = fixture::read_all(reading, &root);
    let procedures = procedure::read_all(reading, &root);
    seam::read_all(reading, &root, &mut fixtures, &procedures);
    let placed = station::read_all(reading, &root, &mut frames, &fixtures);
    let service = service::read_all(reading, &root, &frames, &shapes);
    let shift = shift::read(reading, &root);
    let demand = money::demand(&root, shift.as_ref());
    let money = money::money(reading, &root);
    let (jobs, mix) = job::read_all(reading, &root, shift.as_ref());
    let variation = variation::read(reading, &root, !placed.bodies.is_empty());
    let around = zone::Around { tree: &frames, stations: &placed.names, arm: arm.as_ref() };
    let zones = zone::read_all(&root, &around);
    let safeguarding = stopping::safeguarding(reading, &root, !zones.is_empty());
    check_taught(&root, &placed.seams);
    let mut seams = placed.seams;
    track(&root, torch.as_ref(), &mut seams);
    let first_visit = first_visit::read(reading, &root, &placed.names, &seams);
    root.finish();
    // The stations' seams count the stations' shapes alone; the surroundings come first.
    if let Some(calibration) = &calibration {
        calibration.apply_to_seams(&mut seams);
    }
    let mut bodies = placed.bodies;
    let of_seams = seams.iter_mut().flat_map(|seam| seam.joined.iter_mut().chain(&mut seam.reference));
    let mut of_stations = placed.drawn;
    let of_drawn = of_stations.iter_mut().flat_map(|drawn| &mut drawn.pieces).map(|piece| &mut piece.shape);
    let mut stations = placed.stations;
    let openings = stations.iter_mut().flat_map(|station| &mut station.openings);
    let of_openings = openings.flat_map(|opening| opening.closed.iter_mut().chain(&mut opening.open));
    let of_bodies = bodies.iter_mut().flat_map(|body| &mut body.shapes);
    for shape in of_seams.chain(of_bodies).chain(of_drawn).chain(of_openings) {
        shape.0 += shapes.len();
    }
    drawn.append(&mut of_stations);
    shapes.extend(placed.shapes);
    Some(Cell {
        name: name?,
        about,
        frames: frames.frames,
        arm: arm?,
        torch: torch?,
        spare_torches,
        clearance,
        finer,
        shapes,
        drawn,
        stations,
        seams,
        bodies,
        variation,
        service,
        shift: shift.as_ref().map(|shift| shift.0),
        shift_play: shift.and_then(|shift| shift.1),
        demand,
        money,
        zones,
        safeguarding,
        calibration,
        jobs,
        mix,
        first_visit,
        notes: Vec::new(),
    })
}

/// Asked between the hose's space and everything that stands, where the file does not say: the space has the hose's room in it already.
const ASSUMED_HOSE_MM: f64 = 0.0;

/// A sensor goes before the arc, which takes the free turn about the wire away; an arc that is tracked through must weave, at
/// least as wide as its wire is thick (common practice, no source): else it does not come nearer to either side.
fn track(root: &Table<'_>, torch: Option<&Torch>, seams: &mut [Seam]) {
    for (row, table) in root.tables("seam").into_iter().enumerate() {
        let key = if table.has("track") { "track" } else { "procedure" };
        for seam in seams.iter_mut().filter(|seam| seam.row == row && seam.pass > 0) {
            let wrong = match (seam.procedure.tracked, torch) {
                (Some(Tracked::Arc), _) if seam.procedure.weave.is_none() => {
                    ("an arc that does not weave cannot be tracked through", "say how it weaves".to_owned())
                }
                (Some(Tracked::Arc), Some(torch)) if is_narrow(seam, torch) => {
                    let least = units::to_mm(seam.procedure.wire_diameter(torch)) / 2.0;
                    (
                        "an arc that weaves less wide than its wire is thick cannot be tracked through",
                        format!("weave by an amplitude_mm of at least {least}"),
                    )
                }
                (Some(Tracked::Sensor), Some(torch)) => match torch.sensor {
                    Some(sensor) => {
                        seam.procedure.turn.get_or_insert(Band::even(0.0, sensor.turn_tolerance));
                        continue;
                    }
                    None => {
                        ("there is no sensor on the torch", "write [sensor] in the torch file".to_owned())
                    }
                },
                _ => continue,
            };
            table.problem(key, wrong.0, wrong.1);
            break;
        }
    }
}

/// Whether a seam weaves less wide than its wire is thick.
fn is_narrow(seam: &Seam, torch: &Torch) -> bool {
    seam.procedure
        .weave
        .is_some_and(|weave| 2.0 * weave.amplitude < seam.procedure.wire_diameter(torch) - 1e-9)
}

/// A taught way belongs to one weld of one seam at one place, with the external axes held.
fn check_taught(root: &Table<'_>, seams: &[Seam]) {
    for (row, table) in root.tables("seam").into_iter().enumerate() {
        let of: Vec<&Seam> = seams.iter().filter(|seam| seam.row == row && seam.taught.is_some()).collect();
        let Some(first) = of.first() else { continue };
        let plain = first.runs.len() == 1
            && first.searches.is_empty()
            && first.procedure.weave.is_none()
            && first.procedure.crater_back == 0.0;
        let wrong = if of.len() > 1 {
            "this seam is welded in several passes, on several stations or copies, or tacked by the arm"
        } else if !plain {
            "this seam has several welds, searches, a weave or a way back to the crater"
        } else if first.axis_uses.iter().any(|what| *what != AxisUse::Held) {
            "external axes are not held while it is welded"
        } else {
            continue;
        };
        let right = "give what was taught for one plain weld: only_station names the station".to_owned();
        table.problem("taught_csv", wrong, right);
    }
}

/// By how much the steps of a plan are divided.
fn finer(root: &Table<'_>) -> u32 {
    let Some(table) = root.opt_table("planning") else { return 1 };
    let finer = table.opt_whole("finer", 1..=8);
    table.finish();
    finer.unwrap_or(1)
}

fn clearance(reading: &Reading<'_>, root: &Table<'_>) -> ClearanceRules {
    let table = root.opt_table("clearance");
    let mut assumed = Vec::new();
    let mut of = |key: &str, default: f64| {
        let written = table.as_ref().and_then(|table| table.opt_number(key, 0.0..=500.0));
        if written.is_none() {
            assumed.push(format!("{key} = {default}"));
        }
        units::mm(written.unwrap_or(default))
    };
    // No cell needs it but one whose torch states the hose's space.
    let hose = table.as_ref().and_then(|table| table.opt_number("hose_mm", 0.0..=500.0));
    let rules = ClearanceRules {
        hose: units::mm(hose.unwrap_or(ASSUMED_HOSE_MM)),
        torch_to_joint: of("torch_to_joint_mm", 1.0),
        joint_zone: of("joint_zone_mm", 30.0),
        torch: of("torch_mm", 10.0),
        arm: of("arm_mm", 20.0),
        own: of("own_mm", 10.0),
        wire: of("wire_mm", 1.0),
        moving_axis: of("moving_axis_mm", 10.0),
        assumed: false,
    };
    let rules = ClearanceRules { assumed: !assumed.is_empty(), ..rules };
    if !assumed.is_empty() {
        reading.note(format!("clearance: assumed {} (common practice, no source)", assumed.join(", ")));
    }
    if let Some(table) = table {
        table.finish();
    }
    rules
}

fn surroundings(reading: &Reading<'_>, root: &Table<'_>, frames: &frames::Read) -> (Vec<Shape>, Vec<Drawn>) {
    let mut names = Catalogue::new("shape");
    let (mut shapes, mut drawn) = (Vec::new(), Vec::new());
    for table in root.tables("shape") {
        let name = names.claim(&table);
        let frame = frames.refer(&table, "on");
        let solids = shapes::solids(reading, &table);
        let at = place::pose(&table).translation.vector.into();
        table.finish();
        if let Some(name) = name {
            names.add(name.clone(), Some(()));
            let pieces = solids.iter().zip(shapes.len()..).map(|((_, _, pose), shape)| DrawnPiece {
                shape: ShapeId(shape),
                drawn_from_shape: *pose,
                placing: Placing::AS_DRAWN,
            });
            drawn.push(Drawn { name: name.clone(), fixture: None, at, pieces: pieces.collect() });
            shapes.extend(solids.into_iter().map(|(group, solid, pose)| Shape {
                name: shapes::full_name(&name, &group),
                role: super::Role::Surroundings,
                presence: super::Presence::Always,
                station: None,
                frame: frame.unwrap_or(super::frames::FrameId::WORLD),
                frame_from_shape: pose,
                solid,
            }));
        }
    }
    (shapes, drawn)
}
