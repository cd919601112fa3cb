//! What a torch puts on the wrist and parts put on a table, against levers and circles worked out on paper.

use std::path::Path;

use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Options, check};
use seamwright_sim::findings::{Findings, LoadFindings, LoadsFindings};

const ARM: &str = include_str!("../../../scenes/arms/reach-1400.toml");
const TORCH: &str = include_str!("../../../scenes/torches/bent-neck.toml");
const GRAVITY: f64 = 9.806_65;

/// Two sides of a table that turns half round, 500 mm from its middle; `axis` says what it may carry, `jig` what stands on it.
fn table(axis: &str, jig: &str) -> String {
    format!(
        r#"
format = 1
name = "table"
[arm]
file = "arm.toml"
at_mm = [0, 0, 450]
[torch]
file = "torch.toml"
[[axis]]
name = "table"
kind = "turn"
at_mm = [1700, 0, 700]
min_deg = -10
max_deg = 190
max_speed_deg_s = 90
max_acceleration_deg_s2 = 180
{axis}
[[fixture]]
name = "jig"
{jig}
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [200, 100, 10]
[[fixture.shape]]
name = "rib"
role = "part"
kind = "box"
at_mm = [0, 0, 40]
size_mm = [120, 8, 60]
[[station]]
name = "side A"
fixture = "jig"
on = "table"
at_mm = [-500, 0, 0]
load_s = 20
[[station]]
name = "side B"
fixture = "jig"
on = "table"
at_mm = [500, 0, 0]
axes_deg = {{ table = 180 }}
load_s = 20
[[procedure]]
name = "fillet"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 8
[[seam]]
name = "rib"
procedure = "fillet"
joint = "fillet"
reference = "plate"
points_mm = [[-50, -4, 10], [50, -4, 10]]
"#
    )
}

fn found(axis: &str, jig: &str, arm: &str, torch: &str) -> Findings {
    let text = table(axis, jig);
    // Keys of the top table come before the first table.
    let before = |file: &str, keys: &str| file.replace("format = 1\n", &format!("format = 1\n{keys}"));
    let (arm, torch) = (before(ARM, arm), before(TORCH, torch));
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", arm.as_bytes()), ("torch.toml", torch.as_bytes())];
    let cell = read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap();
    check(&cell, &Options { seed: 1, watch: &() }).findings
}

fn load<'f>(loads: &'f LoadsFindings, bearer: &str, quantity: &str) -> &'f LoadFindings {
    loads
        .all
        .iter()
        .find(|load| (load.bearer.as_str(), load.quantity.as_str()) == (bearer, quantity))
        .unwrap()
}

fn near(what: &str, found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() < within, "{what}: {found}, not {expected}");
}

/// The torch's 2.9 kg centred on the axis of the flange, 200 mm before it: axis 6 runs through that, axis 5 passes 95 + 200 mm from it
/// however the wrist turns, and axis 4 as far at most, where axis 5 stands square.
#[test]
fn a_torch_on_the_flange_axis_bears_on_axis_5_by_its_lever_and_not_on_axis_6() {
    let loads = found("", "", "", "centre_of_mass_mm = [0, 0, 200]\n").loads.unwrap();
    let lever = 0.295;
    near("moment", load(&loads, "axis 5", "moment_n_m").value, 2.9 * GRAVITY * lever, 1e-5);
    near("inertia", load(&loads, "axis 5", "inertia_kg_m2").value, 2.9 * lever * lever, 1e-5);
    near("axis 6", load(&loads, "axis 6", "moment_n_m").value, 0.0, 1e-5);
    let axis4 = load(&loads, "axis 4", "moment_n_m").value;
    assert!(axis4 > 0.5 * 2.9 * GRAVITY * lever && axis4 <= 2.9 * GRAVITY * lever + 1e-5, "{axis4}");
    assert!(loads.holds, "nothing is rated, so nothing is passed");
    assert!(
        loads.not_checked.iter().any(|line| line.contains("moment by weight") && line.contains("axis 5"))
    );
}

/// 2.9 · 9.80665 · 0.295 = 8.390 N m: a wrist rated 8.4 bears it, one rated 8.3 does not; and its inertia, 0.252 kg m² and 0.05 of its own.
#[test]
fn a_wrist_rated_for_less_does_not_hold() {
    let torch = "centre_of_mass_mm = [0, 0, 200]\ninertia_kg_m2 = 0.05\n";
    let rated = |moment: f64, inertia: f64| {
        let arm = format!("wrist_moment_n_m = [20, {moment}, 20]\nwrist_inertia_kg_m2 = [5, {inertia}, 5]\n");
        found("", "", &arm, torch)
    };
    let enough = rated(8.4, 0.31);
    assert!(enough.loads.as_ref().unwrap().holds);
    let inertia = 2.9 * 0.295 * 0.295 + 0.05;
    near("inertia", load(enough.loads.as_ref().unwrap(), "axis 5", "inertia_kg_m2").value, inertia, 1e-5);
    for (moment, inertia, quantity) in [(8.3, 0.31, "moment_n_m"), (8.4, 0.30, "inertia_kg_m2")] {
        let found = rated(moment, inertia);
        let loads = found.loads.as_ref().unwrap();
        assert!(!loads.holds && !found.holds());
        let wrong: Vec<&LoadFindings> = loads.all.iter().filter(|load| load.holds == Some(false)).collect();
        assert_eq!(
            (wrong.len(), wrong[0].bearer.as_str(), wrong[0].quantity.as_str()),
            (1, "axis 5", quantity)
        );
    }
}

