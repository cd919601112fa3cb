//! Decides what a CSV file of taught points says: how the arm gets to each, and its axis values or its tool pose there.
//!
//! The columns are some of those of `points.csv`, so that a file of that kind can be given as it is.

use std::ops::RangeInclusive;

use csv::StringRecord;
use nalgebra::{Quaternion, Translation3, UnitQuaternion};
use seamwright_kinematics::document::Table;
use seamwright_kinematics::{AxisValues, Pose};

use super::Reading;
use super::csv_file::{self, CsvFile};
use super::files::{beside, reason};
use super::place;
use crate::cell::{GivenMove, GivenPoint, GivenStance, GivenWay};
use crate::units;

const AXES: [&str; 6] = ["axis1_deg", "axis2_deg", "axis3_deg", "axis4_deg", "axis5_deg", "axis6_deg"];
const TOOL: [&str; 7] = ["x_mm", "y_mm", "z_mm", "qw", "qx", "qy", "qz"];
/// Columns of points.csv that are not looked at.
const BESIDES: [&str; 7] =
    ["station", "point", "s_mm", "work_deg", "travel_deg", "turn_deg", "configuration"];
const CTWD: &str = "ctwd_mm";

/// Torches have up to 60 mm, and tolerances go a little beyond.
const CTWD_MM: RangeInclusive<f64> = 0.0..=1000.0;

/// What the columns may be.
const COLUMNS: &str = "the columns are move and axis1_deg to axis6_deg, or move, x_mm, y_mm, z_mm, qw, qx, qy, qz, and others of points.csv";

const MOVES: [(&str, GivenMove); 5] = [
    ("air", GivenMove::Air),
    ("air_straight", GivenMove::AirStraight),
    ("approach", GivenMove::Approach),
    ("weld", GivenMove::Weld),
    ("retract", GivenMove::Retract),
];

/// Reads the file that `taught_csv` names; of a file with a column `seam` the rows of the seam of this name.
pub(super) fn read(reading: &Reading<'_>, table: &Table<'_>, seam: &str) -> Option<GivenWay> {
    let path = beside(table.file().as_ref(), &table.opt_text("taught_csv")?);
    let text =
        reading.files.text(&path).map_err(|error| table.problem("taught_csv", reason(&error), None)).ok()?;
    let before = reading.problems.count();
    let name = path.to_string_lossy().into_owned();
    let file = CsvFile { file: name, text: Some(&text), problems: reading.problems, columns: COLUMNS };
    let given = rows(&file, &text, seam)?;
    (reading.problems.count() == before).then_some(given)
}

