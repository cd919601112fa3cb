//! Decides whether a bound shows that the nozzle fits into the joint at no allowed torch angle, whatever the arm.
//!
//! Where the nozzle is too near at the middle of some torch angles by more than they move any point of its front, it is too near at all
//! of them; else they are halved, those first that may fit best. Where it weaves it is asked at both sides as well.

use super::allowed::Part;
use super::{Found, Search};
use crate::cell::SeamPoint;
use crate::plan::ladder::Rung;
use crate::plan::torch_way::aside;
use crate::plan::trace::{Failure, weave_of};
use crate::plan::violation::{Limit, Violation};
use crate::plan::{TorchAngles, Verdict, station_from_tool};

/// Parts of what is allowed that are looked at in one layer before it counts as not shown.
const MOST_PARTS: usize = 3000;

/// The same in all layers of a seam.
const MOST_PARTS_OF_A_SEAM: usize = 12_000;

/// By so much nearer to the line a weave still is at its side, m.
const WIDEST: f64 = 1e-9;

/// Where a weave is farthest off its line.
#[derive(Clone, Copy)]
struct Side {
    s: f64,
    /// How far, m, positive over the reference face.
    across: f64,
}

/// A place at which it is asked whether the nozzle fits.
struct Spot {
    s: f64,
    run: usize,
    point: SeamPoint,
    /// How far the wire end is off the line there, m.
    across: f64,
}

/// The nearest side of a weave to either hand of an arc length.
fn sides_near(sides: &[Side], s: f64) -> impl Iterator<Item = Side> {
    [1.0, -1.0].into_iter().filter_map(move |hand| {
        let of_hand = sides.iter().filter(|side| side.across * hand > 0.0);
        of_hand.min_by(|a, b| (a.s - s).abs().total_cmp(&(b.s - s).abs())).copied()
    })
}

impl Search<'_, '_> {
    /// What is found of a seam of which some layer is shown to be too tight for the nozzle; of these layers, by how much at the best
    /// angle that was looked at.
    pub(super) fn joint_too_tight(&mut self) -> Option<Found> {
        let mut left = MOST_PARTS_OF_A_SEAM;
        let mut fitting: Option<TorchAngles> = None;
        let mut failures: Vec<Option<Failure>> = Vec::with_capacity(self.rungs.len());
        let weaves: Vec<Vec<Side>> =
            (0..self.tracer.seam.runs.len()).map(|run| self.sides_of_weave(run)).collect();
        for k in 0..self.rungs.len() {
            let Rung { s, run, .. } = self.rungs[k];
            let middle = Spot { s, run, point: self.points[k], across: 0.0 };
            let sides = sides_near(&weaves[run], s).map(|Side { s, across }| Spot {
                s,
                run,
                point: self.tracer.path.at(s),
                across,
            });
            let spots: Vec<Spot> = std::iter::once(middle).chain(sides).collect();
            let violations =
                spots.iter().filter_map(|spot| self.least_in_joint(spot, &mut fitting, &mut left));
            let violation = violations.reduce(|worst, next| worst.worse(Some(next)));
            failures.push(violation.map(|violation| Failure { violation, s }));
        }
        let worst = failures
            .iter()
            .flatten()
            .reduce(|worst, next| if next.violation.exceeds(&worst.violation) { next } else { worst })?;
        let mut stretches = self.stretches(&failures);
        let main = stretches.iter().position(|stretch| stretch.from <= worst.s && worst.s <= stretch.to);
        let binding = main.map_or_else(|| self.binding(*worst), |main| stretches.remove(main));
        Some(self.found(Verdict::NotFound, Vec::new(), Some(binding), stretches))
    }

    /// Where a weld of the seam weaves farthest to either side.
    fn sides_of_weave(&self, run: usize) -> Vec<Side> {
        let Some(weave) = weave_of(self.tracer.seam, run) else { return Vec::new() };
        let samples = weave.samples().into_iter().map(|s| Side { s, across: weave.across(s) });
        samples.filter(|side| side.across.abs() >= weave.amplitude() - WIDEST).collect()
    }

    /// By how much the nozzle is too near at a place at least, as far as angles were looked at; none where it fits or that is not
    /// shown to be impossible. `fitting`: angles at which it fitted last.
    fn least_in_joint(
        &self,
        spot: &Spot,
        fitting: &mut Option<TorchAngles>,
        left: &mut usize,
    ) -> Option<Violation> {
        // Tolerances of angles are waived in a corner.
        if spot.point.in_corner {
            return None;
        }
        let bands = self.tracer.seam.procedure.bands(&self.tracer.seam.runs[spot.run], spot.s);
        let again = fitting.filter(|angles| Violation::of_angles(&bands, angles).is_none());
        if again.is_some_and(|angles| self.too_near_in_joint(spot, &angles).is_none()) {
            return None;
        }
        let mut least: Option<Violation> = None;
        for (angles, _) in self.all_levels(&bands) {
            let Some(violation) = self.too_near_in_joint(spot, &angles) else {
                *fitting = Some(angles);
                return None;
            };
            least = Some(less(least, violation));
        }
        let setup = self.tracer.setup_at(spot.s);
        let front = setup.scene.front_of_torch(self.tracer.seam_id)?;
        let mut all = self.allowed_by(&bands);
        // The front is the same all round the wire.
        (all.middle.turn, all.half.turn) = (0.0, 0.0);
        // Each with the least by which the nozzle may be too near in it.
        let mut open: Vec<(Part, f64)> = vec![(all, f64::NEG_INFINITY)];
        for _ in 0..MOST_PARTS {
            let Some(next) = (0..open.len()).min_by(|a, b| open[*a].1.total_cmp(&open[*b].1)) else {
                return least;
            };
            if *left == 0 {
                return None;
            }
            *left -= 1;
            let (part, _) = open.swap_remove(next);
            let Some(violation) = self.too_near_in_joint(spot, &part.middle) else {
                *fitting = Some(part.middle);
                return None;
            };
            least = Some(less(least, violation));
            let behind_wire_end = (part.middle.ctwd + front.behind_tip).abs() + part.half.ctwd;
            // What weaves goes round the root with the torch.
            let ways = part.ways(front.off_wire + spot.across.abs(), behind_wire_end);
            let at_least = violation.amount - ways.iter().sum::<f64>();
            if at_least <= 0.0 {
                open.extend(part.halves(&ways).map(|half| (half, at_least)));
            }
        }
        None
    }

    /// By how much the front of the torch is too near to the parts of the joint at a place.
    fn too_near_in_joint(&self, spot: &Spot, angles: &TorchAngles) -> Option<Violation> {
        let setup = self.tracer.setup_at(spot.s);
        let wire_end = station_from_tool(&aside(&spot.point, angles, spot.across), angles);
        let base_from_flange = setup.base_from_flange(&wire_end, angles.ctwd);
        let gap = setup.scene.front_in_joint(&base_from_flange, self.tracer.seam_id)?;
        Violation::of_gap(&gap, Limit::JointTooTight)
    }
}

fn less(least: Option<Violation>, next: Violation) -> Violation {
    least.filter(|least| least.amount <= next.amount).unwrap_or(next)
}
