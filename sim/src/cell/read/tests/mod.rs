//! Cells written for one question each, read from memory.

mod bare_urdf;
mod elements;
mod every_key;
mod faces;
mod hostile;
mod meshes;
mod openings;
mod problems;
mod reference;
mod resolved;
mod sequence;
mod shift;
mod zones;

use proptest::test_runner::{Config as ProptestConfig, RngSeed};

use super::*;
use crate::cell::{Seam, ShapeId, mesh};

const ARM: &str = include_str!("../../../../../scenes/arms/reach-1400.toml");
const TORCH: &str = include_str!("../../../../../scenes/torches/bent-neck.toml");

/// What every cell here begins with.
const HEAD: &str = r#"
format = 1
name = "test"
[arm]
file = "../arms/arm.toml"
[torch]
file = "../torches/torch.toml"
[[procedure]]
name = "usual"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 8
[[station]]
name = "here"
fixture = "jig"
load_s = 30
[[fixture]]
name = "jig"
"#;

/// The same cases on every run.
fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(1),
        ..ProptestConfig::default()
    }
}

/// Reads a cell whose file is `text`, with more files beside it.
fn read(text: &str, beside: &[(&str, &[u8])]) -> Result<Cell, Vec<Problem>> {
    let mut files: Vec<(&str, &[u8])> = vec![
        ("cells/cell.toml", text.as_bytes()),
        ("arms/arm.toml", ARM.as_bytes()),
        ("torches/torch.toml", TORCH.as_bytes()),
    ];
    files.extend_from_slice(beside);
    read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files))
}

/// Reads [`HEAD`] and `rest`.
fn after_head(rest: &str) -> Result<Cell, Vec<Problem>> {
    read(&format!("{HEAD}{rest}"), &[])
}

/// A part of the fixture that is a box.
fn plate(name: &str, at_mm: [f64; 3], size_mm: [f64; 3]) -> String {
    format!(
        "[[fixture.shape]]\nname = \"{name}\"\nrole = \"part\"\nkind = \"box\"\nat_mm = {at_mm:?}\nsize_mm = {size_mm:?}\n"
    )
}

/// A seam by the usual procedure.
fn seam(joint: &str, rest: &str) -> String {
    format!("[[seam]]\nname = \"seam\"\nprocedure = \"usual\"\njoint = \"{joint}\"\n{rest}\n")
}

/// The only seam of a cell that holds these parts and this seam.
fn only_seam(parts: &str, seam: &str) -> Result<Seam, String> {
    seam_and_notes(parts, seam).map(|(seam, _)| seam)
}

fn seam_and_notes(parts: &str, seam: &str) -> Result<(Seam, Vec<String>), String> {
    let mut cell = after_head(&format!("{parts}{seam}")).map_err(|problems| listed(&problems))?;
    assert_eq!(cell.seams.len(), 1);
    Ok((cell.seams.remove(0), cell.notes))
}

fn listed(problems: &[Problem]) -> String {
    problems.iter().map(|problem| format!("{problem}\n")).collect()
}
