//! What `seamwright arm` promises: published poses and solution sets through the whole command, a URDF as it comes, and
//! errors that say where.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use nalgebra::{Matrix3, Rotation3, UnitQuaternion, Vector3};
use seamwright_kinematics::units::{deg, to_deg, to_mm};
use seamwright_sim::findings::{ArmFindings, WaysToPose};

const REPOSITORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
const ARM: &str = "scenes/arms/reach-1400.toml";
const HEAD: &str = "x_mm,y_mm,z_mm,qw,qx,qy,qz\n";

type Row = BTreeMap<String, String>;

fn seamwright(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seamwright"));
    command.arg("arm").args(arguments).current_dir(REPOSITORY);
    command
}

fn run(arguments: &[&str]) -> Output {
    seamwright(arguments).output().unwrap()
}

/// Standard output of a run that must succeed.
fn done(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Standard error of a run that must be refused.
fn refused(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(output.stdout.is_empty(), "{output:?}");
    String::from_utf8(output.stderr).unwrap()
}

fn rows(text: impl Read) -> Vec<Row> {
    csv::Reader::from_reader(text).deserialize().map(Result::unwrap).collect()
}

fn published(table: &str) -> Vec<Row> {
    let path = Path::new(REPOSITORY).join("tests/data/published/kinematics").join(table);
    rows(fs::File::open(path).unwrap())
}

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

fn of(row: &Row, name: impl Fn(usize) -> String) -> [f64; 6] {
    std::array::from_fn(|i| number(row, &name(i + 1)))
}

fn matrix(row: &Row) -> Matrix3<f64> {
    Matrix3::from_fn(|i, j| number(row, &format!("r{}{}", i + 1, j + 1)))
}

fn position(row: &Row) -> Vector3<f64> {
    Vector3::from(["px_m", "py_m", "pz_m"].map(|column| number(row, column)))
}

fn joined(values: [f64; 6]) -> String {
    values.map(|value| value.to_string()).join(",")
}

/// Where the files of a test stand.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path: PathBuf = self.0.path().join(name);
        fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    }

    /// An arm file of DH rows for each robot of the table.
    fn published_arms(&self) -> BTreeMap<String, String> {
        let mut texts: BTreeMap<String, String> = BTreeMap::new();
        for row in published("dh_parameters.csv") {
            let robot = &row["robot"];
            let text =
                texts.entry(robot.clone()).or_insert_with(|| format!("format = 1\nname = \"{robot}\"\n"));
            let degrees = |column: &str| to_deg(number(&row, column));
            let millimetres = |column: &str| to_mm(number(&row, column));
            let end = |column: &str, without: f64| row[column].parse().map_or(without, to_deg);
            writeln!(
                text,
                "[[dh_{}]]\ntheta_offset_deg = {:?}\nd_mm = {:?}\na_mm = {:?}\nalpha_deg = {:?}",
                row["convention"],
                degrees("theta_offset_rad"),
                millimetres("d_m"),
                millimetres("a_m"),
                degrees("alpha_rad")
            )
            .unwrap();
            writeln!(
                text,
                "[[axis]]\nmin_deg = {:?}\nmax_deg = {:?}\nmax_speed_deg_s = 100",
                end("q_min", -180.0),
                end("q_max", 180.0)
            )
            .unwrap();
        }
        texts
            .into_iter()
            .map(|(robot, text)| (robot.clone(), self.write(&format!("{robot}.toml"), &text)))
            .collect()
    }
}

#[test]
fn the_flange_is_said_to_stand_where_reference_libraries_put_it() {
    let folder = Folder::new();
    let arms = folder.published_arms();
    let rows = published("fk.csv");
    assert!(rows.len() >= 30);
    for row in rows {
        let axes = joined(of(&row, |i| format!("q{i}")).map(to_deg));
        let text = done(&[&arms[&row["robot"]], "--axes-deg", &axes, "--json"]);
        let findings: ArmFindings = serde_json::from_str(&text).unwrap();
        let flange = findings.stands.unwrap().flange;
        let off = Vector3::from(flange.position_mm) - position(&row).map(to_mm);
        // Degrees and back cost the last digit of each angle.
        assert!(off.amax() < 1e-9, "{row:?}: {flange:?}");
        let [w, x, y, z] = flange.quaternion_wxyz;
        assert!(w >= 0.0);
        let by_quaternion = UnitQuaternion::from_quaternion(nalgebra::Quaternion::new(w, x, y, z));
        let [z, y, x] = flange.rotation_zyx_deg.map(deg);
        for rotation in [by_quaternion, UnitQuaternion::from_euler_angles(x, y, z)] {
            let off = (rotation.to_rotation_matrix().matrix() - matrix(&row)).amax();
            assert!(off < 1e-11, "{row:?}: {flange:?}");
        }
    }
}

