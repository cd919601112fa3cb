//! Over which sides people step into a field that lies, and how far what moves is from there. The corners of a plate go round on a circle of
//! √(800² + 300²) = 854.4 mm about x = 3000 mm, y = 0, looked at in steps so small that at most 0.11 mm are missed.

use seamwright_sim::findings::{DeviceFindings, SafetyFindings};

use super::safeguards::{bare, replaced, screened};
use super::ways_in::{YARD, fence};

/// A field for a scanner beyond the table, on the floor from `shape`.
fn scanner(shape: &str, into: [f64; 3]) -> String {
    format!(
        "[[zone]]\nname = \"scanner\"\nrole = \"scanner_field\"\n{shape}\nresolution_mm = 50\nresponse_s = 0.02\ninto = {into:?}\n\
         stops = [\"table\"]\n"
    )
}

fn device(safety: &SafetyFindings) -> &DeviceFindings {
    safety.devices.iter().find(|device| device.device == "scanner").unwrap()
}

#[track_caller]
fn assert_present(safety: &SafetyFindings, from_middle: f64) {
    let device = device(safety);
    let beyond = device.present_mm.unwrap() - (from_middle - 800.0_f64.hypot(300.0));
    assert!((-1e-6..0.11).contains(&beyond), "{beyond}: {}", device.sentence);
}

const AHEAD: [f64; 3] = [-1.0, 0.0, 0.0];

/// Who walks along −x at y = 1500 mm breaks a triangle with its tip toward them at x = 4000 mm, not at the tip: √(1000² + 1500²) from the
/// table's middle. So of a box into which they walk askew: over its left side as well as over its front.
#[test]
fn a_field_counts_from_wherever_who_walks_so_breaks_it() {
    let triangle = "kind = \"outline\"\noutline_mm = [[4000, -1500], [6500, 0], [4000, 1500]]\nat_mm = [0, 0, 300]\nheight_mm = 20";
    let block = "kind = \"box\"\nat_mm = [5000, 0, 310]\nsize_mm = [2000, 3000, 20]";
    assert_present(&screened(&format!("{}{}", bare(), scanner(triangle, AHEAD))), 1000.0_f64.hypot(1500.0));
    assert_present(&screened(&format!("{}{}", bare(), scanner(block, AHEAD))), 3000.0);
    for side in [1.0, -1.0] {
        let askew = scanner(block, [-1.0, side, 0.0]);
        assert_present(&screened(&format!("{}{askew}", bare())), 1000.0_f64.hypot(1500.0));
    }
}

/// The same box as an outline turned upside down about its x axis and on a frame turned by 90 degrees.
#[test]
fn a_field_is_the_same_however_it_is_written() {
    let outline = "kind = \"outline\"\noutline_mm = [[4000, -1500], [6000, -1500], [6000, 1500], [4000, 1500]]\nat_mm = [0, 0, 320]\n\
                   rotation_zyx_deg = [0, 0, 180]\nheight_mm = 20";
    assert_present(&screened(&format!("{}{}", bare(), scanner(outline, AHEAD))), 3000.0);
    let turned =
        "kind = \"box\"\nat_mm = [5000, 0, 310]\nrotation_zyx_deg = [90, 0, 0]\nsize_mm = [3000, 2000, 20]";
    assert_present(&screened(&format!("{}{}", bare(), scanner(turned, [-1.0, 0.0, 0.0]))), 3000.0);
}

