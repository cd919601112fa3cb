//! Decides how far before and behind a place of a weld at which rates change at once the axes may leave the way that is planned.
//!
//! No axis changes its speed at once: at a corner, and where torch angles or external axes begin to turn, the axes go over from the one rate
//! to the other within a stretch (`motion::WeldWay`), and miss the planned way there. The longer the stretch, the less they must speed
//! up and slow down for it. It is as long as keeps the wire end within `path_deviation_mm` of where it is planned, the torch within one
//! degree and, where it does not meet the zone of a corner, within its angles' tolerances, and is shown to keep every clearance and range
//! (`proof::bend`). Where that is not shown at a thirty-second of it either, it is so short that nothing on the arm or on the external axes misses its planned place by more than
//! `path_deviation_mm`, by which every clearance that was shown is greater than what is asked.

use seamwright_kinematics::Pose;

use super::proof;
use super::seam_search::Way;
use super::setup::Setup;
use super::turn::lever;
use super::violation::Violation;
use super::{Move, MoveKind, angles_of};
use crate::cell::{SeamId, SeamPath};
use crate::motion::{Bend, Curve, PlannedWeld, WeldRow, arm_axes};
use crate::units;

/// No stretch reaches farther to either side, m: an axis takes to its speed about where its angles begin to change.
fn farthest() -> f64 {
    units::mm(2.0)
}

/// The most that the torch may be turned from where it is planned, rad: little beside the tolerances of torch angles. Judgement, no source.
fn most_turned() -> f64 {
    units::deg(1.0)
}

/// Shares of the longest stretch that are tried.
const SHARES: [f64; 6] = [1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125];

/// Places of a stretch, both ends among them, at which it is asked how far it misses what is planned.
const LOOKS: u32 = 16;

/// A longest stretch is found in steps, each by what the one before missed; so many at most.
const ROUNDS: u32 = 60;

/// Decides the bends of every weld of `way`; the clearance queries it took.
pub(super) fn take(setup: &Setup<'_>, (seam, path): (SeamId, &SeamPath), way: &mut Way) -> u64 {
    let marks: Vec<f64> = way
        .law
        .points
        .iter()
        .map(|(s, _)| *s)
        .chain(way.external.points().iter().map(|(s, _)| *s))
        .chain(path.marks())
        .collect();
    let procedure = &setup.cell.seams[seam.0].procedure;
    let mut queries = 0;
    let mut legs = std::mem::take(&mut way.legs);
    for planned in legs.iter_mut().flatten() {
        let places: Vec<f64> = match planned.kind {
            MoveKind::Weld { .. } if procedure.weave.is_none() => marks.clone(),
            MoveKind::CraterBack { run } => {
                let end = setup.cell.seams[seam.0].runs[run].end;
                marks.iter().map(|s| end - s).collect()
            }
            _ => continue,
        };
        let (bends, looks) = Bending { setup, seam, path, way, planned }.bends(&places);
        planned.bends = bends;
        queries += looks;
    }
    way.legs = legs;
    queries
}

/// A weld whose bends are sought.
struct Bending<'b, 'c> {
    setup: &'b Setup<'c>,
    seam: SeamId,
    path: &'b SeamPath,
    way: &'b Way,
    planned: &'b Move,
}

/// How far a stretch misses what is planned, at its worst.
#[derive(Clone, Copy, Debug, Default)]
struct Missed {
    /// Of the wire end as the station sees it, m.
    wire: f64,
    /// Of the torch, rad.
    turned: f64,
    /// No point of the arm, of the torch or of what external axes move is farther off, m.
    anything: f64,
    /// Whether a torch angle passes its tolerance.
    angles: bool,
}

impl Bending<'_, '_> {
    fn bends(&self, places: &[f64]) -> (Vec<Bend>, u64) {
        let Some(weld) = PlannedWeld::new(self.planned.rows(), places) else { return (Vec::new(), 0) };
        let mut queries = 0;
        let bends = weld.places().enumerate().map(|(place, at)| {
            let (reach, looks) = self.reach(&weld, place);
            queries += looks;
            Bend { at, reach }
        });
        (bends.collect(), queries)
    }