/// A row of a file of poses.
fn pose_line(row: &Row) -> String {
    let rotation = Rotation3::from_matrix_unchecked(matrix(row));
    let q = UnitQuaternion::from_rotation_matrix(&rotation);
    let [x, y, z] = position(row).map(to_mm).into();
    format!("{x},{y},{z},{},{},{},{}\n", q.w, q.i, q.j, q.k)
}

fn apart(one: [f64; 6], other: [f64; 6]) -> f64 {
    let off = |a: f64, b: f64| ((a - b + 180.0).rem_euclid(360.0) - 180.0).abs();
    one.into_iter().zip(other).map(|(a, b)| off(a, b)).fold(0.0, f64::max)
}

#[test]
fn every_published_solution_is_written_once_and_no_other() {
    let folder = Folder::new();
    let arms = folder.published_arms();
    let mut cases: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    for case in published("ik_cases.csv") {
        cases.entry(case["robot"].clone()).or_default().push(case);
    }
    let expected = published("ik_solutions.csv");
    for (robot, cases) in cases {
        let text = HEAD.to_owned() + &cases.iter().map(pose_line).collect::<String>();
        let poses = folder.write("poses.csv", &text);
        let output = run(&[&arms[&robot], "--poses", &poses]);
        assert_eq!(output.status.code(), Some(0));
        let written = rows(&output.stdout[..]);
        let talk = String::from_utf8(output.stderr).unwrap();
        for (index, case) in cases.iter().enumerate() {
            let found: Vec<&Row> = written.iter().filter(|row| row["pose"] == index.to_string()).collect();
            assert_eq!(found.len(), number(case, "n_solutions") as usize, "{case:?}");
            let unreached = talk.lines().any(|line| line.starts_with(&format!("pose {index}: ")));
            assert_eq!(unreached, found.is_empty(), "{case:?}: {talk}");
            if !case["n_within_limits"].is_empty() {
                let in_range = found.iter().filter(|row| row["in_range"] == "true").count();
                assert_eq!(in_range, number(case, "n_within_limits") as usize, "{case:?}");
            }
            // Nearly singular cases lose digits in the table itself, which prints poses with 15.
            let tolerance = if case["case"].starts_with("near_") { 1e-4 } else { 1e-6 };
            let wanted = expected.iter().filter(|row| row["robot"] == robot && row["case"] == case["case"]);
            for row in wanted {
                let wanted = of(row, |i| format!("q{i}_rad")).map(to_deg);
                let near = found.iter().map(|row| apart(of(row, |i| format!("axis{i}_deg")), wanted));
                assert!(near.fold(f64::INFINITY, f64::min) < tolerance, "{row:?} is not in {found:?}");
            }
            for (number, row) in found.iter().enumerate() {
                assert_eq!(row["solution"], number.to_string());
                assert!(["front", "back"].contains(&&*row["shoulder"]), "{row:?}");
            }
        }
    }
}

/// Six joints of the usual arm, a side branch and meshes that are not there.
const URDF: &str = r#"<robot name="six">
  <link name="world"/><link name="base_link"><visual><geometry><mesh filename="package://gone/base.stl"/></geometry></visual></link>
  <link name="base"/><link name="link_1"/><link name="link_2"/><link name="link_3"/><link name="link_4"/><link name="link_5"/>
  <link name="link_6"/><link name="tool0"/>
  <joint name="stand" type="fixed"><parent link="world"/><child link="base_link"/><origin xyz="0 0 0.1"/></joint>
  <joint name="side" type="fixed"><parent link="base_link"/><child link="base"/></joint>
  <joint name="j1" type="revolute"><parent link="base_link"/><child link="link_1"/><axis xyz="0 0 1"/>
    <limit lower="-3" upper="3" effort="0" velocity="2"/></joint>
  <joint name="j2" type="revolute"><parent link="link_1"/><child link="link_2"/><origin xyz="0.15 0 0.43"/><axis xyz="0 1 0"/>
    <limit lower="-1.6" upper="2.6" effort="0" velocity="2"/></joint>
  <joint name="j3" type="revolute"><parent link="link_2"/><child link="link_3"/><origin xyz="0 0 0.61"/><axis xyz="0 1 0"/>
    <limit lower="-3" upper="1.4" effort="0" velocity="2"/></joint>
  <joint name="j4" type="revolute"><parent link="link_3"/><child link="link_4"/><origin xyz="0.64 0 0.13"/><axis xyz="1 0 0"/>
    <limit lower="-3.3" upper="3.3" effort="0" velocity="0"/></joint>
  <joint name="j5" type="revolute"><parent link="link_4"/><child link="link_5"/><axis xyz="0 1 0"/>
    <limit lower="-2.2" upper="2.2" effort="0" velocity="3"/></joint>
  <joint name="j6" type="continuous"><parent link="link_5"/><child link="link_6"/><axis xyz="1 0 0"/></joint>
  <joint name="hand" type="fixed"><parent link="link_6"/><child link="tool0"/><origin xyz="0.095 0 0" rpy="0 1.5707963267948966 0"/></joint>