fn rows(file: &CsvFile<'_>, text: &str, seam: &str) -> Option<GivenWay> {
    let mut reader = csv_file::format().from_reader(text.as_bytes());
    let headers = reader.headers().cloned().unwrap_or_default();
    let column = |name: &str| headers.iter().position(|header| header == name);
    let [by] = file.columns(&headers, ["move"])?;
    let with_axes = AXES.iter().any(|name| column(name).is_some());
    let axes = if with_axes { Some(file.columns(&headers, AXES)?) } else { None };
    let tool = if with_axes { None } else { Some(file.columns(&headers, TOOL)?) };
    let ctwd = column(CTWD);
    let external = headers.iter().filter(|header| header.starts_with("ext_"));
    let known = ["move", "seam", "circular"].into_iter().chain(AXES).chain(TOOL).chain(BESIDES).chain([CTWD]);
    file.refuse_unknown(&headers, known.chain(external));
    let before = file.problems.count();
    let mut given = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                file.refuse_row(&error);
                continue;
            }
        };
        let text = |column: Option<usize>| column.and_then(|column| record.get(column));
        if text(column("seam")).is_some_and(|name| name != seam) {
            continue;
        }
        let stance = axes.as_ref().map_or_else(
            || tool.as_ref().and_then(|tool| tool_pose(file, &headers, &record, tool)),
            |axes| {
                let degrees = file.numbers(&headers, &record, axes, &place::ANGLES_DEG)?;
                Some(GivenStance::Axes(AxisValues::from(degrees.map(units::deg))))
            },
        );
        let ctwd = match ctwd {
            Some(ctwd) => {
                file.numbers(&headers, &record, &[ctwd], &CTWD_MM).map(|[ctwd]| Some(units::mm(ctwd)))
            }
            None => Some(None),
        };
        let word = text(Some(by)).unwrap_or_default();
        let by = MOVES.iter().find(|(name, _)| *name == word).map(|(_, by)| *by);
        if by.is_none() {
            let words =
                "write air, air_straight, approach, weld or retract: a seam of one weld, without searches";
            file.problem(
                file.line_of(&record),
                "move",
                Some(word),
                "this move is not known here".to_owned(),
                words,
            );
        }
        let circular = match text(column("circular")).unwrap_or_default() {
            "yes" => true,
            "no" | "" => false,
            word => {
                let wrong = "this is neither yes nor no".to_owned();
                file.problem(file.line_of(&record), "circular", Some(word), wrong, "write yes or no");
                false
            }
        };
        if let (Some(by), Some(stance), Some(ctwd)) = (by, stance, ctwd) {
            given.push(GivenPoint { by, circular, stance, ctwd });
        }
    }
    // What comes after the way out leads to the next seam, or home: it is planned.
    while given.len() > 1 && given.last().is_some_and(in_air) {
        given.pop();
    }
    let airs = given.iter().take_while(|point| in_air(point)).count();
    let weld = given.split_off(airs.saturating_sub(1));
    let given = GivenWay { air: given, weld };
    // Rows that could not be read are missed in the order as well.
    if file.problems.count() == before {
        if given.weld.is_empty() && column("seam").is_some() {
            let right = "name the file of this seam's points, or leave the column seam out";
            file.problem(None, "seam", None, format!("no row of this file is of the seam `{seam}`"), right);
        } else {
            check_order(file, &given);
        }
    }
    Some(given)
}

fn in_air(point: &GivenPoint) -> bool {
    matches!(point.by, GivenMove::Air | GivenMove::AirStraight)
}

/// Through the air to before the weld, in, along it, and out again; circular moves in pairs of points.
fn check_order(file: &CsvFile<'_>, given: &GivenWay) {
    let count = given.weld.len();
    let expected = |(index, point): (usize, &GivenPoint)| match index {
        0 => in_air(point),
        1 => point.by == GivenMove::Approach,
        _ if index + 1 == count => point.by == GivenMove::Retract,
        _ => point.by == GivenMove::Weld,
    };
    if count < 4 || !given.weld.iter().enumerate().all(expected) {
        let count = given.count();
        let right = "give air, approach, one weld or more, retract, in this order";
        file.problem(None, "move", None, format!("these {count} points are not the way over a weld"), right);
    }
    let all = || given.air.iter().chain(&given.weld);
    let circular: Vec<bool> = all().map(|point| point.circular).collect();
    let in_pairs = circular.split(|circular| !circular).all(|run| run.len() % 2 == 0);
    let round = |point: &GivenPoint| matches!(point.by, GivenMove::Weld | GivenMove::AirStraight);
    if !in_pairs || all().any(|point| point.circular && !round(point)) {
        let right = "say yes for the second and the third point of each circular move, which is of weld or air_straight";
        file.problem(None, "circular", None, "a circular move has a point too few".to_owned(), right);
    }
}

fn tool_pose(
    file: &CsvFile<'_>,
    headers: &StringRecord,
    record: &StringRecord,
    columns: &[usize; 7],
) -> Option<GivenStance> {
    let [x, y, z, w, i, j, k] = file.numbers(headers, record, columns, &place::POSITIONS_MM)?;
    let quaternion = Quaternion::new(w, i, j, k);
    if (quaternion.norm() - 1.0).abs() > 1e-3 {
        let wrong = format!("the quaternion of this row has the length {:.4}", quaternion.norm());
        file.problem(file.line_of(record), "qw", None, wrong, "give one of length 1");
        return None;
    }
    let at = Translation3::new(units::mm(x), units::mm(y), units::mm(z));
    Some(GivenStance::Tool(Pose::from_parts(at, UnitQuaternion::from_quaternion(quaternion))))
}
