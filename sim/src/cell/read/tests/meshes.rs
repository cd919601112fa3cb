//! Parts and fixtures from mesh files.

use nalgebra::Vector3;

use super::*;
use crate::cell::Solid;

/// A text STL of triangles in mm.
fn stl(name: &str, triangles: &[[[f64; 3]; 3]]) -> String {
    let mut text = format!("solid {name}\n");
    for triangle in triangles {
        text += " facet normal 0 0 0\n  outer loop\n";
        for [x, y, z] in triangle {
            text += &format!("   vertex {x} {y} {z}\n");
        }
        text += "  endloop\n endfacet\n";
    }
    text + &format!("endsolid {name}\n")
}

/// Triangles of a closed tube about z, outward.
fn tube(inner: f64, outer: f64, height: f64, sides: usize) -> Vec<[[f64; 3]; 3]> {
    let at = |radius: f64, side: usize, z: f64| {
        let (sin, cos) = (std::f64::consts::TAU * side as f64 / sides as f64).sin_cos();
        [radius * cos, radius * sin, z]
    };
    let mut triangles = Vec::new();
    let mut quad = |[a, b, c, d]: [[f64; 3]; 4]| triangles.extend([[a, b, c], [a, c, d]]);
    for side in 0..sides {
        let next = (side + 1) % sides;
        quad([at(outer, side, 0.0), at(outer, next, 0.0), at(outer, next, height), at(outer, side, height)]);
        quad([at(inner, next, 0.0), at(inner, side, 0.0), at(inner, side, height), at(inner, next, height)]);
        quad([
            at(inner, side, height),
            at(outer, side, height),
            at(outer, next, height),
            at(inner, next, height),
        ]);
        quad([at(outer, side, 0.0), at(inner, side, 0.0), at(inner, next, 0.0), at(outer, next, 0.0)]);
    }
    triangles
}

fn mesh_part(name: &str, file: &str) -> String {
    format!(
        "[[fixture.shape]]\nname = \"{name}\"\nrole = \"part\"\nkind = \"mesh\"\nfile = \"{file}\"\nunit = \"mm\"\n"
    )
}

#[test]
fn the_faces_of_a_tube_from_a_mesh_average_out_to_round() {
    let text = stl("tube", &tube(36.0, 40.0, 80.0, 36));
    let rest = plate("plate", [0.0, 0.0, -5.0], [300.0, 300.0, 10.0])
        + &mesh_part("tube", "tube.stl")
        + &seam("fillet", "circle = { centre_mm = [0, 0, 0], normal = [0, 0, 1], radius_mm = 40 }");
    let cell = read(&format!("{HEAD}{rest}"), &[("cells/tube.stl", text.as_bytes())])
        .map_err(|p| listed(&p))
        .unwrap();
    let piece = &cell.seams[0].path.as_ref().unwrap().pieces[0];
    assert!(units::to_deg(piece.n1.angle(&Vector3::z())) < 1e-6);
    assert!(units::to_deg(piece.b.angle(&Vector3::x())) < 1.0, "{:?}", piece.b);
    assert_eq!(cell.seams[0].joined, [ShapeId(0), ShapeId(1)]);
    let Solid::Mesh(mesh) = &cell.shapes[1].solid else { panic!() };
    assert!(mesh.closed && mesh.triangles.len() == 36 * 8);
}

