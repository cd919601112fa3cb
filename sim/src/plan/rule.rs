//! Decides what a procedure asks of a seam besides room for the arm, and whether it is kept.

use super::setup::Setup;
use super::{Binding, ExternalLaw};
use crate::cell::{Position, Run, Seam, SeamPath, SearchedFace, WeldPosition};

/// What a procedure asks.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// The torch stands within its tolerance (rad or m outside).
    Angle(TorchAngle),
    /// It is welded in a position that is allowed (rad that axis or face would have to be turned).
    Position {
        /// The position it is in.
        is: Position,
        /// Those it may be in.
        allowed: Vec<Position>,
    },
    /// The arc starts (or stops) far enough from something (m missing).
    ArcEnd {
        /// Whether it starts there.
        starts: bool,
        /// From what.
        near: Near,
    },
    /// A taught weld keeps to the root (m beyond what is allowed across).
    OffLine,
    /// A taught weld starts (or ends) where the seam does (m off).
    TaughtEnd {
        /// Whether it is the start.
        starts: bool,
    },
    /// A taught weld never goes back along the seam (m).
    TaughtBack,
    /// While a taught weld turns the torch, it goes on along the seam (rad turned on the spot).
    TaughtTurn,
    /// A face that is searched by touch goes on far enough (m missing).
    SearchEdge(SearchedFace),
    /// A face is not searched where a tack covers it (m to the end of the tack).
    SearchOnTack,
    /// A tack that is welded over leaves the contact tip its least distance (m missing).
    TackHeight,
}

/// A place on a seam that arcs keep clear of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Near {
    /// A corner.
    Corner,
    /// A tack.
    Tack,
}

/// What has a tolerance of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum TorchAngle {
    /// Work angle.
    Work,
    /// Travel angle.
    Travel,
    /// Contact tip to work distance.
    Ctwd,
}

/// Distances this little short of what is asked are rounding, m.
const ROUNDING: f64 = 1e-9;

/// What a seam breaks whatever way the arm goes, with the external axes by `law`, each at its worst. `setup` must be that of its
/// station.
pub(super) fn broken(setup: &Setup<'_>, seam: &Seam, path: &SeamPath, law: &ExternalLaw) -> Vec<Binding> {
    let mut broken: Vec<Binding> = position(setup, seam, path, law).into_iter().collect();
    broken.extend(arc_ends(seam, path));
    broken.extend(tack_height(seam, path));
    broken.extend(searches(seam, path));
    broken
}

/// Where the seam is farthest from every position that its procedure allows; none where it is in one of them all along.
fn position(setup: &Setup<'_>, seam: &Seam, path: &SeamPath, law: &ExternalLaw) -> Option<Binding> {
    let allowed = &seam.procedure.positions;
    if allowed.is_empty() {
        return None;
    }
    let cell = setup.cell;
    let station = cell.stations[seam.station.0].frame;
    let mut stretches: Vec<Binding> = Vec::new();
    let mut open = false;
    let steps = setup.steps();
    for s in
        seam.runs.iter().flat_map(|run| path.samples(run.start, run.end, steps.rule(), steps.rule_turn()))
    {
        let point = path.at(s);
        let world_from_station = cell.frames.world_from(station, &law.at(s));
        let found = WeldPosition::of(&point, seam.joint, &world_from_station.rotation);
        let amount = found.excess(seam.joint, allowed);
        if amount <= 0.0 {
            open = false;
            continue;
        }
        let constraint =
            super::Constraint::Rule(Rule::Position { is: found.named(), allowed: allowed.clone() });
        let point = point.point;
        let next = Binding { constraint, amount, limit: None, at: s, from: s, to: s, point, stands: None };
        match stretches.last_mut() {
            Some(last) if open && amount <= last.amount => last.to = s,
            Some(last) if open => *last = Binding { from: last.from, ..next },
            _ => stretches.push(next),
        }
        open = true;
    }
    // The first of equals: rounding must not name a place.
    stretches.into_iter().reduce(|worst, next| if next.amount > worst.amount + 1e-9 { next } else { worst })
}

/// Starts and stops of the arc that lie nearer to a corner or to a tack than allowed.
fn arc_ends(seam: &Seam, path: &SeamPath) -> Vec<Binding> {
    let procedure = &seam.procedure;
    let corners = path.corners().into_iter().map(|at| (Near::Corner, Run { start: at, end: at }));
    let tacks = seam.tacks.iter().flat_map(|tacks| &tacks.places).map(|place| (Near::Tack, *place));
    let obstacles: Vec<(Near, Run)> = corners.chain(tacks).collect();
    let mut broken = Vec::new();
    for run in &seam.runs {
        for (s, starts) in [(run.start, true), (run.end, false)] {
            for (near, place) in &obstacles {
                let asked = match near {
                    Near::Corner => procedure.clear_of_corners,
                    Near::Tack => procedure.clear_of_tacks,
                };
                let amount = asked - (place.start - s).max(s - place.end).max(0.0);
                if asked > 0.0 && amount > ROUNDING {
                    let rule = Rule::ArcEnd { starts, near: *near };
                    broken.push(binding(path, rule, amount, Some(asked), s));
                }
            }
        }
    }
    broken
}

/// A tack that is higher than the contact tip to work distance may fall: over it the tip comes nearer to the metal by its height.
fn tack_height(seam: &Seam, path: &SeamPath) -> Option<Binding> {
    // Over later passes the tack is buried already.
    let tacks = seam.tacks.as_ref().filter(|tacks| tacks.welded_over && seam.pass == 1)?;
    let allowed = seam.procedure.ctwd.below;
    let amount = tacks.height - allowed;
    let first = tacks.places.first()?;
    (amount > ROUNDING)
        .then(|| binding(path, Rule::TackHeight, amount, Some(allowed), 0.5 * (first.start + first.end)))
}

/// Searched faces that end too soon, a thin edge among them, and searches that would touch a tack.
fn searches(seam: &Seam, path: &SeamPath) -> Vec<Binding> {
    let mut broken = Vec::new();
    for search in &seam.searches {
        let amount = search.edge - search.edge_found;
        if amount > ROUNDING {
            broken.push(binding(path, Rule::SearchEdge(search.face), amount, Some(search.edge), search.at));
        }
        let tacks = seam.tacks.iter().filter(|tacks| tacks.height >= search.off);
        for tack in tacks.flat_map(|tacks| &tacks.places) {
            let inside = (search.at - tack.start).min(tack.end - search.at);
            if inside > -ROUNDING {
                broken.push(binding(path, Rule::SearchOnTack, inside.max(ROUNDING), None, search.at));
            }
        }
    }
    broken
}

/// A rule broken at arc length `s`, by `amount` of what `limit` asks.
pub(super) fn binding(path: &SeamPath, rule: Rule, amount: f64, limit: Option<f64>, s: f64) -> Binding {
    let constraint = super::Constraint::Rule(rule);
    Binding { constraint, amount, limit, at: s, from: s, to: s, point: path.at(s).point, stands: None }
}
