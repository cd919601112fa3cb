//! What a device does not stop, how long a stop takes where files and a measurement differ, what no rule has a figure for, and who sees the arc.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Options, check};
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::findings::{DeviceFindings, Findings, SafetyFindings, changes};
use seamwright_sim::safety::watch::StopBasis;

use super::safety::{ARM, TABLE, TORCH};
use super::spaces::{CLEANED, space};

pub fn cell(text: &str) -> Cell {
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", ARM.as_bytes()), ("torch.toml", TORCH.as_bytes())];
    read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap()
}

pub fn screened(text: &str) -> SafetyFindings {
    check(&cell(text), &Options { seed: 1, watch: &() }).findings.safety.unwrap()
}

/// `from` must be there.
pub fn replaced(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "{from}");
    text.replace(from, to)
}

/// A curtain across the table's loading side, with what it stops and when.
pub fn curtain_at(x: f64, more: &str) -> String {
    let stops = if more.contains("table") { "table" } else { "arm" };
    format!(
        "[[zone]]\nname = \"curtain of the {stops}\"\nrole = \"curtain\"\nkind = \"field\"\nfrom_mm = [{x}, -1500, 300]\n\
         to_mm = [{x}, 1500, 300]\nheight_mm = 1500\nresolution_mm = 14\nresponse_s = 0.02\n{more}\n"
    )
}

/// The table without its own curtain.
pub fn bare() -> String {
    TABLE[..TABLE.find("[[zone]]").unwrap()].to_owned()
}

/// A corner of the table comes to within 2000 − 854.4 mm of its middle, so 145.6 mm behind a curtain at x = 4000 that stops the arm alone.
/// That is nearer than anything asks, and from 5000 mm the table is met as well by whoever walks on; but where a second curtain beside it stops the table, the table is that one's to judge.
#[test]
fn what_a_curtain_does_not_stop_may_not_come_nearer_than_is_asked() {
    let text = format!("{}{}", bare(), curtain_at(4000.0, "stops = [\"arm\"]"));
    let safety = screened(&text);
    let device = &safety.devices[0];
    let behind = 1000.0 - 800.0_f64.hypot(300.0);
    let unstopped = device.unstopped.as_ref().unwrap();
    assert!((-1e-6..0.11).contains(&(unstopped.distance_mm - behind)), "{unstopped:?}");
    assert_eq!((device.holds, safety.holds), (Some(false), false), "{}", device.sentence);

    let both = screened(&format!("{text}{}", curtain_at(4000.0, "stops = [\"table\"]")));
    assert!(
        both.devices[0].unstopped.is_none() && both.devices[0].holds != Some(false),
        "{:?}",
        both.devices
    );
    // T = 0.55 s: 880 mm are asked of the table's own curtain.
    assert_eq!(both.devices[1].holds, Some(false), "{}", both.devices[1].sentence);

    // From 5000 mm the table is 1145.6 mm away, farther than the arm's curtain asks: whoever is through it walks on.
    let far = screened(&format!("{}{}", bare(), curtain_at(5000.0, "stops = [\"arm\"]")));
    let unstopped = far.devices[0].unstopped.as_ref().unwrap();
    assert!((-1e-6..0.11).contains(&(unstopped.distance_mm - behind - 1000.0)), "{unstopped:?}");
    assert_eq!(far.devices[0].holds, Some(false));
}

/// Three fences that close what a curtain 3 m wide at x = 5000 mm leaves open; both are 50 mm apart.
const FENCES: &str = r#"
[[zone]]
name = "left fence"
role = "guard"
kind = "field"
from_mm = [5000, 1550, 0]
to_mm = [-2000, 1550, 0]
height_mm = 2200
[[zone]]
name = "right fence"
role = "guard"
kind = "field"
from_mm = [5000, -1550, 0]
to_mm = [-2000, -1550, 0]
height_mm = 2200
[[zone]]
name = "rear fence"
role = "guard"
kind = "field"
from_mm = [-2000, -1550, 0]
to_mm = [-2000, 1550, 0]
height_mm = 2200
"#;

