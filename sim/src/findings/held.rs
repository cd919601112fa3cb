//! Decides what is said of the way a part is held: what is free, what fights, what clamps do, how it goes in and out.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::caution;
use super::clamping::{self, ForceFindings};
use super::words::{fixed, joined, rounded};
use crate::cell::{Body, Cell};
use crate::fitup::displacement::Seating;
use crate::fitup::locating::FreeMotion;
use crate::fitup::{Askew, BodyFitUp, InTheAir, LoosePin, Off, WrongWay};
use crate::units;

/// More wrong ways, and more groups that fight, are told together.
const WAYS_TOLD: usize = 4;

/// What was learnt about a body and what holds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BodyFindings {
    /// The station.
    pub station: String,
    /// The part, or the fixture whose parts move as one.
    pub body: String,
    /// Freedoms that its locators take, of six.
    pub freedoms_taken: usize,
    /// Whether the one motion left is the turn of a round part about its own line, which changes nothing: it counts as located.
    #[serde(default)]
    pub turns_in_itself: bool,
    /// Motions that are left, one sentence each.
    pub free: Vec<String>,
    /// Locators that hold what others hold already, group by group.
    pub fighting: Vec<Vec<String>>,
    /// How evenly the locators hold: least over greatest singular value of the contact matrix, turns scaled by its size.
    pub evenness: f64,
    /// How the part finds its place; none where it is not fixed.
    pub seating: Option<SeatingName>,
    /// Clamps with a stated force.
    pub clamps: usize,
    /// Whether its weight is stated, and so counts.
    #[serde(default)]
    pub weight_counts: bool,
    /// What is wrong with the way clamps press, one sentence each.
    pub clamps_wrong: Vec<String>,
    /// What of that statics leave open, one sentence each.
    pub clamps_open: Vec<String>,
    /// Force on each locator with all clamps closed, by its name; empty where no clamp states a force.
    pub forces_n: Vec<ForceFindings>,
    /// First order against the exact rigid place, every locator error at its limit.
    pub first_order_within_mm: Option<f64>,
    /// Parts that do not go onto all of its locators at once, and count as not good, drawn over fixtures and parts.
    pub left_off_percent: Option<f64>,
    /// Other bodies that become one weldment with it.
    pub welded_with: Vec<String>,
    /// Ways in which it comes out, welded together with these, unit vectors in the station frame.
    pub ways_out: Vec<[f64; 3]>,
    /// What hooks it, where no way is open.
    pub hooked_by: Vec<String>,
    /// Ways in which it comes out, or goes in, before anything is welded.
    pub ways_alone: Vec<[f64; 3]>,
    /// What is in the way of that, where none is open.
    pub hooked_alone_by: Vec<String>,
    /// Locators and clamps that touch nothing of it as drawn, or stand askew to the face they touch, one sentence each.
    pub in_the_air: Vec<String>,
    /// Pads and stops that do not stand on its face as drawn, so that it comes to lie elsewhere than it is drawn: for programs as
    /// downloaded a fault.
    #[serde(default)]
    pub off_face: Vec<String>,
    /// Wrong ways in which it fits, one sentence each; none where that was not looked at.
    pub wrong_ways: Option<Vec<String>>,
    /// Turns and mirror images that were tried for that.
    pub ways_tried: usize,
    /// Cautions at the place of loading.
    pub cautions: Vec<String>,
}

/// How a part finds its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SeatingName {
    /// Its locators leave one place only.
    Fixed,
    /// Clamps and weight decide on which of too many locators it rests.
    Pushed,
    /// Least squares over too many locators: nothing says on which it rests.
    LeastSquares,
}

