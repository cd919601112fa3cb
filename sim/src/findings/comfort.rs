//! Decides how it is said how much room is left: at each kind of limit, and for a fixture that does not stand where it is drawn.

use schemars::JsonSchema;
use seamwright_kinematics::units;
use serde::{Deserialize, Serialize};

use super::words::{fixed, joined, rounded};
use crate::advice::{self, Comfort};
use crate::cell::{Cell, ShapeId, StationId};

/// How much room the seams that hold have left.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ComfortFindings {
    /// Every seam that is welded, in the cell's order; the smallest room at each kind of limit stands with the seam.
    pub seams: Vec<SeamComfort>,
    /// The same for all seams of a station together: the least of them.
    pub stations: Vec<StationComfort>,
    /// Sizes of a shift that were tried, mm.
    pub shifts_mm: Vec<f64>,
    /// Sizes of a turn that were tried, degrees.
    pub turns_deg: Vec<f64>,
    /// What these numbers are, and what they are not.
    pub meaning: String,
}

/// How far the fixture may stray before the taught way of a seam no longer keeps every limit: a lower bound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeamComfort {
    /// The seam's number.
    pub number: usize,
    /// Station and seam.
    pub seam: String,
    /// How far at least.
    #[serde(flatten)]
    pub at_least: Stray,
}

/// How far a fixture may stray before the taught way of any of its seams no longer keeps every limit: a lower bound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StationComfort {
    /// The station.
    pub station: String,
    /// The frame or axis that it stands on, whose x, y and z are meant; none of the world.
    #[serde(default)]
    pub stands_on: Option<String>,
    /// How far at least.
    #[serde(flatten)]
    pub at_least: Stray,
    /// What the fixture runs into at the next size tried, where that is what ends it, direction by direction.
    #[serde(default)]
    pub then_meets: Vec<Meets>,
    /// What bears the fixture as drawn and is taken to go with it toward −z.
    #[serde(default)]
    pub borne_by: Vec<String>,
    /// What it overlaps as drawn, which may stop it sooner.
    #[serde(default)]
    pub drawn_into: Vec<String>,
}

/// What a fixture that strays runs into.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Meets {
    /// Which way it strays.
    pub way: String,
    /// What it runs into.
    pub what: String,
}

/// At least so far a fixture may stray in each direction alone; 0 where not even the smallest size tried holds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stray {
    /// Toward +x, −x, +y, −y, +z, −z of the frame that the station stands on.
    pub shift_mm: [f64; 6],
    /// Counter-clockwise and clockwise about the station's z, seen from its +z.
    pub turn_deg: [f64; 2],
}

const MEANING: &str = "lower bounds: the taught angles, the turn about the wire and the way the arm stands are kept, and only the axes \
    follow the fixture; planned again, a seam may bear more. It ends where the fixture, or what lies in it, would come to stand in something on \
    the way; along what it touches as drawn it slides, but not deeper into it, and toward −z what bears it, which is named, goes with it. Each \
    direction by itself; moves through the air are not asked";
/// The ways in which a fixture strays.
const WAYS: [&str; 8] = [
    "toward +x",
    "toward −x",
    "toward +y",
    "toward −y",
    "toward +z",
    "toward −z",
    "counter-clockwise",
    "clockwise",
];

/// Of them that in which what bears the fixture goes with it.
const DOWN: &str = WAYS[5];

