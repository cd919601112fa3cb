//! Decides how much room a seam that holds has left at each kind of limit, and which seams are the tightest.
//!
//! Room in degrees, millimetres and shares of a speed is compared by what each kind of limit usually leaves: see [`Yardstick`].

use schemars::JsonSchema;
use seamwright_kinematics::units;
use serde::{Deserialize, Serialize};

use super::stop::Place;
use super::words::{LengthUnit, angle, fixed, rounded};
use crate::plan::Margins;

/// The smallest room left along a seam, way in and out included.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Margin {
    /// What kind of limit, and the room left.
    pub room: Room,
    /// Where along the seam.
    pub place: Place,
    /// The room as a share of what this kind of limit usually leaves (`yardstick`): 0 at the limit, least is tightest.
    pub tightness: f64,
}

/// Room left at one kind of limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Room {
    /// To the nearer end of an axis range.
    AxisRange {
        /// 1 to 6.
        axis: usize,
        /// Turn left.
        left_deg: f64,
    },
    /// To the nearer end of the range of a motor that turns axes through a coupling.
    MotorRange {
        /// 1 to 6.
        motor: usize,
        /// Turn of the motor left.
        left_deg: f64,
        /// The same as a turn of the axis that moves it most.
        axis_left_deg: f64,
    },
    /// To the end of the turn the hose allows.
    Hose {
        /// The limit's name.
        name: String,
        /// Turn left.
        left_deg: f64,
    },
    /// Between the pair of bodies with the least to spare.
    Clearance {
        /// The arm's or torch's body.
        body: String,
        /// The other body.
        other: String,
        /// Between them.
        distance_mm: f64,
        /// What is asked, path deviation included.
        asked_mm: f64,
        /// More than asked by this much.
        spare_mm: f64,
    },
    /// Of axis 5 to the straight wrist, where axes 4 and 6 become one.
    Wrist {
        /// Turn left.
        left_deg: f64,
    },
    /// Of the axis nearest its speed limit while welding.
    AxisSpeed {
        /// 1 to 6.
        axis: usize,
        /// Its speed as a share of its limit.
        used_percent: f64,
    },
    /// Of the motor nearest its speed limit while welding, where motors turn axes through a coupling.
    MotorSpeed {
        /// 1 to 6.
        motor: usize,
        /// Its speed as a share of its limit.
        used_percent: f64,
    },
}

/// The room that each kind of limit usually leaves: what makes ten degrees and ten millimetres count alike.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Yardstick {
    /// Of an axis range.
    pub axis_range_deg: f64,
    /// Of the hose.
    pub hose_deg: f64,
    /// Of a clearance, beyond what is asked.
    pub clearance_mm: f64,
    /// Of axis 5 from the straight wrist.
    pub wrist_deg: f64,
    /// Of an axis speed.
    pub axis_speed_percent: f64,
}

impl Yardstick {
    /// Ours: no standard sets one.
    pub const OURS: Self = Self {
        axis_range_deg: 10.0,
        hose_deg: 10.0,
        clearance_mm: 10.0,
        wrist_deg: 10.0,
        axis_speed_percent: 50.0,
    };
}

impl Margin {
    /// All kinds of limits that apply to a seam, in a fixed order.
    pub(super) fn all(margins: &Margins, path_length: f64) -> Vec<Self> {
        let deg = |radians: f64| rounded(units::to_deg(radians), 6);
        let mm = |metres: f64| rounded(units::to_mm(metres), 6);
        let mut all = Vec::with_capacity(7);
        let mut add = |at: f64, room: Room| {
            let tightness = rounded(room.tightness(), 6);
            // An arm without a straight wrist is infinitely far from it: there is no such limit.
            if tightness.is_finite() {
                all.push(Self { room, place: Place::new(at, at, at, path_length), tightness });
            }
        };
        let (axis, left, at) = margins.axis;
        add(at, Room::AxisRange { axis: axis + 1, left_deg: deg(left) });
        if let Some((motor, left, of_axis, at)) = margins.motor {
            let (left_deg, axis_left_deg) = (deg(left), deg(of_axis));
            add(at, Room::MotorRange { motor: motor + 1, left_deg, axis_left_deg });
        }
        if let Some((name, left, at)) = margins.hose {
            add(at, Room::Hose { name: name.to_owned(), left_deg: deg(left) });
        }
        if let Some(pair) = &margins.clearance {
            let room = Room::Clearance {
                body: pair.body.clone(),
                other: pair.other.clone(),
                distance_mm: mm(pair.distance),
                asked_mm: mm(pair.asked),
                spare_mm: mm(pair.distance - pair.asked),
            };
            add(pair.at, room);
        }
        let (left, at) = margins.wrist;
        add(at, Room::Wrist { left_deg: deg(left) });
        let (axis, share, at) = margins.speed;
        add(at, Room::AxisSpeed { axis: axis + 1, used_percent: rounded(100.0 * share, 6) });
        if let Some((motor, share, at)) = margins.motor_speed {
            add(at, Room::MotorSpeed { motor: motor + 1, used_percent: rounded(100.0 * share, 6) });
        }
        all
    }

    /// What is left and where, in lower case and without a full stop.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        format!("{} {}", self.room.phrase(unit), self.place.phrase(unit))
    }
}

impl Room {
    /// See [`Margin::tightness`].
    fn tightness(&self) -> f64 {
        let usual = Yardstick::OURS;
        match self {
            Self::AxisRange { left_deg, .. } => left_deg / usual.axis_range_deg,
            Self::MotorRange { axis_left_deg, .. } => axis_left_deg / usual.axis_range_deg,
            Self::Hose { left_deg, .. } => left_deg / usual.hose_deg,
            Self::Clearance { spare_mm, .. } => spare_mm / usual.clearance_mm,
            Self::Wrist { left_deg } => left_deg / usual.wrist_deg,
            Self::AxisSpeed { used_percent, .. } | Self::MotorSpeed { used_percent, .. } => {
                (100.0 - used_percent) / usual.axis_speed_percent
            }
        }
    }

    fn phrase(&self, unit: LengthUnit) -> String {
        match self {
            Self::AxisRange { axis, left_deg } => {
                format!("axis {axis} is {} from the end of its range", angle(*left_deg))
            }
            Self::MotorRange { motor, left_deg, .. } => {
                format!("motor {motor} is {} from the end of its range", angle(*left_deg))
            }
            Self::Hose { name, left_deg } => format!("the {name} is {} away", angle(*left_deg)),
            Self::Clearance { body, other, distance_mm, asked_mm, .. } => format!(
                "{body} passes {other} with {} ({} asked)",
                unit.distance(*distance_mm),
                unit.distance(*asked_mm)
            ),
            Self::Wrist { left_deg } => format!("axis 5 is {} from the straight wrist", angle(*left_deg)),
            Self::AxisSpeed { axis, used_percent } => {
                format!("axis {axis} turns at {} % of its speed limit", fixed(*used_percent, 0))
            }
            Self::MotorSpeed { motor, used_percent } => {
                format!("motor {motor} turns at {} % of its speed limit", fixed(*used_percent, 0))
            }
        }
    }
}
