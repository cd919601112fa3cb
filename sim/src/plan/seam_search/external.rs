//! Decides how external axes stand or move while a seam is welded: held as the file says, chosen, or coordinated with the weld.
//!
//! Candidates are laws of the arc length. A chosen axis is held at a value of a grid over its range; a coordinated one starts at such
//! a value and follows the seam: a turning axis turns the seam's open side back to where it was, a slide keeps the seam's point at
//! its place along the slide, wholly, by half, or not at all. Along a chain the axes follow one after the other, on the part's side
//! from the part outward, on the arm's side from the floor to the arm. Grids are halved until a candidate holds. Of one fineness
//! those in the easiest welding position come first (flat, then horizontal, then the others, by the least easy place), of these those
//! that turn the seam's open side most nearly up, then those that leave the arm the shortest way, then those that keep it farther from
//! its limits at a few places. So "not found" speaks of these laws alone: others are not tried.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose};

use super::{Effort, Found, Search, Way, as_taught, search_along};
use crate::cell::frames::{AxisUse, FrameId};
use crate::cell::{Cell, Production, Seam, SeamId, SeamPath, WeldPosition};
use crate::plan::air_move::AirMoves;
use crate::plan::ladder::rank;
use crate::plan::setup::{Along, Setup};
use crate::plan::{Binding, ExternalLaw, Verdict, bends, rule, turn};
use crate::units;

/// Grids of values, each half as coarse as the one before.
const FINENESSES: u32 = 4;

/// Candidates of one seam, all finenesses together.
pub(super) const MOST_CANDIDATES: usize = 1500;

/// Layers searched before it is asked whether a candidate holds: of a long seam two candidates, of a short one more, all of whose
/// ways are kept.
const LAYERS_AT_ONCE: usize = 150;

/// The most candidates searched before it is asked whether one holds.
const MOST_AT_ONCE: usize = 6;

/// Candidates of one seam that are searched at angles at their aim: so many, of a long seam fewer.
const MOST_SEARCHED: usize = 24;

/// Layers of all candidates of a long seam that are searched, for six candidates at least.
const MOST_LAYERS: usize = 2400;

/// Candidates that are searched at angles off their aim where none holds at it.
const SEARCHED_OFF_AIM: usize = 3;

/// A turn of the open side by one radian counts as much as this way of the wire end, m.
const WAY_OF_A_TURN: f64 = 0.3;

/// Rungs of a seam at which a candidate is looked at before it is searched.
const LOOKED_AT: usize = 5;

/// Angles of the open side to upright that count as alike.
fn alike() -> f64 {
    units::deg(15.0)
}

/// Ways of the torch that count as alike.
fn alike_way() -> f64 {
    units::mm(50.0)
}

/// Searches one seam; `setup` must be that of its station, with the external axes as the seam says first.
///
/// `branches`: whether ways by every other branch of the arm are kept too, where external axes are held.
pub(in crate::plan) fn search(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath, branches: bool) -> Found {
    let mut found = as_given(setup, seam_id, path, branches);
    let replanned = found.replanned.iter_mut().flat_map(|replanned| &mut replanned.ways);
    for way in found.ways.iter_mut().chain(replanned) {
        found.effort.clearance_queries += bends::take(setup, (seam_id, path), way);
    }
    found
}

fn as_given(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath, branches: bool) -> Found {
    let seam = &setup.cell.seams[seam_id.0];
    let Some(given) = &seam.taught else { return planned(setup, seam_id, path, branches) };
    let replanned = planned(setup, seam_id, path, false);
    let broken = rule::broken(setup, seam, path, &ExternalLaw::held(setup.external.clone()));
    let mut found = against(broken, as_taught::found(setup, seam_id, path, &given.weld), Verdict::CannotHold);
    found.effort.add(&replanned.effort);
    Found { replanned: Some(Box::new(replanned)), ..found }
}

/// As [`as_given`], whatever was taught.
fn planned(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath, branches: bool) -> Found {
    let seam = &setup.cell.seams[seam_id.0];
    if seam.axis_uses.iter().all(|what| *what == AxisUse::Held) {
        let along = Along::held(setup);
        let broken = rule::broken(setup, seam, path, &along.law);
        return against(broken, search_along(&along, seam_id, path, branches), Verdict::CannotHold);
    }
    let candidates = Candidates { setup, seam_id, seam, path };
    candidates.search()
}

/// A seam that breaks a rule whatever way the arm goes does not hold, whatever else was found of it.
fn against(mut broken: Vec<Binding>, found: Found, verdict: Verdict) -> Found {
    if broken.is_empty() {
        return found;
    }
    let first = broken.remove(0);
    let also = broken.into_iter().chain(found.binding).chain(found.also).collect();
    Found { verdict, ways: Vec::new(), usual: 0, binding: Some(first), also, ..found }
}

/// The laws that may serve one seam.
pub(super) struct Candidates<'a, 'c> {
    pub(super) setup: &'a Setup<'c>,
    pub(super) seam_id: SeamId,
    pub(super) seam: &'a Seam,
    pub(super) path: &'a SeamPath,
}

