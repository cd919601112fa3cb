//! Decides how long a movement takes and where it is at any time: limits in, profile out; pure time arithmetic.
//!
//! Every movement starts and ends at rest. Leaves to `plan` where the arm goes and to `schedule` in which order.
//!
//! - [`Profile`]: distance over time within limits of speed, acceleration and jerk
//! - [`AxisMove`]: the arm straight in axis space
//! - [`LinearMove`]: the wire end along a given path, no faster than the axes can follow
//! - [`ExternalMove`]: tables, positioners and tracks

mod axis_move;
mod axis_path;
mod external_move;
mod linear_move;
mod profile;

pub use axis_move::AxisMove;
pub use axis_path::{AxisPath, Waypoint};
pub use external_move::ExternalMove;
pub use linear_move::{LinearMove, TOOL_ACCELERATION, TOOL_JERK};
pub use profile::{Instant, Limits, Profile};