impl BodyFindings {
    pub(super) fn new(cell: &Cell, body: &Body, found: &BodyFitUp) -> Self {
        let name = |contact: usize| body.locators[found.contacts[contact].locator].name.clone();
        let beside = cell.bodies.iter().filter(|other| {
            (other.station, other.copy) == (body.station, body.copy) && other.name != body.name
        });
        let by_air = &cell.stations[body.station.0].air_clamps;
        Self {
            station: cell.stations[body.station.0].name.clone(),
            body: body.name.clone(),
            freedoms_taken: found.locating.taken,
            turns_in_itself: found.locating.turns_in_itself,
            free: found.locating.free.iter().map(free_sentence).collect(),
            fighting: found
                .locating
                .fighting
                .iter()
                .map(|group| {
                    let mut names: Vec<String> = group.iter().map(|(contact, _)| name(*contact)).collect();
                    names.dedup();
                    names
                })
                .collect(),
            evenness: rounded(found.locating.evenness, 6),
            seating: found.seating.map(|seating| match seating {
                Seating::Fixed => SeatingName::Fixed,
                Seating::Pushed => SeatingName::Pushed,
                Seating::LeastSquares => SeatingName::LeastSquares,
            }),
            clamps: body.clamps.len(),
            weight_counts: body.mass.is_some(),
            clamps_wrong: clamping::wrong(body, found),
            clamps_open: clamping::open(body, found),
            forces_n: clamping::forces(body, found),
            first_order_within_mm: found.first_order.map(|differs| rounded(to_mm(differs), 6)),
            left_off_percent: found.left_off.map(|share| rounded(to_percent(share), 4)),
            welded_with: beside.map(|other| other.name.clone()).collect(),
            ways_out: found.loading.ways_out.iter().map(way_out).collect(),
            hooked_by: found.loading.hooked_by.clone(),
            ways_alone: found.alone.ways_out.iter().map(way_out).collect(),
            hooked_alone_by: found.alone.hooked_by.clone(),
            in_the_air: found
                .in_the_air
                .iter()
                .map(in_the_air_sentence)
                .chain(found.askew.iter().map(askew_sentence))
                .collect(),
            off_face: found.off_face.iter().map(off_face_sentence).collect(),
            wrong_ways: found.wrong_ways.as_ref().map(|ways| ways.fit.iter().map(wrong_way_sentence).collect()),
            ways_tried: found.wrong_ways.as_ref().map_or(0, |ways| ways.tried),
            cautions: by_air
                .iter()
                .map(|clamp| caution::pinch(clamp))
                .chain(found.locating.free.iter().filter(|_| found.locating.turns_in_itself).map(|turn| {
                    format!(
                        "{}: free to {}, its own line, which changes nothing: it counts as located",
                        body.name,
                        free_sentence(turn)
                    )
                }))
                .chain(found.loose.iter().map(|shape| {
                    format!(
                        "{}: {shape} touches no other part, no locator and no clamp as drawn: that it lies with the others is taken for \
                         granted",
                        body.name
                    )
                }))
                .chain(found.in_uneven_holes.iter().map(|pin| {
                    format!(
                        "{}: {pin} stands in a drawn hole whose shape does not tell where a pin is meant to stand: where in it was not \
                         looked at",
                        body.name
                    )
                }))
                .chain(found.loose_pins.iter().map(|pin| format!("{}: {}", body.name, loose_pin_sentence(pin))))
                .chain(found.drawn_elsewhere.iter().map(|(clamp, off)| {
                    format!(
                        "{}: {clamp} is drawn {} mm from where it presses (press_at_mm): that it reaches there is taken for granted",
                        body.name,
                        fixed(to_mm(*off), 0)
                    )
                }))
                .chain(clamping::out_of_order(body, found).iter().map(|told| format!("{}: {told}", body.name)))
                .chain(found.wrong_ways.is_none().then(|| {
                    format!(
                        "{}: whether it can be loaded wrongly was not looked at: some locator touches no drawn shape of it, or a vee no \
                         cylinder, capsule or ball",
                        body.name
                    )
                }))
                .collect(),
        }
    }

    /// Whether locators and clamps hold the part and it can be loaded in one way only.
    #[must_use]
    pub fn holds(&self) -> bool {
        (self.freedoms_taken == 6 || self.turns_in_itself)
            && self.clamps_wrong.is_empty()
            && self.hooked_by.is_empty()
            && self.hooked_alone_by.is_empty()
            && self.in_the_air.is_empty()
            && self.wrong_ways.as_ref().is_some_and(Vec::is_empty)
    }

