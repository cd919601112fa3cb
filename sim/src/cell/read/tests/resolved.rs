//! What a cell says once it is resolved: frames, stations, copies, mirror images, runs, defaults.

use nalgebra::{Point3, Vector3};

use super::*;
use crate::cell::{Presence, Role};

const LINE: &str = "points_mm = [[-100, 4, 0], [100, 4, 0]]";

fn tee() -> String {
    plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0])
}

/// The usual cell with another text for its station.
fn with_station(station: &str, rest: &str) -> Result<Cell, String> {
    let (before, after) = HEAD.split_once("[[station]]").unwrap();
    let (_, fixture) = after.split_once("[[fixture]]").unwrap();
    let text = format!("{before}{station}\n[[fixture]]{fixture}{}{rest}", tee());
    read(&text, &[]).map_err(|problems| listed(&problems))
}

#[test]
fn frames_hang_on_each_other_and_axes_move_what_hangs_on_them() {
    let rest = tee()
        + &seam("fillet", LINE)
        + "[[frame]]\nname = \"tip\"\non = \"arm of the crane\"\nat_mm = [0, 0, -100]\n\
           [[axis]]\nname = \"arm of the crane\"\non = \"crane\"\nkind = \"turn\"\nat_mm = [100, 0, 0]\nmin_deg = -180\nmax_deg = 180\nmax_speed_deg_s = 90\n\
           [[axis]]\nname = \"crane\"\nkind = \"slide\"\ndirection = [0, 2, 0]\nmin_mm = 0\nmax_mm = 3000\nrest_mm = 500\nmax_speed_mm_s = 500\nmax_acceleration_mm_s2 = 1000\n\
           [[shape]]\nname = \"hook\"\non = \"tip\"\nkind = \"sphere\"\nradius_mm = 20\nat_mm = [10, 0, 0]\n";
    let cell = after_head(&rest).map_err(|problems| listed(&problems)).unwrap();
    let hook = cell.shapes.iter().find(|shape| shape.name == "hook").unwrap();
    assert_eq!((hook.role, hook.presence, hook.station), (Role::Surroundings, Presence::Always, None));
    // Slide to 1200 mm, then a quarter turn about z: x of the hook becomes y.
    let world = cell.frames.world_from(hook.frame, &[units::deg(90.0), 1.2]) * hook.frame_from_shape;
    assert!((world.translation.vector - Vector3::new(0.1, 1.2 + 0.01, -0.1)).norm() < 1e-12, "{world}");
    assert_eq!(cell.frames.rest(), [0.0, 0.5]);
    assert!(cell.frames.moves_with(hook.frame, 0) && cell.frames.moves_with(hook.frame, 1));
    // A quarter of a second short: 90 deg/s reached in 0.5 s by the assumed rule.
    assert!((cell.frames.axes[0].max_acceleration - units::deg(180.0)).abs() < 1e-12);
    assert!(
        cell.notes.iter().any(|note| note.starts_with("axis arm of the crane: its acceleration is assumed"))
    );
}

