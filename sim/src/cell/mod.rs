//! Decides what the user's files describe: where everything stands, what is to be welded and how.
//!
//! [`read::read_cell`] turns files into a [`Cell`] or into every problem they have. A `Cell` is resolved: fixtures are
//! placed on their stations, mirrored and repeated, normals found, units SI, names checked.

mod arc_process;
mod calibration;
mod drawn;
mod elements;
mod first_visit;
mod fit_up;
pub mod frames;
mod job;
mod loads;
pub mod mesh;
mod money;
mod procedure;
pub mod read;
mod rough;
mod safety;
mod seam;
mod search;
mod sequence;
mod service;
mod shift;
mod solid;
mod station;
mod stopping;
mod tack;
mod taught;
mod torch;
mod weave;
pub mod weld_metal;
mod weld_position;
mod weld_speed;
mod welded_over;

pub use arc_process::ArcProcess;
pub use calibration::{Calibration, Measured, Measurement};
pub use drawn::{Drawn, DrawnPiece, Placing};
pub use elements::{ArcElements, NearPart, Signals};
pub use first_visit::FirstVisit;
pub use fit_up::{Allowed, Body, Clamp, Locator, LocatorKind, Variation};
pub use job::{Job, JobSource, Mix};
pub use loads::{ArmRatings, AxisRating, StationMass};
pub use money::{ByHand, Demand, Guess, Money, Once, Rework};
pub use procedure::{Band, Bands, Corners, Ends, FilletSize, Offset, Pass, Procedure, Settings, Tracked};
pub use rough::{Carried, CarriedBy, Given, RoughClamp, RoughJob, RoughSeam, RoughSize};
pub use safety::{Active, Detection, Device, Guard, Opening, OpeningShape, Region, Zone, ZoneId, ZoneRole};
pub use seam::{CornerZone, Form, Joint, Piece, Run, Seam, SeamId, SeamPath, SeamPoint};
pub use search::{SearchedFace, TouchSearch};
pub use sequence::{Before, Cooling, Sequence};
pub use service::{ServiceDevice, ServiceStop};
pub use shift::{Break, Clock, Curtain, Law, ShiftPlay, Start, Stoppage, Stopped};
pub use solid::{Mesh, Solid, pose_along};
pub use station::{Loading, Opening as ClampOpening, Shift, Station, StationId};
pub use stopping::{EmergencyStop, Rules, Safeguarding, StopCategory, StopPlace, StoppingRow};
pub use tack::{TackedBy, Tacks};
pub use taught::{GivenMove, GivenPoint, GivenStance, GivenWay};
pub use torch::{DressLimits, Hose, Sensor, SpareTorch, Torch, TorchPart, TorchShape};
pub use weave::{Fitted, Weave, WeaveShape};
pub use weld_position::{Main, Position, Production, WeldPosition};
pub use weld_speed::{LEAST_AT_CORNER, WeldSpeed};
pub use welded_over::welded_over;

use crate::units;
use frames::{FrameId, Frames};
use seamwright_kinematics::{Arm, AxisValues, Based, LoadShare, Pose};

