//! Where the torch goes at given distances, worked out on paper; and that nothing farther happens between two places than is said.

use std::f64::consts::{FRAC_PI_2, TAU};

use nalgebra::{Point3, UnitQuaternion};

use super::*;

use crate::cell::{Form as PieceForm, Offset, Piece as SeamPiece, Run, Weave, WeaveShape};
use crate::plan::taught_piece::TaughtTool;

const TORCH: TorchAngles = TorchAngles { work: 0.8, travel: 0.2, turn: 0.3, ctwd: 0.015 };

fn piece(start: [f64; 3], form: PieceForm) -> SeamPiece {
    let (n1, b) = (Vector3::z_axis(), -Vector3::y_axis());
    SeamPiece { start: Point3::from(start), form, n1, b, lean: 0.0 }
}

fn path(pieces: Vec<SeamPiece>, offset: Offset) -> SeamPath {
    SeamPath { pieces, corner_zone: 0.0, reach: [0.0; 2], offset }
}

/// 200 mm along x; the reference face looks up, the other one along −y.
fn straight() -> SeamPath {
    path(vec![piece([0.0; 3], PieceForm::Line { end: Point3::new(0.2, 0.0, 0.0) })], Offset::default())
}

/// Once around a circle of 100 mm, the reference face looking up and the open side away from its middle.
fn round(offset: Offset) -> SeamPath {
    let form = PieceForm::Arc { centre: Point3::new(0.0, 0.1, 0.0), axis: Vector3::z_axis(), sweep: TAU };
    path(vec![piece([0.0; 3], form)], offset)
}

fn law(points: &[(f64, TorchAngles)]) -> Law {
    Law { points: points.to_vec() }
}

/// Angles that go there and back: by 0.3 + 0.2 + 0.1 rad and 3 mm to 100 mm, and as far again to 150 mm.
fn there_and_back() -> Law {
    let there = TorchAngles { work: 1.1, travel: 0.0, turn: 0.4, ctwd: 0.018 };
    law(&[(0.05, TORCH), (0.1, there), (0.15, TORCH)])
}

fn assert_close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-12, "{found} is not {expected}");
}

#[test]
fn angles_are_straight_between_their_points_and_constant_beyond() {
    let law = there_and_back();
    for s in [-1.0, 0.0, 0.05, 0.15, 0.3] {
        let at = law.at(s);
        assert!((at.work - 0.8).abs() < 1e-12 && (at.ctwd - 0.015).abs() < 1e-12, "{at:?} at {s}");
    }
    let quarter = law.at(0.0625);
    for (found, expected) in
        [(quarter.work, 0.875), (quarter.travel, 0.15), (quarter.turn, 0.325), (quarter.ctwd, 0.01575)]
    {
        assert_close(found, expected);
    }
    assert_close(law.at(0.1).work, 1.1);
}

/// On a straight seam the torch turns by what its angles do, and the wire end goes as far as the seam does.
#[test]
fn on_a_straight_seam_the_torch_turns_by_what_its_angles_do() {
    let (path, law) = (straight(), there_and_back());
    let way = TorchWay::weld(&path, &law, None);
    for (from, to, angle, ctwd) in [
        (0.0, 0.05, 0.0, 0.0),
        (0.05, 0.1, 0.6, 0.003),
        (0.075, 0.1, 0.3, 0.0015),
        // Back and forth are added up.
        (0.075, 0.125, 0.6, 0.003),
        (0.0, 0.2, 1.2, 0.006),
    ] {
        let sweep = way.between(from, to);
        assert_close(sweep.angle, angle);
        assert_close(sweep.ctwd, ctwd);
        assert_close(sweep.distance, to - from);
    }
    // Backward from 150 mm, the first 50 mm are those between 100 and 150 mm.
    let back = TorchWay::back(&path, &law, 0.15);
    for (from, to, angle) in [(0.0, 0.05, 0.6), (0.0, 0.025, 0.3), (0.1, 0.15, 0.0)] {
        assert_close(back.between(from, to).angle, angle);
        assert_close(back.between(from, to).distance, to - from);
    }
    assert_close(back.on_seam(0.03), 0.12);
    let (pose, angles) = back.at(0.03);
    assert_close(pose.translation.x, 0.12);
    assert_close(angles.work, law.at(0.12).work);
    let mut marks = back.marks();
    marks.sort_by(f64::total_cmp);
    for (mark, expected) in marks.iter().zip([-0.05, 0.0, 0.05, 0.1, 0.15]) {
        assert_close(*mark, expected);
    }
    assert_eq!(marks.len(), 5);
}

