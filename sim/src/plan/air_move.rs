//! Decides how the arm gets through the air from one place to another: straight in axis space, or by way of lifted points or home.
//!
//! A straight move is asked at so fine a step that no point of the arm or torch moves more than `AIR_STEP` between two samples.

use seamwright_kinematics::AxisValues;

use super::clearance::PairId;
use super::setup::Setup;
use crate::units;

/// Greatest way of any point of the arm or torch between two samples of an air move.
fn air_step() -> f64 {
    units::mm(8.0)
}

/// Lifts tried above both ends where the straight way is blocked.
fn lifts() -> [f64; 4] {
    [units::mm(100.0), units::mm(200.0), units::mm(350.0), units::mm(550.0)]
}

/// What blocks a move: the pair, and by how much at the sample where it is worst.
#[derive(Clone, Copy, Debug)]
pub(super) struct Blocked {
    pub pair: PairId,
    pub short: f64,
}

/// Asks air moves in one setup.
pub(super) struct AirMoves<'a, 'c> {
    pub setup: &'a Setup<'c>,
    pub hint: Option<PairId>,
    pub clearance_queries: u64,
}

impl AirMoves<'_, '_> {
    /// Places to go through from `from` to `to`, both included, such that every straight move between them is clear; else
    /// what blocks the straight way.
    pub fn between(&mut self, from: &AxisValues, to: &AxisValues) -> Result<Vec<AxisValues>, Blocked> {
        let Some(first) = self.first_blocked(from, to) else { return Ok(vec![*from, *to]) };
        let home = self.setup.cell.arm.home;
        let mut detours: Vec<Vec<AxisValues>> = Vec::new();
        for lift in lifts() {
            let (over_from, over_to) = (self.lifted(from, lift), self.lifted(to, lift));
            if let (Some(over_from), Some(over_to)) = (over_from, over_to) {
                detours.push(vec![*from, over_from, over_to, *to]);
                detours.push(vec![*from, over_from, *to]);
                detours.push(vec![*from, over_to, *to]);
            }
        }
        detours.push(vec![*from, home, *to]);
        for lift in lifts() {
            if let (Some(over_from), Some(over_to)) = (self.lifted(from, lift), self.lifted(to, lift)) {
                detours.push(vec![*from, over_from, home, over_to, *to]);
            }
        }
        let clear = detours
            .into_iter()
            .find(|detour| detour.windows(2).all(|pair| self.first_blocked(&pair[0], &pair[1]).is_none()));
        clear.ok_or_else(|| self.worst(from, to).unwrap_or(first))
    }

    /// The wire end straight up in the world by `lift`, same branch, where the arm can.
    fn lifted(&self, axes: &AxisValues, lift: f64) -> Option<AxisValues> {
        let setup = self.setup;
        let ctwd = setup.cell.torch.nominal_ctwd;
        let station = &setup.cell.stations[setup.station.0];
        let up_in_station = setup.cell.frames.world_from(station.frame, &setup.external).rotation.inverse()
            * nalgebra::Vector3::z();
        let mut pose = setup.station_from_wire_end(axes, ctwd);
        // In steps, so that the branch is followed and not guessed.
        let mut at = *axes;
        let steps = (lift / units::mm(20.0)).ceil().max(1.0) as usize;
        for _ in 0..steps {
            pose.translation.vector += up_in_station * (lift / steps as f64);
            let next = setup.stance_near(&setup.base_from_flange(&pose, ctwd), &at).ok()?;
            if (next - at).amax() > units::deg(20.0) || setup.axis_violation(&next).is_some() {
                return None;
            }
            at = next;
        }
        Some(at)
    }

    /// The first blocked sample of the straight move, coarse ones first.
    fn first_blocked(&mut self, from: &AxisValues, to: &AxisValues) -> Option<Blocked> {
        let count = self.samples(from, to);
        // Middle first, then quarters, and so on: a blocked move is mostly blocked in its middle.
        let mut stride = count.next_power_of_two();
        while stride >= 1 {
            let mut index = if stride == count.next_power_of_two() { 0 } else { stride };
            while index <= count {
                let axes = from.lerp(to, index as f64 / count as f64);
                self.clearance_queries += 1;
                let forward = self.setup.cell.arm.arm.forward(&axes);
                if !self.setup.scene.clears(&forward, None, &mut self.hint) {
                    return self.blocked(&axes);
                }
                index += if stride == count.next_power_of_two() { stride } else { 2 * stride };
            }
            stride /= 2;
        }
        None
    }

    fn worst(&mut self, from: &AxisValues, to: &AxisValues) -> Option<Blocked> {
        let count = self.samples(from, to).min(200);
        let all = (0..=count).filter_map(|i| self.blocked(&from.lerp(to, i as f64 / count as f64)));
        let all: Vec<Blocked> = all.collect();
        all.into_iter().reduce(|worst, next| if next.short > worst.short { next } else { worst })
    }

    fn blocked(&mut self, axes: &AxisValues) -> Option<Blocked> {
        self.clearance_queries += 1;
        let forward = self.setup.cell.arm.arm.forward(axes);
        let gap = self.setup.scene.tightest(&forward, None, 0.0)?;
        (gap.margin() < 0.0).then(|| Blocked { pair: gap.pair, short: -gap.margin() })
    }

    fn samples(&self, from: &AxisValues, to: &AxisValues) -> usize {
        let step = to - from;
        let reach = self.setup.reach_beyond();
        let way: f64 = (0..6).map(|i| step[i].abs() * reach[i]).sum();
        (way / air_step()).ceil().max(1.0) as usize
    }
}
