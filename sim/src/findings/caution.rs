//! Decides what every result is accompanied by: what is never checked, and the cautions without which it must not be used.

use crate::cell::Cell;

/// What the program does not look at, whatever the cell.
pub(super) const NEVER_CHECKED: [&str; 5] = [
    "beads already laid: seams are checked as if the joint were bare",
    "the hose but for the turn it bears and, where the torch file gives it a space, whether that is free",
    "torques, bending of arm and fixture, and heat distortion of the part",
    "whether the weld itself will be sound",
    "people: nothing here is a safety assessment",
];

/// What a clamp that air closes asks for.
pub(super) fn pinch(clamp: &str) -> String {
    format!(
        "{clamp} closes by air: start it from outside or with two hands, and let it hold when air is lost"
    )
}

/// What a user of the results for this cell must know: clamps that air closes are told here where no locators tell of a fixture.
pub(super) fn of(cell: &Cell) -> Vec<String> {
    let mut all = CAUTIONS.map(str::to_owned).to_vec();
    let untold = cell
        .stations
        .iter()
        .enumerate()
        .filter(|(index, _)| !cell.bodies.iter().any(|body| body.station.0 == *index));
    for clamp in untold.flat_map(|(_, station)| &station.air_clamps) {
        let caution = format!("{}.", pinch(clamp));
        if !all.contains(&caution) {
            all.push(caution);
        }
    }
    all
}

/// What a user must know before anything is built or moved by these results.
pub(super) const CAUTIONS: [&str; 5] = [
    "This is a planning aid, not a validation of a cell, a program or a weld.",
    "Prove every program on the real arm at reduced speed, under the local rules for industrial robots, before it runs.",
    "The maker's data for arm, torch and positioner come before any figure here; check the files against them.",
    "A competent person must judge the cell's safeguarding; distances here are geometry, not safety distances.",
    "Welding makes fume that harms: no amount is worked out here; extraction and exposure are for local rules and a competent person.",
];
