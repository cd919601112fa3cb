//! Decides what faster order and directions are offered: what they save by the schedule itself, and what they rest on.

use super::round::Round;
use super::{Ways, arm_time, plan_along, ways_in_order};
use crate::cell::{Before, Cell, SeamId, StationId};
use crate::plan::{Passages, Plan, Searched};
use crate::schedule::{self, EventKind, Schedule};

/// Savings below this are not worth another order, s.
const WORTH_OFFERING: f64 = 0.05;

/// A quicker order for some stations.
pub struct Quickest {
    /// One for each station with two seams or more that are welded and none that no clear way leads to, in order.
    pub stations: Vec<Offered>,
    /// The cell in the orders that save time.
    pub applied: Applied,
}

/// A cell in another order.
pub struct Applied {
    /// The cell.
    pub cell: Cell,
    /// What was searched of it.
    pub searched: Searched,
    /// Its plan.
    pub plan: Plan,
}

/// What is offered for one station.
#[derive(Clone, Debug)]
pub struct Offered {
    /// The station.
    pub station: StationId,
    /// All its seams in the order that is offered; those that are not welded come last.
    pub order: Vec<SeamId>,
    /// Those that are welded, each with its way.
    ways_over: Ways,
    /// Those of them that are welded the other way round.
    pub turned: Vec<SeamId>,
    /// The arm's time as the file has it, with that of the external axes to the next station, s.
    pub before: f64,
    /// The same in the file's order and directions, by the ways over the seams that make it quickest, s.
    pub by_ways: f64,
    /// The same in the order offered, s.
    pub after: f64,
    /// What no order can beat by the ways that were kept, and by simple moves through the air where these lead through, s.
    pub bound: f64,
    /// Seams that are welded, and ways over them that were to choose from.
    pub seams: usize,
    /// Ways over them.
    pub ways: usize,
    /// Moves through the air that were planned for it.
    pub planned: usize,
    /// What binds it.
    pub rules: RulesKept,
}

/// How many rules of each kind bind the order of a station.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RulesKept {
    /// Seams that come after tacks.
    pub tacks: usize,
    /// Pairs of passes that come in their order.
    pub passes: usize,
    /// Pairs of seams of which one is said to come after the other.
    pub after: usize,
    /// Pairs of seams in their order from the fixed place.
    pub from_fixed: usize,
    /// Pairs between which a clamp opens.
    pub clamps: usize,
    /// Pairs of seams that balance each other.
    pub balanced: usize,
    /// Pairs of seams of which the later one waits for the earlier to cool, in either order.
    pub cooling: usize,
    /// Seams that are welded as the file says, and could not be turned round.
    pub kept_direction: usize,
}

impl Offered {
    /// Whether it is worth it.
    #[must_use]
    pub fn saves(&self) -> bool {
        self.before - self.after > WORTH_OFFERING
    }
}

impl Applied {
    /// The second of `searched` is what was found of seams turned round.
    fn new(
        cell: &Cell,
        (searched, turned_round): (&Searched, &Searched),
        passages: &Passages<'_>,
        stations: &[Offered],
    ) -> Self {
        let saving = || stations.iter().filter(|offered| offered.saves());
        let turned: Vec<SeamId> = saving().flat_map(|offered| &offered.turned).copied().collect();
        let mut changed = cell.clone();
        for Offered { station, order, .. } in saving() {
            changed.stations[station.0].weld_order = Some(order.clone());
        }
        turned.iter().for_each(|seam| changed.seams[seam.0].turn());
        let searched = searched.with_turned(turned_round, &turned);
        let known = |station: StationId| {
            saving().find(|offered| offered.station == station).map(|offered| offered.ways_over.clone())
        };
        let by_station = ways_in_order(&changed, &searched, passages, &known);
        let plan = plan_along(&changed, &searched, passages, by_station);
        Self { cell: changed, searched, plan }
    }
}

