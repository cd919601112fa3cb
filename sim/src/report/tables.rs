//! Decides how tables on the screen look: units in the heads, one fixed number of decimals a column, rows in the cell's order.

use comfy_table::CellAlignment::{self, Left, Right};
use comfy_table::{Cell, ColumnConstraint, ContentArrangement, Table, Width, presets};

use super::page::COLUMNS;
use crate::findings::words::{LengthUnit, fixed};
use crate::findings::{
    AxisFindings, ContributionFindings, DependentRangeFindings, ElementFindings, MeasurementFindings,
    MotorFindings, Placed, Room, SeamComfort, SeamFindings, SeamFitUpFindings, StationTime,
};

/// One row a seam, of one station: two lines each, numbers above names.
pub(super) fn seams(seams: &[&SeamFindings], unit: LengthUnit) -> String {
    let weld = format!("weld\n{}", unit.name());
    let clearance = format!("nearest bodies {}\n(asked)", unit.name());
    let mut table = table(&[
        ("no.", Right, 5),
        ("seam", Left, 20),
        ("verdict", Left, 9),
        (&weld, Right, 8),
        ("work / travel\nat worst °", Right, 15),
        (&clearance, Left, 20),
        ("axis\nroom °", Left, 8),
        ("arm\nstands", Left, 10),
        ("to\nteach", Right, 5),
    ]);
    for seam in seams {
        table.add_row([
            seam.number.to_string(),
            seam.seam.clone(),
            seam.answer().to_owned(),
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
    let heads = [
        ("station", Left, 12),
        ("arm\ns", Right, 8),
        ("arc on\ns", Right, 8),
        ("gas,\nstart,\ncrater s", Right, 10),
        ("cooling\ns", Right, 9),
        ("in, out,\nshift s", Right, 10),
        ("air\ns", Right, 7),
        ("axes\ns", Right, 6),
        ("at\nleast s", Right, 9),
        ("to\nnext s", Right, 8),
        ("person\ns", Right, 8),
        ("parts", Right, 5),
    ];
    let mut table = table(&heads);
    for station in stations {
        let seconds = [
            station.arm_s,
            station.arc_s,
            station.arc_ends_s,
            station.cooling_s,
            station.ways_s,
            station.air_s,
            station.external_s,
            station.least_possible_s,
            station.index_s,
            station.person_s,
        ];
        let mut row = vec![station.station.clone()];
        let widths = heads[1..].iter().map(|(_, _, width)| usize::from(*width));
        row.extend(seconds.iter().zip(widths).map(|(seconds, width)| on_one_line(*seconds, width)));
        row.push(station.parts_per_load.to_string());
        table.add_row(row);
    }
    text(&table)
}

/// Seconds with a decimal where that stands on one line of the column.
fn on_one_line(seconds: f64, width: usize) -> String {
    let with_tenths = fixed(seconds, 1);
    if with_tenths.len() + PADDING > width { fixed(seconds, 0) } else { with_tenths }
}

/// What a load goes into, one row an element of an estimate.
pub(super) fn elements(elements: &[ElementFindings]) -> String {
    let mut table = table(&[
        ("what", Left, 22),
        ("row", Left, 20),
        ("whose", Left, 8),
        ("quantity", Right, 12),
        ("each s\nlow / expected / high", Right, 17),
        ("in a load s\nlow / expected / high", Right, 21),
    ]);
    for element in elements {
        // Below a second a tenth matters, and a metre of weld takes a hundred.
        let decimals = if element.each_s.expected < 20.0 { 1 } else { 0 };
        table.add_row([
            element.what.clone(),
            element.row.clone().unwrap_or_else(none),
            element.whose.name().to_owned(),
            quantity(element),
            element.each_s.all(decimals),
            element.total_s.all(0),
        ]);
    }
    text(&table)
}

fn quantity(element: &ElementFindings) -> String {
    match element.counted_in.as_str() {
        "m" => format!("{} m", fixed(element.quantity, 2)),
        _ => format!("{} ×", fixed(element.quantity, 0)),
    }
}

/// Measured times beside fitted ones, one row a measurement.
pub(super) fn measurements(measurements: &[MeasurementFindings]) -> String {
    let mut table = table(&[
        ("line", Right, 6),
        ("of", Left, 40),
        ("measured\ns", Right, 12),
        ("before\ns", Right, 12),
        ("fitted\ns", Right, 12),
        ("off\n%", Right, 10),
    ]);
    for measurement in measurements {
        let seconds = [measurement.measured_s, measurement.before_s, measurement.fitted_s];
        let mut row = vec![measurement.line.to_string(), measurement.what.clone()];
        row.extend(seconds.map(|seconds| fixed(seconds, 3)));
        row.push(fixed(measurement.off_percent, 1));
        table.add_row(row);
    }
    text(&table)
}

/// How often the wire hits each seam, and what puts it off.
pub(super) fn fit_up(seams: &[&SeamFitUpFindings], unit: LengthUnit) -> String {
    let across = format!("across {}: worst,\nsquares (allowed)", unit.name());
    let mut table = table(&[
        ("no.", Right, 5),
        ("seam", Left, 22),
        ("hit % touched\nup / as is", Right, 15),
        (&across, Right, 19),
        ("needs", Left, 10),
        ("most of it from", Left, 29),
    ]);
    for seam in seams {
        let share = |percent: Option<f64>| percent.map_or_else(none, |percent| fixed(percent, 1));
        table.add_row([
            seam.number.to_string(),
            seam.seam.clone(),
            format!("{} / {}", share(seam.hit_touched_up_percent), share(seam.hit_downloaded_percent)),
            seam.offsets.as_ref().map_or_else(none, |offsets| {
                format!(
                    "{}, {} ({})",
                    unit.fine(offsets.across_worst_mm),
                    unit.fine(offsets.across_squares_mm),
                    unit.fine(offsets.across_allowed_mm)
                )
            }),
            seam.needs.map_or_else(none, |needs| needs.name().to_owned()),
            seam.contributions.first().map_or_else(none, ContributionFindings::sentence),
        ]);
    }
    text(&table)
}

/// The least room at each kind of limit of every seam, and where along it: above, the room; below, the place.
pub(super) fn room(seams: &[&SeamFindings], unit: LengthUnit) -> String {
    let spare = format!("spare\nclearance {}", unit.name());
    let mut table = table(&[
        ("no.", Right, 5),
        ("seam", Left, 29),
        ("axis °", Right, 13),
        ("hose °", Right, 13),
        ("straight\nwrist °", Right, 13),
        (&spare, Right, 14),
        ("angles\nused %", Right, 12),
    ]);
    for seam in seams {
        let of = |is: fn(&Room, LengthUnit) -> Option<String>| {
            let found = seam.margins.iter().find_map(|margin| Some((is(&margin.room, unit)?, margin)));
            found.map_or_else(none, |(room, margin)| format!("{room}\n{}", margin.place.short(unit)))
        };
        table.add_row([
            seam.number.to_string(),
            seam.seam.clone(),
            of(|room, _| match room {
                Room::AxisRange { axis, left_deg } => Some(format!("{}, axis {axis}", fixed(*left_deg, 1))),
                _ => None,
            }),
            of(|room, _| match room {
                Room::Hose { left_deg, .. } => Some(fixed(*left_deg, 1)),
                _ => None,
            }),
            of(|room, _| match room {
                Room::Wrist { left_deg } => Some(fixed(*left_deg, 1)),
                _ => None,
            }),
            of(|room, unit| match room {
                Room::Clearance { spare_mm, .. } => Some(unit.number(*spare_mm)),
                _ => None,
            }),
            seam.worst_angles.as_ref().map_or_else(none, |angles| {
                format!("{}\nat {}", fixed(angles.used_percent, 0), unit.place_number(angles.at_mm))
            }),
        ]);
    }
    text(&table)
}

/// How far the fixture may stray before each seam's taught way is lost.
pub(super) fn stray(seams: &[SeamComfort], unit: LengthUnit) -> String {
    let heads = ["+x", "−x", "+y", "−y", "+z", "−z"].map(|name| format!("{name}\n{}", unit.name()));
    let [x, minus_x, y, minus_y, z, minus_z] = &heads;
    let mut table = table(&[
        ("no.", Right, 5),
        ("seam", Left, 33),
        (x, Right, 7),
        (minus_x, Right, 7),
        (y, Right, 7),
        (minus_y, Right, 7),
        (z, Right, 7),
        (minus_z, Right, 7),
        ("counter-\nclockwise °", Right, 13),
        ("clock-\nwise °", Right, 7),
    ]);
    for seam in seams {
        let mut row = vec![seam.number.to_string(), seam.seam.clone()];
        row.extend(seam.at_least.shift_mm.map(|mm| match unit {
            LengthUnit::Millimetre => fixed(mm, 0),
            LengthUnit::Inch => unit.number(mm),
        }));
        row.extend(seam.at_least.turn_deg.map(|turn| fixed(turn, 1)));
        table.add_row(row);
    }
    text(&table)
}

/// What limits each axis of an arm.
pub(super) fn axes(axes: &[AxisFindings]) -> String {
    let mut table = table(&[
        ("axis", Right, 6),
        ("from °", Right, 12),
        ("to °", Right, 12),
        ("speed\n°/s", Right, 12),
        ("acceleration\n°/s²", Right, 16),
        ("jerk\n°/s³", Right, 16),
        ("joint of the URDF", Left, 24),
    ]);
    let number = |value: Option<f64>| value.map_or_else(none, |value| fixed(value, 3));
    let limit = |value: Option<f64>, is_assumed: bool| {
        let mark = if is_assumed { "*" } else { "" };
        value.map_or_else(none, |value| format!("{}{mark}", fixed(value, 1)))
    };
    for axis in axes {
        let end = |value: Option<f64>| value.map_or_else(|| "no range".to_owned(), |value| fixed(value, 3));
        table.add_row([
            axis.axis.to_string(),
            end(axis.min_deg),
            end(axis.max_deg),
            number(axis.max_speed_deg_s),
            limit(axis.max_acceleration_deg_s2, axis.acceleration_assumed),
            limit(axis.max_jerk_deg_s3, axis.jerk_assumed),
            axis.urdf_joint.clone().unwrap_or_default(),
        ]);
    }
    text(&table)
}

/// What limits each motor of an arm.
pub(super) fn motors(motors: &[MotorFindings]) -> String {
    let mut table =
        table(&[("motor", Right, 7), ("from °", Right, 12), ("to °", Right, 12), ("speed\n°/s", Right, 10)]);
    let number = |value: Option<f64>| value.map_or_else(none, |value| fixed(value, 3));
    for motor in motors {
        table.add_row([
            motor.motor.to_string(),
            number(motor.min_deg),
            number(motor.max_deg),
            number(motor.max_speed_deg_s),
        ]);
    }
    text(&table)
}

/// The range of an axis at each stated value of another.
pub(super) fn dependent_range(dependent: &DependentRangeFindings) -> String {
    let other = format!("axis {} °", dependent.by_axis);
    let mut table = table(&[(&other, Right, 12), ("from °", Right, 12), ("to °", Right, 10)]);
    for point in &dependent.points {
        table.add_row([point.at_deg, point.min_deg, point.max_deg].map(|value| fixed(value, 3)));
    }
    text(&table)
}

/// Where each link stands, in the base frame.
pub(super) fn links(links: &[Placed]) -> String {
    let mut table = table(&[
        ("link", Right, 6),
        ("x mm", Right, 14),
        ("y mm", Right, 14),
        ("z mm", Right, 14),
        ("qw", Right, 11),
        ("qx", Right, 11),
        ("qy", Right, 11),
        ("qz", Right, 11),
    ]);
    for (link, placed) in links.iter().enumerate() {
        let mut row = vec![link.to_string()];
        row.extend(placed.position_mm.map(|value| fixed(value, 6)));
        row.extend(placed.quaternion_wxyz.map(|part| fixed(part, 6)));
        table.add_row(row);
    }
    text(&table)
}

fn clearance_of(seam: &SeamFindings, unit: LengthUnit) -> String {
    let pair = seam.margins.iter().find_map(|margin| match &margin.room {
        Room::Clearance { body, other, distance_mm, asked_mm, .. } => {
            Some(format!("{} ({})\n{body} to {other}", unit.number(*distance_mm), unit.number(*asked_mm)))
        }
        _ => None,
    });
    pair.unwrap_or_else(none)
}

fn axis_of(seam: &SeamFindings) -> String {
    let axis = seam.margins.iter().find_map(|margin| match &margin.room {
        Room::AxisRange { axis, left_deg } => Some(format!("{}\naxis {axis}", fixed(*left_deg, 1))),
        _ => None,
    });
    axis.unwrap_or_else(none)
}

/// Between one column and the next.
const PADDING: usize = 2;

/// An empty table with these heads, each with the width of its column, the gap after it included.
fn table(heads: &[(&str, CellAlignment, u16)]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(COLUMNS as u16)
        .set_header(heads.iter().map(|(head, align, _)| Cell::new(head).set_alignment(*align)));
    for (column, (_, align, width)) in table.column_iter_mut().zip(heads) {
        column.set_cell_alignment(*align);
        column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(*width)));
        column.set_padding((0, PADDING as u16));
    }
    // Nothing stands after the last column.
    if let Some(last) = table.column_mut(heads.len() - 1) {
        last.set_padding((0, 0));
    }
    table
}

fn text(table: &Table) -> String {
    table.trim_fmt()
}

fn none() -> String {
    "-".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight columns hold six figures and the two that part them from the next column.
    #[test]
    fn seconds_that_would_break_over_two_lines_lose_their_tenths() {
        let shown = [9999.9, 36000.0, 24461.9].map(|seconds| on_one_line(seconds, 8));
        assert_eq!(shown, ["9999.9", "36000", "24462"]);
    }
}
