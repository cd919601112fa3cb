//! How far the members of a joint stand apart as drawn, and what that does to the parts that come out. Tables are invented.

use nalgebra::UnitQuaternion;
use nalgebra::Vector3;
use seamwright_sim::cell::{Cell, Joint, Shape};
use seamwright_sim::findings::FitUpFindings;
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::units::{self, mm};
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::fitted::fitted;
use statrs::function::erf::erf;

/// Pads, side stops at y = −100 mm and an end stop hold plate and rib as one body.
pub const HELD: &str = r#"
[[fixture.locator]]
name = "a"
kind = "pad"
at_mm = [-120, -80, 0]
direction = [0, 0, 1]
[[fixture.locator]]
name = "b"
kind = "pad"
at_mm = [120, -80, 0]
direction = [0, 0, 1]
[[fixture.locator]]
name = "c"
kind = "pad"
at_mm = [0, 80, 0]
direction = [0, 0, 1]
[[fixture.locator]]
name = "s"
kind = "stop"
at_mm = [-100, -100, 5]
direction = [0, 1, 0]
[[fixture.locator]]
name = "t"
kind = "stop"
at_mm = [100, -100, 5]
direction = [0, 1, 0]
[[fixture.locator]]
name = "e"
kind = "stop"
at_mm = [-150, 0, 5]
direction = [1, 0, 0]
"#;

fn rib(cell: &mut Cell) -> &mut Shape {
    cell.shapes.iter_mut().find(|shape| shape.name == "rib").unwrap()
}

fn bench() -> Cell {
    Question { seam: LEFT, ..Question::default() }.cell()
}

fn drawn_gap_mm(cell: &Cell) -> Option<f64> {
    Scheme::of(cell).treatments[0].drawn_gap.map(units::to_mm)
}

/// A rib that stands on its plate has no gap, one that is lifted by 0.7 mm that much, and one that is sunk by 3 mm into the plate, which is
/// 10 mm thick, comes free by 3 mm upward.
#[test]
fn a_lifted_rib_stands_off_its_plate_by_as_much() {
    for (lifted, expected) in [(0.0, 0.0), (0.7, 0.7), (5.0, 5.0), (-3.0, -3.0)] {
        let mut cell = bench();
        rib(&mut cell).frame_from_shape.translation.vector.z += mm(lifted);
        let found = drawn_gap_mm(&cell).unwrap();
        assert!((found - expected).abs() < 0.005, "lifted by {lifted}: {found}, not {expected}");
    }
}

/// A rib that leans along the weld by an angle a about its near lower edge opens to L sin a; the weld is looked at 1.2 mm before its end.
#[test]
fn a_tilted_rib_opens_toward_its_far_end() {
    let mut cell = bench();
    let angle = units::deg(0.4);
    let shape = rib(&mut cell);
    let corner = shape.frame_from_shape * nalgebra::Point3::from([-100.0, 0.0, -30.0].map(mm));
    // About −y the far end goes up.
    let turn = UnitQuaternion::from_axis_angle(&-Vector3::y_axis(), angle);
    let about = |at: &nalgebra::Point3<f64>| corner + turn * (at - corner);
    let at = about(&shape.frame_from_shape.translation.vector.into());
    shape.frame_from_shape.translation = at.into();
    shape.frame_from_shape.rotation = turn * shape.frame_from_shape.rotation;
    let expected = (200.0 - 1.2) * angle.sin();
    let found = drawn_gap_mm(&cell).unwrap();
    assert!((found - expected).abs() < 0.01, "{found}, not {expected}");
}

/// With normals by hand a rib 5 mm in the air is found all the same: a plate has no inside corner of its own. Of a joint beside which nothing
/// is drawn the gap is not known.
#[test]
fn what_a_plate_is_welded_to_is_looked_for_beyond_the_line() {
    let by_hand = format!("{LEFT}\nn1 = [0, 0, 1]\nn2 = [0, 1, 0]\njoins = [\"plate\"]");
    for (lifted, expected) in [(5.0, Some(5.0)), (40.0, None)] {
        let mut cell = Question { seam: &by_hand, besides: HELD, ..Question::default() }.cell();
        rib(&mut cell).frame_from_shape.translation.vector.z += mm(lifted);
        let found = drawn_gap_mm(&cell);
        assert_eq!(found.is_some(), expected.is_some(), "{found:?}");
        assert!((found.unwrap_or(0.0) - expected.unwrap_or(0.0)).abs() < 0.005, "{found:?}");
    }
}