/// What is beside the root turns with the seam: a pass 3 mm off along the one face and 4 along the other is 5 mm off, and on a circle of
/// 100 mm the wire end goes no farther than the seam does and 5 mm for each radian besides. Lifted by 20 mm along the wire it is 25.
#[test]
fn what_is_beside_the_seam_goes_with_its_turn() {
    let angles = law(&[(0.0, TORCH)]);
    let path = round(Offset { n1: 0.003, b: 0.004 });
    let weld = TorchWay::weld(&path, &angles, None).between(0.02, 0.07);
    assert_close(weld.angle, 0.5);
    assert_close(weld.distance, 0.05 + 0.5 * 0.005);
    let form = Form::Shift { lift: 0.02, fixed: None };
    let lifted = TorchWay { path: &path, law: &angles, form }.between(0.02, 0.07);
    assert_close(lifted.distance, 0.05 + 0.5 * 0.025);
    let form = Form::Shift { lift: 0.02, fixed: Some(Vector3::z()) };
    let along = TorchWay { path: &path, law: &angles, form }.between(0.02, 0.07);
    assert_close(along.distance, 0.05 + 0.5 * 0.005);
}

/// Lifted straight up, or back along the wire, which points down where no angle leans it.
#[test]
fn a_shift_runs_beside_the_seam_by_its_lift() {
    let (path, upright) = (straight(), TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd: 0.015 });
    let angles = law(&[(0.0, upright)]);
    for fixed in [None, Some(Vector3::z())] {
        let way = TorchWay { path: &path, law: &angles, form: Form::Shift { lift: 0.02, fixed } };
        let found = way.at(0.03).0.translation.vector - Vector3::new(0.03, 0.0, 0.02);
        assert!(found.norm() < 1e-12, "{found}");
    }
}

/// A sine of 2 mm over waves of 50 mm rises by at most 2 π · 2 / 50 for each metre, and its slope changes by at most (2 π / 50 mm)² · 2 mm.
#[test]
fn a_weave_adds_the_way_across() {
    let (path, angles) = (straight(), law(&[(0.0, TORCH)]));
    let weave = Weave { shape: WeaveShape::Sine, amplitude: 0.002, wavelength: 0.05, dwell: [0.0; 2] };
    let weave = weave.fitted(Run { start: 0.0, end: 0.2 }, 0.008).unwrap();
    let way = TorchWay::weld(&path, &angles, Some(weave));
    let slope = TAU * 0.002 / 0.05;
    assert_close(way.between(0.02, 0.06).distance, 0.04 * (1.0 + slope));
    assert_close(way.bend(0.01), 0.002 * (TAU / 0.05).powi(2) * 0.01);
    assert_close(TorchWay::weld(&path, &angles, None).bend(0.01), 0.0);
    // At a quarter of a wave it is out at the side, over the reference face: square to travel and wire.
    let aside = way.at(0.0125).0.translation.vector - Vector3::new(0.0125, 0.0, 0.0);
    let (sin, cos) = TORCH.work.sin_cos();
    assert!((aside - Vector3::new(0.0, -cos, -sin) * 0.002).norm() < 1e-12, "{aside}");
    assert_eq!(way.marks().iter().filter(|s| (**s - 0.0125).abs() < 1e-9).count(), 1);
}

