//! Decides how touch searches that a cell does not have yet would be made, before which seams they can be, and what time they take.
//!
//! The searches are put into a copy of the cell, the seams are planned anew with them and the arm's round is scheduled anew: what it takes
//! longer is their time. A seam that cannot be welded with them any more, because the face ends too soon or the torch comes not there,
//! cannot be searched so. A seam over which no way is known without them either tells nothing; its searches count with the time that the
//! cell assumes for each direction.

use super::scheme::Touch;
use super::searching::{Searching, before_needy, is_one_joint};
use crate::cell::read::face_goes_on;
use crate::cell::{Cell, Seam, SeamId, SearchedFace, TouchSearch};
use crate::order;
use crate::plan::{Plan, Searched};
use crate::schedule::{self, Schedule};
use crate::units::mm;

/// How the wire goes to a face in a cell that has no search to go by, mm and mm/s: common practice, no source.
/// The farthest from the root that the face goes on is taken.
const OFF_MM: [f64; 3] = [10.0, 5.0, 3.0];
const DISTANCE_MM: f64 = 10.0;
const SPEED_MM_S: f64 = 20.0;

/// How the arm goes in the cell as it is, and when.
#[derive(Clone, Copy)]
pub struct Planned<'p> {
    /// What was found for every seam by itself.
    pub searched: &'p Searched,
    /// How the arm goes.
    pub plan: &'p Plan,
    /// When.
    pub schedule: &'p Schedule,
}

/// What is searched before which seams, passes of a joint alike.
pub type Searches = Vec<(SeamId, Vec<Touch>)>;

/// Searches that can be made.
#[derive(Clone, Debug)]
pub struct Offered {
    /// Which.
    pub searches: Searches,
    /// How the arm goes then: it may hold the torch otherwise.
    pub plan: Plan,
    /// Arm time that they add for a load from every station.
    pub time: AddedTime,
}

/// Time that a change adds, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AddedTime {
    /// As scheduled.
    pub scheduled: f64,
    /// As the cell assumes for each direction of a search, where no way could be scheduled.
    pub assumed: f64,
}

impl AddedTime {
    /// Both together.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.scheduled + self.assumed
    }
}

impl Offered {
    /// Whether a seam is searched.
    #[must_use]
    pub fn has(&self, seam: SeamId) -> bool {
        self.searches.iter().any(|(searched, _)| *searched == seam)
    }
}

/// The searches of one kind before all joints that need them and can be searched so; none where none can.
#[must_use]
pub fn offered(
    cell: &Cell,
    planned: &Planned<'_>,
    needy: &[bool],
    searching: &dyn Fn(SeamId) -> Searching,
) -> Option<Offered> {
    let mut searches = before_needy(cell, needy, searching);
    while !searches.is_empty() {
        let with_searches = with_searches(cell, &searches);
        let first = searches.iter().map(|(seam, _)| *seam).filter(|seam| cell.seams[seam.0].pass == 1);
        let anew: Vec<SeamId> = first.filter(|seam| cell.seams[seam.0].taught.is_none()).collect();
        let searched = planned.searched.again_as_all_stands(&with_searches, &anew);
        let plan = order::plan(&with_searches, &searched);
        let misses =
            |seam: &SeamId| !with_searches.seams[seam.0].searches.iter().all(TouchSearch::meets_its_face);
        let fails = |seam: &SeamId| misses(seam) || (planned.plan.is_welded(*seam) && !plan.is_welded(*seam));
        let failed: Vec<SeamId> = anew.iter().copied().filter(fails).collect();
        if failed.is_empty() {
            let round = |schedule: &Schedule| schedule.round().last().copied().unwrap_or_default();
            let scheduled = round(&schedule::schedule(&with_searches, &plan)) - round(planned.schedule);
            let unknown = searches.iter().filter(|(seam, _)| {
                cell.seams[seam.0].pass == 1 && (!anew.contains(seam) || !plan.is_welded(*seam))
            });
            let added = unknown
                .map(|(seam, touches)| touches.len() as f64 - cell.seams[seam.0].searches.len() as f64);
            let assumed = added.sum::<f64>() * cell.variation.search_time;
            return Some(Offered { searches, plan, time: AddedTime { scheduled, assumed } });
        }
        let is_of = |seam: &SeamId| {
            failed.iter().any(|failed| is_one_joint(&cell.seams[seam.0], &cell.seams[failed.0]))
        };
        searches.retain(|(seam, _)| !is_of(seam));
    }
    None
}

/// The cell with these searches in place of those that it has before the same seams.
#[must_use]
pub fn with_searches(cell: &Cell, searches: &Searches) -> Cell {
    let mut changed = cell.clone();
    for (seam, touches) in searches {
        let of = &cell.seams[seam.0];
        changed.seams[seam.0].searched.clone_from(touches);
        if of.pass == 1 {
            changed.seams[seam.0].searches =
                touches.iter().filter_map(|touch| touch_search(cell, of, *touch)).collect();
        }
    }
    changed
}

/// How a face is searched before a seam: as it is already, else like another search of the seam, or of the cell; none where the seam is
/// not drawn.
#[must_use]
pub fn touch_search(cell: &Cell, seam: &Seam, (face, at): (SearchedFace, f64)) -> Option<TouchSearch> {
    let same = |search: &&TouchSearch| search.face == face && (search.at - at).abs() < 1e-9;
    if let Some(known) = seam.searches.iter().find(same) {
        return Some(*known);
    }
    let path = seam.path.as_ref()?;
    let searches = match alike(cell, seam) {
        Some(alike) => vec![TouchSearch { face, at, ..*alike }],
        None => OFF_MM.map(|off| plain(face, at, mm(off))).into(),
    };
    let mut placed = searches
        .into_iter()
        .map(|search| TouchSearch { edge_found: face_goes_on(cell, seam, path, &search), ..search });
    let first = placed.next()?;
    if first.meets_its_face() {
        Some(first)
    } else {
        placed.find(TouchSearch::meets_its_face).or(Some(first))
    }
}

/// From how far before its face a search before the joint of a seam begins, m: one that is made like another begins as far off.
#[must_use]
pub fn begins_before(cell: &Cell, seam: &Seam, (face, at): Touch) -> f64 {
    let mut joint =
        cell.seams.iter().filter(|other| is_one_joint(seam, other)).flat_map(|pass| &pass.searches);
    let known = joint.find(|search| search.face == face && (search.at - at).abs() < 1e-9);
    known.or_else(|| alike(cell, seam)).map_or(mm(DISTANCE_MM), |search| search.distance)
}

/// The search that others before a seam are made like: its own first, else the first of the cell.
fn alike<'c>(cell: &'c Cell, seam: &'c Seam) -> Option<&'c TouchSearch> {
    seam.searches.first().or_else(|| cell.seams.iter().find_map(|seam| seam.searches.first()))
}

fn plain(face: SearchedFace, at: f64, off: f64) -> TouchSearch {
    let [distance, speed] = [DISTANCE_MM, SPEED_MM_S].map(mm);
    TouchSearch { face, at, off, distance, speed, edge: off, edge_found: 0.0 }
}
