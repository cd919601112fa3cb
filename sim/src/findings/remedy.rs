//! Decides how a change that buys good parts is said, so that it can be made in the cell file as it stands.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_deg, to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::words::{counted, fixed, rounded, share};
use crate::cell::frames::AxisKind;
use crate::cell::{Cell, Locator, LocatorKind, SeamId};
use crate::fitup::offered_search::touch_search;
use crate::fitup::remedies::{Change, Remedy, Which};
use crate::fitup::scheme::Touch;
use crate::fitup::searching::{FROM_END_MM, Searching};

/// A change with what it is worth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RemedyFindings {
    /// What to do, in one sentence.
    pub change: String,
    /// Whether it changes fixture or parts, rather than the program.
    pub of_fixture: bool,
    /// Good weldments with it.
    pub good_percent: f64,
    /// That less the good ones without it.
    pub gain_percent: f64,
    /// Arm time that it adds for a load from every station.
    pub adds_s: f64,
    /// How much of that is not scheduled but assumed (`search_s` for each direction), since no way over the seam is known.
    pub assumed_s: f64,
}

impl RemedyFindings {
    pub(super) fn new(cell: &Cell, remedy: &Remedy) -> Self {
        Self {
            change: change_sentence(cell, &remedy.change),
            of_fixture: remedy.change.is_of_fixture(),
            good_percent: rounded(to_percent(remedy.good), 4),
            gain_percent: rounded(to_percent(remedy.gain), 4),
            adds_s: rounded(remedy.time.total(), 3),
            assumed_s: rounded(remedy.time.assumed, 3),
        }
    }

    /// The change and what it is worth.
    #[must_use]
    pub fn sentence(&self) -> String {
        let seconds = fixed(self.adds_s.abs(), 1);
        let more = if self.adds_s < 0.0 { "less" } else { "more" };
        let time = if self.adds_s == 0.0 {
            String::new()
        } else if self.assumed_s == 0.0 {
            format!(", {seconds} s {more} arm time for a load from every station, as scheduled")
        } else {
            let assumed = fixed(self.assumed_s, 1);
            format!(
                ", {seconds} s {more} arm time for a load from every station, {assumed} s of it an estimate by search_s for each \
                 direction: no way over the seam is known"
            )
        };
        format!(
            "{}: {} % good, {} more{time}",
            self.change,
            share(self.good_percent),
            fixed(self.gain_percent, if self.gain_percent < 0.05 { 3 } else { 1 })
        )
    }
}

fn change_sentence(cell: &Cell, change: &Change) -> String {
    let mm = |metres: f64| format!("{} mm", fixed(to_mm(metres), 3));
    let of = |which: &Which, value: fn(&Locator) -> f64| {
        let body =
            cell.bodies.iter().find(|body| body.fixture == which.fixture && body.drawn_as == which.body);
        let locator =
            body.and_then(|body| body.locators.iter().find(|locator| locator.name == which.locator));
        mm(locator.map_or(0.0, value) / 2.0)
    };
    let named = |which: &Which| format!("{} of {}", which.locator, which.fixture);
    let variation = &cell.variation;
    match change {
        Change::HalvePartTolerance(which) => {
            format!("halve the part's tolerance at {} to {}", named(which), of(which, |l| l.part_tolerance))
        }
        Change::HalveTolerance(which) => {
            format!("halve the tolerance of {} to {}", named(which), of(which, |l| l.tolerance))
        }
        Change::HalvePlay(which) => {
            format!("halve the play of {} to {}", named(which), of(which, |l| l.play))
        }
        Change::HalveWear(which) => {
            format!("halve how far {} may be worn to {}", named(which), of(which, |l| l.wear))
        }
        Change::Move(which, to) => {
            let at = [to.x, to.y, to.z].map(|part| fixed(to_mm(part), 3)).join(", ");
            let hole = if is_pin(cell, which) { " with its hole" } else { "" };
            format!("move {}{hole} to at_mm = [{at}]", named(which))
        }
        Change::Remove(which) => format!("take {} away", named(which)),
        Change::HalveJoint => {
            format!(
                "halve the tolerance of the parts at the joints (joint_mm) to {}",
                mm(variation.joint / 2.0)
            )
        }
        Change::HalveGap => format!("halve the gap (gap_mm) to {}", mm(variation.gap / 2.0)),
        Change::HalveLoading => format!(
            "halve what parts are left off their locators (loading_mm) to {}",
            mm(variation.loading / 2.0)
        ),
        Change::HalveWire => {
            format!("halve what the wire wanders (wire_mm) to {}", mm(variation.wire / 2.0))
        }
        Change::HalveTracking => {
            format!("halve what tracking is off (tracking_mm) to {}", mm(variation.tracking / 2.0))
        }
        Change::HalveFixture => format!(
            "halve how far fixtures are off on their stations (fixture_mm) to {}",
            mm(variation.fixture / 2.0)
        ),
        Change::HalveIndex => format!(
            "halve where indexed axes may stop (index_deg) to {}°",
            fixed(to_deg(variation.index / 2.0), 4)
        ),
        Change::HalveAxis(axis) => {
            let axis = &cell.frames.axes[*axis];
            let half = axis.repeatability.unwrap_or_default() / 2.0;
            match axis.kind {
                AxisKind::Turn => {
                    format!("halve where {} stops (repeatability_deg) to {}°", axis.name, fixed(to_deg(half), 4))
                }
                AxisKind::Slide => format!("halve where {} stops (repeatability_mm) to {}", axis.name, mm(half)),
            }
        }
        Change::HalveWarmth => {
            format!("halve how much warmer parts are (warmer_k) to {} K", fixed(variation.warmer / 2.0, 1))
        }
        Change::HalveToolCentre => format!(
            "halve how far the tool centre point is off (tool_centre_mm) to {}",
            mm(variation.tool_centre / 2.0)
        ),
        Change::Search(searches) => search_sentence(cell, searches),
        Change::Track => {
            "track the arc on every fillet and lap that misses too often on any station (it needs a weave; give them a procedure of their own \
             where others share it)"
                .to_owned()
        }
        Change::TouchUp => "touch up the programs on a middling part".to_owned(),
    }
}

