//! What a regular stop adds to the mean cycle: nothing as long as the arm would have waited for the person anyway. The arm's times R are
//! the schedule's; nothing varies.

use seamwright_sim::plan::{Options, plan};
use seamwright_sim::production::{Cycle, cycle};
use seamwright_sim::schedule::schedule;
use seamwright_tests::bench::{LEFT, Question};

fn cycle_of(station: &str, besides: &str) -> Cycle {
    let cell = Question { seam: LEFT, station, besides, ..Question::default() }.cell();
    let schedule = schedule(&cell, &plan(&cell, &Options::default()));
    cycle(&cell, &schedule).unwrap()
}

fn stop(duration: f64, every_loads: u32) -> String {
    format!("[[service]]\nname = \"cleaning\"\nduration_s = {duration}\nevery_loads = {every_loads}\n")
}

fn near(ours: f64, expected: f64, what: &str) {
    assert!((ours - expected).abs() < 1e-6, "{what}: {ours}, not {expected}");
}

/// The person takes 20 + 7 = 27 s and goes on while the arm is at its stop of S: a load takes R + max(S, 27).
#[test]
fn one_fixture_waits_for_the_longer_of_person_and_stop() {
    let station = "at_mm = [900, 0, 600]\nspread_s = 0\nacknowledge_s = 7";
    for (duration, every, wait) in
        [(20.0, 1, 27.0), (40.0, 1, 40.0), (40.0, 3, (27.0 + 27.0 + 40.0) / 3.0), (20.0, 7, 27.0)]
    {
        let cycle = cycle_of(station, &stop(duration, every));
        near(cycle.long_run, cycle.stations[0].arm + wait, &format!("{duration} s every {every}"));
        let costs = (duration - 27.0_f64).max(0.0);
        near(cycle.services[0].costs, costs, "what a stop costs");
    }
}

/// Load times that vary by σ: of a stop as long as the mean load, E[max(S, L)] = S + σ/√(2π).
#[test]
fn a_load_that_varies_outlasts_a_stop_as_long_in_the_mean_by_its_share() {
    let station = "at_mm = [900, 0, 600]\nspread_s = 3\nacknowledge_s = 7";
    let cycle = cycle_of(station, &stop(27.0, 1));
    let wait = 27.0 + 3.0 / std::f64::consts::TAU.sqrt();
    near(cycle.long_run, cycle.stations[0].arm + wait, "mean cycle");
}

/// Two fixtures, a person each who takes L. After each of its loads the arm stops for S, so that its own round takes R₁ + R₂ + 2 S; a
/// fixture is welded and loaded in R + L. The longer of these is the period.
#[test]
fn two_people_load_while_the_arm_stops() {
    let stations = |load: f64| {
        let other = format!(
            "[[station]]\nname = \"there\"\nfixture = \"jig\"\nload_s = {load}\nspread_s = 0\n\
             acknowledge_s = 0\nat_mm = [100, 900, 600]\nrotation_zyx_deg = [90, 0, 0]\nperson = 2\n"
        );
        cycle_of("at_mm = [900, 0, 600]\nspread_s = 0\nacknowledge_s = 480", &(other + &stop(40.0, 1)))
    };
    // The first takes 20 + 480 = 500 s, which hides both stops.
    let hidden = stations(500.0);
    let [one, other] = [&hidden.stations[0], &hidden.stations[1]].map(|station| station.arm);
    assert!(hidden.coverage.is_complete() && one + other + 80.0 < 500.0, "{one} {other}");
    near(hidden.long_run, 500.0 + one.max(other), "hidden");
    assert!(hidden.services[0].costs < 1e-6);
}

/// Two fixtures, one person who takes L₁ and L₂, a stop of S after each load. The person goes to a fixture when the arm has left it, stop or
/// not, so that nothing but a weld and a load is ever after one another there: with R small against all else the arm's round is
/// R₁ + R₂ + 2 S, the person's L₁ + L₂, each fixture's R + L, and the longest sets the pace. Loads of 20 and 500 s: R₂ + 500 and the
/// person's 520; the arm's stops lie beside that.
#[test]
fn one_person_goes_on_while_the_arm_stops() {
    let other = format!(
        "[[station]]\nname = \"there\"\nfixture = \"jig\"\nload_s = 500\nspread_s = 0\nacknowledge_s = 0\n\
         at_mm = [100, 900, 600]\nrotation_zyx_deg = [90, 0, 0]\n{}",
        stop(40.0, 1)
    );
    let cycle = cycle_of("at_mm = [900, 0, 600]\nspread_s = 0\nacknowledge_s = 0", &other);
    let longest = cycle.stations[0].arm;
    assert!(longest > 20.0 && longest < 60.0, "{longest}");
    near(cycle.long_run, longest.max(20.0) + 500.0, "mean cycle");
    assert!(cycle.services[0].costs < 1e-6, "{}", cycle.services[0].costs);
}

/// The same with people who are quick: 20 s each, so that all that the arm does counts.
#[test]
fn stops_count_in_whole_where_the_arm_sets_the_pace() {
    let other = "[[station]]\nname = \"there\"\nfixture = \"jig\"\nload_s = 20\nspread_s = 0\n\
                 acknowledge_s = 0\nat_mm = [100, 900, 600]\nrotation_zyx_deg = [90, 0, 0]\nperson = 2\n";
    let cycle = cycle_of(
        "at_mm = [900, 0, 600]\nspread_s = 0\nacknowledge_s = 0",
        &(other.to_owned() + &stop(40.0, 2)),
    );
    let arm: f64 = cycle.stations.iter().map(|station| station.arm).sum();
    near(cycle.long_run, arm + 40.0, "mean cycle");
    near(cycle.services[0].costs, 40.0, "what a stop costs");
}
