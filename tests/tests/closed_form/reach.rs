//! A fillet that runs out of the arm's reach: how far is told, and it is called impossible only where no torch angle that is allowed helps.

use seamwright_sim::check::{Options, check};
use seamwright_sim::findings::{Limit, Place};
use seamwright_sim::plan::Verdict;
use seamwright_sim::units;
use seamwright_tests::bench::Question;

/// No angle but the aim.
const AT_AIM: &str =
    "travel_deg = 0\ntravel_tolerance_deg = 0\nwork_tolerance_deg = 0\nctwd_tolerance_mm = 0";

/// What becomes of a seam.
struct Outcome {
    verdict: Verdict,
    /// By how much and where the arm is told to be too short, mm.
    told: Option<(f64, Place)>,
    /// By how much it is too short for the seam's end, and for the end of the way out straight up from there, mm.
    short: [f64; 2],
    /// By how much it is too short for the seam's end at the best travel angle within 10 degrees and CTWD within 3 mm, mm.
    short_tilted: f64,
}

/// What becomes of 50 mm of fillet, straight away from the arm in the plane of axis 1, the wire down at its aim, that end `over` (mm)
/// beyond the place that is just in reach that way.
///
/// The arm file: axis 2 is 150 mm before axis 1 and 430 mm up, on a foot at 450 mm; the upper arm has 610 mm, the wrist centre is
/// hypot(640, 130) mm from axis 3 and 95 mm from the flange. The torch file: the wire end is 102.846 mm beside the flange's axis and
/// 362.567 mm before the flange, the wire 40 degrees off that axis. With the wire down and the bend toward the arm the wrist is hence
/// 457.567·cos 40° + 102.846·sin 40° above the wire end, and 457.567·sin 40° − 102.846·cos 40° nearer to the arm. The station is
/// turned about x by 45 degrees, so that the wire halves the fillet when it points down.
fn outcome(over: f64, angles: &str) -> Outcome {
    let (sin, cos) = units::deg(40.0).sin_cos();
    let (nearer, above) = (457.567 * sin - 102.846 * cos, 457.567 * cos + 102.846 * sin);
    let stretched = 610.0 + 640_f64.hypot(130.0);
    let end_height = 610.0;
    let up = end_height + above - (450.0 + 430.0);
    let end = 150.0 + (stretched * stretched - up * up).sqrt() + nearer;
    // The end, (100, 4, 10) mm of the fixture, turned.
    let half = 0.5_f64.sqrt();
    let [x, y, z] = [end + over - 100.0, -(4.0 - 10.0) * half, end_height - (4.0 + 10.0) * half];
    let station = format!("at_mm = [{x}, {y}, {z}]\nrotation_zyx_deg = [0, 0, 45]");
    let seam = format!("points_mm = [[50, 4, 10], [100, 4, 10]]\n{angles}");
    let question = Question { seam: &seam, station: &station, ..Question::default() };
    let checked = check(&question.cell(), &Options { seed: 0, watch: &() });
    let told = checked.findings.seams[0].stops.iter().find_map(|stop| match &stop.limit {
        Limit::Reach { short_mm, .. } => Some((*short_mm, stop.place)),
        _ => None,
    });
    let out = end + over - nearer - 150.0;
    // `retract_mm` is 50 by default.
    let short = [up, up + 50.0].map(|up| out.hypot(up) - stretched);
    // Tilted in the plane, the wrist goes round the wire end; a longer CTWD takes it away along the wire.
    let tilted = |degrees: f64, more: f64| {
        let (sin, cos) = units::deg(degrees).sin_cos();
        let (from_end, over_end) =
            (-nearer * cos + (above + more) * sin, nearer * sin + (above + more) * cos);
        (end + over - 150.0 + from_end).hypot(end_height + over_end - 880.0) - stretched
    };
    let tilts = (-100..=100).map(|tenths| f64::from(tenths) / 10.0);
    let short_tilted =
        tilts.flat_map(|degrees| [-3.0, 3.0].map(|more| tilted(degrees, more))).fold(f64::INFINITY, f64::min);
    Outcome { verdict: checked.plan.seams[0].verdict, told, short, short_tilted }
}

/// Between levels of the search and where no turn about the wire is asked for, too; the arc about the best tilt is so flat that a tenth of a
/// degree is nothing.
#[test]
fn it_is_told_by_how_much_the_arm_is_too_short_at_the_best_of_what_is_allowed() {
    let within = "travel_deg = 0\ntravel_tolerance_deg = 10\nwork_tolerance_deg = 0\nctwd_tolerance_mm = 3";
    let Outcome { verdict, told, short, short_tilted } = outcome(200.0, within);
    assert_eq!(verdict, Verdict::CannotHold);
    let (told, _) = told.unwrap();
    assert!(short[0] - short_tilted > 1.0, "{} {short_tilted}", short[0]);
    assert!((told - short_tilted).abs() < 0.02, "{told} mm, not {short_tilted}");
    // More that is allowed is never farther.
    let wider = within.replace("work_tolerance_deg = 0", "work_tolerance_deg = 10");
    let (told, _) = outcome(200.0, &wider).told.unwrap();
    assert!(told < short_tilted + 0.02, "{told} mm, more than {short_tilted}");
}

#[test]
fn a_seam_that_ends_out_of_reach_cannot_hold_and_it_is_told_by_how_much() {
    for over in [20.0, 200.0] {
        let Outcome { verdict, told, short, .. } = outcome(over, AT_AIM);
        assert_eq!(verdict, Verdict::CannotHold, "{over} mm");
        let (told, place) = told.unwrap();
        assert!((told - short[0]).abs() < 1e-3, "{told} mm, not {}", short[0]);
        assert!(matches!(place, Place::Seam { at_mm, .. } if (at_mm - 50.0).abs() < 1e-6), "{place:?}");
    }
    assert_eq!(outcome(-10.0, AT_AIM).verdict, Verdict::Holds);
}

/// The seam itself is within reach, and the worst of the way out is its end.
#[test]
fn a_way_out_that_leaves_the_reach_is_told_as_that_with_the_most_that_is_missing() {
    let Outcome { verdict, told, short, .. } = outcome(-1.0, AT_AIM);
    assert!(short[0] < 0.0 && short[1] > 5.0);
    assert_eq!(verdict, Verdict::NotFound);
    let (told, place) = told.unwrap();
    assert!((told - short[1]).abs() < 1e-3, "{told} mm, not {}", short[1]);
    assert!(matches!(place, Place::WayOut { past_end_mm } if (past_end_mm - 50.0).abs() < 1e-6), "{place:?}");
}

/// Tilted by 10 degrees toward the arm, the wrist comes nearer by about sin 10° of the 417 mm that it is above the wire end, 72 mm.
#[test]
fn what_a_tilted_torch_may_reach_is_not_called_impossible() {
    const TILTED: &str =
        "travel_deg = 0\ntravel_tolerance_deg = 10\nwork_tolerance_deg = 0\nctwd_tolerance_mm = 0";
    assert_ne!(outcome(50.0, TILTED).verdict, Verdict::CannotHold);
    assert_eq!(outcome(100.0, TILTED).verdict, Verdict::CannotHold);
}
