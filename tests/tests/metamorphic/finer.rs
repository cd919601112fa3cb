//! What a search looks at decides no verdict: with every step halved each seam ends as it did.

use seamwright_sim::cell::Cell;

use crate::{checked, scene, scene_with_seams};

fn verdicts(cell: &Cell) -> Vec<String> {
    let seams = checked(cell).findings.seams;
    seams
        .iter()
        .map(|seam| format!("{}: {:?}, welded {}", seam.full_name(), seam.verdict, seam.is_welded()))
        .collect()
}

fn assert_ends_alike(mut cell: Cell) {
    let before = verdicts(&cell);
    cell.finer = 2;
    assert_eq!(before, verdicts(&cell), "{}", cell.name);
}

#[test]
fn small_demos_end_alike_in_halved_steps() {
    for file in [
        "gate-bracket/cell.toml",
        "hinge-plate/cell.toml",
        "hinge-plate/first-draft.toml",
        "round-flange/cell.toml",
    ] {
        assert_ends_alike(scene(file));
    }
}

#[test]
fn a_draft_that_is_blocked_in_many_ways_ends_alike_in_halved_steps() {
    let mut cell = scene("pump-skid/first-draft.toml");
    cell.zones.clear();
    assert_ends_alike(cell);
}

#[test]
fn a_frame_between_headstock_and_tailstock_ends_alike_in_halved_steps() {
    let all = scene("long-frame/cell.toml");
    let names: Vec<&str> = all.seams.iter().take(2).map(|seam| seam.name.as_str()).collect();
    assert_ends_alike(scene_with_seams("long-frame/cell.toml", &names));
}
