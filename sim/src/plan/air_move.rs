//! Decides how the arm gets through the air from one place to another: straight in axis space, or by way of points further back
//! along the torch, further up, or home; where all that is blocked, by a way that is searched for (`detour`).
//!
//! A straight move is shown to be clear all the way; see `proof`.

use std::collections::HashMap;
use std::sync::Mutex;

use nalgebra::Vector3;
use seamwright_kinematics::{AxisValues, Drive};

use super::clearance::PairId;
use super::detour::{self, Air};
use super::proof;
use super::setup::Setup;
use super::turn::Obstruction;
use super::violation::Violation;
use crate::cell::Cell;
use crate::units;

/// A hose turned so little (rad) past its limit is not torn: rounding.
const ROUNDING: f64 = 1e-9;

/// Samples of a blocked move among which the worst is named.
const MOST_BLOCKED_SAMPLES: usize = 60;

/// Straight moves between ways out that are tried for one air move, besides those by way of home.
const MOST_CONNECTIONS: usize = 60;

/// Places where moves were blocked that are looked at first in the next one.
const MOST_REMEMBERED: usize = 6;

/// Lengths of the ways out that are tried where the straight way is blocked.
fn distances_out() -> [f64; 4] {
    [units::mm(80.0), units::mm(170.0), units::mm(300.0), units::mm(500.0)]
}

/// What blocks a move.
#[derive(Clone, Debug)]
pub(super) enum Blocked {
    /// A pair of bodies, and by how much (m) at the sample where it is worst.
    Pair { pair: PairId, short: f64 },
    /// A range that depends on how other axes stand, and by how much (rad) where it is passed farthest.
    Range { drive: Drive, excess: f64 },
    /// The hose would be turned past this limit, by so much (rad), at an end of the way.
    Hose { name: &'static str, excess: f64 },
    /// Where the tool is led as it was taught, this is not kept.
    Taught(Violation),
    /// Every sample keeps its limits, but the pair is not shown to keep clear in between.
    Unshown(PairId),
    /// External axes cannot go where they must while the arm stands at home.
    Turn(Obstruction),
}

/// A way from one place to another.
struct Detour {
    /// At least, s.
    time: f64,
    way: Vec<AxisValues>,
    /// Which of its straight moves are not known to be clear: those between the ways out, one or, by way of home, two.
    unknown: std::ops::Range<usize>,
}

/// Asks air moves in one setup.
pub(super) struct AirMoves<'a, 'c> {
    pub setup: &'a Setup<'c>,
    pub clearance_queries: u64,
    /// Ways out that were found before, where many moves from and to the same places are asked.
    pub known_ways_out: Option<&'a KnownWaysOut>,
    /// Pairs that were too near in moves that were blocked, and at which share of the move, the last first: often the next one is
    /// blocked there too.
    blocked_by: Vec<(PairId, f64)>,
}

/// Ways out that were found, by station, openings of its clamps, external axes and the place they lead from.
#[derive(Debug, Default)]
pub(super) struct KnownWaysOut(Mutex<HashMap<Vec<u64>, WaysOut>>);

/// Ways out, and the clearance queries that they took.
type WaysOut = (Vec<Vec<AxisValues>>, u64);

/// Numbers by which equal places are known again.
pub(super) fn bits<'v>(values: impl IntoIterator<Item = &'v f64>) -> Vec<u64> {
    values.into_iter().map(|value| value.to_bits()).collect()
}

impl<'a, 'c> AirMoves<'a, 'c> {
    pub fn new(setup: &'a Setup<'c>) -> Self {
        Self { setup, clearance_queries: 0, known_ways_out: None, blocked_by: Vec::new() }
    }

    /// Places to go through from `from` to `to`, both included, such that every straight move between them is clear; else
    /// what blocks the straight way.
    ///
    /// Where the straight way is blocked each end is first left (or come to) by a way out: back along the torch, up, or both. Of
    /// all pairs of ways out the quickest whose connection is clear is taken, by way of home if need be.
    pub fn between(&mut self, from: &AxisValues, to: &AxisValues) -> Result<Vec<AxisValues>, Blocked> {
        if self.is_clear(from, to) { Ok(vec![*from, *to]) } else { self.round(from, to) }
    }

