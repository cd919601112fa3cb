//! Tells whether a welding robot can weld a part, and how long it takes, before the fixture is cut.
//!
//! Data goes one way: files → [`cell`] → [`plan`] → [`schedule`] → [`production`] → findings → report. Start reading at [`cell::Cell`].

pub mod cell;
pub mod motion;
pub mod plan;
pub mod production;
pub mod schedule;
pub use seamwright_kinematics::units;
