//! Decides whether a seam may hold at all, as quickly as may be: asked of every change that might free it.
//!
//! What rules a seam out is asked in rising cost: a rule that it breaks whatever way the arm goes; a place along it that no torch pose
//! of the search passes, first of all where it failed before; an angle at which some place is not passed; last the search itself.
//! A torch that stands too near to something rules out every stance of the arm at once. Nothing is ruled out that the search would
//! have found; `tests` hold that against the search.

use std::collections::BTreeMap;
use std::rc::Rc;

use seamwright_kinematics::Pose;

use super::levels::{Levels, levels_of_ends};
use super::{Search, search};
use crate::cell::frames::AxisUse;
use crate::cell::{SeamId, SeamPath};
use crate::plan::ladder::{Choices, Known, Layer, Node};
use crate::plan::setup::{Along, Setup, Stance};
use crate::plan::violation::Violation;
use crate::plan::{TorchAngles, rule, station_from_tool};

/// As [`search`], asking only whether the seam holds: see [`crate::plan::may_hold`].
pub(in crate::plan) fn may_hold(
    setup: &Setup<'_>,
    seam_id: SeamId,
    path: &SeamPath,
    doubtful: &[f64],
) -> bool {
    let seam = &setup.cell.seams[seam_id.0];
    if seam.taught.is_some() || seam.axis_uses.iter().any(|what| *what != AxisUse::Held) {
        return !search(setup, seam_id, path, false).ways.is_empty();
    }
    let along = Along::held(setup);
    let mut search = Search::new(&along, seam_id, seam, path);
    search.ask_only_whether();
    rule::broken(setup, seam, path, &along.law).is_empty()
        && search.joint_too_tight().is_none()
        && search.every_place_passes(doubtful)
        && !search.ways_that_hold(true).is_empty()
}

/// Stances, each with what it costs for a metre.
type Open = Rc<[(Stance, f64)]>;

/// What is remembered from one place asked to the next.
#[derive(Debug, Default)]
pub(super) struct Whether {
    /// Index of the turn about the wire that passed last: it often passes next.
    turn: usize,
    /// By layer and torch angles (by their bits): the stances that keep the limits of the arm, the torch by itself being clear, and
    /// what each costs for a metre.
    open: BTreeMap<(usize, [u64; 4]), Open>,
}

impl Search<'_, '_> {
    /// From here on nothing is asked but whether there is a way.
    pub(super) fn ask_only_whether(&mut self) {
        self.most_ways = 1;
        self.whether = Some(Whether::default());
        self.open_alone = true;
    }

    /// Whether every layer has a torch pose of the search that keeps every limit: those next to the `doubtful` arc lengths first.
    fn every_place_passes(&mut self, doubtful: &[f64]) -> bool {
        let mut levels = self.all_levels(&self.between_ends());
        if let Some(at_ends) = &self.tracer.seam.procedure.ends {
            levels.extend(levels_of_ends(&self.between_ends(), &at_ends.bands));
        }
        let doubtful: Vec<usize> = doubtful.iter().map(|s| self.layer_near(*s)).collect();
        let others = coarse_to_fine(self.rungs.len()).filter(|k| !doubtful.contains(k));
        doubtful.iter().copied().chain(others).all(|k| self.passes(k, &levels))
    }

    /// Whether every layer has a stance at one of `levels` that keeps every limit, where that is asked before the search is made; what
    /// does not can be left out.
    pub(super) fn may_serve(&mut self, levels: &Levels) -> bool {
        self.whether.is_none() || self.every_layer_passes(levels)
    }

    /// Whether every layer has a stance at one of `levels` that keeps every limit.
    pub(super) fn every_layer_passes(&mut self, levels: &Levels) -> bool {
        let first = self.shut;
        let shut =
            first.into_iter().chain(coarse_to_fine(self.rungs.len())).find(|k| !self.passes(*k, levels));
        self.shut = shut.or(first);
        shut.is_none()
    }

    /// Whether a torch pose at one of `levels` keeps every limit at layer `k`, at the ends of a run with the way in or out.
    fn passes(&mut self, k: usize, levels: &Levels) -> bool {
        let bands = self.bands_at(k);
        let turns = self.turns();
        let first = self.whether.as_ref().map_or(0, |whether| whether.turn);
        let setup = self.tracer.setup_at(self.rungs[k].s);
        for (angles, _) in levels {
            if Violation::of_angles(&bands, angles).is_some() {
                continue;
            }
            for turn in (0..turns.len()).map(|i| (i + first) % turns.len()) {
                let angles = TorchAngles { turn: turns[turn], ..*angles };
                for (stance, _) in self.open_stances(k, &angles).iter() {
                    if self.tracer.clearance_queries > self.most_queries {
                        return false;
                    }
                    if self.tracer.clears_by(&setup, &stance.axes, angles.ctwd, 0.0)
                        && self.ways_in_and_out(k, &angles, &stance.axes).is_ok()
                    {
                        if let Some(whether) = &mut self.whether {
                            whether.turn = turn;
                        }
                        return true;
                    }
                }
            }
        }
        false
    }

    /// Nothing is remembered of stances any more.
    pub(super) fn forget_stances(&mut self) {
        if let Some(whether) = &mut self.whether {
            whether.open.clear();
        }
    }

