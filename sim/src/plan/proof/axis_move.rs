//! Decides whether a straight move in axis space keeps every clearance all the way.

use seamwright_kinematics::AxisValues;

use super::{Order, Refuted, pairs_through};
use crate::plan::clearance::{Group, Spread};
use crate::plan::setup::Setup;

/// Shows that the arm keeps clear all the way from `from` to `to` while the external axes stand; ranges are not looked at. And the
/// looks it took; places are shares of the way.
pub(in crate::plan) fn axis_move(
    setup: &Setup<'_>,
    from: &AxisValues,
    to: &AxisValues,
) -> (Result<(), Refuted>, u64) {
    let arm = &setup.cell.arm.arm;
    let step = (to - from).abs();
    let mut open = setup.scene.open_pairs(None, Group::Torch);
    open.extend(setup.scene.open_pairs(None, Group::Links));
    pairs_through(
        (0.0, 1.0),
        open,
        Order::CoarseFirst,
        |pair| pair.id(&setup.scene),
        |start, middle, end, open| {
            let forward = arm.forward(&from.lerp(to, middle));
            let off = step * (0.5 * (end - start));
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
