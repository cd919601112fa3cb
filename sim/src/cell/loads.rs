//! Decides what weighs how much and where, and what arm and external axes may carry, as their makers state it.

use nalgebra::Point3;

/// What an arm may carry beside its rated load.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ArmRatings {
    /// Moments that the load may put on axes 4, 5 and 6, N m.
    pub wrist_moment: Option<[f64; 3]>,
    /// Moments of inertia that it may have about them, kg m².
    pub wrist_inertia: Option<[f64; 3]>,
    /// What may sit on the forearm, kg.
    pub forearm: Option<f64>,
}

/// What an external axis may carry.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AxisRating {
    /// kg.
    pub mass: Option<f64>,
    /// Moment of its load about the axis, N m.
    pub turning: Option<f64>,
    /// Moment of its load square to the axis, about the axis' own origin, N m.
    pub tilting: Option<f64>,
}

impl AxisRating {
    /// Whether anything is stated.
    #[must_use]
    pub fn is_stated(&self) -> bool {
        self.mass.or(self.turning).or(self.tilting).is_some()
    }
}

/// Something heavy on a station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationMass {
    /// kg.
    pub mass: f64,
    /// Its centre in the station's frame, m.
    pub centre: Point3<f64>,
    /// Greatest moment of inertia about any line through that centre, kg m², where stated.
    pub inertia: Option<f64>,
    /// Whether it is the parts', there only while the station is loaded; else the fixture's own.
    pub is_parts: bool,
}
