//! Decides whether a bound shows that a place of a seam is out of the arm's reach, whatever the torch does within its tolerances.
//!
//! The wrist stays in a ball that goes round axis 1. How far a torch pose holds the wrist outside it is worked out at the middle of all
//! torch angles that are allowed; from there they move the wrist no farther than the arcs it goes on. Where that could bring it inside,
//! the angles are halved, and each half is asked by itself.

use nalgebra::Point3;

use super::Search;
use super::allowed::Part;
use crate::cell::Procedure;
use crate::plan::setup::Setup;
use crate::plan::trace::Failure;
use crate::plan::violation::Limit;
use crate::plan::{TorchAngles, station_from_tool};

/// Parts of what is allowed that are looked at before it counts as not shown: enough for places some tenths of a millimetre out of
/// reach, in a few thousandths of a second.
const MOST_PARTS: usize = 20_000;

/// Steps of the search for the angles that reach farthest end at this share of what is allowed.
const LAST_STEP: f64 = 1e-6;

impl Search<'_, '_> {
    /// By how much (m) the arm is too short where it fails, whatever torch pose is allowed there; none where no bound shows that all of them
    /// hold the wrist out of reach.
    pub(super) fn out_of_reach_by(&self, failure: &Failure) -> Option<f64> {
        let Limit::Reach(_) = failure.violation.limit else { return None };
        let k = self.layer_near(failure.s);
        let setup = self.tracer.setup_at(self.rungs[k].s);
        // A weave passes through its line, and tolerances of angles are waived in a corner.
        if self.points[k].in_corner {
            return self.wire_end_is_out_of_reach(&setup, k).then_some(failure.violation.amount);
        }
        let arm = &setup.cell.arm.arm;
        let wrist_in_flange = arm.wrist_on_flange();
        let wrist = arm.on_flange(&wrist_in_flange);
        let wrist_in_tool = setup.cell.torch.flange_from_tool.inverse() * wrist_in_flange;
        let off_wire = wrist_in_tool.x.hypot(wrist_in_tool.y);
        let weave = self.tracer.seam.procedure.weave.map_or(0.0, |weave| weave.amplitude);
        let beyond = |angles: &TorchAngles| {
            let wire_end = station_from_tool(&self.points[k], angles);
            arm.out_of_reach(&wrist, &(setup.base_from_flange(&wire_end, angles.ctwd) * wrist_in_flange))
        };
        let allowed = self.allowed_at(k);
        let mut least = (allowed.middle, beyond(&allowed.middle));
        let mut open = vec![allowed];
        for _ in 0..MOST_PARTS {
            let Some(part) = open.pop() else {
                return Some(farthest_reaching(&allowed, least, beyond).min(failure.violation.amount));
            };
            let off = beyond(&part.middle);
            if off <= weave {
                return None;
            }
            if off < least.1 {
                least = (part.middle, off);
            }
            let along_wire = (wrist_in_tool.z + setup.cell.torch.nominal_ctwd - part.middle.ctwd).abs();
            let ways = part.ways(off_wire, along_wire + part.half.ctwd);
            if off - weave <= ways.iter().sum() {
                open.extend(part.halves(&ways));
            }
        }
        None
    }

    /// Whether no torch pose at all brings the wire end there, whatever the torch's angles.
    fn wire_end_is_out_of_reach(&self, setup: &Setup<'_>, k: usize) -> bool {
        let Procedure { ctwd, weave, .. } = self.tracer.seam.procedure;
        let torch = &setup.cell.torch;
        let tip_to_wire_end = Point3::new(0.0, 0.0, ctwd.aim - torch.nominal_ctwd);
        let wire_end = setup.cell.arm.arm.on_flange(&(torch.flange_from_tool * tip_to_wire_end));
        let place = setup.base_from_station * self.points[k].point;
        let slack = ctwd.widest() + weave.map_or(0.0, |weave| weave.amplitude);
        setup.cell.arm.arm.out_of_reach(&wire_end, &place) > slack
    }
}

/// The least of `beyond` over the torch angles that are allowed, from the angles and what they come to that are known as the least so far: step by
/// step, each angle by itself, in ever smaller steps.
fn farthest_reaching(allowed: &Part, known: (TorchAngles, f64), beyond: impl Fn(&TorchAngles) -> f64) -> f64 {
    let of: [fn(&mut TorchAngles) -> &mut f64; 4] =
        [|a| &mut a.work, |a| &mut a.travel, |a| &mut a.turn, |a| &mut a.ctwd];
    let (mut at, mut least) = known;
    let mut step = 0.5;
    while step > LAST_STEP {
        let mut nearer = false;
        for (of, side) in of.into_iter().flat_map(|of| [(of, -1.0), (of, 1.0)]) {
            let (mut next, mut middle, mut half) = (at, allowed.middle, allowed.half);
            let (middle, half) = (*of(&mut middle), *of(&mut half));
            let value = of(&mut next);
            *value = (*value + side * step * half).clamp(middle - half, middle + half);
            let off = beyond(&next);
            if off < least {
                (at, least, nearer) = (next, off, true);
            }
        }
        if !nearer {
            step *= 0.5;
        }
    }
    least
}
