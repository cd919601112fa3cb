//! A procedure that states no travel speed but what its wire melts and what it is to fill.

use std::io;
use std::path::{Path, PathBuf};

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Disk, Files, read_cell_with};

/// The disk, with one file that reads otherwise.
struct Edited {
    file: PathBuf,
    text: String,
}

impl Files for Edited {
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
        if path == self.file { Ok(self.text.clone().into_bytes()) } else { Disk.bytes(path) }
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        Disk.names_in(folder)
    }
}

const SPEED: &str = "travel_speed_mm_s = 7\n";

/// The starter with the travel speed of its procedure replaced, or its problems, a line each.
fn starter(by: &str) -> Result<Cell, String> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
    let text = Disk.text(&file).unwrap();
    assert!(text.contains(SPEED), "the starter states its speed otherwise");
    // Its own size and feed give way to those of the sums below.
    let text = text.replace("\nleg_mm = 5\n", "\n").replace("wire_feed_m_min = 5.4", "wire_feed_m_min = 8.5");
    let edited = Edited { file: file.clone(), text: text.replace(SPEED, by) };
    read_cell_with(&file, &edited)
        .map_err(|problems| problems.iter().map(|problem| format!("{problem}\n")).collect())
}

/// Wire of 1.2 mm, 8.5 m/min, 95 % laid down: π/4 · 1.2² · (8500/60) · 0.95 = 152.21 mm³/s. A leg of 6 mm is 18 mm²: 8.456 mm/s. Its
/// throat is 6 · cos 45° = 4.242641 mm.
#[test]
fn the_travel_speed_is_that_at_which_the_wire_fills_the_weld() {
    let filled = std::f64::consts::PI / 4.0 * 1.44 * 8500.0 / 60.0 * 0.95 / 18.0;
    for size in ["leg_mm = 6\n", "throat_mm = 4.242640687\n"] {
        let cell = starter(size).unwrap();
        let speed = cell.seams[0].procedure.travel_speed * 1000.0;
        assert!((speed - filled).abs() < 1e-6, "{size}: {speed}, not {filled}");
        let note = "procedure fillet 5: travel_speed_mm_s = 8.46 is worked out";
        assert!(cell.notes.iter().any(|said| said.starts_with(note)), "{:?}", cell.notes);
    }
}

#[test]
fn what_is_stated_wins_and_without_a_size_nothing_is_worked_out() {
    let stated = starter("travel_speed_mm_s = 7\nleg_mm = 6\n").unwrap();
    assert!((stated.seams[0].procedure.travel_speed - 0.007).abs() < 1e-12);
    assert!(!stated.notes.iter().any(|said| said.contains("is worked out")));
    let problems = starter("").unwrap_err();
    assert!(problems.contains("travel_speed_mm_s"), "{problems}");
    // 1.2 mm wire fills a leg of 60 mm at 0.085 mm/s: no torch travels so slowly.
    let problems = starter("leg_mm = 60\n").unwrap_err();
    assert!(problems.contains("this wire fills the weld asked for at 0.08 mm/s"), "{problems}");
}
