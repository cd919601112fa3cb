//! Decides where the arm may round the corner from one air move to the next instead of stopping at the place between.
//!
//! The next move begins before the one before has ended (`motion::AirWay`), so early that the wire end is nowhere farther than is asked
//! from the place where it leaves the one move and comes to the other (no farther than half of either). What the axes do in both must
//! keep their limits together, and the rounding is shown to keep clear all along (`proof::rounded_corner`). Where either does not, less of
//! it is tried, down to an eighth, then none.

use nalgebra::Point3;
use seamwright_kinematics::AxisValues;

use super::proof;
use super::searched::{self, Setups};
use super::setup::Setup;
use super::{Move, MoveKind, Plan, Visit};
use crate::cell::Cell;
use crate::motion::{AirWay, Pace};
use crate::units;

/// A place that the arm may pass without stopping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounding {
    /// Index of the move that ends at the place; the next one goes on from it.
    pub after: usize,
    /// How long both moves overlap, as a share (above 0, at most ½) of the shorter one.
    pub overlap: f64,
}

/// Shares of the asked overlap that are tried.
const SHARES: [f64; 5] = [1.0, 0.75, 0.5, 0.25, 0.125];

/// A shorter overlap, as a share of a move, is none.
const LEAST_OVERLAP: f64 = 0.01;

/// Halvings in which the longest overlap is found that keeps the distance.
const HALVINGS: u32 = 20;

/// Steps in which half a move is looked through for where the wire end leaves the neighbourhood of the place.
const STEPS: u32 = 64;

/// How far the wire end may be from a place where rounding is only tried, to say what it would save.
#[must_use]
pub fn tried_distance() -> f64 {
    units::mm(50.0)
}

impl Plan {
    /// The same with the places rounded that may be by `distance` (m).
    #[must_use]
    pub fn rounded(&self, cell: &Cell, distance: f64) -> Self {
        let mut plan = self.clone();
        let setups = searched::setups(cell, None);
        for visit in &mut plan.visits {
            visit.roundings = roundings(cell, &setups, visit, distance).0;
        }
        plan
    }

    /// The same with the arm stopping at every place.
    #[must_use]
    pub fn stopping(&self) -> Self {
        let mut plan = self.clone();
        plan.visits.iter_mut().for_each(|visit| visit.roundings.clear());
        plan
    }
}

impl Visit {
    /// Indices of the moves that end at a place between two air moves, external axes standing.
    pub fn places_between(&self) -> impl Iterator<Item = usize> + use<'_> {
        let pairs = self.moves.windows(2).enumerate();
        pairs.filter(|(_, pair)| is_place(&pair[0], &pair[1])).map(|(after, _)| after)
    }
}

fn is_place(one: &Move, next: &Move) -> bool {
    let air = |planned: &Move| planned.kind == MoveKind::Axis && planned.external.is_held();
    air(one) && air(next) && one.external_end() == next.external_start() && one.seam == next.seam
}

/// The places of a visit that the arm need not stop at. And the clearance queries it took.
pub(super) fn roundings(
    cell: &Cell,
    setups: &Setups<'_>,
    visit: &Visit,
    distance: f64,
) -> (Vec<Rounding>, u64) {
    let mut queries = 0;
    let places = visit.places_between().filter_map(|after| {
        let setup = setups.of_move(cell, visit, after);
        let (overlap, spent) = rounding(setup, [&visit.moves[after], &visit.moves[after + 1]], distance);
        queries += spent;
        overlap.map(|overlap| Rounding { after, overlap })
    });
    (places.collect(), queries)
}

fn rounding(setup: &Setup<'_>, [one, next]: [&Move; 2], distance: f64) -> (Option<f64>, u64) {
    let (Some(from), Some(via), Some(to)) = (one.points.first(), one.points.last(), next.points.last())
    else {
        return (None, 0);
    };
    let places = [from.axes, via.axes, to.axes];
    let setup = setup.at(&one.external_end());
    let arm = &setup.cell.arm;
    let pace = Pace::of(arm);
    let room = [0, 2].map(|end| share_within(setup.cell, &places[1], &places[end], distance));
    let way = |overlap: f64| AirWay::new(&arm.arm, &places, &[overlap], pace);
    let fits = |overlap: f64| {
        way(overlap).is_some_and(|way| way.replaced(0).iter().zip(&room).all(|(used, room)| used <= room))
    };
    // The longer the overlap, the more it replaces.
    let (mut fitting, mut beyond) = (0.0, 0.5);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(fitting, beyond);
        if fits(middle) { fitting = middle } else { beyond = middle }
    }
    let mut queries = 0;
    let found = SHARES.into_iter().map(|share| share * fitting).find(|overlap| {
        let Some(way) = way(*overlap).filter(|_| *overlap > LEAST_OVERLAP) else { return false };
        if !way.keeps_limits(&arm.arm, pace, 0) {
            return false;
        }
        let (shown, looks) = proof::rounded_corner(&setup, &way);
        queries += looks;
        shown.is_ok() && proof::keeps_dependent_ranges(&setup, &way)
    });
    (found, queries)
}

/// The share of the straight way from `via` to `end`, at most a half, on which the wire end stays within `distance` (m) of where it is at
/// `via`.
fn share_within(cell: &Cell, via: &AxisValues, end: &AxisValues, distance: f64) -> f64 {
    let wire_end = |axes: &AxisValues| {
        cell.arm.arm.base_from_flange(axes) * cell.torch.flange_from_tool * Point3::origin()
    };
    let place = wire_end(via);
    let share = |step: u32| 0.5 * f64::from(step) / f64::from(STEPS);
    let beyond = (1..=STEPS).find(|step| (wire_end(&via.lerp(end, share(*step))) - place).norm() > distance);
    share(beyond.map_or(STEPS, |step| step - 1))
}
