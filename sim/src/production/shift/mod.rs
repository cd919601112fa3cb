//! Decides what a whole shift makes by playing it through many times, with load times that vary, breaks, service, stoppages, parts
//! that run out, people in the light curtain, and scrap.
//!
//! - [`ShiftModel`]: what a shift is made of
//! - [`play`]: one shift, load by load, and the rules it goes by
//! - [`many`]: mean with confidence interval, where the time went, OEE
//! - [`effects`]: what each thing that can be changed is worth
//!
//! Held against SimPy, a general simulation library, in tests/agreement; against the closed forms of the period in
//! tests/closed_form.

mod knobs;
mod ledger;
mod many;
mod model;
mod play;
mod worker;

pub use knobs::{Effect, FASTER, Knob, MOST_SHIFTS, effects};
pub use ledger::{ArmTime, PeopleTime};
pub use many::{CONFIDENCE, Mean, Oee, Shifts, many};
pub use model::{Place, Service, ShiftModel, Side};
pub use play::{Played, play};
