//! Separation distances of protective devices against what makers, authorities and plain arithmetic print.

use seamwright_sim::cell::Detection;
use seamwright_sim::safety::separation::{
    Branch, NotCovered, ansi, iso_2010, iso_2010_parallel, iso_2024_parallel, osha,
};
use seamwright_sim::units;
use seamwright_tests::{Row, rows};

/// As the column `branch` names it.
fn name(branch: Branch) -> &'static str {
    match branch {
        Branch::HandSpeed => "K2000",
        Branch::LeastOfAll => "floor100",
        Branch::WalkingSpeed => "K1600",
        Branch::LeastByWalking => "floor500",
        Branch::ArmThrough => "K1600+850",
        Branch::OneBeam => "K1600+1200",
        Branch::Parallel => "parallel",
    }
}

#[test]
fn a_curtain_stands_as_far_as_the_table_says_by_each_of_three_rules() {
    for row in rows("published/light_curtain.csv") {
        let time = row.number("T_s");
        let detection = Detection::Resolution(units::mm(row.number("d_mm")));
        let iso = iso_2010(time, detection, None).unwrap();
        let printed = row.number("S_iso13855_2010_mm");
        assert!((units::to_mm(iso.distance) - printed).abs() < 1e-9, "{row}: {iso:?}");
        assert_eq!(name(iso.branch), row.text("branch"), "{row}");
        let us = ansi(time, detection).unwrap();
        assert!((units::to_mm(us.distance) - row.number("Ds_ansi_mm")).abs() < 1e-4, "{row}: {us:?}");
        assert!((units::mm_to_inch(units::to_mm(us.intrusion)) - row.number("Dpf_in")).abs() < 1e-8, "{row}");
        let press = units::mm_to_inch(units::to_mm(osha(time)));
        assert!((press - row.number("Ds_osha1910_217_in")).abs() < 1e-9, "{row}: {press}");
    }
}

fn detection(row: &Row) -> Detection {
    match row.text("detection") {
        "beams" => Detection::Beams(row.number("value") as u32),
        _ => Detection::Resolution(units::mm(row.number("value"))),
    }
}

#[test]
fn single_printed_distances_come_out() {
    for row in rows("published/separation.csv") {
        let time = row.number("T_s");
        let height = || units::mm(row.number("H_mm"));
        let resolution = || units::mm(row.number("value"));
        let metres = match row.text("rule") {
            "iso_right_angle" => iso_2010(time, detection(&row), None).unwrap().distance,
            "iso_parallel" => iso_2010_parallel(time, height(), resolution()).unwrap().distance,
            "iso_2024_parallel" => iso_2024_parallel(time, height(), resolution(), 0.0).unwrap().distance,
            "ansi_dpf" => ansi(time, detection(&row)).unwrap().intrusion,
            // Its share by the time alone.
            "ansi_speed" => {
                let all = ansi(time, Detection::Resolution(units::mm(14.0))).unwrap();
                all.distance - all.intrusion
            }
            "osha" => osha(time),
            other => panic!("{row}: {other}"),
        };
        let millimetres = units::to_mm(metres);
        let found = if row.text("unit") == "in" { units::mm_to_inch(millimetres) } else { millimetres };
        assert!((found - row.number("expected")).abs() <= row.number("tolerance"), "{row}: {found}");
    }
}

/// Pages that print something else are known to be wrong; what they print must not come out here.
#[test]
fn distances_that_are_printed_wrongly_do_not_come_out() {
    let millimetres = |time: f64, d: f64| {
        let detection = Detection::Resolution(units::mm(d));
        units::to_mm(iso_2010(time, detection, None).unwrap().distance)
    };
    // Allen-Bradley safety catalog, Examples: 480 mm, without the least distance of 500 mm.
    assert!((millimetres(0.30, 14.0) - 480.0).abs() > 19.0);
    // itotconvergentie.nl: C = 8 mm for a resolution of 30 mm; right is 128 mm. And K 1600 for hands, 2000 for walking.
    let intrusion = iso_2010(0.1, Detection::Resolution(units::mm(30.0)), None).unwrap().intrusion;
    assert!((units::to_mm(intrusion) - 128.0).abs() < 1e-9);
    assert!((millimetres(0.1, 14.0) - 200.0).abs() < 1e-9, "hands: 2000 mm/s");
    assert!((millimetres(0.5, 14.0) - 800.0).abs() < 1e-9, "walking: 1600 mm/s");
    // mfgcalcs.com multiplies T by C: 46 080 mm for K 1000, T 0.3, C 128. The sum is of the order of half a metre.
    assert!(millimetres(0.3, 30.0) < 1000.0);
}

#[test]
fn what_no_rule_covers_has_no_distance() {
    let resolution = |d: f64| Detection::Resolution(units::mm(d));
    assert_eq!(iso_2010(0.3, resolution(71.0), None), Err(NotCovered::TooCoarse));
    assert_eq!(ansi(0.3, resolution(63.5)), Err(NotCovered::CoarserThanTwoAndAHalfInches));
    // 15 (d - 50): 300 mm for 70 mm (SICK deTem2 manual p. 17).
    assert_eq!(iso_2010_parallel(0.3, 0.299, units::mm(70.0)), Err(NotCovered::TooLow));
    assert_eq!(iso_2010_parallel(0.3, 1.001, units::mm(70.0)), Err(NotCovered::TooHigh));
    assert_eq!(iso_2010(0.3, Detection::Contact, None), Err(NotCovered::NoValues));
}

/// S is continuous in T but for the step down where walking takes over, never below either least distance, and reaching over
/// counts where it is more.
#[test]
fn reaching_over_counts_where_it_is_more() {
    let detection = Detection::Resolution(units::mm(30.0));
    let over = iso_2010(0.4, detection, Some(units::mm(850.0))).unwrap();
    assert!((units::to_mm(over.distance) - (640.0 + 850.0)).abs() < 1e-9, "{over:?}");
    let less = iso_2010(0.4, detection, Some(units::mm(100.0))).unwrap();
    assert!((units::to_mm(less.distance) - 768.0).abs() < 1e-9, "{less:?}");
}
