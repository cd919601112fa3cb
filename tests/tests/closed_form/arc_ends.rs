//! Where arcs start and stop: leads, going back to the crater, corners and tacks.

use nalgebra::Vector3;
use seamwright_sim::cell::Cell;
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::{Limit, NearName, RuleStop, TaughtMove};
use seamwright_sim::plan::Verdict;
use seamwright_sim::schedule::{EventKind, PathRow};
use seamwright_tests::bench::{LEFT, Question};

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 0, watch: &() })
}

fn rows(checked: &Checked, phase: EventKind) -> Vec<&PathRow> {
    checked.path.iter().filter(|row| row.phase == phase).collect()
}

/// The wire end in the fixture's frame, which stands at (900, 0, 600) mm and is not turned; mm.
fn in_fixture(row: &PathRow) -> Vector3<f64> {
    (row.world_from_wire_end.translation.vector - Vector3::new(0.9, 0.0, 0.6)) * 1000.0
}

fn of_procedure(procedure: &str) -> Checked {
    let checked = checked(&Question { procedure, seam: LEFT, ..Question::default() }.cell());
    assert_eq!(checked.plan.seams[0].verdict, Verdict::Holds, "{:?}", checked.plan.seams[0].binding);
    checked
}

/// From −100 − 12 to 100 + 8 mm at 8 mm/s: 27.5 s.
#[test]
fn leads_go_straight_on_before_the_start_and_beyond_the_end() {
    let checked = of_procedure("lead_in_mm = 12\nlead_out_mm = 8");
    let weld = rows(&checked, EventKind::Weld);
    let (first, last) = (weld[0], weld[weld.len() - 1]);
    assert!((in_fixture(first) - Vector3::new(-112.0, 4.0, 10.0)).amax() < 1e-6, "{}", in_fixture(first));
    assert!((in_fixture(last) - Vector3::new(108.0, 4.0, 10.0)).amax() < 1e-6, "{}", in_fixture(last));
    assert!((last.t - first.t - 220.0 / 8.0).abs() < 1e-9);
    assert!(checked.findings.seams[0].worst_angles.is_some());
    // So it is taught: to where the arc is struck, and from there to where it is put out.
    let taught = &checked.findings.seams[0].taught;
    let of = |kind: TaughtMove| taught.iter().filter(move |point| point.kind == kind);
    let (start, end) = (of(TaughtMove::Approach).next().unwrap(), of(TaughtMove::Weld).next_back().unwrap());
    for (point, x) in [(start, -112.0), (end, 108.0)] {
        let off = Vector3::from(point.xyz_mm) - Vector3::new(x, 4.0, 10.0);
        assert!(off.amax() < 1e-4, "{point:?}");
    }
}

/// From 100 back to 90 mm at 8 mm/s: 1.25 s; the crater is filled there, and the way out begins there.
#[test]
fn the_torch_goes_back_with_the_arc_on_and_fills_the_crater_there() {
    let checked = of_procedure("crater_back_mm = 10");
    let (weld, back) = (rows(&checked, EventKind::Weld), rows(&checked, EventKind::CraterBack));
    assert!((in_fixture(weld[weld.len() - 1]) - Vector3::new(100.0, 4.0, 10.0)).amax() < 1e-6);
    let events = &checked.schedule.visits[0].events;
    let index = events.iter().position(|event| event.kind == EventKind::CraterBack).unwrap();
    assert!((events[index].duration - 1.25).abs() < 1e-9);
    assert_eq!(events[index - 1].kind, EventKind::Weld);
    assert_eq!(events[index + 1].kind, EventKind::Crater);
    for row in &back {
        let place = row.place.unwrap();
        let expected = Vector3::new(-100.0 + 1000.0 * place.s, 4.0, 10.0);
        assert!((in_fixture(row) - expected).amax() < 1e-6 && place.s < 0.2 + 1e-9, "{}", in_fixture(row));
    }
    for phase in [EventKind::Crater, EventKind::GasAfter] {
        for row in rows(&checked, phase) {
            assert!((in_fixture(row) - Vector3::new(90.0, 4.0, 10.0)).amax() < 1e-6, "{}", in_fixture(row));
        }
    }
    let out = rows(&checked, EventKind::Retract);
    assert!((in_fixture(out[0]) - Vector3::new(90.0, 4.0, 10.0)).amax() < 1e-6, "{}", in_fixture(out[0]));
    let times = checked.schedule.visits[0].times();
    assert!((times.arc - (25.0 + 1.25)).abs() < 1e-9, "{} s of arc", times.arc);
}

/// The seam turns the rib's end at 60 mm; it starts 60 mm and stops 40 mm from that corner.
#[test]
fn an_arc_that_starts_or_stops_near_a_corner_is_said_with_what_is_missing() {
    let corner = "points_mm = [[40, 4, 10], [100, 4, 10], [100, -4, 10]]\nend_inset_mm = 3";
    for (asked, missing) in [(4.0, None), (5.0, None), (5.5, Some(0.5)), (20.0, Some(15.0))] {
        let procedure =
            format!("clear_of_corners_mm = {asked}\nwork_tolerance_deg = 20\ntravel_tolerance_deg = 20");
        let cell = Question { procedure: &procedure, seam: corner, ..Question::default() }.cell();
        let checked = checked(&cell);
        let ends = checked.findings.seams[0].stops.iter().find_map(|stop| match &stop.limit {
            Limit::Procedure(RuleStop::ArcEnd {
                starts: false, near: NearName::Corner, short_mm, ..
            }) => Some(*short_mm),
            _ => None,
        });
        match missing {
            None => assert_eq!(ends, None, "{asked} mm"),
            Some(missing) => {
                assert_eq!(checked.plan.seams[0].verdict, Verdict::CannotHold);
                assert!((ends.unwrap() - missing).abs() < 1e-6, "{ends:?} for {asked} mm");
            }
        }
    }
}

