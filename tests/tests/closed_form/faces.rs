//! How far two-hand controls and places are from what moves: from its faces too, not only from its edges.

use seamwright_sim::findings::SafetyFindings;

use super::safeguards::{bare, replaced, screened};

/// The table as a slide that carries a wall 3 m long, 6 m high and 120 mm thick along itself, thicker than the parts in it: whatever stands before it is always before the same face.
fn sliding_wall(zone: &str) -> SafetyFindings {
    let turn = "kind = \"turn\"\nat_mm = [3000, 0, 700]\nmin_deg = -10\nmax_deg = 190\nmax_speed_deg_s = 90\nmax_acceleration_deg_s2 = 180\n";
    let slide = "kind = \"slide\"\ndirection = [1, 0, 0]\nat_mm = [3000, 0, 1000]\nmin_mm = -10\nmax_mm = 600\nmax_speed_mm_s = 400\n\
                 max_acceleration_mm_s2 = 800\n";
    let text = replaced(&bare(), turn, slide);
    let text = replaced(&text, "turn_deg = 27", "slide_mm = 120");
    let text = replaced(&text, "axes_deg = { table = 180 }", "axes_mm = { table = 500 }");
    let text = replaced(&text, "size_mm = [1600, 600, 40]", "size_mm = [3000, 120, 6000]");
    screened(&format!("{}{zone}", replaced(&text, "at_mm = [0, 0, -20]", "at_mm = [0, 0, 0]")))
}

/// Buttons 60 mm before the face, 600 mm beside its middle, are 60 mm from it wherever the slide is.
#[test]
fn a_two_hand_control_before_the_middle_of_a_face_is_as_near_as_the_face() {
    for shape in [
        "kind = \"box\"\nat_mm = [3850, 170, 1000]\nsize_mm = [100, 100, 100]",
        "kind = \"cylinder\"\nat_mm = [3850, 170, 1000]\nradius_mm = 50\nheight_mm = 100",
        // With a notch, which lies away from the wall.
        "kind = \"outline\"\noutline_mm = [[3800, 120], [3900, 120], [3900, 220], [3850, 170], [3800, 220]]\nheight_mm = 1000",
    ] {
        let control = format!(
            "[[zone]]\nname = \"buttons\"\nrole = \"two_hand_control\"\n{shape}\nresponse_s = 0.05\nintrusion_mm = 250\nstops = [\"table\"]\n"
        );
        let device = sliding_wall(&control).devices[0].clone();
        assert!((device.present_mm.unwrap() - 60.0).abs() < 1e-3, "{shape}: {}", device.sentence);
    }
}

/// A place 100 mm wide before the face, where no edge of the wall and no diagonal of a face comes: 60 mm before it, and 30 mm into it, where the
/// wall's face at y = 60 mm is 30 mm behind the side of the place at y = 30 mm.
#[test]
fn a_face_that_stands_in_a_place_is_in_it_though_no_edge_is() {
    let place = |y: f64| {
        let zone = format!(
            "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [3850, {y}, 1000]\nsize_mm = [100, 100, 2000]\n"
        );
        sliding_wall(&zone).places[0].clone()
    };
    let (beside, within) = (place(170.0), place(80.0));
    let distance =
        |place: &seamwright_sim::findings::PlaceFindings| place.nearest.as_ref().unwrap().distance_mm;
    assert!(beside.holds == Some(true) && (distance(&beside) - 60.0).abs() < 1e-3, "{}", beside.sentence);
    assert!(within.holds == Some(false) && (distance(&within) + 30.0).abs() < 1e-3, "{}", within.sentence);
}

/// 1600 T is 41.6 mm with T = 0.026 s and covers over the buttons (C = 0): 100 mm are asked all the same.
#[test]
fn a_two_hand_control_is_asked_100_mm_at_least() {
    let rows = "[[axis.stopping]]\ncategory = 1\ntime_s = 0.5\nturn_deg = 27\n";
    let quick = replaced(
        &replaced(&bare(), rows, ""),
        "max_acceleration_deg_s2 = 180",
        "max_acceleration_deg_s2 = 18000",
    );
    let control = |intrusion: f64| {
        let text = format!(
            "{}[[zone]]\nname = \"buttons\"\nrole = \"two_hand_control\"\nkind = \"field\"\nfrom_mm = [5000, -100, 900]\n\
             to_mm = [5000, 100, 900]\nheight_mm = 100\nresponse_s = 0.005\nintrusion_mm = {intrusion}\nstops = [\"table\"]\n",
            replaced(&quick, "controller_s = 0.03", "controller_s = 0.001\nstopping_time_s = 0.02")
        );
        screened(&text).devices[0].asked_mm.unwrap()
    };
    for (intrusion, asked) in [(0.0, 100.0), (58.0, 100.0), (60.0, 101.6), (250.0, 291.6)] {
        assert!((control(intrusion) - asked).abs() < 1e-6, "{intrusion}: {}", control(intrusion));
    }
}

/// A two-hand control drawn as a box is held against the nearest of what moves: from (5000, 0, 700), 100 mm to each side, to the circle of
/// the corners 2000 − 100 − 854.4 = 1045.6 mm.
#[test]
fn a_two_hand_control_may_be_a_box() {
    let control = "[[zone]]\nname = \"buttons\"\nrole = \"two_hand_control\"\nkind = \"box\"\nat_mm = [5000, 0, 700]\n\
                   size_mm = [200, 2000, 200]\nresponse_s = 0.05\nintrusion_mm = 250\nstops = [\"table\"]\n";
    let device = screened(&format!("{}{control}", bare())).devices[0].clone();
    let there = 2000.0 - 100.0 - 800.0_f64.hypot(300.0);
    assert!((-1e-6..0.2).contains(&(device.present_mm.unwrap() - there)), "{device:?}");
    // T = 0.05 + 0.03 + 0.5: 1600 T + 250 = 1178 mm are asked.
    assert!((device.asked_mm.unwrap() - 1178.0).abs() < 1e-6 && device.holds == Some(false), "{device:?}");
}