    /// How far a stretch about a place may reach to either side; and the looks it took.
    fn reach(&self, weld: &PlannedWeld, place: usize) -> (f64, u64) {
        let allowed = self.setup.cell.arm.strays();
        let room = weld.room(place).min(farthest());
        let missed = |reach: f64| self.missed(weld, &weld.transition(place, reach));
        let within = |missed: &Missed| (allowed / missed.wire).min(most_turned() / missed.turned);
        let shorter = |reach: f64, share: f64| reach * (0.98 * share).clamp(0.1, 0.95);
        let mut longest = room;
        for _ in 0..ROUNDS {
            let missed = missed(longest);
            if missed.anything <= allowed || (within(&missed) >= 1.0 && !missed.angles) {
                break;
            }
            let share = within(&missed).min(if missed.angles { 0.5 } else { f64::INFINITY });
            longest = shorter(longest, share);
        }
        let mut queries = 0;
        let shown = SHARES.into_iter().map(|share| share * longest).find(|reach| {
            if missed(*reach).anything <= allowed {
                return true;
            }
            let (shown, looks) = proof::bend(self.setup, self.seam, &weld.transition(place, *reach));
            queries += looks;
            shown
        });
        let mut reach = shown.unwrap_or(SHARES[SHARES.len() - 1] * longest);
        if shown.is_none() {
            for _ in 0..ROUNDS {
                let anything = missed(reach).anything;
                if anything <= allowed {
                    break;
                }
                reach = shorter(reach, allowed / anything);
            }
        }
        (reach, queries)
    }

    fn missed(&self, weld: &PlannedWeld, stretch: &Curve) -> Missed {
        let (from, length) = (stretch.start(), stretch.end() - stretch.start());
        let mut worst = Missed::default();
        // A corner begins where the torch begins to turn for it.
        let corners = self.path.corner_zones();
        let at_corner = corners.iter().any(|zone| zone.from <= from + length && from <= zone.to);
        for look in 0..=LOOKS {
            let s = from + length * f64::from(look) / f64::from(LOOKS);
            let (planned, bent) = (weld.at(s), stretch.at(s));
            let [there, here] = [&planned, &bent].map(|row| self.station_from_wire_end(row, s));
            let off = arm_axes(&bent) - arm_axes(&planned);
            let external = planned[6..].iter().zip(&bent[6..]).enumerate();
            let moved: f64 =
                external.map(|(axis, (one, other))| (one - other).abs() * lever(self.setup, axis)).sum();
            worst.wire = worst.wire.max((here.translation.vector - there.translation.vector).norm());
            worst.turned = worst.turned.max(there.rotation.angle_to(&here.rotation));
            worst.anything = worst.anything.max(off.abs().dot(&self.setup.reach_beyond) + moved);
            worst.angles |= !at_corner && self.passes_tolerance(&here, s);
        }
        worst
    }

    fn ctwd(&self, s: f64) -> f64 {
        self.way.law.at(s).ctwd
    }

    fn station_from_wire_end(&self, row: &[f64], s: f64) -> Pose {
        self.setup.station_from_wire_end_at(&row[6..], &arm_axes(row), self.ctwd(s))
    }

    /// Whether the torch there, on a weld, stands at angles that it may not have away from corners.
    fn passes_tolerance(&self, station_from_wire_end: &Pose, s: f64) -> bool {
        let MoveKind::Weld { run } = self.planned.kind else { return false };
        let (seam, root) = (&self.setup.cell.seams[self.seam.0], self.path.at(s));
        let angles = angles_of(&root, station_from_wire_end, self.ctwd(s));
        let passed = Violation::of_angles(&seam.procedure.bands(&seam.runs[run], s), &angles);
        passed.is_some_and(|violation| violation.is_past_rounding(self.path, s))
    }
}

impl Move {
    /// Arm and external axes at its points.
    pub(crate) fn rows(&self) -> impl Iterator<Item = WeldRow> + use<'_> {
        self.points.iter().map(|point| {
            let axes = point.axes.iter().copied().chain(self.external.at(point.s));
            (point.s, axes.collect())
        })
    }
}
