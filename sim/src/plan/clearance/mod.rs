//! Decides how near the arm and the torch come to everything else, and whether that is near enough to refuse.
//!
//! A [`Scene`] is everything that stands still while one station is welded, together with the bodies the arm carries. Asked
//! distances come from the cell's [`ClearanceRules`](crate::cell::ClearanceRules): which one holds for which pair of bodies is
//! decided in `asked`, what comes near each other when external axes move in `turning`, what the arm carries in `carried` and `nozzle`, what is shown of a whole interval
//! and not of one moment in `open` and `spread`, and every distance comes from the collision library behind `parry`.
//!
//! Closed meshes are solid, open ones are shells. Weld beads already laid are not modelled.

mod asked;
mod carried;
mod nozzle;
mod open;
mod parry;
mod scene;
mod spread;
mod still;
mod turning;

pub use asked::{Skipped, Why};
pub use nozzle::Front;
pub(in crate::plan) use open::{Group, Looked, OpenPair, Spread, TorchSpread};
pub(crate) use parry::{Extent, Hull};
pub use scene::{AtSeam, Gap, PairId, Scene};
pub(crate) use spread::{Joint, arm_joints, external_joints, farthest_from, longest_from, round_about};
pub use still::Still;
