//! Decides how the arm goes: over every seam at the procedure's angles, in and out, and through the air between.
//!
//! A plan is a list of taught points joined by moves. On a seam the wire end follows the root line exactly while work angle,
//! travel angle, free turn and CTWD vary linearly in arc length between taught points; the arm is the continuous inverse of that.

mod torch_pose;

pub use torch_pose::{TorchAngles, angles_of, station_from_tool};

use seamwright_kinematics::{AxisValues, Pose, ReachBound};

use crate::cell::{SeamId, StationId, frames::ExternalValues};

/// How the arm goes over the whole cell.
#[derive(Clone, Debug)]
pub struct Plan {
    /// One for each seam of the cell, in its order.
    pub seams: Vec<SeamPlan>,
    /// One for each station, in order.
    pub visits: Vec<Visit>,
    /// Sampling, counts and weights it was made with, for the findings.
    pub effort: Effort,
}

/// The arm's way over one station, from home and back.
#[derive(Clone, Debug)]
pub struct Visit {
    /// The station.
    pub station: StationId,
    /// In order; each begins where the one before ends.
    pub moves: Vec<Move>,
    /// Seams that have a path but are not in `moves`, because they or the way to them do not hold.
    pub left_out: Vec<SeamId>,
    /// Air moves for which no clear way was found.
    pub blocked: Vec<BlockedMove>,
}

/// One move.
#[derive(Clone, Debug)]
pub struct Move {
    /// What kind.
    pub kind: MoveKind,
    /// The seam it belongs to: a weld's own, or the one that a way in or out serves.
    pub seam: Option<SeamId>,
    /// External axes at its start, and all along except in [`MoveKind::Position`].
    pub external: ExternalValues,
    /// Start to end, at least two. An axis move has exactly two; a linear move or a weld one at least every 2 mm.
    pub points: Vec<PathPoint>,
}

/// How a move goes.
#[derive(Clone, Debug, PartialEq)]
pub enum MoveKind {
    /// Straight in axis space.
    Axis,
    /// Wire end straight to the start of a weld; orientation constant.
    Approach,
    /// Wire end straight away from the end of a weld; orientation constant.
    Retract,
    /// Along the seam, lifted, from one stitch to the next.
    Shift,
    /// Arc on. `s` of its points is arc length along the seam.
    Weld {
        /// Index into the seam's runs.
        run: usize,
    },
    /// The arm stands still while external axes go to `to`.
    Position {
        /// Where they go.
        to: ExternalValues,
    },
}

/// A point of a move, exact.
#[derive(Clone, Copy, Debug)]
pub struct PathPoint {
    /// Distance of the wire end along the move (weld: along the seam), m; 0 and 1 in an axis move.
    pub s: f64,
    /// Arm axes, rad, unwrapped.
    pub axes: AxisValues,
    /// Torch angles against the seam, on a weld.
    pub angles: Option<TorchAngles>,
}

/// What was found for one seam.
#[derive(Clone, Debug)]
pub struct SeamPlan {
    /// The seam.
    pub seam: SeamId,
    /// The answer.
    pub verdict: Verdict,
    /// What stops it, where it does not hold.
    pub binding: Option<Binding>,
    /// Everything else along the seam that does not hold, one for each stretch.
    pub also: Vec<Binding>,
    /// Points to teach, way in and out included; empty unless it holds.
    pub taught: Vec<TaughtPoint>,
    /// Smallest margins, where it holds.
    pub margins: Option<Margins>,
    /// Length inside corner zones, where the angle tolerance is waived, m.
    pub waived_length: f64,
}

/// The four ends of every question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// A way was found and every sample of it keeps every limit.
    Holds,
    /// A bound shows that there is no way.
    CannotHold,
    /// No way was found at the stated resolution.
    NotFound,
    /// The question was not asked; `binding` is absent and the findings say what is missing.
    NotChecked,
}