/// Parts leave 0 to 0.5 mm, any gap as likely; 0.6 mm are allowed. Drawn 0.3 mm apart, 0.3 of the 0.5 mm are left to them: 60 % of parts.
/// Drawn 0.7 mm apart none is good. Everything else is exact.
#[test]
fn the_gap_as_drawn_comes_on_top_of_what_parts_leave() {
    let variation = format!(
        "{HELD}\n[variation]\ngap_mm = 0.5\njoint_mm = 0\nloading_mm = 0\nfixture_mm = 0\narm_repeatability_mm = 0\narm_accuracy_mm = 0\n\
         tool_centre_mm = 0\nwire_mm = 0\n"
    );
    let seam = format!("{LEFT}\ngap_allowed_mm = 0.6");
    for (drawn, expected) in [(0.0, 1.0), (0.3, 0.6), (0.7, 0.0)] {
        let mut cell = Question { seam: &seam, besides: &variation, ..Question::default() }.cell();
        for body in &mut cell.bodies {
            body.locators.iter_mut().for_each(|locator| {
                locator.tolerance = 0.0;
                locator.part_tolerance = 0.0;
            });
        }
        rib(&mut cell).frame_from_shape.translation.vector.z += mm(drawn);
        let found = fitted(&cell, 0).seams[0].touched_up;
        // Five standard deviations of a share of 100 000 parts, and what the gap is found to.
        assert!((found - expected).abs() < 0.008 + 0.003, "drawn {drawn} apart: {found}, not {expected}");
    }
}

/// Nobody is left to wonder why no part is good.
#[test]
fn a_gap_that_is_too_wide_as_drawn_is_told() {
    let seam = format!("{LEFT}\ngap_allowed_mm = 0.2");
    let mut cell = Question { seam: &seam, besides: HELD, ..Question::default() }.cell();
    rib(&mut cell).frame_from_shape.translation.vector.z += mm(0.9);
    let checked =
        seamwright_sim::check::check(&cell, &seamwright_sim::check::Options { seed: 0, watch: &() });
    let found: FitUpFindings = checked.findings.fit_up.unwrap();
    let told = found.seams[0].drawn_sentence().unwrap();
    assert!(!found.holds && told.contains("0.90 mm apart as drawn, 0.20 mm are allowed"), "{told}");
}

/// Plate and rib, each on locators of its own that are where they are drawn.
fn located_apart() -> String {
    let of = |part: &str, locators: &[(&str, [i32; 3], [i32; 3])]| -> String {
        let locator = |(number, (kind, at, way)): (usize, &(&str, [i32; 3], [i32; 3]))| {
            format!(
                "[[fixture.locator]]\nname = \"{part} {number}\"\npart = \"{part}\"\nkind = \"{kind}\"\nat_mm = {at:?}\n\
                 direction = {way:?}\ntolerance_mm = 0\npart_tolerance_mm = 0\n"
            )
        };
        locators.iter().enumerate().map(locator).collect()
    };
    let (up, left, ahead) = ([0, 0, 1], [0, 1, 0], [1, 0, 0]);
    let plate = of(
        "plate",
        &[
            ("pad", [-120, -80, 0], up),
            ("pad", [120, -80, 0], up),
            ("pad", [0, 80, 0], up),
            ("stop", [-100, -100, 5], left),
            ("stop", [100, -100, 5], left),
            ("stop", [-150, 0, 5], ahead),
        ],
    );
    let rib = of(
        "rib",
        &[
            ("pad", [-90, -3, 10], up),
            ("pad", [90, -3, 10], up),
            ("pad", [0, 3, 10], up),
            ("stop", [-90, -4, 40], left),
            ("stop", [90, -4, 40], left),
            ("stop", [-100, 0, 40], ahead),
        ],
    );
    plate + &rib
}

/// Only the gap counts.
const GAP_ALONE: &str = "across_allowed_mm = 9\nalong_wire_allowed_mm = 9\ngap_allowed_mm = 0.3";

/// A rib on pads of its own that is left off them stands off the plate. Nothing else can spoil a part here, and no program changes that:
/// as many come out touched up as downloaded.
#[test]
fn a_rib_that_is_left_off_its_own_pads_stands_off_whatever_the_program() {
    let variation = "[variation]\nloading_mm = 0.4\ngap_mm = 0\njoint_mm = 0\nparts = 20000\n";
    let besides = located_apart() + variation;
    let seam = format!("{LEFT}\n{GAP_ALONE}");
    let cell = Question { besides: &besides, seam: &seam, ..Question::default() }.cell();
    let found = fitted(&cell, 0);
    let [touched_up, downloaded] = [found.touched_up, found.downloaded].map(Option::unwrap);
    assert_eq!(touched_up, downloaded);
    assert!((0.2..0.9).contains(&touched_up), "{touched_up}: this shows little");
}

/// A plate that comes out too thin leaves its rib standing off, by as much as its face is off: with a standard deviation σ of 0.3 mm the
/// 0.3 mm allowed are kept with the share Φ(1). Of a butt both edges are off, and the gap by their difference: Φ(1 / √2).
#[test]
fn faces_that_are_off_what_locates_their_parts_open_the_gap() {
    let besides = located_apart()
        + "[variation]\nloading_mm = 0\ngap_mm = 0\njoint_mm = 0.9\nsigmas_in_tolerance = 3\nparts = 100000\n";
    let seam = format!("{LEFT}\n{GAP_ALONE}");
    for (joint, edges) in [(Joint::Fillet, 1.0_f64), (Joint::Butt, 2.0)] {
        let mut cell = Question { besides: &besides, seam: &seam, ..Question::default() }.cell();
        cell.seams[0].joint = joint;
        let found = fitted(&cell, 0).seams[0].touched_up;
        let expected = 0.5 * (1.0 + erf(1.0 / (2.0 * edges).sqrt()));
        assert!((found - expected).abs() < 0.006, "{joint:?}: {found}, not {expected}");
    }
}
