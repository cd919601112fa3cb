//! Decides what a CSV table of a first visit says: a row a kind of seam, of thing carried, of clamp, and of what is given.
//!
//! The columns `row` and `name` must be there; any other may be left out, or left empty in a row. A value in a column that
//! its row has no use for is a problem: it would be lost without a word.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;
use std::path::Path;

use seamwright_kinematics::document::{Problem, nearest};

use super::Reading;
use super::csv_file::{self, CsvFile, CsvRow};
use super::files::{Disk, Files};
use crate::cell::{Carried, CarriedBy, Given, Joint, RoughClamp, RoughJob, RoughSeam, RoughSize};
use crate::units;

const ROW: &str = "row";
const NAME: &str = "name";
/// Every column, in the order in which messages name them.
const ALL: [&str; 14] = [
    ROW,
    NAME,
    "count",
    "joint",
    "length_mm",
    "leg_mm",
    "section_mm2",
    "speed_mm_s",
    "welds",
    "searches",
    "weight_kg",
    "by",
    "walk_m",
    "value",
];
const COLUMNS: &str = "the columns are row, name and any of count, joint, length_mm, leg_mm, section_mm2, speed_mm_s, \
                       welds, searches, weight_kg, by, walk_m, value";

/// No table that was written at a visit has more rows.
const MOST_ROWS: usize = 1000;
const COUNTS: RangeInclusive<f64> = 1.0..=10_000.0;
/// Money in whatever currency the user counts.
const RATES: RangeInclusive<f64> = 0.0..=1e6;

/// The words that a row may begin with.
const ROWS: [(&str, Kind); 5] = [
    ("seam", Kind::Seam),
    ("load", Kind::Load),
    ("unload", Kind::Unload),
    ("clamp", Kind::Clamp),
    ("given", Kind::Given),
];

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Seam,
    Load,
    Unload,
    Clamp,
    Given,
}

impl Kind {
    fn columns(self) -> &'static [&'static str] {
        match self {
            Self::Seam => {
                &["count", "joint", "length_mm", "leg_mm", "section_mm2", "speed_mm_s", "welds", "searches"]
            }
            Self::Load | Self::Unload => &["count", "weight_kg", "by", "walk_m"],
            Self::Clamp => &["count", "by"],
            Self::Given => &["value"],
        }
    }
}

/// Reads a table from the disk.
///
/// # Errors
/// Every problem of the file, by line.
pub fn read_rough_job(path: &Path) -> Result<RoughJob, Vec<Problem>> {
    read_rough_job_with(path, &Disk)
}

/// Reads a table from `files`.
///
/// # Errors
/// Every problem of the file, by line.
pub fn read_rough_job_with(path: &Path, files: &dyn Files) -> Result<RoughJob, Vec<Problem>> {
    super::read_with(path, files, |reading, text| from_text(reading, path, text))
}

/// What `text`, which stands in the file at `path`, says.
pub(super) fn from_text(reading: &Reading<'_>, path: &Path, text: &str) -> Option<RoughJob> {
    let file = CsvFile {
        file: path.to_string_lossy().into_owned(),
        text: Some(text),
        problems: reading.problems,
        columns: COLUMNS,
    };
    // Most rows have nothing to say in the last columns.
    let mut reader = csv_file::format().flexible(true).from_reader(text.as_bytes());
    let headers = reader.headers().map_err(|error| file.refuse_row(&error)).ok()?.clone();
    file.columns(&headers, [ROW, NAME])?;
    // A column that stands there twice would hide one of its values.
    for column in ALL.into_iter().filter(|column| headers.iter().any(|header| header == *column)) {
        file.columns(&headers, [column])?;
    }
    file.refuse_unknown(&headers, ALL.into_iter());
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let mut job = RoughJob {
        name: stem,
        seams: Vec::new(),
        loaded: Vec::new(),
        unloaded: Vec::new(),
        clamps: Vec::new(),
        given: Given::default(),
    };
    let mut seen = BTreeSet::new();
    for (row, record) in reader.records().enumerate() {
        match record {
            Ok(record) if row == MOST_ROWS => {
                let wrong = format!("this table has more than {MOST_ROWS} rows");
                let right = "put like things into one row, with their count";
                file.problem(file.line_of(&record), "", None, wrong, right);
                break;
            }
            Ok(record) => {
                add(&mut job, &mut seen, &CsvRow { file: &file, headers: &headers, record: &record })
            }
            Err(error) => file.refuse_row(&error),
        }
    }
    if job.seams.is_empty() && reading.problems.is_empty() {
        let wrong = "nothing is welded in this table".to_owned();
        file.problem(None, "", None, wrong, "write a row that begins with seam for each kind of seam");
    }
    check_given(&file, &job.given);
    if let Some(name) = &job.given.name {
        job.name.clone_from(name);
    }
    Some(job)
}

