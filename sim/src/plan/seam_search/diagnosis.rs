//! Decides which limit binds where no way over a seam is found: the worst one along the least bad path over all layers.
//!
//! "Cannot hold" is said only where a bound proves it.

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
        if node.unreachable {
            let blocked = self.blocked_on_ways(k, node, choices);
            return blocked.map_or(Known::Clear, |failure| Known::Measured(failure.violation));
        }
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let ctwd = choices.all[node.choice as usize].angles.ctwd;
        if let Some(violation) = self.tracer.clearance_violation_roughly(&setup, &node.axes, ctwd) {
            return Known::Measured(violation);
        }
        self.blocked_on_ways(k, node, choices)
            .map_or(Known::Clear, |failure| Known::Measured(failure.violation))
    }

    /// What binds on the way in or out at a layer that begins or ends a run, at its worst place there.
    fn blocked_on_ways(&mut self, k: usize, node: &Node, choices: &Choices) -> Option<Failure> {
        let s = self.rungs[k].s;
        let law = Law { points: vec![(s, choices.all[node.choice as usize].angles)] };
        self.ways_at(k).find_map(|(distance, sign)| {
            let failure = match node.violation {
                _ if node.unreachable => self.tracer.short_on_leaving(&law, s, distance, &node.axes)?,
                None => {
                    let first = self.tracer.leave(&law, s, distance, &node.axes).err()?;
                    // Where a limit is first not kept it is so by little.
                    let worst = self.tracer.blocked_on_leaving(&law, s, distance, &node.axes, true);
                    worst.filter(|worst| worst.violation.exceeds(&first.violation)).unwrap_or(first)
                }
                // An axis is beyond its limit already; what else is in the way is asked at a few places.
                Some(_) => self.tracer.blocked_on_leaving(&law, s, distance, &node.axes, false)?,
            };
            Some(Failure { s: s + sign * failure.s, ..failure })
        })
    }

    /// Where the limits of a path are not kept: at a layer itself, or on the way in or out there. What is out of reach itself is named
    /// before a way that leads farther out.
    fn failures(
        &mut self,
        path: &[&Node],
        choices: &Choices,
        violations: &[Option<Violation>],
    ) -> Vec<Option<Failure>> {
        let mut failures = Vec::with_capacity(path.len());
        for (k, (node, violation)) in path.iter().zip(violations).enumerate() {
            let on_ways = match (violation, node.known) {
                (Some(worst), Known::Measured(measured)) if *worst == measured && !node.unreachable => {
                    self.blocked_on_ways(k, node, choices).filter(|failure| failure.violation == measured)
                }
                _ => None,
            };
            let own = if node.unreachable { node.violation } else { *violation };
            failures.push(on_ways.or(own.map(|violation| Failure { violation, s: self.rungs[k].s })));
        }
        failures
    }

    /// Whether the nozzle fits into the joint at no allowed angle, with no arm in the way.
    pub(super) fn joint_too_tight(&mut self) -> Option<Failure> {
        let mut worst: Option<Failure> = None;
        for k in 0..self.rungs.len() {
            if self.points[k].in_corner {
                continue;
            }
            let setup = self.tracer.setup_at(self.rungs[k].s);
            let levels = self.all_levels(&self.bands_at(k));
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
        let mut best: Option<(f64, Failure, Vec<Option<Failure>>)> = None;
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
                let nodes: Vec<&Node> =
                    ladder.layers.iter().zip(&path).map(|(layer, node)| &layer.nodes[*node]).collect();
                let failures = self.failures(&nodes, &choices, &ladder.violations(&path));
                let at_layer = Failure { violation: worst.violation, s: self.rungs[worst.layer].s };
                let mut failure = failures[worst.layer].unwrap_or(at_layer);
                // The sweep ranks by rough depths; the limit that binds is measured.
                if matches!(worst.violation.limit, Limit::Clearance(_)) && failure.s == at_layer.s {
                    let node = nodes[worst.layer];
                    let setup = self.tracer.setup_at(failure.s);
                    let ctwd = choices.all[node.choice as usize].angles.ctwd;
                    let measured = self.tracer.clearance_violation(&setup, &node.axes, ctwd);
                    failure.violation = measured.unwrap_or(failure.violation);
                }
                best = Some((worst.violation.bands(), failure, failures));
                nearly = (worst.violation.bands() < NEARLY).then_some(level);
            }
        }
        let Some((_, failure, failures)) = best else {
            let binding = self.last_failure.map(|failure| self.binding(failure));
            let found = self.found(Verdict::NotFound, Vec::new(), binding, Vec::new());
            return Diagnosis { found, nearly: nearly.or(Some(0)) };
        };
        let verdict = if self.is_out_of_reach(&failure) { Verdict::CannotHold } else { Verdict::NotFound };
        let mut stretches = self.stretches(&failures);
        let main = stretches.iter().position(|binding| binding.from <= failure.s && failure.s <= binding.to);
        let binding = main.map(|main| stretches.remove(main)).unwrap_or_else(|| self.binding(failure));
        Diagnosis { found: self.found(verdict, Vec::new(), Some(binding), stretches), nearly }
    }

    /// Runs of layers whose path violates one and the same limit, each at its worst.
    fn stretches(&self, failures: &[Option<Failure>]) -> Vec<Binding> {
        let mut stretches: Vec<(Binding, Violation)> = Vec::new();
        let mut open = false;
        for failure in failures {
            let Some(failure) = failure else {
                open = false;
                continue;
            };
            let violation = failure.violation;
            let next = self.binding(*failure);
            match stretches.last_mut() {
                Some((binding, worst)) if open && worst.limit == violation.limit => {
                    binding.to = next.to;
                    if violation.exceeds(worst) {
                        *binding = Binding { from: binding.from, to: next.to, ..next };
                        *worst = violation;
                    }
                }
                _ => stretches.push((next, violation)),
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
}
