//! Tells whether a welding robot can weld a part, and how long it takes, before the fixture is cut.
//!
//! Data goes one way: files → [`cell`] → [`plan`] → schedule → findings → report. Start reading at [`cell::Cell`].

pub mod cell;
pub mod plan;
pub use seamwright_kinematics::units;
