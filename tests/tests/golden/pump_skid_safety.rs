//! The curtain of the pump skid: it stands far enough, and neither moved nearer nor with a slower stop does it.

use std::io;
use std::path::{Path, PathBuf};

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Disk, Files, read_cell_with};
use seamwright_sim::check::{Options, check};
use seamwright_sim::findings::SafetyFindings;

/// The disk, with one file that reads otherwise.
pub struct Edited {
    pub file: PathBuf,
    pub text: String,
}

impl Files for Edited {
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
        if path == self.file { Ok(self.text.clone().into_bytes()) } else { Disk.bytes(path) }
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        Disk.names_in(folder)
    }
}

/// The pump skid with one seam, for the time it takes, and its text changed.
fn cell(change: impl Fn(String) -> String) -> Cell {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/pump-skid/cell.toml");
    let text = Disk.text(&file).unwrap();
    let edited = Edited { file: file.clone(), text: change(text) };
    let mut cell = read_cell_with(&file, &edited).unwrap();
    cell.seams.retain(|seam| seam.name.starts_with("near lug, motor end"));
    cell
}

fn screened(change: impl Fn(String) -> String) -> SafetyFindings {
    check(&cell(change), &Options { seed: 1, watch: &() }).findings.safety.unwrap()
}

fn replaced(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "{from}");
    text.replace(from, to)
}

#[test]
fn the_curtain_stands_far_enough() {
    let safety = screened(|text| text);
    let curtain = &safety.devices[0];
    assert_eq!(curtain.holds, Some(true), "{}", curtain.sentence);
    // The restricted space ends at x = 690 + 1340, the curtain stands at 3000.
    assert_eq!(curtain.present_mm, Some(970.0));
    // T = 0.02 + 0.03 + 0.40 s. ISO 13855:2010: 1600 T + 8 (30 - 14). ANSI B11.19: 1600.2 (T + 20 % of 0.43 s) + 3.4 (30 - 7.0104).
    let times = curtain.times.as_ref().unwrap();
    assert!((times.total_s - 0.45).abs() < 1e-9 && times.slowest.as_deref() == Some("axis 1"), "{times:?}");
    assert!((curtain.asked[0].distance_mm.unwrap() - (1600.0 * 0.45 + 128.0)).abs() < 1e-6);
    let ansi = 1600.2 * (0.45 + 0.2 * 0.43) + 3.4 * (30.0 - 7.0104);
    assert!((curtain.asked_mm.unwrap() - ansi).abs() < 1e-6, "{curtain:?}");
    assert!(curtain.clause.as_ref().unwrap().starts_with("ANSI B11.19"));
}

/// The restricted space ends at y = ±1570 and x = −650: 610 mm before the fences at 2180, 1050 mm before the gate at −1700. Of the gate T = 0.03 +
/// 0.03 + 0.40 s, and ANSI B11.19 asks 1600.2 (T + 20 % of 0.43 s) + 100.
#[test]
fn fences_and_gate_close_what_the_curtain_leaves_open() {
    let safety = screened(|text| text);
    assert!(safety.holds, "{}", safety.sentence());
    assert_eq!(safety.guards.len(), 4);
    for guard in &safety.guards {
        assert_eq!(guard.holds, Some(true), "{}: {}", guard.guard, guard.sentence);
    }
    let gate = &safety.devices[1];
    assert_eq!((gate.holds, gate.present_mm), (Some(true), Some(1050.0)), "{}", gate.sentence);
    let ansi = 1600.2 * (0.46 + 0.2 * 0.43) + 100.0;
    assert!((gate.asked_mm.unwrap() - ansi).abs() < 1e-6, "{gate:?}");
    assert!(safety.places.iter().all(|place| place.holds == Some(true)), "{:?}", safety.places);
    assert!(safety.not_checked.iter().all(|phrase| !phrase.contains("walks")), "{:?}", safety.not_checked);
}

/// The restricted space ends at y = −1570: a fence at −1500 stands 70 mm in it.
#[test]
fn a_fence_that_the_restricted_space_passes_does_not_hold() {
    let safety = screened(|text| {
        let text = replaced(
            &text,
            "from_mm = [-1700, -2180, 0]\nto_mm = [3000, -2180, 0]",
            "from_mm = [-1700, -1500, 0]\nto_mm = [3000, -1500, 0]",
        );
        replaced(&text, "reach_over_mm = 600", "reach_over_mm = 0")
    });
    let fence = safety.guards.iter().find(|guard| guard.guard == "right fence").unwrap();
    assert_eq!((fence.holds, safety.holds), (Some(false), false), "{}", fence.sentence);
    assert_eq!(fence.passed_by_restricted_space_mm, Some(70.0), "{}", fence.sentence);
    assert_eq!(fence.passed_at_mm.map(|at| at[1]), Some(-1570.0), "{}", fence.sentence);
}

#[test]
fn moved_150_mm_nearer_it_does_not() {
    let safety = screened(|text| {
        let text = replaced(&text, "from_mm = [3000, -2180, 200]", "from_mm = [2850, -2180, 200]");
        replaced(&text, "to_mm = [3000, 2180, 200]", "to_mm = [2850, 2180, 200]")
    });
    let curtain = &safety.devices[0];
    assert!(!safety.holds && curtain.holds == Some(false), "{}", curtain.sentence);
    assert_eq!(curtain.present_mm, Some(820.0));
    // 935.872 mm are asked: 115.9 mm too near.
    assert!(
        curtain.sentence.starts_with("115.9 mm too near") && curtain.sentence.contains("ANSI B11.19"),
        "{}",
        curtain.sentence
    );
}

#[test]
fn with_its_arm_stopping_in_twice_the_time_it_does_not() {
    let safety = screened(|text| {
        let mut text = text;
        for time in ["0.40", "0.36", "0.34", "0.22", "0.20"] {
            let twice = 2.0 * time.parse::<f64>().unwrap();
            text = replaced(&text, &format!("time_s = {time}\n"), &format!("time_s = {twice:.3}\n"));
        }
        text
    });
    let curtain = &safety.devices[0];
    assert!(!safety.holds && curtain.holds == Some(false), "{}", curtain.sentence);
    // T = 0.85 s: ISO 1600 T + 128 = 1488 mm; ANSI 1600.2 (0.85 + 0.2 · 0.83) + 78.2 = 1703.97 mm.
    assert!((curtain.asked[0].distance_mm.unwrap() - 1488.0).abs() < 1e-6);
    let ansi = 1600.2 * (0.85 + 0.2 * 0.83) + 3.4 * (30.0 - 7.0104);
    assert!((curtain.asked_mm.unwrap() - ansi).abs() < 1e-6);
    let short = ansi - 970.0;
    assert!(curtain.sentence.starts_with(&format!("{short:.1} mm too near")), "{}", curtain.sentence);
}

#[test]
fn nobody_can_take_it_for_a_certificate() {
    let cell = cell(|text| text);
    let checked = check(&cell, &Options { seed: 1, watch: &() });
    let text = seamwright_sim::report::terminal::text(
        &checked.findings,
        seamwright_sim::findings::words::LengthUnit::Millimetre,
    );
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "screening only",
        "not a validation and no certificate",
        "measured on the machine",
        "competent person",
    ] {
        assert!(words.contains(said), "{said} is not said");
    }
    let lower = words.to_lowercase();
    for never in [" is safe", "safe distance", "certified", "compliant", "approved"] {
        assert!(!lower.contains(never), "{never} is said");
    }
}
