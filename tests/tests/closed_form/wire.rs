//! The bare wire is as long as it stands out of the contact tip on its seam, whatever the tool frame is set for.

use seamwright_sim::check::{Options, check};
use seamwright_sim::plan::{Constraint, Verdict};
use seamwright_sim::schedule::EventKind;
use seamwright_sim::units;
use seamwright_tests::bench::{LEFT, Question};

const STRAP: &str =
    "[[fixture.clamp]]\nname = \"strap\"\nkind = \"box\"\nat_mm = [0, 30, 10.75]\nsize_mm = [20, 52, 1.5]\n";

/// A strap of 1.5 mm lies across the root. The tool frame is set for 15 mm; the weld asks for 30. At work 45° the mouth of the nozzle,
/// 17 mm wide and 28 mm from the root, comes down to 28 sin 45° − 8.5 cos 45° = 13.8 mm over the plate, 12.3 over the strap, where 10.5
/// are asked: nothing but the wire, on its way from tip to root, meets the strap.
#[test]
fn a_strap_across_the_root_stops_the_wire_however_far_it_stands_out() {
    let seam = format!("{LEFT}\nctwd_mm = 30\nctwd_tolerance_mm = 0\ntravel_deg = 0");
    let verdict = |besides: &str| {
        let cell = Question { seam: &seam, besides, ..Question::default() }.cell();
        let checked = check(&cell, &Options { seed: 0, watch: &() });
        let seam = &checked.plan.seams[0];
        (seam.verdict, seam.binding.as_ref().map(|binding| binding.constraint.clone()))
    };
    assert_eq!(verdict(""), (Verdict::Holds, None));
    let (stopped, by) = verdict(STRAP);
    assert_eq!(stopped, Verdict::NotFound);
    assert_eq!(by, Some(Constraint::Clearance("wire".to_owned(), "strap".to_owned())));
}

/// In the air the wire counts as the torch file has it, which is told where a weld has it stand out farther.
#[test]
fn a_wire_that_is_longer_on_a_weld_than_in_the_air_is_told() {
    for (ctwd, told) in [(15, false), (18, true)] {
        let seam = format!("{LEFT}\nctwd_mm = {ctwd}");
        let checked =
            check(&Question { seam: &seam, ..Question::default() }.cell(), &Options { seed: 0, watch: &() });
        let says = checked
            .findings
            .not_checked
            .iter()
            .any(|line| line.contains("15.0 mm long") && line.contains("18.0 mm"));
        assert_eq!(says, told, "{:?}", checked.findings.not_checked);
    }
}

/// While the arm comes to rest after a touch search the wire stands as on the search: as far out as on the weld, and touching what it may.
#[test]
fn coming_to_rest_after_a_search_counts_as_the_search() {
    let seam = format!(
        "{LEFT}\nctwd_mm = 17\nctwd_tolerance_mm = 0\n[[seam.search]]\nface = \"reference\"\nat_mm = 30\noff_mm = 9\ndistance_mm = 12\nspeed_mm_s = 20\n"
    );
    let mut cell = Question { seam: &seam, ..Question::default() }.cell();
    cell.arm.settle = 0.2;
    let checked = check(&cell, &Options { seed: 0, watch: &() });
    let mut before = None;
    let mut rests = 0;
    for row in &checked.path {
        if row.phase != EventKind::Settle {
            before = Some(row.phase);
        } else if matches!(before, Some(EventKind::Search | EventKind::SearchWay)) {
            rests += 1;
            assert!((row.ctwd - units::mm(17.0)).abs() < 1e-9, "{} m out at rest", row.ctwd);
            assert!(
                row.clearance > units::mm(1.0),
                "the wire against its own joint counts: {} m",
                row.clearance
            );
        }
    }
    // Two rows each after the way in, the touch, the way back and the way out.
    assert_eq!(rests, 8);
}