    /// Everything that is wrong, a sentence each.
    #[must_use]
    pub fn wrong(&self) -> Vec<String> {
        let whom = format!("{} / {}", self.station, self.body);
        let mut all = Vec::new();
        if !self.free.is_empty() && !self.turns_in_itself {
            all.push(format!("{whom}: not located: it can {}", joined(&self.free)));
        }
        all.extend(self.in_the_air.iter().map(|name| format!("{whom}: {name}")));
        all.extend(self.off_face.iter().map(|name| format!("{whom}: {name}")));
        if self.seating == Some(SeatingName::LeastSquares) {
            all.push(format!(
                "{whom}: nothing says on which of its locators it rests: least squares over all of them stand in for that, in which their \
                 errors and plays average out, so that the wire hits less often than is told"
            ));
        }
        if self.fighting.len() > WAYS_TOLD {
            let mut names: Vec<&String> = self.fighting.iter().flatten().collect();
            names.sort();
            names.dedup();
            all.push(format!(
                "{whom}: {} of its locators hold {} ways more than it can go: they fight (findings.json has the groups)",
                names.len(),
                self.fighting.len()
            ));
        } else {
            all.extend(self.fighting.iter().map(|group| {
                format!("{whom}: {} hold the same freedom, one too many: they fight", group.join(", "))
            }));
        }
        if let Some(percent) = self.left_off_percent.filter(|percent| *percent > 0.0) {
            all.push(format!(
                "{whom}: {} % of parts do not go onto all of its locators at once, since these contradict each other by more than play \
                 gives: they count as not good",
                fixed(percent, 2)
            ));
        }
        all.extend(self.clamps_wrong.iter().chain(&self.clamps_open).map(|wrong| format!("{whom}: {wrong}")));
        if !self.hooked_by.is_empty() && self.welded_with.is_empty() {
            all.push(format!(
                "{whom}: no straight way out was found: {} in the way",
                self.hooked_by.join(", ")
            ));
        } else {
            if !self.hooked_by.is_empty() {
                all.push(format!(
                    "{}: no straight way out was found for what is welded together: upward {} in the way",
                    self.station,
                    self.hooked_by.join(", ")
                ));
            }
            if !self.hooked_alone_by.is_empty() {
                all.push(format!(
                    "{whom}: no straight way in was found for it alone: {} in the way",
                    self.hooked_alone_by.join(", ")
                ));
            }
        }
        let ways: Vec<&String> = self.wrong_ways.iter().flatten().collect();
        if let [first, .., _] = ways.as_slice()
            && ways.len() > WAYS_TOLD
        {
            all.push(format!(
                "{whom}: it can be loaded wrongly in {} of {} ways tried (findings.json has all), such as {first}",
                ways.len(),
                self.ways_tried
            ));
        } else {
            all.extend(ways.iter().map(|way| format!("{whom}: it can be loaded wrongly: {way}")));
        }
        all
    }
}

impl BodyFindings {
    /// What was looked at and found sound, in one sentence; none where something is wrong.
    #[must_use]
    pub fn sound(&self) -> Option<String> {
        let tried = self.ways_tried;
        let ways: Vec<String> = self.ways_out.iter().take(2).map(direction).collect();
        let first_order = self
            .first_order_within_mm
            .map_or_else(String::new, |within| format!(", first order right within {} mm", fixed(within, 3)));
        (self.holds() && self.wrong().is_empty()).then(|| {
            format!(
                "{} / {}: {}, {} press it against every locator as far as statics can tell, it comes out along {}, none of \
                 {tried} wrong ways tried fits{first_order}",
                self.station,
                self.body,
                if self.turns_in_itself { "located" } else { "fully located" },
                if self.weight_counts { "clamps and weight" } else { "clamps (its weight is not stated and not counted)" },
                ways.join(" or ")
            )
        })
    }
}

fn free_sentence(motion: &FreeMotion) -> String {
    match motion {
        FreeMotion::Slide { along } => format!("slide along {}", direction(&(*along).into())),
        FreeMotion::Turn { about, through, pitch } => {
            let at = [through.x, through.y, through.z].map(|part| fixed(to_mm(part), 0)).join(", ");
            let along = if *pitch == 0.0 {
                String::new()
            } else {
                format!(", sliding {} mm along it for each degree", fixed(to_mm(pitch * units::deg(1.0)), 2))
            };
            format!(
                "turn about {} through ({at}) mm of the station's frame{along}",
                direction(&(*about).into())
            )
        }
    }
}

fn way_out(way: &nalgebra::Vector3<f64>) -> [f64; 3] {
    <[f64; 3]>::from(*way).map(|part| rounded(part, 9))
}