/// Everything the files say, resolved.
#[derive(Clone, Debug)]
pub struct Cell {
    /// Name in the file.
    pub name: String,
    /// One line on what it shows.
    pub about: String,
    /// Where everything stands.
    pub frames: Frames,
    /// The arm on its mount.
    pub arm: MountedArm,
    /// The torch on the arm.
    pub torch: Torch,
    /// Other torches on file, mounted as this one is.
    pub spare_torches: Vec<SpareTorch>,
    /// Distances asked.
    pub clearance: ClearanceRules,
    /// By how much every step of a search is divided; 1 or more.
    pub finer: u32,
    /// Every solid that is not on the arm: guards, tables, fixtures, clamps, parts.
    pub shapes: Vec<Shape>,
    /// The tables of the file that they come from: surroundings first, then fixture by fixture.
    pub drawn: Vec<Drawn>,
    /// In file order.
    pub stations: Vec<Station>,
    /// All seams, station by station, in file order within each; each pass of a weld of several is a seam of its own.
    pub seams: Vec<Seam>,
    /// What holds the parts of each fixture that has locators, station by station and copy by copy.
    pub bodies: Vec<Body>,
    /// What varies.
    pub variation: Variation,
    /// Regular stops.
    pub service: Vec<ServiceStop>,
    /// Working time, where stated.
    pub shift: Option<Shift>,
    /// How a shift is played through, where that is asked for.
    pub shift_play: Option<ShiftPlay>,
    /// How much is wanted, where stated.
    pub demand: Option<Demand>,
    /// What things cost, where stated.
    pub money: Option<Money>,
    /// Spaces, devices that watch, guards, places where people stand; in file order.
    pub zones: Vec<Zone>,
    /// How the cell is watched over, beyond its zones.
    pub safeguarding: Safeguarding,
    /// Part families it is meant for.
    pub jobs: Vec<Job>,
    /// When is worked for them, where stated.
    pub mix: Option<Mix>,
    /// What measured times say of the arm and its controller, already put in its place; none where nothing was measured.
    pub calibration: Option<Calibration>,
    /// The table of its first visit, where the file names it.
    pub first_visit: Option<FirstVisit>,
    /// What the reader assumed, repaired or left out, for the findings: one sentence each.
    pub notes: Vec<String>,
}

impl Cell {
    /// Share of the parts made that are good: all, where no scrap is stated.
    #[must_use]
    pub fn good_share(&self) -> f64 {
        1.0 - self.shift_play.as_ref().map_or(0.0, |play| play.scrap)
    }

    /// The seams of a station in the order in which they are welded.
    #[must_use]
    pub fn weld_order(&self, station: StationId) -> Vec<SeamId> {
        let of_station =
            || (0..self.seams.len()).filter(|index| self.seams[*index].station == station).map(SeamId);
        match &self.stations[station.0].weld_order {
            // Those of which only the length is known need not be in it.
            Some(order) => {
                let others = of_station().filter(|seam| !order.contains(seam));
                order.iter().copied().chain(others).collect()
            }
            None => of_station().collect(),
        }
    }
}

/// The arm, where it stands, and what it carries of its own.
#[derive(Clone, Debug)]
pub struct MountedArm {
    /// Axes and limits.
    pub arm: Arm,
    /// The frame its foot is fixed to.
    pub frame: FrameId,
    /// `frame_from_base`.
    pub frame_from_base: Pose,
    /// Shapes of the links.
    pub shapes: Vec<LinkShape>,
    /// How a URDF says that its links look; nothing is reckoned with it.
    pub looks: Option<ArmLooks>,
    /// Link pairs never checked against each other (besides neighbours), lower first.
    pub ignored_pairs: Vec<(usize, usize)>,
    /// Where the arm waits.
    pub home: AxisValues,
    /// Largest load on the flange, kg, where stated.
    pub rated_load: Option<f64>,
    /// What else it may carry.
    pub ratings: ArmRatings,
    /// What sits on its forearm, such as a wire feeder, kg, where stated.
    pub forearm_load: Option<f64>,
    /// What a real controller is stated to stray from the planned path, m; what counts is [`MountedArm::strays`].
    pub path_deviation: Based,
    /// Pace of the axes off the weld, as a share of what their limits allow: an air move takes its least possible time over it.
    pub air_move_share: Based,
    /// With which power of the pace accelerations fall: 2 where the whole motion is slowed evenly, 0 where speeds alone are cut.
    pub pace_power: f64,
    /// Whether external axes go with the arm through the air where that is shown to be clear.
    pub air_with_external: bool,
    /// How far from a place between two air moves the wire end may be where it leaves the way there to round the corner, m; 0 stops
    /// at the place.
    pub air_rounding: f64,
    /// Greatest speed of the wire end in air moves, m/s, as the arm moves it; none where only the axes limit it.
    pub air_tool_speed: Option<f64>,
    /// How long the arm takes to come to rest at a stop after its profile has ended, s.
    pub settle: f64,
    /// What a load on the flange leaves of the arm's limits, as its file says; `arm` is the one loaded with the torch.
    pub load_shares: Vec<LoadShare>,
    /// How each axis stops, where stated.
    pub stopping: [Vec<StoppingRow>; 6],
}

