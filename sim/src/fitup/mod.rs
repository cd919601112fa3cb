//! Decides whether the wire will still hit the joint when another person loads the part.
//!
//! - `contact`, `locating`, `pressing`: what locators take, what is left free, what fights, whether clamps seat the part
//! - `displacement`, `resting`: how a part comes to lie when locators and faces are off
//! - `cause`: everything that shifts the wire, and by which law
//! - `scheme`, `shift`, `correction`, `spread`: what each error does at each seam, what searches take away, and what is left
//! - `sampling`: how many weldments come out with every seam hit
//! - `remedies`, `searching`: what each change is worth
//! - `touching`: what touches no part
//! - `loading`, `poka_yoke`, `turns`, `vee`: how parts come out, and wrong ways in
//! - `answer`: all of it for a cell
//!
//! Parts and fixture are rigid, contacts have no friction and faces are plane where locators touch them.

mod answer;
pub mod cause;
mod common_cause;
pub mod contact;
mod correction;
pub mod displacement;
mod loading;
pub mod locating;
mod poka_yoke;
pub mod pressing;
pub mod remedies;
mod resting;
pub mod sampling;
pub mod scheme;
mod seam_frame;
pub mod searching;
pub mod shift;
pub mod spread;
mod touching;
mod turns;
mod vee;

pub use answer::{BodyFitUp, FitUp, Needs, SeamFitUp, fit_up};
pub use loading::{Loading, STEP_MM};
pub use poka_yoke::{WrongWay, WrongWays};
pub use touching::InTheAir;
