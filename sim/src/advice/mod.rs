//! Decides what would help: what frees a seam that does not hold, how far a fixture may stray, where it really stands.
//!
//! Everything here edits a copy of a [`Cell`](crate::cell::Cell) and asks the ordinary plan again; nothing is judged by any
//! other means.
//!
//! - `change`: a change that somebody can make in the files, and the cell with it made
//! - `grid`: which changes are tried, in which steps, and what counts as near
//! - `culprits`: which shapes must give way
//! - `fouling`: whether what is moved runs into what stands there
//! - `freeing`: the search for the nearest change that frees a seam
//! - `pairs`: two changes together, for a seam that no single one frees
//! - `together`: changes that free all of them at once
//! - `comfort`: how far a fixture may stray before a seam's taught way is lost
//! - `as_built`: where a fixture really stands

mod as_built;
mod change;
mod comfort;
mod culprits;
mod fouling;
mod freeing;
mod grid;
mod pairs;
mod together;

pub use as_built::{AsBuilt, AsBuiltError, Touched, as_built};
pub(crate) use change::stands_open;
pub use change::{Angle, Change, Kind};
pub use comfort::{Comfort, SHIFTS_MM, TURNS_DEG, comfort};
pub use freeing::{Advice, NotLooked, Offer, SeamAdvice, advise};
pub use grid::{Grid, Steps, aim, grid, pass_aim};
pub use together::Together;
