//! Decides what is said of people's safety: devices, spaces, places, and what none of it means.

use schemars::JsonSchema;
use seamwright_kinematics::Basis;
use seamwright_kinematics::units::to_deg;
use serde::{Deserialize, Serialize};

use super::safety_clamp::ClampAtPlaceFindings;
use super::safety_crush::{self, CrushGapFindings};
use super::safety_device::DeviceFindings;
use super::safety_guard::GuardFindings;
use super::safety_loading::loading_stops_the_arm;
use super::safety_nearest::NearestFindings;
use super::safety_rests::{not_checked, rests_on};
use super::safety_work::{self, ArcViewFindings, EmergencyStopFindings, ManualFindings, WorstStopFindings};
use super::words::{LengthUnit, counted, millimetres, rounded};
use crate::cell::frames::AxisKind;
use crate::cell::{Cell, StopCategory, ZoneRole};
use crate::safety::Safety;
use crate::safety::extent::is_convex;
use crate::safety::floor_plan::WayIn;
use crate::safety::gather::Nearest;
use crate::safety::spaces::{Inner, Nested};
use crate::safety::stopping::{AxisStop, Stops};

/// What no reader may miss.
const SCREENING: &str = "Screening for planning, not a validation and no certificate: the local code, the makers' data, a stopping \
                         time measured on the machine and a competent person come before every figure here.";

/// What was learnt of people's safety.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SafetyFindings {
    /// What these findings are not.
    pub screening: String,
    /// Whether everything that was looked at keeps what is asked.
    pub holds: bool,
    /// Protective devices, in the order of the file.
    pub devices: Vec<DeviceFindings>,
    /// Guards, in the order of the file.
    #[serde(default)]
    pub guards: Vec<GuardFindings>,
    /// Which space lies in which.
    pub spaces: Vec<SpaceFindings>,
    /// Places where people stand.
    pub places: Vec<PlaceFindings>,
    /// By place the clamp that comes nearest to it as it opens between welds; none where none opens.
    #[serde(default)]
    pub clamps_at_places: Vec<ClampAtPlaceFindings>,
    /// The narrowest gaps in which somebody at a place may be caught.
    #[serde(default)]
    pub crush_gaps: Vec<CrushGapFindings>,
    /// On which way somebody walks into the safeguarded space without breaking a field; none where guards and devices as they are drawn close it,
    /// or it is not stated.
    #[serde(default)]
    pub way_in: Option<WayInFindings>,
    /// Places near which no gap closes, a phrase each.
    #[serde(default)]
    pub no_crush_gaps: Vec<String>,
    /// Devices that whoever loads a station breaks while the arm works elsewhere, so that the cycle does not come about: a sentence each.
    #[serde(default)]
    pub loading_stops_the_arm: Vec<String>,
    /// Seams whose weld was seen; what others would sweep is not known.
    #[serde(default)]
    pub seams_seen: u64,
    /// Seams of the cell.
    #[serde(default)]
    pub seams: u64,
    /// How every axis stops from its greatest speed, by stop category.
    pub stopping: Vec<StopFindings>,
    /// The worst stops of each category, each axis by itself before held on the path, worst first.
    pub worst_stops: Vec<WorstStopFindings>,
    /// Of each category and way of braking the stop in which the wire end goes on longest.
    #[serde(default)]
    pub wire_end_stops: Vec<WorstStopFindings>,
    /// Proving the program by hand; none where nothing was planned.
    pub manual: Option<ManualFindings>,
    /// Emergency stops by where they are.
    pub emergency_stops: Vec<EmergencyStopFindings>,
    /// Who sees the arc.
    pub arc_views: Vec<ArcViewFindings>,
    /// What is said of fume.
    pub fume: String,
    /// What a person at the cell must know besides.
    pub cautions: Vec<String>,
    /// What was not checked: one phrase each.
    pub not_checked: Vec<String>,
    /// What this rests on.
    pub rests_on: Vec<String>,
}

