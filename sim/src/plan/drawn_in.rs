//! Decides which shapes stand in one another as they are drawn, and how deep shapes overlap.

use std::collections::BTreeMap;

use super::clearance::Still;
use crate::cell::{Cell, Presence, Role, Shape, ShapeId, StationId};
use crate::units;

/// Two shapes that cannot stand there both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawnIn {
    /// That of a station, the first of two.
    pub one: ShapeId,
    /// That of another station, or of none.
    pub other: ShapeId,
    /// How deep they overlap, m.
    pub depth: f64,
}

/// Shapes of a file may overlap by drawing; by more than this they stand in one another, m.
pub(crate) fn by_drawing() -> f64 {
    units::mm(0.5)
}

/// Of every two stations the shapes that are deepest in one another, while the external axes stand as the first of them says; and of every
/// station those of two copies of its fixture. One of the two is a part or a clamp.
#[must_use]
pub fn stations_in_one_another(cell: &Cell) -> Vec<DrawnIn> {
    let stations = || (0..cell.stations.len()).map(StationId);
    let of = |station| move |shape: &Shape| shape.station == Some(station);
    let pairs = stations().flat_map(|one| stations().skip(one.0).map(move |other| (one, other)));
    let copies = copies(cell);
    let copy = |shape: ShapeId| copies.get(&shape);
    pairs
        .filter_map(|(one, other)| {
            let are_others = |a, b| one != other || copy(a) < copy(b);
            deepest(cell, one, of(one), of(other), |a, b| are_others(a, b) && !are_of_fixtures(cell, a, b))
        })
        .collect()
}

/// Whether both are of fixtures alone: what two of them are built on may be drawn with each.
fn are_of_fixtures(cell: &Cell, one: ShapeId, other: ShapeId) -> bool {
    [one, other].iter().all(|shape| cell.shapes[shape.0].role == Role::Fixture)
}

/// Which copy of its fixture a shape belongs to, counted over all stations; none of what stands around.
fn copies(cell: &Cell) -> BTreeMap<ShapeId, usize> {
    let of_fixtures = cell.drawn.iter().filter(|drawn| drawn.fixture.is_some());
    of_fixtures
        .flat_map(|drawn| drawn.pieces.iter().enumerate().map(|(copy, piece)| (piece.shape, copy)))
        .collect()
}

/// Of every station the part that is deepest in what stands around, while the external axes stand as it says.
#[must_use]
pub fn parts_in_surroundings(cell: &Cell) -> Vec<DrawnIn> {
    let stations = (0..cell.stations.len()).map(StationId);
    let part = |station| move |shape: &Shape| shape.station == Some(station) && shape.role == Role::Part;
    stations
        .filter_map(|station| {
            deepest(cell, station, part(station), |shape| shape.station.is_none(), |_, _| true)
        })
        .collect()
}

/// Of some shapes and others that are asked about, the two that are deepest in one another, the first where several are.
fn deepest(
    cell: &Cell,
    station: StationId,
    is_one: impl Fn(&Shape) -> bool,
    is_other: impl Fn(&Shape) -> bool,
    are_asked: impl Fn(ShapeId, ShapeId) -> bool,
) -> Option<DrawnIn> {
    let external = &cell.stations[station.0].external;
    let some = |is: &dyn Fn(&Shape) -> bool| -> Vec<(ShapeId, Still)> {
        let ids = (0..cell.shapes.len()).map(ShapeId).filter(|shape| is(&cell.shapes[shape.0]));
        ids.map(|shape| (shape, still(cell, shape, external))).collect()
    };
    let (ones, others) = (some(&is_one), some(&is_other));
    let overlaps = ones.iter().flat_map(|(one, mine)| {
        others
            .iter()
            .filter(|(other, _)| are_asked(*one, *other) && are_there_together(cell, *one, *other))
            .filter_map(move |(other, theirs)| {
                let depth = -mine.distance(theirs, 0.0)?;
                Some(DrawnIn { one: *one, other: *other, depth })
            })
    });
    overlaps
        .filter(|overlap| overlap.depth > by_drawing())
        .reduce(|deepest, next| if next.depth > deepest.depth { next } else { deepest })
}

/// Whether two shapes are ever there at the same time.
pub(crate) fn are_there_together(cell: &Cell, one: ShapeId, other: ShapeId) -> bool {
    let (one, other) = (&cell.shapes[one.0], &cell.shapes[other.0]);
    let apart = |a: &Shape, b: &Shape| {
        a.station == b.station && (a.presence, b.presence) == (Presence::Loaded, Presence::Empty)
    };
    !apart(one, other) && !apart(other, one)
}

/// A shape where it stands in the world.
pub(crate) fn still(cell: &Cell, shape: ShapeId, external: &[f64]) -> Still {
    let shape = &cell.shapes[shape.0];
    Still::new([(&shape.solid, cell.frames.world_from(shape.frame, external) * shape.frame_from_shape)])
}
