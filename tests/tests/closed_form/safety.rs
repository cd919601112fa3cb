//! A table that turns before a curtain: what it sweeps, how far it must be away, and what happens when somebody reaches in.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Options, check};
use seamwright_sim::findings::{DeviceFindings, SafetyFindings};
use seamwright_sim::safety::crossing::crossings;
use seamwright_sim::safety::guarding::ReachWay;
use seamwright_sim::safety::swept::swept;
use seamwright_sim::units::to_deg;

pub const ARM: &str = include_str!("../../../scenes/arms/reach-1400.toml");
pub const TORCH: &str = include_str!("../../../scenes/torches/bent-neck.toml");

/// Two sides of a table 1.6 m by 0.6 m, turned half round between loads; its middle is 2 m before the curtain.
pub const TABLE: &str = r#"
format = 1
name = "table"
[arm]
file = "arm.toml"
[torch]
file = "torch.toml"
[[axis]]
name = "table"
kind = "turn"
at_mm = [3000, 0, 700]
min_deg = -10
max_deg = 190
max_speed_deg_s = 90
max_acceleration_deg_s2 = 180
[[axis.stopping]]
category = 1
time_s = 0.5
turn_deg = 27
[[shape]]
name = "plate"
kind = "box"
on = "table"
at_mm = [0, 0, -20]
size_mm = [1600, 600, 40]
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "part"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [100, 100, 10]
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
axes_deg = { table = 180 }
load_s = 20
[[procedure]]
name = "fillet"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 8
[[seam]]
name = "by length"
procedure = "fillet"
joint = "fillet"
length_mm = 100
[safety]
controller_s = 0.03
rules = "iso"
[[zone]]
name = "loading curtain"
role = "curtain"
kind = "field"
from_mm = [5000, -1500, 300]
to_mm = [5000, 1500, 300]
height_mm = 1500
resolution_mm = 14
response_s = 0.02
stops = ["table"]
active = "while_axes_move"
"#;

fn cell(text: &str) -> Cell {
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", ARM.as_bytes()), ("torch.toml", TORCH.as_bytes())];
    read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap()
}

fn screened(text: &str) -> SafetyFindings {
    check(&cell(text), &Options { seed: 1, watch: &() }).findings.safety.unwrap()
}

fn curtain(safety: &SafetyFindings) -> &DeviceFindings {
    &safety.devices[0]
}

/// A corner of the plate goes round on a circle of radius √(800² + 300²) = 854.4 mm, which half a turn takes past the point
/// nearest to the curtain: 2000 − 854.4 mm are left. Looked at every 20 ms, at 90°/s, so at most 0.9° beside that point: by less than
/// 854.4 (1 − cos 0.9°) = 0.11 mm more.
#[test]
fn a_turning_plate_sweeps_the_circle_of_its_corners() {
    let safety = screened(TABLE);
    let nearest = curtain(&safety).nearest.as_ref().unwrap();
    let radius = 800.0_f64.hypot(300.0);
    let beyond = nearest.distance_mm - (2000.0 - radius);
    assert!((-1e-6..0.11).contains(&beyond), "{nearest:?}");
    assert_eq!(nearest.body, "plate");
}

/// A field 850 mm from the middle: a corner, on its circle of 854.4 mm and atan(300/800) beside the long axis, is past it within
/// acos(850/854.4) of the nearest point. Half a turn takes two corners past, the way back as well. Rows are at most 20 ms apart, 1.8° at 90°/s.
#[test]
fn corners_of_a_table_are_past_a_field_while_their_circle_is() {
    let text = TABLE
        .replace("[5000, -1500, 300]", "[3850, -1500, 300]")
        .replace("[5000, 1500, 300]", "[3850, 1500, 300]");
    let cell = cell(&text);
    let checked = check(&cell, &Options { seed: 1, watch: &() });
    let radius = 800.0_f64.hypot(300.0);
    let beside = to_deg(300.0_f64.atan2(800.0));
    let past = to_deg((850.0 / radius).acos());
    let found = crossings(&cell, &checked.schedule, &checked.path);
    let angles: Vec<[f64; 2]> = found
        .iter()
        .map(|crossing| {
            assert_eq!((crossing.zone.0, crossing.body.as_str()), (0, "plate"));
            let angle = |t: f64| to_deg(checked.schedule.at(t).unwrap().motion.unwrap().stance.external[0]);
            let (from, to) = (angle(crossing.from), angle(crossing.to));
            [from.min(to), from.max(to)]
        })
        .collect();
    let middles = [beside, 180.0 - beside, 180.0 - beside, beside];
    assert_eq!(angles.len(), middles.len(), "{angles:?}");
    for ([low, high], middle) in angles.into_iter().zip(middles) {
        assert!((0.0..1.8).contains(&(low - (middle - past))), "{low} {high} about {middle}");
        assert!((0.0..1.8).contains(&(middle + past - high)), "{low} {high} about {middle}");
    }

    // Where the field stands beyond the circle nothing is past it.
    let cell = self::cell(TABLE);
    let checked = check(&cell, &Options { seed: 1, watch: &() });
    assert!(crossings(&cell, &checked.schedule, &checked.path).is_empty());
}