/// A curtain that stops the arm alone, and something more: only what whoever comes through it breaks or cannot pass excuses it.
#[test]
fn only_a_field_or_a_guard_in_the_way_excuses_a_curtain() {
    let rear = replaced(&curtain_at(-4500.0, "stops = [\"table\"]"), "-1500", "-1000");
    let inner = curtain_at(4500.0, "stops = [\"table\"]");
    let kerb = replaced(&curtain_at(5000.0, "stops = [\"table\"]"), "height_mm = 1500", "height_mm = 10");
    let no_times = "[[zone]]\nname = \"door\"\nrole = \"gate\"\nkind = \"field\"\nfrom_mm = [5000, -1500, 0]\n\
                    to_mm = [5000, 1500, 0]\nheight_mm = 2000\nstops = [\"table\"]\n";
    let fence = "[[zone]]\nname = \"inner fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [4500, -1500, 0]\n\
                 to_mm = [4500, 1500, 0]\nheight_mm = 2200\n";
    let low_fence = replaced(fence, "height_mm = 2200", "height_mm = 900");
    for (more, excused) in [
        (rear.as_str(), false),
        (kerb.as_str(), false),
        (no_times, false),
        (low_fence.as_str(), false),
        (inner.as_str(), true),
        (fence, true),
    ] {
        let text = format!("{}{}{FENCES}{more}", bare(), curtain_at(5000.0, "stops = [\"arm\"]"));
        let device = screened(&text).devices[0].clone();
        assert_eq!(device.unstopped.is_none(), excused, "{more}: {}", device.sentence);
    }
}

/// The same place behind a curtain that watches only while the table turns: whoever came while it stood is in the place without having broken
/// it. That is not checked, but where the file says that the table sets out from outside, or a second field lies about the place.
#[test]
fn a_curtain_that_did_not_watch_all_the_time_is_not_taken_to_keep_a_place_clear() {
    let place = "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [4300, 0, 700]\n\
                 size_mm = [1000, 1000, 1400]\n";
    let about = "[[zone]]\nname = \"mat\"\nrole = \"scanner_field\"\nkind = \"box\"\nat_mm = [4300, 0, 210]\nsize_mm = [1100, 1100, 20]\n\
                 into = [-1, 0, 0]\nresolution_mm = 50\nresponse_s = 0.02\nstops = [\"table\"]\nactive = \"while_axes_move\"\n";
    let beside = replaced(about, "[1100, 1100, 20]", "[900, 1100, 20]");
    // A band about the place, open by 10 mm at one end, sees nobody who stands inside it.
    let band = replaced(
        &replaced(about, "kind = \"box\"", "kind = \"outline\""),
        "at_mm = [4300, 0, 210]\nsize_mm = [1100, 1100, 20]",
        "outline_mm = [[3750, -550], [4850, -550], [4850, 550], [4305, 550], [4305, 450], [4700, 450], [4700, -450], [3900, -450], [3900, 450], \
         [4295, 450], [4295, 550], [3750, 550]]\nheight_mm = 200",
    );
    let post =
        "[[shape]]\nname = \"post\"\nkind = \"box\"\nat_mm = [3980, 0, 1000]\nsize_mm = [60, 60, 2000]\n";
    let off = "active = \"while_axes_move\"";
    let from_outside = "active = \"while_axes_move\"\nstart_from_outside = true";
    for (when, field, holds) in [
        ("", "", Some(true)),
        (off, "", None),
        (from_outside, "", Some(true)),
        (off, about, Some(true)),
        (off, beside.as_str(), None),
        (off, band.as_str(), None),
    ] {
        let curtain = curtain_at(5000.0, &format!("stops = [\"table\"]\n{when}"));
        let safety = screened(&format!("{}{curtain}{place}{FENCES}{field}{post}", bare()));
        let found = &safety.places[0];
        assert_eq!(found.holds, holds, "{when} {field}: {}", found.sentence);
        let gaps: Vec<Option<bool>> = safety.crush_gaps.iter().map(|gap| gap.holds).collect();
        assert!(!gaps.is_empty() && gaps.iter().all(|of| *of == holds), "{when} {field}: {gaps:?}");
        if holds.is_none() {
            let into = -found.nearest.as_ref().unwrap().distance_mm;
            assert!((into - 54.4).abs() < 0.2, "{into}");
            let open = if field.is_empty() {
                vec!["curtain of the table"]
            } else {
                vec!["curtain of the table", "mat"]
            };
            assert_eq!(found.came_while_off, open, "{}", found.sentence);
        }
        let told = safety.not_checked.iter().any(|line| line.starts_with("whether all who came past"));
        assert_eq!(told, when == off, "{:?}", safety.not_checked);
    }
}

