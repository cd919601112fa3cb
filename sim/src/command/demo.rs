//! The demo cell that is compiled in, so that an installed program has it too.

use std::path::Path;

use seamwright_kinematics::document::Problem;
use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};

/// The cell file of the demo, as it stands in the repository.
pub const FILE: &str = "scenes/gate-bracket/cell.toml";

macro_rules! bundled {
    ($($path:literal),* $(,)?) => {
        &[$(($path, include_bytes!(concat!("../../../", $path)))),*]
    };
}

const FILES: &[(&str, &[u8])] = bundled![
    "scenes/gate-bracket/cell.toml",
    "scenes/arms/reach-1400.toml",
    "scenes/torches/bent-neck.toml",
];

/// Reads the demo.
pub fn read() -> Result<Cell, Vec<Problem>> {
    read_cell_with(Path::new(FILE), &Bundled(FILES))
}
