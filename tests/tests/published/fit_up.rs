//! Pose accuracy and repeatability of an arm; stacks of tolerances.

use seamwright_sim::fitup::cause::{Law, accuracy_and_repeatability};
use seamwright_sim::fitup::spread::spread;
use seamwright_sim::units::{mm, to_mm};
use seamwright_tests::rows;
use seamwright_tests::shifts::model;

#[test]
fn accuracy_and_repeatability_are_those_of_iso_9283() {
    let rows = rows("published/iso9283_check.csv");
    let attained: Vec<[f64; 3]> =
        rows.iter().map(|row| ["x_mm", "y_mm", "z_mm"].map(|column| row.number(column))).collect();
    let (accuracy, repeatability) = accuracy_and_repeatability([0.0; 3], &attained).unwrap();
    // Half of the last digit that is printed.
    assert!((accuracy - rows[0].number("ap_mm")).abs() < 0.000_05, "{}: {accuracy}", rows[0]);
    assert!((repeatability - rows[0].number("rp_mm")).abs() < 0.000_000_05, "{}: {repeatability}", rows[0]);
}

#[test]
fn stacks_of_tolerances_come_to_what_the_examples_print() {
    for row in rows("published/tolerance_stack.csv") {
        let tolerances: Vec<f64> =
            row.text("tolerances").split(' ').map(|text| text.parse().unwrap()).collect();
        let laws: Vec<Law> = tolerances.iter().map(|limit| Law::tolerance(mm(*limit), 3.0)).collect();
        let stack = model(&laws, &[vec![[1.0, 0.0]; laws.len()]]);
        let found = spread(&stack, &stack.seams[0], false).spreads[0];
        let tolerance = row.number("tolerance");
        assert!((to_mm(found.worst) - row.number("worst")).abs() < tolerance, "{row}: {found:?}");
        assert!((to_mm(found.squares) - row.number("squares")).abs() < tolerance, "{row}: {found:?}");
    }
}