/// A hole of 600 mm in the left fence, from x = 4100 mm on, lets people into the field over its side: √(1100² + 1500²) from the table's middle, or
/// half a body and a piece of side more. It counts where all guards are known to be drawn, and is told as not checked where that is not known.
#[test]
fn whoever_steps_into_a_field_over_an_open_side_is_looked_at() {
    let field = scanner("kind = \"box\"\nat_mm = [4500, 0, 310]\nsize_mm = [1000, 3000, 20]", AHEAD);
    let fences = |hole: [f64; 2]| {
        fence("right fence", [5000.0, -1500.0], [-2000.0, -1500.0])
            + &fence("rear fence", [-2000.0, -1500.0], [-2000.0, 1500.0])
            + &fence("left fence", [5000.0, 1500.0], [hole[1], 1500.0])
            + &fence("left fence behind", [hole[0], 1500.0], [-2000.0, 1500.0])
    };
    let unchecked = "whether somebody steps into scanner over another side";
    let told = |safety: &SafetyFindings| safety.not_checked.iter().any(|line| line.starts_with(unchecked));
    for hole in [[4100.0, 4100.0], [4100.0, 4270.0]] {
        let closed = screened(&format!("{}{field}{YARD}{}", bare(), fences(hole)));
        assert_present(&closed, 2000.0);
        assert!(!told(&closed));
    }
    let open = screened(&format!("{}{field}{YARD}{}", bare(), fences([4100.0, 4700.0])));
    let from_middle = device(&open).present_mm.unwrap() + 800.0_f64.hypot(300.0);
    let [least, most] = [1100.0, 1100.0 + 90.0 + 50.0].map(|x: f64| x.hypot(1500.0));
    assert!((least..most + 0.11).contains(&from_middle), "{from_middle}");
    let unknown = screened(&format!("{}{field}{}", bare(), fences([4100.0, 4700.0])));
    assert_present(&unknown, 2000.0);
    assert!(told(&unknown), "{:?}", unknown.not_checked);
}

/// A post before the open side closes as much of it as it is wide with half a body on both sides; a second field that always stops the table closes
/// it all.
#[test]
fn what_stands_before_a_side_closes_it() {
    let field = scanner("kind = \"box\"\nat_mm = [4500, 0, 310]\nsize_mm = [1000, 3000, 20]", AHEAD);
    let fences = fence("right fence", [5000.0, -1500.0], [-2000.0, -1500.0])
        + &fence("rear fence", [-2000.0, -1500.0], [-2000.0, 1500.0])
        + &fence("left fence behind", [4000.0, 1500.0], [-2000.0, 1500.0]);
    let beside = "[[zone]]\nname = \"beside\"\nrole = \"scanner_field\"\nkind = \"box\"\nat_mm = [4500, 2500, 310]\nsize_mm = [1000, 2000, 20]\n\
                  resolution_mm = 50\nresponse_s = 0.02\ninto = [0, -1, 0]\nstops = [\"table\"]\n";
    let at = |more: &str| {
        let safety = screened(&format!("{}{field}{YARD}{fences}{more}", bare()));
        device(&safety).present_mm.unwrap() + 800.0_f64.hypot(300.0)
    };
    let open = at("");
    assert!(open < 1300.0_f64.hypot(1500.0), "{open}");
    assert!((at(beside) - 2000.0).abs() < 0.11, "{}", at(beside));
    // It stops nothing while the arm alone moves.
    let of_arm = replaced(beside, "stops = [\"table\"]", "stops = [\"arm\"]");
    assert!((at(&of_arm) - open).abs() < 0.11, "{}", at(&of_arm));
}

/// Above 300 mm a lying field is crawled under, as an upright one is: then the only way in is open.
#[test]
fn under_a_field_that_lies_high_people_crawl() {
    let at = |underside: f64| {
        let block =
            format!("kind = \"box\"\nat_mm = [5500, 0, {}]\nsize_mm = [1000, 3000, 20]", underside + 10.0);
        let fences = fence("right fence", [5000.0, -1500.0], [-2000.0, -1500.0])
            + &fence("rear fence", [-2000.0, -1500.0], [-2000.0, 1500.0])
            + &fence("left fence", [5000.0, 1500.0], [-2000.0, 1500.0]);
        screened(&format!("{}{}{YARD}{fences}", bare(), scanner(&block, AHEAD))).way_in.is_some()
    };
    assert_eq!([280.0, 300.0, 301.0, 940.0].map(at), [false, false, true, true]);
}
