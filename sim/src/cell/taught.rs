//! Decides what a seam's program already says: points that were taught, to be proven and timed as they stand.

use seamwright_kinematics::{AxisValues, Pose};

/// The way over a seam, and how the arm comes to it.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenWay {
    /// Places in the air before the first of `weld`, from wherever the arm comes.
    pub air: Vec<GivenPoint>,
    /// Where the way in begins, the weld, and the end of the way out; at least four.
    pub weld: Vec<GivenPoint>,
}

impl GivenWay {
    /// How many points were taught.
    #[must_use]
    pub fn count(&self) -> usize {
        self.air.len() + self.weld.len()
    }

    /// The places on the way through the air, where that was taught: a single one that the arm goes to by its axes leaves the way to
    /// it open.
    #[must_use]
    pub fn taught_air(&self) -> Option<Vec<&GivenPoint>> {
        let places: Vec<&GivenPoint> = self.air.iter().chain(self.weld.first()).collect();
        let open = places.len() == 1 && places[0].by == GivenMove::Air;
        (!open).then_some(places)
    }
}

/// One taught point.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenPoint {
    /// How the arm gets there.
    pub by: GivenMove,
    /// Whether it is the second or third point of a circular move.
    pub circular: bool,
    /// Where the arm stands.
    pub stance: GivenStance,
    /// From contact tip to the wire end that the program leads straight or on a circle, m; `None` for the torch's nominal one.
    pub ctwd: Option<f64>,
}

/// How the arm gets to a taught point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GivenMove {
    /// Through the air, straight in axis space.
    Air,
    /// Through the air, the tool straight or on a circle.
    AirStraight,
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
    /// `station_from_wire_end`, at the point's tip-to-work distance.
    Tool(Pose),
}
