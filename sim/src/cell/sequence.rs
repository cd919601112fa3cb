//! Decides what binds the order in which seams are welded: what comes first, what belongs together, what must cool, and which seams
//! may be welded the other way round.
//!
//! Distortion is not predicted here or anywhere: these rules are the welding engineer's, and are kept as they stand.

use nalgebra::Point3;

use super::{Seam, SeamPath};
use crate::units;

/// What its file says of when a seam is welded, and which way.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sequence {
    /// Rows of seams of the same fixture that come before it.
    pub after: Vec<usize>,
    /// Row of the seam that is welded right before or right after it.
    pub balances: Option<usize>,
    /// Whether it is welded in the direction that the file says, and no other.
    pub keeps_direction: bool,
    /// Of a seam that goes from the fixed place toward the free end: how far from that place it is, m.
    pub from_fixed: Option<f64>,
    /// Whether clamps of its station open when it is welded: what holds by then was welded before it.
    pub opens_clamps: bool,
    /// Whether its station has it welded the other way than its own table says.
    pub turned: bool,
}

impl Sequence {
    /// The key by which its file asks for the way that it is welded.
    #[must_use]
    pub fn asks_one_way(&self) -> Option<&'static str> {
        match self {
            Self { from_fixed: Some(_), .. } => Some("fixed_to_free"),
            Self { keeps_direction: true, .. } => Some("keep_direction"),
            _ => None,
        }
    }
}

/// What must cool before a weld begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cooling {
    /// Welds no farther off than this count, m.
    pub within: f64,
    /// For so long after they ended, s.
    pub time: f64,
}

/// Why one seam comes before another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Before {
    /// Tacks come before the welds of their fixture.
    Tacks,
    /// Passes come in their order.
    Passes,
    /// The file says so.
    After,
    /// It is nearer to the fixed place.
    FromFixed,
    /// A clamp that holds it opens before the other.
    Clamps,
}

/// Seams whose distance from the fixed place differs by no more may come in any order, m.
fn as_far() -> f64 {
    units::mm(1.0)
}

/// Welds are compared at places no farther apart than this, m.
fn step() -> f64 {
    units::mm(5.0)
}

/// Runs that differ by less are the same, m: rounding.
const ROUNDING: f64 = 1e-6;

impl Seam {
    /// Why it must come before `other`; `None` where it need not.
    #[must_use]
    pub fn comes_before(&self, other: &Self) -> Option<Before> {
        let in_one_hold = self.openings == other.openings && other.sequence.opens_clamps;
        if self.station == other.station && (self.openings < other.openings || in_one_hold) {
            return Some(Before::Clamps);
        }
        if !self.is_beside(other) {
            return None;
        }
        if self.pass == 0 && other.pass > 0 {
            return Some(Before::Tacks);
        }
        if other.pass == 0 {
            return None;
        }
        if self.row == other.row && self.pass < other.pass {
            return Some(Before::Passes);
        }
        if other.sequence.after.contains(&self.row) {
            return Some(Before::After);
        }
        let both = self.sequence.from_fixed.zip(other.sequence.from_fixed);
        both.filter(|(mine, others)| mine + as_far() < *others).map(|_| Before::FromFixed)
    }

    /// Whether the two are welded one right after the other.
    #[must_use]
    pub fn balances(&self, other: &Self) -> bool {
        let names = |a: &Self, b: &Self| a.sequence.balances == Some(b.row);
        self.is_beside(other) && self.pass > 0 && other.pass > 0 && (names(self, other) || names(other, self))
    }

    /// Least time from the end of its arc to the beginning of `other`'s, where `other` comes later on the same station, s; 0 where
    /// nothing is asked.
    #[must_use]
    pub fn cools_before(&self, other: &Self) -> f64 {
        if self.station != other.station || self.pass == 0 || other.pass == 0 {
            return 0.0;
        }
        if self.is_beside(other) && self.row == other.row {
            return if self.pass + 1 == other.pass { other.procedure.interpass } else { 0.0 };
        }
        match &other.procedure.cooling {
            Some(cooling) if self.distance(other).is_some_and(|off| off <= cooling.within) => cooling.time,
            _ => 0.0,
        }
    }

