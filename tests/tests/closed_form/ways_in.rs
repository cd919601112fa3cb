//! Ways past guards and fields on which people walk, and what then is no longer kept from them; guards that meet, and one that turns.

use seamwright_sim::findings::{GuardFindings, SafetyFindings};
use seamwright_sim::safety::guarding::ReachWay;

use super::safeguards::{bare, curtain_at, replaced, screened};

pub const YARD: &str = "[[zone]]\nname = \"yard\"\nrole = \"safeguarded_space\"\nkind = \"box\"\nat_mm = [1500, 0, 1500]\n\
                    size_mm = [6900, 3000, 3000]\n";

pub fn fence(name: &str, from: [f64; 2], to: [f64; 2]) -> String {
    format!(
        "[[zone]]\nname = \"{name}\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [{}, {}, 0]\nto_mm = [{}, {}, 0]\nheight_mm = 2200\n",
        from[0], from[1], to[0], to[1]
    )
}

/// Fences on all sides but that of the curtain at x = 5000 mm, the left one in two with a hole between.
fn fences(hole: f64) -> String {
    let half = hole / 2.0;
    fence("right fence", [5000.0, -1500.0], [-2000.0, -1500.0])
        + &fence("rear fence", [-2000.0, -1500.0], [-2000.0, 1500.0])
        + &fence("left fence", [5000.0, 1500.0], [3000.0 + half, 1500.0])
        + &fence("left fence behind", [3000.0 - half, 1500.0], [-2000.0, 1500.0])
}

fn around(safety: &SafetyFindings, name: &str) -> (Option<bool>, bool) {
    let guard: &GuardFindings = safety.guards.iter().find(|guard| guard.guard == name).unwrap();
    let way = guard.ways.iter().find(|way| way.way == ReachWay::Around).unwrap();
    (way.holds, way.walked_around)
}

/// A hole of 180 mm lets a whole body through (ISO 13857, from memory): then neither half of the fence holds, and neither does the cell. Guards
/// that meet have no ends there: 3 mm apart they are as one.
#[test]
fn a_hole_that_people_walk_through_is_a_fault() {
    let curtain = curtain_at(5000.0, "stops = [\"arm\", \"table\"]");
    for (hole, is_open) in [(0.0, false), (3.0, false), (170.0, false), (190.0, true), (300.0, true)] {
        let safety = screened(&format!("{}{curtain}{YARD}{}", bare(), fences(hole)));
        assert_eq!(safety.way_in.as_ref().is_some_and(|way| way.open), is_open, "{hole}");
        for half in ["left fence", "left fence behind"] {
            let (holds, is_walked) = around(&safety, half);
            assert_eq!(is_walked, is_open, "{hole}: {half}");
            assert!(!is_open || holds == Some(false), "{hole}: {half}");
            // What turns comes to 645.6 mm behind the fence: nearer than an arm reaches around an end.
            let closed = if hole < 4.0 { Some(true) } else { None };
            assert!(is_open || holds == closed, "{hole}: {half}: {holds:?}");
        }
        assert!(!is_open || !safety.holds);
    }
}

/// Its lower edge rises from 300 mm to 1600 mm: people walk upright under most of it, and it is told where it is highest.
#[test]
fn under_a_curtain_that_slopes_people_walk() {
    let level = curtain_at(5000.0, "stops = [\"arm\", \"table\"]");
    let sloping = replaced(&level, "to_mm = [5000, 1500, 300]", "to_mm = [5000, 1500, 1600]");
    for (curtain, is_open) in [(&level, false), (&sloping, true)] {
        let safety = screened(&format!("{}{curtain}{YARD}{}", bare(), fences(0.0)));
        assert_eq!(safety.way_in.is_some(), is_open);
        let told = if is_open { "its lower edge is 1600.0 mm" } else { "its lower edge is 300.0 mm" };
        assert!(safety.not_checked.iter().any(|line| line.contains(told)), "{:?}", safety.not_checked);
    }
}