/// A taught piece of 80 mm on which the torch turns by 0.4 rad and its distance changes by 4 mm: an eighth of all that on 10 mm. On a
/// quarter of a circle its place turns by π / 2 besides.
#[test]
fn a_taught_piece_turns_evenly() {
    let (path, angles) = (straight(), law(&[(0.0, TORCH)]));
    let tool = |x: f64, y: f64, angle: f64, ctwd: f64| TaughtTool {
        station_from_wire_end: Pose::from_parts(
            Vector3::new(x, y, 0.1).into(),
            UnitQuaternion::from_axis_angle(&Vector3::x_axis(), angle),
        ),
        ctwd,
    };
    let way = TorchWay::taught(
        &path,
        &angles,
        Piece::straight(tool(0.0, 0.0, 0.0, 0.015), tool(0.08, 0.0, 0.4, 0.019)),
    );
    let sweep = way.between(0.03, 0.04);
    assert_close(sweep.distance, 0.01);
    assert!((sweep.angle - 0.05).abs() < 1e-9, "{}", sweep.angle);
    assert_close(sweep.ctwd, 0.0005);
    assert_close(way.at(0.02).1.ctwd, 0.016);
    assert!(way.marks().is_empty());
    let diagonal = 0.1 / 2.0_f64.sqrt();
    let [first, _] = Piece::circular([
        tool(0.1, 0.0, 0.0, 0.015),
        tool(diagonal, diagonal, 0.2, 0.015),
        tool(0.0, 0.1, 0.4, 0.015),
    ]);
    let way = TorchWay::taught(&path, &angles, first);
    let sweep = way.between(0.0, first.way());
    assert!((sweep.angle - (FRAC_PI_2 / 2.0 + 0.2)).abs() < 1e-6, "{}", sweep.angle);
    // Nothing to go, nothing to turn.
    let still = Piece::straight(tool(0.0, 0.0, 0.0, 0.015), tool(0.0, 0.0, 0.0, 0.019));
    assert_eq!(TorchWay::taught(&path, &angles, still).between(0.0, 0.0).angle, 0.0);
}

/// Straight away from a place nothing turns; the way goes on in its direction.
#[test]
fn on_the_way_out_nothing_turns() {
    let (path, angles) = (straight(), there_and_back());
    let first = Pose::translation(0.01, 0.02, 0.03);
    let way = TorchWay::straight(&path, &angles, 0.1, first, Vector3::y());
    assert_eq!(way.between(0.01, 0.05), Sweep { distance: 0.05 - 0.01, angle: 0.0, ctwd: 0.0 });
    let (pose, at) = way.at(0.05);
    assert!((pose.translation.vector - Vector3::new(0.01, 0.07, 0.03)).norm() < 1e-12);
    assert_close(at.work, 1.1);
    assert!(way.marks().is_empty());
}

/// Between two places no wire end is farther away, no torch more turned and no tip more drawn in than is said, whatever the way.
#[test]
fn nothing_farther_happens_between_two_places_than_is_said() {
    let (line, circle) = (straight(), round(Offset { n1: 0.003, b: -0.004 }));
    let angles = there_and_back();
    let weave = Weave { shape: WeaveShape::Triangle, amplitude: 0.003, wavelength: 0.02, dwell: [0.1, 0.2] };
    let weave = weave.fitted(Run { start: 0.0, end: 0.2 }, 0.008);
    for path in [&line, &circle] {
        let forms = [
            Form::Weld { weave: None },
            Form::Weld { weave },
            Form::Back { from: 0.2 },
            Form::Shift { lift: 0.05, fixed: None },
            Form::Shift { lift: 0.05, fixed: Some(Vector3::x()) },
        ];
        for form in forms {
            let way = TorchWay { path, law: &angles, form };
            for i in 0..40 {
                let from = 0.004 * f64::from(i);
                let to = from + 0.001 * f64::from(1 + i * 7 % 40);
                let (sweep, (start, first)) = (way.between(from, to), way.at(from));
                for j in 0..=20 {
                    let (pose, angles) = way.at(from + (to - from) * f64::from(j) / 20.0);
                    let gone = (pose.translation.vector - start.translation.vector).norm();
                    let turned = pose.rotation.angle_to(&start.rotation);
                    assert!(
                        gone <= sweep.distance + 1e-12,
                        "{gone} m, {} said, {from} to {to}",
                        sweep.distance
                    );
                    assert!(
                        turned <= sweep.angle + 1e-7,
                        "{turned} rad, {} said, {from} to {to}",
                        sweep.angle
                    );
                    assert!((angles.ctwd - first.ctwd).abs() <= sweep.ctwd + 1e-12);
                }
            }
        }
    }
}