/// Whether one space lies in another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpaceFindings {
    /// What should lie inside.
    pub inner: String,
    /// In what.
    pub outer: String,
    /// Whether it does.
    pub holds: bool,
    /// How far it sticks out; negative: the room that is left.
    pub out_by_mm: f64,
    /// Whether it sticks out by that at most, since what it should lie in has a notch.
    #[serde(default)]
    pub at_most: bool,
    /// Where in the world it sticks out farthest or has least room.
    pub point_mm: [f64; 3],
    /// Body and instant, of what moves.
    pub body: Option<NearestFindings>,
    /// The answer in one sentence.
    pub sentence: String,
}

/// A way into the safeguarded space on which no field is broken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WayInFindings {
    /// How far into it somebody walks.
    pub depth_mm: f64,
    /// Where in the world that is.
    pub at_mm: [f64; 2],
    /// Whether it is certain to be open: no mesh may close it.
    pub open: bool,
    /// Meshes that may close it, which is not known.
    pub meshes: Vec<String>,
    /// The answer in one sentence.
    pub sentence: String,
}

/// Whether anything that moves enters a place where a person may stand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlaceFindings {
    /// Name in the file.
    pub place: String,
    /// Whether nothing enters it while somebody may stand there; none where that was not checked.
    pub holds: Option<bool>,
    /// What comes nearest then; none where nothing moves, or a device watches the place whenever something does.
    pub nearest: Option<NearestFindings>,
    /// Devices that stop what enters it and behind which it lies, where somebody comes there past them, or may.
    #[serde(default)]
    pub behind: Vec<String>,
    /// Devices through whose field that way leads; none where nothing that is drawn closes it.
    #[serde(default)]
    pub through: Vec<String>,
    /// Where nobody comes there past devices that stop it: those through whose field somebody may have come while they did not watch.
    #[serde(default)]
    pub came_while_off: Vec<String>,
    /// Whether links of the arm have no shape and were not seen.
    #[serde(default)]
    pub arm_unseen: bool,
    /// The answer in one sentence.
    pub sentence: String,
}

/// How an axis stops from its greatest speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StopFindings {
    /// The axis.
    pub axis: String,
    /// Stop category of IEC 60204-1.
    pub category: u32,
    /// Until it stands.
    pub time_s: f64,
    /// How far a turning axis goes on.
    pub turn_deg: Option<f64>,
    /// How far a slide goes on.
    pub slide_mm: Option<f64>,
    /// Whether that is assumed.
    pub assumed: bool,
    /// Whether its stated figures end at a lower speed, from which they are carried on.
    #[serde(default)]
    pub carried_on: bool,
    /// Whether the time is the one that was measured on the machine, which is longer than its own figures, with the way of so gentle a stop.
    #[serde(default)]
    pub as_measured: bool,
}

