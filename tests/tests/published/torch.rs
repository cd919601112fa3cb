//! Torch poses from work angle, travel angle and CTWD.

use nalgebra::{Point3, Vector3};
use seamwright_sim::cell::SeamPoint;
use seamwright_sim::plan::{TorchAngles, angles_of, station_from_tool};
use seamwright_sim::units;
use seamwright_tests::rows;

/// The columns print 15 significant digits of values of order 1.
const TOLERANCE: f64 = 1e-12;

#[test]
fn the_torch_stands_as_work_travel_angle_and_ctwd_say() {
    let rows = rows("published/torch_poses.csv");
    assert!(rows.len() >= 13);
    for row in rows {
        let vector = |names: [&str; 3]| Vector3::from(names.map(|name| row.number(name)));
        let at = SeamPoint {
            point: Point3::from(vector(["rootx_mm", "rooty_mm", "rootz_mm"])),
            t: vector(["tx", "ty", "tz"]),
            n1: vector(["nx", "ny", "nz"]),
            b: vector(["bx", "by", "bz"]),
            n2: vector(["bx", "by", "bz"]),
            in_corner: false,
        };
        let ctwd = row.number("ctwd_mm");
        let angles = TorchAngles {
            work: units::deg(row.number("work_angle_deg")),
            travel: units::deg(row.number("travel_angle_deg_push_positive")),
            turn: 0.0,
            ctwd,
        };
        let pose = station_from_tool(&at, &angles);
        let columns = [["r11", "r21", "r31"], ["r12", "r22", "r32"], ["r13", "r23", "r33"]].map(vector);
        for (column, axis) in columns.iter().zip([Vector3::x(), Vector3::y(), Vector3::z()]) {
            assert!((pose.rotation * axis - column).amax() < TOLERANCE, "{row}: {pose} is not {columns:?}");
        }
        let tip = pose * Point3::new(0.0, 0.0, -ctwd);
        let expected_tip = vector(["tipx_mm", "tipy_mm", "tipz_mm"]);
        assert!((tip.coords - expected_tip).amax() < 1e-10, "{row}: tip {tip}");
        let plate_angle = (-(pose.rotation * Vector3::z()).dot(&at.n1)).asin();
        let expected = units::deg(row.number("angle_wire_to_plate_deg"));
        assert!((plate_angle - expected).abs() < TOLERANCE, "{row}: wire to plate {plate_angle}");
        let back = angles_of(&at, &pose, ctwd);
        assert!((back.work - angles.work).abs() < TOLERANCE, "{row}: {back:?}");
        assert!((back.travel - angles.travel).abs() < TOLERANCE, "{row}: {back:?}");
        assert!(back.turn.abs() < TOLERANCE, "{row}: {back:?}");
    }
}
