//! Decides whether external axes keep every clearance all the way from one set of values to another while the arm stands.

use seamwright_kinematics::AxisValues;

use super::{Order, Refuted, pairs_through};
use crate::motion::ExternalMove;
use crate::plan::clearance::{Group, Spread};
use crate::plan::setup::Setup;

/// Shows that the arm at `axes`, and everything that external axes move, keeps clear all through `turn`; `levers` as in
/// `turn::lever`. And the looks it took; places are shares of the time.
pub(in crate::plan) fn external_move(
    setup: &Setup<'_>,
    axes: &AxisValues,
    turn: &ExternalMove,
    levers: &[f64],
) -> (Result<(), Refuted>, u64) {
    let forward = setup.cell.arm.arm.forward(axes);
    let every_axis = vec![true; levers.len()];
    let still = AxisValues::zeros();
    let mut open = setup.scene.open_pairs(None, Group::Torch);
    open.extend(setup.scene.open_pairs(None, Group::Links));
    open.extend(setup.scene.open_turning_pairs(&every_axis));
    let at = |share: f64| turn.at(turn.duration() * share);
    pairs_through(
        (0.0, 1.0),
        open,
        Order::CoarseFirst,
        |pair| pair.id(&setup.scene),
        |start, middle, end, open| {
            // Each axis goes one way only, so it is farthest from its middle value at an end.
            let (first, half, last) = (at(start), at(middle), at(end));
            let off: Vec<f64> =
                (0..half.len()).map(|i| (half[i] - first[i]).abs().max((last[i] - half[i]).abs())).collect();
            let scene = setup.scene.at(&half);
            let spread = Spread {
                base_from_flange: &forward.base_from_flange,
                arm: Some((&forward, &still)),
                torch: None,
                external: &off,
            };
            let most: f64 = off.iter().zip(levers).map(|(off, lever)| off * lever).sum();
            (scene.look(&spread, open), most <= setup.steps().finest())
        },
    )
}