const TACKS: &str = "length_mm = 10, at_mm = [40, 150]";

/// Two tacks of 12 s each by hand lengthen loading, 20 s, by 24 s; welded around with 3 mm kept clear, 200 mm leave 32, 94 and 42 mm.
#[test]
fn tacks_set_by_hand_cost_loading_time_and_are_welded_around() {
    let seam =
        format!("{LEFT}\ntacks = {{ {TACKS}, height_mm = 3, by = \"person\", each_s = 12, over = false }}");
    let cell = Question { procedure: "clear_of_tacks_mm = 3", seam: &seam, ..Question::default() }.cell();
    assert!((cell.stations[0].loading.load - 44.0).abs() < 1e-9);
    let lengths: Vec<f64> = cell.seams[0].runs.iter().map(|run| 1000.0 * run.length()).collect();
    for (length, expected) in lengths.iter().zip([32.0, 94.0, 42.0]) {
        assert!((length - expected).abs() < 1e-9, "{lengths:?}");
    }
    let checked = checked(&cell);
    assert_eq!(checked.plan.seams[0].verdict, Verdict::Holds, "{:?}", checked.plan.seams[0].binding);
    assert_eq!(
        checked.schedule.visits[0].events.iter().filter(|event| event.kind == EventKind::Weld).count(),
        3
    );
}

/// Two tacks of 10 mm at 8 mm/s before the weld: 2.5 s of arc more.
#[test]
fn tacks_set_by_the_arm_are_welded_first() {
    let seam = format!("{LEFT}\ntacks = {{ {TACKS}, height_mm = 2, by = \"arm\" }}");
    let cell = Question { seam: &seam, ..Question::default() }.cell();
    assert_eq!(
        cell.seams.iter().map(|seam| (seam.name.as_str(), seam.pass)).collect::<Vec<_>>(),
        [("rib, tacks", 0), ("rib", 1)]
    );
    let checked = checked(&cell);
    assert!(checked.plan.seams.iter().all(|seam| seam.verdict == Verdict::Holds));
    let welds = rows(&checked, EventKind::Weld);
    assert_eq!(welds[0].place.unwrap().pass, 0);
    assert!((checked.schedule.visits[0].times().arc - 27.5).abs() < 1e-9);
}

/// The tip may come 2 mm nearer than it aims at: a tack of 2 mm may be welded over, one of 3.5 mm is 1.5 mm too high.
#[test]
fn a_tack_too_high_to_be_welded_over_is_said() {
    for (height, over) in [(2.0, None), (3.5, Some(1.5))] {
        let seam =
            format!("{LEFT}\ntacks = {{ {TACKS}, height_mm = {height}, by = \"person\", each_s = 5 }}");
        let checked = checked(&Question { seam: &seam, ..Question::default() }.cell());
        let found = checked.findings.seams[0].stops.iter().find_map(|stop| match &stop.limit {
            Limit::Procedure(RuleStop::TackHeight { over_mm, .. }) => Some(*over_mm),
            _ => None,
        });
        assert_eq!(found.is_some(), over.is_some());
        assert!((found.unwrap_or(0.0) - over.unwrap_or(0.0)).abs() < 1e-6, "{found:?}");
        assert_eq!(checked.findings.holds(), over.is_none());
    }
}

#[test]
fn tacks_that_cannot_be_are_said_with_what_would_be_right() {
    for (tacks, says) in [
        ("at_mm = [], length_mm = 10, height_mm = 3, by = \"arm\"", "there is no tack in it"),
        ("length_mm = 10, height_mm = 3, by = \"arm\"", "this key is missing"),
        ("at_mm = [40, 45], length_mm = 10, height_mm = 3, by = \"arm\"", "two tacks lie on each other"),
        ("at_mm = [198], length_mm = 10, height_mm = 3, by = \"arm\"", "a tack lies beyond the seam"),
        ("at_mm = [40], length_mm = 10, height_mm = 3, by = \"person\"", "`seam[1].tacks.each_s`"),
        ("at_mm = [40], length_mm = 10, height_mm = 3, by = \"arm\", each_s = 3", "the arm sets these tacks"),
        ("at_mm = [40], length_mm = 10, height_mm = 3, by = \"robot\"", "this word is not known here"),
    ] {
        let seam = format!("{LEFT}\ntacks = {{ {tacks} }}");
        let found = Question { seam: &seam, ..Question::default() }.read().err().unwrap_or_default();
        assert!(found.contains(says), "{tacks}: {found}");
    }
}

/// A procedure that tacks goes back no farther than a tack is long, and its weave fits on one.
#[test]
fn what_a_tack_is_too_short_for_is_said() {
    let tacks = format!(
        "{LEFT}\ntacks = {{ at_mm = [40], length_mm = 20, height_mm = 1, by = \"arm\", procedure = \"tack\" }}"
    );
    for (keys, says) in [
        ("crater_back_mm = 30", "the arc would go back 30 mm on a tack of 20.000 mm"),
        (
            "weave = { shape = \"sine\", amplitude_mm = 1, wavelength_mm = 2, dwell_s = 0.5 }",
            "the dwells of the weave leave no length to cross in",
        ),
    ] {
        let besides = format!(
            "[[procedure]]\nname = \"tack\"\nwork_deg = 45\ntravel_deg = 5\nctwd_mm = 15\ntravel_speed_mm_s = 8\n{keys}"
        );
        let question = Question { seam: &tacks, besides: &besides, ..Question::default() };
        let found = question.read().err().unwrap_or_default();
        assert!(found.contains(says), "{keys}: {found}");
    }
}
