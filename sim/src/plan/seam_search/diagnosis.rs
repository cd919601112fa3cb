//! Decides which limit binds where no way over a seam is found: the worst one along the least bad path over all layers.
//!
//! "Cannot hold" is said only where a bound proves it.

use seamwright_kinematics::AxisValues;

use super::{Found, Search};
use crate::plan::ladder::{Choices, Known, LeastBad, Node};
use crate::plan::torch_way::Law;
use crate::plan::trace::Failure;
use crate::plan::violation::{Limit, Violation};
use crate::plan::whole_turns::are_whole_turns_apart;
use crate::plan::{Binding, Constraint, Standing, TorchAngles, Verdict};

/// Times that the least bad path of a seam that fails is measured anew, at the angles aimed at; a quarter at others.
const DIAGNOSIS_ROUNDS: usize = 16;

/// Levels that the search for the limit that binds looks at.
const DIAGNOSIS_LEVELS: usize = 7;

/// A seam that fails by less than this many bands is searched once more, with a quarter of the step of the turn.
const NEARLY: f64 = 10.0;

/// Why a seam does not hold.
pub(super) struct Diagnosis {
    pub(super) found: Found,
    /// The least bad path, where no path over all layers keeps every limit of theirs.
    least: Option<Named>,
    /// The level of the least bad path, where that fails by little.
    pub(super) nearly: Option<usize>,
}

/// The least bad path found, with what it violates.
struct Named {
    /// Of its worst limit.
    bands: f64,
    failure: Failure,
    /// By layer.
    failures: Vec<Option<Failure>>,
    /// By layer, where the arm can stand there at all.
    axes: Vec<Option<AxisValues>>,
}

/// What is found at one level.
enum AtLevel {
    /// A path over all layers that violates nothing.
    Nothing,
    /// No path that is less bad than the one known.
    NoBetter,
    LessBad(Named),
}

impl Search<'_, '_> {
    fn measure(&mut self, k: usize, node: &Node, choices: &Choices) -> Known {
        if node.unreachable {
            let blocked = self.blocked_on_ways(k, node, choices);
            return blocked.map_or(Known::Clear, |failure| Known::Measured(failure.violation));
        }
        if let Some(violation) = self.too_near(k, node, choices) {
            return Known::Measured(violation);
        }
        self.blocked_on_ways(k, node, choices)
            .map_or(Known::Clear, |failure| Known::Measured(failure.violation))
    }

