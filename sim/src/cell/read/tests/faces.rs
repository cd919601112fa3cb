//! Which faces are found to meet at a seam. The expected normals follow from how each joint is drawn.

use nalgebra::{UnitQuaternion, Vector3};
use proptest::prelude::*;

use super::*;
use crate::cell::Form;

/// Plate top at z = 0, rib 8 mm thick about the plane y = 0, 60 mm high.
fn tee() -> String {
    plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0])
}

/// Normals and toward-open vector at the start of the first piece.
#[track_caller]
fn assert_faces(seam: &Seam, n1: [f64; 3], b: [f64; 3], within_deg: f64) {
    let piece = &seam.path.as_ref().unwrap().pieces[0];
    for (found, expected, what) in [(piece.n1, n1, "n1"), (piece.b, b, "b")] {
        let off = units::to_deg(found.angle(&Vector3::from(expected)));
        assert!(off <= within_deg, "{what} is {found:?}, {off} degrees off {expected:?}");
    }
}

const EXACT: f64 = 1e-6;

#[test]
fn a_rib_on_a_plate_has_the_plate_as_reference_on_either_side() {
    for side in [1.0, -1.0] {
        let line = format!("points_mm = [[-100, {y}, 0], [100, {y}, 0]]", y = 4.0 * side);
        let seam = only_seam(&tee(), &seam("fillet", &line)).unwrap();
        assert_faces(&seam, [0.0, 0.0, 1.0], [0.0, side, 0.0], EXACT);
        assert_eq!(seam.joined, [ShapeId(0), ShapeId(1)]);
    }
}