/// Seen from above, half a turn of the plate passes through a full circle of 854.4 mm: its two halves meet. Of cubes of 20 mm no column is
/// taken in whose middle is farther outside than half an edge, so the area is more by no more than (half an edge + half the
/// diagonal of a square) all round; and none within the circle is left out but slivers between two looks 10 mm apart at
/// the rim, 10² / (8 · 854) = 0.02 mm deep.
#[test]
fn a_turning_plate_passes_through_a_circle() {
    let cell = cell(TABLE);
    let checked = check(&cell, &Options { seed: 1, watch: &() });
    let edge = 0.02;
    let swept = swept(&cell, &checked.schedule, &checked.path, edge);
    // The plate's own height, and nothing else is near.
    let columns: std::collections::BTreeSet<[i32; 2]> = swept
        .cubes
        .iter()
        .filter(|[x, _, z]| {
            (f64::from(*x) * edge - 3.0).abs() < 1.0 && (0.66..0.69).contains(&(f64::from(*z) * edge))
        })
        .map(|[x, y, _]| [*x, *y])
        .collect();
    let area = columns.len() as f64 * edge * edge;
    let radius = 0.8_f64.hypot(0.3);
    let circle = |radius: f64| std::f64::consts::PI * radius * radius;
    let most = circle(radius + 0.5 * edge + 0.5 * edge * std::f64::consts::SQRT_2);
    assert!((circle(radius - 1e-4)..most).contains(&area), "{area} {} {most}", circle(radius));
    // Every edge of a closed surface is passed as often one way as the other, and it holds the cubes.
    let surface = swept.surface();
    let volume: f64 = surface
        .triangles
        .iter()
        .map(|corners| {
            let [a, b, c] = corners.map(|corner| surface.vertices[corner as usize].coords);
            a.dot(&b.cross(&c)) / 6.0
        })
        .sum();
    let cubes = swept.cubes.len() as f64 * edge.powi(3);
    assert!((volume - cubes).abs() < 1e-9 * cubes.max(1.0), "{volume} {cubes}");
}

/// The table stops in 0.5 s from full speed, so T = 0.02 + 0.03 + 0.5 s and S = 2000 T = 1100 mm, more than 500: anew 1600 T = 880 mm.
#[test]
fn the_curtain_of_a_table_is_asked_for_the_time_of_the_table() {
    let safety = screened(TABLE);
    let curtain = curtain(&safety);
    assert!((curtain.asked_mm.unwrap() - 880.0).abs() < 1e-6, "{curtain:?}");
    assert_eq!(curtain.times.as_ref().unwrap().slowest.as_deref(), Some("table"));
    assert_eq!(curtain.holds, Some(true), "{}", curtain.sentence);
    // 1145.6 mm are there: 265.6 mm more than asked.
    let nearer = screened(
        &TABLE
            .replace("[5000, -1500, 300]", "[4730, -1500, 300]")
            .replace("[5000, 1500, 300]", "[4730, 1500, 300]"),
    );
    assert_eq!(self::curtain(&nearer).holds, Some(false), "{}", self::curtain(&nearer).sentence);
}

/// ISO 13855:2010, parallel approach: a field must stand at least 15 (d - 50 mm) high, so that nobody crawls below it; with d = 70 mm that is
/// 300 mm. One at 299 mm may not be used however far off it is, though the least distance of other rules is kept; where those alone
/// count it is not checked.
#[test]
fn a_scanner_field_too_low_for_its_resolution_does_not_hold_at_any_distance() {
    let at = |height: f64, rules: &str| {
        let scanner = format!(
            "[[zone]]\nname = \"scanner\"\nrole = \"scanner_field\"\nkind = \"box\"\nat_mm = [20000, 0, {}]\n\
             size_mm = [1000, 3000, 20]\nresolution_mm = 70\nresponse_s = 0.02\ninto = [-1, 0, 0]\nstops = [\"table\"]\n\
             active = \"while_axes_move\"\n",
            height + 10.0
        );
        let text = TABLE.replace("rules = \"iso\"", &format!("rules = \"{rules}\""));
        screened(&format!("{text}{scanner}")).devices[1].clone()
    };
    for (height, rules, holds) in [
        (301.0, "all", Some(true)),
        (299.0, "all", Some(false)),
        (299.0, "iso", Some(false)),
        (299.0, "united_states", None),
    ] {
        let device = at(height, rules);
        assert_eq!(device.holds, holds, "{height} {rules}: {}", device.sentence);
        assert_eq!(device.forbidden_by.is_some(), holds == Some(false));
    }
}