/// 40 kg of steel and 20 kg of parts on either side, 500 mm from the axis. Empty or full the sides balance; with one side loaded 20 kg tilt
/// the table by 20 · 9.80665 · 0.5 = 98.1 N m. Upright it is not turned by weight; sped up by 180 degrees/s² it takes
/// 120 kg · 0.25 m² · π rad/s² = 94.2 N m with both sides full.
#[test]
fn a_table_is_tilted_by_its_loaded_side_against_the_empty_one() {
    let jig = "mass_kg = 20\ncentre_of_mass_mm = [0, 0, 0]\nsteel_kg = 40\nsteel_centre_mm = [0, 0, 0]";
    let all = found("rated_kg = 120\nrated_turning_n_m = 90\nrated_tilting_n_m = 98", jig, "", "");
    let loads = all.loads.as_ref().unwrap();
    near("mass", load(loads, "table", "mass_kg").value, 120.0, 1e-9);
    assert_eq!(load(loads, "table", "mass_kg").holds, Some(true));
    let tilting = load(loads, "table", "tilting_n_m");
    near("tilting", tilting.value, 20.0 * GRAVITY * 0.5, 1e-5);
    assert_eq!((tilting.loaded.len(), tilting.holds), (1, Some(false)));
    let turning = load(loads, "table", "turning_n_m");
    near("by weight", turning.value, 0.0, 1e-9);
    near("in motion", turning.in_motion.unwrap(), 120.0 * 0.25 * std::f64::consts::PI, 1e-3);
    assert_eq!(turning.holds, Some(true));
    assert!(!loads.holds && !all.holds());
}

/// Beams of 40 kg, 1.2 m long, and parts of 20 kg and 0.3 m: m L² / 12 = 4.8 and 0.15 kg m² about an upright line through the middle. Both
/// sides full they take 2 · 4.95 · π = 31.1 N m more than as points.
#[test]
fn what_stands_on_a_table_takes_its_own_inertia_to_speed_up() {
    let inertia = "inertia_kg_m2 = 0.15\nsteel_inertia_kg_m2 = 4.8\n";
    let jig = "mass_kg = 20\ncentre_of_mass_mm = [0, 0, 0]\nsteel_kg = 40\nsteel_centre_mm = [0, 0, 0]\n";
    let bare = found("", jig, "", "").loads.unwrap();
    let own = found("", &format!("{jig}{inertia}"), "", "").loads.unwrap();
    let turning = |loads: &LoadsFindings| load(loads, "table", "turning_n_m").in_motion.unwrap();
    near("more", turning(&own) - turning(&bare), 2.0 * (4.8 + 0.15) * std::f64::consts::PI, 1e-3);
    let told = |loads: &LoadsFindings| loads.not_checked.iter().any(|line| line.contains("count as points"));
    assert!(told(&bare) && !told(&own));
}

/// The same of the wrist: a torch with its centre on the line of axis 6 puts on that what its own inertia takes, and four times that takes four
/// times as much.
#[test]
fn the_torch_takes_its_own_inertia_to_speed_up() {
    let of = |inertia: f64| {
        let torch = format!("centre_of_mass_mm = [0, 0, 200]\ninertia_kg_m2 = {inertia}\n");
        load(&found("", "", "", &torch).loads.unwrap(), "axis 6", "moment_n_m").in_motion.unwrap()
    };
    let (one, four) = (of(0.02), of(0.08));
    assert!(one > 0.01, "{one}");
    near("four times", four, 4.0 * one, 1e-3 * one);
}

/// The same table on end, its axis level: the steel balances, and 20 kg on one side turn it by 98.1 N m where they stand out level.
#[test]
fn a_level_axis_is_turned_by_what_hangs_on_one_side() {
    let jig = "mass_kg = 20\ncentre_of_mass_mm = [0, 0, 0]\nsteel_kg = 40\nsteel_centre_mm = [0, 0, 0]";
    let loads = found("direction = [0, 1, 0]", jig, "", "").loads.unwrap();
    let turning = load(&loads, "table", "turning_n_m");
    near("turning", turning.value, 20.0 * GRAVITY * 0.5, 1e-5);
    assert_eq!((turning.loaded.len(), turning.holds), (1, None));
    near("tilting", load(&loads, "table", "tilting_n_m").value, 0.0, 1e-9);
    assert!(loads.not_checked.iter().any(|line| line.starts_with("turning moment by weight of table")));
}

/// A cell that says nothing of loads is told nothing of them.
#[test]
fn where_no_file_says_anything_of_loads_nothing_is_said() {
    assert!(found("", "", "", "").loads.is_none());
    let feeder = found("", "", "rated_forearm_kg = 12\n", "").loads.unwrap();
    assert!(feeder.all.is_empty() && feeder.not_checked[0].contains("forearm_kg"), "{feeder:?}");
}