    /// Whether its metal lies where it lies, whichever way it is welded, and nothing asks for one way: then it may be welded the other
    /// way round as well.
    #[must_use]
    pub fn may_turn(&self) -> bool {
        let Some((path, _)) = self.path.as_ref().zip(self.other_way.as_ref()) else { return false };
        let length = path.length();
        let [lead_in, lead_out] = self.procedure.leads;
        // Leads come and go with the direction; the rest must stay where it is.
        let mut ends: Vec<(f64, f64)> = self.runs.iter().map(|run| (run.start, run.end)).collect();
        if self.pass > 0 {
            ends.first_mut().into_iter().for_each(|run| run.0 += lead_in);
            ends.last_mut().into_iter().for_each(|run| run.1 -= lead_out);
        }
        let tacks = self.tacks.iter().flat_map(|tacks| &tacks.places);
        let tacks: Vec<(f64, f64)> = tacks.map(|tack| (tack.start, tack.end)).collect();
        let is_alike = |places: &[(f64, f64)]| {
            let turned = places.iter().rev().map(|(start, end)| (length - end, length - start));
            let same = |a: f64, b: f64| (a - b).abs() < ROUNDING;
            places.iter().zip(turned).all(|(a, b)| same(a.0, b.0) && same(a.1, b.1))
        };
        self.sequence.asks_one_way().is_none()
            && self.taught.is_none()
            && self.searches.is_empty()
            && is_alike(&ends)
            && is_alike(&tacks)
    }

    /// Turns it the other way round.
    pub fn turn(&mut self) {
        if let (Some(path), Some(other)) = (&mut self.path, &mut self.other_way) {
            std::mem::swap(path, other);
            self.reversed = !self.reversed;
            self.sequence.turned = !self.sequence.turned;
        }
    }

    /// Whether both are of the same copy of a fixture on the same station.
    fn is_beside(&self, other: &Self) -> bool {
        self.station == other.station && self.copy == other.copy
    }

    /// How far its welds are from those of another seam of its station, m; `None` where only the length of one is known.
    fn distance(&self, other: &Self) -> Option<f64> {
        let lines = |seam: &Self, path: &SeamPath| -> Vec<[Point3<f64>; 2]> {
            let of_run = |run: &super::Run| {
                let count = (run.length() / step()).ceil().max(1.0) as usize;
                let at = |k: usize| path.at(run.start + run.length() * k as f64 / count as f64).point;
                (0..count).map(|k| [at(k), at(k + 1)]).collect::<Vec<_>>()
            };
            seam.runs.iter().flat_map(of_run).collect()
        };
        let (mine, others) = (lines(self, self.path.as_ref()?), lines(other, other.path.as_ref()?));
        let all = mine.iter().flat_map(|a| others.iter().map(move |b| (a, b)));
        Some(all.map(|(a, b)| between(a, b)).fold(f64::INFINITY, f64::min))
    }
}

/// Distance of two short lines that do not cross, m: it is least at an end of one of them, but for lines that pass over each other askew,
/// where it is too large by less than half of [`step`].
fn between(a: &[Point3<f64>; 2], b: &[Point3<f64>; 2]) -> f64 {
    let to_line = |point: &Point3<f64>, [from, to]: &[Point3<f64>; 2]| {
        let along = to - from;
        let share = (point - from).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE);
        (point - (from + along * share.clamp(0.0, 1.0))).norm()
    };
    let ends = [to_line(&a[0], b), to_line(&a[1], b), to_line(&b[0], a), to_line(&b[1], a)];
    ends.into_iter().fold(f64::INFINITY, f64::min)
}
