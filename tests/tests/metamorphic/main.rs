//! What must stay as it is, or may only get better, when a demo cell is changed in a way whose effect is known beforehand.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod advice;
mod between;
mod clamp_opens;
mod drawn_in;
mod drives;
mod easier;
mod elements;
mod finer;
mod giving_way;
mod held;
mod hose;
mod mirror;
mod moved_seams;
mod order;
mod remedies;
mod rounding;
mod split;
mod torch_file;
mod turned;

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::check::{Checked, Options, check};

fn scene(file: &str) -> Cell {
    read_cell(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes").join(file)).unwrap()
}

/// A scene with only those of its seams whose names are among `names`: the whole of the pump skid would take too long.
fn scene_with_seams(file: &str, names: &[&str]) -> Cell {
    let mut cell = scene(file);
    cell.seams.retain(|seam| names.contains(&seam.name.as_str()));
    assert_eq!(cell.seams.len(), names.len(), "{file} has lost one of {names:?}");
    cell
}

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 0, watch: &() })
}

fn assert_near(what: &str, a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-6 * a.abs().max(b.abs()).max(1.0), "{what}: {a} is not {b}");
}
