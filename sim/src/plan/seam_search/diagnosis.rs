//! Decides which limit binds where no way over a seam is found: the worst one along the least bad path over all layers.
//!
//! "Cannot hold" is said only where a bound proves it.

use super::levels::levels;
use super::{Found, Search};
use crate::plan::ladder::{Choices, Known, LeastBad, Node};
use crate::plan::torch_way::Law;
use crate::plan::trace::Failure;
use crate::plan::violation::{Limit, Violation};
use crate::plan::{Binding, TorchAngles, Verdict, station_from_tool};

/// Times that the least bad path of a seam that fails is measured anew, at the angles aimed at; a quarter at others.
const DIAGNOSIS_ROUNDS: usize = 16;

/// Levels that the search for the limit that binds looks at.
const DIAGNOSIS_LEVELS: usize = 7;

/// A seam that fails by less than this many bands is searched once more, with a quarter of the step of the turn.
const NEARLY: f64 = 10.0;

/// Why a seam does not hold.
pub(super) struct Diagnosis {
    pub(super) found: Found,
    /// The level of the least bad path, where that fails by little.
    pub(super) nearly: Option<usize>,
}

impl Search<'_, '_> {
    fn measure(&mut self, k: usize, node: &Node, choices: &Choices) -> Known {
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let ctwd = choices.all[node.choice as usize].angles.ctwd;
        if let Some(violation) = self.tracer.clearance_violation_roughly(&setup, &node.axes, ctwd) {
            return Known::Measured(violation);
        }
        for (distance, _) in self.ways_at(k) {
            let law = Law { points: vec![(self.rungs[k].s, choices.all[node.choice as usize].angles)] };
            let failure = match node.violation {
                None => {
                    self.tracer.leave(&law, self.rungs[k].s, distance, &node.axes).err().map(|f| f.violation)
                }
                // An axis is beyond its limit already; what else is in the way is asked at a few places.
                Some(_) => self.tracer.blocked_on_leaving(&law, self.rungs[k].s, distance, &node.axes),
            };
            if let Some(violation) = failure {
                return Known::Measured(violation);
            }
        }
        Known::Clear
    }

    /// Whether the nozzle fits into the joint at no allowed angle, with no arm in the way.
    pub(super) fn joint_too_tight(&mut self) -> Option<Failure> {
        let mut worst: Option<Failure> = None;
        for k in 0..self.rungs.len() {
            if self.points[k].in_corner {
                continue;
            }
            let setup = self.tracer.setup_at(self.rungs[k].s);
            let levels = levels(&self.bands_at(k), Some(super::level_step()));
            let mut best: Option<Violation> = None;
            for (angles, _) in &levels {
                let wire_end = station_from_tool(&self.points[k], angles);
                let base_from_flange = setup.base_from_flange(&wire_end, angles.ctwd);
                let gap = setup.scene.front_in_joint(&base_from_flange, self.tracer.seam_id);
                let Some(violation) = gap.and_then(|gap| Violation::of_gap(&gap, Limit::JointTooTight))
                else {
                    best = None;
                    break;
                };
                if best.is_none_or(|best| violation.amount < best.amount) {
                    best = Some(violation);
                }
            }
            if let Some(violation) = best
                && worst.is_none_or(|worst| violation.amount > worst.violation.amount)
            {
                worst = Some(Failure { violation, s: self.rungs[k].s });
            }
        }
        worst
    }

