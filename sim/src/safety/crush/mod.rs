//! Decides where a person can be caught between what moves and what stands, or between two things that move: the smallest gap that is left
//! in passing where somebody at an operator place is, or reaches from there, stops included that may be ordered at any instant while no device
//! watches.
//!
//! A gap counts where its middle is within reach (`within_reach`) of the place. Asked are the least gaps of ISO 13854, from memory: 500 mm for a
//! body in the place, 120 mm for an arm beyond its edge; head, foot, hand and finger by themselves are not looked at. The bare wire is no body
//! here. The torch comes to the part as it has to, and whoever is between is caught all the same: of each place the narrowest such gap is told.
//! Where no gap is left since guards or boxes stand between, the narrowest of those is told, as one that nobody reaches.
//! A gap that never changes is passed over, since nothing closes there; so are the arm's own links against each other, and what is inside
//! something that goes with one of both.
//!
//! - `thing`, `edges`: between what; `track`: where it is at every look; `wall`: what keeps somebody from it
//! - `search`: when a pair is narrowest; `narrow`: how narrow it is then; `queue`: what both look at next
//!
//! The narrowest of all looks is found by bounds that hold, so none is left out. Looked at is every row of the path at which something has
//! gone a millimetre, and every one at which something comes to rest: on the quickest moves rows are 20 ms apart.

mod edges;
mod narrow;
mod queue;
mod search;
mod thing;
mod track;
mod wall;
mod within_reach;

use nalgebra::Point3;
use rayon::prelude::*;

use super::bodies::MovingBodies;
use super::closers::lets_people_through;
use super::keeping::{Kept, Past};
use super::stopping::Stops;
use crate::cell::{Cell, ZoneId, ZoneRole};
use crate::schedule::Instant;
use crate::units;
use search::{KeptBy, Pair, Search, Sought};
use track::Track;
use wall::Wall;
use within_reach::{Counts, WithinReach};

/// Least gaps for a body and for an arm, mm: ISO 13854, from memory.
const BODY_MM: f64 = 500.0;
const ARM_MM: f64 = 120.0;
/// Wider gaps are not told, m.
const WIDEST: f64 = 0.5;
/// Gaps that differ by less than this are not told apart, mm.
const ALIKE_MM: f64 = 0.02;
/// Every gap that is too narrow is told; of those that are wide enough no more than fill up this number.
const TOLD: usize = 3;

/// What a gap must be wide enough for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Limb {
    /// A body, where the gap is in the place.
    Body,
    /// An arm, where it is beyond its edge.
    Arm,
}

impl Limb {
    /// The least gap, m.
    #[must_use]
    pub fn least_gap(self) -> f64 {
        units::mm(match self {
            Self::Body => BODY_MM,
            Self::Arm => ARM_MM,
        })
    }
}

/// The smallest that one gap becomes where somebody at a place may be caught.
#[derive(Clone, Debug, PartialEq)]
pub struct CrushGap {
    /// The operator place.
    pub place: ZoneId,
    /// What moves.
    pub moving: String,
    /// What it passes.
    pub against: String,
    /// m; 0 where they touch.
    pub gap: f64,
    /// What it must be wide enough for.
    pub limb: Limb,
    /// When, s from the start of the round; where `stopping_for` is above 0, when the stop is ordered.
    pub t: f64,
    /// The same, s from the start of the cycle, where tables turn in that while the arm is elsewhere.
    pub in_cycle: Option<f64>,
    /// How long after the order to stop, s; 0 on the path.
    pub stopping_for: f64,
    /// Where in the world.
    pub point: Point3<f64>,
    /// Whether a device stops it then, before somebody is there.
    pub kept: Kept,
    /// How somebody may come there all the same, where that is not certain.
    pub around: Past,
    /// Whether it is the torch that comes to a part, as it has to.
    pub is_at_work: bool,
    /// Whether guards or boxes stand between it and the place, so that nobody there reaches it.
    pub kept_by_walls: bool,
}

impl CrushGap {
    /// Whether nobody is caught: the gap is wide enough, or a device stops what closes it; none where it is not known whether somebody comes
    /// there around that.
    #[must_use]
    pub fn holds(&self) -> Option<bool> {
        match self.kept {
            _ if self.kept_by_walls || self.gap >= self.limb.least_gap() => Some(true),
            Kept::Yes => Some(true),
            Kept::Perhaps => None,
            Kept::No => Some(false),
        }
    }
}

