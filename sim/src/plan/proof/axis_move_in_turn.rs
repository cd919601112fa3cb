//! Decides whether the arm keeps every clearance anywhere on a straight move in axis space while external axes are anywhere on their
//! way: nobody says which meets which.

use seamwright_kinematics::AxisValues;

use crate::motion::ExternalMove;
use crate::plan::clearance::{Group, Looked, OpenPair, PairId, Spread};
use crate::plan::setup::Setup;

/// Looks after which it is given up as not shown.
const MOST_LOOKS: u64 = 200_000;

/// A stretch of the arm's way and one of the turn, as shares of each, and the pairs that are still to be shown in both.
struct Patch {
    way: (f64, f64),
    turn: (f64, f64),
    open: Vec<OpenPair>,
}

impl Patch {
    /// Half of the way and half of the turn, in every combination.
    fn quarters(&self, open: &[OpenPair]) -> [Self; 4] {
        let halves =
            |(from, to): (f64, f64)| [(from, f64::midpoint(from, to)), (f64::midpoint(from, to), to)];
        let (ways, turns) = (halves(self.way), halves(self.turn));
        [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(way, turn)| Self {
            way: ways[way],
            turn: turns[turn],
            open: open.to_vec(),
        })
    }
}

/// Whether the arm is shown to keep clear of everything that stands or turns, wherever it is between `from` and `to` and wherever
/// `turn` is, or a pair of which that is not shown; `levers` as in `turn::lever`. And the looks it took.
pub(in crate::plan) fn axis_move_in_turn(
    setup: &Setup<'_>,
    (from, to): (&AxisValues, &AxisValues),
    turn: &ExternalMove,
    levers: &[f64],
) -> (Result<(), PairId>, u64) {
    let arm = &setup.cell.arm.arm;
    let step = (to - from).abs();
    let mut open = setup.scene.open_pairs(None, Group::Torch);
    open.extend(setup.scene.open_pairs(None, Group::Links));
    let mut waiting = vec![Patch { way: (0.0, 1.0), turn: (0.0, 1.0), open }];
    let mut looks = 0;
    while let Some(patch) = waiting.pop() {
        looks += 1;
        if looks > MOST_LOOKS
            && let Some(pair) = patch.open.first()
        {
            return (Err(pair.id(&setup.scene)), looks);
        }
        let forward = arm.forward(&from.lerp(to, f64::midpoint(patch.way.0, patch.way.1)));
        let off = step * (0.5 * (patch.way.1 - patch.way.0));
        // Each external axis goes one way only, so it is farthest from its middle value at an end.
        let at = |share: f64| turn.at(turn.duration() * share);
        let half = at(f64::midpoint(patch.turn.0, patch.turn.1));
        let [first, last] = [at(patch.turn.0), at(patch.turn.1)];
        let external: Vec<f64> =
            (0..half.len()).map(|i| (half[i] - first[i]).abs().max((last[i] - half[i]).abs())).collect();
        let spread = Spread {
            base_from_flange: &forward.base_from_flange,
            arm: Some((&forward, &off)),
            torch: None,
            external: &external,
        };
        match setup.scene.at(&half).look(&spread, &patch.open) {
            Looked::TooNear(pair) => return (Err(pair), looks),
            Looked::Open(open) if open.is_empty() => {}
            Looked::Open(open) => {
                let turned: f64 = external.iter().zip(levers).map(|(off, lever)| off * lever).sum();
                if off.dot(&setup.reach_beyond) + turned <= setup.steps().finest() {
                    return (Err(open[0].id(&setup.scene)), looks);
                }
                waiting.extend(patch.quarters(&open));
            }
        }
    }
    (Ok(()), looks)
}
