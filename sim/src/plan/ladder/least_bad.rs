//! Decides the path through a ladder whose worst violation is least.

use super::steps::Step;
use super::{Known, Ladder, Node, trace_back};
use crate::plan::violation::Violation;

/// What a search for the least bad path finds.
pub(in crate::plan) enum LeastBad {
    /// It is shown to reach the bound, or there is no path.
    TooBad,
    /// A path that violates nothing, as far as layers alone are asked.
    Nothing,
    /// The path, and the worst limit along it.
    Path(Vec<usize>, Worst),
}

/// The worst limit along the least bad path.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct Worst {
    pub violation: Violation,
    pub layer: usize,
}

/// By layer: what leads to it from groups of the layer before, and by how many bands each step is too much; group by group, in the order of
/// `Ladder::groups_before`.
type Steps = Vec<Vec<(Step, f64)>>;

/// Least bands with which each node of a layer can be come to, and from where.
struct Reached {
    values: Vec<f64>,
    parents: Vec<u32>,
}

impl Reached {
    fn enter(&mut self, node: usize, from: usize, bands: f64) {
        if bands < self.values[node] {
            self.values[node] = bands;
            self.parents[node] = from as u32;
        }
    }
}

impl Ladder<'_> {
    /// The path whose worst violation is least, and that violation, unless it is shown to reach `bound` bands.
    ///
    /// Clearances are measured along the best path so far, `rounds` times at most; the last path is then measured all along and
    /// counts as the least bad found.
    pub fn least_bad(
        &mut self,
        bound: f64,
        rounds: usize,
        measure: &mut impl FnMut(usize, &Node) -> Known,
    ) -> LeastBad {
        let steps: Steps = (0..self.layers.len()).map(|k| self.any_steps(k)).collect();
        for round in 0..=rounds {
            let Some(path) = self.least_bad_as_known(&steps) else { break };
            let worst = self.worst_of(&path);
            if worst.is_some_and(|worst| worst.violation.bands() >= bound) {
                break;
            }
            let mut settled = true;
            for (layer, &index) in path.iter().enumerate() {
                let node = &self.layers[layer].nodes[index];
                if matches!(node.known, Known::Unknown | Known::Blocked) {
                    self.layers[layer].nodes[index].known = measure(layer, node);
                    settled = false;
                }
            }
            if settled || round == rounds {
                return match self.worst_of(&path) {
                    None => LeastBad::Nothing,
                    Some(worst) if worst.violation.bands() < bound => LeastBad::Path(path, worst),
                    Some(_) => LeastBad::TooBad,
                };
            }
        }
        LeastBad::TooBad
    }

    fn any_steps(&self, k: usize) -> Vec<(Step, f64)> {
        let layer = &self.layers[k];
        let groups = if k == 0 { 0..0 } else { 0..layer.group_count() };
        let before = groups.flat_map(|group| {
            self.groups_before(k, layer.choice_of(group)).map(move |before| (before, group))
        });
        before.map(|(before, group)| self.any_step(k, before, group)).collect()
    }

    fn least_bad_as_known(&self, steps: &Steps) -> Option<Vec<usize>> {
        let mut values: Vec<f64> = Vec::new();
        let mut parents: Vec<Vec<u32>> = Vec::with_capacity(self.layers.len());
        for (k, layer) in self.layers.iter().enumerate() {
            let own: Vec<f64> = layer.nodes.iter().map(own_bands).collect();
            let (next, parent) = match k {
                0 => (own, vec![0; layer.nodes.len()]),
                _ => self.next_values(k, own, &values, &steps[k]),
            };
            values = next;
            parents.push(parent);
        }
        let last = (0..values.len()).min_by(|a, b| values[*a].total_cmp(&values[*b]))?;
        values[last].is_finite().then(|| trace_back(&parents, last))
    }

    /// The least bands with which each node of layer `k` can be come to, where it has bands of its `own`, and from which node of the layer
    /// before, each of which has `values`.
    fn next_values(
        &self,
        k: usize,
        own: Vec<f64>,
        values: &[f64],
        steps: &[(Step, f64)],
    ) -> (Vec<f64>, Vec<u32>) {
        let (before, layer) = (&self.layers[k - 1], &self.layers[k]);
        let entries = self.cheapest_before(k, values, 1);
        let least = self.least_of_groups_before(k, values);
        let mut reached = Reached { values: vec![f64::INFINITY; own.len()], parents: vec![0; own.len()] };
        let edge = |from: usize, to: usize| {
            let edge = self.edge_violation(&before.nodes[from], &layer.nodes[to], &layer.rung);
            edge.map_or(0.0, |edge| edge.bands())
        };
        let half_turn = self.bands_of_half_turn(&layer.rung);
        let mut steps = steps.iter();
        for group in 0..layer.group_count() {
            for &from in &entries {
                for to in layer.group(group) {
                    reached.enter(to, from, values[from].max(own[to]).max(edge(from, to)));
                }
            }
            let groups_before: Vec<usize> = self.groups_before(k, layer.choice_of(group)).collect();
            for (&from_group, (step, bands)) in groups_before.iter().zip(steps.by_ref()) {
                for to in layer.group(group) {
                    let turns =
                        if before.is_unreachable(from_group) { 0 } else { layer.turns[to] + step.turns };
                    if let Some(from) = before.on_turns(from_group, turns) {
                        reached.enter(to, from, values[from].max(own[to]).max(*bands));
                    }
                }
            }
            // From other turns some axis goes half a turn or more.
            for to in layer.group(group) {
                for &from_group in &groups_before {
                    if least[from_group].max(own[to]).max(half_turn) < reached.values[to] {
                        for from in before.group(from_group) {
                            reached.enter(to, from, values[from].max(own[to]).max(edge(from, to)));
                        }
                    }
                }
            }
        }
        (reached.values, reached.parents)
    }

    /// Every limit not kept along `path`, by layer.
    pub fn violations(&self, path: &[usize]) -> Vec<Option<Violation>> {
        let mut all = Vec::with_capacity(path.len());
        for (k, &index) in path.iter().enumerate() {
            let node = &self.layers[k].nodes[index];
            let edge = (k > 0)
                .then(|| {
                    self.edge_violation(&self.layers[k - 1].nodes[path[k - 1]], node, &self.layers[k].rung)
                })
                .flatten();
            all.push(match violation_of(node) {
                Some(own) => Some(own.worse(edge)),
                None => edge,
            });
        }
        all
    }

    fn worst_of(&self, path: &[usize]) -> Option<Worst> {
        let violations = self.violations(path);
        let all = violations
            .iter()
            .enumerate()
            .filter_map(|(layer, violation)| violation.map(|violation| Worst { violation, layer }));
        all.reduce(|worst, next| if next.violation.exceeds(&worst.violation) { next } else { worst })
    }
}

fn own_bands(node: &Node) -> f64 {
    violation_of(node).map_or(0.0, |violation| violation.bands()).max(doubt(node.known))
}

/// Bands that a node not yet measured counts for at least: what is known to be clear is gone through first.
fn doubt(known: Known) -> f64 {
    match known {
        Known::Clear | Known::Measured(_) => 0.0,
        Known::Unknown => 1e-6,
        Known::Blocked => 1e-3,
    }
}

fn violation_of(node: &Node) -> Option<Violation> {
    match (node.violation, node.known) {
        (Some(own), Known::Measured(clearance)) => Some(own.worse(Some(clearance))),
        (None, Known::Measured(clearance)) => Some(clearance),
        (own, _) => own,
    }
}
