//! Expected values printed in a standard, paper or data sheet, or computed with a named general reference library.
//! One CSV a source stands in `data/published`; every row carries its source.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod arcs;
mod cost;
mod fit_up;
mod kinematics;
mod motion;
mod process;
mod separation;
mod station;
mod torch;
mod weld_position;