/// Openings of 600 mm in every fence let a body through, however far a hand was said to reach.
#[test]
fn a_guard_with_openings_for_a_body_closes_nothing() {
    let curtain = curtain_at(5000.0, "stops = [\"arm\", \"table\"]");
    for (opening, is_open) in [(150.0, false), (600.0, true)] {
        let open =
            format!("height_mm = 2200\nopening = \"square\"\nopening_mm = {opening}\nreach_through_mm = 120");
        let fences = replaced(&fences(0.0), "height_mm = 2200", &open);
        let safety = screened(&format!("{}{curtain}{YARD}{fences}", bare()));
        assert_eq!(safety.way_in.is_some_and(|way| way.open), is_open, "{opening}");
    }
}

/// The table's corners come to 95 mm from a post behind the curtain, beside where the loader stands. The curtain stops the table: that holds where fences
/// close the way around it, is not known where none are drawn, and does not hold where a gate that stops the arm alone is another way.
#[test]
fn a_gap_is_stopped_only_where_nobody_comes_around() {
    let place = "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [4400, 0, 1000]\n\
                 size_mm = [1000, 1000, 2000]\n";
    let post = format!(
        "[[shape]]\nname = \"post\"\nkind = \"box\"\nat_mm = [{}, 0, 1000]\nsize_mm = [60, 60, 2000]\n",
        3000.0 + 800.0_f64.hypot(300.0) + 95.0 + 30.0
    );
    let curtain = curtain_at(5000.0, "stops = [\"table\"]");
    let gate = "[[zone]]\nname = \"side gate\"\nrole = \"gate\"\nkind = \"field\"\nfrom_mm = [4500, 1500, 0]\nto_mm = [3500, 1500, 0]\n\
                height_mm = 2200\nresponse_s = 0.03\nintrusion_mm = 0\nstops = [\"arm\"]\n";
    let gated = fence("right fence", [5000.0, -1500.0], [-2000.0, -1500.0])
        + &fence("rear fence", [-2000.0, -1500.0], [-2000.0, 1500.0])
        + &fence("left fence", [5000.0, 1500.0], [4500.0, 1500.0])
        + &fence("left fence behind", [3500.0, 1500.0], [-2000.0, 1500.0])
        + gate;
    for (more, holds) in [(fences(0.0), Some(true)), (String::new(), None), (gated, Some(false))] {
        let safety = screened(&format!("{}{curtain}{place}{post}{more}", bare()));
        let of_post = safety.crush_gaps.iter().filter(|gap| gap.moving == "plate" && gap.against == "post");
        let gap = of_post.min_by(|a, b| a.gap_mm.total_cmp(&b.gap_mm)).unwrap();
        assert_eq!((gap.holds, gap.stopped_by_device), (holds, holds == Some(true)), "{}", gap.sentence);
        let behind: &[&str] = if holds.is_none() { &["curtain of the table"] } else { &[] };
        assert_eq!(gap.behind, behind, "{}", gap.sentence);
    }
}

/// A place that the table's corners enter by 54.4 mm: who comes through the side gate has stopped the arm alone, and that gate is named. One whose times
/// are not stated may stop it: not checked, and named as well.
#[test]
fn a_gate_that_stops_something_else_is_named() {
    let place = "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [4300, 0, 1000]\n\
                 size_mm = [1000, 1000, 2000]\n";
    let gate = "[[zone]]\nname = \"side gate\"\nrole = \"gate\"\nkind = \"field\"\nfrom_mm = [4500, 1500, 0]\nto_mm = [3500, 1500, 0]\n\
                height_mm = 2200\nresponse_s = 0.03\nintrusion_mm = 0\nstops = [\"arm\"]\n";
    let fences = fence("right fence", [5000.0, -1500.0], [-2000.0, -1500.0])
        + &fence("rear fence", [-2000.0, -1500.0], [-2000.0, 1500.0])
        + &fence("left fence", [5000.0, 1500.0], [4500.0, 1500.0])
        + &fence("left fence behind", [3500.0, 1500.0], [-2000.0, 1500.0]);
    let curtain = curtain_at(5000.0, "stops = [\"table\"]");
    let untimed = replaced(gate, "response_s = 0.03\nintrusion_mm = 0\nstops = [\"arm\"]\n", "");
    for (gate, holds) in [(gate, Some(false)), (untimed.as_str(), None)] {
        let safety = screened(&format!("{}{curtain}{place}{fences}{gate}", bare()));
        let place = &safety.places[0];
        assert_eq!(place.holds, holds, "{}", place.sentence);
        assert_eq!(
            (place.behind.as_slice(), place.through.as_slice()),
            (&["curtain of the table".to_owned()][..], &["side gate".to_owned()][..])
        );
        assert!(place.sentence.contains("through side gate"), "{}", place.sentence);
    }
}

