//! Decides whether somebody outside a guard reaches what moves behind it: over it, under it, through it, around its ends.
//!
//! Asked is the distance that the user looked up in ISO 13857, through openings no less than its table has. One figure needs no looking up: a whole arm free from the shoulder reaches
//! 850 mm around an end (ISO 13857:2019, by GT-Engineering's pages on it). What is there is the straight way from the guard to the nearest
//! that anything comes to, stopping included: no way around an edge is shorter. A guard around which people walk holds nowhere.

use super::floor_plan::FloorPlan;
use super::front::are_guards_known;
use super::gather::{Gathered, Nearest};
use super::guard_ends::open_ends;
use super::spaces::{ON_THE_EDGE, ToRestricted};
use super::watch::lower_and_upper_edge;
use crate::cell::{Cell, Guard, Opening, OpeningShape, Zone, ZoneId, ZoneRole};
use crate::units;

/// How far a whole arm reaches around an end, mm.
const WHOLE_ARM_MM: f64 = 850.0;
/// A guard that ends no higher than this above the floor stands on it, mm.
const ON_THE_FLOOR_MM: f64 = 1.0;

/// Openings up to a size, m, and how far is reached through them, m: slots, squares and rounds. ISO 13857:2019, table 4, from memory.
const THROUGH_MM: [(f64, [f64; 3]); 9] = [
    (4.0, [2.0, 2.0, 2.0]),
    (6.0, [10.0, 5.0, 5.0]),
    (8.0, [20.0, 15.0, 5.0]),
    (10.0, [80.0, 25.0, 20.0]),
    (12.0, [100.0, 80.0, 80.0]),
    (20.0, [120.0, 120.0, 120.0]),
    (30.0, [850.0, 120.0, 120.0]),
    (40.0, [850.0, 200.0, 120.0]),
    (120.0, [850.0, 850.0, 850.0]),
];

/// How far somebody reaches through an opening at least, m; none of one that is larger than any of the table.
#[must_use]
pub fn least_through(opening: &Opening) -> Option<f64> {
    let size = units::to_mm(opening.size) - 1e-9;
    let (_, row) = THROUGH_MM.iter().find(|(up_to, _)| size <= *up_to)?;
    let [slot, square, round] = *row;
    Some(units::mm(match opening.shape {
        OpeningShape::Slot => slot,
        OpeningShape::Square => square,
        OpeningShape::Round => round,
    }))
}

/// A way past a guard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ReachWay {
    /// Over its upper edge.
    Over,
    /// Under its lower edge.
    Under,
    /// Through its openings.
    Through,
    /// Around its ends.
    Around,
}

/// What is known of one way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// Which.
    pub way: ReachWay,
    /// What is asked, m; none where it must be looked up.
    pub asked: Option<f64>,
    /// Whether the guard leaves this way open at all.
    pub is_open: bool,
    /// Whether somebody walks around it to where nothing stands between them and what moves behind it, and breaks no field.
    pub is_walked: bool,
    /// From there to the nearest that moves, m; none where nothing does.
    pub present: Option<f64>,
    /// From there to the restricted space, m, in which the arm may be anywhere, where that is nearer.
    pub to_restricted: Option<f64>,
}

impl Reach {
    /// Whether nothing that moves is reached this way; none where that was not checked, or holds for the schedule alone and not for all of
    /// the restricted space.
    #[must_use]
    pub fn holds(&self) -> Option<bool> {
        if self.is_walked {
            return Some(false);
        }
        if !self.is_open {
            return Some(true);
        }
        let holds = is_enough(self.present?, self.asked?);
        (!holds || !self.is_of_schedule_alone()).then_some(holds)
    }

    /// Whether it holds for what moves in the schedule, but not for all of the restricted space.
    #[must_use]
    pub fn is_of_schedule_alone(&self) -> bool {
        let Some((present, asked)) = self.present.zip(self.asked) else { return false };
        self.is_open
            && is_enough(present, asked)
            && self.to_restricted.is_some_and(|to| !is_enough(to, asked))
    }
}

