//! What `scenes/README.md` shows can be read as it stands.

use super::*;

const REFERENCE: &str = include_str!("../../../../../scenes/README.md");

/// Every example of the reference, one after the other: together they are one cell.
fn examples() -> String {
    let (mut inside, mut text) = (false, String::new());
    for line in REFERENCE.lines() {
        match line {
            "```toml" => inside = true,
            "```" => inside = false,
            _ if inside => text = text + line + "\n",
            _ => {}
        }
    }
    text
}

fn read_as_cell(text: &str) -> Result<Cell, Vec<Problem>> {
    let files: [(&str, &[u8]); 3] = [
        ("rib/cell.toml", text.as_bytes()),
        ("arms/reach-1400.toml", ARM.as_bytes()),
        ("torches/bent-neck.toml", TORCH.as_bytes()),
    ];
    read_cell_with(Path::new("rib/cell.toml"), &Bundled(&files))
}

#[test]
fn the_examples_are_one_sound_cell() {
    let cell = read_as_cell(&examples()).map_err(|problems| listed(&problems)).unwrap();
    let of = |name: &str| cell.seams.iter().find(|seam| seam.name == name).unwrap();
    assert_eq!(cell.seams.len(), 4);
    assert_eq!(cell.frames.axes.len(), 1);
    // 200 mm less two insets of 5; 40 mm at 0, 80 and 160 mm.
    let left = &of("rib, left side").runs;
    assert!(left.len() == 1 && (left[0].end - left[0].start - units::mm(190.0)).abs() < 1e-9);
    assert_eq!(of("rib, right side").runs.len(), 3);
    assert!(of("bracket, not drawn yet").path.is_none());
    // The plate is the reference on its own account, on straight and on round seams.
    for name in ["rib, left side", "round the post"] {
        let n1 = of(name).path.as_ref().unwrap().at(0.0).n1;
        assert!((n1 - nalgebra::Vector3::z()).norm() < 1e-9, "{name}: {n1}");
    }
}

/// Where the reference has a line on `key` that ends in this default.
fn states(key: &str, default: &str) -> bool {
    REFERENCE.lines().filter(|line| line.starts_with('|') && line.contains(&format!("`{key}`"))).any(|line| {
        let last = line.trim_end_matches(['|', ' ']).rsplit('|').next().unwrap_or_default();
        last.split([' ', ',', ';']).any(|word| word == default)
    })
}

#[test]
fn every_assumed_number_stands_in_the_reference() {
    let cell = read_as_cell(&examples()).map_err(|problems| listed(&problems)).unwrap();
    let mut checked = 0;
    let lists_numbers =
        |note: &&String| ["procedure ", "clearance", "variation"].iter().any(|start| note.starts_with(start));
    for note in cell.notes.iter().filter(lists_numbers) {
        let (_, list) = note.split_once(" assumed ").unwrap();
        let (list, _) = list.split_once(" (").unwrap();
        // The one assumed word stands in quotation marks there.
        for entry in list.split(", ").filter(|entry| *entry != "programs = touched_up") {
            let (key, default) = entry.split_once(" = ").unwrap();
            assert!(states(key, default), "the reference does not say that {entry} is assumed");
            checked += 1;
        }
    }
    // Eight clearances; 22 values of a procedure; seventeen of what varies.
    assert_eq!(checked, 47);
}
