//! What is said of shifts, demand, money and the settings of a procedure.

use super::*;
use crate::cell::{ArcProcess, Break, Clock, Curtain, FilletSize, Law, Start, Stoppage, Stopped};

fn cell(rest: &str) -> Result<Cell, String> {
    let plate = plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]);
    let rib = plate_and_rib();
    read(&format!("{HEAD}{plate}{rib}{rest}"), &[]).map_err(|problems| listed(&problems))
}

fn plate_and_rib() -> String {
    let rib = plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]);
    format!("{rib}{}", seam("fillet", "points_mm = [[-100, 4, 0], [100, 4, 0]]"))
}

const SHIFT: &str = "
[shift]
hours = 8
break_min = 10
availability_percent = 90
replications = 500
begins = \"loaded\"
scrap_percent = 2

[[shift.break]]
after_min = 240
duration_min = 30
arm_works_on = true

[[shift.break]]
after_min = 120
duration_min = 15

[[shift.stoppage]]
name = \"no arc\"
clock = \"arc\"
between_min = 60
repair_min = 4

[[shift.stoppage]]
name = \"no parts\"
stops = \"people\"
between_min = 120
repair_min = 5
regular = true

[shift.curtain]
trip_percent = 1
clear_s = 20
";

#[test]
fn a_shift_with_everything_in_it_is_read() {
    let cell = cell(SHIFT).unwrap();
    let shift = cell.shift.unwrap();
    // Breaks at stated times and others count together.
    assert_eq!((shift.length, shift.breaks, shift.availability.value), (28_800.0, 55.0 * 60.0, 0.9));
    let play = cell.shift_play.unwrap();
    assert_eq!((play.shifts, play.start, play.scrap, play.untimed_breaks), (500, Start::Loaded, 0.02, 600.0));
    assert_eq!(
        play.breaks,
        [
            Break { start: 7200.0, duration: 900.0, arm_works_on: false },
            Break { start: 14_400.0, duration: 1800.0, arm_works_on: true }
        ]
    );
    let no_arc = Stoppage {
        name: "no arc".into(),
        stops: Stopped::Arm,
        clock: Clock::Arc,
        between: Law::Exponential(3600.0),
        repair: Law::Exponential(240.0),
    };
    let no_parts = Stoppage {
        name: "no parts".into(),
        stops: Stopped::People,
        clock: Clock::Shift,
        between: Law::UnderWay(7200.0),
        repair: Law::Fixed(300.0),
    };
    assert_eq!(play.stoppages, [no_arc, no_parts]);
    assert_eq!(play.curtain, Some(Curtain { share: 0.01, clear: 20.0 }));
}

#[test]
fn without_the_new_keys_nothing_is_played_wanted_or_priced() {
    let cell = cell("\n[shift]\nhours = 8\n").unwrap();
    assert!(
        cell.shift.is_some() && cell.shift_play.is_none() && cell.demand.is_none() && cell.money.is_none()
    );
}

#[test]
fn what_would_be_ignored_or_cannot_be_is_a_problem() {
    for (rest, said) in [
        (SHIFT.replace("replications = 500\n", ""), "this counts only where a shift is played through"),
        (SHIFT.replace("after_min = 240", "after_min = 130"), "this break and one before it overlap"),
        (SHIFT.replace("after_min = 240", "after_min = 470"), "this break ends after the shift"),
        (
            SHIFT.replace("stops = \"people\"", "stops = \"people\"\nclock = \"arc\""),
            "says nothing about what stops people",
        ),
        (SHIFT.replace("\"no parts\"", "\"no arc\""), "another stoppage has this name already"),
        (SHIFT.replace("break_min = 10", "break_min = 460"), "the breaks are as long as the shift"),
        (SHIFT.replace("between_min = 60", "between_min = 0"), "0 is out of bounds"),
        (SHIFT.replace("clear_s", "claer_s"), "is it `clear_s`?"),
        ("\n[demand]\nyearly_quantity = 10\ndays_per_year = 220\n".into(), "there is no [shift]"),
        ("\n[money]\ncurrency = \"EUR\"\n".into(), "there is no [shift]"),
        (
            format!("{SHIFT}\n[demand]\nyearly_quantity = 10\nshifts_per_day = 3.1\ndays_per_year = 220\n"),
            "3.1 shifts of 8 h are longer than a day",
        ),
        (format!("{SHIFT}\n[money]\ncurrency = \"EUR\"\nwire_per_kg = [3, 2, 4]\n"), "these do not rise"),
        (
            format!("{SHIFT}\n[money]\ncurrency = \"EUR\"\ncommissioning_h = 8\n"),
            "nothing says what this time costs",
        ),
        (format!("{SHIFT}\n[money]\nwire_per_kg = 3\n"), "`money.currency`: this key is missing"),
        (
            format!("{SHIFT}\n[money]\ncurrency = \"EUR\"\n[money.by_hand]\nhandling_s = 3\n"),
            "arc_share_percent`: this key is missing",
        ),
    ] {
        let problems = cell(&rest).map(|_| ()).unwrap_err();
        assert!(problems.contains(said), "{rest}\n{problems}");
    }
}

#[test]
fn a_guess_is_one_number_or_three() {
    let text = format!(
        "{SHIFT}\n[demand]\nyearly_quantity = 1000\nshifts_per_day = 2\ndays_per_year = 220\n\n[money]\ncurrency = \"EUR\"\n\
         labour_per_h = [36, 72, 108]\npower_per_kwh = 0.36\n"
    );
    let cell = cell(&text).unwrap();
    assert_eq!(cell.demand.unwrap().yearly_shifts, 440.0);
    let money = cell.money.unwrap();
    assert_eq!(money.labour.unwrap().0, [0.01, 0.02, 0.03]);
    assert_eq!(money.energy.unwrap().0, [1e-7; 3]);
    assert!(money.wire.is_none() && money.by_hand.is_none());
}

#[test]
fn settings_may_name_process_gas_and_size() {
    let written = "voltage_v = 27\ncurrent_a = 250\nwire_diameter_mm = 1.2\nwire_feed_m_min = 8.5\n";
    let with = |more: &str| {
        let text =
            format!("{HEAD}{}{}", plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]), plate_and_rib());
        read(&text.replace("work_deg = 45", &format!("work_deg = 45\n{written}{more}")), &[])
            .map(|cell| cell.seams[0].procedure.settings.unwrap())
            .map_err(|problems| listed(&problems))
    };
    let settings = with("process = 141\ngas_l_min = 12\nthroat_mm = 4\n").unwrap();
    assert_eq!(settings.process, ArcProcess::Tig);
    assert_eq!(settings.gas_flow, Some(12.0 / 60_000.0));
    assert_eq!(settings.size, Some(FilletSize::Throat(0.004)));
    assert_eq!(with("").unwrap().process, ArcProcess::Mag);
    for (more, said) in [
        ("leg_mm = 5\nthroat_mm = 4\n", "the weld has both a leg and a throat"),
        ("process = 137\n", "write one of 111, 121, 131, 135, 136, 138, 141"),
    ] {
        let problems = with(more).map(|_| ()).unwrap_err();
        assert!(problems.contains(said), "{problems}");
    }
}
