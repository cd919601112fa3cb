//! Decides the path through a ladder whose worst violation is least, and of those the one that violates least in all.

use super::{Known, Ladder, Node, trace_back};
use crate::plan::violation::{Limit, Violation};

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

/// By layer: what leads to it from groups of the layer before.
type Steps = Vec<LeadingTo>;

/// What leads to the groups of one layer, group by group.
struct LeadingTo {
    all: Vec<Leading>,
    /// Where in `all` each group's begin; and where the last's end.
    begins: Vec<usize>,
}

/// What leads from a group of the layer before.
#[derive(Clone, Copy)]
struct Leading {
    from_group: usize,
    /// As [`super::steps::Step::turns`].
    turns: i64,
    /// By how many bands the step is too much.
    bands: f64,
}

impl LeadingTo {
    fn group(&self, group: usize) -> &[Leading] {
        &self.all[self.begins[group]..self.begins[group + 1]]
    }
}

/// How the bands of one layer after another count together.
#[derive(Clone, Copy)]
enum Count {
    /// The most of them.
    Worst,
    /// All of them, none of which is more than this.
    TotalWithin(f64),
}

impl Count {
    /// What a path counts that counts `so_far`, after a layer with `bands`.
    fn after(self, so_far: f64, bands: f64) -> f64 {
        match self {
            Self::Worst => so_far.max(bands),
            Self::TotalWithin(most) if bands <= most => so_far + bands,
            Self::TotalWithin(_) => f64::INFINITY,
        }
    }
}

/// The least that a path to each node of a layer counts, and from where it comes.
struct Reached {
    values: Vec<f64>,
    parents: Vec<u32>,
}

impl Reached {
    fn enter(&mut self, node: usize, from: usize, value: f64) {
        if value < self.values[node] {
            self.values[node] = value;
            self.parents[node] = from as u32;
        }
    }
}

/// Layers for which nodes are measured along each round, at least: of a short seam there is time for more.
const LAYERS_A_ROUND: usize = 100;