/// A law, and how it looks before it is searched.
struct Candidate {
    law: ExternalLaw,
    /// The least easy position along the seam.
    position: Production,
    /// What it breaks of what the procedure asks, whatever way the arm goes.
    broken: Vec<Binding>,
    /// Steps of [`alike`] by which the open side is off upright where it is worst.
    off_upright: u32,
    /// Of the places looked at, how many the torch can be put at.
    passable: usize,
    /// How near to its limits the arm must come at these, as the search counts it.
    strain: f64,
    /// How far the torch must go as the arm sees it, in steps of [`alike_way`].
    way: u32,
}

/// What was found before a candidate did.
#[derive(Default)]
struct SoFar {
    effort: Effort,
    /// Ways that hold, but that nothing leads to.
    unreached: Option<Found>,
}

impl Candidates<'_, '_> {
    fn search(&self) -> Found {
        let mut seen: Vec<ExternalLaw> = Vec::new();
        let mut failing: Vec<Candidate> = Vec::new();
        let mut so_far = SoFar::default();
        let mut searched = 0;
        let most_searched = (MOST_LAYERS / self.samples().len()).clamp(MOST_AT_ONCE, MOST_SEARCHED);
        for fineness in 0..FINENESSES {
            let mut laws: Vec<ExternalLaw> = Vec::new();
            for law in self.laws(fineness) {
                if seen.len() + laws.len() < MOST_CANDIDATES && !seen.contains(&law) && !laws.contains(&law) {
                    laws.push(law);
                }
            }
            seen.extend(laws.iter().cloned());
            let mut candidates: Vec<Candidate> =
                laws.into_par_iter().map(|law| self.looked_at(law)).collect();
            candidates.sort_by(|a, b| {
                let first =
                    |candidate: &Candidate| (candidate.position, candidate.off_upright, candidate.way);
                first(a).cmp(&first(b)).then(a.strain.total_cmp(&b.strain))
            });
            let (open, shut): (Vec<_>, Vec<_>) = candidates
                .into_iter()
                .partition(|candidate| candidate.passable == LOOKED_AT && candidate.broken.is_empty());
            failing.extend(shut);
            let at_once = (LAYERS_AT_ONCE / self.samples().len()).clamp(2, MOST_AT_ONCE);
            for few in open.chunks(at_once) {
                if searched >= most_searched {
                    break;
                }
                searched += few.len();
                if let Some(found) = self.accessible_ways(few, false, &mut so_far) {
                    return found;
                }
            }
            failing.extend(open);
        }
        failing
            .sort_by_key(|candidate| (LOOKED_AT - candidate.passable, candidate.off_upright, candidate.way));
        // What breaks a rule whatever way the arm goes does not hold at other angles either.
        let (mut failing, breaking): (Vec<Candidate>, Vec<Candidate>) =
            failing.into_iter().partition(|candidate| candidate.broken.is_empty());
        failing.truncate(SEARCHED_OFF_AIM);
        if so_far.unreached.is_none() {
            for one in failing.chunks(1) {
                if let Some(found) = self.accessible_ways(one, true, &mut so_far) {
                    return found;
                }
            }
        }
        let SoFar { mut effort, unreached } = so_far;
        if let Some(found) = unreached {
            return Found { effort, ..found };
        }
        // The least broken first (what the external axes decide is the position alone); of equals the first in the order of the search.
        let off = |candidate: &Candidate| candidate.broken.iter().map(|broken| broken.amount).sum::<f64>();
        let all = failing.into_iter().chain(breaking);
        let least_bad = all.reduce(|best, next| if off(&next) < off(&best) { next } else { best });
        let (law, broken) = least_bad.map_or_else(
            || (ExternalLaw::held(self.seam.external.clone()), Vec::new()),
            |best| (best.law, best.broken),
        );
        let along = Along::new(self.setup, law);
        let found = against(broken, search_along(&along, self.seam_id, self.path, false), Verdict::NotFound);
        effort.add(&found.effort);
        Found { effort, ..found }
    }

    /// The ways by some candidates that hold and are accessible, if there are any.
    fn accessible_ways(&self, candidates: &[Candidate], off_aim: bool, so_far: &mut SoFar) -> Option<Found> {
        let found = self.searched(candidates, off_aim);
        found.iter().for_each(|found| so_far.effort.add(&found.effort));
        let best = best_ways(found)?;
        let (ways, accessible, queries) = self.accessible(best.ways);
        so_far.effort.clearance_queries += queries;
        let best = Found { usual: ways.len(), ways, ..best };
        if accessible {
            return Some(Found { effort: so_far.effort, ..best });
        }
        so_far.unreached.get_or_insert(best);
        None
    }

