//! Decides whether a stated time of an index is one that its axis can keep.

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Basis, units};

use super::frames;
use super::station::Placed;
use crate::cell::frames::{AxisKind, ExternalAxis, shorter_way};

/// Times in files have few decimals; one that is exactly met is kept, s.
const ROUNDING: f64 = 1e-6;

/// No index between values that stations and seams ask for is stated shorter than the axis takes by its own speed and, where that is
/// stated, acceleration.
pub(super) fn check(root: &Table<'_>, tree: &frames::Read, placed: &Placed) {
    let Placed { stations, seams, .. } = placed;
    // Where a station could not be read, it is not known what follows what.
    if stations.len() < root.tables("station").len() {
        return;
    }
    for table in root.tables("axis").into_iter().filter(|table| table.has("index_s")) {
        let Some(index) = table.opt_text("name").and_then(|name| tree.axis_named(&name)) else { continue };
        let axis = &tree.frames.axes[index];
        let Some(stated) = axis.index_time else { continue };
        let next = stations.iter().cycle().skip(1);
        let between = stations.iter().zip(next).map(|(one, other)| [&one.external, &other.external]);
        let in_station = seams.iter().map(|seam| [&stations[seam.station.0].external, &seam.external]);
        let ways: Vec<f64> =
            between.chain(in_station).map(|[from, to]| axis.way(from[index], to[index])).collect();
        let longest_of = |ways: &mut dyn Iterator<Item = f64>| ways.map(f64::abs).fold(0.0, f64::max);
        let longest = longest_of(&mut ways.iter().copied());
        let least = least_time(axis, longest);
        if stated < least - ROUNDING {
            let (unit, way) = match axis.kind {
                AxisKind::Turn => ("deg", units::to_deg(longest)),
                AxisKind::Slide => ("mm", units::to_mm(longest)),
            };
            let by = if axis.acceleration_basis == Basis::File {
                format!("max_speed_{unit}_s and max_acceleration_{unit}_s2")
            } else {
                format!("max_speed_{unit}_s alone")
            };
            // Rounded up, so that what is written is enough.
            let enough = (least * 1e3).ceil() / 1e3;
            let turned_on = longest_of(&mut ways.iter().map(|way| shorter_way(*way)));
            let would_do = axis.kind == AxisKind::Turn && stated >= least_time(axis, turned_on) - ROUNDING;
            let or_endless = if would_do {
                "; where it turns on without end and need not go back, endless = true in place of its range"
            } else {
                ""
            };
            let right =
                format!("write {enough} or more, or a greater speed or acceleration of the axis{or_endless}");
            table.problem(
                "index_s",
                format!("by its own {by} the axis needs {least:.3} s for {way:.1} {unit}"),
                right,
            );
        }
    }
}

/// From rest to rest, s.
fn least_time(axis: &ExternalAxis, way: f64) -> f64 {
    let speed = axis.max_speed;
    if axis.acceleration_basis != Basis::File {
        return way / speed;
    }
    let acceleration = axis.max_acceleration;
    if way < speed * speed / acceleration {
        2.0 * (way / acceleration).sqrt()
    } else {
        way / speed + speed / acceleration
    }
}