impl Ladder<'_> {
    /// The path whose worst violation is least, and that violation, unless it is shown to reach `bound` bands.
    ///
    /// A path is looked for with what is not measured counting as clear, so none is better than it seems; then it is measured, and
    /// wherever it is no better than the best so far, so are all nodes beside it. So the best is the least bad of all when none seems
    /// better; `rounds` bounds how often it is looked for, and what is measured, until then. Many paths are as bad where one place is: the
    /// one that violates least in all is named, so that nothing is that need not be.
    pub fn least_bad(
        &mut self,
        mut bound: f64,
        rounds: usize,
        measure: &mut impl FnMut(usize, &Node) -> Known,
    ) -> LeastBad {
        let steps: Steps = (0..self.layers.len()).map(|k| self.leading_to(k)).collect();
        let mut left = rounds * self.layers.len().max(LAYERS_A_ROUND);
        let mut best: Option<(Vec<usize>, Worst)> = None;
        for _ in 0..=rounds {
            let Some(path) = self.least_as_known(&steps, Count::Worst) else { break };
            if self.worst_of(&path).is_some_and(|worst| worst.violation.bands() >= bound) {
                break;
            }
            let mut is_better = true;
            for (layer, &node) in path.iter().enumerate() {
                self.measure_node(layer, node, &mut left, measure);
                let own = violation_of(&self.layers[layer].nodes[node]);
                if own.is_some_and(|violation| violation.bands() >= bound) {
                    is_better = false;
                    self.measure_layer(layer, bound, &mut left, measure);
                }
            }
            if is_better {
                let Some(worst) = self.worst_of(&path) else { return LeastBad::Nothing };
                bound = worst.violation.bands();
                self.measure_layer(worst.layer, bound, &mut left, measure);
                best = Some((path, worst));
            }
            if left == 0 {
                break;
            }
        }
        let Some((path, worst)) = best else { return LeastBad::TooBad };
        let path = self.least_in_all(&steps, worst, rounds, measure).unwrap_or(path);
        let worst = self.worst_of(&path).unwrap_or(worst);
        LeastBad::Path(path, worst)
    }

    /// Of the paths looked at in `rounds` that are no worse than `worst` anywhere, the one that violates least in all: the least there is
    /// where the last is measured throughout.
    fn least_in_all(
        &mut self,
        steps: &Steps,
        worst: Worst,
        rounds: usize,
        measure: &mut impl FnMut(usize, &Node) -> Known,
    ) -> Option<Vec<usize>> {
        let bound = worst.violation.bands();
        let mut left = rounds * self.layers.len();
        let mut least: Option<(Vec<usize>, f64)> = None;
        for _ in 0..rounds {
            let Some(path) = self.least_as_known(steps, Count::TotalWithin(bound)) else { break };
            let mut was_measured = true;
            for (layer, &node) in path.iter().enumerate() {
                was_measured &= !self.measure_node(layer, node, &mut left, measure);
            }
            let bands: Vec<f64> =
                self.violations(&path).iter().map(|each| each.map_or(0.0, |each| each.bands())).collect();
            let total = bands.iter().sum();
            let is_within = bands.iter().all(|bands| *bands <= bound);
            if is_within && least.as_ref().is_none_or(|(_, least)| total < *least) {
                least = Some((path, total));
            }
            if was_measured {
                break;
            }
        }
        least.map(|(path, _)| path)
    }

    /// Whether the node had to be measured.
    fn measure_node(
        &mut self,
        layer: usize,
        index: usize,
        left: &mut usize,
        measure: &mut impl FnMut(usize, &Node) -> Known,
    ) -> bool {
        let node = &self.layers[layer].nodes[index];
        if !matches!(node.known, Known::Unknown | Known::Blocked) {
            return false;
        }
        let known = measure(layer, node);
        *left = left.saturating_sub(1);
        let layer = &mut self.layers[layer];
        // Whole turns away the arm stands in the same place: what is in its way there is so on all of them.
        if let Known::Measured(Violation { limit: Limit::Clearance(_), .. }) = known {
            for node in layer.group_around(index) {
                if layer.nodes[node].known == Known::Unknown {
                    layer.nodes[node].known = known;
                }
            }
        }
        layer.nodes[index].known = known;
        true
    }

    /// Where one node of a layer is bad its neighbours often are too: measuring all that may be better than `bound` saves many sweeps.
    fn measure_layer(
        &mut self,
        layer: usize,
        bound: f64,
        left: &mut usize,
        measure: &mut impl FnMut(usize, &Node) -> Known,
    ) {
        for index in 0..self.layers[layer].nodes.len() {
            if *left > 0 && own_bands(&self.layers[layer].nodes[index]) < bound {
                self.measure_node(layer, index, left, measure);
            }
        }
    }

    fn leading_to(&self, k: usize) -> LeadingTo {
        let layer = &self.layers[k];
        let mut leading = LeadingTo { all: Vec::new(), begins: vec![0] };
        for group in 0..if k == 0 { 0 } else { layer.group_count() } {
            leading.all.extend(self.groups_before(k, layer.choice_of(group)).map(|from_group| {
                let (step, bands) = self.any_step(k, from_group, group);
                Leading { from_group, turns: step.turns, bands }
            }));
            leading.begins.push(leading.all.len());
        }
        leading
    }

    fn least_as_known(&self, steps: &Steps, count: Count) -> Option<Vec<usize>> {
        let mut values: Vec<f64> = Vec::new();
        let mut parents: Vec<Vec<u32>> = Vec::with_capacity(self.layers.len());
        for (k, layer) in self.layers.iter().enumerate() {
            let own: Vec<f64> = layer.nodes.iter().map(own_bands).collect();
            let (next, parent) = match k {
                0 => (own.iter().map(|own| count.after(0.0, *own)).collect(), vec![0; own.len()]),
                _ => self.next_values(k, own, &values, &steps[k], count),
            };
            values = next;
            parents.push(parent);
        }
        let last = (0..values.len()).min_by(|a, b| values[*a].total_cmp(&values[*b]))?;
        values[last].is_finite().then(|| trace_back(&parents, last))
    }

    /// The least that a path to each node of layer `k` counts, where it has bands of its `own`, and from which node of the layer before it
    /// comes, to each of which one counts `values`.
    fn next_values(
        &self,
        k: usize,
        own: Vec<f64>,
        values: &[f64],
        leading: &LeadingTo,
        count: Count,
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
        for group in 0..layer.group_count() {
            for &from in &entries {
                for to in layer.group(group) {
                    reached.enter(to, from, count.after(values[from], own[to].max(edge(from, to))));
                }
            }
            let leading = leading.group(group);
            for &Leading { from_group, turns, bands } in leading {
                let is_unreachable = before.is_unreachable(from_group);
                for to in layer.group(group) {
                    let turns = if is_unreachable { 0 } else { layer.turns[to] + turns };
                    if let Some(from) = before.on_turns(from_group, turns) {
                        reached.enter(to, from, count.after(values[from], own[to].max(bands)));
                    }
                }
            }
            // From other turns some axis goes half a turn or more.
            for to in layer.group(group) {
                let at_least = own[to].max(half_turn);
                for &Leading { from_group, .. } in leading {
                    if count.after(least[from_group], at_least) < reached.values[to] {
                        for from in before.group(from_group) {
                            reached.enter(to, from, count.after(values[from], own[to].max(edge(from, to))));
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

#[cfg(test)]
mod tests {
    use std::path::Path;

    use seamwright_kinematics::AxisValues;

    use super::*;
    use crate::cell::read::read_cell;
    use crate::plan::TorchAngles;
    use crate::plan::ladder::{Choice, Choices, Layer, Rung};
    use crate::units;

    const LAYERS: usize = 7;
    const NODES: usize = 80;

    /// The least bad path of a ladder of which any node may follow any, with the degrees that each node of each layer misses; and the nodes
    /// measured for it.
    fn least_bad_of(missing: impl Fn(usize, usize) -> f64) -> (Vec<f64>, Worst, usize) {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let cell = read_cell(&file).unwrap();
        let angles = TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd: 0.0 };
        let choices = Choices {
            all: vec![Choice { angles, rate: 0.0 }; NODES],
            neighbours: vec![(0..NODES as u32).collect(); NODES],
        };
        let home = cell.arm.home;
        let layers = (0..LAYERS).map(|k| {
            let rung =
                Rung { s: k as f64, run: 0, time: if k == 0 { f64::INFINITY } else { 1.0 }, length: 1.0 };
            let node = |choice: usize| Node {
                choice: choice as u32,
                axes: home,
                violation: None,
                unreachable: false,
                rate: 0.0,
                known: Known::Unknown,
                set_aside: false,
            };
            Layer::new(rung, (0..NODES).map(node).collect(), NODES)
        });
        let arm = &cell.arm.arm;
        let max_speed = AxisValues::from_fn(|i, _| arm.axes()[i].max_speed);
        let mut ladder = Ladder { layers: layers.collect(), choices: &choices, arm, max_speed, home };
        let mut measured = 0;
        let mut measure = |k: usize, node: &Node| {
            measured += 1;
            match missing(k, node.choice as usize) {
                0.0 => Known::Clear,
                degrees => Known::Measured(Violation::of_jump(0, units::deg(degrees))),
            }
        };
        let LeastBad::Path(path, worst) = ladder.least_bad(f64::INFINITY, 16, &mut measure) else {
            panic!("there are paths")
        };
        let bands =
            ladder.violations(&path).into_iter().map(|each| each.map_or(0.0, |each| each.bands())).collect();
        (bands, worst, measured)
    }

    /// The least that a path must violate is the greatest, over the layers, of the least in a layer.
    #[test]
    fn no_path_is_less_bad_than_the_one_that_is_named() {
        // Degrees missing at a node, spread without order from 5 on; in the layers but one some node misses next to nothing.
        let missing = |k: usize, choice: usize| {
            let spread = (choice * 37 + k * 11) % NODES;
            if spread == 0 && k != 4 { 0.5 } else { 5.0 + spread as f64 }
        };
        let (bands, worst, measured) = least_bad_of(missing);
        let least = |k: usize| (0..NODES).map(|node| missing(k, node)).fold(f64::INFINITY, f64::min);
        let expected = (0..LAYERS).map(least).fold(0.0, f64::max);
        assert!((worst.violation.bands() - expected).abs() < 1e-9, "{worst:?}, {expected}");
        assert_eq!((worst.layer, bands.len()), (4, LAYERS));
        assert!(measured <= LAYERS * NODES, "a node was measured twice");
    }

    /// One layer is bad on every path, by 50 to 129 degrees. In the others nine nodes of ten miss less than that: none needs to.
    #[test]
    fn nothing_else_is_violated_where_nothing_else_need_be() {
        let missing = |k: usize, choice: usize| match k {
            4 => 50.0 + ((choice * 37) % NODES) as f64,
            _ if choice % 10 < 9 => 1.0 + ((choice * 37 + k * 11) % 40) as f64,
            _ => 0.0,
        };
        let (bands, worst, _) = least_bad_of(missing);
        let expected: Vec<f64> = (0..LAYERS).map(|k| if k == 4 { 50.0 } else { 0.0 }).collect();
        assert!(bands.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-9), "{bands:?}");
        assert_eq!(worst.layer, 4);
    }
}
