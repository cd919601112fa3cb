//! Decides the columns of `path.csv`: what is proven, moment by moment, for anyone to recompute.

use seamwright_kinematics::units::{to_deg, to_mm};

use super::csv_table::{CsvTable, Field, TableError, deg, maybe, mm, part, s};
use super::files::POSE_AND_ANGLES;
use crate::cell::Cell;
use crate::cell::frames::AxisKind;
use crate::check::Checked;
use crate::findings::{external_column_names, quaternion_wxyz};
use crate::production::ArmDay;
use crate::schedule::{PathRow, ServiceRow};

/// The whole file: the round, each row with the instant of the cycle at which it is, where there is one; after it the ways to devices, with a column that
/// names them where there are any.
pub(super) fn table(cell: &Cell, checked: &Checked, services: &[ServiceRow]) -> Result<Vec<u8>, TableError> {
    let day = ArmDay::new(cell, &checked.schedule, checked.cycle.as_ref().ok());
    let mut heads: Vec<String> =
        ["t_s", "phase", "station", "seam", "pass", "s_mm"].map(str::to_owned).to_vec();
    heads.extend((1..=6).map(|axis| format!("axis{axis}_deg")));
    heads.extend(external_column_names(cell));
    heads.extend(POSE_AND_ANGLES.map(str::to_owned));
    heads.extend(["speed_mm_s", "clearance_mm", "cycle_s"].map(str::to_owned));
    // What turns while the arm is elsewhere stands in the cycle not where the arm's own round has it.
    let tables: Vec<usize> = day.tables_at(0.0).into_keys().collect();
    heads.extend(tables.iter().map(|axis| format!("{}_in_cycle_deg", cell.frames.axes[*axis].name)));
    let named = !services.is_empty();
    heads.extend(named.then(|| "service".to_owned()));
    let mut table = CsvTable::new("path.csv", heads)?;
    let standing_in_cycle = tables_in_cycle(cell, checked, &day, &tables);
    for (row, standing) in checked.path.iter().zip(&standing_in_cycle) {
        let in_cycle = day.instant_of(&checked.schedule, row.t);
        let standing = standing.iter().map(|value| maybe(value.map(to_deg), deg));
        let rest = [maybe(in_cycle, s)].into_iter().chain(standing).chain(named.then_some(Field::Empty));
        table.row(fields(cell, row, row.phase.name()).into_iter().chain(rest))?;
    }
    for service in services {
        let name = Field::Text(&cell.service[service.service].name);
        table.row(
            fields(cell, &service.row, service.phase.name())
                .into_iter()
                .chain([Field::Empty])
                .chain(tables.iter().map(|_| Field::Empty))
                .chain([name]),
        )?;
    }
    table.into_bytes()
}

/// Where tables stand in the cycle at each row, rad: what turns without end counts on from row to row, from what the arm's own round has of
/// it in the first.
fn tables_in_cycle(cell: &Cell, checked: &Checked, day: &ArmDay, tables: &[usize]) -> Vec<Vec<Option<f64>>> {
    let mut before: Vec<f64> = checked
        .path
        .first()
        .map_or_else(Vec::new, |row| tables.iter().map(|axis| row.external[*axis]).collect());
    let of_row = |row: &PathRow| {
        let all = day.instant_of(&checked.schedule, row.t).map(|time| day.tables_at(time));
        let each = tables.iter().zip(&mut before).map(|(axis, before)| {
            let value = all.as_ref()?.get(axis)?;
            *before = cell.frames.axes[*axis].counted_on(*before, *value);
            Some(*before)
        });
        each.collect()
    };
    checked.path.iter().map(of_row).collect()
}

fn fields<'a>(cell: &'a Cell, row: &PathRow, phase: &'a str) -> Vec<Field<'a>> {
    let place = row.place.as_ref();
    let angles = place.map(|place| place.angles);
    let position = &row.world_from_wire_end.translation.vector;
    let mut fields = vec![
        s(row.t),
        Field::Text(phase),
        Field::Text(&cell.stations[row.station.0].name),
        row.seam.map_or(Field::Empty, |seam| Field::Text(&cell.seams[seam.0].name)),
        place.map_or(Field::Empty, |place| Field::Whole(place.pass as usize)),
        maybe(place.map(|place| to_mm(place.s)), mm),
    ];
    fields.extend(row.axes.iter().map(|axis| deg(to_deg(*axis))));
    fields.extend(cell.frames.axes.iter().zip(&row.external).map(|(axis, value)| match axis.kind {
        AxisKind::Turn => deg(to_deg(*value)),
        AxisKind::Slide => mm(to_mm(*value)),
    }));
    fields.extend(position.iter().map(|metres| mm(to_mm(*metres))));
    fields.extend(quaternion_wxyz(&row.world_from_wire_end).map(part));
    let angle = |of: fn(&crate::plan::TorchAngles) -> f64| maybe(angles.as_ref().map(of).map(to_deg), deg);
    fields.extend([angle(|a| a.work), angle(|a| a.travel), angle(|a| a.turn)]);
    fields.extend([mm(to_mm(row.ctwd)), mm(to_mm(row.speed)), mm(to_mm(row.clearance))]);
    fields
}
