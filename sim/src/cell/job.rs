//! Decides which part families a cell is meant for, and when it works for them.

use super::{Cell, RoughJob};

/// A part family.
#[derive(Clone, Debug)]
pub struct Job {
    /// Name in the file.
    pub name: String,
    /// What is known of it.
    pub source: JobSource,
    /// Finished parts in a year.
    pub yearly_quantity: f64,
    /// Share of what is made of it that is scrap, where stated; else as in its own cell, or in the one whose file it stands in.
    pub scrap: Option<f64>,
    /// What the positioner or table carries with it, fixture included, kg, where stated.
    pub positioner_load: Option<f64>,
    /// Batches in a year.
    pub batches: f64,
    /// Time to change over to a batch, s.
    pub changeover: f64,
}

/// What is known of a part family.
#[derive(Clone, Debug)]
pub enum JobSource {
    /// The cell in whose file it stands.
    ThisCell,
    /// A cell of its own, whose own jobs are not looked at.
    Cell(Box<Cell>),
    /// A table of a first visit.
    Rough(Box<RoughJob>),
}

/// When is worked for the jobs, and what carries them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mix {
    /// Shifts in a year.
    pub yearly_shifts: f64,
    /// What the positioner or table may carry, kg, where stated.
    pub positioner_rated: Option<f64>,
}
