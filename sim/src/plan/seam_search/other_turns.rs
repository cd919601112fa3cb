//! Decides which stances on other whole turns than those that are tried a way may come to: where a stance of the layer before leads to
//! one.

use seamwright_kinematics::AxisValues;

use super::Search;
use crate::plan::ladder::{Known, Ladder, Layer, Node, jump};
use crate::plan::whole_turns::Beyond;

impl Search<'_, '_> {
    /// Adds to the last layer what the one before leads to beyond the turns that are tried; notes an axis that comes near an end of its
    /// range so.
    pub(super) fn follow_to_other_turns(&mut self, ladder: &mut Ladder<'_>) {
        // Where a stitch begins the arm may be on any turn: those that are tried will do again.
        let [.., before, layer] = &ladder.layers[..] else { return };
        if self.whole_turns.are_all() || layer.rung.time.is_infinite() {
            return;
        }
        let mut found: Vec<(u32, AxisValues)> = Vec::new();
        let leaving = before
            .nodes
            .iter()
            .filter(|node| node.violation.is_none() && self.whole_turns.is_near_end(&node.axes, jump()));
        for from in leaving {
            for &choice in &ladder.choices.neighbours[from.choice as usize] {
                let one_of_each = layer
                    .of(choice)
                    .iter()
                    .filter(|node| node.violation.is_none() && self.whole_turns.is_on_first(&node.axes));
                for node in one_of_each {
                    let axes = self.whole_turns.nearest(&node.axes, &from.axes);
                    if !ladder.may_step(&from.axes, &axes, &layer.rung) {
                        continue;
                    }
                    match self.whole_turns.beyond(&axes) {
                        Beyond::Not => {}
                        Beyond::NearEnd(axis) => self.near_end = Some(axis),
                        Beyond::OnOtherTurns => {
                            let is_known = |(known, at): &(u32, AxisValues)| {
                                *known == choice && (at - axes).amax() < 1e-9
                            };
                            if !found.iter().any(is_known) {
                                found.push((choice, axes));
                            }
                        }
                    }
                }
            }
        }
        if found.is_empty() {
            return;
        }
        let added = found.into_iter().map(|(choice, axes)| Node {
            choice,
            axes,
            violation: self.tracer.along.setup.axis_violation(&axes),
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
