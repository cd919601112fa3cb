//! Decides which ways over a seam are kept besides the usual ones where the order of seams is open: the best for each branch of the arm
//! at its start and at its end.
//!
//! They are not refined off the grid of the search: that makes a way more comfortable, hardly quicker. A branch is how the arm stands, and on which whole turn each axis is. All come from the one graph of the search.

use seamwright_kinematics::{Arm, AxisValues, Configuration};

use super::{Choices, Search, Tries, Way};
use crate::plan::ladder::{Ladder, rank};

/// Ways kept of one seam besides the usual ones.
const MOST: usize = 8;

/// How the arm stands, and on which turn each axis is.
#[derive(Clone, Copy, PartialEq)]
struct Branch(Configuration, [i32; 6]);

impl Branch {
    fn of(arm: &Arm, axes: &AxisValues) -> Self {
        let turn = |axis: usize| ((axes[axis] + std::f64::consts::PI) / std::f64::consts::TAU).floor() as i32;
        Self(arm.configuration(axes), std::array::from_fn(turn))
    }
}

impl Search<'_, '_> {
    /// Ways by branches that none of the `usual` ways has, best first.
    pub(super) fn ways_by_other_branches(
        &mut self,
        ladder: &mut Ladder<'_>,
        choices: &Choices,
        usual: &[Way],
        tries: &mut Tries,
    ) -> Vec<Way> {
        let arm = &self.tracer.along.setup.cell.arm.arm;
        let of_layer = |ladder: &Ladder<'_>, layer: usize| -> Vec<Branch> {
            ladder.layers[layer].nodes.iter().map(|node| Branch::of(arm, &node.axes)).collect()
        };
        let last = ladder.layers.len() - 1;
        let (starts, ends) = (of_layer(ladder, 0), of_layer(ladder, last));
        let mut kept: Vec<(Branch, Branch)> = usual
            .iter()
            .map(|way| {
                let (start, end) = way.weld_ends();
                (Branch::of(arm, start), Branch::of(arm, end))
            })
            .collect();
        let mut found = Vec::new();
        while found.len() < MOST {
            for (node, branch) in ladder.layers[0].nodes.iter_mut().zip(&starts) {
                node.set_aside = kept.iter().any(|(start, _)| start == branch);
            }
            let Some((way, path)) = self.next_way(ladder, choices, tries, false) else { break };
            kept.push((starts[path[0]], ends[path[last]]));
            found.push(way);
        }
        // Where the torch is never lifted, the end follows from the start.
        let lifted = self.tracer.seam.runs.len() > 1;
        for index in 0..if lifted { kept.len() } else { 0 } {
            let start = kept[index].0;
            for (node, branch) in ladder.layers[0].nodes.iter_mut().zip(&starts) {
                node.set_aside = *branch != start;
            }
            while found.len() < MOST {
                for (node, branch) in ladder.layers[last].nodes.iter_mut().zip(&ends) {
                    node.set_aside = kept.contains(&(start, *branch));
                }
                let Some((way, path)) = self.next_way(ladder, choices, tries, false) else { break };
                kept.push((start, ends[path[last]]));
                found.push(way);
            }
        }
        found.sort_by(|a, b| rank(a.cost).total_cmp(&rank(b.cost)));
        found
    }
}