impl MountedArm {
    /// How far from the planned path anything may be, m: by so much every asked clearance grows, and so far the axes may leave the path
    /// where their rates would change at once. With less, they would have to stand at every corner.
    #[must_use]
    pub fn strays(&self) -> f64 {
        self.path_deviation.value.max(units::mm(LEAST_STRAY_MM))
    }
}

/// A `path_deviation_mm` below this counts as so much. Judgement, no source.
const LEAST_STRAY_MM: f64 = 0.02;

/// How the links of an arm look, by its URDF. Meshes are read only by who draws them: [`read::looks_of`].
#[derive(Clone, Debug)]
pub struct ArmLooks {
    /// The URDF, beside which its meshes are looked for.
    pub urdf: std::path::PathBuf,
    /// Its visual elements.
    pub visuals: Vec<seamwright_kinematics::UrdfShape>,
}

/// A solid fixed to a link.
#[derive(Clone, Debug)]
pub struct LinkShape {
    /// Name in the file.
    pub name: String,
    /// 0 (foot) to 6.
    pub link: usize,
    /// `link_from_shape`.
    pub link_from_shape: Pose,
    /// The solid.
    pub solid: Solid,
}

/// Index of a shape in `Cell::shapes`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShapeId(pub usize);

/// What a shape is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Belongs to the weldment.
    Part,
    /// Holds it.
    Fixture,
    /// Presses it, closed.
    Clamp,
    /// Anything else: table, guard, column, floor.
    Surroundings,
}

/// When a shape is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// Always.
    Always,
    /// While parts are loaded and clamped: whenever the station is welded.
    Loaded,
    /// Only while the station is empty or being loaded.
    Empty,
}

/// A solid in the cell.
#[derive(Clone, Debug)]
pub struct Shape {
    /// Name in the file, with the copy's number where the fixture is repeated.
    pub name: String,
    /// What it is.
    pub role: Role,
    /// When it is there.
    pub presence: Presence,
    /// The station whose fixture it belongs to.
    pub station: Option<StationId>,
    /// The frame it stands in.
    pub frame: FrameId,
    /// `frame_from_shape`.
    pub frame_from_shape: Pose,
    /// The solid.
    pub solid: Solid,
}

impl Cell {
    /// The name of a shape as it is told of at a station: with its own, where it belongs to another, whose shapes may have the same names.
    #[must_use]
    pub fn shape_name(&self, shape: ShapeId, at: StationId) -> String {
        let shape = &self.shapes[shape.0];
        match shape.station {
            Some(other) if other != at => format!("{} / {}", self.stations[other.0].name, shape.name),
            _ => shape.name.clone(),
        }
    }
}

/// Distances that must stay free, m; the arm's path deviation comes on top of each.
#[derive(Clone, Copy, Debug)]
pub struct ClearanceRules {
    /// Front of the torch to the parts its own seam joins.
    pub torch_to_joint: f64,
    /// How far behind the wire end the torch counts as its front.
    pub joint_zone: f64,
    /// Torch to everything else.
    pub torch: f64,
    /// Arm links to everything.
    pub arm: f64,
    /// Torch to arm links, and links to links.
    pub own: f64,
    /// Bare wire to anything but the parts its seam joins.
    pub wire: f64,
    /// The hose's space to everything that stands.
    pub hose: f64,
    /// What an external axis moves, to anything that does not move with it.
    pub moving_axis: f64,
    /// Whether some of them are not written in the cell file.
    pub assumed: bool,
}
