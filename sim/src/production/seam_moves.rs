//! Decides what it gains to weld a seam at another station that carries the same fixture and does not weld it.
//!
//! The cell is changed as its file would be, by `only_station`: the seam is searched where it stands there, both visits are planned, and
//! the cycle is worked out anew. So what is told is what comes, ways and loading included. A seam is not moved to a station with another
//! fixture: its part is not there. Not asked either are seams that were taught, tacked fixtures, clamps that open between welds, and cells
//! whose file says in which order they are welded.

use super::cycle::{Cycle, cycle};
use crate::cell::{Cell, Seam, SeamId, StationId};
use crate::plan::{Plan, Searched};
use crate::schedule::{Event, EventKind, Schedule, schedule};

/// A seam welded at another station, with all its passes and copies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamMove {
    /// The seam, or the first of its passes and copies.
    pub seam: SeamId,
    /// Where it would be welded.
    pub to: StationId,
    /// What the arm does for it where it is welded now, s.
    pub duration: f64,
    /// How much shorter the plain period would be, s.
    pub gain: f64,
    /// The same of the mean cycle, s; above 0.
    pub mean_gain: f64,
}

/// Gains below this are rounding, s.
const LEAST_GAIN: f64 = 0.01;

/// Moves that are planned: those that promise most if all ways were as long there, and of equals those that promise most if there were none.
const MOST_PLANNED: usize = 6;

/// Single moves that make the mean cycle shorter, the best first; of equals the first in the cell.
#[must_use]
pub fn seam_moves(
    cell: &Cell,
    searched: &Searched,
    plan: &Plan,
    schedule: &Schedule,
    now: &Cycle,
) -> Vec<SeamMove> {
    let mut moves = promising(cell, schedule, now);
    moves.truncate(MOST_PLANNED);
    moves.retain_mut(|planned| match gain(cell, searched, plan, now, planned) {
        Some([plain, mean]) => {
            (planned.gain, planned.mean_gain) = (plain, mean);
            mean > LEAST_GAIN
        }
        None => false,
    });
    moves.sort_by(|one, other| other.mean_gain.total_cmp(&one.mean_gain));
    moves
}

/// Those that would gain something if no way through the air led to the seam or on from it, with the gain if everything lasted as long at the
/// other station, the best first.
fn promising(cell: &Cell, schedule: &Schedule, now: &Cycle) -> Vec<SeamMove> {
    let mut moves: Vec<(f64, SeamMove)> = Vec::new();
    for (index, seam) in cell.seams.iter().enumerate() {
        let from = seam.station;
        let first = cell.seams.iter().position(|other| other.row == seam.row && other.station == from);
        if first != Some(index) {
            continue;
        }
        let events = &schedule.visits[from.0].events;
        let serves = |id: SeamId| cell.seams[id.0].row == seam.row;
        let is_of_seam = |event: &&Event| event.seam.is_some_and(serves);
        let duration: f64 = events.iter().filter(is_of_seam).map(|event| event.duration).sum();
        let [to_it, on_from_it] = ways_through_the_air(events, |event| is_of_seam(&event));
        for to in (0..cell.stations.len()).map(StationId).filter(|to| may_move(cell, seam, *to)) {
            let gain_of = |freed: f64, taken: f64| {
                let mut stations = now.stations.clone();
                stations[from.0].arm = (stations[from.0].arm - freed).max(0.0);
                stations[to.0].arm += taken;
                now.period - now.period_of(&stations)
            };
            let without_ways = gain_of(duration + on_from_it, duration - to_it);
            if without_ways > LEAST_GAIN {
                let gain = gain_of(duration, duration);
                moves.push((
                    without_ways,
                    SeamMove { seam: SeamId(index), to, duration, gain, mean_gain: 0.0 },
                ));
            }
        }
    }
    // What the ways alone make is nothing to rank by where the work itself gains.
    let promised = |(without_ways, it): &(f64, SeamMove)| (it.gain.max(0.0), *without_ways);
    moves.sort_by(|one, other| {
        let [one, other] = [promised(one), promised(other)];
        other.0.total_cmp(&one.0).then(other.1.total_cmp(&one.1))
    });
    moves.into_iter().map(|(_, it)| it).collect()
}