/// Adds what a row says; a name that a row of its kind already has is a problem.
fn add(job: &mut RoughJob, seen: &mut BTreeSet<(Kind, String)>, row: &CsvRow<'_, '_>) {
    if row.is_too_long() {
        return;
    }
    let Some(kind) = row.choice(ROW, &ROWS) else { return };
    let Some(name) = row.name(NAME) else { return };
    let word = row.text(ROW);
    row.refuse_strangers(word, &ALL, &[&[ROW, NAME], kind.columns()].concat());
    if !seen.insert((kind, name.clone())) {
        row.problem(NAME, "another row of this kind has this name".to_owned(), "give each its own name");
        return;
    }
    match kind {
        Kind::Seam => job.seams.extend(seam(row, &name)),
        Kind::Load => job.loaded.extend(carried(row, &name)),
        Kind::Unload => job.unloaded.extend(carried(row, &name)),
        Kind::Clamp => job.clamps.extend(clamp(row, &name)),
        Kind::Given => given(row, &name, &mut job.given),
    }
}

fn seam(row: &CsvRow<'_, '_>, name: &str) -> Option<RoughSeam> {
    let count = row.whole("count", COUNTS, 1);
    let joints = [Joint::Fillet, Joint::Lap, Joint::Butt, Joint::Corner].map(|joint| (joint.name(), joint));
    let joint = row.needed("joint").and_then(|_| row.choice("joint", &joints));
    let length = row.needed("length_mm").and_then(|_| row.number("length_mm", 1.0..=100_000.0));
    let welds = row.whole("welds", COUNTS, 1);
    let searches = row.whole("searches", 0.0..=100.0, 0);
    let size_and_speed = size_and_speed(row, joint);
    let (size, speed) = size_and_speed?;
    Some(RoughSeam {
        name: name.to_owned(),
        count: count?,
        length: units::mm(length?),
        joint: joint?,
        size,
        speed,
        welds: welds?,
        searches: searches?,
    })
}

/// At most one of leg and section, of a butt no leg; and the travel speed, where it is known.
fn size_and_speed(row: &CsvRow<'_, '_>, joint: Option<Joint>) -> Option<(Option<RoughSize>, Option<f64>)> {
    let [leg, section, speed] = ["leg_mm", "section_mm2", "speed_mm_s"];
    if row.has(leg) && row.has(section) {
        let wrong = "two things say how much weld metal this takes".to_owned();
        row.problem(leg, wrong, "write one of leg_mm, section_mm2");
        return None;
    }
    if row.has(leg) && joint == Some(Joint::Butt) {
        let right = "write the weld metal's section_mm2, or speed_mm_s";
        row.problem(leg, "a butt weld has no leg".to_owned(), right);
        return None;
    }
    let size = if row.has(section) {
        row.opt_number(section, 0.5..=2000.0)?.map(units::mm2).map(RoughSize::Section)
    } else {
        row.opt_number(leg, 1.0..=40.0)?.map(units::mm).map(RoughSize::Leg)
    };
    let speed = row.opt_number(speed, 0.5..=200.0)?.map(units::mm);
    if size.is_none() && speed.is_none() {
        let right = "write one of leg_mm, section_mm2, or speed_mm_s";
        row.problem(leg, "nothing says how fast this is welded".to_owned(), right);
        return None;
    }
    Some((size, speed))
}

