//! Decides whether what a change moves, or a fixture that strays, would run into what stands there already.

use nalgebra::Vector3;

use crate::cell::{Cell, Shape, ShapeId, StationId};
use crate::fitup::farthest_along;
use crate::plan::clearance::Still;
use crate::plan::{are_there_together, by_drawing, still};
use crate::units;

use super::change::{Change, moved_with};

/// Things that are no farther apart bear each other, mm.
const BEARS_MM: f64 = 0.5;

/// What comes no deeper into anything than it was touches it, mm.
const TOUCHING_MM: f64 = 0.05;

/// Whether a shape that `change` moves overlaps another one deeper than it did before. The arm's foot is not looked at.
pub(super) fn fouls(before: &Cell, after: &Cell, change: &Change) -> bool {
    change.singly().iter().any(|single| fouls_singly(before, after, single))
}

/// The same of one of the changes that were made.
fn fouls_singly(before: &Cell, after: &Cell, change: &Change) -> bool {
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
        others
            .filter(|other| are_there_together(before, *one, *other))
            .any(|other| depth(after, *one, other) > depth(before, *one, other) + units::mm(TOUCHING_MM))
    })
}

/// What a fixture that strays may run into: things of a station, and things that stand beside it.
pub(super) struct Beside {
    /// A shape of the station's, another, and how far they are apart as drawn, m: minus their depth where they overlap.
    pairs: Vec<(ShapeId, ShapeId, f64)>,
}

impl Beside {
    /// Nothing that is farther from the fixture as drawn than `within` (m) is among them.
    pub(super) fn of(cell: &Cell, station: StationId, within: f64) -> Self {
        let (own, others): (Vec<ShapeId>, Vec<ShapeId>) = (0..cell.shapes.len())
            .map(ShapeId)
            .partition(|shape| cell.shapes[shape.0].station == Some(station));
        let pairs = own.iter().flat_map(|one| others.iter().map(move |other| (*one, *other)));
        let pairs = pairs.filter(|(one, other)| are_there_together(cell, *one, *other));
        let pairs = pairs.filter_map(|(one, other)| Some((one, other, apart(cell, one, other, within)?)));
        Self { pairs: pairs.collect() }
    }

    /// What bears the fixture: in what touches it, or overlaps it, as drawn it would sink by so little as `sunk` says.
    pub(super) fn bearing(&self, sunk: &Cell) -> Vec<ShapeId> {
        let bears = |other: &ShapeId| {
            let touching = self.pairs.iter().filter(|pair| pair.1 == *other && bears(pair.2));
            touching.into_iter().any(|pair| self.meets(sunk, pair))
        };
        let mut bearing: Vec<ShapeId> = self.pairs.iter().map(|pair| pair.1).filter(bears).collect();
        bearing.sort_unstable();
        bearing.dedup();
        bearing
    }

    /// What the fixture overlaps as drawn, deeper than things that bear each other do.
    pub(super) fn overlapped(&self) -> Vec<ShapeId> {
        let mut all: Vec<ShapeId> =
            self.pairs.iter().filter(|pair| pair.2 < -by_drawing()).map(|pair| pair.1).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The same but for things that go with the fixture.
    pub(super) fn without(&self, gone: &[ShapeId]) -> Self {
        let pairs = self.pairs.iter().filter(|pair| !gone.contains(&pair.1)).copied().collect();
        Self { pairs }
    }

    /// What the fixture of the cell `after`, in which it strayed, stands in. What it touches or overlaps as drawn it may slide along, no deeper.
    pub(super) fn met(&self, after: &Cell) -> Option<ShapeId> {
        let met = self.pairs.iter().filter(|pair| self.meets(after, pair)).map(|pair| pair.1);
        met.min()
    }

    /// How far anything of the fixture in `after` is at least from all that it does not touch as drawn, m, no farther than `within`; and whether it
    /// touches something as drawn.
    pub(super) fn room(&self, after: &Cell, within: f64) -> (f64, bool) {
        let free = self.pairs.iter().filter(|pair| !bears(pair.2));
        let room =
            free.filter_map(|(one, other, _)| apart(after, *one, *other, within)).fold(within, f64::min);
        (room.max(0.0), self.pairs.iter().any(|pair| bears(pair.2)))
    }

    fn meets(&self, after: &Cell, (one, other, apart): &(ShapeId, ShapeId, f64)) -> bool {
        let depth = depth(after, *one, *other);
        if bears(*apart) { depth > (-apart).max(0.0) + by_drawing() } else { depth > 0.0 }
    }
}

/// Nothing of a station is farther from the axis about which it turns, m.
pub(super) fn lever(cell: &Cell, station: StationId) -> f64 {
    let own = cell.shapes.iter().filter(|shape| shape.station == Some(station));
    let reach = |shape: &Shape| {
        let [x, y] = [Vector3::x(), Vector3::y()]
            .map(|way| farthest_along(shape, &way).abs().max(farthest_along(shape, &-way).abs()));
        x.hypot(y)
    };
    own.map(reach).fold(0.0, f64::max)
}

/// Whether things that are so far apart as drawn bear each other.
fn bears(apart: f64) -> bool {
    apart <= units::mm(BEARS_MM)
}

/// How deep two shapes overlap while the external axes stand as the station of the first says, m; 0 where they do not.
fn depth(cell: &Cell, one: ShapeId, other: ShapeId) -> f64 {
    let [one, other] = both(cell, one, other);
    one.distance(&other, 0.0).map_or(0.0, |distance| -distance)
}

/// How far apart they are then, m, minus their depth where they overlap; none where that is not less than `within`.
fn apart(cell: &Cell, one: ShapeId, other: ShapeId, within: f64) -> Option<f64> {
    let [one, other] = both(cell, one, other);
    one.distance(&other, within)
}

fn both(cell: &Cell, one: ShapeId, other: ShapeId) -> [Still; 2] {
    let station = cell.shapes[one.0].station.or(cell.shapes[other.0].station);
    let external =
        station.map_or_else(|| cell.frames.rest(), |station| cell.stations[station.0].external.clone());
    [one, other].map(|shape| still(cell, shape, &external))
}
