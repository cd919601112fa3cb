//! Decides whether a rounded corner between two straight moves in axis space keeps every clearance and range all along.
//!
//! The rounding lies in the triangle of its ends and its corner (`motion::AirWay`), all on moves that hold: ranges of axes and motors
//! and the hose's limits, each straight, are kept with those. Ranges that depend on another axis are shown piece by piece.

use super::{Order, Refuted, pairs_through};
use crate::motion::AirWay;
use crate::plan::clearance::{Group, Spread};
use crate::plan::setup::Setup;

/// Shows that the arm keeps clear while `way`'s first move goes over into its second, the external axes standing; and the looks it
/// took. Places are times.
pub(in crate::plan) fn rounded_corner(setup: &Setup<'_>, way: &AirWay) -> (Result<(), Refuted>, u64) {
    let arm = &setup.cell.arm.arm;
    let mut open = setup.scene.open_pairs(None, Group::Torch);
    open.extend(setup.scene.open_pairs(None, Group::Links));
    let [start, end] = way.overlap(0);
    pairs_through(
        (start, end),
        open,
        Order::CoarseFirst,
        |pair| pair.id(&setup.scene),
        |start, middle, end, open| {
            let forward = arm.forward(&way.at(middle));
            let off = way.off(start, middle, end);
            let spread = Spread {
                base_from_flange: &forward.base_from_flange,
                arm: Some((&forward, &off)),
                torch: None,
                external: &[],
            };
            (setup.scene.look(&spread, open), off.dot(&setup.reach_beyond) <= setup.steps().finest())
        },
    )
}

/// Whether ranges that depend on other axes are shown to be kept there.
pub(in crate::plan) fn keeps_dependent_ranges(setup: &Setup<'_>, way: &AirWay) -> bool {
    let arm = &setup.cell.arm.arm;
    if arm.dependent_ranges().is_empty() {
        return true;
    }
    let [start, end] = way.overlap(0);
    let mut waiting = vec![(start, end)];
    while let Some((start, end)) = waiting.pop() {
        let middle = f64::midpoint(start, end);
        let off = way.off(start, middle, end);
        if arm.range_excess_around(&way.at(middle), &off).is_some() {
            if off.dot(&setup.reach_beyond) <= setup.steps().finest() {
                return false;
            }
            waiting.extend([(start, middle), (middle, end)]);
        }
    }
    true
}