/// At full speed it stands after T = 0.55 s and the person has gone 880 mm of at least 1145.6 mm: at the worst instant at least 265.6 mm
/// are left, and no more than if the corner stood nearest just then. With C = 0 the intrusion distance takes nothing.
#[test]
fn who_reaches_in_while_the_table_turns_has_the_rest_of_the_way() {
    let safety = screened(TABLE);
    let intrusion = curtain(&safety).intrusion.as_ref().unwrap();
    let least = 2000.0 - 800.0_f64.hypot(300.0) - 880.0;
    assert!((least - 1e-6..least + 5.0).contains(&intrusion.left_mm), "{intrusion:?}");
    assert!((intrusion.left_with_intrusion_mm - intrusion.left_mm).abs() < 1e-6);
    assert!((intrusion.stands_after_s - 0.55).abs() < 1e-6, "{intrusion:?}");
    assert_eq!((intrusion.last_to_stand.as_str(), intrusion.reached), ("table", 0));
}

/// A space that ends 1 mm beyond the circle of the corners holds the sweep with that room, and one that ends 1 mm before it does not,
/// by that millimetre; both to the 0.11 mm of above.
#[test]
fn a_space_that_ends_a_millimetre_before_the_sweep_does_not_hold_it() {
    let of = |beyond: f64| {
        let far = 3000.0 + 800.0_f64.hypot(300.0) + beyond;
        let (middle, size) = ((far - 2000.0) / 2.0, far + 2000.0);
        let safety = screened(&format!(
            "{TABLE}[[zone]]\nname = \"hall\"\nrole = \"operating_space\"\nkind = \"box\"\nat_mm = [{middle}, 0, 1000]\n\
             size_mm = [{size}, 6000, 6000]\n"
        ));
        let step = safety.spaces.iter().find(|step| step.outer == "hall").unwrap().clone();
        (step.holds, step.out_by_mm, step.body.unwrap().body)
    };
    for beyond in [1.0, -1.0] {
        let (holds, out_by, body) = of(beyond);
        assert_eq!((holds, body.as_str()), (beyond > 0.0, "plate"), "{out_by}");
        assert!((-0.11..1e-6).contains(&(out_by + beyond)), "{out_by}");
    }
}

/// The sweep of the table is 3854.4 mm from the arm's foot, beyond all that the arm reaches: an operating or safeguarded space that ends before does
/// not hold it; restricted and maximum space are the robot's, so the table, which no limit of the arm stops, is told as not checked.
#[test]
fn a_table_is_not_held_to_what_limits_the_arm() {
    let told = |role: &str| {
        let safety = screened(&format!(
            "{TABLE}[[zone]]\nname = \"hall\"\nrole = \"{role}\"\nkind = \"box\"\nat_mm = [0, 0, 1000]\nsize_mm = [7000, 6000, 6000]\n"
        ));
        let step = safety.spaces.iter().find(|step| step.inner.starts_with("all that moves")).unwrap();
        let says = safety
            .not_checked
            .iter()
            .any(|line| line.starts_with("whether what table moves keeps within hall"));
        (step.holds, says)
    };
    for role in ["restricted_space", "maximum_space"] {
        assert_eq!(told(role), (true, true), "{role}");
    }
    for role in ["operating_space", "safeguarded_space"] {
        assert_eq!(told(role), (false, false), "{role}");
    }
}

