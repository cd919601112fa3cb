//! Off-screen pictures of every demo cell against reviewed references.
//!
//! Drivers round differently, so pictures are compared with a tolerance: on average a channel may differ by 3 of 255, and no
//! more than 1.5 % of all pixels may differ by more than 40. A seam, a link or a label that is gone or elsewhere exceeds that.
//!
//! `UPDATE_PICTURES=1` writes the references anew: look at every one before you commit it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::path::{Path, PathBuf};
use std::process::Command;

use bevy::asset::RenderAssetUsages;
use bevy::image::{CompressedImageFormats, Image, ImageSampler, ImageType};
use seamwright_sim::cell::SeamId;
use seamwright_viewer::graphics::Effort;
use seamwright_viewer::logic::{Ask, Practice, Remedies, Task, View, ZonesShown};
use seamwright_viewer::picture::{Artist, Pictures, Size};
use seamwright_viewer::show::Show;

/// Mean difference of a channel, of 255.
const MEAN: f64 = 3.0;
/// A pixel that differs by more than this, of 255, is another pixel.
const OTHER: u8 = 40;
/// Share of other pixels.
const SHARE: f64 = 0.015;

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn pixels(file: &Path) -> (u32, u32, Vec<u8>) {
    let bytes = std::fs::read(file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
    let image = Image::from_buffer(
        &bytes,
        ImageType::Extension("png"),
        CompressedImageFormats::NONE,
        true,
        ImageSampler::default(),
        RenderAssetUsages::default(),
    )
    .unwrap();
    let (width, height) = (image.width(), image.height());
    (width, height, image.try_into_dynamic().unwrap().to_rgb8().into_raw())
}

fn compare(name: &str, arguments: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let drawn = folder.path().join("drawn.png");
    let output = Command::new(env!("CARGO_BIN_EXE_seamwright-viewer"))
        .current_dir(repository())
        .args(arguments)
        .args(["--size", "640x360", "--picture"])
        .arg(&drawn)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let reference =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures").join(name).with_extension("png");
    if std::env::var_os("UPDATE_PICTURES").is_some() {
        std::fs::create_dir_all(reference.parent().unwrap()).unwrap();
        std::fs::copy(&drawn, &reference).unwrap();
        return;
    }
    let (one, other) = (pixels(&drawn), pixels(&reference));
    assert_eq!((one.0, one.1), (other.0, other.1), "{name}");
    let differences = || one.2.iter().zip(&other.2).map(|(a, b)| a.abs_diff(*b));
    let mean = differences().map(f64::from).sum::<f64>() / one.2.len() as f64;
    let others = one.2.chunks_exact(3).zip(other.2.chunks_exact(3));
    let others = others.filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > OTHER)).count();
    let share = others as f64 / f64::from(one.0 * one.1);
    assert!(
        mean <= MEAN && share <= SHARE,
        "{name}: mean difference {mean:.2}, {:.2} % other pixels",
        share * 100.0
    );
}

#[test]
fn the_starter_cell_at_work() {
    compare("gate-bracket", &["scenes/gate-bracket/cell.toml", "--at", "20", "--task", "watch"]);
}

#[test]
fn the_pump_skid_from_above() {
    compare("pump-skid-above", &["scenes/pump-skid/cell.toml", "--at", "60", "--view", "above"]);
}

#[test]
fn a_blocked_seam_of_the_pump_skids_first_draft() {
    compare("pump-skid-blocked", &["scenes/pump-skid/first-draft.toml", "--task", "seam", "--seam", "28"]);
}

#[test]
fn the_hinge_plate_under_the_hand() {
    compare("hinge-plate-hand", &["scenes/hinge-plate/cell.toml", "--task", "hand", "--at", "20"]);
}

#[test]
fn the_round_flange_at_the_torch() {
    compare("round-flange-torch", &["scenes/round-flange/cell.toml", "--at", "20", "--view", "torch"]);
}