</robot>"#;

#[test]
fn a_urdf_is_read_as_it_comes() {
    let folder = Folder::new();
    // Known by its first character, whatever its name.
    for name in ["six.urdf", "six.txt"] {
        let urdf = folder.write(name, URDF);
        let arm: ArmFindings = serde_json::from_str(&done(&[&urdf, "--json"])).unwrap();
        assert_eq!((arm.base_link.as_deref(), arm.flange_link.as_deref()), (Some("world"), Some("tool0")));
        assert_eq!(arm.axes[5].max_deg, None, "a continuous joint has no range");
        assert_eq!(arm.axes[3].max_speed_deg_s, None, "a speed of 0 is missing");
        assert_eq!(arm.axes[4].urdf_joint.as_deref(), Some("j5"));
        assert!(arm.assumed.iter().any(|note| note.contains("axis 6") && note.contains("no range")));
        assert!(done(&[&urdf]).contains("no range"));
    }
}

#[test]
fn a_urdf_arm_has_the_solutions_of_the_same_arm_in_an_arm_file() {
    let folder = Folder::new();
    let urdf = folder.write("six.urdf", URDF);
    let axes = "10,-20,30,40,50,60";
    let place = |arguments: &[&str]| {
        let findings: ArmFindings = serde_json::from_str(&done(arguments)).unwrap();
        findings.stands.unwrap().flange
    };
    let [x, y, z] = place(&[&urdf, "--axes-deg", axes, "--json"]).position_mm;
    let flange = place(&[ARM, "--axes-deg", axes, "--json"]);
    let [a, b, c] = flange.position_mm;
    // The foot of the URDF stands 100 mm higher.
    assert!((Vector3::new(x, y, z - 100.0) - Vector3::new(a, b, c)).amax() < 1e-9);
    let [qw, qx, qy, qz] = flange.quaternion_wxyz;
    let poses = folder.write("poses.csv", &format!("{HEAD}{a},{b},{c},{qw},{qx},{qy},{qz}\n"));
    let by_base = rows(done(&[&urdf, "--base", "base_link", "--poses", &poses]).as_bytes());
    let by_file = rows(done(&[ARM, "--poses", &poses]).as_bytes());
    assert_eq!(by_base.len(), 8);
    for row in &by_file {
        let axes = |row: &Row| of(row, |i| format!("axis{i}_deg"));
        assert!(by_base.iter().any(|other| apart(axes(other), axes(row)) < 1e-9), "{row:?}");
    }
    assert!(by_base.iter().any(|row| row["in_range"] == "true"));
}

