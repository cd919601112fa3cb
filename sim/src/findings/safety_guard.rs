//! Decides what is said of one guard: which ways past it were looked at, and what the reader must look up for the others.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::safety_nearest::NearestFindings;
use super::words::{LengthUnit, millimetres};
use crate::cell::{Cell, Guard, OpeningShape, Zone};
use crate::safety::guarding::{Guarded, Reach, ReachWay, least_through};
use crate::safety::watch;

/// What was learnt of a guard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GuardFindings {
    /// Name in the file.
    pub guard: String,
    /// Whether nothing passes it and nothing is reached in any way; none where a way was not checked and the others hold.
    pub holds: Option<bool>,
    /// What comes nearest to it, stopping included; none where nothing that moves comes behind it, or it has no front.
    pub nearest: Option<NearestFindings>,
    /// How far what the arm reaches of the restricted space passes it, or how deep it stands in that; none where neither does.
    #[serde(default)]
    pub passed_by_restricted_space_mm: Option<f64>,
    /// Where in the world that is.
    #[serde(default)]
    pub passed_at_mm: Option<[f64; 3]>,
    /// Every way past it.
    pub ways: Vec<ReachWayFindings>,
    /// Whether links of the arm have no shape and were not seen.
    #[serde(default)]
    pub arm_unseen: bool,
    /// The answer in one sentence.
    pub sentence: String,
}

/// One way past a guard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReachWayFindings {
    /// Which.
    pub way: ReachWay,
    /// Whether nothing that moves is reached; none where that was not checked.
    pub holds: Option<bool>,
    /// What is asked; none where the guard leaves no such way, or it must be looked up.
    pub asked_mm: Option<f64>,
    /// From there to the nearest that moves.
    pub present_mm: Option<f64>,
    /// From there to the restricted space, where that is nearer than is asked and what moves in the schedule is not.
    #[serde(default)]
    pub to_restricted_space_mm: Option<f64>,
    /// Whether somebody walks around it to what moves behind it, and breaks no field.
    #[serde(default)]
    pub walked_around: bool,
    /// What to look up, where that was not checked.
    pub look_up: Option<String>,
}

impl GuardFindings {
    pub(super) fn new(cell: &Cell, guarded: &Guarded, arm_unseen: bool) -> Self {
        let zone = &cell.zones[guarded.zone.0];
        let ways: Vec<ReachWayFindings> =
            guarded.ways.iter().map(|reach| ReachWayFindings::new(cell, zone, reach)).collect();
        let passed = guarded.nearest.as_ref().is_some_and(|nearest| nearest.distance < 0.0);
        let past = guarded.passed_by_restricted;
        let fails = passed || past.is_some() || ways.iter().any(|way| way.holds == Some(false));
        let all_hold = !arm_unseen && !ways.is_empty() && ways.iter().all(|way| way.holds == Some(true));
        let mut findings = Self {
            guard: zone.name.clone(),
            holds: if fails { Some(false) } else { all_hold.then_some(true) },
            nearest: guarded.nearest.as_ref().map(NearestFindings::new),
            passed_by_restricted_space_mm: past.map(|past| millimetres(-past.distance)),
            passed_at_mm: past.map(|past| [past.point.x, past.point.y, past.point.z].map(millimetres)),
            ways,
            arm_unseen,
            sentence: String::new(),
        };
        findings.sentence = findings.sentence_in(LengthUnit::Millimetre);
        findings
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let passes = self.nearest.as_ref().filter(|nearest| nearest.distance_mm < 0.0);
        let passes = passes.map(|nearest| {
            format!(
                "{} passes it by {} ({})",
                nearest.body,
                unit.distance(-nearest.distance_mm),
                nearest.when()
            )
        });
        let nearest = self.nearest.as_ref().filter(|nearest| nearest.distance_mm >= 0.0);
        let nearest = nearest.map(|nearest| {
            format!(
                "{} comes to {} behind it ({})",
                nearest.body,
                unit.distance(nearest.distance_mm),
                nearest.when()
            )
        });
        let restricted = self.passed_by_restricted_space_mm.zip(self.passed_at_mm).map(|(by, at)| {
            let passes = if self.ways.is_empty() {
                "it stands in the restricted space, in which the arm may be anywhere, by"
            } else {
                "the restricted space, in which the arm may be anywhere, passes it by"
            };
            let at = at.map(|c| unit.place_number(c)).join(", ");
            format!("{passes} {} at {at} {}", unit.distance(by), unit.name())
        });
        let ways = self.ways.iter().map(|way| way.sentence_in(unit));
        let none =
            self.ways.is_empty().then(|| "not checked: it is no flat field, so it has no front".to_owned());
        let unseen = self
            .arm_unseen
            .then(|| "not checked: links of the arm have no shape, and this is of what has one".to_owned());
        unseen
            .into_iter()
            .chain(passes)
            .chain(restricted)
            .chain(nearest)
            .chain(ways)
            .chain(none)
            .collect::<Vec<_>>()
            .join("; ")
    }

