//! Decides the cheapest path through a ladder whose nodes and steps keep every limit.

use super::{Known, Ladder, Layer, Node, first_of_least, is_less, trace_back, weights};

/// Nodes at the end of one stitch from which the next may be entered: the cheapest so far.
const STITCH_ENTRIES: usize = 24;

impl Ladder<'_> {
    /// The cheapest path of node indices, one a layer, all of whose nodes keep every limit; `None` where there is none.
    ///
    /// `check` asks the clearance of a node.
    pub fn cheapest(&mut self, check: &mut impl FnMut(usize, &Node) -> Known) -> Option<Vec<usize>> {
        loop {
            let path = self.cheapest_as_known()?;
            let mut settled = true;
            for (layer, &index) in path.iter().enumerate() {
                if self.layers[layer].nodes[index].known != Known::Unknown {
                    continue;
                }
                let known = check(layer, &self.layers[layer].nodes[index]);
                self.layers[layer].nodes[index].known = known;
                if known != Known::Clear {
                    settled = false;
                    self.check_layer(layer, check);
                }
            }
            if settled {
                return Some(path);
            }
        }
    }

    /// Leaves in layer `k` only the nodes that some node of the layer before leads to; whether any is left.
    pub fn keep_reached(&mut self, k: usize) -> bool {
        let layer = &self.layers[k];
        // Where a stitch begins all that is left of the layer before leads to it.
        let leads_on = k.checked_sub(1).is_none_or(|before| !self.layers[before].nodes.is_empty());
        if k == 0 || layer.rung.time.is_infinite() {
            return leads_on && !layer.nodes.is_empty();
        }
        let weights = weights();
        let allowed = self.allowed(&layer.rung);
        let before = &self.layers[k - 1];
        let mut reached = vec![false; layer.nodes.len()];
        for group in 0..layer.group_count() {
            let choice = layer.choice_of(group);
            for from in self.groups_before(k, choice) {
                let Some(step) = self.step(k, from, group, &allowed) else { continue };
                if self.step_cost(k, &step, [before.choice_of(from), choice], &weights).is_none() {
                    continue;
                }
                for index in layer.group(group) {
                    reached[index] |= before.on_turns(from, layer.turns[index] + step.turns).is_some();
                }
            }
        }
        let nodes = layer.nodes.iter().zip(reached).filter(|(_, reached)| *reached).map(|(node, _)| *node);
        let nodes: Vec<Node> = nodes.collect();
        let left = !nodes.is_empty();
        self.layers[k] = Layer::new(layer.rung, nodes, self.choices.all.len());
        left
    }

    /// Where one node of a layer is blocked its neighbours often are too: asking the whole layer saves many sweeps.
    fn check_layer(&mut self, layer: usize, check: &mut impl FnMut(usize, &Node) -> Known) {
        for node in &mut self.layers[layer].nodes {
            if node.violation.is_none() && !node.set_aside && node.known == Known::Unknown {
                node.known = check(layer, node);
            }
        }
    }

    fn cheapest_as_known(&self) -> Option<Vec<usize>> {
        let mut costs: Vec<f64> = Vec::new();
        let mut parents: Vec<Vec<u32>> = Vec::with_capacity(self.layers.len());
        for k in 0..self.layers.len() {
            let (next, parent) = if k == 0 { self.first_costs() } else { self.next_costs(k, &costs) };
            if next.iter().all(|cost| cost.is_infinite()) {
                return None;
            }
            costs = next;
            parents.push(parent);
        }
        Some(trace_back(&parents, first_of_least(costs)?))
    }

    fn first_costs(&self) -> (Vec<f64>, Vec<u32>) {
        let layer = &self.layers[0];
        let cost = |node: &Node| {
            if node.set_aside || !node.is_open() {
                return f64::INFINITY;
            }
            let travel = (node.axes - self.home).abs().component_div(&self.max_speed).sum();
            node.rate * layer.rung.length + weights().from_home * travel
        };
        (layer.nodes.iter().map(cost).collect(), vec![0; layer.nodes.len()])
    }

    /// What it costs at least to come to each node of layer `k`, and from which node of the layer before, where that costs `costs`.
    fn next_costs(&self, k: usize, costs: &[f64]) -> (Vec<f64>, Vec<u32>) {
        let weights = weights();
        let (before, layer) = (&self.layers[k - 1], &self.layers[k]);
        let allowed = self.allowed(&layer.rung);
        let entries = self.cheapest_before(k, costs, STITCH_ENTRIES);
        let least = self.least_of_groups_before(k, costs);
        let mut next = vec![f64::INFINITY; layer.nodes.len()];
        let mut parent = vec![0_u32; layer.nodes.len()];
        let mut enter = |index: usize, from: usize, edge: f64| {
            let cost = costs[from] + layer.nodes[index].rate * layer.rung.length + edge;
            if is_less(cost, next[index]) {
                next[index] = cost;
                parent[index] = from as u32;
            }
        };
        for group in 0..layer.group_count() {
            let choice = layer.choice_of(group);
            let open =
                || layer.group(group).filter(|i| layer.nodes[*i].is_open() && !layer.nodes[*i].set_aside);
            if open().next().is_none() {
                continue;
            }
            for from_group in self.groups_before(k, choice).filter(|group| least[*group].is_finite()) {
                let Some(step) = self.step(k, from_group, group, &allowed) else { continue };
                let choices = [before.choice_of(from_group), choice];
                let Some(edge) = self.step_cost(k, &step, choices, &weights) else { continue };
                for index in open() {
                    if let Some(from) = before.on_turns(from_group, layer.turns[index] + step.turns) {
                        enter(index, from, edge);
                    }
                }
            }
            for &from in &entries {
                for index in open() {
                    enter(index, from, self.lift_cost(&before.nodes[from], &layer.nodes[index], &weights));
                }
            }
        }
        (next, parent)
    }
}
