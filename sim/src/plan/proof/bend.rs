//! Decides whether a stretch of a weld on which the axes take to other rates keeps every clearance and range all along.
//!
//! The stretch is a polynomial in axis space from knot to knot (`motion::WeldWay`), so each axis bounds what it carries.

use super::{Order, pairs_through};
use crate::cell::SeamId;
use crate::motion::{Curve, arm_axes};
use crate::plan::clearance::{Group, OpenPair, Spread};
use crate::plan::setup::Setup;

/// Whether arm and external axes may go along `stretch` while the torch serves a seam; and the looks it took.
pub(in crate::plan) fn bend(setup: &Setup<'_>, seam: SeamId, stretch: &Curve) -> (bool, u64) {
    let mut open = setup.scene.open_pairs(Some(seam), Group::Torch);
    open.extend(setup.scene.open_pairs(Some(seam), Group::Links));
    let external = |s: f64| stretch.at(s)[6..].to_vec();
    let (start, end) = (external(stretch.start()), external(stretch.end()));
    let moving: Vec<bool> = start.iter().zip(&end).map(|(start, end)| start != end).collect();
    let stands = !moving.contains(&true);
    if !stands {
        open.extend(setup.scene.open_turning_pairs(&moving));
    }
    let mut looks = 0;
    let shown = stretch.knots().windows(2).enumerate().all(|(piece, ends)| {
        let look = |from: f64, middle: f64, to: f64, open: &[OpenPair]| {
            let off = stretch.off(piece, middle, 0.5 * (to - from));
            let arm_off = arm_axes(&off);
            let forward = setup.cell.arm.arm.forward(&arm_axes(&stretch.at(middle)));
            let spread = Spread {
                base_from_flange: &forward.base_from_flange,
                arm: Some((&forward, &arm_off)),
                torch: None,
                external: if stands { &[] } else { &off[6..] },
            };
            let placed;
            let scene = if stands {
                &setup.scene
            } else {
                placed = setup.scene.at(&external(middle));
                &placed
            };
            (scene.look(&spread, open), arm_off.dot(&setup.reach_beyond) <= setup.steps().finest())
        };
        let name = |pair: &OpenPair| pair.id(&setup.scene);
        let (shown, spent) = pairs_through((ends[0], ends[1]), open.clone(), Order::CoarseFirst, name, look);
        looks += spent;
        shown.is_ok() && keeps_ranges(setup, stretch, piece)
    });
    (shown, looks)
}

/// Whether ranges of axes and motors, and what the hose allows, are shown to be kept on one piece.
fn keeps_ranges(setup: &Setup<'_>, stretch: &Curve, piece: usize) -> bool {
    let (arm, dress) = (&setup.cell.arm.arm, &setup.cell.torch.dress);
    let mut waiting = vec![(stretch.knots()[piece], stretch.knots()[piece + 1])];
    while let Some((from, to)) = waiting.pop() {
        let middle = f64::midpoint(from, to);
        let axes = arm_axes(&stretch.at(middle));
        let off = arm_axes(&stretch.off(piece, middle, 0.5 * (to - from)));
        if arm.range_excess_around(&axes, &off).is_some() || dress.excess_around(&axes, &off).is_some() {
            if off.dot(&setup.reach_beyond) <= setup.steps().finest() {
                return false;
            }
            waiting.extend([(from, middle), (middle, to)]);
        }
    }
    true
}