/// A space in a space: of two boxes whose walls are so many millimetres apart the inner sticks out of the outer by as much, where the
/// arm can be, and a wider outer one holds it.
#[test]
fn nested_boxes_stick_out_by_the_distance_of_their_walls() {
    let boxes = |outer: f64| {
        let space = |name: &str, role: &str, size: f64| {
            format!(
                "[[zone]]\nname = \"{name}\"\nrole = \"{role}\"\nkind = \"box\"\nat_mm = [0, 0, 500]\n\
                 size_mm = [{size}, {size}, {size}]\n"
            )
        };
        let text = format!(
            "{TABLE}{}{}",
            space("inner", "restricted_space", 1600.0),
            space("outer", "maximum_space", outer)
        );
        let safety = screened(&text);
        let step =
            safety.spaces.iter().find(|step| step.inner == "inner" && step.outer == "outer").unwrap().clone();
        (step.holds, step.out_by_mm)
    };
    for apart in [-120.0, -1.0, 35.0, 200.0] {
        let (holds, out_by) = boxes(1600.0 - 2.0 * apart);
        assert_eq!(holds, apart < 0.0, "{apart}: {out_by}");
        // Past an edge or a corner the straight distance is up to √3 of that of the walls.
        assert!(
            out_by >= apart - 1e-6 && out_by <= apart.max(apart * 3.0_f64.sqrt()) + 1e-6,
            "{apart}: {out_by}"
        );
    }
}

/// A fence beside the table, 1500 mm from its middle; `more` says what was looked up, or what openings it has.
fn fenced(from_x: f64, to_x: f64, low: f64, more: &str) -> SafetyFindings {
    screened(&format!(
        "{TABLE}[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [{from_x}, 1500, {low}]\n\
         to_mm = [{to_x}, 1500, {low}]\nheight_mm = 1400\n{more}"
    ))
}

fn way(safety: &SafetyFindings, way: ReachWay) -> (Option<bool>, Option<f64>) {
    let of = safety.guards[0].ways.iter().find(|of| of.way == way).unwrap();
    (of.holds, of.present_mm)
}

/// A fence that stands on the floor at one end alone leaves the way under it open.
#[test]
fn a_guard_with_a_slanting_lower_edge_does_not_close_the_way_under_it() {
    let text = format!(
        "{TABLE}[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [1000, 1500, 0]\nto_mm = [5000, 1500, 900]\n\
         height_mm = 1400\n"
    );
    assert_eq!(way(&screened(&text), ReachWay::Under).0, None);
}

/// Behind the fence 1500 − 854.4 = 645.6 mm are left: enough for 600 mm that were looked up, 54.4 mm too few for 700 mm. What was not
/// looked up is not checked, and a fence on the floor leaves no way under it.
#[test]
fn a_guard_holds_against_the_distances_that_were_looked_up_and_no_others() {
    let behind = 1500.0 - 800.0_f64.hypot(300.0);
    let near = |found: Option<f64>| (-1e-6..0.11).contains(&(found.unwrap() - behind));
    let enough = fenced(1000.0, 5000.0, 0.0, "reach_over_mm = 600\n");
    let (holds, present) = way(&enough, ReachWay::Over);
    assert!(holds == Some(true) && near(present), "{present:?}");
    assert_eq!(way(&enough, ReachWay::Under).0, Some(true));
    assert_eq!(way(&enough, ReachWay::Through).0, Some(true));
    assert_eq!(enough.guards[0].holds, Some(true));
    let short = fenced(1000.0, 5000.0, 0.0, "reach_over_mm = 700\n");
    assert_eq!((way(&short, ReachWay::Over).0, short.holds), (Some(false), false));
    let told = &short.guards[0].sentence;
    assert!(told.contains("over: 54.4 mm too near"), "{told}");
    let open = fenced(1000.0, 5000.0, 180.0, "opening = \"slot\"\nopening_mm = 30\n");
    for (of, look_up) in [
        (ReachWay::Over, "reaching over fence: look up its distance in ISO 13857 for a guard 1580.0 mm high"),
        (ReachWay::Under, "reaching under fence: its lower edge is 180.0 mm above the floor"),
        (ReachWay::Through, "reaching through fence: look up the distance in ISO 13857 for slots of 30.0 mm"),
    ] {
        assert_eq!(way(&open, of).0, None);
        assert!(open.not_checked.iter().any(|line| line.starts_with(look_up)), "{:?}", open.not_checked);
    }
    // 645.6 mm are behind it: more than the 600 that a file says, less than the 850 mm of ISO 13857:2019, table 4, for slots up to 30 mm; of openings above
    // 120 mm that has no figure.
    let less = fenced(1000.0, 5000.0, 180.0, "opening = \"slot\"\nopening_mm = 30\nreach_through_mm = 600\n");
    assert_eq!(way(&less, ReachWay::Through).0, Some(false));
    let told = "reaching through fence: 850.0 mm by ISO 13857:2019";
    assert!(less.rests_on.iter().any(|line| line.starts_with(told)), "{:?}", less.rests_on);
    let wide =
        fenced(1000.0, 5000.0, 180.0, "opening = \"square\"\nopening_mm = 150\nreach_through_mm = 600\n");
    assert_eq!(way(&wide, ReachWay::Through).0, None);
    assert!(
        wide.not_checked.iter().any(|line| line.contains("has no distance for square openings of 150.0 mm")),
        "{:?}",
        wide.not_checked
    );
    let looked_up = "opening = \"slot\"\nopening_mm = 30\nreach_through_mm = 650\nreach_under_mm = 640\n";
    let looked_up = fenced(1000.0, 5000.0, 180.0, looked_up);
    assert_eq!(way(&looked_up, ReachWay::Through).0, Some(false));
    assert_eq!(way(&looked_up, ReachWay::Under).0, Some(true));
}