    /// Names what binds: the worst limit along the least bad path over all levels.
    pub(super) fn diagnose(&mut self, levels: &[(TorchAngles, f64)]) -> Diagnosis {
        let mut best: Option<(f64, Failure, Vec<Option<Violation>>)> = None;
        let mut nearly = None;
        // The least off first: aim, then one of work, travel and CTWD at an end of its tolerance.
        for level in 0..levels.len().min(DIAGNOSIS_LEVELS) {
            let choices = self.choices(&levels[level..=level], true);
            let mut ladder = self.ladder(&choices);
            let rounds = if level == 0 { DIAGNOSIS_ROUNDS } else { DIAGNOSIS_ROUNDS / 4 };
            let bound = best.as_ref().map_or(f64::INFINITY, |(bands, ..)| *bands);
            let least_bad = {
                let mut measure = |k: usize, node: &Node| self.measure(k, node, &choices);
                ladder.least_bad(bound, rounds, &mut measure)
            };
            if matches!(least_bad, LeastBad::Nothing) {
                // Every layer can be passed, one after the other: what fails lies between them, or on the way in or out.
                self.last_failure = None;
                let _ = self.ways(&levels[level..=level], true);
                best = None;
                nearly = Some(level);
                break;
            }
            if let LeastBad::Path(path, worst) = least_bad {
                // The sweep ranks by rough depths; the limit that binds is measured.
                let node = &ladder.layers[worst.layer].nodes[path[worst.layer]];
                let measured = match worst.violation.limit {
                    Limit::Clearance(_) => {
                        let setup = self.tracer.setup_at(self.rungs[worst.layer].s);
                        let ctwd = choices.all[node.choice as usize].angles.ctwd;
                        self.tracer.clearance_violation(&setup, &node.axes, ctwd)
                    }
                    _ => None,
                };
                let violation = measured.unwrap_or(worst.violation);
                let failure = Failure { violation, s: self.rungs[worst.layer].s };
                best = Some((worst.violation.bands(), failure, ladder.violations(&path)));
                nearly = (worst.violation.bands() < NEARLY).then_some(level);
            }
        }
        let Some((_, failure, violations)) = best else {
            let binding = self.last_failure.map(|failure| self.binding(failure));
            let found = self.found(Verdict::NotFound, Vec::new(), binding, Vec::new());
            return Diagnosis { found, nearly: nearly.or(Some(0)) };
        };
        let verdict = if self.beyond_reach(&failure) { Verdict::CannotHold } else { Verdict::NotFound };
        let mut stretches = self.stretches(&violations);
        let main = stretches.iter().position(|binding| binding.from <= failure.s && failure.s <= binding.to);
        let binding = main.map(|main| stretches.remove(main)).unwrap_or_else(|| self.binding(failure));
        Diagnosis { found: self.found(verdict, Vec::new(), Some(binding), stretches), nearly }
    }

    /// Runs of layers whose path violates one and the same limit, each at its worst.
    fn stretches(&self, violations: &[Option<Violation>]) -> Vec<Binding> {
        let mut stretches: Vec<(Binding, Violation)> = Vec::new();
        let mut open = false;
        for (k, violation) in violations.iter().enumerate() {
            let Some(violation) = violation else {
                open = false;
                continue;
            };
            let next = self.binding(Failure { violation: *violation, s: self.rungs[k].s });
            match stretches.last_mut() {
                Some((binding, worst)) if open && worst.limit == violation.limit => {
                    binding.to = next.to;
                    if violation.exceeds(worst) {
                        *binding = Binding { from: binding.from, to: next.to, ..next };
                        *worst = *violation;
                    }
                }
                _ => stretches.push((next, *violation)),
            }
            open = true;
        }
        stretches.into_iter().map(|(binding, _)| binding).collect()
    }

    pub(super) fn binding(&self, failure: Failure) -> Binding {
        let length = self.tracer.path.length();
        Binding {
            constraint: failure.violation.constraint(&self.tracer.along.setup.scene),
            amount: failure.violation.amount,
            limit: failure.violation.bound,
            at: failure.s,
            from: failure.s,
            to: failure.s,
            point: self.tracer.path.at(failure.s.clamp(0.0, length)).point,
        }
    }

    /// Whether a bound shows that the wire end itself is out of reach, whatever the torch's angles.
    ///
    /// The wire end is never further from the origin of link 2 than the links, flange and torch laid end to end, and that origin
    /// stays on a circle about axis 1.
    fn beyond_reach(&self, failure: &Failure) -> bool {
        let Limit::Reach(_) = failure.violation.limit else { return false };
        let setup = self.tracer.setup_at(failure.s);
        let arm = &setup.cell.arm.arm;
        let axes = arm.axes();
        let torch = &setup.cell.torch;
        let procedure = &self.tracer.seam.procedure;
        let off = |ctwd: f64| (ctwd - torch.nominal_ctwd).abs();
        let slack = off(procedure.longest_ctwd()).max(off(procedure.ctwd.aim) + procedure.ctwd.widest())
            + procedure.weave.map_or(0.0, |weave| weave.amplitude);
        let span: f64 = axes[2..].iter().map(|axis| axis.origin.translation.vector.norm()).sum::<f64>()
            + (arm.link6_from_flange() * torch.flange_from_tool).translation.vector.norm()
            + slack;
        let point = setup.base_from_station * self.tracer.path.at(failure.s).point;
        let in_link1_frame = axes[0].origin.inverse() * point;
        let direction = axes[0].direction.into_inner();
        let cylinder = |v: nalgebra::Vector3<f64>| {
            let height = v.dot(&direction);
            ((v - direction * height).norm(), height)
        };
        let (radius, height) = cylinder(in_link1_frame.coords);
        let (link2_radius, link2_height) = cylinder(axes[1].origin.translation.vector);
        (radius - link2_radius).hypot(height - link2_height) > span
    }
}
