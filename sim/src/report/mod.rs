//! Shows findings: on the terminal, as tables, as drawings. Decides nothing about the cell: what is shown here was found elsewhere.
//!
//! - [`terminal`]: the text on the screen
//! - [`arm`]: what is said of an arm by itself
//! - [`drawing`]: the cell from above and from the side
//! - [`files`]: what stands in the files of `--out`
//! - [`folder`]: how they are written, all or none

mod advice;
pub mod arm;
mod comfort;
mod csv_table;
pub mod drawing;
pub mod files;
mod fit_up;
pub mod folder;
mod outlook;
mod page;
mod path;
mod safety;
mod tables;
pub mod terminal;
