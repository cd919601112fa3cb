//! Decides what is said of loads: what the torch puts on the wrist, what sits on the forearm, what positioners carry.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{fixed, joined, rounded};
use crate::cell::frames::AxisKind;
use crate::cell::{Cell, StationId};
use crate::safety::loads::{AxisLoad, Loads, Most};

/// Loads against what may be carried.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoadsFindings {
    /// Whether nothing that was held against a rating passes it.
    pub holds: bool,
    /// Every load.
    pub all: Vec<LoadFindings>,
    /// What was not checked, a phrase each.
    pub not_checked: Vec<String>,
}

/// One load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoadFindings {
    /// What bears it, such as `axis 5` or the name of an external axis.
    pub bearer: String,
    /// What of it: `mass_kg`, `moment_n_m`, `inertia_kg_m2`, `turning_n_m`, `tilting_n_m`.
    pub quantity: String,
    /// The greatest over the schedule, by weight alone.
    pub value: f64,
    /// The same with what accelerations add, where that makes sense.
    pub in_motion: Option<f64>,
    /// When, from the start of the round; none of what is always the same.
    pub at_s: Option<f64>,
    /// Stations that are loaded then, where it depends on that.
    pub loaded: Vec<String>,
    /// What may be carried; none where it is not stated.
    pub rated: Option<f64>,
    /// Whether it is no more than that; none where it is not stated.
    pub holds: Option<bool>,
    /// In one sentence.
    pub sentence: String,
}

impl LoadsFindings {
    pub(super) fn new(cell: &Cell, loads: &Loads) -> Self {
        let mut all = Vec::new();
        let mut not_checked = Vec::new();
        wrist(cell, loads, &mut all, &mut not_checked);
        if let Some(on_it) = cell.arm.forearm_load {
            all.push(LoadFindings::plain("forearm", "mass_kg", on_it, cell.arm.ratings.forearm));
        } else if cell.arm.ratings.forearm.is_some() {
            not_checked.push("what sits on the forearm: [arm] does not state forearm_kg".to_owned());
        }
        for load in &loads.axes {
            of_axis(cell, load, &mut all, &mut not_checked);
        }
        let unrated = all.iter().filter(|load| load.rated.is_none());
        not_checked.extend(unrated.map(|load| {
            format!("{} of {}: its maker's rating is not stated", name(&load.quantity), load.bearer)
        }));
        not_checked.push(
            "what the hose pulls, what bearings and drives bear beyond these figures, and the arm itself on a track".to_owned(),
        );
        Self { holds: all.iter().all(|load| load.holds != Some(false)), all, not_checked }
    }

    /// What is more than may be carried, a sentence each.
    pub fn wrong(&self) -> impl Iterator<Item = &str> {
        self.all.iter().filter(|load| load.holds == Some(false)).map(|load| load.sentence.as_str())
    }
}

impl LoadFindings {
    fn plain(bearer: &str, quantity: &str, value: f64, rated: Option<f64>) -> Self {
        let mut findings = Self {
            bearer: bearer.to_owned(),
            quantity: quantity.to_owned(),
            value: rounded(value, 6),
            in_motion: None,
            at_s: None,
            loaded: Vec::new(),
            rated,
            holds: rated.map(|rated| value <= rated),
            sentence: String::new(),
        };
        findings.sentence = findings.said();
        findings
    }

    fn at(self, most: &Most, in_motion: Option<f64>, loaded: Vec<String>) -> Self {
        let at_s = Some(rounded(most.t, 6));
        let mut findings = Self { at_s, in_motion: in_motion.map(|value| rounded(value, 6)), loaded, ..self };
        findings.sentence = findings.said();
        findings
    }

    fn said(&self) -> String {
        let (unit, places) = unit(&self.quantity);
        let amount = |value: f64| format!("{} {unit}", fixed(value, places));
        let rated = match (self.rated, self.holds) {
            (Some(rated), Some(true)) => format!(" of {} that it may bear", amount(rated)),
            (Some(rated), _) => format!(", MORE than the {} that it may bear", amount(rated)),
            (None, _) => String::new(),
        };
        let when = self.at_s.map_or_else(String::new, |t| format!(" at {} s", fixed(t, 2)));
        let loaded = match self.loaded.as_slice() {
            [] => String::new(),
            loaded => format!(", {} loaded", joined(loaded)),
        };
        let moving = self.in_motion.map_or_else(String::new, |value| {
            format!("; {} with the accelerations of the schedule", amount(value))
        });
        format!(
            "{}: {} {}{rated}{when}{loaded}{moving}",
            self.bearer,
            name(&self.quantity),
            amount(self.value)
        )
    }
}

