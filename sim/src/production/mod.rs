//! Decides what a cell makes: how long one cycle is, who waits for whom, and how much comes out in a shift.
//!
//! One arm, one or more people. The arm serves the stations in file order, round and round, and the people follow: take out and load a
//! station when the arm has left it, or the side of a table that then stands before them. Leaves the comparison of cells to later.
//!
//! - [`Layout`]: what kind of cell it is, by where the stations stand
//! - [`cycle`]: the period, what binds it, and what it is promised as
//! - [`Balance`]: the load time that suits the arm
//! - [`timeline`]: one full cycle, arm and person side by side
//! - [`calibration`]: what measured times say of the arm
//! - [`estimate`]: what can be promised at a first visit, without geometry
//! - [`job`]: which part family sizes the cell, and whether all of them fit the hours
//! - [`procedure_figures`]: what the power source settings of a procedure mean
//! - [`weld_metal`], [`heat`], [`takt`], [`cost`]: plain arithmetic on SI numbers, for cells and for rough estimates alike

mod balance;
mod beside_turn;
pub mod calibration;
mod circles;
mod consumption;
pub mod cost;
mod cycle;
mod day_times;
pub mod estimate;
mod first_visit;
pub mod heat;
mod instant;
pub mod job;
mod layout;
mod long_run;
mod outlook;
mod output;
mod procedure_figures;
mod promise;
mod range;
mod returns;
mod rhythm;
mod round;
mod rounding;
mod running;
mod seam_moves;
mod service;
pub mod shift;
pub mod takt;
mod timeline;
mod undisturbed;

pub use crate::cell::weld_metal;
pub use balance::{Balance, SMALL_WAIT_SHARE, expected_wait, load_for_small_wait};
pub use beside_turn::{BesideTurn, Meets, beside_turns};
pub use consumption::{Consumption, consumption};
pub use cycle::{Cycle, Promise, StationTimes, UNCALIBRATED_SHARE, cycle};
pub use day_times::{ArmTimes, PeopleTimes, people_times};
pub use first_visit::{BesideTable, DrawnRow, RowBeside, beside_table};
pub use instant::{ArmDay, Doing, Span};
pub use layout::{CycleNotChecked, Layout, LayoutKind, Site, Table};
pub use outlook::{DemandMet, Outlook, PlayedShifts, outlook};
pub use output::ShiftOutput;
pub use procedure_figures::{Asked, LEAST_FILLED, MOST_FILLED, ProcedureFigures, procedure_figures};
pub use range::Range;
pub use returns::{HandReturns, OnceCost, Returns, Three};
pub use rhythm::{Bound, Rhythm, rhythm};
pub use round::{PaceOf, PaceStep, RoundTimes, round_period};
pub use rounding::{RoundingEffect, rounding_effect};
pub use running::running;
pub use seam_moves::SeamMove;
pub use service::{ServiceStep, StopTime, StopTimes, service_steps};
pub use timeline::{Activity, PersonStep, TimelineRow, Who, round_time, timeline};