fn is_pin(cell: &Cell, which: &Which) -> bool {
    let of = cell.bodies.iter().filter(|body| body.fixture == which.fixture && body.drawn_as == which.body);
    let locators = of.flat_map(|body| &body.locators);
    let is = |kind| matches!(kind, LocatorKind::Pin | LocatorKind::SlotPin);
    locators.into_iter().any(|locator| locator.name == which.locator && is(locator.kind))
}

/// What is searched, where, before which seams, and in place of what.
fn search_sentence(cell: &Cell, searches: &[(SeamId, Vec<Touch>)]) -> String {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    let mut ways: Vec<(String, Vec<String>)> = Vec::new();
    let mut searched: Vec<&str> = Vec::new();
    for (seam, touches) in searches {
        let seam = &cell.seams[seam.0];
        let what = match Searching::of(touches) {
            Some(Searching::One(face)) => format!("the {} face half way along", face.name()),
            Some(Searching::OneAtEnds(face)) => {
                format!(
                    "the {} face {} mm (or a quarter) from both ends of",
                    face.name(),
                    fixed(FROM_END_MM, 0)
                )
            }
            Some(Searching::Both) => "both faces half way along".to_owned(),
            Some(Searching::BothEnds) => {
                format!("both faces {} mm (or a quarter) from both ends of", fixed(FROM_END_MM, 0))
            }
            None => counted(touches.len() as u64, "face"),
        };
        let mut places: Vec<String> = touches.iter().map(|(_, at)| fixed(to_mm(*at), 1)).collect();
        places.dedup();
        let name = seam.drawn_as.as_str();
        add(&mut groups, what, format!("{name} (at_mm = {})", places.join(" and ")));
        if !seam.searches.is_empty() && !searched.contains(&name) {
            searched.push(name);
        }
        for search in touches.iter().filter_map(|touch| touch_search(cell, seam, *touch)) {
            let [off, before, speed] =
                [search.off, search.distance, search.speed].map(|value| fixed(to_mm(value), 1));
            let way = format!("off_mm = {off}, distance_mm = {before}, speed_mm_s = {speed}");
            add(&mut ways, way, format!("{} face of {name}", search.face.name()));
        }
    }
    let told: Vec<String> =
        groups.iter().map(|(what, seams)| format!("{what} {}", seams.join(", "))).collect();
    let how = match ways.as_slice() {
        [(way, _)] => way.clone(),
        ways => {
            let each = ways.iter().map(|(way, faces)| format!("{}: {way}", faces.join(", ")));
            each.collect::<Vec<String>>().join("; ")
        }
    };
    let instead = if searched.is_empty() {
        String::new()
    } else {
        format!(", instead of the searches that the file has before {}", searched.join(", "))
    };
    format!("touch search {} ({how}){instead}", told.join("; "))
}

/// Adds `of` to what is known by `name`, once.
fn add(known: &mut Vec<(String, Vec<String>)>, name: String, of: String) {
    let index = known.iter().position(|(other, _)| *other == name).unwrap_or(known.len());
    if index == known.len() {
        known.push((name, Vec::new()));
    }
    if !known[index].1.contains(&of) {
        known[index].1.push(of);
    }
}
