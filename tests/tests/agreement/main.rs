//! Two independent methods that must give the same answer: our arm against other libraries.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod calibration;
mod ik_geo;
mod kinematics;
mod path_file;
mod shifts;
mod solution_sets;