#[test]
fn a_weldment_of_one_mesh_asks_for_the_reference_by_its_normal() {
    // An angle section along x: floor 10 mm thick below z = 0, wall from y = −10 to 0, as one body.
    let outline = [[-10.0, -10.0], [100.0, -10.0], [100.0, 0.0], [0.0, 0.0], [0.0, 100.0], [-10.0, 100.0]];
    let mut obj = String::new();
    for x in [-150, 150] {
        for [y, z] in outline {
            obj += &format!("v {x} {y} {z}\n");
        }
    }
    // End faces with six corners, one of them inward.
    obj += "f 6 5 4 3 2 1\nf 7 8 9 10 11 12\n";
    for side in 0..6 {
        let next = (side + 1) % 6;
        obj += &format!("f {} {} {} {}\n", side + 1, next + 1, next + 7, side + 7);
    }
    let of = |rest: &str| {
        let text = format!("{HEAD}{}{}", mesh_part("angle", "angle.obj"), seam("fillet", rest));
        read(&text, &[("cells/angle.obj", obj.as_bytes())]).map_err(|problems| listed(&problems))
    };
    let line = "points_mm = [[-140, 0, 0], [140, 0, 0]]\nwork_deg = 40";
    let problem = of(line).unwrap_err();
    assert!(problem.contains("it is not clear from which face this counts"), "{problem}");
    for (n1, b) in [([0.0, 0.0, 1.0], [0.0, 1.0, 0.0]), ([0.0, 1.0, 0.0], [0.0, 0.0, 1.0])] {
        let cell = of(&format!("{line}\nn1 = {n1:?}")).unwrap();
        let piece = &cell.seams[0].path.as_ref().unwrap().pieces[0];
        assert!((piece.n1.into_inner() - Vector3::from(n1)).norm() < 1e-9);
        assert!((piece.b.into_inner() - Vector3::from(b)).norm() < 1e-9);
        let Solid::Mesh(mesh) = &cell.shapes[0].solid else { panic!() };
        assert!(mesh.closed, "the concave ends close the body");
    }
}

/// A plate of 300 x 200 x 10 mm in inches, read as if it were in mm: 11.8 x 7.9 x 0.4.
#[test]
fn a_mesh_in_the_wrong_unit_is_named_with_the_size_that_it_then_has() {
    let mut obj = String::new();
    for corner in 0..8 {
        let [x, y, z] = [150.0, 100.0, 5.0].map(|half: f64| half / 25.4);
        let side = |bit: usize, half: f64| if corner >> bit & 1 == 0 { -half } else { half };
        obj += &format!("v {} {} {}\n", side(0, x), side(1, y), side(2, z) - z);
    }
    obj += "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n";
    let of = |unit: &str| {
        let part = mesh_part("plate", "plate.obj").replace("\"mm\"", &format!("\"{unit}\""));
        let rest = part
            + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0])
            + &seam("fillet", "points_mm = [[-100, 4, 0], [100, 4, 0]]");
        read(&format!("{HEAD}{rest}"), &[("cells/plate.obj", obj.as_bytes())])
            .map_err(|problems| listed(&problems))
    };
    assert!(of("inch").is_ok());
    let problem = of("mm").unwrap_err();
    assert!(problem.contains("the nearest other part, `plate`, is at least"), "{problem}");
    assert!(problem.contains("takes up 11.8 x 7.9 x 0.4 mm"), "{problem}");
    assert!(problem.contains("mind unit and up of `plate`"), "{problem}");
}

#[test]
fn groups_that_close_alone_become_shapes_and_others_one_solid() {
    let both = stl("one", &tube(6.0, 10.0, 20.0, 12)) + &stl("two", &tube(3.0, 5.0, 20.0, 12));
    let shape = "[[shape]]\nname = \"tubes\"\nkind = \"mesh\"\nfile = \"tubes.stl\"\nunit = \"mm\"\n";
    let rest = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0])
        + &seam("fillet", "points_mm = [[-100, 4, 0], [100, 4, 0]]");
    let cell = read(&format!("{HEAD}{rest}{shape}"), &[("cells/tubes.stl", both.as_bytes())]).unwrap();
    let names: Vec<&str> = cell.shapes.iter().map(|shape| shape.name.as_str()).collect();
    assert_eq!(names, ["tubes.one", "tubes.two", "plate", "rib"]);
    assert_eq!(cell.seams[0].joined, [ShapeId(2), ShapeId(3)]);
    // The same triangles, cut into two groups across the tubes.
    let triangles = tube(6.0, 10.0, 20.0, 12);
    let cut = stl("lower", &triangles[..30]) + &stl("upper", &triangles[30..]);
    let cell = read(&format!("{HEAD}{rest}{shape}"), &[("cells/tubes.stl", cut.as_bytes())]).unwrap();
    assert_eq!(cell.shapes[0].name, "tubes");
    assert!(
        cell.notes.iter().any(|note| note
            == "tubes.stl: its 2 groups (lower, upper) close only together and are taken as one solid"),
        "{:?}",
        cell.notes
    );
}