/// The table's corners come 54.4 mm into a place that begins 800 mm from its middle. A curtain before it keeps people from it only
/// where it stops the table, it is certain only where fences close the way around, and a curtain elsewhere does nothing, whatever its station.
#[test]
fn a_curtain_that_does_not_stop_the_table_keeps_nobody_from_it() {
    let place = "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [4300, 0, 700]\n\
                 size_mm = [1000, 1000, 1400]\nstation = \"side A\"\n";
    let aside = replaced(place, "[4300, 0, 700]", "[3000, 1300, 700]");
    for (stops, place, fences, holds) in [
        ("arm", place, FENCES, Some(false)),
        ("table", place, FENCES, Some(true)),
        ("table", place, "", None),
        ("table", aside.as_str(), "", Some(false)),
    ] {
        let curtain = curtain_at(5000.0, &format!("station = \"side A\"\nstops = [\"{stops}\"]"));
        let safety = screened(&format!("{}{curtain}{place}{fences}", bare()));
        assert_eq!(safety.places[0].holds, holds, "{stops}: {}", safety.places[0].sentence);
        if holds != Some(true) {
            let into = -safety.places[0].nearest.as_ref().unwrap().distance_mm;
            assert!((into - 54.4).abs() < 0.2, "{into}");
        }
        let goes_around = safety.not_checked.iter().any(|line| line.contains("closes the way around"));
        assert_eq!(goes_around, holds.is_none(), "{:?}", safety.not_checked);
    }
}

/// A loader's place reaches through the curtain: what enters it does so behind the curtain, for whoever has broken that; whether somebody gets
/// there otherwise is not checked. A curtain of another station is none of its own.
#[test]
fn a_place_that_reaches_through_a_curtain_is_entered_behind_it() {
    let curtain = curtain_at(4000.0, "station = \"side A\"\nstops = [\"table\"]");
    for (station, holds) in [("side A", None), ("side B", Some(false))] {
        let place = format!(
            "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [3800, 0, 700]\n\
             size_mm = [1000, 1000, 1400]\nstation = \"{station}\"\n"
        );
        let safety = screened(&format!("{}{curtain}{place}{FENCES}", bare()));
        assert_eq!(safety.places[0].holds, holds, "{}", safety.places[0].sentence);
    }
}

/// Fences and a curtain that leave no opening of 180 mm close a space; without the rear fence somebody walks into it.
#[test]
fn a_way_into_the_safeguarded_space_is_told() {
    let yard = space(
        "yard",
        "safeguarded_space",
        "kind = \"box\"\nat_mm = [1500, 0, 1500]\nsize_mm = [6900, 3000, 3000]",
    );
    let curtain = curtain_at(5000.0, "stops = [\"table\"]");
    let open = |fences: &str| {
        let safety = screened(&format!("{}{curtain}{yard}{fences}", bare()));
        let is_open = safety.way_in.as_ref().is_some_and(|way| way.open);
        assert!(!is_open || !safety.holds);
        is_open
    };
    let rear = FENCES.find("[[zone]]\nname = \"rear fence\"").unwrap();
    assert!(!open(FENCES));
    assert!(open(&FENCES[..rear]));
    // The ends of the curtain are 50 mm from the fences; 250 mm let a body through.
    assert!(open(&FENCES.replace("1550", "1750")));
}

