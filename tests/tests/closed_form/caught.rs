//! Gaps in which somebody may be caught: where a motion ends, who may be in it, what keeps people from it, and what is told.

use std::fmt::Write;

use seamwright_sim::findings::{CrushGapFindings, SafetyFindings};
use seamwright_sim::units::deg;

use super::safeguards::{bare, curtain_at, replaced, screened};

/// Corners of the plate of the table go round at this distance from its middle, mm.
fn corner() -> f64 {
    800.0_f64.hypot(300.0)
}

fn place(name: &str, at: [f64; 2], size: [f64; 2], more: &str) -> String {
    format!(
        "[[zone]]\nname = \"{name}\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [{}, {}, 1000]\nsize_mm = [{}, {}, 2000]\n{more}\n",
        at[0], at[1], size[0], size[1]
    )
}

fn shape(name: &str, at: [f64; 3], size: [f64; 3]) -> String {
    format!("[[shape]]\nname = \"{name}\"\nkind = \"box\"\nat_mm = {at:?}\nsize_mm = {size:?}\n")
}

fn against<'f>(safety: &'f SafetyFindings, name: &str) -> Option<&'f CrushGapFindings> {
    safety.crush_gaps.iter().find(|gap| gap.moving == "plate" && gap.against == name)
}

/// Four posts about the table, each 95 to 98 mm beyond the circle of its corners: four gaps too narrow for an arm, and all four are told.
#[test]
fn every_gap_that_is_too_narrow_is_told() {
    let mut text = format!("{}{}", bare(), place("aisle", [3000.0, -2000.0], [2000.0, 900.0], ""));
    let gaps = [95.0, 96.0, 97.0, 98.0];
    for (index, gap) in gaps.iter().enumerate() {
        // A face square to the line from the table's middle, toward the aisle.
        let turn = -120.0 + 20.0 * index as f64;
        let far = corner() + gap + 30.0;
        let at = [3000.0 + far * deg(turn).cos(), far * deg(turn).sin(), 1000.0];
        let post = replaced(
            &shape(&format!("post {index}"), at, [60.0, 60.0, 2000.0]),
            "kind",
            &format!("rotation_zyx_deg = [{turn}, 0, 0]\nkind"),
        );
        write!(text, "{post}").unwrap();
    }
    let safety = screened(&text);
    for (index, gap) in gaps.iter().enumerate() {
        let found = against(&safety, &format!("post {index}")).unwrap();
        // Rows are at most 1.8° apart: 0.11 mm; stops only add to the turn.
        assert!(
            found.holds == Some(false) && (-1e-6..0.2).contains(&(found.gap_mm - gap)),
            "{}",
            found.sentence
        );
    }
    assert_eq!(
        safety.crush_gaps.iter().filter(|gap| gap.holds == Some(false)).count(),
        4,
        "{:?}",
        safety.crush_gaps
    );
}

/// A turning table's gap to a post, looked for at every tenth of a degree along the edges of its plate every 2 mm, is what is told: the post's
/// near face lies at y = -900, its corners 30 mm to each side.
#[test]
fn the_narrowest_is_that_of_a_look_at_everything() {
    let text = format!(
        "{}{}{}",
        bare(),
        shape("post", [3300.0, -930.0, 1000.0], [60.0, 60.0, 2000.0]),
        place("aisle", [3000.0, -2000.0], [2000.0, 900.0], "")
    );
    let safety = screened(&text);
    let found = against(&safety, "post").unwrap();
    let mut least = f64::INFINITY;
    for tenth in 0..1800 {
        let (sin, cos) = deg(f64::from(tenth) / 10.0).sin_cos();
        for step in 0..=800 {
            let along = f64::from(step) * 2.0 - 800.0;
            let edges = [[along, -300.0], [along, 300.0], [-800.0, along * 0.375], [800.0, along * 0.375]];
            for [x, y] in edges {
                let (x, y) = (x * cos - y * sin, x * sin + y * cos);
                let beside = ((x - 300.0).abs() - 30.0).max(0.0);
                let before = ((y + 930.0).abs() - 30.0).max(0.0);
                least = least.min(beside.hypot(before));
            }
        }
    }
    // Rows of the round are up to 1.8° apart, what is looked at here is not. Corner passes corner, 939.6 mm from the middle: 0.9° beside the least
    // distance d they are √(d² + 4 · 854.4 · 939.6 sin² 0.45°) apart, 1.2 mm more.
    assert!((-1e-3..1.2).contains(&(found.gap_mm - least)), "{least}: {}", found.sentence);
}

