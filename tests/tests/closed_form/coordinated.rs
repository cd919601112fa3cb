//! A circle welded while the positioner turns the part under a torch that stands still.
//!
//! The seam is a circle of radius r about the axis of rotation, and the travel speed v is that along the part. If the axis takes up
//! the whole motion, its angle falls by s / r over an arc length s, so it turns at v / r, through (2πr + overlap) / r in all; the wire
//! end keeps its place and the torch its direction in the world, so no axis of the arm moves. In the frame of the faceplate the wire
//! end meanwhile goes along the circle at v. Numbers below are those of the cell's file.

use std::f64::consts::{PI, TAU};
use std::path::Path;

use nalgebra::{Rotation3, Vector3};
use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::check::{Options, check};
use seamwright_sim::schedule::{EventKind, PathRow};

/// m.
const RADIUS: f64 = 0.057_15;
/// m.
const OVERLAP: f64 = 0.015;
/// m/s.
const SPEED: f64 = 0.006;
/// Limited jerk of the wire end spreads a change of speed over no more than this, s.
const SMOOTHED: f64 = 0.25;

fn cell() -> Cell {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/round-flange/cell.toml");
    read_cell(&file).unwrap()
}

fn weld_rows() -> Vec<PathRow> {
    let cell = cell();
    assert_eq!(cell.frames.axes[1].name, "rotate");
    let checked = check(&cell, &Options { seed: 0, watch: &() });
    let rows = checked.path.into_iter().filter(|row| row.phase == EventKind::Weld).collect::<Vec<_>>();
    assert!(rows.len() > 150, "{} rows", rows.len());
    rows
}

/// The faceplate turns at v/r. It needs v/(r a) from rest to there and as long back, in each of which it gets half as far as at full rate: the
/// weld takes v/(r a) longer than its length at travel speed, and a little for the limited jerk of the wire end.
#[test]
fn the_faceplate_turns_at_travel_speed_over_radius_from_rest_to_rest() {
    let rows = weld_rows();
    let acceleration = cell().frames.axes[1].max_acceleration;
    let full = SPEED / RADIUS;
    let rise = full / acceleration;
    let (first, last) = (&rows[0], &rows[rows.len() - 1]);
    let rates: Vec<(f64, f64)> = rows
        .windows(2)
        .map(|pair| {
            let rate = (pair[0].external[1] - pair[1].external[1]) / (pair[1].t - pair[0].t);
            (f64::midpoint(pair[0].t, pair[1].t), rate)
        })
        .collect();
    for (t, rate) in &rates {
        assert!(*rate <= full + 1e-6, "{rate} rad/s at {t} s");
        if (first.t + rise + SMOOTHED..last.t - rise - SMOOTHED).contains(t) {
            assert!((rate - full).abs() < 1e-9, "{rate} rad/s at {t} s");
        }
    }
    for pair in rates.windows(2) {
        let speeds_up = (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0);
        assert!(speeds_up.abs() <= acceleration * 1.01, "{speeds_up} rad/s² at {} s", pair[0].0);
    }
    let turned = first.external[1] - last.external[1];
    assert!((turned - (TAU * RADIUS + OVERLAP) / RADIUS).abs() < 1e-9, "{turned} rad in all");
    let lost = last.t - first.t - (TAU * RADIUS + OVERLAP) / SPEED;
    assert!(lost > rise - 1e-6 && lost < rise + SMOOTHED, "{lost} s lost, {rise} s at least");
}

#[test]
fn the_arm_and_the_torch_stand_still_in_the_world() {
    let rows = weld_rows();
    for row in &rows {
        let off = (row.axes - rows[0].axes).amax();
        assert!(off < 1e-9, "an axis has moved {off} rad at {} s", row.t);
        let moved =
            row.world_from_wire_end.translation.vector - rows[0].world_from_wire_end.translation.vector;
        assert!(moved.norm() < 1e-9, "the wire end has moved {} m", moved.norm());
    }
}

/// Worked out with rotation matrices of its own from the figures of the file: the cradle turns about y through (950, 0, 700), the
/// faceplate about its z, 60 above.
#[test]
fn seen_from_the_faceplate_the_wire_end_goes_round_the_circle_at_travel_speed() {
    for row in &weld_rows() {
        let tilt = Rotation3::from_axis_angle(&Vector3::y_axis(), row.external[0]);
        let rotate = Rotation3::from_axis_angle(&Vector3::z_axis(), row.external[1]);
        let wire_end = row.world_from_wire_end.translation.vector;
        let in_cradle = tilt.inverse() * (wire_end - Vector3::new(0.95, 0.0, 0.7));
        let in_faceplate = rotate.inverse() * (in_cradle - Vector3::new(0.0, 0.0, 0.06));
        // From -x, right-handed about z.
        let s = row.place.unwrap().s;
        let (sin, cos) = (PI + s / RADIUS).sin_cos();
        let on_circle = Vector3::new(RADIUS * cos, RADIUS * sin, 0.035);
        assert!((in_faceplate - on_circle).norm() < 1e-9, "{in_faceplate} at {s} m");
    }
}

/// The positioner of the round flange would meet the arm on its way for all that is shown: it goes while the arm stands, and the seam says so
/// where the file wanted otherwise, and only there.
#[test]
fn axes_that_were_to_go_with_the_arm_and_do_not_are_told() {
    for asked in [false, true] {
        let mut cell = cell();
        cell.arm.air_with_external = asked;
        let checked = check(&cell, &Options { seed: 0, watch: &() });
        let stands = checked.schedule.visits[0].times().external;
        assert!(stands > 1.0, "{stands}");
        let mut notes = checked.findings.seams.iter().flat_map(|seam| &seam.notes);
        assert_eq!(notes.any(|note| note.contains("goes on, though `air_with_external`")), asked);
    }
}
