//! Decides what measured times say of an arm and its controller: what they put in the place of stated and assumed values.

use super::{Cell, MountedArm, Seam};
use super::{SeamId, StationId};
use seamwright_kinematics::{AxisValues, Based, Basis};

/// A time that was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement {
    /// Its line in the file.
    pub line: u64,
    /// Of what.
    pub what: Measured,
    /// The time, s.
    pub time: f64,
}

/// What a measured time is of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measured {
    /// The arm from stance to stance, straight in axis space, from rest until it stands.
    Move {
        /// Axis values at the start, rad.
        from: AxisValues,
        /// Axis values at the end, rad.
        to: AxisValues,
        /// Pace that the program asked for, where it is not that of the cell's air moves.
        pace: Option<f64>,
    },
    /// A seam of one weld, from the order to weld (gas on) until the arc is out.
    Weld(SeamId),
    /// The arm from leaving home until it is home again.
    Station(StationId),
}

impl Measured {
    /// 0 for a move, 1 for a weld, 2 for a whole station.
    #[must_use]
    pub fn kind(&self) -> usize {
        match self {
            Self::Move { .. } => 0,
            Self::Weld(_) => 1,
            Self::Station(_) => 2,
        }
    }
}

/// What was fitted to measured times. What the data did not tell is left as the files say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Calibration {
    /// Name of the arm that was measured.
    pub arm: String,
    /// How many times were measured.
    pub measurements: u32,
    /// Root of the mean square by which a measured move is off what is fitted to all others, as a share of it; none where none was
    /// measured.
    pub moves_residual: Option<f64>,
    /// How far a move may be off, as a share, 95 in 100: what the measured ones are off by, and more where they do not carry others. None
    /// where that is not known apart from the residual.
    pub moves_promised: Option<f64>,
    /// As the moves' residual, of welds.
    pub welds_residual: Option<f64>,
    /// The same of the arm's whole time at a station.
    pub stations_residual: Option<f64>,
    /// Root of the mean square by which measured moves and welds are off the fitted times, as a share, where they are too alike to say how
    /// far others are off.
    pub alike_off: [Option<f64>; 2],
    /// The station that was measured as a whole, where it was but one: of others that says nothing.
    pub only_station: Option<String>,
    /// Measurements less factors fitted.
    pub freedom: u32,
    /// Degrees of freedom that moves, welds and whole stations have by themselves, where known: the measurements of the kind less what the
    /// fit takes of them.
    pub kind_freedom: [Option<f64>; 3],
    /// Pace of air moves, as a share of what the axes allow.
    pub air_move_share: Option<f64>,
    /// Power of the pace with which accelerations fall.
    pub pace_power: Option<f64>,
    /// Acceleration of each axis, rad/s².
    pub acceleration: Option<[f64; 6]>,
    /// Jerk of each axis, rad/s³.
    pub jerk: Option<[f64; 6]>,
    /// Time until the arm stands after each move, s.
    pub settle: Option<f64>,
    /// What comes on top of the time between the order to weld and the start of travel, s; may be negative.
    pub arc_start_added: Option<f64>,
}

impl Calibration {
    /// Residual (a share) and degrees of freedom of moves (0), welds (1) or whole stations (2), see [`Measured::kind`]; none where none was
    /// measured.
    #[must_use]
    pub fn of_kind(&self, kind: usize) -> Option<(f64, f64)> {
        let residual = [self.moves_residual, self.welds_residual, self.stations_residual][kind]?;
        Some((residual, self.kind_freedom[kind].unwrap_or(f64::from(self.freedom))))
    }

    /// Puts what was fitted in the place of what `cell` has.
    pub fn apply(&self, cell: &mut Cell) {
        self.apply_to_arm(&mut cell.arm);
        self.apply_to_seams(&mut cell.seams);
    }

    /// The arm's share of it.
    pub(super) fn apply_to_arm(&self, arm: &mut MountedArm) {
        if let Some(share) = self.air_move_share {
            arm.air_move_share = Based { value: share, basis: Basis::File };
        }
        if let Some(power) = self.pace_power {
            arm.pace_power = power;
        }
        if self.acceleration.is_some() || self.jerk.is_some() {
            arm.arm = arm.arm.clone().with_accelerations(self.acceleration, self.jerk);
        }
        if let Some(settle) = self.settle {
            arm.settle = settle;
        }
    }

    /// The procedures' share of it.
    pub(super) fn apply_to_seams(&self, seams: &mut [Seam]) {
        let added = self.arc_start_added.unwrap_or(0.0);
        for seam in seams {
            seam.procedure.arc_start = (seam.procedure.arc_start + added).max(0.0);
        }
    }
}