/// A beam on the table is level with the x axis when its turn ends, 110 mm before a post: the place where it comes to rest counts. A curtain
/// that stops the table, with fences on all other sides, keeps stops out of it, so what is told is the planned motion's.
#[test]
fn a_gap_counts_where_the_motion_ends() {
    let beam = "[[shape]]\nname = \"beam\"\nkind = \"box\"\non = \"table\"\nat_mm = [-1200, 0, 300]\nsize_mm = [2400, 200, 100]\n";
    let text = format!(
        "{}{beam}{}{}{}",
        bare(),
        shape("post", [5000.0, 240.0, 1000.0], [400.0, 60.0, 2000.0]),
        place("aisle", [5000.0, 1100.0], [2000.0, 600.0], "station = \"side A\""),
        curtain_at(6500.0, "station = \"side A\"\nstops = [\"table\"]")
    );
    let corners = [[6500, 1500], [6500, 2600], [-2500, 2600], [-2500, -2600], [6500, -2600], [6500, -1500]];
    let fence = |side: &[[i32; 2]]| {
        let ([[a, b], [c, d]], name) =
            ([side[0], side[1]], format!("fence from {} {}", side[0][0], side[0][1]));
        format!(
            "[[zone]]\nname = \"{name}\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [{a}, {b}, 0]\nto_mm = [{c}, {d}, 0]\n\
             height_mm = 2200\n"
        )
    };
    let fences: String = corners.windows(2).map(fence).collect();
    let safety = screened(&(text + &fences));
    let gap = safety.crush_gaps.iter().find(|gap| gap.moving == "beam" && gap.against == "post").unwrap();
    assert!(gap.stopped_by_device, "{}", gap.sentence);
    // The beam's side at y = 100, the post's at y = 210.
    assert!((gap.gap_mm - 110.0).abs() < 0.02, "{}", gap.sentence);
}

/// 95.6 mm to a post beyond the edge of a place, which an arm (120 mm) may be caught in. An upright box between them keeps people from it, and no
/// box that is lower than 1400 mm; nor does a guard that turns with the table, since it stands elsewhere at times. That there is such a gap is told.
#[test]
fn what_stands_between_keeps_people_from_a_gap() {
    let with = |more: &str| {
        let text = format!(
            "{}{}{}{more}",
            bare(),
            shape("post", [3000.0, -980.0, 1000.0], [60.0, 60.0, 2000.0]),
            place("aisle", [3000.0, -2000.0], [2000.0, 900.0], "")
        );
        let safety = screened(&text);
        let gap = against(&safety, "post").unwrap_or_else(|| panic!("{:?}", safety.crush_gaps)).clone();
        // Rows are at most 1.8° apart: 0.11 mm. What lies beyond a wall is told of all looks, stops as well.
        assert!((-1e-6..0.2).contains(&(gap.gap_mm - (950.0 - corner()))), "{}", gap.sentence);
        assert!(safety.no_crush_gaps.is_empty());
        assert_eq!(gap.holds, Some(gap.kept_by_walls), "{}", gap.sentence);
        !gap.kept_by_walls
    };
    assert!(with(""));
    let screen = |height: f64| shape("screen", [3000.0, -1300.0, height / 2.0], [8000.0, 20.0, height]);
    assert!(!with(&screen(1800.0)) && with(&screen(1300.0)));
    let turning = "[[zone]]\nname = \"screen\"\nrole = \"guard\"\nkind = \"field\"\non = \"table\"\nfrom_mm = [-4000, -1300, -700]\n\
                   to_mm = [4000, -1300, -700]\nheight_mm = 2000\n";
    assert!(with(turning));
    // An outlined guard hides with each of its sides.
    let outlined = "[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"outline\"\nheight_mm = 2000\n\
                    outline_mm = [[-1000, -1300], [7000, -1300], [7000, -1290], [-1000, -1290]]\n";
    assert!(!with(outlined));
}