/// For every operator place: every gap that is too narrow while no device watches, narrowest first, with the narrowest wide enough ones where
/// those are few; the narrowest between torch and parts; the narrowest of both that a device stops, or
/// stops perhaps; and where there is none the narrowest that guards or boxes keep people from.
#[must_use]
pub fn crush_gaps(cell: &Cell, bodies: &MovingBodies, instants: &[Instant], stops: &Stops) -> Vec<CrushGap> {
    let places = cell.zones.iter().enumerate().filter(|(_, zone)| zone.role == ZoneRole::OperatorPlace);
    let places: Vec<usize> = places.map(|(index, _)| index).collect();
    if places.is_empty() || instants.is_empty() {
        return Vec::new();
    }
    let mut track = Track::new(cell, bodies, instants, stops);
    let walls = |floor: f64| -> Vec<Wall> {
        let guards = Wall::of_guards(cell)
            .into_iter()
            .filter(|(guard, wall)| !lets_people_through(&cell.zones[guard.0]) && wall.is_high_enough(floor));
        guards.map(|(_, wall)| wall).chain(track.standing_walls(floor)).collect()
    };
    let places = places.into_iter().map(|place| WithinReach::new(cell, place, walls));
    let places: Vec<WithinReach<'_>> = places.collect();
    let anybody_free = |look: &track::Look<'_>| {
        let free = |reach: &WithinReach<'_>| {
            let mut says =
                (0..bodies.bodies.len()).filter_map(|body| Search::says(bodies, reach, look, body));
            says.any(|kept| kept != Kept::Yes)
        };
        places.iter().any(free)
    };
    track.spread_out(anybody_free);
    let pairs = pairs(&track, bodies);
    places.iter().flat_map(|reach| of_place(&Search::new(cell, &track, bodies, reach), &pairs)).collect()
}

fn of_place(search: &Search<'_>, pairs: &[Pair]) -> Vec<CrushGap> {
    let (at_work, other): (Vec<Pair>, Vec<Pair>) = pairs.iter().partition(|pair| search.is_at_work(**pair));
    let free = Sought { kept: Kept::No, counts: Counts::TooNarrow(WIDEST), count: 1, kept_by: KeptBy::All };
    let any = |kept: Kept, count: usize| Sought { kept, counts: Counts::Below(WIDEST), count, ..free };
    let behind_fields = Sought { kept_by: KeptBy::Solid, ..any(Kept::No, 1) };
    let too_narrow = |pair: &Pair| (*pair, search.narrowest(&[*pair], free).into_iter().next());
    let found: Vec<(Pair, Option<CrushGap>)> = other.par_iter().map(too_narrow).collect();
    let wide: Vec<Pair> = found.iter().filter(|(_, gap)| gap.is_none()).map(|(pair, _)| *pair).collect();
    let mut told: Vec<CrushGap> = found.into_iter().filter_map(|(_, gap)| gap).collect();
    // A stable sort: of equals the first pair comes first.
    told.sort_by(|a, b| a.gap.total_cmp(&b.gap));
    let fill = TOLD.saturating_sub(told.len());
    let mut asked = vec![
        (&wide, any(Kept::No, fill)),
        (&at_work, free),
        (&other, any(Kept::Perhaps, 1)),
        (&at_work, any(Kept::Perhaps, 1)),
        (&other, any(Kept::Yes, 1)),
        (&at_work, any(Kept::Yes, 1)),
    ];
    if search.has_fields() {
        asked.extend([&other, &at_work].map(|pairs| (pairs, behind_fields)));
    }
    let answer = |(pairs, sought): &(&Vec<Pair>, Sought)| {
        let found = search.narrowest(pairs, *sought);
        let is_none_too_narrow = found.is_empty() && matches!(sought.counts, Counts::TooNarrow(_));
        if is_none_too_narrow { search.narrowest(pairs, any(Kept::No, 1)) } else { found }
    };
    let answers: Vec<Vec<CrushGap>> = asked.par_iter().map(answer).collect();
    for ((_, sought), answer) in asked.iter().zip(answers) {
        for gap in answer {
            if sought.kept_by == KeptBy::All || is_kept_by_field_alone(&gap, &told) {
                told.push(gap);
            }
        }
    }
    if told.is_empty() {
        let behind_walls =
            |kept| search.narrowest(pairs, Sought { kept_by: KeptBy::Nothing, ..any(kept, 1) });
        let behind = [Kept::No, Kept::Perhaps, Kept::Yes].into_iter().flat_map(behind_walls);
        let narrowest = behind.min_by(|a, b| a.gap.total_cmp(&b.gap));
        told.extend(narrowest.map(|gap| CrushGap { kept_by_walls: gap.kept != Kept::Yes, ..gap }));
    }
    told
}

/// Whether only a field that stops it keeps whoever reaches for a gap, and what is told of its pair is wider.
fn is_kept_by_field_alone(gap: &CrushGap, told: &[CrushGap]) -> bool {
    let is_told = |told: &CrushGap| {
        told.moving == gap.moving && told.against == gap.against && told.gap <= gap.gap + units::mm(ALIKE_MM)
    };
    gap.kept == Kept::Yes && !told.iter().any(is_told)
}

/// Of what moves with all else, but the arm's own links against each other and what the same axes carry.
fn pairs(track: &Track<'_>, bodies: &MovingBodies) -> Vec<Pair> {
    let (things, moving) = (&track.things, track.moving());
    let moved_by = |thing: usize| things[thing].body.map(|body| &bodies.bodies[body].moved_by);
    let apart = |[a, b]: &Pair| {
        if things[*a].is_of_arm && things[*b].is_of_arm {
            return false;
        }
        *b >= moving || things[*a].is_of_arm || things[*b].is_of_arm || moved_by(*a) != moved_by(*b)
    };
    (0..moving).flat_map(|a| (a + 1..things.len()).map(move |b| [a, b])).filter(apart).collect()
}
