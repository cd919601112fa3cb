//! Decides what hangs on the flange: the torch's shapes, its wire end, and the turn its hose allows.
//!
//! Tool frame: origin at the wire end at the nominal tip-to-work distance, +Z along the wire toward the work, +X in the
//! plane of the neck toward the flange side.

use nalgebra::Point3;
use seamwright_kinematics::{AxisValues, Pose, Range};

use super::Solid;

/// What a torch shape is, which decides the clearance asked of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum TorchPart {
    /// Neck, body, bracket.
    Body,
    /// Gas nozzle.
    Nozzle,
    /// Bare wire from the contact tip to the wire end.
    Wire,
}

/// A shape fixed to the flange.
#[derive(Clone, Debug)]
pub struct TorchShape {
    /// Name in the file.
    pub name: String,
    /// What it is.
    pub part: TorchPart,
    /// `flange_from_shape`.
    pub flange_from_shape: Pose,
    /// The solid.
    pub solid: Solid,
}

/// A torch as mounted.
#[derive(Clone, Debug)]
pub struct Torch {
    /// Name in the file.
    pub name: String,
    /// `flange_from_tool`.
    pub flange_from_tool: Pose,
    /// Contact tip to wire end at the tool frame, m.
    pub nominal_ctwd: f64,
    /// Diameter of the wire, m.
    pub wire_diameter: f64,
    /// All shapes; the wire is as long as `nominal_ctwd`.
    pub shapes: Vec<TorchShape>,
    /// Mass of torch, bracket and cable share on the flange, kg.
    pub mass: f64,
    /// Its centre in the flange frame, where stated.
    pub centre_of_mass: Option<Point3<f64>>,
    /// Greatest moment of inertia about any line through that centre, kg m², where stated.
    pub inertia: Option<f64>,
    /// Turn that the hose allows.
    pub dress: DressLimits,
    /// The space that the hose takes, where the file states it.
    pub hose: Option<Hose>,
    /// A sensor on the torch that sees the joint before the arc comes to it.
    pub sensor: Option<Sensor>,
}

/// A sensor that tracks the joint; its body is one of the torch's shapes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensor {
    /// How far before the wire end it looks at the joint, along tool +X, m.
    pub look_ahead: f64,
    /// How far the torch may be turned about the wire with the joint still in its sight, to either side, rad.
    pub turn_tolerance: f64,
}

/// The space that the hose takes between the forearm and the neck: a round bar with round ends along some points, of which the first
/// go with the forearm and the others with the torch. In between it is taken to go straight.
#[derive(Clone, Debug)]
pub struct Hose {
    /// Of the bar, with the room that the hose needs to hang and swing, m.
    pub radius: f64,
    /// The link that the forearm's points go with, 3 or 4.
    pub forearm_link: usize,
    /// In that link's frame, from the arm outward; at least one.
    pub forearm: Vec<Point3<f64>>,
    /// In the flange's frame, on toward the neck; at least one.
    pub torch: Vec<Point3<f64>>,
}

/// A torch whose file stands beside that of the cell's torch.
#[derive(Clone, Debug)]
pub struct SpareTorch {
    /// As `[torch]` would name its file.
    pub file: String,
    /// What it describes.
    pub torch: Torch,
}

/// Allowed turn of the wrist axes before the hose tears or kinks; binds like axis limits.
#[derive(Clone, Copy, Debug, Default)]
pub struct DressLimits {
    /// Axis 4 alone, rad.
    pub axis4: Option<Range>,
    /// Axis 6 alone, rad.
    pub axis6: Option<Range>,
    /// Axis 4 plus axis 6, rad: the twist of a hose fixed at the forearm and at the torch.
    pub axis4_plus_axis6: Option<Range>,
}

impl DressLimits {
    /// The limits that are set, each with its name and the value it binds at `axes`.
    pub fn values(&self, axes: &AxisValues) -> impl Iterator<Item = (&'static str, Range, f64)> {
        [
            ("hose limit on axis 4", self.axis4, axes[3]),
            ("hose limit on axis 6", self.axis6, axes[5]),
            ("hose limit on axis 4 + axis 6", self.axis4_plus_axis6, axes[3] + axes[5]),
        ]
        .into_iter()
        .filter_map(|(name, range, value)| range.map(|range| (name, range, value)))
    }

    /// The name of a limit that may be passed where every axis may be anywhere within `around` (rad, at least 0) of `axes`.
    #[must_use]
    pub fn excess_around(&self, axes: &AxisValues, around: &AxisValues) -> Option<&'static str> {
        let [low, high] = [axes - around, axes + around];
        let passed = self.values(&low).chain(self.values(&high));
        passed.filter(|(_, range, value)| range.excess(*value) > 0.0).map(|(name, ..)| name).next()
    }
}