/// As [`what_stands_between_keeps_people_from_a_gap`], of fences: one with openings that people get through keeps nobody, nor does one that is lower
/// than 1400 mm above what they stand on.
#[test]
fn a_fence_keeps_people_from_a_gap_only_where_they_get_neither_through_nor_over_it() {
    let kept = |height: f64, more: &str, stands_at: f64| {
        let aisle = replaced(
            &place("aisle", [3000.0, -2000.0], [2000.0, 900.0], ""),
            ", 1000]",
            &format!(", {}]", 1000.0 + stands_at),
        );
        let text = format!(
            "{}{}{aisle}[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [-1000, -1300, 0]\n\
             to_mm = [7000, -1300, 0]\nheight_mm = {height}\ninto = [0, 1, 0]\n{more}",
            bare(),
            shape("post", [3000.0, -980.0, 1000.0], [60.0, 60.0, 2000.0]),
        );
        against(&screened(&text), "post").unwrap().kept_by_walls
    };
    assert!(kept(1400.0, "", 0.0) && !kept(1390.0, "", 0.0));
    assert!(kept(1800.0, "", 400.0) && !kept(1790.0, "", 400.0));
    for (opening, is_kept) in [(150.0, true), (180.0, false), (400.0, false)] {
        assert_eq!(
            kept(2000.0, &format!("opening = \"square\"\nopening_mm = {opening}\n"), 0.0),
            is_kept,
            "{opening}"
        );
    }
}

/// A pin on the table passes a post by 10 mm at a height of 2600 mm or 3000 mm above the hall's floor. From a platform of 400 mm somebody reaches
/// 2700 mm above that.
#[test]
fn how_high_somebody_reaches_counts_from_what_they_stand_on() {
    let reached = |height: f64, stands_at: f64| {
        let aisle = replaced(
            &place("aisle", [3000.0, -2000.0], [2000.0, 900.0], ""),
            ", 1000]",
            &format!(", {}]", 1000.0 + stands_at),
        );
        let pin = format!(
            "[[shape]]\nname = \"pin\"\nkind = \"sphere\"\non = \"table\"\nat_mm = [-900, 0, {}]\nradius_mm = 30\n\
             [[shape]]\nname = \"ball\"\nkind = \"sphere\"\nat_mm = [3000, -970, {height}]\nradius_mm = 30\n",
            height - 700.0
        );
        let safety = screened(&format!("{}{pin}{aisle}", bare()));
        safety
            .crush_gaps
            .iter()
            .any(|gap| gap.moving == "pin" && gap.against == "ball" && gap.holds == Some(false))
    };
    assert!(reached(2600.0, 0.0) && !reached(3000.0, 0.0));
    assert!(reached(3000.0, 400.0) && !reached(3400.0, 400.0));
}

/// Without a word of its station, a curtain between a place and a gap is broken by whoever reaches there; one that does not stop the table, or
/// stands elsewhere, keeps nobody from it. Either way the gap is told.
#[test]
fn a_field_on_the_way_to_a_gap_is_broken_first() {
    let with = |y: f64, stops: &str| {
        let curtain = format!(
            "[[zone]]\nname = \"curtain\"\nrole = \"curtain\"\nkind = \"field\"\nfrom_mm = [-1000, {y}, 0]\nto_mm = [7000, {y}, 0]\n\
             height_mm = 1800\nresolution_mm = 14\nresponse_s = 0.02\ninto = [0, 1, 0]\nstops = [\"{stops}\"]\n"
        );
        let text = format!(
            "{}{}{}{curtain}",
            bare(),
            shape("post", [3000.0, -980.0, 1000.0], [60.0, 60.0, 2000.0]),
            place("aisle", [3000.0, -2000.0], [2000.0, 900.0], "")
        );
        let safety = screened(&text);
        let gap = against(&safety, "post").unwrap_or_else(|| panic!("{:?}", safety.crush_gaps)).clone();
        assert!((-1e-6..0.2).contains(&(gap.gap_mm - (950.0 - corner()))), "{}", gap.sentence);
        assert_eq!(gap.holds, Some(gap.stopped_by_device), "{}", gap.sentence);
        gap.holds == Some(false)
    };
    assert!(!with(-1300.0, "table"));
    assert!(with(-1300.0, "arm"));
    assert!(with(4000.0, "table"));
}