    /// The clearance that is not kept at a node, roughly. One that is whole turns of the node measured before has its answer.
    fn too_near(&mut self, k: usize, node: &Node, choices: &Choices) -> Option<Violation> {
        if let Some((layer, last, violation)) = &self.last_measured
            && (*layer, last.choice) == (k, node.choice)
            && are_whole_turns_apart(&last.axes, &node.axes)
        {
            return *violation;
        }
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let ctwd = choices.all[node.choice as usize].angles.ctwd;
        let violation = self.tracer.clearance_violation_roughly(&setup, &node.axes, ctwd);
        self.last_measured = Some((k, *node, violation));
        violation
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
                (Some(worst), Known::Measured(measured)) if *worst == measured && !node.unreachable => self
                    .blocked_on_ways(k, node, choices)
                    .filter(|failure| failure.violation.is_like(&measured)),
                _ => None,
            };
            let own = if node.unreachable { node.violation } else { *violation };
            failures.push(on_ways.or(own.map(|violation| Failure { violation, s: self.rungs[k].s })));
        }
        failures
    }

    /// Names what binds: the worst limit along the least bad path over all levels.
    pub(super) fn diagnose(&mut self, levels: &[(TorchAngles, f64)]) -> Diagnosis {
        let mut best: Option<Named> = None;
        let mut nearly = None;
        // The least off first: aim, then one of work, travel and CTWD at an end of its tolerance.
        for (level, at) in levels.iter().take(DIAGNOSIS_LEVELS).enumerate() {
            let rounds = if level == 0 { DIAGNOSIS_ROUNDS } else { DIAGNOSIS_ROUNDS / 4 };
            match self.least_bad_at(at, true, best.as_ref(), rounds) {
                AtLevel::Nothing => {
                    // Every layer can be passed, one after the other: what fails lies between them, or on the way in or out.
                    self.last_failure = None;
                    let _ = self.ways(&levels[level..=level], true);
                    let binding = self.last_failure.map(|failure| self.binding(failure));
                    let found = self.found(Verdict::NotFound, Vec::new(), binding, Vec::new());
                    return Diagnosis { found, least: None, nearly: Some(level) };
                }
                AtLevel::LessBad(named) => {
                    nearly = (named.bands < NEARLY).then_some(level);
                    best = Some(named);
                }
                AtLevel::NoBetter => {}
            }
        }
        let found = match &best {
            Some(named) => self.found_by(named),
            None => {
                let binding = self.last_failure.map(|failure| self.binding(failure));
                self.found(Verdict::NotFound, Vec::new(), binding, Vec::new())
            }
        };
        let nearly = if best.is_none() { Some(0) } else { nearly };
        Diagnosis { found, least: best, nearly }
    }

    /// The same where the turn about the wire is tried in the finer steps that it has now, and is constant.
    pub(super) fn diagnose_more_finely(&mut self, roughly: Diagnosis, level: &(TorchAngles, f64)) -> Found {
        let Some(least) = &roughly.least else { return roughly.found };
        match self.least_bad_at(level, false, Some(least), DIAGNOSIS_ROUNDS / 4) {
            AtLevel::LessBad(named) => self.found_by(&named),
            AtLevel::Nothing | AtLevel::NoBetter => roughly.found,
        }
    }

    /// What binds along the least bad path at one level.
    fn least_bad_at(
        &mut self,
        level: &(TorchAngles, f64),
        turning: bool,
        so_far: Option<&Named>,
        rounds: usize,
    ) -> AtLevel {
        let choices = self.choices(&[*level], turning);
        self.last_measured = None;
        let mut ladder = self.ladder(&choices);
        let bound = so_far.map_or(f64::INFINITY, |named| named.bands);
        let least_bad = {
            let mut measure = |k: usize, node: &Node| self.measure(k, node, &choices);
            ladder.least_bad(bound, rounds, &mut measure)
        };
        let (path, worst) = match least_bad {
            LeastBad::Nothing => return AtLevel::Nothing,
            LeastBad::TooBad => return AtLevel::NoBetter,
            LeastBad::Path(path, worst) => (path, worst),
        };
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
        let axes = nodes.iter().map(|node| (!node.unreachable).then_some(node.axes)).collect();
        AtLevel::LessBad(Named { bands: worst.violation.bands(), failure, failures, axes })
    }

    fn found_by(&mut self, named: &Named) -> Found {
        let Named { failure, failures, axes, .. } = named;
        let out_of_reach = self.out_of_reach_by(failure);
        let verdict = if out_of_reach.is_some() { Verdict::CannotHold } else { Verdict::NotFound };
        let mut stretches = self.stretches(failures);
        let main = stretches.iter().position(|binding| binding.from <= failure.s && failure.s <= binding.to);
        let mut binding = main.map(|main| stretches.remove(main)).unwrap_or_else(|| self.binding(*failure));
        let is_on_seam = (0.0..=self.tracer.path.length()).contains(&failure.s);
        if let (Some(short), Constraint::Reach(_), true) = (out_of_reach, &binding.constraint, is_on_seam) {
            binding.amount = short;
        }
        for binding in stretches.iter_mut().chain([&mut binding]) {
            binding.stands = self.standing(axes, binding.at);
        }
        self.found(verdict, Vec::new(), Some(binding), stretches)
    }

    /// How everything stands at a layer of the path; none between layers, as on the way in or out.
    fn standing(&self, axes: &[Option<AxisValues>], s: f64) -> Option<Standing> {
        let layer = self.rungs.iter().position(|rung| rung.s == s)?;
        let axes = (*axes.get(layer)?)?;
        Some(Standing { axes, external: self.tracer.setup_at(s).external.clone() })
    }

    /// Runs of layers whose path violates one and the same limit, each at its worst.
    pub(super) fn stretches(&self, failures: &[Option<Failure>]) -> Vec<Binding> {
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
            stands: None,
        }
    }
}