#[test]
fn a_mirrored_station_is_the_mirror_image_with_the_same_angles() {
    for (axis, k) in [("x", 0), ("y", 1)] {
        let of = |mirrored: &str| {
            let station = format!(
                "[[station]]\nname = \"here\"\nfixture = \"jig\"\nload_s = 30\nat_mm = [500, 200, 100]\n{mirrored}"
            );
            let rest = "[[fixture.clamp]]\nname = \"toggle\"\nkind = \"capsule\"\nfrom_mm = [20, 30, 10]\nto_mm = [80, 90, 70]\nradius_mm = 8\n".to_owned()
                + &seam("fillet", "arc_mm = [[30, 4, 0], [40, 14, 0], [50, 4, 0]]\nn1 = [0, 0, 1]\nn2 = [-1, 0.2, 0]\njoins = [\"rib\"]\nturn_deg = 30\napproach_direction = [1, 2, 3]");
            with_station(&station, &rest).unwrap()
        };
        let (plain, mirrored) = (of(""), of(&format!("mirrored = \"{axis}\"")));
        let mirror = |v: Vector3<f64>| Vector3::from_fn(|i, _| if i == k { -v[i] } else { v[i] });
        for (a, b) in plain.shapes.iter().zip(&mirrored.shapes) {
            let at = |shape: &Shape, p: Point3<f64>| (shape.frame_from_shape * p).coords;
            // A capsule is its own image: its ends are mirrored, one way round or the other.
            let p = Point3::new(0.0, 0.0, 0.05);
            let expected = mirror(at(a, p));
            assert!(
                (at(b, p) - expected).norm() < 1e-12 || (at(b, -p) - expected).norm() < 1e-12,
                "{}",
                a.name
            );
            assert!(
                (b.frame_from_shape.rotation.to_rotation_matrix().matrix().determinant() - 1.0).abs() < 1e-12
            );
        }
        let (a, b) = (&plain.seams[0], &mirrored.seams[0]);
        assert_eq!(a.procedure.turn.unwrap().aim, -b.procedure.turn.unwrap().aim);
        assert!((b.approach.unwrap().into_inner() - mirror(a.approach.unwrap().into_inner())).norm() < 1e-12);
        let (path_a, path_b) = (a.path.as_ref().unwrap(), b.path.as_ref().unwrap());
        for share in [0.0, 0.3, 0.7, 1.0] {
            let (p, q) = (path_a.at(share * path_a.length()), path_b.at(share * path_b.length()));
            assert!((q.point.coords - mirror(p.point.coords)).norm() < 1e-12);
            for (v, w) in [(p.t, q.t), (p.n1, q.n1), (p.b, q.b)] {
                assert!((w - mirror(v)).norm() < 1e-12);
            }
        }
    }
}

#[test]
fn a_repeated_fixture_stands_in_rows_and_counts_its_parts() {
    let station = "[[station]]\nname = \"here\"\nfixture = \"jig\"\nload_s = 30\nrepeat = { count = [3, 2], pitch_mm = [350, -250] }\n";
    let rest = "[[fixture.clamp]]\nname = \"toggle\"\nkind = \"sphere\"\nradius_mm = 8\nat_mm = [0, 50, 60]\nclose_s = 2\nopen_s = 1\n".to_owned()
        + &seam("fillet", LINE);
    let cell = with_station(station, &rest).unwrap();
    assert_eq!(cell.stations[0].parts_per_load, 6);
    assert!((cell.stations[0].loading.clamping - 18.0).abs() < 1e-12);
    assert_eq!(cell.seams.len(), 6);
    let fifth = &cell.seams[4];
    assert_eq!(fifth.name, "seam (5)");
    let start = fifth.path.as_ref().unwrap().at(0.0).point;
    assert!((start - Point3::new(-0.1 + 0.35, 0.004 - 0.25, 0.0)).norm() < 1e-12, "{start}");
    let joined: Vec<&str> = fifth.joined.iter().map(|shape| cell.shapes[shape.0].name.as_str()).collect();
    assert_eq!(joined, ["plate (5)", "rib (5)"]);
}

#[test]
fn seams_go_to_the_stations_that_carry_their_fixture_unless_one_is_named() {
    let stations = "[[axis]]\nname = \"table\"\nkind = \"turn\"\nmin_deg = 0\nmax_deg = 180\nmax_speed_deg_s = 90\n\
        [[station]]\nname = \"A\"\nfixture = \"jig\"\non = \"table\"\nload_s = 30\n\
        [[station]]\nname = \"B\"\nfixture = \"jig\"\non = \"table\"\nload_s = 30\naxes_deg = { table = 180 }\n";
    let rest = seam("fillet", LINE)
        + &seam("fillet", &format!("{LINE}\nonly_station = \"B\"\naxes_deg = {{ table = 170 }}"))
            .replace("name = \"seam\"", "name = \"tack\"");
    let cell = with_station(stations, &rest).unwrap();
    let listed: Vec<(&str, usize, f64)> = cell
        .seams
        .iter()
        .map(|seam| (seam.name.as_str(), seam.station.0, units::to_deg(seam.external[0]).round()))
        .collect();
    assert_eq!(listed, [("seam", 0, 0.0), ("seam", 1, 180.0), ("tack", 1, 170.0)]);
}

