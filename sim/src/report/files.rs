//! Decides what stands in the files of `--out`: `findings.json` and the tables.

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::csv_table::{CsvTable, Field, TableError, deg, maybe, mm, part, s};
use super::drawing;
use super::folder::FINDINGS_FILE;
use super::path;
use crate::cell::Cell;
use crate::check::Checked;
use crate::findings::{
    Findings, OffsetFindings, PositionFindings, Room, SeamFindings, SeamFitUpFindings, external_column_names,
};
use crate::production;
use crate::schedule;

/// Why a file could not be put together. Nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// A table.
    #[error(transparent)]
    Table(#[from] TableError),
    /// The findings.
    #[error("the findings: {0}; this is a fault of the program, and nothing was written")]
    Json(#[from] serde_json::Error),
}

/// Findings as they stand in `findings.json`.
///
/// # Errors
/// Where a number in them is not finite.
pub fn json<F: Serialize + DeserializeOwned>(findings: &F) -> Result<String, FileError> {
    let text = serde_json::to_string_pretty(findings)? + "\n";
    // JSON has no word for a number that is not finite and the library writes `null`, which does not read back as a number.
    let _: F = serde_json::from_str(&text)?;
    Ok(text)
}

/// Findings on a line of their own, for output that has many.
///
/// # Errors
/// Where a number in them is not finite.
pub fn json_line<F: Serialize + DeserializeOwned>(findings: &F) -> Result<String, FileError> {
    let text = serde_json::to_string(findings)? + "\n";
    let _: F = serde_json::from_str(&text)?;
    Ok(text)
}

/// Every file of the output folder with its content, in the order in which they are written.
///
/// # Errors
/// Where a number in them is not finite.
pub fn all(cell: &Cell, checked: &Checked, json: String) -> Result<Vec<(&'static str, Vec<u8>)>, FileError> {
    let findings = &checked.findings;
    let services = schedule::service_rows(cell, &checked.plan, &checked.schedule);
    Ok(vec![
        ("seams.csv", seams(findings)?),
        ("points.csv", points(cell, findings)?),
        ("timeline.csv", timeline(cell, checked)?),
        ("path.csv", path::table(cell, checked, &services)?),
        ("plan-view.svg", drawing::plan_view(cell, findings).into_bytes()),
        ("side-view.svg", drawing::side_view(cell, findings).into_bytes()),
        (FINDINGS_FILE, json.into_bytes()),
    ])
}

/// One row a seam.
fn seams(findings: &Findings) -> Result<Vec<u8>, TableError> {
    let heads = [
        "number",
        "station",
        "seam",
        "joint",
        "procedure",
        "verdict",
        "unreached",
        "drawn_mm",
        "weld_mm",
        "runs",
        "corner_mm",
        "work_deg",
        "travel_deg",
        "ctwd_mm",
        "angles_at_mm",
        "clearance_body",
        "clearance_other",
        "clearance_mm",
        "clearance_asked_mm",
        "nearest_axis",
        "nearest_axis_left_deg",
        "hose_limit",
        "hose_left_deg",
        "wrist_left_deg",
        "fastest_axis",
        "fastest_axis_used_percent",
        "configuration",
        "taught_points",
        "reason",
        "hit_touched_up_percent",
        "hit_downloaded_percent",
        "needs",
        "across_allowed_mm",
        "across_worst_mm",
        "across_squares_mm",
        "along_wire_allowed_mm",
        "along_wire_worst_mm",
        "along_wire_squares_mm",
        "along_weld_worst_mm",
        "along_weld_squares_mm",
        "seam_gain_mm_mm",
        "position",
        "inclination_deg",
        "rotation_deg",
        "iso_6947",
        "iso_slope_deg",
        "iso_rotation_deg",
        "position_at_mm",
        "pass",
        "notes",
    ];
    let mut table = CsvTable::new("seams.csv", heads.map(str::to_owned).to_vec())?;
    for seam in &findings.seams {
        let fit_up = findings
            .fit_up
            .as_ref()
            .and_then(|fit_up| fit_up.seams.iter().find(|found| found.number == seam.number));
        let notes = seam.notes.join("; ");
        let last = [Field::Whole(seam.pass as usize), Field::Text(&notes)];
        let fields = seam_row(seam).into_iter().chain(fit_up_fields(fit_up));
        table.row(fields.chain(position_fields(seam)).chain(last))?;
    }
    table.into_bytes()
}

fn seam_row(seam: &SeamFindings) -> Vec<Field<'_>> {
    let angles = seam.worst_angles.as_ref();
    let mut row = vec![
        Field::Whole(seam.number),
        Field::Text(&seam.station),
        Field::Text(&seam.seam),
        Field::Text(seam.joint.name()),
        Field::Text(&seam.procedure),
        Field::Text(seam.verdict.key()),
        Field::Text(yes_or_no(seam.unreached)),
        mm(seam.drawn_mm),
        mm(seam.weld_mm),
        Field::Whole(seam.runs),
        mm(seam.corner_mm),
        maybe(angles.map(|angles| angles.work_deg), deg),
        maybe(angles.map(|angles| angles.travel_deg), deg),
        maybe(angles.map(|angles| angles.ctwd_mm), mm),
        maybe(angles.map(|angles| angles.at_mm), mm),
    ];
    row.extend(margin_fields(seam));
    row.push(seam.configuration.as_deref().map_or(Field::Empty, Field::Text));
    row.push(Field::Whole(seam.taught.len()));
    row.push(seam.reason.as_deref().map_or(Field::Empty, Field::Text));
    row
}

