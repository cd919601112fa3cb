//! Decides which stances on other whole turns than those that are tried a way may come to: where a stance of the layer before leads to
//! one.

use std::collections::BTreeMap;

use seamwright_kinematics::AxisValues;

use super::Search;
use crate::plan::TorchAngles;
use crate::plan::ladder::{Known, Ladder, Layer, Node, jump};
use crate::plan::trace::Failure;
use crate::plan::violation::Limit;
use crate::plan::whole_turns::{Beyond, turns_between};

impl Search<'_, '_> {
    /// Keeps what stopped a way last; whether it was an end of the range or of the hose's of an axis that is tried on some turns alone,
    /// which is noted.
    pub(super) fn note(&mut self, failure: Failure) -> bool {
        let bound: &[usize] = match failure.violation.limit {
            Limit::AxisRange(axis) => &[axis],
            Limit::Hose(_) => &[3, 5],
            _ => &[],
        };
        let on_some = bound.iter().copied().find(|axis| self.whole_turns.are_some_of(*axis));
        self.near_end = on_some.or(self.near_end);
        self.last_failure = Some(failure);
        on_some.is_some()
    }

    /// Whether there might be a way if no range of an axis that is tried on some turns alone had an end: if not, other turns help
    /// nothing.
    pub(super) fn may_hold_without_ends(&mut self, levels: &[(TorchAngles, f64)], turning: bool) -> bool {
        self.without_ends = true;
        let choices = self.choices(levels, turning);
        let mut ladder = self.ladder(&choices);
        let may_hold = ladder.cheapest(&mut |k, node| self.check(k, node, &choices)).is_some();
        self.without_ends = false;
        may_hold
    }

    /// Adds to the last layer what the one before leads to beyond the turns that are tried; notes an axis that comes near an end of its
    /// range so.
    pub(super) fn follow_to_other_turns(&mut self, ladder: &mut Ladder<'_>) {
        // Where a stitch begins the arm may be on any turn: those that are tried will do again.
        let [.., before, layer] = &ladder.layers[..] else { return };
        if self.whole_turns.are_all() || layer.rung.time.is_infinite() {
            return;
        }
        let allowed = ladder.allowed(&layer.rung);
        // By choice, which node it is whole turns of, and how many.
        let mut found: BTreeMap<(u32, usize, i64), AxisValues> = BTreeMap::new();
        for (from, to) in self.leading_on(ladder) {
            let (from, node) = (&before.nodes[from], &layer.nodes[to]);
            let may_go = |axis: usize, step: f64| step.abs() <= allowed[axis];
            let Some(axes) = self.whole_turns.nearest(&node.axes, &from.axes, may_go) else { continue };
            let beyond = self.whole_turns.beyond(&axes);
            if let Beyond::NearEnd(axis) = beyond {
                self.near_end = Some(axis);
            }
            let goes_on = match beyond {
                Beyond::Not => false,
                Beyond::OnOtherTurns => true,
                Beyond::NearEnd(_) => self.without_ends,
            };
            if goes_on {
                found.insert((node.choice, to, turns_between(&node.axes, &axes)), axes);
            }
        }
        if found.is_empty() {
            return;
        }
        let added = found.into_iter().map(|((choice, ..), axes)| Node {
            choice,
            axes,
            violation: self.tracer.along.setup.axis_violation(&axes).filter(|_| !self.without_ends),
            unreachable: false,
            rate: ladder.choices.all[choice as usize].rate + self.stance_rate(&axes),
            known: Known::Unknown,
            set_aside: false,
        });
        let mut nodes: Vec<Node> = layer.nodes.iter().copied().chain(added).collect();
        nodes.sort_by_key(|node| node.choice);
        let rung = layer.rung;
        let last = ladder.layers.len() - 1;
        ladder.layers[last] = Layer::new(rung, nodes, ladder.choices.all.len());
    }