/// A passage 60 mm before a ball of 30 mm radius at a height, 960 mm from the table's middle; another on the table, 600 mm from that, goes from
/// x = 2400 by y < 0 to x = 3600.
fn past_a_ball(height: f64) -> String {
    format!(
        "{}[[shape]]\nname = \"knob\"\nkind = \"sphere\"\non = \"table\"\nat_mm = [-600, 0, {}]\nradius_mm = 30\n\
         [[shape]]\nname = \"ball\"\nkind = \"sphere\"\nat_mm = [3960, 0, {height}]\nradius_mm = 30\n{}",
        bare(),
        height - 700.0,
        place("passage", [3775.0, -1030.0], [250.0, 1940.0], "")
    )
}

/// 300 mm are left beyond the edge of a passage, wide enough for an arm; a body in the passage is asked 500 mm, and there the same two come as near
/// as that by a wider gap. Two posts of 30 mm radius, one 600 mm from the table's middle, the other 960 mm: at an angle φ from the line between them
/// they are √(600² + 960² − 2 · 600 · 960 cos φ) − 60 apart, with the middle at y = −300 sin φ.
#[test]
fn a_wider_gap_in_the_place_is_not_hidden_by_a_narrower_one_beside_it() {
    let safety = screened(&past_a_ball(1020.0));
    let gap = safety.crush_gaps.iter().find(|gap| gap.moving == "knob" && gap.against == "ball").unwrap();
    let angle = (60.0_f64 / 300.0).asin();
    let least = (600.0_f64.powi(2) + 960.0_f64.powi(2) - 2.0 * 600.0 * 960.0 * angle.cos()).sqrt() - 60.0;
    assert!(gap.holds == Some(false) && gap.asked_mm == 500.0, "{}", gap.sentence);
    // Braking with 180°/s² the table goes √(2 · 3.14 · 0.2) = 1.1 rad/s there, 22 mrad in a row of 20 ms: 6.6 mm of gap.
    assert!((-1e-3..6.6).contains(&(gap.gap_mm - least)), "{least}: {}", gap.sentence);
}

/// High over the table the two are the narrowest by far, 300 mm: a curtain at its other side, which people come through away from it, stops the table, but nobody in the
/// passage has come through that, nor reaches through it.
#[test]
fn of_a_gap_that_no_field_is_before_none_is_said_to_stop_it() {
    let curtain = "[[zone]]\nname = \"curtain\"\nrole = \"curtain\"\nkind = \"field\"\nfrom_mm = [-1000, 4000, 0]\nto_mm = [7000, 4000, 0]\n\
                   height_mm = 2600\nresolution_mm = 14\nresponse_s = 0.02\ninto = [0, 1, 0]\nstops = [\"table\"]\n";
    let safety = screened(&(past_a_ball(2000.0) + curtain));
    let gaps: Vec<_> = safety.crush_gaps.iter().filter(|gap| gap.moving == "knob").collect();
    assert!(gaps.iter().any(|gap| gap.holds == Some(false)), "{:?}", safety.crush_gaps);
    assert!(gaps.iter().all(|gap| !gap.stopped_by_device), "{gaps:?}");
}

