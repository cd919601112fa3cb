//! Decides how long a movement takes and where it is at any time: limits in, profile out; pure time arithmetic.
//!
//! Every movement but a weld starts and ends at rest. Leaves to `plan` where the arm goes and to `schedule` in which order.
//!
//! - [`Profile`]: distance over time within limits of speed, acceleration and jerk
//! - [`AxisMove`]: the arm straight in axis space
//! - [`Curve`]: a smooth way of any number of axes: a spline, or straight with rounded corners
//! - [`TimedWay`]: a curve within limits of every axis, beside what speeds and accelerations alone would allow
//! - [`Pace`]: what going slower leaves of the limits
//! - [`AirWay`]: the arm past places in axis space without stopping at them
//! - [`LinearMove`]: the wire end along a given path, no faster than the axes can follow
//! - [`WeldWay`]: where axes go along a weld, their rates without a jump; [`PlannedWeld`]: where rates would jump
//! - [`WeldPace`]: along a weld at travel speed, or slower where the axes cannot follow
//! - [`greatest_rate`]: how fast the wire end can get on a straight move in axis space
//! - [`ExternalMove`]: tables, positioners and tracks

mod air_way;
mod axis_move;
mod axis_path;
mod curve;
mod dips;
mod external_move;
mod fastest;
mod linear_move;
mod pace;
mod profile;
mod slow_zone;
mod timed_way;
mod weld_pace;
mod weld_way;
mod wire_end;

pub use air_way::AirWay;
pub use axis_move::AxisMove;
pub use axis_path::{AxisPath, Waypoint};
pub use curve::{Corner, Curve};
pub use external_move::ExternalMove;
pub use fastest::Grid;
pub use linear_move::{LinearMove, SlowZone, TOOL_ACCELERATION, TOOL_JERK, ToolSpeed};
pub use pace::Pace;
pub use profile::{Instant, Limits, Profile};
pub use timed_way::{AxisLimits, TimedWay, fastest_time};
pub use weld_pace::{Slowed, WeldAxes, WeldPace};
pub use weld_way::{Bend, PlannedWeld, WeldRow, WeldWay, arm_axes};
pub use wire_end::greatest_rate;
