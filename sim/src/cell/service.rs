//! Decides what a regular stop is: how long, how often, and where the arm has to go for it.

use seamwright_kinematics::Pose;

use super::ShapeId;
use super::frames::FrameId;

/// A regular stop: nozzle cleaning, wire cut, tip change, wire drum change, check of the tool centre point.
#[derive(Clone, Debug)]
pub struct ServiceStop {
    /// Name in the file.
    pub name: String,
    /// How long it takes, s, without the way there and back.
    pub duration: f64,
    /// After how many loads it comes.
    pub every_loads: u32,
    /// Where the arm goes for it; `None` where the file does not say, and then no way is in the times.
    pub device: Option<ServiceDevice>,
}

/// A device that the arm takes the torch to.
#[derive(Clone, Debug)]
pub struct ServiceDevice {
    /// The frame it stands in.
    pub frame: FrameId,
    /// `frame_from_wire_end`: the tool frame at the device, origin at the wire end at the torch's nominal CTWD.
    pub frame_from_wire_end: Pose,
    /// Whether the torch may stand at any turn about the wire.
    pub any_turn: bool,
    /// Straight way in along the wire, m.
    pub approach: f64,
    /// Tool speed on it, m/s.
    pub approach_speed: f64,
    /// Shapes that may be touched on it.
    pub touches: Vec<ShapeId>,
    /// Whether the arm may go there while a table turns.
    pub during_turn: bool,
}