/// A curtain of one side that watches only while the arm is there is off when the table leaves the other: then the table turns behind it.
#[test]
fn a_table_that_turns_while_the_curtain_of_its_side_is_off_is_told() {
    let of = |active: &str| {
        let more = format!("station = \"side A\"\nstops = [\"table\"]\nactive = \"{active}\"");
        screened(&format!("{}{}", bare(), curtain_at(5000.0, &more))).devices[0].clone()
    };
    assert_eq!(of("while_axes_move").holds, Some(true), "{}", of("while_axes_move").sentence);
    let off = of("while_arm_here");
    assert!(off.holds == Some(false) && off.unstopped.is_some(), "{}", off.sentence);
}

/// Whoever loads one side of the table stands behind a curtain that always stops the arm, which works at the other: told beside the cycle. Not
/// where it watches only while the table turns, nor where it stops the table alone.
#[test]
fn a_curtain_that_loading_breaks_is_told_beside_the_cycle() {
    let place = "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [4400, 0, 1000]\n\
                 size_mm = [1000, 1000, 2000]\nstation = \"side A\"\n";
    for (more, stops) in [
        ("stops = [\"arm\"]", true),
        ("stops = [\"table\"]", false),
        ("stops = [\"arm\", \"table\"]\nactive = \"while_axes_move\"", false),
    ] {
        let text = format!("{}{}{place}", bare(), curtain_at(5000.0, more));
        let findings = check(&cell(&text), &Options { seed: 1, watch: &() }).findings;
        assert_eq!(findings.safety.as_ref().unwrap().loading_stops_the_arm.is_empty(), !stops, "{more}");
        let page = seamwright_sim::report::terminal::text(&findings, LengthUnit::Millimetre);
        let verdict = page.split("Safeguarding").next().unwrap();
        assert_eq!(verdict.contains("always watches and stops the"), stops, "{verdict}");
    }
}

/// Whoever stands 850 mm or less from a stop reaches it.
#[test]
fn an_operator_place_out_of_reach_of_every_stop_is_told() {
    let place = "[[zone]]\nname = \"aisle\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [3000, -2500, 1000]\n\
                 size_mm = [1000, 1000, 2000]\n";
    let told = |y: f64| {
        let stop = format!(
            "[[emergency_stop]]\nname = \"button\"\nplace = \"operator_station\"\nat_mm = [3000, {y}, 1200]\n"
        );
        let safety = screened(&format!("{}{place}{stop}", bare()));
        safety.not_checked.iter().any(|line| line.contains("reaches an emergency stop"))
    };
    // The place ends at y = -2000.
    assert!(!told(-1160.0) && told(-1140.0));
}

/// A curtain in which nobody is sure to be seen is not said to stand far enough: one that begins 400 mm above the floor, one that ends at 800 mm, a
/// single beam, and one that leans, here by atan(900/3000) = 16.7 degrees.
#[test]
fn a_field_that_one_gets_under_or_over_is_not_checked() {
    let curtain = curtain_at(6000.0, "stops = [\"table\"]");
    let beam = replaced(
        &replaced(&curtain, "role = \"curtain\"", "role = \"beam_grid\""),
        "resolution_mm = 14",
        "beams = 1",
    );
    let leaning = replaced(&curtain, "to_mm = [6000, 1500, 300]", "to_mm = [6000, 1500, 1200]");
    let cases = [
        (curtain.clone(), Some(true)),
        (replaced(&curtain, ", 300]", ", 400]"), None),
        (replaced(&curtain, "height_mm = 1500", "height_mm = 500"), None),
        (beam, None),
        (leaning, None),
    ];
    for (curtain, holds) in cases {
        let device = screened(&format!("{}{curtain}", bare())).devices[0].clone();
        assert_eq!(device.holds, holds, "{}", device.sentence);
        assert_eq!(device.sentence.starts_with("not checked"), holds.is_none(), "{}", device.sentence);
    }
}

/// Who walks along −x into a round field breaks it somewhere on the half of its edge that is toward them: nearest to the table at its ends,
/// x = 6000, y = ±3000, √(3000² + 3000²) from the table's middle.
#[test]
fn a_round_field_begins_at_its_radius() {
    let scanner = "[[zone]]\nname = \"scanner\"\nrole = \"scanner_field\"\nkind = \"cylinder\"\nat_mm = [6000, 0, 310]\n\
                   radius_mm = 3000\nheight_mm = 20\nresolution_mm = 50\nresponse_s = 0.02\ninto = [-1, 0, 0]\nstops = [\"table\"]\n";
    let device = screened(&format!("{}{scanner}", bare())).devices[0].clone();
    let there = 3000.0_f64.hypot(3000.0) - 800.0_f64.hypot(300.0);
    assert!((-1e-6..0.11).contains(&(device.present_mm.unwrap() - there)), "{device:?}");
}