#[test]
fn a_line_up_to_a_millimetre_off_finds_the_faces_and_one_farther_off_does_not() {
    for off in [0.0, 0.4, 0.9] {
        let line = format!("points_mm = [[-100, {}, {off}], [100, {}, {off}]]", 4.0 + off, 4.0 + off);
        let found = only_seam(&tee(), &seam("fillet", &line)).unwrap();
        assert_faces(&found, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    }
    let line = "points_mm = [[-100, 5.2, 0], [100, 5.2, 0]]";
    let problem = only_seam(&tee(), &seam("fillet", line)).unwrap_err();
    assert!(
        problem.contains("only one face of a part lies within 1 mm of it: `plate` facing [0, 0, 1]"),
        "{problem}"
    );
}

#[test]
fn a_gap_or_an_overlap_of_half_a_millimetre_changes_nothing() {
    for height in [0.5, -0.5] {
        let parts = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
            + &plate("rib", [0.0, 0.0, 30.0 + height], [200.0, 8.0, 60.0]);
        let found = only_seam(&parts, &seam("fillet", "points_mm = [[-90, 4, 0], [90, 4, 0]]")).unwrap();
        assert_faces(&found, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    }
}

#[test]
fn a_rib_thinner_than_the_search_is_welded_on_the_side_that_is_drawn() {
    for side in [1.0, -1.0] {
        let parts = plate("plate", [0.0, 0.0, -0.5], [300.0, 200.0, 1.0])
            + &plate("rib", [0.0, 0.0, 30.0], [200.0, 0.8, 60.0]);
        let line = format!("points_mm = [[-90, {y}, 0], [90, {y}, 0]]", y = 0.4 * side);
        let found = only_seam(&parts, &seam("fillet", &line)).unwrap();
        assert_faces(&found, [0.0, 0.0, 1.0], [0.0, side, 0.0], EXACT);
    }
}

#[test]
fn a_leaning_rib_gives_its_own_face_on_the_acute_and_on_the_obtuse_side() {
    // Leaning by 30 degrees toward −y: its faces are 60 and 120 degrees from the plate.
    let parts = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + "[[fixture.shape]]\nname = \"rib\"\nrole = \"part\"\nkind = \"box\"\nsize_mm = [200, 8, 100]\nat_mm = [0, -20, 34.641016151377545]\nrotation_zyx_deg = [0, 0, 30]\n";
    // The sunk rib's sides cross the plate's top 4 / cos 30 mm to either side of its middle plane.
    let at = 4.0 / units::deg(30.0).cos();
    for (side, n2) in [(1.0, [0.0, 0.75_f64.sqrt(), 0.5]), (-1.0, [0.0, -(0.75_f64.sqrt()), -0.5])] {
        let line = format!("points_mm = [[-90, {y}, 0], [90, {y}, 0]]\nreference = \"rib\"", y = at * side);
        let found = only_seam(&parts, &seam("fillet", &line)).unwrap();
        let n1 = found.path.as_ref().unwrap().pieces[0].n1;
        assert!(n1.angle(&Vector3::from(n2)) < 1e-8, "{n1:?}");
        // Sunk as it is, the rib goes on beyond the corner as much as the plate does: one of them must be named.
        let line = format!("points_mm = [[-90, {y}, 0], [90, {y}, 0]]", y = at * side);
        assert!(only_seam(&parts, &seam("fillet", &line)).is_err());
        let found = only_seam(&parts, &seam("fillet", &format!("{line}\nreference = \"plate\""))).unwrap();
        assert_faces(&found, [0.0, 0.0, 1.0], [0.0, side, 0.0], EXACT);
    }
}

#[test]
fn a_lap_counts_from_the_lower_plate_even_in_sheet_of_one_millimetre() {
    for thick in [1.0, 6.0] {
        let parts = plate("lower", [0.0, 0.0, -thick / 2.0], [300.0, 200.0, thick])
            + &plate("upper", [0.0, 80.0, thick / 2.0], [300.0, 200.0, thick]);
        let found = only_seam(&parts, &seam("lap", "points_mm = [[-140, -20, 0], [140, -20, 0]]")).unwrap();
        assert_faces(&found, [0.0, 0.0, 1.0], [0.0, -1.0, 0.0], EXACT);
        assert_eq!(found.joined, [ShapeId(0), ShapeId(1)]);
    }
}

#[test]
fn a_butt_takes_the_surface_that_is_drawn_and_keeps_its_side_when_travel_is_reversed() {
    for (z, up) in [(0.0, 1.0), (-1.0, -1.0)] {
        for (gap, step) in [(0.0, 0.0), (0.8, 0.3)] {
            let parts = plate("left", [0.0, -50.0 - gap / 2.0, -0.5], [300.0, 100.0, 1.0])
                + &plate("right", [0.0, 50.0 + gap / 2.0, -0.5 + step * up], [300.0, 100.0, 1.0]);
            let line = format!("points_mm = [[-140, 0, {z}], [140, 0, {z}]]");
            let found = only_seam(&parts, &seam("butt", &line)).unwrap();
            // b = n1 × t.
            assert_faces(&found, [0.0, 0.0, up], [0.0, up, 0.0], EXACT);
            let found = only_seam(&parts, &seam("butt", &format!("{line}\nreversed = true"))).unwrap();
            assert_faces(&found, [0.0, 0.0, up], [0.0, up, 0.0], EXACT);
            assert!((found.path.unwrap().at(0.0).t - Vector3::new(-1.0, 0.0, 0.0)).norm() < 1e-12);
        }
    }
}

#[test]
fn corners_are_found_open_half_open_and_flush() {
    // The edge of one body.
    let open = plate("block", [0.0, -50.0, -50.0], [300.0, 100.0, 100.0]);
    let line = "points_mm = [[-140, 0, 0], [140, 0, 0]]";
    let found = only_seam(&open, &seam("corner", line)).unwrap();
    let piece = &found.path.as_ref().unwrap().pieces[0];
    assert!((piece.n1.into_inner() + piece.b.into_inner() - Vector3::new(0.0, 1.0, 1.0)).norm() < 1e-9);
    // A lid on a wall, half of the wall's top left free.
    let half = plate("wall", [0.0, 0.0, -50.0], [300.0, 10.0, 100.0])
        + &plate("lid", [0.0, -50.0, 5.0], [300.0, 100.0, 10.0]);
    let found = only_seam(&half, &seam("corner", line)).unwrap();
    // The wall's top goes on below the lid.
    assert_faces(&found, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    // The lid ends flush with the wall: one surface.
    let flush = plate("wall", [0.0, -5.0, -50.0], [300.0, 10.0, 100.0])
        + &plate("lid", [0.0, -50.0, 5.0], [300.0, 100.0, 10.0]);
    let found = only_seam(&flush, &seam("corner", line)).unwrap();
    assert_faces(&found, [0.0, 1.0, 0.0], [0.0, 0.0, -1.0], EXACT);
}

#[test]
fn edges_that_only_touch_leave_two_corners_and_none_is_taken() {
    let parts = plate("lid", [0.0, -50.0, 5.0], [300.0, 100.0, 10.0])
        + &plate("wall", [0.0, 5.0, -50.0], [300.0, 10.0, 100.0]);
    let problem = only_seam(&parts, &seam("corner", "points_mm = [[-140, 0, 0], [140, 0, 0]]")).unwrap_err();
    assert!(problem.contains("two pairs of faces meet here"), "{problem}");
    assert!(problem.contains("or give n1 and n2"), "{problem}");
}

#[test]
fn the_faces_of_a_bar_and_a_tube_turn_with_the_circle() {
    let plate = plate("plate", [0.0, 0.0, -5.0], [300.0, 300.0, 10.0]);
    let bar = "[[fixture.shape]]\nname = \"bar\"\nrole = \"part\"\nkind = \"cylinder\"\nradius_mm = 40\nheight_mm = 80\nat_mm = [0, 0, 40]\n";
    let circle = "circle = { centre_mm = [0, 0, 0], normal = [0, 0, 1], radius_mm = 40, overlap_mm = 10 }";
    let found = only_seam(&format!("{plate}{bar}"), &seam("fillet", circle)).unwrap();
    assert_faces(&found, [0.0, 0.0, 1.0], [1.0, 0.0, 0.0], EXACT);
    let path = found.path.as_ref().unwrap();
    let quarter = path.at(path.length() / 4.0);
    assert!(quarter.b.dot(&(quarter.point.coords)) > 0.039_99, "b points away from the bar all round");
    assert!((found.drawn_length - 0.04 * std::f64::consts::TAU).abs() < 1e-12);
    assert!((found.weld_length() - found.drawn_length - 0.01).abs() < 1e-12);
}

#[test]
fn a_fin_along_a_bar_counts_from_the_bar() {
    let parts = "[[fixture.shape]]\nname = \"bar\"\nrole = \"part\"\nkind = \"cylinder\"\nradius_mm = 40\nfrom_mm = [-150, 0, 0]\nto_mm = [150, 0, 0]\n".to_owned()
        + &plate("fin", [0.0, 0.0, 60.0], [200.0, 6.0, 42.0]);
    // Where the fin's side, 3 mm off the middle, leaves the bar.
    let z = (40.0_f64 * 40.0 - 9.0).sqrt();
    let line = format!("points_mm = [[-90, 3, {z}], [90, 3, {z}]]");
    let found = only_seam(&parts, &seam("fillet", &line)).unwrap();
    let radial = Vector3::new(0.0, 3.0 / 40.0, z / 40.0);
    let piece = &found.path.as_ref().unwrap().pieces[0];
    assert!(units::to_deg(piece.n1.angle(&radial)) < 0.05, "{:?}", piece.n1);
    assert!(piece.b.y > 0.99);
}

#[test]
fn a_closed_polyline_round_a_post_takes_the_posts_side_on_every_piece() {
    let parts = plate("plate", [0.0, 0.0, -5.0], [300.0, 300.0, 10.0])
        + &plate("post", [0.0, 0.0, 50.0], [60.0, 40.0, 100.0]);
    let line = "points_mm = [[30, -20, 0], [30, 20, 0], [-30, 20, 0], [-30, -20, 0]]\nclosed = true";
    let found = only_seam(&parts, &seam("fillet", line)).unwrap();
    let pieces = &found.path.as_ref().unwrap().pieces;
    let sides: Vec<[i32; 3]> =
        pieces.iter().map(|piece| [0, 1, 2].map(|k| piece.b[k].round() as i32)).collect();
    assert_eq!(sides, [[1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]]);
    assert!(pieces.iter().all(|piece| (piece.n1.z - 1.0).abs() < 1e-12));
    assert!((found.drawn_length - 0.2).abs() < 1e-12);
    // Given by hand at the start, the normals turn along.
    let by_hand =
        only_seam(&parts, &seam("fillet", &format!("{line}\nn1 = [0, 0, 1]\nn2 = [1, 0, 0]"))).unwrap();
    for (piece, other) in pieces.iter().zip(&by_hand.path.as_ref().unwrap().pieces) {
        assert!((piece.b.into_inner() - other.b.into_inner()).norm() < 1e-12);
    }
    assert_eq!(by_hand.joined, found.joined);
    // Of n1 alone, which picks the post as the reference, the same is true.
    let picked = only_seam(&parts, &seam("fillet", &format!("{line}\nn1 = [1, 0, 0]"))).unwrap();
    for (piece, other) in pieces.iter().zip(&picked.path.as_ref().unwrap().pieces) {
        assert!((piece.b.into_inner() - other.n1.into_inner()).norm() < 1e-9);
        assert!((piece.n1.into_inner() - other.b.into_inner()).norm() < 1e-9);
    }
}

#[test]
fn an_arc_takes_the_normals_at_its_start() {
    let parts = plate("plate", [0.0, 0.0, -5.0], [300.0, 300.0, 10.0])
        + "[[fixture.shape]]\nname = \"bar\"\nrole = \"part\"\nkind = \"cylinder\"\nradius_mm = 50\nheight_mm = 80\nat_mm = [0, 0, 40]\n";
    let found =
        only_seam(&parts, &seam("fillet", "arc_mm = [[0, 50, 0], [-50, 0, 0], [0, -50, 0]]")).unwrap();
    assert_faces(&found, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    let picked = seam("fillet", "arc_mm = [[0, 50, 0], [-50, 0, 0], [0, -50, 0]]\nn1 = [0, 1, 0]");
    assert_faces(&only_seam(&parts, &picked).unwrap(), [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], EXACT);
    let reversed = seam("fillet", "arc_mm = [[0, 50, 0], [-50, 0, 0], [0, -50, 0]]\nreversed = true");
    let found = only_seam(&parts, &reversed).unwrap();
    assert_faces(&found, [0.0, 0.0, 1.0], [0.0, -1.0, 0.0], EXACT);
    let Form::Arc { axis, .. } = &found.path.as_ref().unwrap().pieces[0].form else { panic!() };
    assert!(axis.z < -0.999);
}

#[test]
fn a_missing_stretch_is_told_and_more_than_half_missing_is_a_problem() {
    // A hole for the drain under the rib, at 30 mm of 180: one of five places.
    let rib =
        |from: f64, to: f64, name: &str| plate(name, [(from + to) / 2.0, 0.0, 30.0], [to - from, 8.0, 60.0]);
    let base = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]);
    let line = seam("fillet", "points_mm = [[-90, 4, 0], [90, 4, 0]]");
    let parts = format!("{base}{}{}", rib(-90.0, -50.0, "left"), rib(-20.0, 90.0, "right"));
    let (found, notes) = seam_and_notes(&parts, &line).unwrap();
    assert_faces(&found, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    let told = notes.iter().find(|note| note.starts_with("seam seam: at 30 % of its length")).unwrap();
    assert!(told.contains("`plate`"), "{told}");
    let parts = format!("{base}{}", rib(-90.0, -30.0, "left"));
    let problem = only_seam(&parts, &line).unwrap_err();
    assert!(problem.contains("at 50 % of its length"), "{problem}");
}

/// The rib of [`tee`] ends at ±100 mm, the plate at ±150.
#[test]
fn a_seam_drawn_past_the_end_of_a_part_is_told_how_far_at_which_end() {
    let past = |line: &str| only_seam(&tee(), &seam("fillet", line)).unwrap().welded_past_joint();
    let told_to = units::mm(0.11);
    for (line, expected) in [
        ("points_mm = [[-100, 4, 0], [100, 4, 0]]", [0.0, 0.0]),
        ("points_mm = [[-90, 4, 0], [103, 4, 0]]", [0.0, 3.0]),
        ("points_mm = [[-90, 4, 0], [200, 4, 0]]", [0.0, 100.0]),
        ("points_mm = [[-200, 4, 0], [90, 4, 0]]", [100.0, 0.0]),
        ("points_mm = [[-200, 4, 0], [90, 4, 0]]\nreversed = true", [0.0, 100.0]),
        ("points_mm = [[-110, 4, 0], [107, 4, 0]]\nn1 = [0, 0, 1]\nn2 = [0, 1, 0]", [10.0, 7.0]),
        // An arc that stops short of it welds nothing there.
        ("points_mm = [[-90, 4, 0], [120, 4, 0]]\nend_inset_mm = 25", [0.0, 0.0]),
        ("points_mm = [[-90, 4, 0], [120, 4, 0]]\nend_inset_mm = 12", [0.0, 8.0]),
    ] {
        for (found, expected) in past(line).into_iter().zip(expected) {
            assert!((found - units::mm(expected)).abs() <= told_to, "{line}: {:?}, {expected}", past(line));
        }
    }
}

/// An arc struck before the line and put out beyond it: from −80 the joint goes on for 20 mm, from −90 and 90 for 10.
#[test]
fn leads_run_past_the_joint_only_where_that_has_ended() {
    let past = |line: &str, leads: [f64; 2]| {
        let led = format!(
            "[[procedure]]\nname = \"led\"\nwork_deg = 45\ntravel_deg = 5\nctwd_mm = 15\ntravel_speed_mm_s = 8\nlead_in_mm = {}\n\
             lead_out_mm = {}\n",
            leads[0], leads[1]
        );
        let seam = seam("fillet", line).replace("\"usual\"", "\"led\"");
        only_seam(&(led + &tee()), &seam).unwrap().welded_past_joint().map(units::to_mm)
    };
    for (line, leads, expected) in [
        ("points_mm = [[-80, 4, 0], [90, 4, 0]]", [12.0, 9.0], [0.0, 0.0]),
        ("points_mm = [[-90, 4, 0], [90, 4, 0]]", [17.0, 9.0], [7.0, 0.0]),
        ("points_mm = [[-90, 4, 0], [90, 4, 0]]\nreversed = true", [17.0, 24.0], [7.0, 14.0]),
    ] {
        let found = past(line, leads);
        assert!((0..2).all(|end| (found[end] - expected[end]).abs() <= 0.11), "{line} {leads:?}: {found:?}");
    }
}

#[test]
fn no_seam_of_a_demo_is_drawn_past_its_joint() {
    let scenes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes");
    for cell in ["gate-bracket", "pump-skid", "round-flange", "long-frame", "hinge-plate"] {
        let cell = read_cell(&scenes.join(cell).join("cell.toml")).unwrap();
        for seam in &cell.seams {
            assert!(seam.welded_past_joint().iter().all(|past| *past < units::mm(2.0)), "{}", seam.name);
        }
    }
}

#[test]
fn members_alike_need_no_reference_where_the_work_angle_halves_the_corner() {
    // Two plates edge to edge at a right angle: neither goes on beyond the other.
    let parts = plate("floor", [0.0, 50.0, -5.0], [300.0, 100.0, 10.0])
        + &plate("wall", [0.0, -5.0, 45.0], [300.0, 10.0, 110.0]);
    let line = "points_mm = [[-140, 0, 0], [140, 0, 0]]";
    let found = only_seam(&parts, &seam("fillet", line)).unwrap();
    assert_eq!(found.joined.len(), 2);
    // The wall goes on below the floor's top by the floor's thickness: it is the member that is not butted.
    assert_faces(&found, [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], EXACT);
    let parts = plate("floor", [0.0, 50.0, -0.5], [300.0, 100.0, 1.0])
        + &plate("wall", [0.0, -0.5, 49.5], [300.0, 1.0, 101.0]);
    let problem = only_seam(&parts, &seam("fillet", &format!("{line}\nwork_deg = 40"))).unwrap_err();
    assert!(problem.contains("it is not clear from which face this counts"), "{problem}");
    assert!(only_seam(&parts, &seam("fillet", line)).is_ok());
    let named = seam("fillet", &format!("{line}\nwork_deg = 40\nreference = \"wall\""));
    assert_faces(&only_seam(&parts, &named).unwrap(), [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], EXACT);
    let pointed = seam("fillet", &format!("{line}\nwork_deg = 40\nn1 = [0, 0, 1]"));
    assert_faces(&only_seam(&parts, &pointed).unwrap(), [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
}

#[test]
fn normals_by_hand_must_be_square_to_the_seam_and_point_out_of_the_metal() {
    let line = "points_mm = [[-100, 4, 0], [100, 4, 0]]";
    let with = |normals: &str| only_seam(&tee(), &seam("fillet", &format!("{line}\n{normals}")));
    assert_faces(&with("n1 = [0, 0, 2]\nn2 = [0, 1, 0]").unwrap(), [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    for (normals, expected) in [
        ("n1 = [0, 0, 1]\nn2 = [0, -1, 0]", "the normals point into `rib`"),
        ("n1 = [0, 0, -1]\nn2 = [0, 1, 0]", "the normals point into `plate`"),
        ("n1 = [1, 0, 0]\nn2 = [0, 1, 0]", "n1 is 90 degrees off square to the seam"),
        ("n1 = [0, 0, 1]\nn2 = [0, 0, 1]", "the two normals face the same way"),
        ("n2 = [0, 1, 0]", "n2 is given and n1 is not"),
        ("n1 = [0, 0, 0]\nn2 = [0, 1, 0]", "this has no direction"),
    ] {
        let problem = with(normals).unwrap_err();
        assert!(problem.contains(expected), "{normals}: {problem}");
    }
}

#[test]
fn joins_narrows_the_search_and_names_the_members() {
    let parts = tee() + &plate("pad", [0.0, 54.0, 1.0], [300.0, 100.0, 2.0]);
    let line = "points_mm = [[-90, 4, 0], [90, 4, 0]]";
    let all = only_seam(&parts, &seam("fillet", line));
    let narrowed =
        only_seam(&parts, &seam("fillet", &format!("{line}\njoins = [\"plate\", \"rib\"]"))).unwrap();
    assert_faces(&narrowed, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], EXACT);
    assert_eq!(narrowed.joined, [ShapeId(0), ShapeId(1)]);
    assert!(all.is_err(), "the pad fills the corner");
}

proptest! {
    #![proptest_config(config(40))]

    /// Wherever a joint stands and however it is turned, its faces turn with it.
    #[test]
    fn faces_turn_with_the_parts(angles in prop::array::uniform3(-180.0..180.0_f64), at in prop::array::uniform3(-500.0..500.0_f64)) {
        let turn = UnitQuaternion::from_euler_angles(
            units::deg(angles[2]), units::deg(angles[1]), units::deg(angles[0]),
        );
        let at = Vector3::from(at);
        let moved = |p: [f64; 3]| -> [f64; 3] { (turn * Vector3::from(p) + at).into() };
        let turned_plate = |name: &str, centre: [f64; 3], size: [f64; 3]| {
            format!("{}rotation_zyx_deg = {angles:?}\n", plate(name, moved(centre), size))
        };
        let parts = turned_plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
            + &turned_plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]);
        let line = format!("points_mm = {:?}", [moved([-90.0, 4.0, 0.0]), moved([90.0, 4.0, 0.0])]);
        let found = only_seam(&parts, &seam("fillet", &line)).unwrap();
        let piece = &found.path.as_ref().unwrap().pieces[0];
        prop_assert!((piece.n1.into_inner() - turn * Vector3::z()).norm() < 1e-9);
        prop_assert!((piece.b.into_inner() - turn * Vector3::y()).norm() < 1e-9);
    }
}

/// The plate's top faces +z, the rib's side +y.
#[test]
fn a_reference_that_neither_face_is_stands_at_the_key_that_asks_for_it() {
    let line = "points_mm = [[-100, 4, 0], [100, 4, 0]]";
    for (asks, key, right) in [
        ("n1 = [0, 0, -1]", "seam[1].n1", "write the outward normal of one of these faces"),
        (
            "n1 = [0, 0, -1]\nreference = \"plate\"",
            "seam[1].n1",
            "write the outward normal of one of these faces",
        ),
        ("reference = \"far\"", "seam[1].reference", "name the part of one of these faces"),
        ("n1 = [0, 0, 1]\nreference = \"far\"", "seam[1].reference", "name the part of one of these faces"),
    ] {
        let parts = tee() + &plate("far", [0.0, 500.0, 0.0], [10.0, 10.0, 10.0]);
        let problem = only_seam(&parts, &seam("fillet", &format!("{line}\n{asks}"))).unwrap_err();
        assert!(problem.contains(key) && problem.contains(right), "{asks}: {problem}");
        assert!(
            problem.contains("`plate` facing [0, 0, 1] with `rib` facing [0, 1, 0]"),
            "{asks}: {problem}"
        );
    }
}

/// The plate's top faces +z, the rib's side +y.
#[test]
fn a_reference_by_part_and_another_by_normal_are_told_to_differ() {
    let line = "points_mm = [[-100, 4, 0], [100, 4, 0]]";
    for (asks, told) in [
        (
            "n1 = [0, 1, 0]\nreference = \"plate\"",
            "reference names `plate` facing [0, 0, 1], and n1 is the normal of `rib` facing [0, 1, 0]",
        ),
        (
            "n1 = [0, 0, 1]\nreference = \"rib\"",
            "reference names `rib` facing [0, 1, 0], and n1 is the normal of `plate` facing [0, 0, 1]",
        ),
        (
            "n1 = [0, 1, 0]\nn2 = [0, 0, 1]\nreference = \"plate\"",
            "n1 is the normal of `rib`, and reference names another part",
        ),
    ] {
        let problem = only_seam(&tee(), &seam("fillet", &format!("{line}\n{asks}"))).unwrap_err();
        assert!(problem.contains("seam[1].n1") && problem.contains(told), "{asks}: {problem}");
        assert!(problem.contains("leave out the one that is wrong"), "{asks}: {problem}");
    }
    let agree = "n1 = [0, 1, 0]\nn2 = [0, 0, 1]\nreference = \"rib\"";
    assert!(only_seam(&tee(), &seam("fillet", &format!("{line}\n{agree}"))).is_ok());
}

#[test]
fn a_member_that_joins_leaves_out_is_named() {
    let parts = tee() + &plate("far", [0.0, 500.0, 0.0], [10.0, 10.0, 10.0]);
    let line = "points_mm = [[-100, 4, 0], [100, 4, 0]]";
    for (joins, left_out) in [("[\"plate\", \"far\"]", "rib"), ("[\"rib\"]", "plate")] {
        let line = format!("{line}\njoins = {joins}");
        let problem = only_seam(&parts, &seam("fillet", &line)).unwrap_err();
        let told = format!("; `{left_out}` has a face of the joint here, and joins leaves it out");
        assert!(problem.contains("seam[1].joins") && problem.contains(&told), "{problem}");
        assert!(!problem.contains("500"), "{problem}");
    }
}

#[test]
fn a_line_inside_a_part_says_so() {
    let line = "points_mm = [[-90, 0, -5], [90, 0, -5]]";
    let problem = only_seam(&tee(), &seam("fillet", line)).unwrap_err();
    let told = "; it runs inside `plate`, which takes up 300.0 x 200.0 x 10.0 mm";
    assert!(problem.contains(told) && !problem.contains("0.0 mm away"), "{problem}");
}

#[test]
fn a_line_that_misses_a_part_names_the_one_that_is_nearest_with_its_size() {
    // 40 mm beyond the rib's end over the plate: its box ends 4 mm below the line and the rib 40 mm before it.
    let line = "points_mm = [[140, 4, 4], [145, 4, 4]]";
    let problem = only_seam(&tee(), &seam("fillet", line)).unwrap_err();
    let told = "no face of a part lies within 1 mm of it; the nearest part, `plate`, is at least 4.0 mm away and takes up \
                300.0 x 200.0 x 10.0 mm";
    assert!(problem.contains(told), "{problem}");
    // On the plate, 20 mm beside the rib.
    let line = "points_mm = [[-90, 24, 0], [90, 24, 0]]";
    let problem = only_seam(&tee(), &seam("fillet", line)).unwrap_err();
    let told = "; the nearest other part, `rib`, is at least 20.0 mm away and takes up 200.0 x 8.0 x 60.0 mm";
    assert!(problem.contains(told), "{problem}");
    assert!(!problem.contains("mind unit"), "{problem}");
}

#[test]
fn normals_by_hand_where_no_two_faces_meet_leave_no_joint() {
    let no_joint =
        |parts: &str, rest: &str| only_seam(parts, &seam("fillet", rest)).unwrap().past_joint.is_none();
    let line = "points_mm = [[-100, 4, 0], [100, 4, 0]]\nn1 = [0, 0, 1]\nn2 = [0, 1, 0]";
    assert!(!no_joint(&tee(), line));
    assert!(no_joint(&plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]), line));
    assert!(no_joint("", line));
    // The rib's side and its underside meet there, but nothing to weld it to.
    assert!(no_joint(&plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]), line));
    let circle = "circle = { centre_mm = [0, 0, 0], normal = [0, 0, 1], radius_mm = 40 }\nn1 = [0, 0, 1]\nn2 = [1, 0, 0]";
    let base = plate("plate", [0.0, 0.0, -5.0], [300.0, 300.0, 10.0]);
    let bar = "[[fixture.shape]]\nname = \"bar\"\nrole = \"part\"\nkind = \"cylinder\"\nradius_mm = 40\nheight_mm = 80\nat_mm = [0, 0, 40]\n";
    assert!(no_joint(&base, circle));
    assert!(!no_joint(&format!("{base}{bar}"), circle));
}

