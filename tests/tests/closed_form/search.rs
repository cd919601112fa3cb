//! Touch searches: where the wire touches, how long that takes, and which faces cannot be searched.

use nalgebra::{Point3, Unit, Vector3};
use seamwright_sim::cell::{Cell, Tracked};
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::{Limit, RuleStop};
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::motion::{Limits, Profile, TOOL_ACCELERATION, TOOL_JERK};
use seamwright_sim::plan::Verdict;
use seamwright_sim::schedule::{EventKind, PathRow};
use seamwright_sim::units::mm;
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::fitted::fitted;
use statrs::function::erf::erf;

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 0, watch: &() })
}

/// The wire end in the fixture's frame, which stands at (900, 0, 600) mm and is not turned; mm.
fn in_fixture(row: &PathRow) -> Vector3<f64> {
    (row.world_from_wire_end.translation.vector - Vector3::new(0.9, 0.0, 0.6)) * 1000.0
}

fn searching(searches: &str) -> Cell {
    let seam = format!("{LEFT}\n{searches}");
    Question { seam: &seam, ..Question::default() }.cell()
}

/// At 30 mm the wire goes 12 mm straight down to (−70, 4 + 9, 10), then 15 mm along −y to (−70, 4, 10 + 6); at 20 mm/s by the profile
/// of a linear move.
#[test]
fn the_wire_goes_straight_into_each_face_and_back_before_the_weld() {
    let cell = searching(
        "[[seam.search]]\nface = \"reference\"\nat_mm = 30\noff_mm = 9\ndistance_mm = 12\nspeed_mm_s = 20\n\
         [[seam.search]]\nface = \"other\"\nat_mm = 30\noff_mm = 6\ndistance_mm = 15\nspeed_mm_s = 20\nedge_mm = 15\n",
    );
    let checked = checked(&cell);
    assert_eq!(checked.plan.seams[0].verdict, Verdict::Holds, "{:?}", checked.plan.seams[0].binding);
    let events = &checked.schedule.visits[0].events;
    let touches: Vec<_> = events.iter().filter(|event| event.kind == EventKind::Search).collect();
    assert_eq!(touches.len(), 2);
    let weld = events.iter().find(|event| event.kind == EventKind::Weld).unwrap();
    let limits = Limits { speed: 0.02, acceleration: TOOL_ACCELERATION, jerk: TOOL_JERK };
    for (touch, distance) in touches.iter().zip([0.012, 0.015]) {
        let expected = Profile::rest_to_rest(distance, &limits).duration();
        assert!((touch.duration - expected).abs() < 1e-9, "{} s, not {expected}", touch.duration);
        assert!(touch.start < weld.start);
    }
    let rows = checked.path.iter().filter(|row| row.phase == EventKind::Search);
    let (down, aside): (Vec<&PathRow>, Vec<&PathRow>) =
        rows.partition(|row| (in_fixture(row).y - 13.0).abs() < 1e-3);
    for row in &down {
        let at = in_fixture(row);
        assert!((at.x + 70.0).abs() < 1e-3 && (9.999..22.001).contains(&at.z), "{at}");
    }
    for row in &aside {
        let at = in_fixture(row);
        assert!((at.x + 70.0).abs() < 1e-3 && (at.z - 16.0).abs() < 1e-3, "{at}");
        assert!((3.999..19.001).contains(&at.y), "{at}");
    }
    assert!(down.len() > 10 && aside.len() > 10);
    assert_eq!(Scheme::of(&cell).treatments[0].touches.len(), 2);
}

const LAP: &str = "[[fixture.shape]]\nname = \"cover\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, -80, 12]\nsize_mm = [100, 40, 4]\n";

/// The cover's edge is 4 mm high: 3 mm can be searched there, 6 are 2 too many (looked at in steps of a quarter millimetre).
#[test]
fn the_edge_of_a_thin_upper_plate_cannot_be_searched() {
    for (edge, missing) in [(3.0, None), (6.0, Some(2.0))] {
        let seam = format!(
            "points_mm = [[40, -60, 10], [-40, -60, 10]]\n[[seam.search]]\nface = \"other\"\nat_mm = 20\n\
             off_mm = 2\ndistance_mm = 8\nspeed_mm_s = 20\nedge_mm = {edge}\n"
        );
        let cell = Question { seam: &seam, besides: LAP, ..Question::default() }.cell();
        let checked = checked(&cell);
        let short = checked.findings.seams[0].stops.iter().find_map(|stop| match stop.limit {
            Limit::Procedure(RuleStop::SearchEdge { short_mm, .. }) => Some(short_mm),
            _ => None,
        });
        assert_eq!(short.is_some(), missing.is_some(), "{:?}", checked.findings.seams[0].stops);
        assert!((short.unwrap_or(0.0) - missing.unwrap_or(0.0)).abs() < 0.26, "{short:?}");
    }
}

/// A tack of 12 mm height from 25 to 35 mm covers what is searched 9 mm off the root at 30 mm.
#[test]
fn a_tack_is_not_searched() {
    let search =
        "[[seam.search]]\nface = \"reference\"\nat_mm = 30\noff_mm = 9\ndistance_mm = 12\nspeed_mm_s = 20\n";
    for (height, on_tack) in [(12.0, true), (2.0, false)] {
        let tacks = format!(
            "tacks = {{ at_mm = [30], length_mm = 10, height_mm = {height}, by = \"person\", each_s = 5, over = false }}\n{search}"
        );
        let checked = checked(&searching(&tacks));
        let found = checked.findings.seams[0]
            .stops
            .iter()
            .any(|stop| matches!(stop.limit, Limit::Procedure(RuleStop::SearchOnTack { .. })));
        assert_eq!(found, on_tack);
    }
}