/// A screen across the middle of the table, 3000 mm from the foot, is between arm and loader at either half turn: the arm stays on its own side, so the
/// nearest of it is as far from the screen as x says.
#[test]
fn a_screen_on_a_table_has_the_arm_on_the_other_side_at_every_turn() {
    let screen = "[[zone]]\nname = \"screen\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [0, -450, -700]\nto_mm = [0, 450, -700]\n\
                  height_mm = 1500\non = \"table\"\n";
    let service = "[[service]]\nname = \"cleaning\"\nduration_s = 6\nevery_loads = 1\nat_mm = [900, 600, 700]\n\
                   rotation_zyx_deg = [0, 0, 180]\n";
    let safety = screened(&format!("{}{service}{screen}", bare()));
    let nearest = safety.guards[0].nearest.as_ref().unwrap();
    assert!(nearest.distance_mm > 0.0, "{nearest:?}");
    // A body's radius is taken off its point, at most that of the arm's thickest link.
    assert!((0.0..250.0).contains(&(3000.0 - nearest.point_mm[0] - nearest.distance_mm)), "{nearest:?}");
    assert_ne!(safety.guards[0].holds, Some(false), "{}", safety.guards[0].sentence);
    assert!(
        safety.not_checked.iter().any(|line| line.contains("past screen while table moves")),
        "{:?}",
        safety.not_checked
    );
}

/// Two beams at 400 and 900 mm are where ISO 13855:2010 has them, so who goes through breaks one; a single beam is ducked and stepped over.
#[test]
fn a_beam_grid_closes_a_way_where_its_beams_stand_as_they_must() {
    let grid = |beams: u32, low: f64, high: f64| {
        let grid = format!(
            "[[zone]]\nname = \"grid\"\nrole = \"beam_grid\"\nkind = \"field\"\nfrom_mm = [5000, -1500, {low}]\nto_mm = [5000, 1500, {low}]\n\
             height_mm = {}\nbeams = {beams}\nresponse_s = 0.02\nstops = [\"arm\", \"table\"]\n",
            high - low
        );
        screened(&format!("{}{grid}{YARD}{}", bare(), fences(0.0))).way_in.is_some()
    };
    assert!(!grid(2, 400.0, 900.0) && grid(2, 410.0, 900.0) && grid(2, 400.0, 890.0));
    assert!(!grid(3, 300.0, 1100.0) && grid(3, 300.0, 1090.0) && grid(4, 300.0, 1190.0));
    assert!(grid(1, 200.0, 1200.0));
}

/// A place as a strip of 20 mm before a bench, in which nobody's middle is: who is there stands beside it, and comes there around the curtain.
#[test]
fn a_place_narrower_than_a_body_is_stood_beside() {
    let place = "[[zone]]\nname = \"loading\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [4535, 0, 1000]\nsize_mm = [20, 1000, 2000]\n";
    let bench =
        "[[shape]]\nname = \"bench\"\nkind = \"box\"\nat_mm = [4700, 0, 550]\nsize_mm = [300, 1000, 1100]\n";
    let post = format!(
        "[[shape]]\nname = \"post\"\nkind = \"box\"\nat_mm = [{}, 0, 1000]\nsize_mm = [60, 60, 2000]\n",
        3000.0 + 800.0_f64.hypot(300.0) + 95.0 + 30.0
    );
    let curtain = curtain_at(5000.0, "stops = [\"table\"]");
    for (more, holds) in [(fences(0.0), Some(true)), (String::new(), None)] {
        let safety = screened(&format!("{}{curtain}{place}{bench}{post}{more}", bare()));
        let of_post = safety.crush_gaps.iter().filter(|gap| gap.moving == "plate" && gap.against == "post");
        let gap = of_post.min_by(|a, b| a.gap_mm.total_cmp(&b.gap_mm)).unwrap();
        assert_eq!(gap.holds, holds, "{}", gap.sentence);
    }
}
