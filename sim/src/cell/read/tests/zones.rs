//! Zones, devices and stops, as they are read and as they are refused.

use nalgebra::{Point3, Vector3};

use super::*;
use crate::cell::{Active, Detection, Region, StopCategory, ZoneRole};

fn sound(rest: &str) -> String {
    format!(
        "{HEAD}{}{}{}{rest}",
        plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]),
        plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]),
        seam("fillet", "points_mm = [[-100, 4, 0], [100, 4, 0]]")
    )
}

fn cell_with(rest: &str) -> Cell {
    read(&sound(rest), &[]).map_err(|problems| listed(&problems)).unwrap()
}

/// What is wrong, without file and line.
fn wrong(rest: &str) -> Vec<String> {
    let problems = read(&sound(rest), &[]).err().unwrap_or_default();
    problems.iter().map(|problem| format!("{}: {}", problem.key, problem.wrong)).collect()
}

const CURTAIN: &str = "[[zone]]\nname = \"front\"\nrole = \"curtain\"\nkind = \"field\"\nfrom_mm = [2000, -1000, 200]\n\
                       to_mm = [2000, 1000, 200]\nheight_mm = 1600\nresolution_mm = 30\nresponse_s = 0.02\n";

#[test]
fn a_curtain_is_gone_through_toward_the_arm_or_as_it_says() {
    for (into, expected) in [("", -Vector3::x()), ("into = [1, 0, 0]\n", Vector3::x())] {
        let cell = cell_with(&format!("{CURTAIN}{into}"));
        let zone = &cell.zones[0];
        assert_eq!(zone.role, ZoneRole::Curtain);
        let way = zone.frame_from_zone.rotation * Vector3::y();
        assert!((way - expected).norm() < 1e-12, "{way}");
        let up = zone.frame_from_zone.rotation * Vector3::z();
        assert!((up - Vector3::z()).norm() < 1e-12, "{up}");
        let middle = zone.frame_from_zone * Point3::origin();
        assert!((middle - Point3::new(2.0, 0.0, 0.2)).norm() < 1e-12);
        assert_eq!(zone.region, Region::Field { half_width: 1.0, height: 1.6 });
        let device = zone.device.as_ref().unwrap();
        assert_eq!((device.active, device.stops_arm), (Active::Always, true));
        assert_eq!(device.detection, Detection::Resolution(0.03));
    }
}

#[test]
fn a_file_without_zones_says_nothing_of_safeguarding() {
    let cell = cell_with("");
    assert!(!cell.safeguarding.is_stated && cell.zones.is_empty());
    assert!(!cell.notes.iter().any(|note| note.starts_with("safety")), "{:?}", cell.notes);
    assert!(cell_with(CURTAIN).safeguarding.is_stated);
}

#[test]
fn stated_stops_are_read_and_the_cell_goes_before_the_arm_file() {
    let of_cell =
        "[[arm.stopping]]\ncategory = 1\naxis = 1\ntime_s = 0.4\nturn_deg = 20\nfrom_speed_percent = 50\n";
    let of_file = "\n[[stopping]]\ncategory = 1\naxis = 1\ntime_s = 0.5\nturn_deg = 40\n\
                   [[stopping]]\ncategory = 0\naxis = 1\ntime_s = 0.6\nturn_deg = 50\n";
    let arm = format!("{ARM}{of_file}");
    let files: [(&str, &[u8]); 3] = [
        ("cells/cell.toml", &sound(of_cell).into_bytes()),
        ("arms/arm.toml", arm.as_bytes()),
        ("torches/torch.toml", TORCH.as_bytes()),
    ];
    let read = read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files));
    let cell = read.map_err(|problems| listed(&problems)).unwrap();
    let rows = &cell.arm.stopping[0];
    let times: Vec<(StopCategory, f64)> = rows.iter().map(|row| (row.category, row.time)).collect();
    assert_eq!(times, [(StopCategory::ControlledThenOff, 0.4), (StopCategory::PowerOff, 0.6)]);
    let full = cell.arm.arm.axes()[0].max_speed;
    assert!((rows[0].from_speed - full / 2.0).abs() < 1e-12);
}