/// Looks for the quickest order of every station; `searched` with ways by every branch, `plan` and `schedule` as the file has it.
#[must_use]
pub fn quickest(
    cell: &Cell,
    searched: &Searched,
    plan: &Plan,
    schedule: &Schedule,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Quickest {
    let turned = searched.turned(cell, progress);
    let passages = searched.passages(cell);
    let mut stations = Vec::new();
    for index in 0..cell.stations.len() {
        let station = StationId(index);
        let all = cell.weld_order(station);
        let (welded, others): (Vec<SeamId>, Vec<SeamId>) =
            all.iter().partition(|seam| plan.is_welded(**seam));
        // What keeps the arm from a seam is told of the file's order: where that is so, it stands.
        let unreached = others.iter().any(|seam| searched.ways(*seam).next().is_some());
        if welded.len() < 2 || unreached {
            continue;
        }
        let round = Round::new(cell, &passages, station, &welded, &[searched, &turned]);
        let as_filed: Vec<(SeamId, usize)> = welded.iter().map(|seam| (*seam, 0)).collect();
        let (best, filed) = rayon::join(|| round.quickest(seed), || round.in_order(&as_filed));
        let Some(best) = best else { continue };
        // Once more in that order and directions alone, as the file would have it.
        let order: Vec<(SeamId, usize)> =
            best.stops.iter().map(|(seam, (search, _))| (*seam, *search)).collect();
        let Some(found) = round.in_order(&order) else { continue };
        let before = arm_time(schedule, station);
        // What no order changes.
        let always = schedule::time_without_moves(cell, station) + time_of_openings(schedule, station);
        let seams = best.stops.iter().map(|(seam, _)| *seam).collect();
        let turned_round = best.stops.iter().filter(|(_, (search, _))| *search > 0);
        stations.push(Offered {
            station,
            order: with_others(cell, seams, &others),
            ways_over: found.stops.into_iter().map(|(seam, (_, way))| (seam, way)).collect(),
            turned: turned_round.map(|(seam, _)| *seam).collect(),
            before,
            by_ways: filed.map_or(before, |found| before.min(always + found.time)),
            after: always + found.time,
            bound: always + best.bound.min(found.time),
            seams: welded.len(),
            ways: round.ways(),
            planned: best.planned,
            rules: rules(cell, &welded),
        });
    }
    // What it comes to in the end is what the schedule says of all of it together; what saves nothing then is not offered.
    loop {
        let applied = Applied::new(cell, (searched, &turned), &passages, &stations);
        let schedule = schedule::schedule(&applied.cell, &applied.plan);
        let mut all_save = true;
        for offered in stations.iter_mut().filter(|offered| offered.saves()) {
            offered.after = arm_time(&schedule, offered.station);
            offered.bound = offered.bound.min(offered.after);
            all_save &= offered.saves();
        }
        if all_save {
            return Quickest { stations, applied };
        }
    }
}

/// Seams that are not welded stand where the rules let them.
fn with_others(cell: &Cell, mut order: Vec<SeamId>, others: &[SeamId]) -> Vec<SeamId> {
    for other in others {
        let this = &cell.seams[other.0];
        let before = |seam: &SeamId| this.comes_before(&cell.seams[seam.0]).is_some();
        let partner = order.iter().position(|seam| this.balances(&cell.seams[seam.0]));
        let place = partner.map(|place| place + 1).or_else(|| order.iter().position(before));
        order.insert(place.unwrap_or(order.len()), *other);
    }
    order
}

/// What clamps take that open between welds, s.
fn time_of_openings(schedule: &Schedule, station: StationId) -> f64 {
    let visits = schedule.visits.iter().filter(|visit| visit.station == station);
    let openings = visits.flat_map(|visit| &visit.events).filter(|event| event.kind == EventKind::ClampsOpen);
    openings.map(|event| event.duration).sum()
}

fn rules(cell: &Cell, welded: &[SeamId]) -> RulesKept {
    let mut rules = RulesKept::default();
    for (place, seam) in welded.iter().enumerate() {
        let seam = &cell.seams[seam.0];
        rules.kept_direction += usize::from(!seam.may_turn());
        for other in welded.iter().skip(place + 1).map(|other| &cell.seams[other.0]) {
            match seam.comes_before(other).or_else(|| other.comes_before(seam)) {
                Some(Before::Tacks) => rules.tacks += 1,
                Some(Before::Passes) => rules.passes += 1,
                Some(Before::After) => rules.after += 1,
                Some(Before::FromFixed) => rules.from_fixed += 1,
                Some(Before::Clamps) => rules.clamps += 1,
                None => {}
            }
            rules.balanced += usize::from(seam.balances(other));
            let cools = seam.cools_before(other) > 0.0 || other.cools_before(seam) > 0.0;
            rules.cooling += usize::from(cools);
        }
    }
    rules
}