/// The table's rows say 0.5 s from full speed. 0.2 s measured contradict that, and the longer counts; 0.7 s measured count themselves.
/// Where nothing is stated but the greatest acceleration, 90°/s at 180°/s² cannot stop in less than 0.5 s either; then what is assumed
/// without a measurement counts, with 0.1 s of reaction.
#[test]
fn a_measured_time_shorter_than_the_files_state_does_not_count() {
    let with = |text: &str, measured: f64| {
        let text = replaced(
            text,
            "controller_s = 0.03",
            &format!("controller_s = 0.03\nstopping_time_s = {measured}"),
        );
        screened(&text).devices[0].times.clone().unwrap()
    };
    let rows = "[[axis.stopping]]\ncategory = 1\ntime_s = 0.5\nturn_deg = 27\n";
    let unstated = replaced(TABLE, rows, "");
    for (text, measured, machine, basis) in [
        (TABLE, 0.2, 0.5, StopBasis::Stated),
        (TABLE, 0.7, 0.7, StopBasis::Measured),
        (unstated.as_str(), 0.2, 0.6, StopBasis::Assumed),
        (unstated.as_str(), 0.51, 0.51, StopBasis::Measured),
    ] {
        let times = with(text, measured);
        assert!((times.machine_s - machine).abs() < 1e-9, "{times:?}");
        assert_eq!(times.machine_basis, basis);
        assert_eq!(times.overruled_s, (basis != StopBasis::Measured).then_some(measured));
        assert_eq!(times.sentence().contains("SHORTER"), basis != StopBasis::Measured);
    }
}

/// The intrusion takes the measured time too: 0.02 + 0.03 + 0.7 s, whatever the table's speed at the instant.
#[test]
fn who_reaches_in_meets_the_measured_time_and_what_is_missing_counts() {
    let text = replaced(TABLE, "controller_s = 0.03", "controller_s = 0.03\nstopping_time_s = 0.7");
    let far = screened(&text);
    let intrusion = far.devices[0].intrusion.as_ref().unwrap();
    assert!((intrusion.stands_after_s - 0.75).abs() < 1e-9, "{intrusion:?}");
    // 1145.6 mm are there; 1600 · 0.75 = 1200 mm are asked.
    assert!(intrusion.left_with_intrusion_mm < -50.0 && far.devices[0].holds == Some(false), "{intrusion:?}");
    assert!(intrusion.clause.as_ref().unwrap().starts_with("ISO 13855:2010"));
}

/// ANSI B11.19 has no figure for 100 mm; 63 in/s · 0.55 s = 880.1 mm alone says only what is too near. The table is 1145.6 mm away from x = 5000
/// and 845.6 mm from x = 4700.
#[test]
fn a_bare_least_distance_lets_no_device_hold() {
    let at = |x: f64| {
        let text = replaced(&bare(), "rules = \"iso\"", "rules = \"united_states\"");
        let curtain =
            replaced(&curtain_at(x, "stops = [\"table\"]"), "resolution_mm = 14", "resolution_mm = 100");
        screened(&format!("{text}{curtain}")).devices[0].clone()
    };
    let told = |device: &DeviceFindings| device.sentence.clone();
    assert_eq!(at(5000.0).holds, None, "{}", told(&at(5000.0)));
    assert!(told(&at(5000.0)).starts_with("not checked"), "{}", told(&at(5000.0)));
    assert_eq!(at(4700.0).holds, Some(false), "{}", told(&at(4700.0)));
}