impl SafetyFindings {
    pub(super) fn new(cell: &Cell, safety: &Safety) -> Self {
        let arm_is_unseen = !safety.unseen_links.is_empty();
        let devices: Vec<DeviceFindings> = safety
            .devices
            .iter()
            .zip(&safety.intrusions)
            .filter_map(|(device, intrusions)| DeviceFindings::new(cell, device, intrusions.as_ref()))
            .map(|device| if arm_is_unseen { device.with_arm_unseen() } else { device })
            .collect();
        let spaces: Vec<SpaceFindings> = safety
            .spaces
            .iter()
            .flat_map(|spaces| &spaces.nest)
            .map(|nested| SpaceFindings::new(cell, nested, arm_is_unseen))
            .collect();
        let crush_gaps: Vec<CrushGapFindings> =
            safety.crush_gaps.iter().map(|gap| CrushGapFindings::new(cell, gap)).collect();
        let places = places(cell, safety);
        let clamps_at_places: Vec<ClampAtPlaceFindings> =
            safety.clamps_at_places.iter().map(|clamp| ClampAtPlaceFindings::new(cell, clamp)).collect();
        let way_in = safety.way_in.as_ref().map(WayInFindings::new);
        let guards: Vec<GuardFindings> =
            safety.guards.iter().map(|guarded| GuardFindings::new(cell, guarded, arm_is_unseen)).collect();
        Self {
            screening: SCREENING.to_owned(),
            holds: devices.iter().all(|device| device.holds != Some(false))
                && guards.iter().all(|guard| guard.holds != Some(false))
                && spaces.iter().all(|space| space.holds)
                && places.iter().all(|place| place.holds != Some(false))
                && clamps_at_places.iter().all(|clamp| clamp.holds)
                && crush_gaps.iter().all(|gap| gap.holds != Some(false))
                && way_in.as_ref().is_none_or(|way| !way.open),
            not_checked: not_checked(cell, safety, &devices, &guards, way_in.as_ref()),
            rests_on: rests_on(cell, safety),
            stopping: stopping(cell),
            worst_stops: safety
                .worst_stops
                .iter()
                .flat_map(|worst| worst.ways.iter().map(|way| WorstStopFindings::new(worst, way)))
                .collect(),
            wire_end_stops: safety
                .worst_stops
                .iter()
                .filter_map(|worst| Some(WorstStopFindings::new(worst, worst.of_wire_end.as_ref()?)))
                .collect(),
            manual: safety.manual.as_ref().map(ManualFindings::new),
            emergency_stops: safety_work::emergency_stops(cell),
            arc_views: safety.arc_views.iter().map(|view| ArcViewFindings::new(cell, view)).collect(),
            fume: safety_work::fume(cell),
            cautions: safety_work::CAUTIONS.map(str::to_owned).to_vec(),
            devices,
            guards,
            spaces,
            places,
            clamps_at_places,
            way_in,
            no_crush_gaps: safety_crush::none_at(cell, safety, &crush_gaps),
            crush_gaps,
            loading_stops_the_arm: loading_stops_the_arm(cell),
            seams_seen: safety.seams_seen as u64,
            seams: cell.seams.len() as u64,
        }
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let wrong = self.faults();
        let looked_at = self.devices.iter().filter(|device| device.holds.is_some()).count();
        let seen = self.guards.iter().filter(|guard| guard.holds.is_some()).count();
        let places = self.places.iter().filter(|place| place.holds.is_some()).count();
        let guards = match self.guards.len() as u64 {
            0 => String::new(),
            all => format!("{seen} of {}, ", counted(all, "guard")),
        };
        let checked = format!(
            "{looked_at} of {}, {guards}{} of the spaces and {places} of {} looked at{}",
            counted(self.devices.len() as u64, "device"),
            counted(self.spaces.len() as u64, "step"),
            counted(self.places.len() as u64, "place"),
            self.seams_missing().map_or_else(String::new, |missing| format!(", with {missing}"))
        );
        let answer = match wrong {
            0 if looked_at + seen + self.spaces.len() + places == 0 => {
                "nothing could be looked at".to_owned()
            }
            0 => "no fault seen with these figures".to_owned(),
            1 => "1 fault".to_owned(),
            wrong => format!("{wrong} faults"),
        };
        format!("screening only: {answer} ({checked})")
    }

    /// How many seams were seen, where that is not all of them.
    fn seams_missing(&self) -> Option<String> {
        let seen = format!("only {} of {} planned", self.seams_seen, counted(self.seams, "seam"));
        (self.seams_seen < self.seams).then_some(seen)
    }

    /// Everything that does not keep what is asked, a sentence each.
    #[must_use]
    pub fn wrong(&self, unit: LengthUnit) -> Vec<String> {
        let devices = self.devices.iter().filter(|device| device.holds == Some(false));
        let spaces = self.spaces.iter().filter(|space| !space.holds);
        let places = self.places.iter().filter(|place| place.holds == Some(false));
        let guards = self.guards.iter().filter(|guard| guard.holds == Some(false));
        let clamps = self.clamps_at_places.iter().filter(|clamp| !clamp.holds);
        devices
            .map(|device| format!("{}: {}", device.device, device.sentence_in(unit)))
            .chain(guards.map(|guard| format!("{}: {}", guard.guard, guard.sentence_in(unit))))
            .chain(spaces.map(|space| space.sentence_in(unit)))
            .chain(places.map(|place| place.sentence_in(unit)))
            .chain(clamps.map(|clamp| clamp.sentence_in(unit)))
            .chain(self.crush_sentences(unit).into_iter().filter(|(holds, _)| !holds).map(|(_, gap)| gap))
            .chain(self.way_in.iter().filter(|way| way.open).map(|way| way.sentence_in(unit)))
            .collect()
    }

