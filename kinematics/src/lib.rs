//! Six-axis arms: where every link stands, how fast the tool moves, and every way to reach a pose.
//!
//! Start with [`Arm`], made by an [`ArmBuilder`], from the text of an arm file ([`read_arm`]) or of a URDF ([`arm_from_urdf`]). This
//! crate knows no welding and opens no file.
//!
//! - `arm`: what an arm is, forward and differential kinematics
//! - `angle`, `turn`: sines and angles, many at once; angles carried as cosine and sine
//! - `differential`: axis rates for a motion of the tool, and how they grow near a singularity
//! - `enclosure`: how far the axes can travel while the tool stays near a place
//! - `inverse`: every axis vector that reaches a pose
//! - `plain`, `usual`, `skew_ways`: the same in plain arithmetic, eight at once, where nothing is singular
//! - `descent`: the nearest place to one out of reach
//! - `correction`: from next to a solution to it, or to where two of them touch
//! - `free_motion`: where axes can move while the flange rests, and the stance that stands for all
//! - `limits`: ranges and speeds of axes and motors, and what exceeds them
//! - `coupling`, `dependent_range`: limits that are not those of one axis by itself
//! - `envelope`, `region`: where a point of the arm can be at all
//! - `turns`: the same places a whole turn away
//! - `builder`, `arm_file`, `urdf`, [`description`]: how an arm is written down
//! - `written`: how serde writes it
//! - `configuration`: words for how an arm stands, and how near it is to a singularity
//! - [`placement`]: how a file writes where something stands
//! - [`document`]: TOML texts read so that every problem is reported at once
//! - [`units`]: the one place where units are converted

mod angle;
mod arm;
mod arm_file;
mod builder;
mod circle_roots;
mod clear_zeros;
mod configuration;
mod correction;
mod coupling;
mod dependent_range;
mod descent;
pub mod description;
mod differential;
pub mod document;
mod drive_tables;
mod enclosure;
mod envelope;
mod free_motion;
mod general;
mod inverse;
mod limits;
mod lines;
mod load;
mod nearest;
mod no_zeros;
mod offset_wrist;
pub mod placement;
mod plain;
mod region;
mod skew_shoulder;
mod skew_ways;
mod solver;
mod spherical_wrist;
mod three_parallel;
mod turn;
mod turns;
pub mod units;
mod urdf;
mod usual;
mod wrist;
mod written;
mod zeros;

pub use arm::{Arm, Axis, AxisValues, Based, Basis, Forward, Pose, Range, Stands};
pub use arm_file::{
    ASSUMED_PATH_DEVIATION, ASSUMED_TIME_TO_ACCELERATION, ASSUMED_TIME_TO_SPEED, ArmFile, LoadShare,
    confirm_solvable, read_arm,
};
pub use builder::{ArmBuilder, AxisLimits, BuildError};
pub use configuration::{Configuration, Elbow, Shoulder, Singularity, Wrist};
pub use coupling::{Coupling, Motor, MotorValues, NotInvertible};
pub use dependent_range::{DependentRange, DependentRangeError, RangePoint};
pub use differential::{Dexterity, Nearness, NoRates, SingularityRates, Travel};
pub use enclosure::{ToolBall, ToolRates, Travelled, Unbounded};
pub use envelope::{Envelope, Traced};
pub use inverse::{ReachBound, Shortfall, Solution, Solutions};
pub use limits::{Drive, RangeUse, SpeedUse};
pub use load::load_share;
pub use region::Region;
pub use solver::{Geometry, Unsolved};
pub use turns::TurnsInRange;
pub use urdf::{UrdfArm, UrdfAxis, UrdfError, UrdfShape, UrdfSolid, arm_from_urdf};
