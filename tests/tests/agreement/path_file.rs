//! `path.csv` of the starter cell against somebody else's forward kinematics: from the axis values in the file alone, the wire
//! end must land where the file says, on the seam of the cell file, at the angles and the speed that the procedure asks for.
//!
//! The arm is `rs-opw-kinematics` with the dimensions of the arm file, table and torch are put in front and behind by hand,
//! and the angles are taken from the wire by the definitions of AWS A3.0: nothing of ours is used but the file.

use std::collections::BTreeMap;
use std::f64::consts::FRAC_PI_2;
use std::path::Path;

use nalgebra::{Isometry3, Quaternion, Rotation3, Translation3, UnitQuaternion, Vector3};
use rs_opw_kinematics::kinematic_traits::Kinematics;
use rs_opw_kinematics::kinematics_impl::OPWKinematics;
use rs_opw_kinematics::parameters::opw_kinematics::Parameters;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::check::{Options, check};
use seamwright_sim::report::files;

/// Rows carry axis values to 0.000001°, which moves a wire end 2 m away by at most 0.00004 mm an axis.
const PLACE_MM: f64 = 1e-4;
const ANGLE_DEG: f64 = 1e-5;

type Row = BTreeMap<String, String>;

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

fn rows_of_path_csv() -> Vec<Row> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
    let cell = read_cell(&file).unwrap();
    let checked = check(&cell, &Options { seed: 1, watch: &() });
    let json = files::json(&checked.findings).unwrap();
    let files = files::all(&cell, &checked, json).unwrap();
    let (_, bytes) = files.into_iter().find(|(name, _)| *name == "path.csv").unwrap();
    csv::Reader::from_reader(bytes.as_slice()).deserialize().map(|row| row.unwrap()).collect()
}

/// Dimensions of `scenes/arms/reach-1400.toml` in m. That library's arm stands upright at 0, ours has its forearm level.
fn arm() -> OPWKinematics {
    OPWKinematics::new(Parameters {
        a1: 0.150,
        a2: -0.130,
        b: 0.0,
        c1: 0.430,
        c2: 0.610,
        c3: 0.640,
        c4: 0.095,
        offsets: [0.0, 0.0, -FRAC_PI_2, 0.0, 0.0, 0.0],
        sign_corrections: [1; 6],
        dof: 6,
    })
}

/// Wire end and wire direction in the world (mm), by the figures of `cell.toml` and `bent-neck.toml`.
fn wire(arm: &OPWKinematics, row: &Row) -> (Vector3<f64>, Vector3<f64>) {
    let axes =
        std::array::from_fn(|i| number(row, &format!("axis{}_deg", i + 1)) * std::f64::consts::PI / 180.0);
    let flange = arm.forward(&axes);
    let (t, r) = (flange.translation, flange.rotation);
    let world_from_flange = Isometry3::from_parts(
        Translation3::new(t.x * 1000.0, t.y * 1000.0, t.z * 1000.0 + 450.0),
        UnitQuaternion::new_normalize(Quaternion::new(r.w, r.x, r.y, r.z)),
    );
    // The wire end at 15 mm CTWD, and along the wire by what the CTWD is more.
    let direction = Vector3::new(0.642788, 0.0, 0.766044).normalize();
    let end = Vector3::new(102.846, 0.0, 362.567) + direction * (number(row, "ctwd_mm") - 15.0);
    ((world_from_flange * nalgebra::Point3::from(end)).coords, world_from_flange.rotation * direction)
}