    /// Nodes of the last layer but one that are near the end of the turns that are tried, each with a node of the last layer that it leads
    /// to on some turns: of those that are whole turns apart one stands for all.
    fn leading_on(&self, ladder: &Ladder<'_>) -> Vec<(usize, usize)> {
        let k = ladder.layers.len() - 1;
        let (before, layer) = (&ladder.layers[k - 1], &ladder.layers[k]);
        let allowed = ladder.allowed(&layer.rung);
        let mut leading = Vec::new();
        for from_group in 0..before.group_count() {
            let is_leaving = |from: &usize| {
                let node = &before.nodes[*from];
                node.violation.is_none() && self.whole_turns.is_near_end(&node.axes, jump())
            };
            let leaving: Vec<usize> = before.group(from_group).filter(is_leaving).collect();
            if leaving.is_empty() {
                continue;
            }
            let neighbours = &ladder.choices.neighbours[before.choice_of(from_group) as usize];
            for group in neighbours.iter().flat_map(|choice| layer.groups_of(*choice)) {
                if ladder.step(k, from_group, group, &allowed).is_none() {
                    continue;
                }
                for to in layer.group(group) {
                    let node = &layer.nodes[to];
                    if node.violation.is_none() && self.whole_turns.is_on_first(&node.axes) {
                        leading.extend(leaving.iter().map(|from| (*from, to)));
                    }
                }
            }
        }
        leading
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use seamwright_kinematics::{Arm, Range};

    use super::super::{Found, search_along};
    use super::*;
    use crate::cell::frames::AxisUse;
    use crate::cell::read::read_cell;
    use crate::cell::{Band, Cell, DressLimits, SeamId};
    use crate::plan::Verdict;
    use crate::plan::setup::{Along, Setup};
    use crate::units;

    /// A fillet once round, the torch turning with it: axis 6 goes through more than a turn. Each axis (0-based) in `wide` may turn so
    /// far (rad) to either side.
    fn once_round(wide: &[usize], by: f64) -> Cell {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/round-flange/cell.toml");
        let mut cell = read_cell(&file).unwrap();
        let arm = &cell.arm.arm;
        let mut axes = arm.axes().clone();
        for axis in wide {
            axes[*axis].range = Range { min: -by, max: by };
        }
        cell.arm.arm = Arm::new(arm.name().to_owned(), axes, *arm.link6_from_flange());
        cell.torch.dress = DressLimits::default();
        let seam = &mut cell.seams[0];
        seam.axis_uses.fill(AxisUse::Held);
        seam.procedure.turn = Some(Band { aim: units::deg(270.0), below: 0.0, above: 0.0 });
        cell
    }

    fn searched(setup: &Setup<'_>) -> Found {
        let path = setup.cell.seams[0].path.as_ref().unwrap();
        search_along(&Along::held(setup), SeamId(0), path, false)
    }

    fn setup(cell: &Cell) -> Setup<'_> {
        Setup::of_seam(cell, SeamId(0), None)
    }

    #[test]
    fn a_way_goes_on_beyond_the_turns_that_are_tried() {
        let cell = once_round(&[0, 1, 2, 3, 4, 5], units::deg(3600.0));
        let setup = setup(&cell);
        let found = searched(&setup);
        assert_eq!(found.verdict, Verdict::Holds);
        let mut points = found.ways[0].legs.iter().flatten().flat_map(|mv| &mv.points);
        assert!(
            points.any(|point| setup.whole_turns.beyond(&point.axes) == Beyond::OnOtherTurns),
            "the way stays on the turns that are tried: this shows nothing"
        );
        // On every turn of axis 6 there is no better way.
        let mut on_all = setup.clone();
        on_all.whole_turns = setup.whole_turns.with_all_of(5);
        let best = |found: &Found| found.ways.iter().map(|way| way.cost).fold(f64::INFINITY, f64::min);
        let (some, all) = (best(&found), best(&searched(&on_all)));
        assert!((some - all).abs() < 1e-6, "{some} on some turns, {all} on all");
    }

    /// Two turns of each of four axes, of which the one about home is tried: sixteen times as many stances on all.
    #[test]
    fn the_turn_about_home_stands_for_both_of_two() {
        let cell = once_round(&[0, 3, 4, 5], units::deg(360.0));
        let on_one = setup(&cell);
        let mut on_both = on_one.clone();
        for axis in [0, 3, 4, 5] {
            assert!(on_one.whole_turns.are_some_of(axis));
            on_both.whole_turns = on_both.whole_turns.with_all_of(axis);
        }
        let (one, both) = (searched(&on_one), searched(&on_both));
        assert_eq!([one.verdict, both.verdict], [Verdict::Holds; 2]);
        assert!(one.effort.solutions < both.effort.solutions, "{:?} {:?}", one.effort, both.effort);
        let best = |found: &Found| found.ways.iter().map(|way| way.cost).fold(f64::INFINITY, f64::min);
        assert!(
            (best(&one) - best(&both)).abs() < 1e-6,
            "{} on one turn, {} on both",
            best(&one),
            best(&both)
        );
    }

    /// Three turns, of which the middle one is tried: every way goes through an end of it.
    #[test]
    fn an_axis_is_tried_on_all_its_turns_where_an_end_of_its_range_comes_near() {
        let cell = once_round(&[5], units::deg(541.0));
        let three_turns = setup(&cell);
        assert!(!three_turns.whole_turns.are_all());
        let found = searched(&three_turns);
        assert_eq!(found.verdict, Verdict::Holds);
        let mut points = found.ways[0].legs.iter().flatten().flat_map(|mv| &mv.points);
        assert!(points.any(|point| three_turns.whole_turns.beyond(&point.axes) == Beyond::NearEnd(5)));
    }
}
