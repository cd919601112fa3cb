//! Decides whether the wire will still hit the joint when another person loads the part.
//!
//! - `contact`, `locating`: what locators take, what is left free, what fights
//! - `idle_turn`: a round part that can turn about its own line and is located all the same
//! - `pressing`, `carrying`, `friction`: whether clamps seat the part, with which forces, and what only friction could hold
//! - `displacement`, `resting`, `tendency`, `going_on`: how a part comes to lie when locators and faces are off, and whether it goes on at
//!   all
//! - `cause`: everything that shifts the wire, and by which law; `gap`, `drawn_gap`: which way a joint opens, and how
//!   far it is open as drawn
//! - `scheme`, `shift`, `body_shift`, `local`, `correction`, `spread`, `span`: what each error does at each seam, what searches take away, and what is left
//! - `taught_off`: how far a taught way passes the joint; `sensor_view`: where a sensor has seen it
//! - `sampling`: how many weldments come out with every seam hit
//! - `change`, `remedies`, `moving`, `searching`, `offered_search`: what could be changed, what that is worth, and what time it takes
//! - `touching`, `pin_in_hole`, `drawn_holes`, `drawn_play`, `pressed_still`: what touches no part; pins looser than written; whether clamps that were moved press it as before
//! - `loading`, `poka_yoke`, `turns`, `sameness`, `vee`: how parts come out, and wrong ways in
//! - `pin_places`, `hole_pairs`, `convex`: where pins may stand in holes, and in which turns all do
//! - `needs`: what a seam needs after download
//! - `answer`: all of it for a cell
//!
//! Parts and fixture are rigid, contacts have no friction and faces are plane where locators touch them.

mod answer;
mod body_shift;
pub mod carrying;
pub mod cause;
mod change;
mod common_cause;
pub mod contact;
mod convex;
mod correction;
pub mod displacement;
mod drawn_gap;
mod drawn_holes;
mod drawn_play;
mod friction;
pub mod gap;
mod going_on;
mod hole_pairs;
mod idle_turn;
mod loading;
mod local;
pub mod locating;
mod moving;
mod needs;
pub mod offered_search;
mod pin_in_hole;
mod pin_places;
mod poka_yoke;
mod pressed_still;
pub mod pressing;
pub mod remedies;
mod resting;
mod sameness;
pub mod sampling;
pub mod scheme;
mod seam_frame;
pub mod searching;
pub(crate) mod sensor_view;
pub mod shift;
mod span;
pub mod spread;
mod taught_off;
mod tendency;
mod touching;
mod turns;
mod vee;

pub use answer::{BodyFitUp, FitUp, SeamFitUp, fit_up};
pub use drawn_play::LoosePin;
pub(crate) use loading::farthest_along;
pub use loading::{Loading, STEP_MM};
pub use needs::Needs;
pub use offered_search::Planned;
pub use poka_yoke::{WrongWay, WrongWays};
pub use pressed_still::presses_still;
pub use touching::{Askew, InTheAir, Off};