    /// The same where the straight way is known to be blocked.
    pub fn round(&mut self, from: &AxisValues, to: &AxisValues) -> Result<Vec<AxisValues>, Blocked> {
        // What blocked other moves before must not decide how many looks this one takes.
        self.blocked_by.clear();
        let (out, into) = (self.ways_out(from), self.ways_out(to));
        let home = self.setup.cell.arm.home;
        let mut detours: Vec<Detour> = Vec::new();
        for way_out in &out {
            for way_in in &into {
                let back = way_in.iter().rev();
                let direct: Vec<AxisValues> = way_out.iter().chain(back.clone()).copied().collect();
                let by_home: Vec<AxisValues> = way_out.iter().chain([&home]).chain(back).copied().collect();
                for (way, moves) in [(direct, 1), (by_home, 2)] {
                    let time = way.windows(2).map(|pair| self.least_time(&pair[0], &pair[1])).sum();
                    let from = way_out.len() - 1;
                    detours.push(Detour { time, way, unknown: from..from + moves });
                }
            }
        }
        // Of those that take equally long the one with fewer places first: rounding decides nothing.
        let microseconds = |detour: &Detour| (detour.time * 1e6).round();
        detours.sort_by(|a, b| {
            microseconds(a).total_cmp(&microseconds(b)).then_with(|| a.way.len().cmp(&b.way.len()))
        });
        let mut known: Vec<(AxisValues, AxisValues, bool)> = Vec::new();
        let mut direct = 0;
        for Detour { way, mut unknown, .. } in detours {
            if unknown.len() == 1 {
                direct += 1;
                if direct > MOST_CONNECTIONS {
                    continue;
                }
            }
            let clear = unknown.all(|i| {
                let (a, b) = (way[i], way[i + 1]);
                if let Some((.., clear)) = known.iter().find(|(from, to, _)| *from == a && *to == b) {
                    return *clear;
                }
                let clear = self.is_clear(&a, &b);
                known.push((a, b, clear));
                clear
            });
            if clear {
                return Ok(way);
            }
        }
        Err(self.blocking(from, to))
    }

    /// Whether the straight move is clear; else what blocks it.
    pub fn straight(&mut self, from: &AxisValues, to: &AxisValues) -> Result<(), Blocked> {
        if self.is_clear(from, to) { Ok(()) } else { Err(self.blocking(from, to)) }
    }

    /// Places to go through, searched for, where nothing simple is clear; such that every straight move between them is.
    pub fn detour(&mut self, from: &AxisValues, to: &AxisValues, seed: u64) -> Option<Vec<AxisValues>> {
        let arm = &self.setup.cell.arm;
        let ranges = arm.arm.axes().each_ref().map(|axis| axis.range);
        detour::detour(self, &ranges, (from, to), &arm.home, seed)
    }

    /// What blocks the straight move.
    fn blocking(&mut self, from: &AxisValues, to: &AxisValues) -> Blocked {
        if let Some((drive, excess)) = self.setup.cell.arm.arm.range_excess_between(from, to) {
            return Blocked::Range { drive, excess };
        }
        let torch = &self.setup.cell.torch;
        let torn = [from, to].into_iter().flat_map(|axes| torch.dress.values(axes)).find_map(
            |(name, range, value)| {
                let excess = range.excess(value);
                (excess > ROUNDING).then_some(Blocked::Hose { name, excess })
            },
        );
        if let Some(torn) = torn {
            return torn;
        }
        let (shown, looks) = proof::axis_move(self.setup, from, to);
        self.clearance_queries += looks;
        let refuted_at = shown.err().map_or(0.5, |refuted| refuted.at);
        match (self.worst(from, to, refuted_at), shown) {
            (Some(worst), _) => worst,
            (None, Err(refuted)) => {
                Blocked::Unshown(refuted.pair().expect("an axis move is refuted by a pair"))
            }
            (None, Ok(())) => unreachable!("it was refuted before, and nothing has changed"),
        }
    }

    /// Clear ways from a place to somewhere freer, found before or now: the place itself first.
    pub fn ways_out(&mut self, at: &AxisValues) -> Vec<Vec<AxisValues>> {
        let Some(KnownWaysOut(known)) = self.known_ways_out else { return self.find_ways_out(at) };
        let mut key = bits(self.setup.external.iter().chain(at.iter()));
        key.extend([self.setup.station.0, self.setup.openings].map(|number| number as u64));
        let found = known.lock().ok().and_then(|known| known.get(&key).cloned());
        let (ways, queries) = found.unwrap_or_else(|| {
            let mut anew = AirMoves::new(self.setup);
            let found = (anew.find_ways_out(at), anew.clearance_queries);
            if let Ok(mut known) = known.lock() {
                known.insert(key, found.clone());
            }
            found
        });
        // They count for every move that goes by them, whoever came first: so the count does not depend on threads.
        self.clearance_queries += queries;
        ways
    }

