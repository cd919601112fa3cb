//! Decides what an event is, and how arm and external axes stand and move in it.

use seamwright_kinematics::AxisValues;

use crate::cell::SeamId;
use crate::cell::frames::ExternalValues;
use crate::motion::{AirWay, AxisMove, ExternalMove, LinearMove, WeldPace, WeldWay, arm_axes};
use crate::plan::ExternalLaw;

/// What the arm is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EventKind {
    /// Planned air move.
    AirMove,
    /// Air time of a seam given by length only, by a stated rule of thumb.
    AssumedAirMove,
    /// The arm stands before the way in until the pass before has cooled.
    Interpass,
    /// The arm stands before the way in until its neighbours have cooled.
    Cooling,
    /// Straight to where a touch search begins, or away from it.
    SearchWay,
    /// Straight into a face until the wire touches.
    Search,
    /// Straight to the start of a weld.
    Approach,
    /// Gas flows, the torch stands.
    GasBefore,
    /// The wire runs in until it touches.
    RunIn,
    /// From the order to weld until the arc burns and travel begins.
    ArcStart,
    /// Arc starts that are tried again: what they take in the mean.
    ArcRetry,
    /// Arc on, torch travelling.
    Weld,
    /// Arc on, back along the seam to where the crater is filled.
    CraterBack,
    /// Crater fill, the torch stands.
    Crater,
    /// The wire burns back.
    BurnBack,
    /// Whether the wire sticks is tested.
    WireCheck,
    /// Gas after the arc, the torch stands; with the burn-back where that is not timed by itself.
    GasAfter,
    /// Straight away from the end of a weld.
    Retract,
    /// Lifted, from one stitch to the next.
    Shift,
    /// The arm stands while external axes move within a visit.
    Position,
    /// The arm stands at home while external axes go from one station's values to the next one's.
    Index,
    /// The arm comes to rest after a move.
    Settle,
    /// The arm waits at home to be told to begin.
    StartSignal,
    /// The cell makes sure that the arm is home.
    ArmClear,
    /// The arm stands where it left the seam before while clamps open.
    ClampsOpen,
}

impl EventKind {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::AirMove => "air_move",
            Self::AssumedAirMove => "assumed_air_move",
            Self::Interpass => "interpass",
            Self::Cooling => "cooling",
            Self::SearchWay => "search_way",
            Self::Search => "search",
            Self::Approach => "approach",
            Self::GasBefore => "gas_before",
            Self::RunIn => "run_in",
            Self::ArcStart => "arc_start",
            Self::ArcRetry => "arc_retry",
            Self::Weld => "weld",
            Self::CraterBack => "crater_back",
            Self::Crater => "crater",
            Self::BurnBack => "burn_back",
            Self::WireCheck => "wire_check",
            Self::GasAfter => "gas_after",
            Self::Retract => "retract",
            Self::Shift => "shift",
            Self::Position => "position",
            Self::Index => "index",
            Self::Settle => "settle",
            Self::StartSignal => "start_signal",
            Self::ArmClear => "arm_clear",
            Self::ClampsOpen => "clamps_open",
        }
    }
}

/// One thing that happens.
#[derive(Clone, Debug)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// The seam it serves.
    pub seam: Option<SeamId>,
    /// Index into the visit's planned moves: the move itself, or the weld that a standing time belongs to. `None` where
    /// nothing was planned.
    pub planned_move: Option<usize>,
    /// Start, s from the start of the visit.
    pub start: f64,
    /// How long it takes, s.
    pub duration: f64,
    /// How long it would take with every axis at its limits in the air, s.
    pub least_possible: f64,
    pub(super) course: Course,
}

/// A number for every axis: where all stand, or how fast.
#[derive(Clone, Debug, PartialEq)]
pub struct Stance {
    /// Arm axes, rad (as rates rad/s, as accelerations rad/s²).
    pub axes: AxisValues,
    /// External axes, rad or m, in the order of the cell's axes.
    pub external: ExternalValues,
}

impl Stance {
    /// From a row of all axes along a weld.
    pub(super) fn of_row(row: &[f64]) -> Self {
        Self { axes: arm_axes(row), external: row[6..].to_vec() }
    }
}

/// How arm and external axes stand and move at one instant.
///
/// Rates and accelerations are the derivatives of where they stand. At the first and last instant of a weld, at which the torch would
/// have to start and stop at once, they are those as if it travelled before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// Where every axis stands.
    pub stance: Stance,
    /// How fast every axis moves.
    pub rates: Stance,
    /// How fast those change.
    pub accelerations: Stance,
}

/// How the arm moves during an event.
#[derive(Clone, Debug)]
pub(super) enum Course {
    /// Straight in axis space, external axes along a law in the share of the way.
    Axis(AxisMove, ExternalLaw),
    /// Past places without stopping.
    Air(Box<AirWay>, ExternalValues),
    Linear(LinearMove, ExternalValues),
    /// At travel speed, or slower where axes cannot follow.
    Weld {
        way: WeldWay,
        pace: WeldPace,
        external: ExternalLaw,
    },
    Standing(Stance),
    External(AxisValues, ExternalMove),
    /// Nothing was planned.
    Unknown,
}

