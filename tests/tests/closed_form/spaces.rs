//! How spaces lie in each other and how near devices stand to them, and the ways to devices that serve the torch.

use seamwright_sim::check::{Options, check};

use super::safeguards::{cell, curtain_at, replaced, screened};
use super::safety::TABLE;

/// An arm with one seam before it, and a cleaner behind its shoulder on the left.
pub const CLEANED: &str = r#"
format = 1
name = "cleaned"
[arm]
file = "arm.toml"
at_mm = [0, 0, 450]
home_deg = [0, -40, 40, 0, 60, 0]
[torch]
file = "torch.toml"
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [240, 160, 10]
[[fixture.shape]]
name = "rib"
role = "part"
kind = "box"
at_mm = [0, 0, 35]
size_mm = [160, 8, 50]
[[station]]
name = "bench"
fixture = "jig"
at_mm = [900, 0, 600]
load_s = 20
[[procedure]]
name = "fillet"
work_deg = 45
work_tolerance_deg = 10
travel_deg = 5
travel_tolerance_deg = 10
ctwd_mm = 15
travel_speed_mm_s = 10
[[seam]]
name = "rib"
procedure = "fillet"
joint = "fillet"
points_mm = [[-80, 4, 10], [80, 4, 10]]
[[zone]]
name = "aisle"
role = "operator_place"
kind = "box"
at_mm = [0, 1100, 1000]
size_mm = [1500, 600, 2000]
[[zone]]
name = "limits"
role = "restricted_space"
kind = "box"
at_mm = [450, 0, 1000]
size_mm = [2500, 1400, 2400]
[safety]
controller_s = 0.03
"#;

/// The wire end at y = 850 mm is 50 mm in the aisle, which begins at 800 mm, and 150 mm out of a space that ends at 700 mm: at least so far
/// the sweep goes, and no point of the round comes there.
#[test]
fn the_way_to_a_cleaner_is_seen_like_the_round() {
    let service = "[[service]]\nname = \"cleaning\"\nduration_s = 6\nevery_loads = 5\nat_mm = [300, 850, 700]\n\
                   rotation_zyx_deg = [0, 0, 180]\n";
    let without = screened(CLEANED);
    assert!(
        without.places[0].holds == Some(true) && without.spaces.iter().all(|space| space.holds),
        "{:?}",
        without.places
    );
    let text = format!("{CLEANED}{service}");
    let checked = check(&cell(&text), &Options { seed: 1, watch: &() });
    assert!(checked.plan.devices[0].way.is_ok(), "{:?}", checked.plan.devices[0].way);
    let with = checked.findings.safety.unwrap();
    let into = -with.places[0].nearest.as_ref().unwrap().distance_mm;
    let out = with.spaces[0].out_by_mm;
    assert!(with.places[0].holds == Some(false) && into >= 50.0 - 1e-6, "{into}");
    // Who stands on a mark on the floor is as high.
    let mark = replaced(
        &replaced(&text, "at_mm = [0, 1100, 1000]", "at_mm = [0, 1100, 5]"),
        "size_mm = [1500, 600, 2000]",
        "size_mm = [1500, 600, 10]",
    );
    let on_mark = screened(&mark).places[0].clone();
    let into_mark = -on_mark.nearest.as_ref().unwrap().distance_mm;
    assert!(on_mark.holds == Some(false) && (into_mark - into).abs() < 1e-6, "{into_mark} {into}");
    assert!(!with.spaces[0].holds && out >= 150.0 - 1e-6, "{out}");
    let (bare, more) = (without.manual.unwrap(), with.manual.unwrap());
    assert!(more.points > bare.points && more.played_s > bare.played_s + 6.0, "{bare:?} {more:?}");
}

pub fn space(name: &str, role: &str, kind: &str) -> String {
    format!("[[zone]]\nname = \"{name}\"\nrole = \"{role}\"\n{kind}\n")
}

