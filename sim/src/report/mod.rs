//! Shows findings: on the terminal, as tables, as drawings. Decides nothing about the cell: what is shown here was found elsewhere.
//!
//! - [`terminal`]: the text on the screen
//! - [`arm`]: what is said of an arm by itself
//! - [`calibration`]: what was fitted to measured times
//! - [`estimate`]: what can be promised at a first visit
//! - [`drawing`]: the cell from above and from the side
//! - [`files`]: what stands in the files of `--out`
//! - [`folder`]: how they are written, all or none

mod advice;
pub mod arm;
pub mod calibration;
mod comfort;
mod csv_table;
pub mod drawing;
pub mod estimate;
pub mod files;
mod fit_up;
pub mod folder;
mod order;
mod outlook;
mod page;
mod path;
mod safety;
mod tables;
pub mod terminal;
