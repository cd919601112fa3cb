//! Decides whether what a change moves, or a fixture that strays, would run into what stands there already.

use crate::cell::{Cell, Presence, Shape, ShapeId, StationId};
use crate::plan::clearance::Still;
use crate::units;

use super::change::{Change, moved_with};

/// Things that are no farther apart bear each other, mm.
const BEARS_MM: f64 = 0.5;

/// Shapes of a file may overlap by drawing; deeper than before by this is a collision.
fn deeper() -> f64 {
    units::mm(0.5)
}

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
        others.filter(|other| together(before, *one, *other)).any(|other| {
            let now = depth(after, *one, other);
            now > deeper() && now > depth(before, *one, other) + deeper()
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
        together(before, one, other)
            && depth(after, one, other) > 0.0
            && apart(before, one, other) > units::mm(BEARS_MM)
    };
    others.into_iter().find(|other| own.iter().any(|one| meets(*one, *other)))
}

/// Whether two shapes are ever there at the same time.
fn together(cell: &Cell, one: ShapeId, other: ShapeId) -> bool {
    let (one, other) = (&cell.shapes[one.0], &cell.shapes[other.0]);
    let apart = |a: &Shape, b: &Shape| {
        a.station == b.station && (a.presence, b.presence) == (Presence::Loaded, Presence::Empty)
    };
    !apart(one, other) && !apart(other, one)
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
    [one, other].map(|shape| {
        let shape = &cell.shapes[shape.0];
        let world_from_shape = cell.frames.world_from(shape.frame, &external) * shape.frame_from_shape;
        Still::new([(&shape.solid, world_from_shape)])
    })
}
