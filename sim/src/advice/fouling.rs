//! Decides whether what a change moves, or a fixture that strays, would run into what stands there already.

use crate::cell::{Cell, ShapeId, StationId};
use crate::plan::clearance::Still;
use crate::plan::{are_there_together, by_drawing, still};
use crate::units;

use super::change::{Change, moved_with};

/// Things that are no farther apart bear each other, mm.
const BEARS_MM: f64 = 0.5;

/// Whether a shape that `change` moves overlaps another one deeper than it did before. The arm's foot is not looked at.
pub(super) fn fouls(before: &Cell, after: &Cell, change: &Change) -> bool {
    let moved: Vec<ShapeId> = match change {
        Change::Move { drawn, .. } => moved_with(before, drawn)
            .into_iter()
            .flat_map(|index| before.drawn[index].pieces.iter().map(|piece| piece.shape))
            .collect(),
        Change::Shift { station, .. } | Change::Turn { station, .. } => {
            let of_station = |index: &usize| before.shapes[*index].station == Some(*station);
            (0..before.shapes.len()).filter(of_station).map(ShapeId).collect()
        }
        _ => return false,
    };
    moved.iter().any(|one| {
        let others = (0..before.shapes.len()).map(ShapeId).filter(|other| !moved.contains(other));
        others.filter(|other| are_there_together(before, *one, *other)).any(|other| {
            let now = depth(after, *one, other);
            now > by_drawing() && now > depth(before, *one, other) + by_drawing()
        })
    })
}

/// What stands in the cell in which the fixture of a station, or a part in it, comes to stand; not what it is nearer to as drawn than things
/// that bear each other are.
pub(super) fn runs_into(before: &Cell, after: &Cell, station: StationId) -> Option<ShapeId> {
    let (own, others): (Vec<ShapeId>, Vec<ShapeId>) = (0..before.shapes.len())
        .map(ShapeId)
        .partition(|shape| before.shapes[shape.0].station == Some(station));
    let meets = |one: ShapeId, other: ShapeId| {
        are_there_together(before, one, other)
            && depth(after, one, other) > 0.0
            && apart(before, one, other) > units::mm(BEARS_MM)
    };
    others.into_iter().find(|other| own.iter().any(|one| meets(*one, *other)))
}

/// How deep two shapes overlap while the external axes stand as the station of the first says, m; 0 where they do not.
fn depth(cell: &Cell, one: ShapeId, other: ShapeId) -> f64 {
    let [one, other] = both(cell, one, other);
    one.distance(&other, 0.0).map_or(0.0, |distance| -distance)
}

/// How far apart they are then, m, no farther than is asked about.
fn apart(cell: &Cell, one: ShapeId, other: ShapeId) -> f64 {
    let [one, other] = both(cell, one, other);
    one.gap(&other, 2.0 * units::mm(BEARS_MM)).unwrap_or(f64::INFINITY)
}

fn both(cell: &Cell, one: ShapeId, other: ShapeId) -> [Still; 2] {
    let station = cell.shapes[one.0].station.or(cell.shapes[other.0].station);
    let external =
        station.map_or_else(|| cell.frames.rest(), |station| cell.stations[station.0].external.clone());
    [one, other].map(|shape| still(cell, shape, &external))
}
