//! Decides what a zone is: a space that is kept or watched, a device that watches it, a guard, a place where a person stands.
//!
//! Words of ISO 10218 and ISO 13855. A zone is no solid: nothing collides with it, and a fence that must be kept clear of is a
//! shape as well.

use nalgebra::{Point2, Point3, UnitVector3, Vector3};
use seamwright_kinematics::Pose;

use super::frames::FrameId;
use super::station::StationId;

/// Index of a zone in `Cell::zones`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ZoneId(pub usize);

/// A part of the cell that matters to people's safety.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Name in the file.
    pub name: String,
    /// What it is.
    pub role: ZoneRole,
    /// The frame it stands in; it moves where that moves.
    pub frame: FrameId,
    /// `frame_from_zone`.
    pub frame_from_zone: Pose,
    /// Its extent in its own frame.
    pub region: Region,
    /// The station whose loading it belongs to, where stated.
    pub station: Option<StationId>,
    /// What watches here, for the roles that are devices.
    pub device: Option<Device>,
    /// What keeps people out, for a guard.
    pub guard: Option<Guard>,
}

/// What a zone is.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum ZoneRole {
    /// All that the moving parts of the robot can reach, tool and workpiece included.
    MaximumSpace,
    /// The part of it to which limiting devices restrict the arm.
    RestrictedSpace,
    /// The part of that which the task program may use.
    OperatingSpace,
    /// The space that safeguards close off.
    SafeguardedSpace,
    /// A light curtain.
    Curtain,
    /// A grid of one to four light beams.
    BeamGrid,
    /// The protective field of a scanner, or another field parallel to the way of approach.
    ScannerField,
    /// A gate with an interlock.
    Gate,
    /// A two-hand control.
    TwoHandControl,
    /// A fence or another fixed guard.
    Guard,
    /// Where a person may stand while the cell runs.
    OperatorPlace,
}

impl ZoneRole {
    /// Every role and the word for it in files.
    pub const WORDS: [(&'static str, Self); 11] = [
        ("maximum_space", Self::MaximumSpace),
        ("restricted_space", Self::RestrictedSpace),
        ("operating_space", Self::OperatingSpace),
        ("safeguarded_space", Self::SafeguardedSpace),
        ("curtain", Self::Curtain),
        ("beam_grid", Self::BeamGrid),
        ("scanner_field", Self::ScannerField),
        ("gate", Self::Gate),
        ("two_hand_control", Self::TwoHandControl),
        ("guard", Self::Guard),
        ("operator_place", Self::OperatorPlace),
    ];

    /// As it is said.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::MaximumSpace => "maximum space",
            Self::RestrictedSpace => "restricted space",
            Self::OperatingSpace => "operating space",
            Self::SafeguardedSpace => "safeguarded space",
            Self::Curtain => "light curtain",
            Self::BeamGrid => "beam grid",
            Self::ScannerField => "scanner field",
            Self::Gate => "interlocked gate",
            Self::TwoHandControl => "two-hand control",
            Self::Guard => "guard",
            Self::OperatorPlace => "operator place",
        }
    }

    /// Whether it is one of the spaces that lie in each other.
    #[must_use]
    pub fn is_space(self) -> bool {
        matches!(
            self,
            Self::MaximumSpace | Self::RestrictedSpace | Self::OperatingSpace | Self::SafeguardedSpace
        )
    }

    /// Whether what external axes move without the arm need not lie in it: maximum and restricted space are those of the robot, ISO 8373 and ISO 10218
    /// (from memory), and a table is no part of that.
    #[must_use]
    pub fn limits_the_arm_alone(self) -> bool {
        matches!(self, Self::MaximumSpace | Self::RestrictedSpace)
    }

    /// Whether it is a device that stops something when a person comes.
    #[must_use]
    pub fn is_device(self) -> bool {
        matches!(
            self,
            Self::Curtain | Self::BeamGrid | Self::ScannerField | Self::Gate | Self::TwoHandControl
        )
    }
}

/// The extent of a zone in its own frame, m.
#[derive(Clone, Debug, PartialEq)]
pub enum Region {
    /// A block centred in the frame.
    Box {
        /// Half of each edge.
        half: Vector3<f64>,
    },
    /// An upright round space centred in the frame, its axis along z.
    Cylinder {
        /// Radius.
        radius: f64,
        /// Half of its height along z.
        half_height: f64,
    },
    /// What stands on a polygon in the plane z = 0, up to `height`.
    Outline {
        /// Corners, counter-clockwise seen from +z; the last is joined to the first.
        corners: Vec<Point2<f64>>,
        /// Height along z.
        height: f64,
    },
    /// A flat rectangle in the plane y = 0: from −`half_width` to `half_width` along x and from 0 to `height` along z. A person
    /// comes through it along +y.
    Field {
        /// Half of its width along x.
        half_width: f64,
        /// Height along z.
        height: f64,
    },
}

