//! Shows a welding cell at work, lets a person move its arm by hand, and teaches it.
//!
//! Nothing here decides anything about the cell: places, angles, distances, speeds, verdicts and stops are what public functions of
//! `seamwright-kinematics` and `seamwright-sim` return. Start reading at [`logic`].
//!
//! - [`site`]: a cell as its files say it
//! - [`show`]: a cell with everything that was learnt about it
//! - [`logic`]: what is watched, moved, practised; runs without a picture
//! - [`place`]: the one place where our axes become Bevy's
//! - [`draw`]: solids, seams, light and camera
//! - [`graphics`]: whether there is a driver, and how much a frame may cost it
//! - [`screen`]: words, gauges, charts and keys
//! - [`picture`]: pictures without a window
//! - [`window`]: the window; `rest` decides when it is drawn anew
//! - [`command`]: what the command line may say

#![allow(
    clippy::too_many_arguments,
    clippy::type_complexity,
    reason = "a Bevy system says in its arguments what it needs"
)]

pub mod command;
pub mod draw;
pub mod graphics;
pub mod logic;
pub mod picture;
pub mod place;
mod rest;
pub mod screen;
pub mod show;
pub mod site;
pub mod window;