#[test]
fn a_mesh_in_inches_and_with_y_up_stands_where_it_should() {
    let text = stl("tube", &tube(1.0, 2.0, 10.0, 16));
    let shape =
        "[[shape]]\nname = \"column\"\nkind = \"mesh\"\nfile = \"tube.stl\"\nunit = \"inch\"\nup = \"y\"\n";
    let rest = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0])
        + &seam("fillet", "points_mm = [[-100, 4, 0], [100, 4, 0]]");
    let cell = read(&format!("{HEAD}{rest}{shape}"), &[("cells/tube.stl", text.as_bytes())]).unwrap();
    let Solid::Mesh(mesh) = &cell.shapes[0].solid else { panic!() };
    // The tube's own z axis, ten inches long, becomes −y.
    let least = mesh.vertices.iter().map(|v| v.y).fold(f64::INFINITY, f64::min);
    let most = mesh.vertices.iter().map(|v| v.y).fold(f64::NEG_INFINITY, f64::max);
    assert!((least + 0.254).abs() < 1e-9 && most.abs() < 1e-9, "{least} {most}");
}

#[test]
fn binary_stl_is_told_from_text_whatever_its_header_says() {
    let triangles = tube(6.0, 10.0, 20.0, 12);
    let mut binary = b"solid made by a program that likes the word".to_vec();
    binary.resize(80, b' ');
    binary.extend((triangles.len() as u32).to_le_bytes());
    for triangle in &triangles {
        binary.extend([0; 12]);
        binary.extend(triangle.iter().flatten().flat_map(|x| (*x as f32).to_le_bytes()));
        binary.extend([0; 2]);
    }
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    let loaded = mesh::load("tube.STL", &binary, &frame).unwrap();
    assert_eq!(loaded.meshes[0].mesh.triangles.len(), triangles.len());
    assert!(loaded.meshes[0].mesh.closed && loaded.notes.is_empty(), "{:?}", loaded.notes);
    binary.truncate(binary.len() - 7);
    binary[0] = b'x';
    let wrong = mesh::load("tube.stl", &binary, &frame).unwrap_err();
    assert_eq!(wrong, "this STL file ends after 95 of 96 triangles");
}

#[test]
fn repairs_and_open_shells_are_told() {
    let mut triangles = tube(6.0, 10.0, 20.0, 12);
    for triangle in &mut triangles[..10] {
        triangle.swap(0, 1);
    }
    triangles.push([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 0.0, 0.0]]);
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    let loaded = mesh::load("x.stl", stl("", &triangles).as_bytes(), &frame).unwrap();
    assert_eq!(
        loaded.notes,
        ["1 triangle had no area and was dropped", "10 triangles were wound inside out and were turned"]
    );
    let loaded = mesh::load("x.stl", stl("", &triangles[1..]).as_bytes(), &frame).unwrap();
    assert!(!loaded.meshes[0].mesh.closed);
    assert!(loaded.notes.iter().any(|note| note.contains("thin shell")));
}

