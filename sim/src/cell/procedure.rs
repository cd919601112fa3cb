//! Decides how a weld is to be made: angles with tolerance, travel speed, times of the arc, approach.

use seamwright_kinematics::Based;

use super::{Allowed, ArcElements, ArcProcess, NearPart};

/// A value to aim at and how far it may be off on either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Aim.
    pub aim: f64,
    /// Largest allowed difference from the aim, at least 0.
    pub tolerance: f64,
}

impl Band {
    /// How far `value` lies outside; 0 inside.
    #[must_use]
    pub fn excess(&self, value: f64) -> f64 {
        ((value - self.aim).abs() - self.tolerance).max(0.0)
    }
}

/// A welding procedure as the planner and the clock need it.
#[derive(Clone, Debug)]
pub struct Procedure {
    /// Name in the file.
    pub name: String,
    /// Work angle from `n1` toward `b`, rad.
    pub work: Band,
    /// Travel angle, push positive, rad.
    pub travel: Band,
    /// Contact tip to work distance along the wire, m.
    pub ctwd: Band,
    /// Progress along the root, m/s.
    pub travel_speed: f64,
    /// Turn about the wire where something takes the free turn away (rad, with tolerance); `None` leaves it free.
    pub turn: Option<Band>,
    /// Half the length of the zone in which the torch turns through a corner, m.
    pub corner_zone: f64,
    /// Straight way in before the arc, m.
    pub approach: f64,
    /// Straight way out after the arc, m.
    pub retract: f64,
    /// Tool speed on the way in and out, m/s.
    pub approach_speed: f64,
    /// Lift between the arcs of a stitched seam, m.
    pub stitch_lift: f64,
    /// Gas before the arc, s.
    pub gas_before: f64,
    /// From the order to weld until the arc burns and travel begins, s.
    pub arc_start: f64,
    /// Crater fill at the end, s.
    pub crater: f64,
    /// Gas after the arc, s; where the file says nothing of burn-back, with it.
    pub gas_after: f64,
    /// What else an arc takes.
    pub arc: ArcElements,
    /// Where on the way in and out the wire end goes slower.
    pub near_part: Option<NearPart>,
    /// What is allowed at the joint.
    pub allowed: Allowed,
    /// What the power source is set to, where stated.
    pub settings: Option<Settings>,
}

/// Power source settings, for the procedure arithmetic.
#[derive(Clone, Copy, Debug)]
pub struct Settings {
    /// Arc voltage, V.
    pub voltage: f64,
    /// Current, A.
    pub current: f64,
    /// Wire diameter, m.
    pub wire_diameter: f64,
    /// Wire feed speed, m/s.
    pub wire_feed: f64,
    /// Deposited mass over melted mass, with its basis.
    pub efficiency: Based,
    /// The arc process.
    pub process: ArcProcess,
    /// Gas flow, m³/s, where stated.
    pub gas_flow: Option<f64>,
    /// The flat fillet with equal legs that is asked for, where stated.
    pub size: Option<FilletSize>,
}

/// Size of a flat fillet with equal legs in a right angle, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FilletSize {
    /// By its leg.
    Leg(f64),
    /// By its throat.
    Throat(f64),
}