/// How long the arm is on its ways through the air to events for which `is_of_seam`, and on from the last of them, s.
fn ways_through_the_air(events: &[Event], is_of_seam: impl Fn(&Event) -> bool) -> [f64; 2] {
    let is_in_air = |event: &&Event| event.kind == EventKind::AirMove;
    let lasts = |events: &mut dyn Iterator<Item = &Event>| events.map(|event| event.duration).sum();
    let after = events.iter().rposition(&is_of_seam).map_or(events.len(), |last| last + 1);
    [
        lasts(&mut events[..after].iter().filter(|event| is_of_seam(event)).filter(is_in_air)),
        lasts(&mut events[after..].iter().take_while(is_in_air)),
    ]
}

/// Whether a file with another `only_station` has the seam stand at `to` as it stands at its own station.
fn may_move(cell: &Cell, seam: &Seam, to: StationId) -> bool {
    let [own, other] = [seam.station, to].map(|station| &cell.stations[station.0]);
    let shapes = |station: StationId| {
        let here = cell.shapes.iter().filter(move |shape| shape.station == Some(station));
        here.map(|shape| shape.frame_from_shape)
    };
    let of_fixture = || cell.seams.iter().filter(|one| cell.stations[one.station.0].fixture == own.fixture);
    own.fixture == other.fixture
        && own.placing == other.placing
        && shapes(seam.station).eq(shapes(to))
        && own.openings.is_empty()
        && cell.stations.iter().all(|station| station.weld_order.is_none())
        && of_fixture().all(|one| one.taught.is_none() && one.tacks.is_none())
        && !cell.seams.iter().any(|one| one.row == seam.row && one.station == to)
}

/// How much shorter period and mean cycle are when that is done; none where something does not hold then that holds now.
fn gain(cell: &Cell, searched: &Searched, plan: &Plan, now: &Cycle, planned: &SeamMove) -> Option<[f64; 2]> {
    let (cell, moved) = moved(cell, planned.seam, planned.to);
    let after = searched.again(&cell, &moved).plan(&cell);
    let is_lost = |seam: &SeamId| plan.is_welded(*seam) && !after.is_welded(*seam);
    let blocked = |plan: &Plan| plan.visits.iter().map(|visit| visit.blocked.len()).sum::<usize>();
    if (0..cell.seams.len()).map(SeamId).any(|seam| is_lost(&seam)) || blocked(&after) > blocked(plan) {
        return None;
    }
    let then = cycle(&cell, &schedule(&cell, &after)).ok()?;
    // A station that is left with nothing to weld makes no part any more: shorter is no gain then.
    (then.parts_per_cycle() >= now.parts_per_cycle())
        .then_some([now.period - then.period, now.long_run - then.long_run])
}

/// The cell with all passes and copies of a seam at another station, and which seams those are.
fn moved(cell: &Cell, seam: SeamId, to: StationId) -> (Cell, Vec<SeamId>) {
    let mut cell = cell.clone();
    let Seam { row, station: from, .. } = cell.seams[seam.0];
    let first_shape = |station| cell.shapes.iter().position(|shape| shape.station == Some(station));
    let shapes = first_shape(from).zip(first_shape(to));
    let moved: Vec<SeamId> = (0..cell.seams.len())
        .filter(|index| cell.seams[*index].row == row && cell.seams[*index].station == from)
        .map(SeamId)
        .collect();
    let [own, other] = [from, to].map(|station| cell.stations[station.0].external.clone());
    for SeamId(index) in &moved {
        let seam = &mut cell.seams[*index];
        seam.station = to;
        for (value, (own, other)) in seam.external.iter_mut().zip(own.iter().zip(&other)) {
            // What the seam says of an axis itself it says there too.
            if value == own {
                *value = *other;
            }
        }
        if let Some((own, other)) = shapes {
            seam.joined
                .iter_mut()
                .chain(&mut seam.reference)
                .for_each(|shape| shape.0 = shape.0 - own + other);
        }
    }
    // Copy by copy in the order of the file's tables, as every station that says nothing else.
    let mut order = cell.weld_order(to);
    order.sort_by_key(|seam| {
        let seam = &cell.seams[seam.0];
        (seam.copy, seam.row, seam.pass)
    });
    cell.stations[to.0].weld_order = Some(order);
    (cell, moved)
}