#[test]
fn triangles_that_are_written_twice_open_no_mesh_and_walls_between_bodies_stay() {
    let mut triangles = tube(6.0, 10.0, 20.0, 12);
    let [mut turned, again] = [triangles[3], triangles[40]];
    turned.swap(0, 1);
    triangles.extend([turned, again, again]);
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    let loaded = mesh::load("x.stl", stl("", &triangles).as_bytes(), &frame).unwrap();
    assert_eq!(loaded.notes, ["3 triangles lay on others and were dropped"]);
    assert!(loaded.meshes[0].mesh.closed && loaded.meshes[0].mesh.triangles.len() == 96);
    // Two tetrahedra on either side of one wall.
    let [a, b, c] = [[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [0.0, 9.0, 0.0]];
    let [up, down] = [[1.0, 1.0, 9.0], [1.0, 1.0, -9.0]];
    let bodies =
        [[c, b, a], [a, b, up], [b, c, up], [c, a, up], [a, b, c], [b, a, down], [c, b, down], [a, c, down]];
    let loaded = mesh::load("x.stl", stl("", &bodies).as_bytes(), &frame).unwrap();
    assert!(loaded.notes.is_empty() && loaded.meshes[0].mesh.triangles.len() == 8);
}

#[test]
fn a_text_stl_may_begin_with_the_mark_of_its_encoding() {
    let text = format!("\u{feff}{}", stl("tube", &tube(6.0, 10.0, 20.0, 12)));
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    assert_eq!(mesh::load("x.stl", text.as_bytes(), &frame).map(|loaded| loaded.meshes.len()), Ok(1));
}

/// The triangles beyond the stated count would be missing in every clearance.
#[test]
fn a_binary_stl_that_says_too_few_triangles_is_refused() {
    let mut bytes = vec![0_u8; 80];
    bytes.extend(2_u32.to_le_bytes());
    bytes.resize(84 + 3 * 50, 0);
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    let wrong = mesh::load("x.stl", &bytes, &frame).map(|_| ()).unwrap_err();
    assert_eq!(wrong, "this STL file says that it has 2 triangles, and has room for 3");
}

#[test]
fn a_group_is_named_without_what_a_terminal_would_obey() {
    let text = stl("one\u{1b}[31m", &tube(6.0, 10.0, 20.0, 12)) + &stl("two", &tube(3.0, 5.0, 20.0, 12));
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    let loaded = mesh::load("x.stl", text.as_bytes(), &frame).unwrap();
    assert_eq!(loaded.meshes.iter().map(|mesh| mesh.name.as_str()).collect::<Vec<_>>(), ["one[31m", "two"]);
}

#[test]
fn a_file_of_very_many_open_groups_is_told_in_few_words() {
    let mut text = "v 0 0 0\nv 1 0 0\nv 0 1 0\n".to_owned();
    for group in 0..200 {
        text += &format!("g part{group}\nf 1 2 3\n");
    }
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    let notes = mesh::load("x.obj", text.as_bytes(), &frame).unwrap().notes;
    assert_eq!(notes.len(), 13);
    assert_eq!(notes[12], "and 188 more like these of its other groups");
}

#[test]
fn broken_mesh_files_are_problems_in_words() {
    let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
    for (name, bytes, expected) in [
        ("x.obj", &b"f 1 2 3\n"[..], "this OBJ file is broken"),
        ("x.obj", b"", "there is no triangle"),
        ("x.obj", b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "not a finite number"),
        ("x.obj", b"v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n", "there is no triangle with an area"),
        ("x.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nf 1//99999999999999999 2//1 3//1\n", ""),
        ("x.stl", b"", "this is not an STL file"),
        ("x.stl", b"solid x\nfacet normal 0 0 1\nvertex 1 2", "line 3 does not have three numbers"),
        ("x.stl", b"solid x\nvertex 1 2 3\nendfacet", "line 3 ends a facet of 1 corners"),
        ("x.stl", b"solid x\nvertex 1 2 3", "ends inside a facet"),
        ("x.stl", b"solid x\nfcaet", "line 2 begins with fcaet"),
        ("x.stl", b"solid x\nendsolid x\n", "there is no triangle"),
        ("x.step", b"whatever", "this is neither an .stl nor an .obj file"),
    ] {
        match mesh::load(name, bytes, &frame) {
            Err(wrong) => {
                assert!(!expected.is_empty() && wrong.contains(expected), "{name} {bytes:?}: {wrong}")
            }
            Ok(_) => assert!(expected.is_empty(), "{name} {bytes:?} was read"),
        }
    }
}
