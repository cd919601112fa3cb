//! Decides how fast the wire end can get on a straight move in axis space: a bound for the whole of it, not for samples of it.
//!
//! With q = q0 + σ·Δ the wire end moves by p' = Σ Jⱼ Δⱼ for each share σ of the way, J the linear rows of the Jacobian, and p'' is no more than
//! S²·M, where S = Σ|Δᵢ| and M is the greatest |Jⱼ|: the derivative of Jⱼ by an axis i ≤ j is zᵢ × Jⱼ, by one beyond zⱼ × Jᵢ. Since Jⱼ
//! itself changes by no more than S·M for each share, M over an interval of half length δ is no more than m/(1 − δS), m that at its
//! middle. So |p'| over the interval is at most that at its middle and δ·S²·M more; intervals are halved where that is not tight.

use nalgebra::Point3;
use seamwright_kinematics::{Arm, AxisValues};

/// A bound is taken that is over what is reached by no more than this share.
const TIGHT: f64 = 1e-3;

/// The widest interval at first, as half of it times the sum of all turns, rad.
const WIDEST: f64 = 0.2;

/// An interval is not halved more often.
const MOST_HALVINGS: u32 = 16;

/// At least the greatest speed of the wire end (m for the whole way, were it gone evenly in one second) on the straight way in axis space.
#[must_use]
pub fn greatest_rate(arm: &Arm, wire_end_in_flange: &Point3<f64>, from: &AxisValues, to: &AxisValues) -> f64 {
    let way = to - from;
    let turns: f64 = way.abs().sum();
    if turns <= 0.0 {
        return 0.0;
    }
    // Of an interval: what is reached at its middle, and what cannot be passed in it.
    let look = |middle: f64, half: f64| {
        let jacobian = arm.jacobian(&(from + way * middle), wire_end_in_flange);
        let linear = jacobian.fixed_rows::<3>(0);
        let longest = (0..6).map(|axis| linear.column(axis).norm()).fold(0.0, f64::max);
        let reached = (linear * way).norm();
        (reached, reached + half * turns * turns * longest / (1.0 - half * turns))
    };
    // Turns are tens of radians at most: the count fits.
    let count = (0.5 * turns / WIDEST).ceil().max(1.0) as u32;
    let half = 0.5 / f64::from(count);
    let mut open: Vec<(f64, f64, u32)> =
        (0..count).map(|index| (half * f64::from(2 * index + 1), half, 0)).collect();
    let mut reached = open.iter().map(|(middle, half, _)| look(*middle, *half).0).fold(0.0, f64::max);
    let mut bound = reached;
    while let Some((middle, half, halvings)) = open.pop() {
        let (here, most) = look(middle, half);
        reached = reached.max(here);
        if most <= reached * (1.0 + TIGHT) || halvings == MOST_HALVINGS {
            bound = bound.max(most);
        } else {
            let quarter = 0.5 * half;
            open.extend([middle - quarter, middle + quarter].map(|middle| (middle, quarter, halvings + 1)));
        }
    }
    bound
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell::read::read_cell;

    /// What is reached at 2,000 places of 40 moves between stances all over the room is never above the bound, and comes up to it but for a
    /// thousandth or two. A move of axis 1 alone goes round at an even speed: angle times distance from its axis.
    #[test]
    fn a_move_is_nowhere_faster_than_its_bound_and_nearly_as_fast() {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenes/gate-bracket/cell.toml");
        let cell = read_cell(std::path::Path::new(file)).unwrap();
        let arm = &cell.arm.arm;
        let wire_end = Point3::from(cell.torch.flange_from_tool.translation.vector);
        let stance = |seed: u32| {
            AxisValues::from_fn(|axis, _| {
                (f64::from((seed * 7919 + axis as u32 * 104_729) % 1000) / 500.0 - 1.0) * 1.5
            })
        };
        for seed in 1..=40 {
            let (from, to) = (stance(seed), stance(seed + 100));
            let bound = greatest_rate(arm, &wire_end, &from, &to);
            let reached = (0..=2000)
                .map(|i| from + (to - from) * (f64::from(i) / 2000.0))
                .map(|q| (arm.jacobian(&q, &wire_end).fixed_rows::<3>(0) * (to - from)).norm())
                .fold(0.0, f64::max);
            assert!(reached <= bound && reached >= bound * (1.0 - 3e-3), "{seed}: {reached} {bound}");
        }
        let (from, mut to) = (cell.arm.home, cell.arm.home);
        to[0] += 1.0;
        let bound = greatest_rate(arm, &wire_end, &from, &to);
        let at = arm.base_from_flange(&from) * wire_end;
        assert!((bound / at.x.hypot(at.y) - 1.0).abs() < 2e-3, "{bound}");
    }
}
