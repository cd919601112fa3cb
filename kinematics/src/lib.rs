//! Six-axis arms: where every link stands, how fast the tool moves, and every way to reach a pose.
//!
//! Start with [`Arm`]. This crate knows no welding and opens no file.
//!
//! - [`arm`]: what an arm is, forward and differential kinematics
//! - [`inverse`]: every axis vector that reaches a pose
//! - [`document`]: TOML texts read so that every problem is reported at once
//! - [`units`]: the one place where units are converted

mod arm;
pub mod document;
mod inverse;
pub mod units;

pub use arm::{Arm, Axis, AxisValues, Based, Basis, Forward, Pose, Range};
pub use inverse::{ReachBound, Shortfall, Solution, Solutions};