/// Whether a distance is at least what is asked: one drawn just so is, however the cell stands in the world.
fn is_enough(present: f64, asked: f64) -> bool {
    present >= asked - ON_THE_EDGE
}

/// What is known of one guard.
#[derive(Clone, Debug, PartialEq)]
pub struct Guarded {
    /// Which.
    pub zone: ZoneId,
    /// The nearest that comes to it from behind; negative where something passes it.
    pub nearest: Option<Nearest>,
    /// What the arm reaches of the restricted space, where that passes the guard or the guard stands in it: how far, as a negative distance.
    pub passed_by_restricted: Option<ToRestricted>,
    /// Every way past it; empty of a guard that is no flat field, which has no front.
    pub ways: Vec<Reach>,
}

/// Every guard of the cell, in the order of its zones, with how near the restricted space comes to each of them and to its ends.
#[must_use]
pub fn guards(
    cell: &Cell,
    gathered: &[Gathered],
    to_restricted: impl Fn(usize) -> Option<ToRestricted>,
    ends_to_restricted: impl Fn(usize) -> Option<f64>,
) -> Vec<Guarded> {
    let plan = FloorPlan::new(cell);
    let walked = plan.surely_from_outside(&plan.fields());
    // Of a cell that states no such space it is not known whether all its guards are drawn.
    let is_closed_off = are_guards_known(cell);
    let is_walked = |index: usize, zone: &Zone, nearest: &Nearest| {
        is_closed_off && plan.is_seen_behind(cell, (ZoneId(index), zone), &walked, &nearest.point)
    };
    let zones = cell.zones.iter().zip(gathered).enumerate();
    zones
        .filter(|(_, (zone, _))| zone.role == ZoneRole::Guard)
        .filter_map(|(index, (zone, gathered))| {
            let to_restricted = to_restricted(index);
            let distances = [to_restricted.map(|nearest| nearest.distance), ends_to_restricted(index)];
            Some(Guarded {
                zone: ZoneId(index),
                nearest: gathered.nearest.clone(),
                passed_by_restricted: to_restricted.filter(|nearest| nearest.distance < -ON_THE_EDGE),
                ways: ways(cell, zone, zone.guard.as_ref()?, gathered, distances, |nearest| {
                    is_walked(index, zone, nearest)
                }),
            })
        })
        .collect()
}

fn ways(
    cell: &Cell,
    zone: &Zone,
    guard: &Guard,
    gathered: &Gathered,
    [to_restricted, ends_to_restricted]: [Option<f64>; 2],
    is_walked: impl Fn(&Nearest) -> bool,
) -> Vec<Reach> {
    if super::front::Front::of(cell, zone).is_none() {
        return Vec::new();
    }
    let behind = gathered.nearest.as_ref().map(|nearest| nearest.distance);
    let beside = gathered.ends.as_ref().map(|nearest| nearest.distance);
    let whole_arm = units::mm(WHOLE_ARM_MM);
    let around =
        guard.reach_around.or_else(|| beside.filter(|beside| *beside >= whole_arm).map(|_| whole_arm));
    let stands = lower_and_upper_edge(cell, zone).0 - cell.safeguarding.floor <= units::mm(ON_THE_FLOOR_MM);
    let has_ends = !open_ends(cell, zone).is_empty();
    // A figure looked up that is less than the table's is not taken, nor any for what the table does not have.
    let through =
        guard.opening.as_ref().and_then(|opening| Some(guard.reach_through?.max(least_through(opening)?)));
    let reach = |way, asked, is_open, present| {
        let to = if way == ReachWay::Around { ends_to_restricted } else { to_restricted };
        Reach { way, asked, is_open, is_walked: false, present, to_restricted: to }
    };
    vec![
        reach(ReachWay::Over, guard.reach_over, true, behind),
        reach(ReachWay::Under, guard.reach_under, !stands, behind),
        reach(ReachWay::Through, through, guard.opening.is_some(), behind),
        Reach {
            is_walked: has_ends && gathered.nearest.as_ref().is_some_and(is_walked),
            ..reach(ReachWay::Around, around, has_ends, beside)
        },
    ]
}