/// A limit that is not kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Binding {
    /// Which limit.
    pub constraint: Constraint,
    /// By how much, in the constraint's own unit (m, rad, or times the limit for speeds); above 0.
    pub amount: f64,
    /// The limit itself, so that the reader can search for the number: the end of the axis or hose range that is passed
    /// (rad), the distance asked (m, path deviation included), the axis speed (rad/s); `None` where there is no such number.
    pub limit: Option<f64>,
    /// Arc length along the seam where it is worst, m; negative on the way in, beyond the length on the way out.
    pub at: f64,
    /// Stretch of the seam over which this limit fails in the best plan found, m.
    pub from: f64,
    /// End of the stretch, m.
    pub to: f64,
    /// Station frame, where it is worst.
    pub point: nalgebra::Point3<f64>,
}

/// The limits that can bind.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Constraint {
    /// The arm cannot put the torch there at any axis values (m).
    Reach(ReachBound),
    /// An axis range (0-based axis; rad).
    AxisRange(usize),
    /// A hose limit, by name (rad).
    Hose(&'static str),
    /// Two bodies come too near: the arm's or torch's, and the other (m short of what is asked).
    Clearance(String, String),
    /// The nozzle and the contact tip distance do not fit into the joint at any allowed angle: body, part (m).
    JointTooTight(String, String),
    /// An axis would have to be faster than it can be at travel speed (0-based axis; share above the limit).
    AxisSpeed(usize),
    /// The arm would have to jump from one configuration to another (rad of the largest axis step).
    Flip(usize),
}

/// The smallest distance to each kind of limit along a seam, way in and out included.
#[derive(Clone, Debug)]
pub struct Margins {
    /// Nearest axis range end: axis (0-based), rad, and where along the seam (m).
    pub axis: (usize, f64, f64),
    /// Nearest hose limit: name, rad, where.
    pub hose: Option<(&'static str, f64, f64)>,
    /// Tightest pair: bodies, distance and what is asked (m), where.
    pub clearance: Option<ClearanceMargin>,
    /// Least angle of axis 5 from its singularity, rad, where.
    pub wrist: (f64, f64),
    /// Fastest axis against its limit at travel speed: axis (0-based), share of the limit, where.
    pub speed: (usize, f64, f64),
}

/// The tightest pair of bodies on a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct ClearanceMargin {
    /// The arm's or torch's body.
    pub body: String,
    /// The other body.
    pub other: String,
    /// Distance, m.
    pub distance: f64,
    /// What is asked, path deviation included, m.
    pub asked: f64,
    /// Arc length along the seam, m.
    pub at: f64,
}

/// A point to teach.
#[derive(Clone, Debug)]
pub struct TaughtPoint {
    /// The kind of the move that ends here.
    pub kind: MoveKind,
    /// Arm axes, rad.
    pub axes: AxisValues,
    /// External axes.
    pub external: ExternalValues,
    /// `station_from_tool`: the wire end at the planned CTWD, in the station's frame.
    pub station_from_tool: Pose,
    /// Torch angles against the seam.
    pub angles: TorchAngles,
    /// Arc length along the seam, m.
    pub s: f64,
}

/// An air move for which no clear way was found.
#[derive(Clone, Debug)]
pub struct BlockedMove {
    /// Seam it comes from; `None` for home.
    pub from: Option<SeamId>,
    /// Seam it goes to; `None` for home.
    pub to: Option<SeamId>,
    /// The two bodies that are too near on the straight way.
    pub bodies: (String, String),
    /// By how much, m.
    pub short: f64,
}

/// What the search looked at.
#[derive(Clone, Copy, Debug, Default, serde::Serialize, schemars::JsonSchema)]
pub struct Effort {
    /// Step of the turn about the wire, degrees.
    pub turn_step_deg: f64,
    /// Levels of work angle, travel angle and CTWD each.
    pub levels: usize,
    /// Largest distance between layers along a seam, mm.
    pub layer_step_mm: f64,
    /// Distance between the samples in which the finished plan was checked, mm.
    pub check_step_mm: f64,
    /// Torch poses solved.
    pub poses: u64,
    /// Solutions found.
    pub solutions: u64,
    /// Whole-arm clearance queries.
    pub clearance_queries: u64,
}
