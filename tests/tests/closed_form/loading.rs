//! How a part goes into its fixture and comes out: what shuts it in, and which wrong way fits, known beforehand. Tables are invented.

use nalgebra::{Matrix3, Vector3};
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::fitted::fitted;

use super::drawn_gap::HELD;

fn block(name: &str, role: &str, at_mm: [f64; 3], size_mm: [f64; 3]) -> String {
    format!(
        "[[fixture.shape]]\nname = \"{name}\"\nrole = \"{role}\"\nkind = \"box\"\nat_mm = {at_mm:?}\nsize_mm = {size_mm:?}\n"
    )
}

/// Plate and rib are 70 mm high. Under a lid 180 mm up, between walls all around, they can be lifted by more than their own height and are
/// still shut in. Without the lid they come out straight up; without one wall up and then past where it stood.
#[test]
fn what_is_only_lifted_under_a_lid_is_not_out() {
    let wall = |name: &str, x: f64, y: f64, size: [f64; 3]| block(name, "fixture", [x, y, 90.0], size);
    let all = [
        ("lid", block("lid", "fixture", [0.0, 0.0, 190.0], [400.0, 300.0, 20.0])),
        ("wall +x", wall("wall +x", 170.0, 0.0, [20.0, 300.0, 180.0])),
        ("wall -x", wall("wall -x", -170.0, 0.0, [20.0, 300.0, 180.0])),
        ("wall +y", wall("wall +y", 0.0, 120.0, [400.0, 20.0, 180.0])),
        ("wall -y", wall("wall -y", 0.0, -120.0, [400.0, 20.0, 180.0])),
    ];
    let ways_out = |left_out: &str| {
        let shapes: String =
            all.iter().filter(|(name, _)| *name != left_out).map(|(_, shape)| shape.as_str()).collect();
        let besides = format!("{HELD}{shapes}[variation]\nparts = 1000\n");
        let cell = Question { besides: &besides, seam: LEFT, ..Question::default() }.cell();
        fitted(&cell, 0).bodies.remove(0).loading
    };
    let shut_in = ways_out("");
    assert!(shut_in.ways_out.is_empty(), "{shut_in:?}");
    assert!(shut_in.hooked_by.iter().any(|hook| hook == "lid"), "{shut_in:?}");
    for left_out in ["lid", "wall +x"] {
        let open = ways_out(left_out);
        assert!(open.ways_out.iter().any(|way| (way - Vector3::z()).norm() < 1e-9), "{left_out}: {open:?}");
    }
}

/// A block hangs deep below the plate, beside the pads. Turned about y the plate lies on the same pads and stops with its other face: the
/// rib, which is 60 mm high, hangs between the pads then, and nothing is in its way.
#[test]
fn a_part_with_something_below_its_pads_fits_upside_down() {
    let below = block("below", "part", [0.0, 40.0, -50.0], [40.0, 20.0, 100.0]);
    let besides = format!("{HELD}{below}[variation]\nparts = 1000\n");
    let cell = Question { besides: &besides, seam: LEFT, ..Question::default() }.cell();
    let ways = fitted(&cell, 0).bodies.remove(0).wrong_ways.unwrap();
    let about_y = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, -1.0));
    assert!(ways.fit.iter().any(|way| (way.turned - about_y).amax() < 1e-9), "{ways:?}");
    // With a block of the fixture where the rib would hang it does not fit.
    let below = format!("{below}{}", block("post", "fixture", [0.0, 0.0, -40.0], [60.0, 12.0, 40.0]));
    let besides = format!("{HELD}{below}[variation]\nparts = 1000\n");
    let cell = Question { besides: &besides, seam: LEFT, ..Question::default() }.cell();
    let ways = fitted(&cell, 0).bodies.remove(0).wrong_ways.unwrap();
    assert!(!ways.fit.iter().any(|way| (way.turned - about_y).amax() < 1e-9), "{ways:?}");
}