fn wrist(cell: &Cell, loads: &Loads, all: &mut Vec<LoadFindings>, not_checked: &mut Vec<String>) {
    let ratings = &cell.arm.ratings;
    let Some(wrist) = &loads.wrist else {
        if ratings.wrist_moment.or(ratings.wrist_inertia).is_some() {
            let why = if cell.torch.centre_of_mass.is_none() {
                "the torch file does not state centre_of_mass_mm"
            } else {
                "nothing was planned"
            };
            not_checked.push(format!("what the torch puts on the wrist: {why}"));
        }
        return;
    };
    for (place, load) in wrist.iter().enumerate() {
        let bearer = format!("axis {}", place + 4);
        let rated = |of: Option<[f64; 3]>| of.map(|of| of[place]);
        let moment =
            LoadFindings::plain(&bearer, "moment_n_m", load.by_distance.value, rated(ratings.wrist_moment));
        all.push(moment.at(&load.by_distance, Some(load.in_motion.value), Vec::new()));
        let inertia =
            LoadFindings::plain(&bearer, "inertia_kg_m2", load.inertia.value, rated(ratings.wrist_inertia));
        all.push(inertia.at(&load.inertia, None, Vec::new()));
    }
    if cell.torch.inertia.is_none() {
        not_checked.push(
            "the torch's own inertia about its centre: the torch file does not state inertia_kg_m2, so it counts as a point".to_owned(),
        );
    }
}

fn of_axis(cell: &Cell, load: &AxisLoad, all: &mut Vec<LoadFindings>, not_checked: &mut Vec<String>) {
    let axis = &cell.frames.axes[load.axis];
    let names = |stations: &[StationId]| -> Vec<String> {
        stations.iter().map(|station| cell.stations[station.0].name.clone()).collect()
    };
    if load.mass > 0.0 {
        all.push(LoadFindings::plain(&axis.name, "mass_kg", load.mass, axis.rating.mass));
        let add = |quantity: &str,
                   (most, loaded): &(Most, Vec<StationId>),
                   moving: &(Most, Vec<StationId>),
                   rated| {
            LoadFindings::plain(&axis.name, quantity, most.value, rated).at(
                most,
                Some(moving.0.value),
                names(loaded),
            )
        };
        // A slide is held against being turned about any line alike: of it only what tilts is told.
        if axis.kind == AxisKind::Turn {
            all.push(add("turning_n_m", &load.turning, &load.turning_in_motion, axis.rating.turning));
        }
        all.push(add("tilting_n_m", &load.tilting, &load.tilting_in_motion, axis.rating.tilting));
    }
    if !load.unweighed.is_empty() {
        not_checked.push(format!(
            "what {} carries is more: steel_kg of the fixture or mass_kg of the parts is not stated for {}",
            axis.name,
            names(&load.unweighed).join(", ")
        ));
    }
    if !load.as_points.is_empty() {
        not_checked.push(format!(
            "with the accelerations of the schedule {} bears more: steel_inertia_kg_m2 of the fixture or inertia_kg_m2 of the parts \
             is not stated for {}, so they count as points",
            axis.name,
            names(&load.as_points).join(", ")
        ));
    }
}

fn name(quantity: &str) -> &'static str {
    match quantity {
        "mass_kg" => "mass",
        "moment_n_m" => "moment by weight, however it is turned,",
        "inertia_kg_m2" => "moment of inertia",
        "turning_n_m" => "turning moment by weight",
        _ => "tilting moment by weight",
    }
}

fn unit(quantity: &str) -> (&'static str, usize) {
    match quantity {
        "mass_kg" => ("kg", 1),
        "inertia_kg_m2" => ("kg m²", 3),
        _ => ("N m", 1),
    }
}
