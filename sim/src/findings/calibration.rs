//! Decides what is shown of a calibration: what was fitted and how surely, what the data did not tell, how far each time is off.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_percent;
use serde::{Deserialize, Serialize};

use super::words::{counted, fixed, rounded};
use super::{FORMAT, MADE_BY};
use crate::cell::{Calibration, Cell, Measured, Measurement};
use crate::production::calibration::{Calibrated, Found, Quantity, promised_share};

/// What came of a calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalibrationFindings {
    /// Version of this format: 1. It grows by added keys.
    pub format: u32,
    /// Program and version.
    pub made_by: String,
    /// The cell's name.
    pub cell: String,
    /// The arm's name in its file.
    pub arm: String,
    /// How good it is.
    pub quality: CalibrationQuality,
    /// What was fitted or not, the weightiest first.
    pub quantities: Vec<QuantityFindings>,
    /// Every measured time, in the order of the file.
    pub measurements: Vec<MeasurementFindings>,
    /// What the results rest on: one sentence each.
    pub rests_on: Vec<String>,
}

/// How good a calibration is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalibrationQuality {
    /// How many times were measured.
    pub measurements: u32,
    /// Measurements less quantities fitted.
    pub degrees_of_freedom: u32,
    /// How far moves are off; none where none was measured.
    pub moves: Option<ResidualFindings>,
    /// How far welds are off.
    pub welds: Option<ResidualFindings>,
    /// How far the arm's whole times at stations are off.
    pub stations: Option<ResidualFindings>,
    /// How far measured moves are off the fitted times, root of the mean square, where they are too alike to say how far others are off.
    #[serde(default)]
    pub alike_moves_off_percent: Option<f64>,
    /// The same of welds.
    #[serde(default)]
    pub alike_welds_off_percent: Option<f64>,
    /// The station that was measured as a whole, where it was but one.
    #[serde(default)]
    pub only_station: Option<String>,
}

/// How far measurements of one kind are off the fitted times.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ResidualFindings {
    /// Root of the mean square by which a measured time is off what is fitted to all others.
    pub residual_percent: f64,
    /// How far a fitted time may be off: 95 of 100 lie within.
    pub promised_percent: f64,
}

/// What came of one quantity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct QuantityFindings {
    /// Its name.
    pub quantity: String,
    /// Whether it was fitted; else it stays as the files say.
    pub fitted: bool,
    /// Percent of what the files say or what is assumed, seconds, or a power, by `unit`; none where it was not fitted.
    pub value: Option<f64>,
    /// Its standard deviation, in the same unit; none where there is none.
    pub spread: Option<f64>,
    /// `percent`, `s`, or `power`.
    pub unit: String,
    /// The same in one sentence.
    pub sentence: String,
}

/// One measured time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasurementFindings {
    /// Its line in the file.
    pub line: u64,
    /// Of what.
    pub what: String,
    /// As measured.
    pub measured_s: f64,
    /// What the model said before.
    pub before_s: f64,
    /// What it says with the fitted values.
    pub fitted_s: f64,
    /// How far that is off, percent of the measured time.
    pub off_percent: f64,
}

impl CalibrationFindings {
    /// What is shown of `calibrated`, which was fitted to what was `measured` on `cell`.
    #[must_use]
    pub fn new(cell: &Cell, measured: &[Measurement], calibrated: &Calibrated) -> Self {
        let times = calibrated.before.iter().zip(&calibrated.after);
        let all = measured.iter().zip(times).map(|(measured, (before, after))| MeasurementFindings {
            line: measured.line,
            what: what(cell, &measured.what),
            measured_s: rounded(measured.time, 6),
            before_s: rounded(*before, 6),
            fitted_s: rounded(*after, 6),
            off_percent: rounded(to_percent(after / measured.time - 1.0), 6),
        });
        Self {
            format: FORMAT,
            made_by: MADE_BY.to_owned(),
            cell: cell.name.clone(),
            arm: cell.arm.arm.name().to_owned(),
            quality: CalibrationQuality::new(&calibrated.calibration),
            quantities: calibrated
                .found
                .iter()
                .map(|(quantity, found)| QuantityFindings::new(*quantity, found, &calibrated.found))
                .collect(),
            measurements: all.collect(),
            rests_on: RESTS_ON
                .into_iter()
                .chain(calibrated.too_alike.then_some(TOO_ALIKE))
                .chain(calibrated.welds_too_alike.then_some(WELDS_TOO_ALIKE))
                .map(str::to_owned)
                .chain(only_station(&calibrated.calibration))
                .chain(contradictions(cell, measured))
                .chain(wider(calibrated))
                .collect(),
        }
    }

