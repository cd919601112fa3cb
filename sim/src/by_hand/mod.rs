//! Decides what happens when a person moves the arm by hand: how far a step goes, what stops it, how the torch stands against a
//! joint, and what practice is worth.
//!
//! Nothing here plans. Speeds are those of manual control; a real teach pendant, its enabling device and the local rules decide
//! what is allowed on a real floor.

mod against_joint;
mod jog;
mod off_seam;
mod other_ways;
#[cfg(test)]
mod tests;
mod tool_centre;

pub use against_joint::{AgainstJoint, against_joint};
pub use jog::{Around, Jog, JogFrame, Jogged, Jogger, MANUAL_SPEED, MANUAL_TURN, Slowed, Stop};
pub use off_seam::off_seam;
pub use other_ways::other_ways;
pub use tool_centre::{TooFewPoses, ToolCentre, tool_centre};