/// A restricted space wider than the arm reaches restricts nothing: then the arm gets as far out of a safeguarded space as without it.
#[test]
fn a_wide_restricted_space_does_not_take_the_check_away() {
    let safeguarded = space(
        "yard",
        "safeguarded_space",
        "kind = \"box\"\nat_mm = [400, 0, 1100]\nsize_mm = [2400, 1600, 2200]",
    );
    let wide = space("limits", "restricted_space", "kind = \"box\"\nsize_mm = [12000, 12000, 12000]");
    let out = |text: &str| {
        let spaces = screened(text).spaces;
        spaces
            .into_iter()
            .filter(|step| step.outer == "yard")
            .map(|step| step.out_by_mm)
            .fold(f64::MIN, f64::max)
    };
    let [alone, within] =
        [safeguarded.clone(), format!("{safeguarded}{wide}")].map(|zones| out(&format!("{TABLE}{zones}")));
    assert!(alone > 500.0 && (alone - within).abs() < 0.5, "{alone} {within}");
}

/// Wherever a restricted space that is wider than the arm reaches ends, the arm comes to a curtain as near as it gets: 5000 mm less how far it sticks
/// out of a space that ends at x = 0.
#[test]
fn a_curtain_is_as_far_from_a_wide_restricted_space_as_the_arm_reaches() {
    let limits = "kind = \"box\"\nat_mm = [450, 0, 1000]\nsize_mm = [2500, 1400, 2400]";
    let wide = replaced(CLEANED, &limits["kind = \"box\"\n".len()..], "size_mm = [20000, 20000, 20000]");
    let half = space(
        "half",
        "maximum_space",
        "kind = \"box\"\nat_mm = [-5000, 0, 0]\nsize_mm = [10000, 20000, 20000]",
    );
    let safety = screened(&format!("{wide}{half}{}", curtain_at(5000.0, "stops = [\"arm\"]")));
    let of_reach =
        safety.spaces.iter().find(|step| step.outer == "half" && step.inner.contains("reach")).unwrap();
    let present = safety.devices[0].present_mm.unwrap();
    assert!((present - (5000.0 - of_reach.out_by_mm)).abs() < 0.5, "{present} {of_reach:?}");
}

/// A track along y brings the arm no nearer to a curtain square to x: it is as far as without, where the restricted space ends beyond what the arm
/// reaches, at x = 2500 mm, but within 3 m of slide and that.
#[test]
fn a_curtain_along_a_track_is_as_far_as_without_it() {
    let limits = "at_mm = [450, 0, 1000]\nsize_mm = [2500, 1400, 2400]";
    let wide = replaced(CLEANED, limits, "at_mm = [0, 0, 1000]\nsize_mm = [5000, 9000, 6000]");
    let present = |text: &str| {
        let safety = screened(&format!("{text}{}", curtain_at(5000.0, "stops = [\"arm\"]")));
        safety.devices[0].present_mm.unwrap()
    };
    let fixed = present(&wide);
    let carried = present(&on_track(&wide));
    assert!(fixed > 2600.0 && (carried - fixed).abs() < 1.0, "{fixed} {carried}");
}

/// The same on a slide from -3 m to 3 m along y.
fn on_track(text: &str) -> String {
    let track = "[[axis]]\nname = \"track\"\nkind = \"slide\"\ndirection = [0, 1, 0]\nmin_mm = -3000\nmax_mm = 3000\nmax_speed_mm_s = 500\n";
    let carried = replaced(text, "home_deg", "on = \"track\"\nhome_deg");
    replaced(&carried, "[torch]", &format!("{track}[torch]"))
}

/// A space that is drawn from the floor up holds what one that goes on below it does, with the same room.
#[test]
fn a_space_that_stands_on_the_floor_needs_no_bottom() {
    let room = |low: f64| {
        let (middle, height) = ((4000.0 + low) / 2.0, 4000.0 - low);
        let hall = format!("kind = \"box\"\nat_mm = [0, 0, {middle}]\nsize_mm = [6000, 6000, {height}]");
        let spaces = screened(&format!("{CLEANED}{}", space("hall", "maximum_space", &hall))).spaces;
        let step = spaces.into_iter().find(|step| step.inner.contains("reach")).unwrap();
        (step.holds, step.out_by_mm)
    };
    let (on_floor, deep) = (room(0.0), room(-4000.0));
    assert!(on_floor.0 && (on_floor.1 - deep.1).abs() < 1e-6, "{on_floor:?} {deep:?}");
}

