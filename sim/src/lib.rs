//! Tells whether a welding robot can weld a part, and how long it takes, before the fixture is cut.
//!
//! Data goes one way: files → [`cell`] → [`plan`] → [`schedule`] (with the time arithmetic of [`motion`]) → [`production`] →
//! [`findings`] → [`report`]. Start reading at [`check::check`].

pub mod advice;
pub mod by_hand;
pub mod cell;
pub mod check;
pub mod findings;
pub mod fitup;
pub mod motion;
pub mod order;
pub mod plan;
pub mod production;
pub mod report;
pub mod safety;
pub mod schedule;
mod streams;
pub use seamwright_kinematics::units;