    /// Clear ways from a place to somewhere freer, the place itself first: staying, up, back along the torch, back and then up.
    fn find_ways_out(&mut self, at: &AxisValues) -> Vec<Vec<AxisValues>> {
        let setup = self.setup;
        let station = &setup.cell.stations[setup.station.0];
        let up =
            setup.cell.frames.world_from(station.frame, &setup.external).rotation.inverse() * Vector3::z();
        let back = setup.station_from_wire_end(at, setup.cell.torch.nominal_ctwd).rotation * -Vector3::z();
        let mut ways = vec![vec![*at]];
        for distance in distances_out() {
            let steps = [(up, distance), (back, distance)];
            for (direction, distance) in steps {
                let Some(end) = self.moved(at, &direction, distance) else { continue };
                if self.is_clear(at, &end) {
                    ways.push(vec![*at, end]);
                }
            }
        }
        let backed: Vec<AxisValues> =
            distances_out().iter().filter_map(|distance| self.moved(at, &back, *distance)).collect();
        for end in backed {
            let tops: Vec<AxisValues> =
                distances_out().iter().filter_map(|distance| self.moved(&end, &up, *distance)).collect();
            if tops.is_empty() || !self.is_clear(at, &end) {
                continue;
            }
            for top in tops {
                if self.is_clear(&end, &top) {
                    ways.push(vec![*at, end, top]);
                }
            }
        }
        ways
    }

    /// The wire end moved by `distance` along `direction` (station frame), same branch, where the arm can.
    fn moved(&self, axes: &AxisValues, direction: &Vector3<f64>, distance: f64) -> Option<AxisValues> {
        let setup = self.setup;
        let ctwd = setup.cell.torch.nominal_ctwd;
        let mut pose = setup.station_from_wire_end(axes, ctwd);
        // In steps, so that the branch is followed and not guessed.
        let mut at = *axes;
        let steps = (distance / units::mm(20.0)).ceil().max(1.0) as usize;
        for _ in 0..steps {
            pose.translation.vector += direction * (distance / steps as f64);
            let next = setup.stance_near(&setup.base_from_flange(&pose, ctwd), &at).ok()?;
            if (next - at).amax() > units::deg(20.0) || setup.axis_violation(&next).is_some() {
                return None;
            }
            at = next;
        }
        Some(at)
    }

    /// What blocks the straight move where it is worst among some samples and the place (a share of the way) where it was refuted.
    fn worst(&mut self, from: &AxisValues, to: &AxisValues, refuted_at: f64) -> Option<Blocked> {
        let count = self.samples(from, to).min(MOST_BLOCKED_SAMPLES);
        let forward = |share: f64| self.setup.cell.arm.arm.forward(&from.lerp(to, share));
        let shares = (0..=count).map(|i| i as f64 / count as f64).chain([refuted_at]);
        let rough = shares.filter_map(|share| {
            Some((share, self.setup.scene.worst_roughly(&forward(share), None)?.margin()))
        });
        let (worst, _) = rough.min_by(|a, b| a.1.total_cmp(&b.1))?;
        self.clearance_queries += count as u64 + 3;
        let gap = self.setup.scene.tightest(&forward(worst), None, 0.0)?;
        Some(Blocked::Pair { pair: gap.pair, short: -gap.margin() })
    }

    fn samples(&self, from: &AxisValues, to: &AxisValues) -> usize {
        (self.way(from, to) / self.setup.steps().air()).ceil().max(1.0) as usize
    }
}

impl Air for AirMoves<'_, '_> {
    /// Ranges and the hose are asked at both ends: between them every value goes straight, and so does every end of a range.
    fn is_clear(&mut self, from: &AxisValues, to: &AxisValues) -> bool {
        let Cell { arm, torch, .. } = self.setup.cell;
        let hose_torn = |axes: &AxisValues| {
            torch.dress.values(axes).any(|(_, range, value)| range.excess(value) > ROUNDING)
        };
        if arm.arm.range_excess_between(from, to).is_some() || hose_torn(from) || hose_torn(to) {
            return false;
        }
        let again = self.blocked_by.iter().position(|(pair, at)| {
            self.setup.scene.is_too_near(&arm.arm.forward(&from.lerp(to, *at)), *pair)
        });
        if let Some(again) = again {
            self.blocked_by[..=again].rotate_right(1);
            return false;
        }
        let (shown, looks) = proof::axis_move(self.setup, from, to);
        self.clearance_queries += looks;
        let blocked = shown.err().filter(|refuted| matches!(refuted.doubt, proof::Doubt::TooNear(_)));
        if let Some((pair, at)) = blocked.and_then(|refuted| Some((refuted.pair()?, refuted.at))) {
            self.blocked_by.insert(0, (pair, at));
            self.blocked_by.truncate(MOST_REMEMBERED);
        }
        shown.is_ok()
    }

    fn way(&self, from: &AxisValues, to: &AxisValues) -> f64 {
        (to - from).abs().dot(&self.setup.reach_beyond)
    }

    /// Its slowest axis or motor at full speed.
    fn least_time(&self, from: &AxisValues, to: &AxisValues) -> f64 {
        self.setup.cell.arm.arm.least_time(&(to - from))
    }
}
