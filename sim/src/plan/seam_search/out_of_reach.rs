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

/// To within this it is said by how much the arm is too short, m: far below what is printed.
const NEAR: f64 = 1e-5;

impl Search<'_, '_> {
    /// By how much (m) the arm is too short where it fails, whatever torch pose is allowed there; none where no bound shows that all of them
    /// hold the wrist out of reach.
    pub(super) fn out_of_reach_by(&self, failure: &Failure) -> Option<f64> {
        let Limit::Reach(_) = failure.violation.limit else { return None };
        let k = self.layer_near(failure.s);
        // A weave passes through its line, and tolerances of angles are waived in a corner.
        if self.points[k].in_corner {
            let setup = self.tracer.setup_at(self.rungs[k].s);
            return self.wire_end_is_out_of_reach(&setup, k).then_some(failure.violation.amount);
        }
        let weave = self.tracer.seam.procedure.weave.map_or(0.0, |weave| weave.amplitude);
        let shown = self.least_out_of_reach(k, |least, _| least <= weave);
        if !shown.are_all || shown.least <= weave {
            return None;
        }
        let nearest = self.least_out_of_reach(k, |least, found| least < found - NEAR);
        Some(nearest.least.min(shown.least).min(failure.violation.amount))
    }

    /// How far out of reach the torch poses that are allowed at layer `k` hold the wrist at least: a part of them is halved where
    /// `may_matter` of what it may come to at least and the least that was found, m.
    fn least_out_of_reach(&self, k: usize, may_matter: impl Fn(f64, f64) -> bool) -> OutOfReach {
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let arm = &setup.cell.arm.arm;
        let wrist_in_flange = arm.wrist_on_flange();
        let wrist = arm.on_flange(&wrist_in_flange);
        let wrist_in_tool = setup.cell.torch.flange_from_tool.inverse() * wrist_in_flange;
        let off_wire = wrist_in_tool.x.hypot(wrist_in_tool.y);
        let mut open = vec![self.allowed_at(k)];
        let mut least = f64::INFINITY;
        for _ in 0..MOST_PARTS {
            let Some(part) = open.pop() else { return OutOfReach { least, are_all: true } };
            let wire_end = station_from_tool(&self.points[k], &part.middle);
            let place = setup.base_from_flange(&wire_end, part.middle.ctwd) * wrist_in_flange;
            let beyond = arm.out_of_reach(&wrist, &place);
            least = least.min(beyond);
            if least == 0.0 {
                break;
            }
            let along_wire = (wrist_in_tool.z + setup.cell.torch.nominal_ctwd - part.middle.ctwd).abs();
            let ways = part.ways(off_wire, along_wire + part.half.ctwd);
            if may_matter(beyond - ways.iter().sum::<f64>(), least) {
                open.extend(part.halves(&ways));
            }
        }
        OutOfReach { least, are_all: false }
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

/// How far out of reach torch poses hold the wrist.
struct OutOfReach {
    /// The least that was found, m.
    least: f64,
    /// Whether all that may matter was looked at.
    are_all: bool,
}
