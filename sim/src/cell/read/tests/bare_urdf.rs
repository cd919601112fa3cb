//! A URDF where a cell could name an arm file.

use nalgebra::Vector3;
use seamwright_kinematics::{Basis, Range};

use super::*;

const LINE: &str = "points_mm = [[-100, 4, 0], [100, 4, 0]]";

/// The arm of six turning joints in a row, here with `range` of joint 2 and more inside the robot.
fn urdf(range: &str, more: &str) -> String {
    let rows = [
        ("0 0 0.45", "0 0 0"),
        ("0.15 0 0", "-1.5707963267948966 0 0"),
        ("0 -0.6 0", "0 0 0"),
        ("0.12 0 0", "0 1.5707963267948966 0"),
        ("0 0 0.64", "-1.5707963267948966 0 0"),
        ("0 0 0", "1.5707963267948966 0 0"),
    ];
    let joint = |(i, (xyz, rpy)): (usize, &(&str, &str))| {
        let limit = if i == 1 { range } else { "lower=\"-3\" upper=\"3\" velocity=\"2\"" };
        format!(
            "<joint name=\"j{0}\" type=\"revolute\"><parent link=\"l{i}\"/><child link=\"l{0}\"/><origin xyz=\"{xyz}\" rpy=\"{rpy}\"/>\
             <axis xyz=\"0 0 1\"/><limit {limit} effort=\"1\"/></joint>",
            i + 1
        )
    };
    let links: String = (0..=6).map(|i| format!("<link name=\"l{i}\"/>")).collect();
    let joints: String = rows.iter().enumerate().map(joint).collect();
    format!("<robot name=\"six joints\">{links}{joints}{more}</robot>")
}

const RANGE: &str = "lower=\"-2\" upper=\"2.5\" velocity=\"1.5\"";

/// A cell with `arm` in its `[arm]` and this URDF, and the problems as texts.
fn with(arm: &str, urdf: &str) -> Result<Cell, String> {
    let head = HEAD.replace("file = \"../arms/arm.toml\"", arm);
    let plate_and_rib = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
        + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]);
    let text = format!("{head}{plate_and_rib}{}", seam("fillet", LINE));
    read(&text, &[("arms/six.urdf", urdf.as_bytes())]).map_err(|problems| listed(&problems))
}

#[test]
fn a_urdf_stands_where_an_arm_file_does_and_what_it_lacks_is_noted_as_assumed() {
    let cell = with("file = \"../arms/six.urdf\"\nhome_deg = [0, 0, 0, 0, 60, 0]", &urdf(RANGE, "")).unwrap();
    let arm = &cell.arm.arm;
    assert_eq!(arm.name(), "six joints");
    assert_eq!(arm.axes()[1].range, Range { min: -2.0, max: 2.5 });
    assert_eq!(arm.axes()[1].max_speed, 1.5);
    assert_eq!(arm.axes()[1].max_acceleration.basis, Basis::Assumed);
    assert_eq!(arm.axes()[1].max_acceleration.value, 1.5 / 0.3, "full speed in 0.3 s");
    assert!(cell.arm.shapes.is_empty());
    for note in [
        "accelerations are assumed",
        "jerks are assumed",
        "six.urdf: the arm has no link shapes",
        "no check pose",
    ] {
        assert!(cell.notes.iter().any(|written| written.contains(note)), "{note}: {:#?}", cell.notes);
    }
}

#[test]
fn what_a_urdf_leaves_to_its_format_is_told_and_one_in_millimetres_refused() {
    let named = "file = \"../arms/six.urdf\"\nhome_deg = [0, 0, 0, 0, 60, 0]";
    let cell = with(named, &urdf("upper=\"2.5\" velocity=\"1.5\"", "")).unwrap();
    assert!(
        cell.notes
            .iter()
            .any(|note| note.contains("six.urdf") && note.contains("`j2` in line 1 has no lower end"))
    );
    let long = urdf(RANGE, "").replace("0.64", "640").replace("0 -0.6 0", "0 -600 0");
    let refused = with(named, &long).err().unwrap();
    assert!(refused.contains("arm.file") && refused.contains("1241 m long in all"), "{refused}");
}