/// Start of the seam and direction of travel in the world (mm), by the figures of `cell.toml`.
fn drawn(row: &Row) -> (Vector3<f64>, Vector3<f64>) {
    let (start, end) = match row["seam"].as_str() {
        "left ear outside" => ([-130.0, 64.0, 38.0], [10.0, 64.0, 38.0]),
        "left ear inside" => ([-130.0, 56.0, 38.0], [10.0, 56.0, 38.0]),
        "right ear inside" => ([10.0, -56.0, 38.0], [-130.0, -56.0, 38.0]),
        "right ear outside" => ([-130.0, -64.0, 38.0], [10.0, -64.0, 38.0]),
        "latch lug near" => ([100.0, -45.0, 38.0], [100.0, 45.0, 38.0]),
        "latch lug far" => ([108.0, 45.0, 38.0], [108.0, -45.0, 38.0]),
        other => panic!("the starter cell has a new seam {other}"),
    };
    // Side B is turned half round on the table, and the table turns it back.
    let (at, own_turn) = if row["station"] == "side A" { (-480.0, 0.0) } else { (480.0, 180.0) };
    let turn =
        |degrees: f64| Rotation3::from_axis_angle(&Vector3::z_axis(), degrees * std::f64::consts::PI / 180.0);
    let table = turn(number(row, "ext_table_deg"));
    let world = |point: [f64; 3]| {
        table * (turn(own_turn) * Vector3::from(point) + Vector3::new(at, 0.0, 0.0))
            + Vector3::new(1250.0, 0.0, 700.0)
    };
    let (start, end) = (world(start), world(end));
    (start, (end - start).normalize())
}

#[test]
fn somebody_elses_forward_kinematics_lands_on_the_wire_end_of_every_row() {
    let arm = arm();
    let rows = rows_of_path_csv();
    assert!(rows.len() > 1000);
    let mut worst = 0.0_f64;
    for row in &rows {
        let (end, direction) = wire(&arm, row);
        let written = Vector3::new(number(row, "x_mm"), number(row, "y_mm"), number(row, "z_mm"));
        let part = |name: &str| number(row, name);
        let tool =
            UnitQuaternion::new_normalize(Quaternion::new(part("qw"), part("qx"), part("qy"), part("qz")));
        worst = worst.max((end - written).norm());
        assert!((end - written).norm() < PLACE_MM, "{row:?}: {end}");
        assert!((tool * Vector3::z() - direction).norm() < 1e-6, "{row:?}: {direction}");
    }
    println!("worst distance {worst:.2e} mm");
}

#[test]
fn on_a_weld_that_wire_end_is_on_the_seam_at_the_angles_and_the_speed_of_the_procedure() {
    let arm = arm();
    let rows = rows_of_path_csv();
    let (mut welds, mut worst_mm, mut worst_deg) = (0, 0.0_f64, 0.0_f64);
    for (index, row) in rows.iter().enumerate().filter(|(_, row)| row["phase"] == "weld") {
        welds += 1;
        let (end, e) = wire(&arm, row);
        let (start, t) = drawn(row);
        let from_start = end - start;
        let off = (from_start - t * number(row, "s_mm")).norm();
        worst_mm = worst_mm.max(off);
        assert!(off < PLACE_MM, "{row:?}: {off} mm off the seam");
        // The reference face is the plate's top; the open side is the one that the torch comes from.
        let n = Vector3::z();
        let across = e - t * e.dot(&t);
        let b = n.cross(&t) * -across.dot(&n.cross(&t)).signum();
        let travel = e.dot(&t).asin() * 180.0 / std::f64::consts::PI;
        let work = (-across.dot(&b)).atan2(-across.dot(&n)) * 180.0 / std::f64::consts::PI;
        for (angle, column, aim, tolerance) in
            [(work, "work_deg", 45.0, 10.0), (travel, "travel_deg", 8.0, 8.0)]
        {
            let written = number(row, column);
            worst_deg = worst_deg.max((angle - written).abs());
            assert!((angle - written).abs() < ANGLE_DEG, "{row:?}: {column} {angle}");
            assert!((angle - aim).abs() <= tolerance + ANGLE_DEG, "{row:?}: {column} {angle}");
        }
        assert!((number(row, "ctwd_mm") - 15.0).abs() <= 3.0, "{row:?}");
        let next = &rows[index + 1];
        if next["phase"] == "weld" && next["seam"] == row["seam"] {
            let speed =
                (number(next, "s_mm") - number(row, "s_mm")) / (number(next, "t_s") - number(row, "t_s"));
            assert!((speed - 7.0).abs() < 1e-4, "{row:?}: {speed} mm/s");
        }
    }
    // 1360 mm of weld, a row at least every 2 mm.
    assert!(welds >= 680, "{welds}");
    println!("worst distance from the seam {worst_mm:.2e} mm, worst angle {worst_deg:.2e}°");
}
