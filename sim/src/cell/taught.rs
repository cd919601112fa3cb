//! Decides what a seam's program already says: points that were taught, to be proven and timed as they stand.

use seamwright_kinematics::{AxisValues, Pose};

/// One taught point.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenPoint {
    /// How the arm gets there.
    pub by: GivenMove,
    /// Whether it is the second or third point of a circular move.
    pub circular: bool,
    /// Where the arm stands.
    pub stance: GivenStance,
}

/// How the arm gets to a taught point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GivenMove {
    /// Through the air.
    Air,
    /// Tool straight to the start of the weld.
    Approach,
    /// Tool straight, or on a circle, with the arc on.
    Weld,
    /// Tool straight away from the end of the weld.
    Retract,
}

/// What a taught point says of the arm.
#[derive(Clone, Debug, PartialEq)]
pub enum GivenStance {
    /// Arm axes, rad.
    Axes(AxisValues),
    /// `station_from_tool`: the wire end at the torch's nominal tip-to-work distance.
    Tool(Pose),
}