    /// How far the model was off before anything was fitted: root of the mean square, percent.
    #[must_use]
    pub fn off_before_percent(&self) -> f64 {
        let squares = self.measurements.iter().map(|m| (m.before_s / m.measured_s - 1.0).powi(2));
        to_percent((squares.sum::<f64>() / self.measurements.len().max(1) as f64).sqrt())
    }

    /// The measured time that the fit misses by most.
    #[must_use]
    pub fn worst(&self) -> Option<&MeasurementFindings> {
        self.measurements.iter().max_by(|a, b| a.off_percent.abs().total_cmp(&b.off_percent.abs()))
    }
}

const RESTS_ON: [&str; 4] = [
    "measured times and the schedule's own model of motion: what a controller does that the model does not contain \
     (blending, lag) stays in the residual",
    "residuals count as shares of the measured time, and each kind of measurement weighs by how well it comes out",
    "that the trajectory mathematics agrees with a library says that the mathematics is right; only measured times say how \
     this controller drives",
    "the fit holds for the arm, load and program speeds that were measured, and for moves of the same axes and about as long",
];

const TOO_ALIKE: &str = "the moves measured are too few different ones to say how far others are off: the range promised of air \
                         moves is as wide as if none had been measured, about what these say";

const WELDS_TOO_ALIKE: &str = "the welds measured are all about as long, so that they cannot tell travel speed from what comes before and \
                               after the arc: the range promised of welds is as wide as if none had been measured, about what these say";

fn only_station(calibration: &Calibration) -> Option<String> {
    let station = calibration.only_station.as_ref()?;
    Some(format!(
        "station {station} alone was measured as a whole, which cannot tell where in it the time goes: the range promised of others is as wide \
         as if it had not been, about what this says"
    ))
}

/// Times of the same thing that differ by more, as a share of the shorter one, are told: judgement, no source.
const SAME_THING: f64 = 0.1;

/// What was measured more than once with times too far apart: one sentence each.
fn contradictions(cell: &Cell, measured: &[Measurement]) -> Vec<String> {
    let is_first = |at: &usize| measured[..*at].iter().all(|other| other.what != measured[*at].what);
    let told = |at: usize| {
        let same = measured.iter().filter(|other| other.what == measured[at].what);
        let shortest = same.clone().min_by(|a, b| a.time.total_cmp(&b.time))?;
        let longest = same.max_by(|a, b| a.time.total_cmp(&b.time))?;
        (longest.time > shortest.time * (1.0 + SAME_THING)).then(|| {
            format!(
                "lines {} and {} time the same {} with {} and {} s: at least one of them is of something else, or wrong, and no fit meets both",
                shortest.line,
                longest.line,
                what(cell, &measured[at].what),
                fixed(shortest.time, 2),
                fixed(longest.time, 2)
            )
        })
    };
    (0..measured.len()).filter(is_first).filter_map(told).collect()
}

/// Why moves are promised to more than the measured ones would say; none where they are not.
fn wider(calibrated: &Calibrated) -> Option<String> {
    let (measured, promised) = (calibrated.measured_moves_promised?, calibrated.calibration.moves_promised?);
    let unseen: Vec<String> =
        (1..=6).zip(calibrated.heard).filter(|(_, heard)| !heard).map(|(axis, _)| axis.to_string()).collect();
    let axes = match unseen.as_slice() {
        [] => String::new(),
        [one] => format!("axis {one} has no say in any measured move, and "),
        [all @ .., last] => {
            format!("axes {} and {last} have no say in any measured move, and ", all.join(", "))
        }
    };
    (promised > measured * (1.0 + 1e-9)).then(|| {
        format!(
            "moves are promised within ±{} %, not the ±{} % of moves like those measured: {axes}what these times do not tell may \
             be off by what is plausible, though by no more than is promised without measuring",
            fixed(to_percent(promised), 1),
            fixed(to_percent(measured), 1)
        )
    })
}

impl CalibrationQuality {
    pub(super) fn new(calibration: &Calibration) -> Self {
        let of = |kind: usize| {
            let (residual, _) = calibration.of_kind(kind)?;
            let promised = promised_share(calibration, kind)?;
            Some(ResidualFindings {
                residual_percent: rounded(to_percent(residual), 6),
                promised_percent: rounded(to_percent(promised), 6),
            })
        };
        let off = |kind: usize| calibration.alike_off[kind].map(|off| rounded(to_percent(off), 6));
        Self {
            measurements: calibration.measurements,
            degrees_of_freedom: calibration.freedom,
            moves: of(0),
            welds: of(1),
            stations: of(2),
            alike_moves_off_percent: off(0),
            alike_welds_off_percent: off(1),
            only_station: calibration.only_station.clone(),
        }
    }

