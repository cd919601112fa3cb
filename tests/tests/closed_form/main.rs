//! What can be derived on paper; the derivation stands beside each check.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod coordinated;
mod fit_up;
mod moment;
mod plant;
mod safety;
mod shifts;
mod singularity;