    /// A layer with no node but those of [`Self::open_stances`].
    pub(super) fn open_layer(&mut self, k: usize, choices: &Choices) -> Layer {
        let bands = self.bands_at(k);
        let mut nodes: Vec<Node> = Vec::new();
        for (index, choice) in choices.all.iter().enumerate() {
            if Violation::of_angles(&bands, &choice.angles).is_some() {
                continue;
            }
            nodes.extend(self.open_stances(k, &choice.angles).iter().map(|(stance, rate)| Node {
                choice: index as u32,
                axes: stance.axes,
                violation: None,
                unreachable: false,
                rate: choice.rate + rate,
                known: Known::Unknown,
                set_aside: false,
            }));
        }
        Layer::new(self.rungs[k], nodes, choices.all.len())
    }

    /// The stances that put the torch at `angles` in layer `k` and keep the limits of the arm, each with what it costs for a metre; none
    /// where the torch by itself is too near to something.
    pub(super) fn open_stances(&mut self, k: usize, angles: &TorchAngles) -> Open {
        let bits = [angles.work, angles.travel, angles.turn, angles.ctwd].map(f64::to_bits);
        if let Some(known) = self.whether.as_ref().and_then(|whether| whether.open.get(&(k, bits))) {
            return Rc::clone(known);
        }
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let mut stances: Vec<Stance> = Vec::new();
        let wire_end = station_from_tool(&self.points[k], angles);
        let base_from_flange = setup.base_from_flange(&wire_end, angles.ctwd);
        if self.round_clears(k, angles, &base_from_flange)
            && self.tracer.torch_clears(&setup, &base_from_flange, angles.ctwd)
        {
            setup.stances(&base_from_flange, &self.whole_turns, &mut stances);
            self.poses += 1;
            self.solutions += stances.len() as u64;
        }
        let open = stances.iter().filter(|stance| {
            stance.violation.is_none() && self.too_fast_to_weave(k, &setup, &stance.axes, angles).is_none()
        });
        let open: Open = open.map(|stance| (*stance, self.stance_rate(&stance.axes))).collect();
        if let Some(whether) = &mut self.whether {
            whether.open.insert((k, bits), Rc::clone(&open));
        }
        open
    }

    /// Whether what of the torch is round about the wire keeps its clearance: asked once for all turns that are asked one after the other.
    fn round_clears(&mut self, k: usize, angles: &TorchAngles, base_from_flange: &Pose) -> bool {
        let unturned = TorchAngles { turn: 0.0, ..*angles };
        if let Some((_, _, clears)) =
            self.last_round.filter(|(layer, asked, _)| (*layer, *asked) == (k, unturned))
        {
            return clears;
        }
        let setup = self.tracer.setup_at(self.rungs[k].s);
        let clears = self.tracer.round_clears(&setup, base_from_flange, angles.ctwd);
        self.last_round = Some((k, unturned, clears));
        clears
    }
}

/// All of 0 to `count` − 1: the ends, the middle, the quarters and so on.
fn coarse_to_fine(count: usize) -> impl Iterator<Item = usize> {
    let mut all: Vec<usize> = (0..count).collect();
    all.sort_by_key(|k| if k + 1 == count { 0 } else { usize::BITS - k.trailing_zeros() });
    all.into_iter()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::Procedure;
    use crate::cell::read::read_cell;
    use crate::units;

    /// What the search finds at the angles and turns that it shares with this module, asked without any of what is left out here.
    fn found(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath) -> bool {
        let seam = &setup.cell.seams[seam_id.0];
        let along = Along::held(setup);
        let mut search = Search::new(&along, seam_id, seam, path);
        search.most_ways = 1;
        rule::broken(setup, seam, path, &along.law).is_empty() && !search.ways_that_hold(true).is_empty()
    }

    #[test]
    fn what_is_ruled_out_quickly_is_what_the_search_does_not_find() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/pump-skid/first-draft.toml");
        let cell = read_cell(&file).unwrap();
        let (mut held, mut failed) = (0, 0);
        for name in
            ["far lug, suction end, far side", "near pedestal, near side", "far lug, motor end, far side"]
        {
            let index = cell.seams.iter().position(|seam| seam.name == name).unwrap();
            let changes: [fn(&mut Procedure); 4] = [
                |_| (),
                |procedure| procedure.travel.aim = units::deg(23.0),
                |procedure| procedure.ctwd.above = units::mm(4.0),
                |procedure| procedure.work.aim = units::deg(40.0),
            ];
            for change in changes {
                let mut cell = cell.clone();
                change(&mut cell.seams[index].procedure);
                let seam = &cell.seams[index];
                let path = seam.path.as_ref().unwrap();
                let setup = Setup::of_seam(&cell, SeamId(index), None);
                let expected = found(&setup, SeamId(index), path);
                for doubtful in [&[][..], &[0.0, 0.5 * path.length()]] {
                    assert_eq!(may_hold(&setup, SeamId(index), path, doubtful), expected, "{name}");
                }
                *(if expected { &mut held } else { &mut failed }) += 1;
            }
        }
        assert!(held >= 2 && failed >= 4, "{held} held, {failed} failed: this shows little");
    }

    #[test]
    fn every_place_is_asked_once_the_ends_first() {
        assert_eq!(coarse_to_fine(1).collect::<Vec<_>>(), [0]);
        assert_eq!(coarse_to_fine(7).collect::<Vec<_>>(), [0, 6, 4, 2, 1, 3, 5]);
    }
}