#[test]
fn what_is_no_six_axis_arm_is_refused_with_what_it_is() {
    let folder = Folder::new();
    let refuse = |text: &str, arguments: &[&str]| {
        let file = folder.write("arm.urdf", text);
        refused(&[&[file.as_str()], arguments].concat())
    };
    let sliding =
        refuse(&URDF.replace("name=\"j3\" type=\"revolute\"", "name=\"j3\" type=\"prismatic\""), &[]);
    assert!(sliding.contains("`j3` is sliding"), "{sliding}");
    let five = refuse(&URDF.replace("name=\"j3\" type=\"revolute\"", "name=\"j3\" type=\"fixed\""), &[]);
    assert!(five.contains("moving joints"), "{five}");
    let follows = refuse(
        &URDF.replacen(
            "</joint>\n  <joint name=\"j2\"",
            "<mimic joint=\"j2\"/></joint>\n  <joint name=\"j2\"",
            1,
        ),
        &[],
    );
    assert!(follows.contains("`j1` is one that follows another"), "{follows}");
    let fork = "<link name=\"camera\"/><joint name=\"eye\" type=\"fixed\"><parent link=\"link_6\"/><child link=\"camera\"/></joint></robot>";
    let fork = URDF.replace("</robot>", fork);
    let unclear = refuse(&fork, &[]);
    assert!(
        unclear.contains("`tool0`") && unclear.contains("`camera`") && unclear.contains("write --tip"),
        "{unclear}"
    );
    let file = folder.write("fork.urdf", &fork);
    assert!(done(&[&file, "--tip", "camera"]).contains("`camera` the flange"));
    let unknown = refuse(&fork, &["--tip", "camara"]);
    assert!(unknown.contains("`camara` (`camera`?)"), "{unknown}");
    let not_urdf = refused(&[ARM, "--tip", "tool0"]);
    assert!(not_urdf.contains("`--tip` = tool0") && not_urdf.contains("tip_link"), "{not_urdf}");
    assert!(refused(&["nowhere.toml"]).contains("nowhere.toml: there is no such file"));
}

#[test]
fn an_arm_that_cannot_be_solved_is_described_all_the_same() {
    let folder = Folder::new();
    // Axis 6 along axis 5: the arm lacks a freedom.
    let idle = URDF.replace("name=\"j6\" type=\"continuous\"><parent link=\"link_5\"/><child link=\"link_6\"/><axis xyz=\"1 0 0\"/>",
        "name=\"j6\" type=\"continuous\"><parent link=\"link_5\"/><child link=\"link_6\"/><axis xyz=\"0 1 0\"/>");
    assert_ne!(idle, URDF);
    let file = folder.write("idle.urdf", &idle);
    assert!(done(&[&file]).contains("cannot be found"));
    assert!(done(&[&file, "--axes-deg", "0,0,0,0,0,0"]).contains("Flange"));
    let poses = folder.write("poses.csv", &format!("{HEAD}0,0,0,1,0,0,0\n"));
    assert!(refused(&[&file, "--poses", &poses]).contains("cannot be found"));
}

#[test]
fn wrong_poses_are_named_by_line_column_and_value() {
    let folder = Folder::new();
    let refuse = |text: &str| {
        let poses = folder.write("poses.csv", text);
        refused(&[ARM, "--poses", &poses])
    };
    for (text, words) in [
        (format!("{HEAD}0,0,0,1,0,0,0\n1,2,x3,1,0,0,0\n"), "poses.csv:3: `z_mm` = x3: "),
        (format!("{HEAD}1,2,NaN,1,0,0,0\n"), "`z_mm` = NaN"),
        (format!("{HEAD}1,2,inf,1,0,0,0\n"), "`z_mm` = inf"),
        (
            format!("{HEAD}1,2,3,0.9,0,0,0\n"),
            "poses.csv:2: `qw,qx,qy,qz` = 0.9,0,0,0: this quaternion has length 0.9000",
        ),
        (format!("{HEAD}1,2,3,1,0,0\n"), "poses.csv:2: this row has another number of columns"),
        ("x_mm,y_mm,z_mm,qw,qx,qy\n1,2,3,1,0,0\n".to_owned(), "poses.csv:1: `qz`: this column is missing"),
        (
            "x_mm,y_mm,z_mm,qw,qx,qy,qz,qwe\n1,2,3,1,0,0,0,0\n".to_owned(),
            "`qwe`: this column is not known here",
        ),
        (HEAD.to_owned(), "this file has no poses"),
        (String::new(), "this column is missing"),
    ] {
        let said = refuse(&text);
        assert!(said.contains(words), "{words:?} is not in {said:?}");
    }
    let poses = folder.write("bytes.csv", "");
    fs::write(&poses, [HEAD.as_bytes(), b"\xff,0,0,1,0,0,0\n"].concat()).unwrap();
    assert!(refused(&[ARM, "--poses", &poses]).contains("not text in UTF-8"));
    let many = HEAD.to_owned() + &"x,0,0,1,0,0,0\n".repeat(1000);
    assert!(
        refuse(&many).lines().count() <= 51,
        "a file that is wrong all through is not listed all through"
    );
    assert!(refused(&[ARM, "--poses", "scenes"]).contains("this is not a file"));
    for six in ["1,2,3,4,5", "1,2,3,4,5,x", "1,2,3,4,5,inf", ""] {
        assert!(refused(&[ARM, "--axes-deg", six]).contains("write six numbers"), "{six}");
    }
}