/// The ends of a long fence are √(2000² + 1500²) − 854.4 = 1645.6 mm from the table, more than the 850 mm that an arm reaches around
/// them; those of a short one √(500² + 1500²) − 854.4 = 726.7 mm, which holds only where a shorter reach was looked up.
#[test]
fn a_whole_arm_reaches_850_mm_around_the_end_of_a_guard() {
    let to_ends = |half: f64| half.hypot(1500.0) - 800.0_f64.hypot(300.0);
    let near = |found: Option<f64>, half: f64| (-1e-6..0.11).contains(&(found.unwrap() - to_ends(half)));
    let (holds, present) = way(&fenced(1000.0, 5000.0, 0.0, ""), ReachWay::Around);
    assert!(holds == Some(true) && near(present, 2000.0), "{present:?}");
    let (holds, present) = way(&fenced(2500.0, 3500.0, 0.0, ""), ReachWay::Around);
    assert!(holds.is_none() && near(present, 500.0), "{present:?}");
    let around =
        |mm: f64| way(&fenced(2500.0, 3500.0, 0.0, &format!("reach_around_mm = {mm}\n")), ReachWay::Around).0;
    assert_eq!((around(720.0), around(730.0)), (Some(true), Some(false)));
}

/// The arm may be anywhere in its restricted space: a corner of that at (800, 900) is √(200² + 600²) = 632 mm from the end of a fence at (1000, 1500),
/// which the arm in the schedule comes no nearer to than 1645.6 mm; one at (500, 500) is 1118 mm from it.
#[test]
fn reaching_around_an_end_looks_at_the_restricted_space_too() {
    let space = |x: f64, y: f64| {
        let (x, y) = (2.0 * x, 2.0 * y);
        format!(
            "[[zone]]\nname = \"limits\"\nrole = \"restricted_space\"\nkind = \"box\"\nat_mm = [0, 0, 900]\nsize_mm = [{x}, {y}, 1800]\n"
        )
    };
    for (corner, holds) in [([800.0, 900.0], None), ([500.0, 500.0], Some(true))] {
        let safety = fenced(1000.0, 5000.0, 0.0, &space(corner[0], corner[1]));
        assert_eq!(way(&safety, ReachWay::Around).0, holds, "{}", safety.guards[0].sentence);
    }
}

/// One is called outside the cell and stands in the safeguarded space, another inside and stands beyond that.
#[test]
fn an_emergency_stop_that_stands_elsewhere_than_it_says_is_told() {
    let stop = |name: &str, place: &str, x: f64| {
        format!("[[emergency_stop]]\nname = \"{name}\"\nplace = \"{place}\"\nat_mm = [{x}, 0, 1000]\n")
    };
    let text = format!(
        "{TABLE}[[zone]]\nname = \"yard\"\nrole = \"safeguarded_space\"\nkind = \"box\"\nat_mm = [1500, 0, 1500]\nsize_mm = [6000, 3000, 3000]\n{}{}{}{}",
        stop("one", "outside", 4400.0),
        stop("two", "outside", 4600.0),
        stop("three", "inside", 4400.0),
        stop("four", "inside", 4600.0)
    );
    let safety = screened(&text);
    let told = |name: &str| {
        safety.not_checked.iter().any(|line| line.contains(&format!("emergency stop {name} is")))
    };
    assert_eq!(
        ["one", "two", "three", "four"].map(told),
        [true, false, false, true],
        "{:?}",
        safety.not_checked
    );
}

/// A fence that stands in the way of the table's corners is passed by them, whatever was looked up: by 854.4 − 800 = 54.4 mm.
#[test]
fn what_passes_a_guard_is_told() {
    let text = format!(
        "{TABLE}[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [1000, 800, 0]\nto_mm = [5000, 800, 0]\n\
         height_mm = 1400\n"
    );
    let safety = screened(&text);
    assert_eq!((safety.guards[0].holds, safety.holds), (Some(false), false));
    let told = &safety.guards[0].sentence;
    assert!(told.starts_with("plate passes it by 54."), "{told}");
}