    /// What is told of gaps in which a person may be caught: whether it holds, and a sentence.
    #[must_use]
    pub fn crush_sentences(&self, unit: LengthUnit) -> Vec<(bool, String)> {
        safety_crush::told(&self.crush_gaps, unit)
    }

    /// How many things do not keep what is asked, each gap by itself.
    fn faults(&self) -> usize {
        let sentences = self.crush_sentences(LengthUnit::Millimetre).into_iter();
        let told = sentences.filter(|(holds, _)| !holds).count();
        let gaps = self.crush_gaps.iter().filter(|gap| gap.holds == Some(false)).count();
        self.wrong(LengthUnit::Millimetre).len() - told + gaps
    }
}

impl WayInFindings {
    fn new(way: &WayIn) -> Self {
        let mut findings = Self {
            depth_mm: millimetres(way.depth),
            at_mm: [way.at.x, way.at.y].map(millimetres),
            open: way.meshes.is_empty(),
            meshes: way.meshes.clone(),
            sentence: String::new(),
        };
        findings.sentence = findings.sentence_in(LengthUnit::Millimetre);
        findings
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let at = self.at_mm.map(|c| unit.place_number(c)).join(", ");
        let walks = format!(
            "past guards and devices as they are drawn somebody walks {} into the safeguarded space, to {at} {}, and breaks no field that \
             stops anything",
            unit.distance(self.depth_mm),
            unit.name()
        );
        if self.open {
            return walks;
        }
        format!(
            "not checked: {walks}, unless {} closes the way: of a mesh that is not known (draw a guard where it does)",
            self.meshes.join(" or ")
        )
    }
}

impl SpaceFindings {
    fn new(cell: &Cell, nested: &Nested, arm_is_unseen: bool) -> Self {
        let name = |zone: crate::cell::ZoneId| cell.zones[zone.0].name.clone();
        let inner = match nested.inner {
            Inner::Sweep if arm_is_unseen => {
                "what moves and has a shape (stopping included; links of the arm have NONE)".to_owned()
            }
            Inner::Sweep if cell.zones[nested.outer.0].role.limits_the_arm_alone() => {
                "all that moves with the arm (stopping included)".to_owned()
            }
            Inner::Sweep => "all that moves (stopping included)".to_owned(),
            Inner::Reach if arm_is_unseen => {
                "what has a shape of what arm and torch can reach (links of the arm have NONE)".to_owned()
            }
            Inner::Zone(zone) if arm_is_unseen => {
                format!("{}, where what has a shape reaches it (links of the arm have NONE),", name(zone))
            }
            Inner::Zone(zone) => name(zone),
            Inner::Reach if cell.zones[nested.outer.0].role == ZoneRole::SafeguardedSpace => {
                "what arm and torch can reach (no restricted space is stated)".to_owned()
            }
            Inner::Reach => "what arm and torch can reach".to_owned(),
        };
        let mut findings = Self {
            inner,
            outer: name(nested.outer),
            holds: nested.holds(),
            out_by_mm: millimetres(nested.out_by),
            at_most: !is_convex(&cell.zones[nested.outer.0].region),
            point_mm: [nested.point.x, nested.point.y, nested.point.z].map(millimetres),
            body: nested.sweep.as_ref().map(NearestFindings::new),
            sentence: String::new(),
        };
        findings.sentence = findings.sentence_in(LengthUnit::Millimetre);
        findings
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let whose = match &self.body {
            Some(body) => format!(" ({} {})", body.body, body.when()),
            None => String::new(),
        };
        if self.holds {
            let room = unit.distance((-self.out_by_mm).max(0.0));
            return format!("{} lies in {}, {room} to its edge{whose}", self.inner, self.outer);
        }
        let at = self.point_mm.map(|c| unit.place_number(c)).join(", ");
        let (at_most, near) = if self.at_most { ("at most ", "near") } else { ("", "at") };
        format!(
            "{} sticks out of {} by {at_most}{}{whose}, {near} {at} {}",
            self.inner,
            self.outer,
            unit.distance(self.out_by_mm),
            unit.name()
        )
    }
}

