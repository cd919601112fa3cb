//! Decides what a cell makes: how long one cycle is, who waits for whom, and how much comes out in a shift.
//!
//! One arm and one person. The arm serves the stations in file order, round and round, and the person follows: takes out and
//! loads a station when the arm has left it. Leaves cost and the comparison of cells to later.
//!
//! - [`Layout`]: what kind of cell it is, by where the stations stand
//! - [`cycle`]: the period, what binds it, and what it is promised as
//! - [`Balance`]: the load time that suits the arm
//! - [`timeline`]: one full cycle, arm and person side by side
//! - [`procedure_figures`]: what the power source settings of a procedure mean

mod balance;
mod cycle;
mod layout;
mod output;
mod procedure_figures;
mod rhythm;
mod timeline;

pub use balance::{Balance, SMALL_WAIT_SHARE, expected_wait, load_for_small_wait};
pub use cycle::{Cycle, LongRun, Promise, StationTimes, UNCALIBRATED_SHARE, cycle};
pub use layout::{CycleNotChecked, Layout};
pub use output::ShiftOutput;
pub use procedure_figures::{
    HEAT_INPUT_FACTOR_MAG, ProcedureFigures, STEEL_DENSITY, arc_energy, fillet_leg, melt_off,
    procedure_figures, wire_section,
};
pub use rhythm::{Bound, Rhythm, rhythm};
pub use timeline::{Activity, PersonStep, TimelineRow, Who, round_time, timeline};
