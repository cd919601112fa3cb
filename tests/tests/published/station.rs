//! Periods of one arm and one person over stations.

use std::path::Path;

use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::plan::{Options, plan};
use seamwright_sim::production::{Cycle, cycle, rhythm};
use seamwright_sim::schedule::schedule;
use seamwright_tests::rows;

#[test]
fn the_period_is_that_of_the_event_simulation() {
    let rows = rows("published/cell_balance.csv");
    assert!(rows.len() >= 14);
    for row in rows {
        let expected = row.number("period_event_sim_s");
        let (r1, l1) = (row.number("R1_s"), row.number("L1_s"));
        let period = match row.text("model") {
            "two_fixed_one_operator" => {
                rhythm(&[r1, row.number("R2_s")], &[l1, row.number("L2_s")], &[0, 0]).period
            }
            // Both sides alike: two parts a round, and the table turns twice in it.
            "turntable" => rhythm(&[r1, r1], &[l1, l1], &[0, 0]).period / 2.0 + row.number("X_s"),
            "single_fixture" => rhythm(&[r1], &[l1], &[0]).period,
            other => panic!("{other} is not known"),
        };
        assert!((period - expected).abs() < 1e-9, "{row}: {period}");
    }
}

/// A two-sided table whose sides weld different lengths and take different times to load. Only lengths are known, so that every
/// second of the arm is one that the file states: 10 s and 100 s of arc at 10 mm/s and the like. Invented.
fn table(weld_mm: [f64; 2], load_s: [f64; 2], index_s: f64) -> Cycle {
    let side = |name: &str, at: &str, angle: u8, weld_mm: f64, load_s: f64| {
        format!(
            r#"
            [[fixture]]
            name = "jig {name}"
            [[fixture.shape]]
            name = "plate {name}"
            kind = "box"
            size_mm = [100, 100, 10]
            [[station]]
            name = "{name}"
            fixture = "jig {name}"
            on = "table"
            at_mm = [{at}, 0, 0]
            axes_deg = {{ table = {angle} }}
            load_s = {load_s}
            acknowledge_s = 0
            [[seam]]
            name = "weld {name}"
            procedure = "fillet"
            joint = "fillet"
            fixture = "jig {name}"
            length_mm = {weld_mm}
            "#
        )
    };
    let text = format!(
        r#"
        format = 1
        name = "two sides"
        [arm]
        file = "../arms/arm.toml"
        [torch]
        file = "../torches/torch.toml"
        [[axis]]
        name = "table"
        kind = "turn"
        at_mm = [1000, 0, 600]
        min_deg = 0
        max_deg = 180
        max_speed_deg_s = 90
        index_s = {index_s}
        [[procedure]]
        name = "fillet"
        work_deg = 45
        travel_deg = 5
        ctwd_mm = 15
        travel_speed_mm_s = 10
        {}
        {}
        "#,
        side("A", "-400", 0, weld_mm[0], load_s[0]),
        side("B", "400", 180, weld_mm[1], load_s[1]),
    );
    let files: [(&str, &[u8]); 3] = [
        ("cells/cell.toml", text.as_bytes()),
        ("arms/arm.toml", include_bytes!("../../../scenes/arms/reach-1400.toml")),
        ("torches/torch.toml", include_bytes!("../../../scenes/torches/bent-neck.toml")),
    ];
    let cell = read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files)).unwrap();
    let plan = plan(&cell, &Options::default());
    cycle(&cell, &schedule(&cell, &plan)).unwrap()
}

/// max(R_A, L_B) + max(R_B, L_A) + 2 X: the arm welds one side while the other is loaded, and the table turns when both are done.
fn pair_period(arm: [f64; 2], person: [f64; 2], index: f64) -> f64 {
    arm[0].max(person[1]) + arm[1].max(person[0]) + 2.0 * index
}

#[test]
fn a_table_with_different_sides_takes_what_is_worked_out_by_hand() {
    // R 60 and 40 s, L 45 and 55 s, X 5 s: max(60, 55) + max(40, 45) + 10 = 115 s.
    assert_eq!(pair_period([60.0, 40.0], [45.0, 55.0], 5.0), 115.0);
    assert!((rhythm(&[60.0, 40.0], &[45.0, 55.0], &[0, 0]).period + 2.0 * 5.0 - 115.0).abs() < 1e-9);

    // The arm waits at one side, at both, at none; the person at the other.
    for (weld_mm, load_s) in [
        ([600.0, 400.0], [45.0, 55.0]),
        ([600.0, 400.0], [20.0, 30.0]),
        ([100.0, 900.0], [30.0, 80.0]),
        ([300.0, 200.0], [70.0, 90.0]),
        ([900.0, 100.0], [150.0, 20.0]),
    ] {
        let cycle = table(weld_mm, load_s, 5.0);
        let arm = [cycle.stations[0].arm, cycle.stations[1].arm];
        // The difference between the sides is arc alone.
        assert!((arm[0] - arm[1] - (weld_mm[0] - weld_mm[1]) / 10.0).abs() < 1e-9, "{arm:?}");
        let person = [cycle.stations[0].balance.person, cycle.stations[1].balance.person];
        assert_eq!(person, load_s);
        let expected = pair_period(arm, load_s, 5.0);
        assert!((cycle.period - expected).abs() < 1e-9, "{weld_mm:?} {load_s:?}: {}", cycle.period);
        let waits = (load_s[1] - arm[0]).max(0.0) + (load_s[0] - arm[1]).max(0.0);
        assert!((cycle.arm_waits - waits).abs() < 1e-9, "{weld_mm:?} {load_s:?}: {}", cycle.arm_waits);
    }
}
