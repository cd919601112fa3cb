//! Decides whether arm and external axes keep every clearance while all of them go straight from values to values together, each the
//! same share of its way at the same time; ranges are not looked at.

use seamwright_kinematics::AxisValues;

use super::{Order, Refuted, pairs_through};
use crate::plan::ExternalLaw;
use crate::plan::clearance::{Group, Spread};
use crate::plan::setup::Setup;

/// Shows that arm and everything that external axes move keep clear while the arm goes from `from` to `to` and the external axes along
/// `external` (from 0 to 1); `levers` as in `turn::lever`. And the looks it took; places are shares of the way.
pub(in crate::plan) fn together(
    setup: &Setup<'_>,
    [from, to]: [&AxisValues; 2],
    external: &ExternalLaw,
    levers: &[f64],
) -> (Result<(), Refuted>, u64) {
    let arm = &setup.cell.arm.arm;
    let step = (to - from).abs();
    let ways: Vec<f64> =
        external.end().iter().zip(external.start()).map(|(to, from)| (to - from).abs()).collect();
    let moving: Vec<bool> = ways.iter().map(|way| *way > 0.0).collect();
    let mut open = setup.scene.open_pairs(None, Group::Torch);
    open.extend(setup.scene.open_pairs(None, Group::Links));
    open.extend(setup.scene.open_turning_pairs(&moving));
    pairs_through(
        (0.0, 1.0),
        open,
        Order::CoarseFirst,
        |pair| pair.id(&setup.scene),
        |start, middle, end, open| {
            let half = 0.5 * (end - start);
            let forward = arm.forward(&from.lerp(to, middle));
            let off = step * half;
            let external_off: Vec<f64> = ways.iter().map(|way| way * half).collect();
            let scene = setup.scene.at(&external.at(middle));
            let spread = Spread {
                base_from_flange: &forward.base_from_flange,
                arm: Some((&forward, &off)),
                torch: None,
                external: &external_off,
            };
            let most: f64 = external_off.iter().zip(levers).map(|(off, lever)| off * lever).sum();
            (scene.look(&spread, open), off.dot(&setup.reach_beyond) + most <= setup.steps().finest())
        },
    )
}