/// A table 10 mm under the whole of a plate that is welded on it: wherever the torch is over the plate, it is at least 10 mm nearer to that than to the
/// table, while it stops as well.
#[test]
fn of_the_torch_at_its_parts_stops_count_as_over_the_table_under_them() {
    let text = "format = 1\nname = \"tee\"\n[arm]\nfile = \"arm.toml\"\nat_mm = [0, 0, 450]\n[torch]\nfile = \"torch.toml\"\n[safety]\n\
                [[shape]]\nname = \"table\"\nkind = \"box\"\nat_mm = [900, 0, 300]\nsize_mm = [600, 800, 600]\n[[fixture]]\nname = \"jig\"\n\
                [[fixture.shape]]\nname = \"plate\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, 5]\nsize_mm = [600, 800, 10]\n\
                [[fixture.shape]]\nname = \"rib\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, 40]\nsize_mm = [200, 8, 60]\n\
                [[station]]\nname = \"t\"\nfixture = \"jig\"\nat_mm = [900, 0, 600]\nload_s = 20\n[[procedure]]\nname = \"f5\"\nwork_deg = 45\n\
                work_tolerance_deg = 10\ntravel_deg = 5\ntravel_tolerance_deg = 10\nctwd_mm = 15\nctwd_tolerance_mm = 3\ntravel_speed_mm_s = 7\n\
                [[seam]]\nname = \"rib left\"\nprocedure = \"f5\"\njoint = \"fillet\"\npoints_mm = [[-100, 4, 10], [100, 4, 10]]\n";
    let safety = screened(&format!("{text}{}", place("aisle", [1400.0, 0.0], [1000.0, 1600.0], "")));
    let narrowest = |is: &dyn Fn(&CrushGapFindings) -> bool| {
        let of = safety.crush_gaps.iter().filter(|gap| is(gap));
        of.map(|gap| gap.gap_mm).min_by(f64::total_cmp).unwrap()
    };
    let table =
        narrowest(&|gap| gap.against == "table" && gap.moving == "nozzle" && gap.stopping_for_s > 0.0);
    // Gaps that differ by less than 0.02 mm are not told apart.
    assert!(narrowest(&|gap| gap.at_work) <= (table - 10.0).max(0.0) + 0.02, "{:?}", safety.crush_gaps);
}

/// Where nothing closes, that is said.
#[test]
fn a_place_without_gaps_is_told() {
    let safety = screened(&format!("{}{}", bare(), place("yard", [3000.0, -9000.0], [1000.0, 1000.0], "")));
    assert!(safety.crush_gaps.is_empty());
    assert!(safety.no_crush_gaps.len() == 1 && safety.no_crush_gaps[0].starts_with("yard: no gap"));
}

/// The table's corners come round at 854.4 mm. A post 950 mm from its middle leaves 95.6 mm: too little for an arm (120 mm) of somebody whose
/// place ends 600 mm beyond. One at 1000 mm leaves 145.6 mm, and where a curtain of the side stops the table nobody is caught. A fence
/// between the place and the post keeps arms from it.
#[test]
fn a_post_beside_a_turning_table_leaves_a_gap_to_be_caught_in() {
    let place = "[[zone]]\nname = \"aisle\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [3000, -2000, 1000]\n\
                 size_mm = [2000, 900, 2000]\nstation = \"side A\"\n";
    let post = |face: f64| {
        format!(
            "[[shape]]\nname = \"post\"\nkind = \"box\"\nat_mm = [3000, {}, 1000]\nsize_mm = [60, 60, 2000]\n",
            -face - 30.0
        )
    };
    let gap = |face: f64, more: &str| {
        let safety = screened(&format!("{}{}{place}{more}", bare(), post(face)));
        let of_post = safety.crush_gaps.iter().find(|gap| gap.against == "post").cloned();
        (safety.places[0].holds == Some(true), of_post)
    };
    let corner = 800.0_f64.hypot(300.0);
    for (face, holds) in [(950.0, false), (1000.0, true)] {
        let (free, found) = gap(face, "");
        let found = found.unwrap();
        assert!(free && found.holds == Some(holds) && !found.stopped_by_device, "{}", found.sentence);
        // Rows are at most 1.8° apart and corners are points: 0.11 mm as above.
        assert!((-1e-6..0.2).contains(&(found.gap_mm - (face - corner))), "{}", found.sentence);
        assert_eq!((found.moving.as_str(), found.asked_mm), ("plate", 120.0));
    }
    let before = replaced(
        &replaced(
            &curtain_at(6000.0, "station = \"side A\"\nstops = [\"table\"]"),
            "from_mm = [6000, -1500, 300]",
            "from_mm = [1500, -2500, 300]",
        ),
        "to_mm = [6000, 1500, 300]",
        "to_mm = [4500, -2500, 300]",
    );
    // Nothing that is drawn closes the way around it.
    let (_, perhaps) = gap(950.0, &before);
    assert_eq!(perhaps.map(|gap| (gap.stopped_by_device, gap.holds)), Some((false, None)));
    let line = |name: &str, from: [i32; 2], to: [i32; 2]| {
        format!(
            "[[zone]]\nname = \"{name}\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [{}, {}, 0]\nto_mm = [{}, {}, 0]\nheight_mm = 2200\n",
            from[0], from[1], to[0], to[1]
        )
    };
    let closed = before
        + &line("right of it", [1500, -2500], [-2500, -2500])
        + &line("rear", [-2500, -2500], [-2500, 2500])
        + &line("far", [-2500, 2500], [4500, 2500])
        + &line("left of it", [4500, 2500], [4500, -2500]);
    let (_, watched) = gap(950.0, &closed);
    assert_eq!(watched.map(|gap| (gap.stopped_by_device, gap.holds)), Some((true, Some(true))));
    let fence = "[[zone]]\nname = \"fence\"\nrole = \"guard\"\nkind = \"field\"\nfrom_mm = [0, -1200, 0]\nto_mm = [6000, -1200, 0]\n\
                 height_mm = 2000\n";
    let (_, screened_off) = gap(950.0, fence);
    assert_eq!(screened_off.map(|gap| (gap.kept_by_walls, gap.holds)), Some((true, Some(true))));
    // Within the place a body (500 mm) counts.
    let inside = replaced(place, "at_mm = [3000, -2000, 1000]", "at_mm = [3000, -1350, 1000]");
    let safety = screened(&format!("{}{}{inside}", bare(), post(1250.0)));
    let found = safety.crush_gaps.iter().find(|gap| gap.against == "post").unwrap();
    assert!(found.holds == Some(false) && found.asked_mm == 500.0, "{}", found.sentence);
}