#[test]
fn a_seam_says_what_each_axis_does_or_leaves_it_to_its_station() {
    let axis = |name: &str| {
        format!(
            "[[axis]]\nname = \"{name}\"\nkind = \"turn\"\nmin_deg = 0\nmax_deg = 180\nmax_speed_deg_s = 90\n"
        )
    };
    let station = "[[station]]\nname = \"A\"\nfixture = \"jig\"\non = \"rotate\"\nload_s = 30\naxes_choose = [\"tilt\"]\n";
    let uses = |keys: &str| {
        let stations = format!("{}{}{station}", axis("tilt"), axis("rotate"));
        let cell = with_station(&stations, &seam("fillet", &format!("{LINE}\n{keys}")))?;
        Ok::<_, String>(cell.seams[0].axis_uses.clone())
    };
    use crate::cell::frames::AxisUse::{Chosen, Coordinated, Held};
    assert_eq!(uses("").unwrap(), [Chosen, Held]);
    assert_eq!(uses("axes_coordinate = [\"rotate\"]").unwrap(), [Chosen, Coordinated]);
    assert_eq!(uses("axes_deg = { tilt = 30 }").unwrap(), [Held, Held]);
    assert_eq!(uses("axes_deg = { tilt = 30 }\naxes_coordinate = [\"tilt\"]").unwrap(), [Coordinated, Held]);
    let twice = uses("axes_choose = [\"tilt\"]\naxes_coordinate = [\"tilt\"]").unwrap_err();
    assert!(twice.contains("the axis tilt is listed twice"), "{twice}");
}

#[test]
fn insets_and_stitches_leave_what_they_say() {
    let runs = |rest: &str| -> Vec<[f64; 2]> {
        let seam = only_seam(&tee(), &seam("fillet", &format!("{LINE}\n{rest}"))).unwrap();
        assert!((seam.drawn_length - 0.2).abs() < 1e-12);
        seam.runs
            .iter()
            .map(|run| [run.start, run.end].map(|s| (units::to_mm(s) * 1e6).round() / 1e6))
            .collect()
    };
    assert_eq!(runs(""), [[0.0, 200.0]]);
    assert_eq!(runs("start_inset_mm = 5\nend_inset_mm = 10"), [[5.0, 190.0]]);
    // Start to start 80: at 0 and 80; a third from 160 would end at 210.
    assert_eq!(runs("stitch = { weld_mm = 50, pitch_mm = 80 }"), [[0.0, 50.0], [80.0, 130.0]]);
    assert_eq!(
        runs("stitch = { weld_mm = 50, pitch_mm = 75 }"),
        [[0.0, 50.0], [75.0, 125.0], [150.0, 200.0]]
    );
    assert_eq!(
        runs("start_inset_mm = 20\nstitch = { weld_mm = 50, pitch_mm = 75 }"),
        [[20.0, 70.0], [95.0, 145.0]]
    );
}

#[test]
fn a_seam_of_which_only_the_length_is_known_has_runs_and_no_path() {
    let seam =
        only_seam("", &seam("fillet", "length_mm = 240\nstitch = { weld_mm = 40, pitch_mm = 100 }")).unwrap();
    assert!(seam.path.is_none() && seam.joined.is_empty());
    assert!((seam.weld_length() - 0.12).abs() < 1e-12 && (seam.drawn_length - 0.24).abs() < 1e-12);
}

#[test]
fn a_circle_reversed_starts_where_it_is_drawn_and_overlaps_there() {
    let circle = "circle = { centre_mm = [0, 0, 0], normal = [0, 0, 1], radius_mm = 40, start_mm = [0, 99, 7], overlap_mm = 10 }\nn1 = [0, 0, 1]\nn2 = [0, 1, 0]\n";
    for (rest, along) in [("", -1.0), ("reversed = true", 1.0)] {
        let seam = only_seam("", &seam("fillet", &format!("{circle}{rest}"))).unwrap();
        let path = seam.path.unwrap();
        let at = path.at(0.0);
        assert!((at.point - Point3::new(0.0, 0.04, 0.0)).norm() < 1e-12, "{}", at.point);
        assert!((at.t - Vector3::new(along, 0.0, 0.0)).norm() < 1e-9);
        assert!((at.b - Vector3::y()).norm() < 1e-9);
        assert!((path.length() - seam.drawn_length - 0.01).abs() < 1e-12);
    }
}