#[test]
fn the_long_frame_from_the_front() {
    compare("long-frame-front", &["scenes/long-frame/cell.toml", "--at", "30", "--view", "front"]);
}

/// As a window draws it where there is no graphics card.
#[test]
fn the_pump_skid_drawn_quickly() {
    compare("pump-skid-quick", &["scenes/pump-skid/cell.toml", "--at", "400", "--task", "watch", "--quick"]);
}

/// Neither volumes nor edges nor names.
#[test]
fn the_pump_skid_without_its_zones() {
    let arguments = ["scenes/pump-skid/cell.toml", "--at", "400", "--quick", "--show", "nothing"];
    compare("pump-skid-no-zones", &arguments);
}

/// Close to the joint that is to be welded, with its start marked.
#[test]
fn a_lesson_at_its_seam() {
    compare("lesson-at-seam", &["scenes/gate-bracket/cell.toml", "--lesson", "12", "--view", "seam"]);
}

#[test]
fn a_lesson() {
    compare("lesson", &["scenes/gate-bracket/cell.toml", "--task", "learn"]);
}

#[test]
fn a_cell_that_is_read_anew_leaves_nothing_of_the_old_one() {
    let load = |file: &str| Show::load(&repository().join("scenes").join(file)).unwrap();
    let (one, other) = (load("gate-bracket/cell.toml"), load("hinge-plate/cell.toml"));
    let mut artist = Artist::new(&Pictures {
        show: one.clone(),
        size: Size(320, 180),
        view: View::default(),
        zones: ZonesShown::Zones,
        effort: Effort::Light,
        at: None,
        seam: None,
        task: Some(Task::Watch),
        practice: Practice::default(),
        remedies: Remedies::default(),
        file: None,
        folder: None,
    });
    let mut held = Vec::new();
    for round in 0..20 {
        artist.show(if round % 2 == 0 { &other } else { &one });
        // Curves are made for a seam, words of the other bands for their task.
        artist.ask(Ask::Seam(SeamId(0)));
        artist.update();
        artist.ask(Ask::Do(Task::Watch));
        for _ in 0..3 {
            artist.update();
        }
        held.push(artist.holds());
    }
    // The letters of both cells are drawn once.
    for round in 4..20 {
        assert_eq!(held[round], held[round - 2], "round {round}");
    }
    assert_ne!(held[18], held[19], "two cells of different size would be told apart");
}

#[test]
fn the_same_picture_comes_out_twice() {
    let folder = tempfile::tempdir().unwrap();
    let draw = |name: &str| {
        let file = folder.path().join(name);
        let status = Command::new(env!("CARGO_BIN_EXE_seamwright-viewer"))
            .current_dir(repository())
            .args(["scenes/gate-bracket/cell.toml", "--at", "20", "--size", "320x180", "--picture"])
            .arg(&file)
            .status()
            .unwrap();
        assert!(status.success());
        std::fs::read(file).unwrap()
    };
    assert!(draw("one.png") == draw("two.png"));
}

#[test]
fn what_cannot_be_shown_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("never.png");
    for (arguments, words) in [
        (vec!["scenes/no-such-cell.toml"], "no-such-cell.toml"),
        (vec!["scenes/gate-bracket/cell.toml", "--seam", "left ear outsid"], "is it `left ear outside`?"),
        (vec!["scenes/gate-bracket/cell.toml", "--seam", "99"], "from 1 to 12"),
        (vec!["scenes/gate-bracket/cell.toml", "--at", "100000"], "the cycle goes from 0 to"),
        (vec!["scenes/gate-bracket/cell.toml", "--size", "12x9"], "1280x720"),
        (vec!["scenes/gate-bracket/cell.toml", "--lesson", "13"], "from 1 to 12"),
        (vec!["scenes/gate-bracket/cell.toml", "--lesson", "0"], "from 1 to 12"),
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_seamwright-viewer"))
            .current_dir(repository())
            .args(&arguments)
            .arg("--picture")
            .arg(&file)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(words), "{arguments:?}: {said}");
        assert!(!file.exists());
    }
}
