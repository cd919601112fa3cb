//! Decides how tables on the screen look: units in the heads, one fixed number of decimals a column, rows in the cell's order.

use comfy_table::CellAlignment::{self, Left, Right};
use comfy_table::{Cell, ContentArrangement, Table, presets};

use super::terminal::COLUMNS;
use crate::findings::words::{LengthUnit, fixed};
use crate::findings::{Room, SeamFindings, StationTime};

/// One row a seam, of one station.
pub(super) fn seams(seams: &[&SeamFindings], unit: LengthUnit) -> String {
    let clearance = format!("nearest bodies\n(asked) {}", unit.name());
    let heads = [
        ("no.", Right),
        ("seam", Left),
        ("verdict", Left),
        (if unit == LengthUnit::Inch { "weld\nin" } else { "weld\nmm" }, Right),
        ("work / travel\nat worst °", Right),
        (clearance.as_str(), Left),
        ("nearest axis\nlimit °", Left),
        ("arm stands", Left),
        ("points\nto teach", Right),
    ];
    let mut table = table(&heads);
    for seam in seams {
        table.add_row([
            seam.number.to_string(),
            seam.seam.clone(),
            seam.verdict.name().to_owned(),
            unit.number(seam.weld_mm),
            seam.worst_angles.as_ref().map_or_else(none, |angles| {
                format!("{} / {}", fixed(angles.work_deg, 1), fixed(angles.travel_deg, 1))
            }),
            clearance_of(seam, unit),
            axis_of(seam),
            seam.configuration.clone().unwrap_or_else(none),
            if seam.taught.is_empty() { none() } else { seam.taught.len().to_string() },
        ]);
    }
    text(&table)
}

/// What the arm's time goes into, one row a station.
pub(super) fn times(stations: &[StationTime]) -> String {
    let mut table = table(&[
        ("station", Left),
        ("arm\ns", Right),
        ("arc on\ns", Right),
        ("gas, start,\ncrater s", Right),
        ("in, out,\nshift s", Right),
        ("air\ns", Right),
        ("external\naxes s", Right),
        ("at least\ns", Right),
        ("to next\ns", Right),
        ("person\ns", Right),
        ("parts", Right),
    ]);
    for station in stations {
        let seconds = [
            station.arm_s,
            station.arc_s,
            station.arc_ends_s,
            station.ways_s,
            station.air_s,
            station.external_s,
            station.least_possible_s,
            station.index_s,
            station.person_s,
        ];
        let mut row = vec![station.station.clone()];
        row.extend(seconds.map(|seconds| fixed(seconds, 1)));
        row.push(station.parts_per_load.to_string());
        table.add_row(row);
    }
    text(&table)
}

fn clearance_of(seam: &SeamFindings, unit: LengthUnit) -> String {
    let pair = seam.margins.iter().find_map(|margin| match &margin.room {
        Room::Clearance { body, other, distance_mm, asked_mm, .. } => {
            Some(format!("{} ({}) {body} - {other}", unit.number(*distance_mm), unit.number(*asked_mm)))
        }
        _ => None,
    });
    pair.unwrap_or_else(none)
}

fn axis_of(seam: &SeamFindings) -> String {
    let axis = seam.margins.iter().find_map(|margin| match &margin.room {
        Room::AxisRange { axis, left_deg } => Some(format!("axis {axis}: {}", fixed(*left_deg, 1))),
        _ => None,
    });
    axis.unwrap_or_else(none)
}

/// An empty table of ours with these heads.
fn table(heads: &[(&str, CellAlignment)]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(COLUMNS as u16)
        .set_header(heads.iter().map(|(head, align)| Cell::new(head).set_alignment(*align)));
    for (column, (_, align)) in table.column_iter_mut().zip(heads) {
        column.set_cell_alignment(*align);
        column.set_padding((0, 2));
    }
    table
}

fn text(table: &Table) -> String {
    table.trim_fmt()
}

fn none() -> String {
    "-".to_owned()
}