#[test]
fn what_cannot_be_is_refused_by_name() {
    let zone = |rest: &str| format!("[[zone]]\nname = \"z\"\n{rest}\n");
    let cases = [
        (CURTAIN.replace("resolution_mm = 30\n", ""), "zone[1].resolution_mm: this key is missing"),
        (
            CURTAIN.replace("kind = \"field\"", "kind = \"box\"\nsize_mm = [1, 1, 1]"),
            "zone[1].kind: a light curtain is a flat field",
        ),
        (
            CURTAIN.replace("to_mm = [2000, 1000, 200]", "to_mm = [2000, -1000, 900]"),
            "zone[1].to_mm: this field has no width",
        ),
        (CURTAIN.replace("2000", "0"), "zone[1].into: it is not clear from which side a person comes"),
        (format!("{CURTAIN}active = \"while_axes_move\"\n"), "zone[1].active: it stops no external axis"),
        (
            format!("{CURTAIN}active = \"while_arm_here\"\n"),
            "zone[1].active: it is not said whose side this is",
        ),
        (
            format!("{CURTAIN}start_from_outside = true\n"),
            "zone[1].start_from_outside: it watches all the time",
        ),
        (format!("{CURTAIN}stops = []\n"), "zone[1].stops: this device stops nothing"),
        (format!("{CURTAIN}stops = [\"tabel\"]\n"), "zone[1].stops: no axis is named \"tabel\""),
        (format!("{CURTAIN}station = \"there\"\n"), "zone[1].station: no station is named \"there\""),
        (format!("{CURTAIN}intrusion_mm = 3\n"), "zone[1].intrusion_mm: a light curtain has no such key"),
        (format!("{CURTAIN}beams = 3\n"), "zone[1].beams: this key is not known here"),
        (
            zone(
                "role = \"restricted_space\"\nkind = \"outline\"\nheight_mm = 9\noutline_mm = [[0, 0], [9, 9], [9, 0], [0, 9]]",
            ),
            "zone[1].outline_mm: the side from corner 1 meets that from corner 3",
        ),
        (
            zone(
                "role = \"restricted_space\"\nkind = \"outline\"\nheight_mm = 9\noutline_mm = [[0, 0], [9, 0], [18, 0]]",
            ),
            "zone[1].outline_mm: this outline holds no area",
        ),
        (
            zone(
                "role = \"restricted_space\"\nkind = \"outline\"\nheight_mm = 9\noutline_mm = [[0, 0], [9, 0], [9, 9], [0, 0]]",
            ),
            "zone[1].outline_mm: corners 4 and 1 are the same",
        ),
        (
            zone("role = \"guard\"\nkind = \"box\"\nsize_mm = [9, 9, 9]\nopening = \"slot\""),
            "zone[1].opening_mm: this key is missing",
        ),
        (
            "[[arm.stopping]]\ncategory = 1\naxis = 1\ntime_s = 0.1\nturn_deg = 900\n".to_owned(),
            "arm.stopping[1].turn_deg: in 0.1 s it cannot go on for more than",
        ),
        (
            "[safety]\nstop_category = 3\n".to_owned(),
            "safety.stop_category: this is not a number that fits here",
        ),
    ];
    for (rest, expected) in cases {
        let found = wrong(&rest);
        assert!(found.iter().any(|problem| problem.starts_with(expected)), "{expected}\nnot in {found:#?}");
    }
}

#[test]
fn two_spaces_of_one_kind_are_one_too_many() {
    let space = |name: &str| {
        format!(
            "[[zone]]\nname = \"{name}\"\nrole = \"restricted_space\"\nkind = \"box\"\nsize_mm = [9, 9, 9]\n"
        )
    };
    assert_eq!(wrong(&(space("a") + &space("b"))), ["zone[2].role: there is a restricted space already"]);
}

/// What rides on an axis would count where that rests alone.
#[test]
fn neither_a_space_nor_a_place_stands_on_an_axis() {
    let axis = "[[axis]]\nname = \"track\"\nkind = \"slide\"\ndirection = [0, 1, 0]\nmin_mm = -1000\nmax_mm = 1000\nmax_speed_mm_s = 500\n\
                max_acceleration_mm_s2 = 1000\n[[frame]]\nname = \"saddle\"\non = \"track\"\nat_mm = [0, 0, 100]\n";
    let zone = |role: &str, on: &str| {
        format!(
            "{axis}[[zone]]\nname = \"it\"\nrole = \"{role}\"\nkind = \"box\"\nsize_mm = [900, 900, 900]\non = \"{on}\"\n"
        )
    };
    for role in
        ["maximum_space", "restricted_space", "operating_space", "safeguarded_space", "operator_place"]
    {
        for on in ["track", "saddle"] {
            let found = wrong(&zone(role, on));
            assert!(
                matches!(&found[..], [one] if one.starts_with("zone[1].on: ") && one.ends_with(" moves with the axis `track`")),
                "{role} {on}: {found:?}"
            );
        }
        assert_eq!(wrong(&zone(role, "world")), Vec::<String>::new(), "{role}");
    }
}

/// A box of 0.3 x 2 x 0.05 m over the floor, written as it stands and in two ways on its side.
#[test]
fn a_zone_that_is_a_box_on_its_side_is_read_as_one_that_stands() {
    let zone = |size: [f64; 3], turn: [f64; 3]| {
        let text = format!(
            "[[zone]]\nname = \"place\"\nrole = \"scanner_field\"\nkind = \"box\"\nat_mm = [1200, 0, 25]\nsize_mm = {size:?}\n\
             rotation_zyx_deg = {turn:?}\ninto = [-1, 0, 0]\nresolution_mm = 50\nresponse_s = 0.02\n"
        );
        cell_with(&text).zones.remove(0)
    };
    for (size, turn) in [
        ([300.0, 2000.0, 50.0], [0.0, 0.0, 0.0]),
        ([50.0, 2000.0, 300.0], [0.0, 90.0, 0.0]),
        ([300.0, 50.0, 2000.0], [0.0, 0.0, 90.0]),
        ([300.0, 2000.0, 50.0], [0.0, 0.0, 180.0]),
    ] {
        let found = zone(size, turn);
        let Region::Box { half } = found.region else { panic!("{found:?}") };
        assert!((half.z - 0.025).abs() < 1e-12, "{half}");
        let world = found.frame_from_zone.rotation * half;
        assert!((world.abs() - Vector3::new(0.15, 1.0, 0.025)).norm() < 1e-9, "{world}");
        let into = found.frame_from_zone.rotation * found.device.unwrap().into.unwrap().into_inner();
        assert!((into + Vector3::x()).norm() < 1e-9, "{into}");
    }
}