/// The fields from `hit_touched_up_percent` to `seam_gain_mm_mm`.
fn fit_up_fields(found: Option<&SeamFitUpFindings>) -> [Field<'_>; 12] {
    let percent = |of: fn(&SeamFitUpFindings) -> Option<f64>| {
        maybe(found.and_then(of), |value| Field::Number(value, 4))
    };
    let offset =
        |of: fn(&OffsetFindings) -> f64| maybe(found.and_then(|found| found.offsets.as_ref()).map(of), mm);
    [
        percent(|found| found.hit_touched_up_percent),
        percent(|found| found.hit_downloaded_percent),
        found.and_then(|found| found.needs).map_or(Field::Empty, |needs| Field::Text(needs.name())),
        offset(|offsets| offsets.across_allowed_mm),
        offset(|offsets| offsets.across_worst_mm),
        offset(|offsets| offsets.across_squares_mm),
        offset(|offsets| offsets.along_wire_allowed_mm),
        offset(|offsets| offsets.along_wire_worst_mm),
        offset(|offsets| offsets.along_wire_squares_mm),
        offset(|offsets| offsets.along_weld_worst_mm),
        offset(|offsets| offsets.along_weld_squares_mm),
        maybe(found.and_then(|found| found.gain_mm_mm), mm),
    ]
}

/// The fields from `position` to `position_at_mm`.
fn position_fields(seam: &SeamFindings) -> [Field<'_>; 7] {
    let found = seam.position.as_ref();
    let angle = |of: fn(&PositionFindings) -> f64| maybe(found.map(of), deg);
    [
        found.map_or(Field::Empty, |found| Field::Text(found.position.name())),
        angle(|found| found.inclination_deg),
        angle(|found| found.rotation_deg),
        found.map_or(Field::Empty, |found| Field::Text(found.main.name())),
        angle(|found| found.slope_deg),
        angle(|found| found.turned_deg),
        maybe(found.map(|found| found.at_mm), mm),
    ]
}

fn yes_or_no(is_so: bool) -> &'static str {
    if is_so { "yes" } else { "no" }
}

/// The fields from `clearance_body` to `fastest_axis_used_percent`.
fn margin_fields(seam: &SeamFindings) -> [Field<'_>; 11] {
    let mut fields = [const { Field::Empty }; 11];
    for margin in &seam.margins {
        match &margin.room {
            Room::Clearance { body, other, distance_mm, asked_mm, .. } => {
                fields[0] = Field::Text(body);
                fields[1] = Field::Text(other);
                fields[2] = mm(*distance_mm);
                fields[3] = mm(*asked_mm);
            }
            Room::AxisRange { axis, left_deg } => {
                fields[4] = Field::Whole(*axis);
                fields[5] = deg(*left_deg);
            }
            Room::Hose { name, left_deg } => {
                fields[6] = Field::Text(name);
                fields[7] = deg(*left_deg);
            }
            Room::Wrist { left_deg } => fields[8] = deg(*left_deg),
            Room::AxisSpeed { axis, used_percent } => {
                fields[9] = Field::Whole(*axis);
                fields[10] = Field::Number(*used_percent, 6);
            }
            // These columns are of axes; findings.json has the motors.
            Room::MotorRange { .. } | Room::MotorSpeed { .. } => {}
        }
    }
    fields
}