/// A cylinder lies in itself, and sticks out of one moved by (30, 40) mm by 50 mm.
#[test]
fn round_spaces_nest_exactly() {
    let cylinder = |name: &str, role: &str, x: f64, y: f64| {
        space(
            name,
            role,
            &format!("kind = \"cylinder\"\nat_mm = [{x}, {y}, 500]\nradius_mm = 1000\nheight_mm = 1500"),
        )
    };
    let out = |x: f64, y: f64| {
        let text = format!(
            "{TABLE}{}{}",
            cylinder("inner", "restricted_space", 0.0, 0.0),
            cylinder("outer", "maximum_space", x, y)
        );
        screened(&text)
            .spaces
            .into_iter()
            .find(|step| step.inner == "inner" && step.outer == "outer")
            .unwrap()
            .out_by_mm
    };
    assert!(out(0.0, 0.0).abs() < 1e-6, "{}", out(0.0, 0.0));
    // One of 64 points stands within 360/128 degrees of the direction: 50 (1 - cos 2.8°) = 0.06 mm less.
    assert!((-0.07..0.01).contains(&(out(30.0, 40.0) - 50.0)), "{}", out(30.0, 40.0));
}

/// On a slide from -3 m to 3 m the arm reaches at least 3 m farther along it than at rest.
#[test]
fn a_track_carries_the_reach_along() {
    let hall = space("hall", "maximum_space", "kind = \"box\"\nsize_mm = [9000, 4000, 9000]");
    let out = |text: &str| {
        let spaces = screened(&format!("{text}{hall}")).spaces;
        spaces.into_iter().find(|step| step.inner.contains("reach")).unwrap().out_by_mm
    };
    let fixed = out(CLEANED);
    let carried = out(&on_track(CLEANED));
    assert!((carried - fixed - 3000.0).abs() < 1.0, "{fixed} {carried}");
}

/// A clamp slides from y = -24 mm to y = -424 mm once the rib is welded, so that its end stands at y = -442 mm: 30 mm in a place that ends at -412 mm, and
/// 20 mm from one that ends at -462 mm. With 2 mm between two looks the end itself is looked at.
#[test]
fn a_clamp_that_opens_into_a_place_is_told() {
    let rib = "size_mm = [160, 8, 50]\n";
    let clamp = "[[fixture.clamp]]\nname = \"toggle\"\nkind = \"box\"\nat_mm = [0, -24, 25]\nsize_mm = [30, 36, 28]\nclose_s = 2\nopen_s = 1.5\n\
                 open_at_mm = [0, -424, 25]\nby = \"air\"\nopens_after = [\"rib\"]\n";
    let seam = "points_mm = [[-80, 4, 10], [80, 4, 10]]\n";
    let other = "[[seam]]\nname = \"other side\"\nprocedure = \"fillet\"\njoint = \"fillet\"\npoints_mm = [[80, -4, 10], [-80, -4, 10]]\n";
    let text = replaced(CLEANED, rib, &format!("{rib}{clamp}"));
    let text = replaced(&text, seam, &format!("{seam}{other}"));
    let told = |end: f64| {
        let place = format!(
            "[[zone]]\nname = \"bay\"\nrole = \"operator_place\"\nkind = \"box\"\nat_mm = [900, {}, 1000]\nsize_mm = [1500, 600, 2000]\n",
            end - 300.0
        );
        let safety = screened(&format!("{text}{place}"));
        let of_bay = safety.clamps_at_places.iter().find(|clamp| clamp.place == "bay").unwrap().clone();
        assert!(of_bay.holds || !safety.holds, "{of_bay:?}");
        of_bay
    };
    let (into, beside) = (told(-412.0), told(-462.0));
    assert!(!into.holds && (into.distance_mm + 30.0).abs() < 1e-3, "{into:?}");
    assert!(beside.holds && (beside.distance_mm - 20.0).abs() < 1e-3, "{beside:?}");
    assert!(screened(CLEANED).clamps_at_places.is_empty());
}