/// A unit vector in words: an axis of the station where it is one.
fn direction(vector: &[f64; 3]) -> String {
    let named = ["X", "Y", "Z"].iter().zip(vector).find(|(_, part)| part.abs() > 1.0 - 1e-9);
    named.map_or_else(
        || format!("({})", vector.map(|part| fixed(part, 3)).join(", ")),
        |(name, part)| format!("{}{name}", if *part < 0.0 { "-" } else { "+" }),
    )
}

fn in_the_air_sentence(found: &InTheAir) -> String {
    let name = &found.name;
    let how = match found.off {
        Off::Face(off) if off < 0.0 => format!("it lies {} mm inside the part", fixed(to_mm(-off), 1)),
        Off::Face(off) => format!("it ends {} mm from the part", fixed(to_mm(off), 1)),
        Off::Far => "no part lies there".to_owned(),
        Off::Middle { by, play } => {
            return format!(
                "{name} stands {} mm beside the middle of its hole as drawn, {} mm are free around it: the part as drawn does not go on; draw \
                 it in the middle",
                fixed(to_mm(by), 2),
                fixed(to_mm(play), 2)
            );
        }
        Off::Narrow { here, middle } => {
            return format!(
                "{name} stands where its hole as drawn is {} mm wide the way in which it holds, and {} mm at its middle: the part as drawn \
                 does not go on; draw it nearer the middle",
                fixed(to_mm(here), 2),
                fixed(to_mm(middle), 2)
            );
        }
        Off::Open(way) => {
            return format!(
                "{name} stands in a hole that is open toward {} as drawn: nothing holds the part that way; close the hole, or write a slot_pin and \
                 what holds the part that way",
                direction(&way.into())
            );
        }
        Off::Hole(off) => {
            return format!(
                "{name} stands in none of the holes of the part as drawn: the middle of the nearest along it is {} mm beside it",
                fixed(to_mm(off), 1)
            );
        }
    };
    format!("{name} touches no face of the part as drawn: {how}")
}

fn loose_pin_sentence(found: &LoosePin) -> String {
    let pin = if found.is_drawn { "the pin as drawn" } else { "across" };
    format!(
        "the hole of {} is drawn {} mm wide the way in which it holds, {pin} {} mm: {} mm of play, where play_mm says {}, which is counted",
        found.name,
        fixed(to_mm(found.hole), 2),
        fixed(to_mm(found.pin), 2),
        fixed(to_mm(found.hole - found.pin), 2),
        fixed(to_mm(found.play), 2)
    )
}

fn off_face_sentence(found: &InTheAir) -> String {
    let where_it_stands = match found.off {
        Off::Face(off) if off < 0.0 => format!("{} mm in the face", fixed(to_mm(-off), 2)),
        Off::Face(off) => format!("{} mm off the face", fixed(to_mm(off), 2)),
        Off::Middle { by, .. } | Off::Hole(by) => {
            format!("{} mm beside the middle of its hole", fixed(to_mm(by), 2))
        }
        Off::Far | Off::Narrow { .. } | Off::Open(_) => "off the face".to_owned(),
    };
    let where_it_should =
        if matches!(found.off, Off::Middle { .. }) { "in the middle" } else { "on the face" };
    format!(
        "{} stands {where_it_stands} of the part as drawn: every part comes to lie so much off its drawn place, which counts nowhere and \
         only touching up takes away; draw it {where_it_should}",
        found.name
    )
}

fn askew_sentence(found: &Askew) -> String {
    format!(
        "{} is not square to the face that it touches: that is pushed along {}",
        found.name,
        direction(&found.into.into())
    )
}

fn wrong_way_sentence(way: &WrongWay) -> String {
    if (way.turned - nalgebra::Matrix3::identity()).amax() < 1e-6 {
        return "not turned, but with other holes on the pins".to_owned();
    }
    let column = |i: usize| -> [f64; 3] { way.turned.column(i).into_owned().into() };
    let goes = format!(
        "its X along {}, Y along {}, Z along {}",
        direction(&column(0)),
        direction(&column(1)),
        direction(&column(2))
    );
    if way.other_hand { format!("the other-hand part, {goes}") } else { format!("turned with {goes}") }
}