#[test]
fn nearly_unit_quaternions_and_shuffled_columns_are_read() {
    let folder = Folder::new();
    let plain = folder.write("plain.csv", &format!("{HEAD}700,100,600,0.6,0,0.8,0\n"));
    let loose = folder
        .write("loose.csv", "# comment\nqy,qz,qw,qx,z_mm,x_mm,y_mm\n 0.80056,0,0.60042,0, 600,700,100\n");
    let [plain, loose] = [plain, loose].map(|file| rows(done(&[ARM, "--poses", &file]).as_bytes()));
    assert!(!plain.is_empty());
    for (one, other) in plain.iter().zip(&loose) {
        assert!(apart(of(one, |i| format!("axis{i}_deg")), of(other, |i| format!("axis{i}_deg"))) < 1e-9);
    }
}

/// The flange of the arm with a straight wrist, by hand: 150 + 640 + 95 before axis 1, 430 + 610 + 130 above the foot.
#[test]
fn a_straight_wrist_is_singular_and_keeps_what_is_asked_of_axis_4() {
    let folder = Folder::new();
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let poses = folder.write("poses.csv", &format!("{HEAD}885,0,1170,{half},0,{half},0\n9000,0,0,1,0,0,0\n"));
    for json in [false, true] {
        let arguments = [ARM, "--poses", &poses, "--near", "0,0,0,30,0,0", "--json"];
        let output = run(&arguments[..if json { 6 } else { 5 }]);
        let talk = String::from_utf8(output.stderr).unwrap();
        assert!(talk.starts_with("pose 1: the arm is ") && talk.ends_with(" mm too short\n"), "{talk}");
        let text = String::from_utf8(output.stdout).unwrap();
        if json {
            let poses: Vec<WaysToPose> =
                text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
            let straight: Vec<_> = poses[0].solutions.iter().filter(|way| way.free_axis == Some(4)).collect();
            assert_eq!(straight.len(), 1);
            assert!(
                straight[0].singular && apart(straight[0].axes_deg, [0.0, 0.0, 0.0, 30.0, 0.0, -30.0]) < 1e-6
            );
            assert!(poses[1].solutions.is_empty() && poses[1].out_of_reach.is_some());
        } else {
            let rows = rows(text.as_bytes());
            let straight: Vec<&Row> = rows.iter().filter(|row| row["free_axis"] == "4").collect();
            assert_eq!(straight.len(), 1);
            assert_eq!(straight[0]["singular"], "true");
            assert!((number(straight[0], "axis4_deg") - 30.0).abs() < 1e-12, "{straight:?}");
            assert!(
                rows.iter().filter(|row| row["free_axis"].is_empty()).all(|row| row["singular"] == "false")
            );
        }
    }
}

/// A thousand poses, some of them out of reach.
fn many_poses() -> String {
    (0..1000).fold(HEAD.to_owned(), |text, i| {
        let turn = f64::from(i) * 0.37;
        let (w, x) = ((turn / 2.0).cos(), (turn / 2.0).sin());
        text + &format!("{},{},{},{w},{x},0,0\n", 500 + i, i % 77, 300 + i % 501)
    })
}

#[test]
fn the_same_bytes_come_from_any_number_of_threads() {
    let folder = Folder::new();
    let poses = folder.write("poses.csv", &many_poses());
    let [one, two, seven] =
        ["1", "2", "7"].map(|threads| run(&[ARM, "--poses", &poses, "--threads", threads]));
    assert!(one.stdout.len() > 100_000);
    assert_eq!((&one.stdout, &one.stderr), (&two.stdout, &two.stderr));
    assert_eq!((&one.stdout, &one.stderr), (&seven.stdout, &seven.stderr));
    let numbers: Vec<u64> = rows(&one.stdout[..]).iter().map(|row| row["pose"].parse().unwrap()).collect();
    assert!(numbers.is_sorted() && numbers.last() > Some(&500));
}

