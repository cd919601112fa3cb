//! A URDF where a cell could name an arm file.

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