/// Both seams lie along the same rib, the second from −40 to 100 mm: 140 mm of it on the first. On the other side of a rib of 0.4 mm, or across, it lies on
/// nothing.
#[test]
fn a_weld_on_another_is_told_with_its_length() {
    let thin = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + &plate("rib", [0.0, 0.0, 30.0], [200.0, 0.4, 60.0]);
    let second = |line: &str| seam("fillet", line).replace("\"seam\"", "\"second\"");
    let over = |line: &str| {
        let first = seam("fillet", "points_mm = [[-100, 0.2, 0], [100, 0.2, 0]]");
        let cell = after_head(&format!("{thin}{first}{}", second(line))).map_err(|p| listed(&p)).unwrap();
        [1, 0].map(|id| {
            crate::cell::welded_over(&cell, crate::cell::SeamId(id)).map(|(_, length)| units::to_mm(length))
        })
    };
    for line in ["points_mm = [[-40, 0.2, 0], [100, 0.2, 0]]", "points_mm = [[100, 0.2, 0], [-40, 0.2, 0]]"] {
        assert!(
            over(line).iter().all(|length| (length.unwrap() - 140.0).abs() <= 4.0),
            "{line}: {:?}",
            over(line)
        );
    }
    assert_eq!(over("points_mm = [[-40, -0.2, 0], [100, -0.2, 0]]"), [None, None]);
    assert_eq!(over("points_mm = [[95, 0.2, 0], [100, 0.2, 0]]"), [None, None]);
}
