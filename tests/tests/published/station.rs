//! Periods of one arm and one person over stations.

use seamwright_sim::production::rhythm;
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