/// The plate turns 60 mm above a pedestal as round as its corners' circle: that gap is always the same, and nobody is caught in it.
#[test]
fn a_gap_that_never_changes_closes_on_nobody() {
    let place = "[[zone]]\nname = \"aisle\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [3000, -1500, 1000]\n\
                 size_mm = [2000, 900, 2000]\n";
    let pedestal = "[[shape]]\nname = \"pedestal\"\nkind = \"cylinder\"\nat_mm = [3000, 0, 300]\nradius_mm = 900\nheight_mm = 600\n";
    let safety = screened(&format!("{}{pedestal}{place}", bare()));
    assert!(safety.crush_gaps.iter().all(|gap| gap.against != "pedestal"), "{:?}", safety.crush_gaps);
}

/// A skirt on the table, 920 mm round, stays 30 mm from a post at 950 mm: nothing closes there. Between the plate in it and the post, 95.6 mm apart,
/// is steel: what is told of both is wide enough for an arm. One that ends below the plate fills nothing, and the plate's gap is told.
#[test]
fn nobody_is_caught_inside_what_turns_along() {
    let place = "[[zone]]\nname = \"aisle\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [3000, -2000, 1000]\n\
                 size_mm = [2000, 900, 2000]\n";
    let post =
        "[[shape]]\nname = \"post\"\nkind = \"box\"\nat_mm = [3000, -980, 1000]\nsize_mm = [60, 60, 2000]\n";
    let told = |z: f64| {
        let skirt = format!(
            "[[shape]]\nname = \"skirt\"\nkind = \"cylinder\"\non = \"table\"\nat_mm = [0, 0, {z}]\nradius_mm = 920\nheight_mm = 200\n"
        );
        let safety = screened(&format!("{}{place}{post}{skirt}", bare()));
        against(&safety, "post").map(|gap| (gap.moving.clone(), gap.gap_mm))
    };
    assert!(told(-20.0).is_none_or(|(_, gap)| gap > 120.0));
    let (moving, gap) = told(-250.0).unwrap();
    let apart = 950.0 - 800.0_f64.hypot(300.0);
    assert!(moving == "plate" && (-1e-6..0.2).contains(&(gap - apart)), "{moving} {gap}");
}