/// 1600 T + 1200 − 0.4 H of a field parallel to the floor is 1960 mm at H = 300 mm, T = 0.55 s; the edition of 2024 asks 1200 mm whatever the
/// height, so 2080 mm, which counts for who walks into it as well.
#[test]
fn who_walks_into_a_scanner_field_is_held_to_the_parallel_approach() {
    let scanner = "[[zone]]\nname = \"scanner\"\nrole = \"scanner_field\"\nkind = \"box\"\nat_mm = [4500, 0, 310]\n\
                   size_mm = [1000, 3000, 20]\nresolution_mm = 50\nresponse_s = 0.02\ninto = [-1, 0, 0]\nstops = [\"table\"]\n";
    let safety = screened(&format!("{}{scanner}", bare()));
    let device = &safety.devices[0];
    let intrusion = device.intrusion.as_ref().unwrap();
    // The edge at x = 5000 is 1145.6 mm from the table; at the worst instant it is nearly at full speed.
    let missing = -intrusion.left_with_intrusion_mm;
    assert!((device.asked[0].distance_mm.unwrap() - 1960.0).abs() < 1e-6, "{device:?}");
    assert!((device.asked_mm.unwrap() - 2080.0).abs() < 1e-6, "{device:?}");
    let most = 2080.0 - (2000.0 - 800.0_f64.hypot(300.0));
    assert!((most - 5.0..most + 1e-6).contains(&missing), "{missing} {most}");
    assert!(intrusion.clause.as_ref().unwrap().contains("13855:2024"), "{intrusion:?}");
}

/// A screen that hides the middle of a weld and not its ends hides nothing; a place drawn as a mark on the floor has eyes above it; and what
/// is loaded on another station hides nothing either.
#[test]
fn an_arc_is_seen_wherever_along_the_weld_it_is_in_view() {
    let seen = |size: &str, screen: &str| {
        let place = format!(
            "[[zone]]\nname = \"visitors\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [2300, 0, 5]\nsize_mm = {size}\n"
        );
        // The seam runs along y.
        let across = "at_mm = [900, 0, 600]\nrotation_zyx_deg = [90, 0, 0]";
        let text = replaced(CLEANED, "at_mm = [900, 0, 600]", across);
        screened(&format!("{text}{place}{screen}")).arc_views[1].seen.clone()
    };
    let screen = |half: f64, z: f64, height: f64| {
        format!(
            "[[shape]]\nname = \"screen\"\nkind = \"box\"\nat_mm = [1300, 0, {z}]\nsize_mm = [10, {}, {height}]\n",
            2.0 * half
        )
    };
    assert_eq!(seen("[100, 100, 10]", ""), ["bench / rib"]);
    // From (896, ±80) to eyes at (2250 … 2350, ±50) rays are within ±72 mm of the middle line at x = 1300, from (896, 0) within ±16 mm.
    assert_eq!(seen("[100, 100, 10]", &screen(40.0, 1000.0, 3000.0)), ["bench / rib"]);
    assert!(seen("[100, 100, 10]", &screen(90.0, 1000.0, 3000.0)).is_empty());
}

/// Links without shapes are not seen: nothing that was is all that moves, and no device is far enough by it.
#[test]
fn an_arm_without_shapes_lets_nothing_hold() {
    let arm = ARM.split("[[link_shape]]").next().unwrap();
    let text = format!(
        "{CLEANED}{}",
        replaced(&curtain_at(4000.0, "stops = [\"arm\"]"), "resolution_mm = 14", "resolution_mm = 20")
    );
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", arm.as_bytes()), ("torch.toml", TORCH.as_bytes())];
    let cell = read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap();
    let safety = check(&cell, &Options { seed: 1, watch: &() }).findings.safety.unwrap();
    assert_eq!(safety.devices[0].holds, None, "{}", safety.devices[0].sentence);
    assert!(
        safety.spaces.iter().all(|step| !step.inner.starts_with("all that moves")),
        "{:?}",
        safety.spaces
    );
    let shaped = screened(&text);
    assert_eq!(shaped.devices[0].holds, Some(true), "{}", shaped.devices[0].sentence);
    assert!(shaped.spaces.iter().any(|step| step.inner.starts_with("all that moves")));
}