    /// What was not checked, a phrase each.
    pub(super) fn not_checked(&self) -> impl Iterator<Item = String> {
        let ways = self.ways.iter().filter_map(|way| Some((way.way.name(), way.look_up.as_ref()?)));
        let ways = ways.map(|(way, look_up)| format!("reaching {way} {}: {look_up}", self.guard));
        let none = self.ways.is_empty().then(|| format!("reaching past {}: it is no flat field", self.guard));
        ways.chain(none)
    }
}

impl ReachWayFindings {
    fn new(cell: &Cell, zone: &Zone, reach: &Reach) -> Self {
        let guard = zone.guard.as_ref();
        let unknown = reach.holds().is_none();
        Self {
            way: reach.way,
            holds: reach.holds(),
            asked_mm: reach.asked.filter(|_| reach.is_open).map(millimetres),
            present_mm: reach.present.map(millimetres),
            to_restricted_space_mm: reach
                .to_restricted
                .filter(|_| reach.is_of_schedule_alone())
                .map(millimetres),
            walked_around: reach.is_walked,
            look_up: guard.filter(|_| unknown).map(|guard| look_up(cell, zone, guard, reach)),
        }
    }

    fn sentence_in(&self, unit: LengthUnit) -> String {
        let way = self.way.name();
        match (self.holds, self.present_mm, self.asked_mm) {
            _ if self.walked_around => {
                format!("{way}: OPEN: somebody walks around it to what moves behind it, and breaks no field")
            }
            (Some(true), Some(present), Some(asked)) => {
                format!("{way}: {} for the {} asked", unit.distance(present), unit.distance(asked))
            }
            (Some(false), Some(present), Some(asked)) => format!(
                "{way}: {} too near ({} for the {} asked)",
                unit.distance(asked - present),
                unit.distance(present),
                unit.distance(asked)
            ),
            (Some(_), ..) => format!("{way}: closed"),
            (None, Some(present), Some(asked)) if let Some(to) = self.to_restricted_space_mm => format!(
                "{way}: not checked: {} for the {} asked in the schedule, but the restricted space, in which the arm may be anywhere, {}",
                unit.distance(present),
                unit.distance(asked),
                comes_to(unit, to)
            ),
            (None, ..) => format!("{way}: not checked"),
        }
    }
}

/// What is said of a distance looked up for reaching through a guard that is less than the table's, which then counts.
pub(super) fn less_than_the_table(zone: &Zone) -> Option<String> {
    let guard = zone.guard.as_ref()?;
    let (stated, least) = (guard.reach_through?, least_through(guard.opening.as_ref()?)?);
    let mm = |metres: f64| LengthUnit::Millimetre.distance(to_mm(metres));
    (stated < least).then(|| {
        format!(
            "reaching through {}: {} by ISO 13857:2019 (table 4, from memory), though reach_through_mm says {}: look it up again",
            zone.name,
            mm(least),
            mm(stated)
        )
    })
}

fn comes_to(unit: LengthUnit, to_restricted_mm: f64) -> String {
    if to_restricted_mm < 0.0 {
        "passes it".to_owned()
    } else {
        format!("comes to {}", unit.distance(to_restricted_mm))
    }
}

/// What has to be looked up for a way that was not checked.
fn look_up(cell: &Cell, zone: &Zone, guard: &Guard, reach: &Reach) -> String {
    let mm = |metres: f64| LengthUnit::Millimetre.distance(to_mm(metres));
    if reach.present.is_none() {
        return "nothing that moves comes behind it in the schedule".to_owned();
    }
    if let Some(to) = reach.to_restricted.filter(|_| reach.is_of_schedule_alone()) {
        return format!(
            "what moves in the schedule keeps the distance, but the restricted space, in which the arm may be anywhere, {}",
            comes_to(LengthUnit::Millimetre, to_mm(to))
        );
    }
    let (low, high) = watch::lower_and_upper_edge(cell, zone);
    let floor = cell.safeguarding.floor;
    match reach.way {
        ReachWay::Over => format!(
            "look up its distance in ISO 13857 for a guard {} high and the height of what moves, and write reach_over_mm",
            mm(high - floor)
        ),
        ReachWay::Under => format!(
            "its lower edge is {} above the floor; look up the distance in ISO 13857 (and whether somebody can crawl under), and write \
             reach_under_mm",
            mm(low - floor)
        ),
        ReachWay::Through => {
            let opening = guard.opening.map_or_else(String::new, |opening| {
                let shape = match opening.shape {
                    OpeningShape::Slot => "slots",
                    OpeningShape::Square => "square openings",
                    OpeningShape::Round => "round openings",
                };
                format!(" for {shape} of {}", mm(opening.size))
            });
            if guard.reach_through.is_some() {
                return format!("ISO 13857:2019 (table 4, from memory) has no distance{opening}: such a guard keeps nobody from reaching");
            }
            format!("look up the distance in ISO 13857{opening}, and write reach_through_mm")
        }
        ReachWay::Around => "what moves comes nearer to one of its ends than a whole arm reaches (850 mm): see what closes that end; where \
                             something limits the arm, look up the distance in ISO 13857 and write reach_around_mm"
            .to_owned(),
    }
}

impl ReachWay {
    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Over => "over",
            Self::Under => "under",
            Self::Through => "through",
            Self::Around => "around",
        }
    }
}