impl Event {
    /// When it ends, s from the start of the visit.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.start + self.duration
    }

    /// How arm and external axes stand `t` seconds after the event's start; `None` where nothing was planned.
    #[must_use]
    pub fn at(&self, t: f64) -> Option<Stance> {
        match &self.course {
            Course::Axis(axis_move, external) => {
                Some(Stance { axes: axis_move.at(t), external: external.at(axis_move.share_at(t)[0]) })
            }
            Course::Air(way, external) => Some(Stance { axes: way.at(t), external: external.clone() }),
            Course::Linear(linear_move, external) => {
                Some(Stance { axes: linear_move.at(t), external: external.clone() })
            }
            Course::Weld { way, pace, .. } => Some(Stance::of_row(&way.at(pace.along(t).position))),
            Course::Standing(stance) => Some(stance.clone()),
            Course::External(axes, external_move) => {
                Some(Stance { axes: *axes, external: external_move.at(t) })
            }
            Course::Unknown => None,
        }
    }

    /// How long it would take if jerk were not limited, s; none where nothing that has a jerk moves.
    #[must_use]
    pub fn jerk_free(&self) -> Option<f64> {
        match &self.course {
            Course::Axis(axis_move, _) => Some(axis_move.jerk_free()),
            Course::Air(way, _) => Some(way.jerk_free()),
            Course::Linear(linear_move, _) => Some(linear_move.jerk_free()),
            Course::Weld { pace, .. } => Some(pace.jerk_free()),
            Course::External(..) | Course::Standing(_) | Course::Unknown => None,
        }
    }

    /// How fast the torch goes along it, where it is a weld that was planned.
    #[must_use]
    pub fn weld_pace(&self) -> Option<&WeldPace> {
        match &self.course {
            Course::Weld { pace, .. } => Some(pace),
            _ => None,
        }
    }

    /// The move of the external axes that it is, where it is one while the arm stands.
    #[must_use]
    pub fn external_move(&self) -> Option<&ExternalMove> {
        match &self.course {
            Course::External(_, external_move) => Some(external_move),
            _ => None,
        }
    }

    /// Whether the external axis with this index moves in it.
    #[must_use]
    pub fn moves_external(&self, axis: usize) -> bool {
        match &self.course {
            Course::External(_, external_move) => external_move.moves(axis),
            Course::Weld { external, .. } | Course::Axis(_, external) => external.moves(axis),
            Course::Air(..) | Course::Linear(..) | Course::Standing(_) | Course::Unknown => false,
        }
    }

    /// The same with speeds and accelerations.
    #[must_use]
    pub fn motion_at(&self, t: f64) -> Option<Motion> {
        let stance = self.at(t)?;
        let external_still = vec![0.0; stance.external.len()];
        let still = Stance { axes: AxisValues::zeros(), external: external_still.clone() };
        let (rates, accelerations) = match &self.course {
            Course::Axis(axis_move, external) => {
                let [share, rate, acceleration, _] = axis_move.share_at(t);
                let ways = external.rates_at(share);
                let times = |factor: f64| ways.iter().map(|way| way * factor).collect();
                (
                    Stance { axes: axis_move.rates_at(t), external: times(rate) },
                    Stance { axes: axis_move.accelerations_at(t), external: times(acceleration) },
                )
            }
            Course::Air(way, _) => {
                let [rates, accelerations] = way.rates_at(t);
                (
                    Stance { axes: rates, external: external_still.clone() },
                    Stance { axes: accelerations, external: external_still },
                )
            }
            Course::Linear(linear_move, _) => (
                Stance { axes: linear_move.rates_at(t), external: external_still.clone() },
                Stance { axes: linear_move.accelerations_at(t), external: external_still },
            ),
            Course::Weld { way, pace, .. } => {
                let now = pace.along(t);
                let [first, second, _] = way.derivatives(now.position);
                let rates: Vec<f64> = first.iter().map(|first| first * now.speed).collect();
                let accelerations = first.iter().zip(&second);
                let accelerations: Vec<f64> = accelerations
                    .map(|(first, second)| second * now.speed.powi(2) + first * now.acceleration)
                    .collect();
                (Stance::of_row(&rates), Stance::of_row(&accelerations))
            }
            Course::External(_, external_move) => (
                Stance { axes: AxisValues::zeros(), external: external_move.rates_at(t) },
                Stance { axes: AxisValues::zeros(), external: external_move.accelerations_at(t) },
            ),
            Course::Standing(_) | Course::Unknown => (still.clone(), still),
        };
        Some(Motion { stance, rates, accelerations })
    }
}