impl ComfortFindings {
    pub(super) fn new(cell: &Cell, comfort: &[Comfort]) -> Self {
        let of_station = |station: StationId| {
            let seams = comfort.iter().filter(move |of| cell.seams[of.seam.0].station == station);
            seams.map(Stray::new).reduce(|a, b| a.least(&b))
        };
        let stations = cell.stations.iter().enumerate().filter_map(|(index, station)| {
            let at_least = of_station(StationId(index))?;
            let seams = comfort.iter().filter(|of| cell.seams[of.seam.0].station.0 == index);
            let meets = |way: usize| {
                let here = at_least.size(way);
                let ends = |of: &&Comfort| Stray::new(of).size(way) <= here;
                let met = seams.clone().filter(ends).find_map(|of| of.met[way])?;
                Some(Meets { way: WAYS[way].to_owned(), what: cell.shapes[met.0].name.clone() })
            };
            let then_meets = (0..8).filter_map(meets).collect();
            let named =
                |shapes: &[ShapeId]| shapes.iter().map(|shape| cell.shapes[shape.0].name.clone()).collect();
            let first = seams.clone().next()?;
            let (borne_by, drawn_into) = (named(&first.bearing), named(&first.overlapped));
            let parent =
                cell.frames.frames[station.frame.0].parent.map(|parent| &cell.frames.frames[parent.0]);
            let stands_on = parent.filter(|parent| parent.parent.is_some()).map(|parent| parent.name.clone());
            let station = station.name.clone();
            Some(StationComfort { station, stands_on, at_least, then_meets, borne_by, drawn_into })
        });
        let seams = comfort.iter().map(|of| {
            let seam = &cell.seams[of.seam.0];
            SeamComfort {
                number: of.seam.0 + 1,
                seam: format!("{} / {}", cell.stations[seam.station.0].name, seam.name),
                at_least: Stray::new(of),
            }
        });
        Self {
            seams: seams.collect(),
            stations: stations.collect(),
            shifts_mm: advice::SHIFTS_MM.to_vec(),
            turns_deg: advice::TURNS_DEG.to_vec(),
            meaning: MEANING.to_owned(),
        }
    }

    /// What was tried, in one sentence.
    #[must_use]
    pub fn tried_sentence(&self) -> String {
        let all = |sizes: &[f64], decimals| {
            sizes.iter().map(|size| fixed(*size, decimals)).collect::<Vec<_>>().join(", ")
        };
        format!(
            "tried: shifts of {} mm and turns of {} degrees, rising until one fails",
            all(&self.shifts_mm, 0),
            all(&self.turns_deg, 1)
        )
    }
}

impl StationComfort {
    /// In which direction it bears least.
    #[must_use]
    pub fn sentence(&self) -> String {
        let shifts = self.at_least.shift_mm;
        let borne = if self.borne_by.is_empty() {
            String::new()
        } else {
            format!(" (with {}, on which it stands)", joined(&self.borne_by))
        };
        let told: Vec<String> = WAYS
            .iter()
            .zip(shifts)
            .map(|(way, mm)| format!("{} mm {way}{}", fixed(mm, 0), if *way == DOWN { &borne } else { "" }))
            .collect();
        let met: Vec<String> =
            self.then_meets.iter().map(|met| format!("{} it runs into {}", met.way, met.what)).collect();
        let met = if met.is_empty() { String::new() } else { format!("; farther {}", met.join(", ")) };
        let drawn_into = if self.drawn_into.is_empty() {
            String::new()
        } else {
            format!("; it is drawn into {} already, which may stop it sooner", joined(&self.drawn_into))
        };
        let [left, right] = self.at_least.turn_deg;
        let stands_on = self.stands_on.as_ref();
        let stands_on =
            stands_on.map_or_else(String::new, |on| format!(", by x, y and z of {on} that carries it,"));
        format!(
            "the whole fixture on {}{stands_on} may stand at least {} off, or be turned {}° counter-clockwise or {}° clockwise, and every \
             seam that holds keeps its taught way{met}{drawn_into}",
            self.station,
            told.join(", "),
            fixed(left, 1),
            fixed(right, 1)
        )
    }
}

impl Stray {
    fn new(comfort: &Comfort) -> Self {
        Self {
            shift_mm: comfort.shifts.map(|metres| rounded(units::to_mm(metres), 6)),
            turn_deg: comfort.turns.map(|radians| rounded(units::to_deg(radians), 6)),
        }
    }

    /// In one of the eight ways, mm or degrees.
    fn size(&self, way: usize) -> f64 {
        self.shift_mm.iter().chain(&self.turn_deg).nth(way).copied().unwrap_or_default()
    }

    fn least(&self, other: &Self) -> Self {
        Self {
            shift_mm: std::array::from_fn(|i| self.shift_mm[i].min(other.shift_mm[i])),
            turn_deg: std::array::from_fn(|i| self.turn_deg[i].min(other.turn_deg[i])),
        }
    }
}