/// Heads of the columns that say where the wire end is and how the torch stands.
pub(super) const POSE_AND_ANGLES: [&str; 11] =
    ["x_mm", "y_mm", "z_mm", "qw", "qx", "qy", "qz", "work_deg", "travel_deg", "turn_deg", "ctwd_mm"];

/// One row a point to teach.
fn points(cell: &Cell, findings: &Findings) -> Result<Vec<u8>, TableError> {
    let external = external_column_names(cell);
    let mut heads: Vec<String> =
        ["station", "seam", "point", "move", "circular", "s_mm"].map(str::to_owned).to_vec();
    heads.extend((1..=6).map(|axis| format!("axis{axis}_deg")));
    heads.extend(external.iter().cloned());
    heads.extend(POSE_AND_ANGLES.map(str::to_owned));
    heads.push("configuration".to_owned());
    let mut table = CsvTable::new("points.csv", heads)?;
    for seam in &findings.seams {
        for point in &seam.taught {
            let mut row = vec![
                Field::Text(&seam.station),
                Field::Text(&seam.seam),
                Field::Whole(point.point),
                Field::Text(point.kind.name()),
                Field::Text(yes_or_no(point.circular)),
                mm(point.s_mm),
            ];
            row.extend(point.axes_deg.map(deg));
            row.extend(external.iter().map(|name| maybe(point.external.get(name).copied(), deg)));
            row.extend(point.xyz_mm.map(mm));
            row.extend(point.quaternion_wxyz.map(part));
            row.extend([point.work_deg, point.travel_deg, point.turn_deg].map(deg));
            row.push(mm(point.ctwd_mm));
            row.push(Field::Text(&point.configuration));
            table.row(row)?;
        }
    }
    table.into_bytes()
}

/// One full cycle, arm, table and person side by side, and after it the ways to devices as they go after each station, with a column
/// that names them where there are any; only the head where there is no cycle.
fn timeline(cell: &Cell, checked: &Checked) -> Result<Vec<u8>, TableError> {
    let heads = ["start_s", "duration_s", "who", "activity", "station", "seam"];
    let services = checked
        .cycle
        .as_ref()
        .map_or_else(|_| Vec::new(), |cycle| production::service_steps(cell, &checked.schedule, cycle));
    let named = (!services.is_empty()).then_some("service");
    // Where several people load, which one; a file of one person stays as it was.
    let several = checked.cycle.as_ref().is_ok_and(|cycle| cycle.people() > 1);
    let numbered = several.then_some("person");
    let heads = heads.into_iter().chain(named).chain(numbered).map(str::to_owned).collect();
    let mut table = CsvTable::new("timeline.csv", heads)?;
    if let Ok(cycle) = &checked.cycle {
        for row in production::timeline(cell, &checked.schedule, cycle) {
            let fields = [
                s(row.start),
                s(row.duration),
                Field::Text(row.who.name()),
                Field::Text(row.activity.name()),
                Field::Text(&cell.stations[row.station.0].name),
                row.seam.map_or(Field::Empty, |seam| Field::Text(&cell.seams[seam.0].name)),
            ];
            let number = |person| {
                cell.stations
                    .iter()
                    .find(|station| station.person == person)
                    .map(|station| station.person_number)
            };
            let person = row.person.and_then(number).map_or(Field::Empty, Field::Whole);
            let person = numbered.map(|_| person);
            table.row(fields.into_iter().chain(named.map(|_| Field::Empty)).chain(person))?;
        }
        for step in services {
            let fields = [
                s(step.start),
                s(step.duration),
                Field::Text(production::Who::Arm.name()),
                Field::Text(if step.works { "service" } else { "service_way" }),
                Field::Text(&cell.stations[step.station.0].name),
                Field::Empty,
                Field::Text(&cell.service[step.service].name),
            ];
            table.row(fields.into_iter().chain(numbered.map(|_| Field::Empty)))?;
        }
    }
    table.into_bytes()
}