    /// From how many measurements and how well, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let stations = match &self.only_station {
            None => "whole stations".to_owned(),
            Some(station) => format!("station {station} as a whole and of no other"),
        };
        let kinds = [("moves", self.moves), ("welds", self.welds), (&stations, self.stations)];
        let alike = [("moves", self.alike_moves_off_percent), ("welds", self.alike_welds_off_percent)];
        let alike = alike.into_iter().filter_map(|(name, off)| {
            Some(format!("{} % of {name}, which are too alike to say how far others are off", fixed(off?, 1)))
        });
        let kinds: Vec<String> = kinds
            .into_iter()
            .filter_map(|(name, residual)| {
                let ResidualFindings { residual_percent, promised_percent } = residual?;
                let [residual, promised] = [residual_percent, promised_percent].map(|share| fixed(share, 1));
                Some(format!("{residual} % of {name} (95 in 100 within ±{promised} %)"))
            })
            .chain(alike)
            .collect();
        let measurements = counted(u64::from(self.measurements), "measurement");
        match kinds.as_slice() {
            [] => format!("calibrated from {measurements}"),
            _ => format!("calibrated from {measurements}, residual {}", kinds.join(", ")),
        }
    }
}

impl QuantityFindings {
    fn new(quantity: Quantity, found: &Found, all: &[(Quantity, Found)]) -> Self {
        let name = name(quantity);
        let (unit, decimals, of) = match quantity {
            quantity if quantity.is_ratio() => ("percent", 0, " % of what the files say"),
            Quantity::PacePower => ("power", 1, ""),
            _ => ("s", 2, " s"),
        };
        let shown = |value: f64| if quantity.is_ratio() { to_percent(value) } else { value };
        let (value, spread, sentence) = match *found {
            Found::Fitted { value, spread } => {
                // The spread of a ratio is that of its logarithm.
                let spread = if quantity.is_ratio() { value * spread } else { spread };
                let (value, spread) = (shown(value), shown(spread));
                let sentence = format!(
                    "{name}: {}{of}, give or take {}{}",
                    fixed(value, decimals),
                    fixed(spread, decimals + 1),
                    meaning(quantity)
                );
                (Some(value), Some(spread), sentence)
            }
            Found::AtEnd { value } => {
                let value = shown(value);
                let sentence = format!(
                    "{name}: {}, so {}{of} is taken{}",
                    at_end(quantity, value),
                    fixed(value, decimals),
                    meaning(quantity)
                );
                (Some(value), None, sentence)
            }
            Found::Scattered => (
                None,
                None,
                format!(
                    "{name}: these times tell it less well than it was known before; left as the files say"
                ),
            ),
            Found::LeftOut => (
                None,
                None,
                format!("{name}: fitted, it foretells left-out times worse; left as the files say"),
            ),
            Found::Untold { with: Some(with) } => {
                let other = all.get(with).map_or("another", |(other, _)| self::name(*other));
                (
                    None,
                    None,
                    format!("{name}: these times cannot tell it from {other}; left as the files say"),
                )
            }
            Found::Untold { with: None } => {
                (None, None, format!("{name}: these times say nothing of it; left as the files say"))
            }
        };
        Self {
            quantity: name.to_owned(),
            fitted: value.is_some(),
            value: value.map(|value| rounded(value, 6)),
            spread: spread.map(|spread| rounded(spread, 6)),
            unit: unit.to_owned(),
            sentence,
        }
    }
}

fn name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Pace => "pace of air moves",
        Quantity::Acceleration => "acceleration of the axes",
        Quantity::PacePower => "power of the pace with which accelerations fall",
        Quantity::Jerk => "jerk of the axes",
        Quantity::Settle => "time to come to rest",
        Quantity::ArcStart => "time added to each arc start",
    }
}

/// Why the value of a quantity is an end of what is allowed.
fn at_end(quantity: Quantity, value: f64) -> &'static str {
    match quantity {
        Quantity::Pace if value > 99.0 => "the times would fit better still above what the axes can do",
        Quantity::Jerk if value > 100.0 => "these times show no limit of it",
        _ => "the best fit lies beyond what can be",
    }
}

/// What a value means that does not say so itself.
fn meaning(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::PacePower => {
            " (0: a lower pace cuts speeds alone; 2: it slows the whole motion evenly, as is thought without measuring)"
        }
        _ => "",
    }
}

fn what(cell: &Cell, measured: &Measured) -> String {
    match measured {
        Measured::Move { .. } => "move".to_owned(),
        Measured::Weld(seam) => format!("weld {}", cell.seams[seam.0].name),
        Measured::Station(station) => format!("station {}", cell.stations[station.0].name),
    }
}