fn places(cell: &Cell, safety: &Safety) -> Vec<PlaceFindings> {
    let arm_unseen = !safety.unseen_links.is_empty();
    let zones = cell.zones.iter().zip(&safety.gathered).enumerate();
    let places = zones.filter(|(_, (zone, _))| zone.role == ZoneRole::OperatorPlace);
    places
        .map(|(index, (zone, gathered))| {
            let enters = |nearest: &&Nearest| nearest.distance <= 0.0;
            let entered = gathered.unwatched.as_ref().filter(enters);
            let perhaps = gathered.perhaps.as_ref().filter(|_| entered.is_none()).filter(enters);
            let both = [&gathered.unwatched, &gathered.perhaps].into_iter().flatten();
            let least =
                both.reduce(|least, other| if other.distance < least.distance { other } else { least });
            let holds = match (entered, perhaps) {
                (Some(_), _) => Some(false),
                (None, Some(_)) => None,
                (None, None) => (!arm_unseen).then_some(true),
            };
            let past = &safety.past[index];
            let mut findings = PlaceFindings {
                place: zone.name.clone(),
                holds,
                nearest: entered.or(perhaps).or(least).map(NearestFindings::new),
                behind: safety_crush::names(cell, &past.stopping),
                through: safety_crush::names(cell, &past.through),
                came_while_off: safety_crush::names(cell, &past.while_off),
                arm_unseen,
                sentence: String::new(),
            };
            findings.sentence = findings.sentence_in(LengthUnit::Millimetre);
            findings
        })
        .collect()
}

impl PlaceFindings {
    /// The answer in one sentence.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let of_shape = if self.arm_unseen { "of what has a shape (links of the arm have NONE) " } else { "" };
        match (&self.nearest, self.holds) {
            (None, _) => {
                format!("{}: {of_shape}nothing moves there that its device does not stop", self.place)
            }
            (Some(nearest), Some(false)) => format!(
                "{}: {} comes {} into it while somebody may stand there ({}){}",
                self.place,
                nearest.body,
                unit.distance(-nearest.distance_mm),
                nearest.when(),
                self.not_stopped_by()
            ),
            (Some(nearest), None) if nearest.distance_mm <= 0.0 => format!(
                "{}: {} comes {} into it ({}); {}",
                self.place,
                nearest.body,
                unit.distance(-nearest.distance_mm),
                nearest.when(),
                safety_crush::past(&self.behind, &self.through, &self.came_while_off)
            ),
            (Some(nearest), _) => format!(
                "{}: {of_shape}{} comes no nearer than {} ({})",
                self.place,
                nearest.body,
                unit.distance(nearest.distance_mm),
                nearest.when()
            ),
        }
    }
}

impl PlaceFindings {
    /// Through which devices somebody comes who has not stopped what enters it.
    fn not_stopped_by(&self) -> String {
        if self.through.is_empty() {
            return String::new();
        }
        format!(": whoever comes through {} has not stopped it", self.through.join(" or "))
    }
}

/// Every axis from its greatest speed, category by category.
fn stopping(cell: &Cell) -> Vec<StopFindings> {
    let of_axis = |axis: String, category: StopCategory, stop: &AxisStop, kind: AxisKind| {
        let braking = stop.from_full_speed();
        let is_turn = kind == AxisKind::Turn;
        StopFindings {
            axis,
            category: category.number(),
            time_s: rounded(braking.time, 6),
            turn_deg: is_turn.then(|| rounded(to_deg(braking.way), 6)),
            slide_mm: (!is_turn).then(|| millimetres(braking.way)),
            assumed: stop.basis() == Basis::Assumed,
            carried_on: stop.carried_on_from().is_some(),
            as_measured: stop.is_as_measured(),
        }
    };
    StopCategory::ALL
        .into_iter()
        .flat_map(|category| {
            let stops = Stops::new(cell, category);
            let arm =
                stops.arm.iter().enumerate().map(|(index, stop)| {
                    of_axis(format!("axis {}", index + 1), category, stop, AxisKind::Turn)
                });
            let external = stops
                .external
                .iter()
                .zip(&cell.frames.axes)
                .map(|(stop, axis)| of_axis(axis.name.clone(), category, stop, axis.kind));
            arm.chain(external).collect::<Vec<_>>()
        })
        // An axis without a speed limit cannot be stopped on paper.
        .filter(|stop| stop.time_s.is_finite())
        .collect()
}
