//! What is known to hold is found to hold.

use seamwright_sim::units;
use seamwright_tests::planted::{Outcome, outcomes};

/// Cells asked here; more by `cargo run --release --bin planted_cells -- 1000`, where 99 in 100 must hold.
const CELLS: usize = 16;

fn missed(count: usize, room_mm: f64) -> Vec<u64> {
    let all = outcomes(count, units::mm(room_mm)).into_iter();
    all.filter(|(_, outcome)| *outcome == Outcome::Missed).map(|(seed, _)| seed).collect()
}

/// Of 300 cells 298 were found to hold; one of the two that were missed is among these.
#[test]
fn a_way_is_found_where_one_was_left_open() {
    let missed = missed(CELLS, 5.0);
    assert!(missed.len() <= 1, "a way was left open in the cells of the seeds {missed:?}, and not found");
}

/// The bodies do close the cell: with the known way 15 mm too narrow there is hardly another.
#[test]
fn where_the_known_way_is_closed_hardly_any_other_is_found() {
    assert!(missed(4, -15.0).len() >= 3);
}
