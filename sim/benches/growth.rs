//! How the cost of a whole check grows with metres of seam, and what a mesh of a million triangles costs.
//!
//! `cargo bench -p seamwright-sim --bench growth`: 1, 4, 16 and 64 times the seams of the starter's side A, one after the other; time,
//! time a metre, and the most memory that the process held until then (Linux). Times are never asserted.

use std::path::Path;
use std::time::Instant;

use seamwright_sim::cell::read::{Bundled, read_cell, read_cell_with};
use seamwright_sim::cell::{Cell, StationId};
use seamwright_sim::check::{Options, check};

/// Triangles on each side of the ball that is checked as a mesh: twice its square are a million.
const RINGS: usize = 708;

fn main() {
    let scenes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes");
    let Ok(mut cell) = read_cell(&scenes.join("gate-bracket/cell.toml")) else {
        eprintln!("the starter cell cannot be read");
        return;
    };
    // Shifts take as long whatever the seams.
    cell.shift_play = None;
    let side: Vec<_> = cell.seams.iter().filter(|seam| seam.station == StationId(0)).cloned().collect();
    println!("times seams   metres   looks        s    s/m   most MB");
    for times in [1, 4, 16, 64] {
        cell.seams = (0..times).flat_map(|_| side.iter().cloned()).collect();
        let begun = Instant::now();
        let checked = check(&cell, &Options { seed: 0, watch: &() });
        let took = begun.elapsed().as_secs_f64();
        let metres: f64 = cell.seams.iter().map(|seam| seam.weld_length()).sum();
        let (seams, looks) = (cell.seams.len(), checked.plan.effort.clearance_queries);
        println!(
            "{times:5} {seams:5} {metres:8.2} {looks:7} {took:8.2} {:6.3} {:9.0}",
            took / metres,
            most_mb()
        );
    }
    million(&scenes);
}

/// The starter with a ball of a million triangles over its table.
fn million(scenes: &Path) {
    let file = |name: &str| std::fs::read(scenes.join(name)).unwrap_or_default();
    let shape = "\n[[shape]]\nname = \"ball\"\nkind = \"mesh\"\nfile = \"ball.stl\"\nunit = \"mm\"\nat_mm = [1250, 0, 1900]\n";
    let text = [file("gate-bracket/cell.toml"), shape.as_bytes().to_vec()].concat();
    let (arm, torch, ball) = (file("arms/reach-1400.toml"), file("torches/bent-neck.toml"), ball());
    let files = [
        ("cell/cell.toml", text.as_slice()),
        ("arms/reach-1400.toml", &arm),
        ("torches/bent-neck.toml", &torch),
        ("cell/ball.stl", &ball),
    ];
    let begun = Instant::now();
    let read: Result<Cell, _> = read_cell_with(Path::new("cell/cell.toml"), &Bundled(&files));
    let Ok(mut cell) = read else {
        eprintln!("the cell with the ball cannot be read");
        return;
    };
    cell.shift_play = None;
    let read_s = begun.elapsed().as_secs_f64();
    let checked = check(&cell, &Options { seed: 0, watch: &() });
    println!(
        "{} triangles: read in {read_s:.2} s, checked in {:.2} s, {} of {} seams hold, {:.0} MB at most",
        2 * RINGS * RINGS,
        begun.elapsed().as_secs_f64() - read_s,
        checked.findings.overall.holding,
        checked.findings.overall.seams,
        most_mb()
    );
}

/// A binary STL of a ball of 200 mm radius: rings of squares from pole to pole, each in two triangles.
fn ball() -> Vec<u8> {
    use std::f32::consts::{PI, TAU};
    let at = |ring: usize, side: usize| -> [f32; 3] {
        // The poles are points, and the last side meets the first: the mesh closes to the bit.
        let (down, round) = (ring as f32 / RINGS as f32 * PI, (side % RINGS) as f32 / RINGS as f32 * TAU);
        let across = if ring == 0 || ring == RINGS { 0.0 } else { down.sin() };
        [200.0 * across * round.cos(), 200.0 * across * round.sin(), 200.0 * down.cos()]
    };
    let mut bytes = vec![0_u8; 80];
    bytes.extend((2 * RINGS as u32 * RINGS as u32).to_le_bytes());
    for ring in 0..RINGS {
        for side in 0..RINGS {
            let corners = [at(ring, side), at(ring + 1, side), at(ring + 1, side + 1), at(ring, side + 1)];
            for [a, b, c] in [[0, 1, 2], [0, 2, 3]] {
                let numbers = [[0.0; 3], corners[a], corners[b], corners[c]];
                bytes.extend(numbers.iter().flatten().flat_map(|number| number.to_le_bytes()));
                bytes.extend([0, 0]);
            }
        }
    }
    bytes
}

/// The most memory that this process has held so far, MB; 0 where the system does not say.
fn most_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kb = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kb.unwrap_or(0.0) / 1024.0
}
