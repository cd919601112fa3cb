//! Decides what holds parts in a fixture and what shifts them: locators, how clamps press, tolerances, what is allowed at the joint.
//!
//! Everything here is in the frame of the station, mirrored and repeated copies included. Lengths are m, forces N.

use nalgebra::{Matrix3, Point3, Unit, Vector3};

use super::{ShapeId, StationId};

/// Parts of one copy of a fixture that move as one body, and what holds them.
#[derive(Clone, Debug)]
pub struct Body {
    /// The part's name, or the fixture's where one set of locators holds all its parts; with the copy's number.
    pub name: String,
    /// The same without the number: alike on every station and copy of one fixture.
    pub drawn_as: String,
    /// Its fixture.
    pub fixture: String,
    /// The station it lies on.
    pub station: StationId,
    /// Which copy on that station, from 0: parts of one copy become one weldment.
    pub copy: usize,
    /// Directions of the fixture in the station frame: the identity, or a mirror.
    pub station_from_fixture: Matrix3<f64>,
    /// Origin of the copy in the station frame.
    pub origin: Vector3<f64>,
    /// Its solids.
    pub shapes: Vec<ShapeId>,
    /// What it rests on.
    pub locators: Vec<Locator>,
    /// What presses it, in closing order.
    pub clamps: Vec<Clamp>,
    /// Its mass (kg) and centre of mass, where stated: only then weight helps to seat it.
    pub mass: Option<(f64, Point3<f64>)>,
    /// Whether its mirror image is made as well, so that it could be loaded in its place.
    pub other_hand: bool,
}

impl Body {
    /// A point of the station frame in the frame of the fixture, as the file writes it.
    #[must_use]
    pub fn in_fixture(&self, point: &Point3<f64>) -> Point3<f64> {
        Point3::from(self.station_from_fixture.transpose() * (point.coords - self.origin))
    }

    /// The other way round.
    #[must_use]
    pub fn in_station(&self, point: &Point3<f64>) -> Point3<f64> {
        Point3::from(self.station_from_fixture * point.coords + self.origin)
    }
}

/// A place of the fixture that a part rests against.
#[derive(Clone, Debug)]
pub struct Locator {
    /// Name in the file.
    pub name: String,
    /// What it is.
    pub kind: LocatorKind,
    /// Where it touches; of a vee a point on the axis of the round that lies in it.
    pub at: Point3<f64>,
    /// Pads, stops, vees: from the locator into the part. Pins: their axis. Slot pins: the direction in which they hold.
    pub direction: Unit<Vector3<f64>>,
    /// How far its own place may be off, along each direction it holds in, either way.
    pub tolerance: f64,
    /// How far it may be worn before it is replaced.
    pub wear: f64,
    /// How far the face or hole of the part that meets it may be off, either way.
    pub part_tolerance: f64,
    /// Hole or slot less pin, across.
    pub play: f64,
}

/// What a locator is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LocatorKind {
    /// Carries from below.
    Pad,
    /// Stops an edge.
    Stop,
    /// Round pin in a round hole: holds both ways square to its axis.
    Pin,
    /// Pin in a slot: holds one way only.
    SlotPin,
    /// Two flanks for something round.
    Vee {
        /// Where its groove leads.
        along: Unit<Vector3<f64>>,
        /// Angle between its flanks, rad.
        opening: f64,
    },
}

impl LocatorKind {
    /// The word for it in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Pad => "pad",
            Self::Stop => "stop",
            Self::Pin => "pin",
            Self::SlotPin => "slot_pin",
            Self::Vee { .. } => "vee",
        }
    }
}

/// How a clamp presses.
#[derive(Clone, Debug)]
pub struct Clamp {
    /// Name in the file.
    pub name: String,
    /// Where it touches the part.
    pub at: Point3<f64>,
    /// The way it pushes.
    pub direction: Unit<Vector3<f64>>,
    /// With what force.
    pub force: f64,
    /// Whether air closes it, else a hand.
    pub by_air: bool,
}

/// What is allowed at a joint for the weld to count as on it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Allowed {
    /// Wire off the joint square to travel and wire; half the wire's diameter where the file does not say.
    pub across: Option<f64>,
    /// Joint nearer or farther along the wire; the tolerance of the tip distance where the file does not say.
    pub along_wire: Option<f64>,
    /// Gap between the parts; the wire's diameter where the file does not say.
    pub gap: Option<f64>,
}

/// What varies from part to part, person to person, day to day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Variation {
    /// Whether programs are used as downloaded; else each station's program was touched up on a middling part.
    pub downloaded: bool,
    /// Weldments drawn.
    pub parts: u32,
    /// Share of weldments with every seam hit that is asked.
    pub asked: f64,
    /// A tolerance is so many standard deviations of a normal error.
    pub sigmas: f64,
    /// How far a part may stay off a pad, stop or vee when somebody loads it.
    pub loading: f64,
    /// How far the faces of a joint may be off from what locates the part: size, bend, twist; either way.
    pub joint: f64,
    /// Largest gap left between parts that should touch.
    pub gap: f64,
    /// How far one fixture may be off from its drawn place on its station, in each direction.
    pub fixture: f64,
    /// Where an indexed turning axis may stop, rad, either way.
    pub index: f64,
    /// Pose repeatability of the arm by ISO 9283: a radius, mean plus three standard deviations.
    pub arm_repeatability: f64,
    /// Accuracy of the arm as a radius of the same kind: where it goes against where an offline program sends it.
    pub arm_accuracy: f64,
    /// How far the tool centre point may be off in each direction.
    pub tool_centre: f64,
    /// How far cast, twist and tip wear carry the wire end sideways, either way.
    pub wire: f64,
    /// How much warmer than the fixture a part may be, K.
    pub warmer: f64,
    /// Growth of the parts, 1/K.
    pub expansion: f64,
    /// How closely one touch search finds a face, either way.
    pub search: f64,
    /// Time of one touch search in one direction, s.
    pub search_time: f64,
    /// How closely tracking through the arc keeps the wire on the joint, either way.
    pub tracking: f64,
    /// From how far off tracking finds the joint.
    pub tracking_reach: f64,
}
