//! What must hold for any input.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod all_but_singular;
mod enclosure;
mod kinematics;
mod limits;
mod planted;