#[test]
fn points_from_a_spreadsheet_are_read_with_their_normals() {
    // With the encoding mark that spreadsheets write, comments and an empty line.
    let csv = "\u{feff}# from the drawing\nx_mm, y_mm, z_mm, n1x, n1y, n1z, n2x, n2y, n2z\n0,0,0, 0,0,1, 0,1,0\n\n100,0,0, 0,0,1, -1,0.1,0\n100,100,0, 0,0,1, 1,1,0\n";
    let rest = seam("fillet", "points_csv = \"points.csv\"");
    let cell = read(&format!("{HEAD}{rest}"), &[("cells/points.csv", csv.as_bytes())])
        .map_err(|p| listed(&p))
        .unwrap();
    let path = cell.seams[0].path.as_ref().unwrap();
    assert_eq!(path.pieces.len(), 2);
    assert!((path.length() - 0.2).abs() < 1e-12);
    assert!((path.pieces[0].b.into_inner() - Vector3::y()).norm() < 1e-9);
    // (−1, 0.1, 0), made square to travel along y.
    assert!((path.pieces[1].b.into_inner() + Vector3::x()).norm() < 1e-9);
}

#[test]
fn the_torch_hangs_as_its_file_says() {
    let cell = after_head(&(tee() + &seam("fillet", LINE))).unwrap();
    let torch = &cell.torch;
    // Worked out by hand from the file: bent by 40 degrees in the plane y = 0.
    let tool = torch.flange_from_tool;
    assert!((tool.translation.vector - Vector3::new(0.102_846, 0.0, 0.362_567)).norm() < 1e-9);
    let (sin, cos) = units::deg(40.0).sin_cos();
    assert!((tool * Vector3::z() - Vector3::new(sin, 0.0, cos)).norm() < 1e-5);
    assert!(
        (tool * Vector3::x() - Vector3::new(cos, 0.0, -sin)).norm() < 1e-5,
        "+X looks back to the flange"
    );
    let nozzle = torch.shapes.iter().find(|shape| shape.name == "nozzle").unwrap();
    // The mouth stands 2 mm before the tip, which is 15 mm behind the wire end.
    let crate::cell::Solid::Frustum { half_height, radius_high, .. } = nozzle.solid else { panic!() };
    let mouth = tool.inverse() * nozzle.flange_from_shape * Point3::new(0.0, 0.0, half_height);
    assert!((mouth - Point3::new(0.0, 0.0, -0.013)).norm() < 1e-12);
    assert!((radius_high - 0.0085).abs() < 1e-12);
}

#[test]
fn what_is_noted_does_not_depend_on_where_the_cell_lies() {
    let text = HEAD.replace("../arms/arm.toml", "../arms/bare.toml") + &tee() + &seam("fillet", LINE);
    // An arm without shapes is told, with its file's name.
    let bare = ARM.split("[[link_shape]]").next().unwrap();
    let notes = |folder: &str| {
        let at = |name: &str| format!("{folder}{name}");
        let (cell, arm, torch) = (at("cells/cell.toml"), at("arms/bare.toml"), at("torches/torch.toml"));
        let files: [(&str, &[u8]); 3] =
            [(&cell, text.as_bytes()), (&arm, bare.as_bytes()), (&torch, TORCH.as_bytes())];
        read_cell_with(Path::new(&cell), &Bundled(&files))
            .map_err(|problems| listed(&problems))
            .unwrap()
            .notes
    };
    assert!(notes("").iter().any(|note| note.starts_with("../arms/bare.toml: the arm has no link shapes")));
    for folder in ["/a/long/way/off/", "../", "./x/../"] {
        assert_eq!(notes(folder), notes(""), "{folder}");
    }
}