    /// The ways that the external axes get to the start of, and the arm from home and back again, if there are any, else all of
    /// them; and the clearance queries it took. What leads there from the seam before is asked when the order is known.
    fn accessible(&self, ways: Vec<Way>) -> (Vec<Way>, bool, u64) {
        let home = &self.cell().arm.home;
        let mut queries = 0;
        let mut clear = |external: &[f64], from: &AxisValues, to: &AxisValues| {
            let setup = self.setup.at(external);
            let mut air = AirMoves::new(&setup);
            let clear = air.between(from, to).is_ok();
            queries += air.clearance_queries;
            clear
        };
        let mut turned = 0;
        let open: Vec<bool> = ways
            .iter()
            .map(|way| {
                let start = way.external_start();
                let (obstruction, spent) = turn::obstruction(self.setup, home, &start);
                turned += spent;
                obstruction.is_none()
                    && clear(&start, home, way.start())
                    && clear(&way.external_end(), way.end(), home)
            })
            .collect();
        queries += turned;
        if !open.contains(&true) {
            return (ways, false, queries);
        }
        let open = ways.into_iter().zip(open).filter(|(_, open)| *open);
        (open.map(|(way, _)| way).collect(), true, queries)
    }

    /// The ways that hold by each of some laws, at angles at their aim or at any.
    fn searched(&self, candidates: &[Candidate], off_aim: bool) -> Vec<Found> {
        candidates
            .par_iter()
            .map(|candidate| {
                let along = Along::new(self.setup, candidate.law.clone());
                let mut search = Search::new(&along, self.seam_id, self.seam, self.path);
                // Other ways come from other candidates.
                search.most_ways = 1;
                if self.collides(&along, search.steps.check(), search.steps.check_turn()) {
                    return search.holding(Vec::new());
                }
                let ways = search.ways_that_hold(off_aim);
                search.holding(ways)
            })
            .collect()
    }

    fn looked_at(&self, law: ExternalLaw) -> Candidate {
        let along = Along::new(self.setup, law);
        let mut search = Search::new(&along, self.seam_id, self.seam, self.path);
        let (position, off_upright) = (self.position(&along.law), self.off_upright(&along.law));
        let (passable, strain) = if self.collides(&along, search.steps.layer(), search.steps.layer_turn()) {
            (0, 0.0)
        } else {
            search.passable(LOOKED_AT)
        };
        let way = self.way(&along);
        let broken = rule::broken(self.setup, self.seam, self.path, &along.law);
        Candidate { law: along.law, position, broken, off_upright, passable, strain, way }
    }

    /// Whether what the external axes move is too near to what they do not, at any sample of the seam: so far apart at most (m, rad).
    fn collides(&self, along: &Along<'_>, step: f64, turn: f64) -> bool {
        let every_axis = vec![true; self.cell().frames.axes.len()];
        let samples = if along.law.is_held() { vec![0.0] } else { self.sampled(step, turn) };
        samples.iter().any(|s| along.at(*s).scene.tightest_turning(&every_axis, 0.0).is_some())
    }

    /// How far the wire end must go and the torch turn in the arm's frame, in steps.
    fn way(&self, along: &Along<'_>) -> u32 {
        let samples = self.samples();
        let seen = samples.iter().map(|s| {
            let base_from_station = along.at(*s).base_from_station;
            (base_from_station * self.path.at(*s).point, base_from_station.rotation * self.open_side(*s))
        });
        let seen: Vec<(Point3<f64>, Vector3<f64>)> = seen.collect();
        let step = |pair: &[(Point3<f64>, Vector3<f64>)]| {
            (pair[1].0 - pair[0].0).norm() + WAY_OF_A_TURN * pair[1].1.angle(&pair[0].1)
        };
        (seen.windows(2).map(step).sum::<f64>() / alike_way()).round() as u32
    }

    /// The least easy position along the seam.
    fn position(&self, law: &ExternalLaw) -> Production {
        let positions = self.samples().into_iter().map(|s| {
            let world_from_station = self.world_from(self.station_frame(), &law.at(s));
            WeldPosition::of(&self.path.at(s), self.seam.joint, &world_from_station.rotation).production
        });
        positions.max().unwrap_or(Production::Flat)
    }

    /// How far the open side of the seam is off upright where it is worst, in steps.
    fn off_upright(&self, law: &ExternalLaw) -> u32 {
        let worst = self.samples().into_iter().map(|s| {
            let world_from_station = self.world_from(self.station_frame(), &law.at(s));
            (world_from_station.rotation * self.open_side(s)).angle(&Vector3::z())
        });
        (worst.fold(0.0, f64::max) / alike() - 1e-6).max(0.0).floor() as u32
    }

    pub(super) fn cell(&self) -> &Cell {
        self.setup.cell
    }

    pub(super) fn station_frame(&self) -> FrameId {
        self.cell().stations[self.setup.station.0].frame
    }

    pub(super) fn world_from(&self, frame: FrameId, external: &[f64]) -> Pose {
        self.cell().frames.world_from(frame, external)
    }
}

/// All ways that hold, the cheapest first: where no way through the air leads to one, another may serve.
fn best_ways(found: Vec<Found>) -> Option<Found> {
    let mut holding = found.into_iter().filter(|found| !found.ways.is_empty());
    let mut best = holding.next()?;
    best.ways.extend(holding.flat_map(|found| found.ways));
    best.ways.sort_by(|a, b| rank(a.cost).total_cmp(&rank(b.cost)));
    best.usual = best.ways.len();
    Some(best)
}
