//! Decides what is said of welds on which the arm cannot keep travel speed.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::words::{counted, fixed, rounded};
use crate::cell::{Cell, SeamId};
use crate::motion::Slowed;
use crate::schedule::{EventKind, Schedule};

/// A place on a weld at which speed, acceleration or jerk of the axes force less than travel speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SlowedFindings {
    /// Where along the seam it is slowest.
    pub at_mm: f64,
    /// The speed there.
    pub least_speed_mm_s: f64,
    /// Over how much of the seam it is slower than travel speed by more than 1 %.
    pub length_mm: f64,
    /// How much longer the weld takes for it.
    pub lost_s: f64,
    /// Whether it is an end of the arc at which an axis comes from rest or to rest.
    #[serde(default)]
    pub rests: bool,
}

impl From<&Slowed> for SlowedFindings {
    fn from(slowed: &Slowed) -> Self {
        Self {
            at_mm: rounded(to_mm(slowed.at), 3),
            least_speed_mm_s: rounded(to_mm(slowed.least_speed), 3),
            length_mm: rounded(to_mm(slowed.length), 3),
            lost_s: rounded(slowed.lost, 6),
            rests: slowed.rests,
        }
    }
}

/// Every such place of the seam with this id.
pub(super) fn slowed(seam: SeamId, schedule: &Schedule) -> Vec<SlowedFindings> {
    let events = schedule.visits.iter().flat_map(|visit| &visit.events);
    let welds = events.filter(|event| event.kind == EventKind::Weld && event.seam == Some(seam));
    let paces = welds.filter_map(|event| event.weld_pace());
    paces.flat_map(|pace| pace.slowed()).map(|slowed| SlowedFindings::from(&slowed)).collect()
}

/// What that means, one sentence for ends of the arc and one for what lies between, lower case and without a full stop; none where travel
/// speed is kept.
pub(super) fn notes(cell: &Cell, seam: SeamId, places: &[SlowedFindings]) -> Vec<String> {
    let travel = to_mm(cell.seams[seam.0].procedure.travel_speed);
    let (ends, between): (Vec<&SlowedFindings>, Vec<&SlowedFindings>) =
        places.iter().partition(|place| place.rests);
    at_ends(travel, &ends).into_iter().chain(in_between(travel, &between)).collect()
}

/// Over how much of the seam they are slower, and how much longer that takes, in words.
fn slower(places: &[&SlowedFindings]) -> String {
    let length: f64 = places.iter().map(|place| place.length_mm).sum();
    let lost: f64 = places.iter().map(|place| place.lost_s).sum();
    format!("slower over {} mm, {} s longer", fixed(length, 1), fixed(lost, 2))
}

fn at_ends(travel: f64, ends: &[&SlowedFindings]) -> Option<String> {
    (!ends.is_empty()).then(|| {
        format!(
            "an axis takes a while from rest to {} mm/s of weld, or back: {}; what is laid besides where the arc begins or ends is for the \
             procedure to say",
            fixed(travel, 1),
            slower(ends)
        )
    })
}

/// Slowest places that are told one by one; all are in `findings.json`.
const TOLD_PLACES: usize = 6;

/// Below this a speed is told to a thousandth.
const TOLD_SPEED_MM_S: f64 = 0.1;

fn in_between(travel: f64, places: &[&SlowedFindings]) -> Option<String> {
    let worst = places.iter().min_by(|a, b| a.least_speed_mm_s.total_cmp(&b.least_speed_mm_s))?;
    let all = match places.len() {
        1 => String::new(),
        count => format!(" at {}", counted(count as u64, "place")),
    };
    let mut slowest: Vec<&&SlowedFindings> = places.iter().collect();
    slowest.sort_by(|a, b| a.least_speed_mm_s.total_cmp(&b.least_speed_mm_s));
    slowest.truncate(TOLD_PLACES);
    slowest.sort_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
    let each = |place: &&&SlowedFindings| {
        let decimals = if place.least_speed_mm_s < TOLD_SPEED_MM_S { 3 } else { 1 };
        format!("{} mm/s at {} mm", fixed(place.least_speed_mm_s, decimals), fixed(place.at_mm, 0))
    };
    let each: Vec<String> = slowest.iter().map(each).collect();
    Some(format!(
        "the axes cannot follow at {} mm/s{all}: down to {}, {}; at a wire feed that stays, {} times the metal \
         is laid at the slowest place, and whether that may be is for the procedure to say (a longer `corner_zone_mm`, `corners = \"round\"` \
         or a lower travel speed evens it out)",
        fixed(travel, 1),
        each.join(", "),
        slower(places),
        fixed(travel / worst.least_speed_mm_s, 1),
    ))
}