/// What stands where the torch would search blocks the search, though the weld itself is free.
#[test]
fn a_clamp_in_the_way_of_a_search_blocks_the_seam() {
    let seam = |search: &str| format!("{LEFT}\n{search}");
    let far =
        "[[seam.search]]\nface = \"reference\"\nat_mm = 0\noff_mm = 85\ndistance_mm = 12\nspeed_mm_s = 20\n";
    for (search, holds) in [("", true), (far, false)] {
        let wide = "[[fixture.clamp]]\nname = \"wall\"\nkind = \"box\"\nat_mm = [-100, 90, 25]\nsize_mm = [60, 6, 30]\n";
        let seam = seam(search);
        let cell = Question { seam: &seam, besides: wide, ..Question::default() }.cell();
        assert_eq!(checked(&cell).plan.seams[0].verdict == Verdict::Holds, holds, "{search}");
    }
}

/// A sensor must go before the arc: it leaves the turn about the wire no freedom but its own tolerance.
#[test]
fn a_sensor_that_tracks_takes_the_free_turn_away() {
    let of = |torch, procedure| Question { torch, procedure, seam: LEFT, ..Question::default() };
    let sensor = "\n[sensor]\nlook_ahead_mm = 40\nturn_tolerance_deg = 15\n";
    let cell = of(sensor, "track = \"sensor\"").cell();
    let turn = cell.seams[0].procedure.turn.unwrap();
    assert!(turn.aim == 0.0 && (turn.below - 15.0_f64 * std::f64::consts::PI / 180.0).abs() < 1e-12);
    assert_eq!(Scheme::of(&cell).treatments[0].tracked, Some(Tracked::Sensor));
    assert!(of(sensor, "").cell().seams[0].procedure.turn.is_none());
    let checked = checked(&cell);
    for row in checked.path.iter().filter(|row| row.phase == EventKind::Weld) {
        assert!(row.place.unwrap().angles.turn.abs() <= turn.below + 1e-9);
    }
    for (torch, procedure, says) in [
        ("", "track = \"sensor\"", "there is no sensor on the torch"),
        ("", "track = \"arc\"", "cannot be tracked through"),
        ("\n[sensor]\n", "", "look_ahead_mm"),
    ] {
        let found = of(torch, procedure).read().err().unwrap_or_default();
        assert!(found.contains(says), "{procedure}: {found}");
    }
}

/// Both side stops meet faces that are off by ±T, σ = T/3 each; half way between them the part goes along y by their mean, σ/√2. A search there
/// that begins d before the face finds it on a share erf(d / (σ/√2) / √2) = erf(d/σ) of parts: on others the wire is driven into the face on
/// its way there, or the face is never met. All else is exact, and 20 mm are allowed.
#[test]
fn a_search_finds_no_face_that_lies_farther_off_than_it_begins() {
    let held = "[variation]\njoint_mm = 0\nloading_mm = 0\nfixture_mm = 0\narm_repeatability_mm = 0\narm_accuracy_mm = 0\ntool_centre_mm = 0\n\
                wire_mm = 0\nsearch_mm = 0\ngap_mm = 0\n[[fixture.locator]]\nname = \"a\"\nkind = \"pad\"\nat_mm = [-120, -80, 0]\n\
                direction = [0, 0, 1]\n";
    let procedure = "across_allowed_mm = 20\nalong_wire_allowed_mm = 20";
    for distance in [0.5, 1.0, 2.0, 12.0] {
        let seam = format!(
            "{LEFT}\n[[seam.search]]\nface = \"other\"\nat_mm = 100\noff_mm = 6\ndistance_mm = {distance}\nspeed_mm_s = 20\n"
        );
        let mut cell = Question { seam: &seam, besides: held, procedure, ..Question::default() }.cell();
        let body = &mut cell.bodies[0];
        let locator = |at: [f64; 3], direction: Vector3<f64>, part_tolerance: f64| {
            let mut locator = body.locators[0].clone();
            locator.at = Point3::from(at.map(mm));
            locator.direction = Unit::new_normalize(direction);
            locator.tolerance = 0.0;
            locator.part_tolerance = mm(part_tolerance);
            locator.name = format!("{at:?}");
            locator
        };
        let tolerance = 3.0;
        body.locators = vec![
            locator([-120.0, -80.0, 0.0], Vector3::z(), 0.0),
            locator([120.0, -80.0, 0.0], Vector3::z(), 0.0),
            locator([0.0, 80.0, 0.0], Vector3::z(), 0.0),
            locator([-100.0, -100.0, 5.0], Vector3::y(), tolerance),
            locator([100.0, -100.0, 5.0], Vector3::y(), tolerance),
            locator([-150.0, 0.0, 5.0], Vector3::x(), 0.0),
        ];
        let expected = erf(distance / (tolerance / 3.0));
        let found = fitted(&cell, 0).seams[0].touched_up;
        let spread = (expected * (1.0 - expected) / 100_000.0).sqrt();
        assert!((found - expected).abs() <= 5.0 * spread, "{distance}: {found}, not {expected}");
    }
}
