//! What the viewer does, so far without its picture: a cell is watched at work, its arm is moved by hand, lessons are practised.
//!
//! Nothing here decides anything about the cell: places, angles, distances, speeds, verdicts and stops are what public functions of
//! `seamwright-kinematics` and `seamwright-sim` return. Start reading at [`logic`].
//!
//! - [`show`]: a cell with everything that was learnt about it
//! - [`logic`]: what is watched, moved, practised
//! - [`place`]: the one place where our axes become Bevy's

#![allow(
    clippy::too_many_arguments,
    clippy::type_complexity,
    reason = "a Bevy system says in its arguments what it needs"
)]

pub mod logic;
pub mod place;
pub mod show;