fn carried(row: &CsvRow<'_, '_>, name: &str) -> Option<Carried> {
    let count = row.whole("count", COUNTS, 1);
    let mass = row.opt_number("weight_kg", 0.0..=100_000.0);
    let by = row.opt_choice("by", &[("hand", CarriedBy::Hand), ("hoist", CarriedBy::Hoist)], CarriedBy::Hand);
    let walk = row.opt_number("walk_m", 0.0..=500.0);
    Some(Carried { name: name.to_owned(), count: count?, mass: mass?, by: by?, walk: walk?.unwrap_or(0.0) })
}

fn clamp(row: &CsvRow<'_, '_>, name: &str) -> Option<RoughClamp> {
    let count = row.whole("count", COUNTS, 1);
    let by_air = row.opt_choice("by", &[("hand", false), ("air", true)], false);
    Some(RoughClamp { name: name.to_owned(), count: count?, by_air: by_air? })
}

/// What may be given, for the message that lists it.
const GIVEN: [&str; 18] = [
    "job",
    "yearly_quantity",
    "days_per_year",
    "shifts_per_day",
    "hours",
    "break_min",
    "availability_percent",
    "stations",
    "two_sided_table",
    "parts_per_load",
    "persons",
    "labour_per_h",
    "cell_per_h",
    "wire_per_kg",
    "gas_per_m3",
    "gas_l_min",
    "manual_min",
    "about",
];

fn given(row: &CsvRow<'_, '_>, name: &str, given: &mut Given) {
    if row.needed("value").is_none() {
        return;
    }
    let number = |bounds: RangeInclusive<f64>| row.number("value", bounds);
    let whole = |bounds: RangeInclusive<f64>| row.whole("value", bounds, 1);
    match name {
        "job" => given.name = Some(row.text("value").to_owned()),
        "about" => given.about = Some(row.text("value").to_owned()),
        "yearly_quantity" => given.yearly_quantity = number(1.0..=1e9),
        "days_per_year" => given.days_per_year = number(1.0..=366.0),
        "shifts_per_day" => given.shifts_per_day = number(0.1..=10.0),
        "hours" => given.shift_length = number(0.1..=24.0).map(units::hours),
        "break_min" => given.breaks = number(0.0..=1440.0).map(units::minutes),
        "availability_percent" => given.availability = number(1.0..=100.0).map(units::percent),
        "stations" => given.stations = whole(1.0..=20.0),
        "two_sided_table" => given.two_sided_table = row.choice("value", &[("yes", true), ("no", false)]),
        "parts_per_load" => given.parts_per_load = whole(1.0..=10_000.0),
        "persons" => given.persons = whole(1.0..=20.0),
        "labour_per_h" => given.labour_per_h = number(RATES),
        "cell_per_h" => given.cell_per_h = number(RATES),
        "wire_per_kg" => given.wire_per_kg = number(RATES),
        "gas_per_m3" => given.gas_per_m3 = number(RATES),
        "gas_l_min" => given.gas_flow = number(0.1..=100.0).map(units::litres_per_minute),
        "manual_min" => given.manual_time = number(0.01..=100_000.0).map(units::minutes),
        _ => {
            let right = nearest(name, GIVEN.into_iter()).map_or_else(
                || format!("these can be given: {}", GIVEN.join(", ")),
                |near| format!("is it {near}?"),
            );
            row.problem(NAME, "this is not known here".to_owned(), &right);
        }
    }
}

/// What is given together must fit together.
fn check_given(file: &CsvFile<'_>, given: &Given) {
    if given.two_sided_table == Some(true) && given.stations.is_some_and(|stations| stations != 2) {
        let wrong = "a two-sided table has two stations".to_owned();
        file.problem(None, "stations", None, wrong, "write 2, or two_sided_table no");
    }
    if let (Some(length), Some(breaks)) = (given.shift_length, given.breaks)
        && breaks >= length
    {
        file.problem(
            None,
            "break_min",
            None,
            "the breaks are as long as the shift".to_owned(),
            "make them shorter",
        );
    }
    if let (Some(length), Some(shifts)) = (given.shift_length, given.shifts_per_day)
        && length * shifts > units::hours(24.0) + 1e-6
    {
        let wrong = format!("{shifts} shifts of {} h are longer than a day", units::to_hours(length));
        file.problem(None, "shifts_per_day", None, wrong, "write shifts that fit into 24 h");
    }
}