#[test]
fn a_reader_who_has_seen_enough_is_no_error() {
    let folder = Folder::new();
    let poses = folder.write("poses.csv", &many_poses());
    let mut child =
        seamwright(&[ARM, "--poses", &poses]).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// Stretched flat by hand: 150 to axis 2, 610 to axis 3, √(640² + 130²) to the wrist centre, 95 more to the flange.
#[test]
fn the_reach_is_that_of_the_links_laid_end_to_end() {
    let arm: ArmFindings = serde_json::from_str(&done(&[ARM, "--json"])).unwrap();
    let wrist_centre = 150.0 + 610.0 + 640_f64.hypot(130.0);
    for (reach, (point, by_hand)) in
        arm.reach.iter().zip([("wrist centre", wrist_centre), ("flange", wrist_centre + 95.0)])
    {
        assert_eq!(reach.point, point);
        assert!((reach.radius_mm - by_hand).abs() < 0.5, "{reach:?} and not {by_hand}");
        assert!(reach.radius_mm <= reach.radius_bound_mm + 1e-9, "{reach:?}");
        // Upright, less the 150 mm by which axis 2 stands before axis 1: 430 + 610 + √(640² + 130²) + 95.
        assert!((reach.highest_mm - (by_hand - 150.0 + 430.0)).abs() < 0.5, "{reach:?}");
    }
}

/// Width of what the lines of a drawing enclose, mm of paper.
fn widths(drawing: &str) -> Vec<f64> {
    let paths = drawing.split("<path").skip(1).map(|path| {
        let data = path.split(" d=\"").nth(1).unwrap().split('"').next().unwrap();
        let numbers = data.split([' ', ',', 'M', 'L', 'z']).filter_map(|number| number.parse::<f64>().ok());
        let across: Vec<f64> = numbers.step_by(2).collect();
        let ends = across.iter().fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(*x), high.max(*x)));
        ends.1 - ends.0
    });
    paths.collect()
}

#[test]
fn the_space_is_drawn_to_the_scale_that_is_written_above_it() {
    let folder = Folder::new();
    let file = folder.write("space.svg", "");
    let torch = ["--torch", "scenes/torches/bent-neck.toml"];
    let text = done(&[&[ARM, "--envelope", &file, "--json"], &torch[..]].concat());
    let reach = serde_json::from_str::<ArmFindings>(&text).unwrap().reach;
    assert_eq!(reach.len(), 3, "wrist centre, flange, tool");
    let drawing = fs::read_to_string(&file).unwrap();
    let scale = |title: &str| -> f64 {
        let after = drawing.split(&format!("{title}, 1 : ")).nth(1).unwrap();
        after.split_whitespace().next().unwrap().parse().unwrap()
    };
    let (side, top) = (scale("axis 1 upright"), scale("along axis 1"));
    let widths = widths(&drawing);
    assert_eq!(widths.len(), 6, "three spaces from the side and three from above");
    for (i, reach) in reach.iter().enumerate() {
        let resolution = reach.resolution_mm;
        // The space is nearly a whole turn, and from the side it begins at axis 1.
        assert!((widths[i] * side - reach.radius_mm).abs() < 2.0 * resolution, "{reach:?}: {}", widths[i]);
        let twice = widths[i + 3] * top;
        assert!(twice < 2.0 * reach.radius_mm + 2.0 * resolution && twice > 1.9 * reach.radius_mm, "{twice}");
    }
    assert!(refused(&[ARM, "--envelope", ARM]).contains("write a name that ends in .svg"));
    assert!(refused(&[ARM, "--envelope", "nowhere/space.svg"]).contains("nowhere/space.svg: "));
}

#[test]
fn no_line_is_wider_than_a_hundred_columns() {
    let folder = Folder::new();
    let urdf = folder.write("six.urdf", URDF);
    for arguments in [
        &[ARM, "--torch", "scenes/torches/bent-neck.toml"][..],
        &[&urdf],
        &[
            ARM,
            "--axes-deg",
            "-170.123456,-95,-175,-190,-128,-360",
            "--torch",
            "scenes/torches/bent-neck.toml",
        ],
    ] {
        let text = done(arguments);
        let widest = text.lines().max_by_key(|line| line.chars().count()).unwrap();
        assert!(widest.chars().count() <= 100, "{widest}");
    }
}

#[test]
fn the_printed_schemas_know_every_key() {
    let known = |name: &str, value: &serde_json::Value| {
        let output = Command::new(env!("CARGO_BIN_EXE_seamwright")).args(["schema", name]).output().unwrap();
        let schema: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        for key in value.as_object().unwrap().keys() {
            assert!(schema["properties"].get(key).is_some(), "{name}: {key}");
        }
    };
    let folder = Folder::new();
    known("arm", &serde_json::from_str(&done(&[ARM, "--json"])).unwrap());
    let poses = folder.write("poses.csv", &format!("{HEAD}900,0,800,1,0,0,0\n"));
    known("pose", &serde_json::from_str(&done(&[ARM, "--poses", &poses, "--json"])).unwrap());
}
