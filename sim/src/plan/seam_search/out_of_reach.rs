//! Decides whether a bound shows that a place of a seam is out of the arm's reach, whatever the torch does within its tolerances.
//!
//! The wrist stays in a ball that goes round axis 1. How far a torch pose holds the wrist outside it is worked out at the middle of all
//! torch angles that are allowed; from there they move the wrist no farther than the arcs it goes on. Where that could bring it inside,
//! the angles are halved, and each half is asked by itself.

use nalgebra::Point3;

use super::Search;
use crate::cell::Procedure;
use crate::plan::setup::Setup;
use crate::plan::station_from_tool;
use crate::plan::trace::Failure;
use crate::plan::violation::Limit;

/// Parts of what is allowed that are looked at before it counts as not shown: enough for places some tenths of a millimetre out of
/// reach, in a few thousandths of a second.
const MOST_PARTS: usize = 20_000;

impl Search<'_, '_> {
    /// Whether a bound shows that where it fails no torch pose that is allowed brings the wrist within reach.
    pub(super) fn is_out_of_reach(&self, failure: &Failure) -> bool {
        let Limit::Reach(_) = failure.violation.limit else { return false };
        let k = self.layer_near(failure.s);
        let setup = self.tracer.setup_at(self.rungs[k].s);
        // A weave passes through its line, and tolerances of angles are waived in a corner.
        if self.points[k].in_corner {
            return self.wire_end_is_out_of_reach(&setup, k);
        }
        let arm = &setup.cell.arm.arm;
        let wrist_in_flange = arm.wrist_on_flange();
        let wrist = arm.on_flange(&wrist_in_flange);
        let wrist_in_tool = setup.cell.torch.flange_from_tool.inverse() * wrist_in_flange;
        let off_wire = wrist_in_tool.x.hypot(wrist_in_tool.y);
        let weave = self.tracer.seam.procedure.weave.map_or(0.0, |weave| weave.amplitude);
        let mut open = vec![self.allowed_at(k)];
        for _ in 0..MOST_PARTS {
            let Some(part) = open.pop() else { return true };
            let wire_end = station_from_tool(&self.points[k], &part.middle);
            let place = setup.base_from_flange(&wire_end, part.middle.ctwd) * wrist_in_flange;
            let beyond = arm.out_of_reach(&wrist, &place) - weave;
            if beyond <= 0.0 {
                return false;
            }
            let along_wire = (wrist_in_tool.z + setup.cell.torch.nominal_ctwd - part.middle.ctwd).abs();
            let ways = part.ways(off_wire, along_wire + part.half.ctwd);
            if beyond <= ways.iter().sum() {
                open.extend(part.halves(&ways));
            }
        }
        false
    }

    /// As [`Self::is_out_of_reach`], whatever the torch's angles.
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