impl Region {
    /// Its edges as pairs of points in its own frame, round ones as polygons: for drawings.
    #[must_use]
    pub fn edges(&self) -> Vec<[Point3<f64>; 2]> {
        /// Corners of the polygon that stands for a circle.
        const ROUND: usize = 48;
        let (corners, low, high) = match self {
            Self::Box { half } => (
                [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
                    .map(|(x, y)| Point2::new(x * half.x, y * half.y))
                    .to_vec(),
                -half.z,
                half.z,
            ),
            Self::Cylinder { radius, half_height } => (
                (0..ROUND)
                    .map(|step| {
                        let (sin, cos) = (std::f64::consts::TAU * step as f64 / ROUND as f64).sin_cos();
                        Point2::new(radius * cos, radius * sin)
                    })
                    .collect(),
                -half_height,
                *half_height,
            ),
            Self::Outline { corners, height } => (corners.clone(), 0.0, *height),
            Self::Field { half_width, height } => {
                let at = |x: f64, z: f64| Point3::new(x * half_width, 0.0, z * height);
                let corners = [at(-1.0, 0.0), at(1.0, 0.0), at(1.0, 1.0), at(-1.0, 1.0)];
                return (0..4).map(|k| [corners[k], corners[(k + 1) % 4]]).collect();
            }
        };
        let round = matches!(self, Self::Cylinder { .. });
        let count = corners.len();
        let at = |corner: usize, z: f64| Point3::new(corners[corner].x, corners[corner].y, z);
        (0..count)
            .flat_map(|corner| {
                let next = (corner + 1) % count;
                // Of a round space a few upright lines are enough.
                let upright =
                    (!round || corner % (ROUND / 8) == 0).then(|| [at(corner, low), at(corner, high)]);
                [[at(corner, low), at(next, low)], [at(corner, high), at(next, high)]]
                    .into_iter()
                    .chain(upright)
            })
            .collect()
    }
}

/// A device that stops something when a person comes.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// What it can still make out, or its beams.
    pub detection: Detection,
    /// From the person's coming to its output, s, where stated.
    pub response: Option<f64>,
    /// Whether it stops the arm.
    pub stops_arm: bool,
    /// Which external axes it stops, by index.
    pub stops_axes: Vec<usize>,
    /// When it watches.
    pub active: Active,
    /// Of one that does not watch all the time: whether the file says that what it stops sets out only after a signal from outside its
    /// field, given where all that is behind it is seen.
    pub starts_from_outside: bool,
    /// The intrusion distance of the standard's table for reaching over its upper edge, m, where the user looked it up.
    pub reach_over: Option<f64>,
    /// The way a person walks into a field parallel to the floor, in the zone's own frame.
    pub into: Option<UnitVector3<f64>>,
    /// The intrusion distance to use with a gate or a two-hand control, m, where the user states it.
    pub intrusion: Option<f64>,
}

/// How a device makes out that a person comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Detection {
    /// Diameter of the smallest thing it is sure to make out, m.
    Resolution(f64),
    /// Number of beams, 1 to 4.
    Beams(u32),
    /// By the opening of a gate, or by the release of a button.
    Contact,
}

/// When a device watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Active {
    /// Whenever the cell runs.
    Always,
    /// While one of the external axes that it stops moves; between, a person may stand in it to load.
    WhileAxesMove,
    /// While the arm is at the device's station, or moves to it or from it; else a person may stand in it to load.
    WhileArmHere,
}

/// What keeps people out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// The distance of the standard's table for reaching over, m, where the user looked it up.
    pub reach_over: Option<f64>,
    /// The same for reaching under its lower edge.
    pub reach_under: Option<f64>,
    /// The same for reaching through its openings.
    pub reach_through: Option<f64>,
    /// The same for reaching around its ends.
    pub reach_around: Option<f64>,
    /// Its openings: none where it is closed.
    pub opening: Option<Opening>,
    /// Whether people come from where the arm's foot is not, since no side is stated.
    pub faces_foot: bool,
}

/// Openings in a guard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Opening {
    /// What shape they have.
    pub shape: OpeningShape,
    /// Smallest side of a slot, side of a square, diameter of a hole, m.
    pub size: f64,
}

/// Shape of an opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpeningShape {
    /// Long and narrow.
    Slot,
    /// Square.
    Square,
    /// Round.
    Round,
}