#[test]
fn what_a_cell_needs_and_a_urdf_does_not_say_is_asked_for() {
    let file = "file = \"../arms/six.urdf\"\n";
    let home = "home_deg = [0, 0, 0, 0, 60, 0]";
    let refused = |arm: &str, urdf: &str| with(arm, urdf).err().unwrap_or_else(|| panic!("{arm} {urdf}"));
    let no_range = refused(&format!("{file}{home}"), &urdf("lower=\"0\" upper=\"0\" velocity=\"1\"", ""));
    assert!(no_range.contains("axis 2 (`j2`) no range") && no_range.contains("[[axis]]"), "{no_range}");
    let no_home = refused(file, &urdf(RANGE, ""));
    assert!(no_home.contains("home_deg"), "{no_home}");
    let fork = "<link name=\"other\"/><joint name=\"k\" type=\"fixed\"><parent link=\"l6\"/><child link=\"other\"/></joint>\
                <link name=\"more\"/><joint name=\"m\" type=\"fixed\"><parent link=\"l6\"/><child link=\"more\"/></joint>";
    let unclear = refused(&format!("{file}{home}"), &urdf(RANGE, fork));
    assert!(unclear.contains("the tip link is not clear") && unclear.contains("`tip_link`"), "{unclear}");
    assert!(with(&format!("{file}tip_link = \"more\"\n{home}"), &urdf(RANGE, fork)).is_ok());
    let unknown = refused(&format!("{file}base_link = \"l10\"\n{home}"), &urdf(RANGE, ""));
    assert!(unknown.contains("no link is named `l10`"), "{unknown}");
    let of_an_arm_file = refused("file = \"../arms/arm.toml\"\ntip_link = \"more\"", "");
    assert!(of_an_arm_file.contains("tip_link"), "{of_an_arm_file}");
}

/// A ball on the foot, a tetrahedron on link 3 in a package, and what cannot be read.
#[test]
fn the_collision_shapes_of_a_urdf_are_those_of_the_links_where_no_others_are_given() {
    let collision = |geometry: &str| {
        format!("<collision><origin xyz=\"0 0 0.1\"/><geometry>{geometry}</geometry></collision>")
    };
    let mesh = |file: &str| format!("<mesh filename=\"package://six/{file}\" scale=\"0.001 0.002 0.001\"/>");
    let shaped = urdf(RANGE, "")
        .replace(
            "<link name=\"l0\"/>",
            &format!("<link name=\"l0\">{}</link>", collision("<sphere radius=\"0.1\"/>")),
        )
        .replace(
            "<link name=\"l3\"/>",
            &format!(
                "<link name=\"l3\">{}{}</link>",
                collision(&mesh("meshes/bar.stl")),
                collision(&mesh("gone.dae"))
            ),
        );
    let facet = |corners: [[f64; 3]; 3]| {
        let vertex = corners.map(|[x, y, z]| format!("vertex {x} {y} {z}\n")).concat();
        format!("facet normal 0 0 0\nouter loop\n{vertex}endloop\nendfacet\n")
    };
    let [o, x, y, z] = [[0.0; 3], [100.0, 0.0, 0.0], [0.0, 100.0, 0.0], [0.0, 0.0, 100.0]];
    let facets = [[o, y, x], [o, x, z], [o, z, y], [x, y, z]].map(facet).concat();
    let stl = format!("solid bar\n{facets}endsolid bar\n");
    let wrapper = "format = 1\nname = \"six\"\nurdf = \"six.urdf\"\n";
    let shaped_cell = |arm: &str, shapes: &str| {
        let head =
            HEAD.replace("file = \"../arms/arm.toml\"", &format!("{arm}\nhome_deg = [0, 0, 0, 0, 60, 0]"));
        let plate_and_rib = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0])
            + &plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]);
        let wrapper = format!("{wrapper}{shapes}");
        let text = format!("{head}{plate_and_rib}{}", seam("fillet", LINE));
        read(
            &text,
            &[
                ("arms/six.urdf", shaped.as_bytes()),
                ("arms/six.toml", wrapper.as_bytes()),
                ("meshes/bar.stl", stl.as_bytes()),
            ],
        )
        .map_err(|problems| listed(&problems))
        .unwrap()
    };
    for arm in ["file = \"../arms/six.urdf\"", "file = \"../arms/six.toml\""] {
        let cell = shaped_cell(arm, "");
        let names: Vec<(&str, usize)> =
            cell.arm.shapes.iter().map(|shape| (shape.name.as_str(), shape.link)).collect();
        assert_eq!(names, [("l0", 0), ("l3", 3)]);
        assert!((cell.arm.shapes[1].link_from_shape.translation.vector - Vector3::z() * 0.1).norm() < 1e-15);
        let crate::cell::Solid::Mesh(bar) = &cell.arm.shapes[1].solid else { panic!() };
        let far =
            bar.vertices.iter().fold(Vector3::zeros(), |far: Vector3<f64>, corner| far.sup(&corner.coords));
        assert!((far - Vector3::new(0.1, 0.2, 0.1)).norm() < 1e-12, "{far}");
        assert!(bar.closed);
        let is_told = |text: &str| cell.notes.iter().any(|note| note.contains(text));
        assert!(is_told("l3.2 (package://six/gone.dae") && is_told("2 link shapes"), "{:#?}", cell.notes);
    }
    let own = "[[link_shape]]\nlink = 2\nname = \"upper arm\"\nkind = \"sphere\"\nradius_mm = 50\n";
    let cell = shaped_cell("file = \"../arms/six.toml\"", own);
    let names: Vec<&str> = cell.arm.shapes.iter().map(|shape| shape.name.as_str()).collect();
    assert_eq!(names, ["upper arm"]);
}
