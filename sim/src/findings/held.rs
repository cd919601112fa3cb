//! Decides what is said of the way a part is held: what is free, what fights, what clamps do, how it goes in and out.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::caution;
use super::words::{fixed, rounded};
use crate::cell::{Body, Cell};
use crate::fitup::displacement::Seating;
use crate::fitup::locating::FreeMotion;
use crate::fitup::pressing::Pressing;
use crate::fitup::{BodyFitUp, InTheAir, WrongWay};
use crate::units;

/// What was learnt about a body and what holds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BodyFindings {
    /// The station.
    pub station: String,
    /// The part, or the fixture whose parts move as one.
    pub body: String,
    /// Freedoms that its locators take, of six.
    pub freedoms_taken: usize,
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
    /// What is wrong with the way clamps press, one sentence each.
    pub clamps_wrong: Vec<String>,
    /// Force on each locator with all clamps closed, by its name; empty where no clamp states a force.
    pub forces_n: Vec<ForceFindings>,
    /// First order against the exact rigid place, every locator error at its limit.
    pub first_order_within_mm: Option<f64>,
    /// Ways in which it comes out, unit vectors in the station frame.
    pub ways_out: Vec<[f64; 3]>,
    /// What hooks it, where no way is open.
    pub hooked_by: Vec<String>,
    /// Locators and clamps that touch nothing of it as drawn, one sentence each.
    pub in_the_air: Vec<String>,
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

/// Force on one direction of a locator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ForceFindings {
    /// The locator.
    pub locator: String,
    /// Force along the direction in which it holds; a pin's may be negative.
    pub force_n: f64,
}

impl BodyFindings {
    pub(super) fn new(cell: &Cell, body: &Body, found: &BodyFitUp) -> Self {
        let name = |contact: usize| body.locators[found.contacts[contact].locator].name.clone();
        let all_closed = found.pressing.last();
        let forces = all_closed.and_then(|press| press.forces.as_ref());
        let by_air = &cell.stations[body.station.0].air_clamps;
        Self {
            station: cell.stations[body.station.0].name.clone(),
            body: body.name.clone(),
            freedoms_taken: found.locating.taken,
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
            clamps_wrong: clamps_wrong(body, found),
            forces_n: forces
                .iter()
                .flat_map(|forces| forces.iter().enumerate())
                .map(|(contact, force)| ForceFindings { locator: name(contact), force_n: rounded(*force, 3) })
                .collect(),
            first_order_within_mm: found.first_order.map(|differs| rounded(to_mm(differs), 6)),
            ways_out: found.loading.ways_out.iter().map(|way| (*way).into()).map(|way: [f64; 3]| way.map(|part| rounded(part, 9))).collect(),
            hooked_by: found.loading.hooked_by.clone(),
            in_the_air: found.in_the_air.iter().map(in_the_air_sentence).collect(),
            wrong_ways: found.wrong_ways.as_ref().map(|ways| ways.fit.iter().map(wrong_way_sentence).collect()),
            ways_tried: found.wrong_ways.as_ref().map_or(0, |ways| ways.tried),
            cautions: by_air
                .iter()
                .map(|clamp| caution::pinch(clamp))
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
        self.freedoms_taken == 6
            && self.clamps_wrong.is_empty()
            && self.hooked_by.is_empty()
            && self.in_the_air.is_empty()
            && self.wrong_ways.as_ref().is_some_and(Vec::is_empty)
    }

    /// Everything that is wrong, a sentence each.
    #[must_use]
    pub fn wrong(&self) -> Vec<String> {
        let whom = format!("{} / {}", self.station, self.body);
        let mut all = Vec::new();
        if !self.free.is_empty() {
            all.push(format!("{whom}: not located: it can {}", self.free.join(" and ")));
        }
        all.extend(self.in_the_air.iter().map(|name| format!("{whom}: {name}")));
        if self.seating == Some(SeatingName::LeastSquares) {
            all.push(format!(
                "{whom}: nothing says on which of its locators it rests: least squares over all of them stand in for that"
            ));
        }
        all.extend(self.fighting.iter().map(|group| {
            format!("{whom}: {} hold the same freedom, one too many: they fight", group.join(", "))
        }));
        all.extend(self.clamps_wrong.iter().map(|wrong| format!("{whom}: {wrong}")));
        if !self.hooked_by.is_empty() {
            all.push(format!(
                "{whom}: no straight way out was found: {} in the way",
                self.hooked_by.join(", ")
            ));
        }
        let wrong_ways = self.wrong_ways.iter().flatten();
        all.extend(wrong_ways.map(|way| format!("{whom}: it can be loaded wrongly: {way}")));
        all
    }
}

fn clamps_wrong(body: &Body, found: &BodyFitUp) -> Vec<String> {
    let name = |contact: &usize| body.locators[found.contacts[*contact].locator].name.clone();
    let closed = |press: &Pressing| -> String {
        let names: Vec<&str> = press.closed.iter().map(|clamp| body.clamps[*clamp].name.as_str()).collect();
        if names.len() == 1 { format!("{} alone", names[0]) } else { names.join(" and ") }
    };
    let closed = |press: &Pressing| {
        if press.closed.is_empty() { "its weight alone".to_owned() } else { closed(press) }
    };
    if found.locating.taken < 6 {
        return Vec::new();
    }
    let mut all: Vec<String> = found
        .pressing
        .iter()
        .filter(|press| press.moves)
        .map(|press| {
            let mut lifted: Vec<String> = press.lifted.iter().map(name).collect();
            lifted.dedup();
            format!("{} lifts the part off {}", closed(press), lifted.join(" and "))
        })
        .collect();
    let all_closed = found.pressing.last().filter(|_| !body.clamps.is_empty());
    if let Some(forces) = all_closed.and_then(|press| press.forces.as_ref()) {
        let most = forces.iter().fold(0.0_f64, |most, force| most.max(force.abs()));
        let idle =
            |(contact, force): &(usize, &f64)| found.contacts[*contact].one_sided && **force <= 1e-6 * most;
        let mut names: Vec<String> =
            forces.iter().enumerate().filter(idle).map(|(contact, _)| name(&contact)).collect();
        names.dedup();
        if !names.is_empty() {
            all.push(format!(
                "with all clamps closed nothing pushes the part against {}",
                names.join(" and ")
            ));
        }
    }
    all
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
            format!("turn about {} through ({at}) mm{along}", direction(&(*about).into()))
        }
    }
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
    let how = match found.off {
        Some(off) if off < 0.0 => format!("it lies {} mm inside the part", fixed(to_mm(-off), 1)),
        Some(off) => format!("it ends {} mm from the part", fixed(to_mm(off), 1)),
        None => "no part lies there".to_owned(),
    };
    format!("{} touches no face of the part as drawn: {how}", found.name)
}

fn wrong_way_sentence(way: &WrongWay) -> String {
    let column = |i: usize| -> [f64; 3] { way.turned.column(i).into_owned().into() };
    let goes = format!(
        "its X along {}, Y along {}, Z along {}",
        direction(&column(0)),
        direction(&column(1)),
        direction(&column(2))
    );
    if way.other_hand { format!("the other-hand part, {goes}") } else { format!("turned with {goes}") }
}