/// Rows that contradict each other are refused; rows that end below the greatest speed are carried on, and that is said.
#[test]
fn stopping_rows_are_each_stated_once_and_rise() {
    let read = |rows: &str| {
        let stated = "[[axis.stopping]]\ncategory = 1\ntime_s = 0.5\nturn_deg = 27\n";
        let text = replaced(TABLE, stated, rows);
        let files: [(&str, &[u8]); 3] =
            [("cell.toml", text.as_bytes()), ("arm.toml", ARM.as_bytes()), ("torch.toml", TORCH.as_bytes())];
        read_cell_with(Path::new("cell.toml"), &Bundled(&files))
    };
    let row = |percent: f64, time: f64, way: f64| {
        format!(
            "[[axis.stopping]]\ncategory = 1\nfrom_speed_percent = {percent}\ntime_s = {time}\nturn_deg = {way}\n"
        )
    };
    let wrong = |rows: String| {
        read(&rows).unwrap_err().into_iter().map(|problem| problem.wrong).collect::<Vec<_>>().join("; ")
    };
    assert!(wrong(row(100.0, 0.5, 27.0) + &row(100.0, 0.4, 20.0)).contains("twice"));
    assert!(wrong(row(100.0, 0.3, 20.0) + &row(33.0, 0.5, 8.0)).contains("sooner"));
    let cell = read(&row(33.0, 0.3, 5.0)).unwrap();
    let safety = check(&cell, &Options { seed: 1, watch: &() }).findings.safety.unwrap();
    assert!(safety.rests_on.iter().any(|line| line.contains("table from 33 %")), "{:?}", safety.rests_on);
}

/// Leuze and ReeR print three beams at 300, 700 and 1100 mm: a field from 300 to 1100 mm holds them, one that ends at 1000 mm does not.
#[test]
fn beams_that_cannot_stand_at_their_heights_are_refused() {
    let at = |low: f64, high: f64| {
        let grid = curtain_at(6000.0, "stops = [\"table\"]");
        let grid = replaced(
            &replaced(&grid, "role = \"curtain\"", "role = \"beam_grid\""),
            "resolution_mm = 14",
            "beams = 3",
        );
        let grid = replaced(
            &replaced(&grid, ", 300]", &format!(", {low}]")),
            "height_mm = 1500",
            &format!("height_mm = {}", high - low),
        );
        screened(&format!("{}{grid}", bare())).devices[0].clone()
    };
    assert_eq!(at(300.0, 1100.0).holds, Some(true), "{}", at(300.0, 1100.0).sentence);
    for (low, high) in [(300.0, 1000.0), (400.0, 1200.0)] {
        assert!(at(low, high).forbidden_by.is_some() && at(low, high).holds == Some(false));
    }
}

/// A fence of which only the floor is known to close a way is not said to hold.
#[test]
fn a_guard_of_which_one_way_is_not_checked_is_not_checked() {
    let fence = "[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [1000, 1500, 0]\nto_mm = [5000, 1500, 0]\n\
                 height_mm = 1400\n";
    assert_eq!(screened(&format!("{TABLE}{fence}")).guards[0].holds, None);
}

/// A curtain that stands 100 mm nearer and is still far enough: no answer turns, and that it stands nearer is told all the same.
#[test]
fn a_device_that_stands_nearer_is_among_the_changes() {
    let findings = |x: f64| {
        let text = format!("{}{}", bare(), curtain_at(x, "stops = [\"arm\", \"table\"]"));
        check(&cell(&text), &Options { seed: 1, watch: &() }).findings
    };
    let (far, near) = (findings(6000.0), findings(5900.0));
    let device = |findings: &Findings| findings.safety.as_ref().unwrap().devices[0].clone();
    assert_eq!(device(&far).holds, device(&near).holds);
    let said = changes(&far, &near, LengthUnit::Millimetre);
    let told = said.iter().find(|line| line.starts_with("curtain of the table: ")).unwrap();
    assert!(
        told.contains(&device(&near).sentence)
            && told.ends_with(&format!("before: {}", device(&far).sentence)),
        "{told}"
    );
    assert!(changes(&far, &findings(6000.0), LengthUnit::Millimetre).is_empty());
}
