//! What the schedule says of one instant: rates are the derivatives of where the axes stand, accelerations those of the rates,
//! and every instant stands where path.csv says.
//!
//! Central differences over 2 µs.

use std::path::Path;

use seamwright_sim::cell::read::read_cell;
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::production::{Activity, ArmDay, Who, round_time, timeline};
use seamwright_sim::schedule::Stance;

fn checked(scene: &str) -> Checked {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes").join(scene);
    check(&read_cell(&file).unwrap(), &Options { seed: 1, watch: &() })
}

/// All axes in one row.
fn all(stance: &Stance) -> Vec<f64> {
    stance.axes.iter().chain(&stance.external).copied().collect()
}

#[test]
fn rates_and_accelerations_of_an_instant_are_derivatives() {
    for scene in ["gate-bracket/cell.toml", "round-flange/cell.toml"] {
        let schedule = checked(scene).schedule;
        let round = *schedule.round().last().unwrap();
        let (h, mut moving) = (1e-6, 0);
        for step in 0..5000 {
            let t = (f64::from(step) + 0.5) / 5000.0 * round;
            let [before, now, after] = [t - h, t, t + h].map(|t| schedule.at(t).unwrap());
            if before.since > now.since || after.since < now.since {
                continue;
            }
            let [before, now_motion, after] = [before, now.clone(), after].map(|m| m.motion.unwrap());
            let derivative = |before: &Stance, after: &Stance| -> Vec<f64> {
                all(before).iter().zip(all(after)).map(|(a, b)| (b - a) / (2.0 * h)).collect()
            };
            let close = |one: &[f64], other: &[f64], what: &str, within: f64| {
                for (one, other) in one.iter().zip(other) {
                    let worst = within * (1.0 + other.abs());
                    assert!(
                        (one - other).abs() < worst,
                        "{scene} at {t} s ({:?}), {what}: {one}, {other}",
                        now.phase
                    );
                }
            };
            close(&derivative(&before.stance, &after.stance), &all(&now_motion.rates), "rates", 1e-6);
            let of_rates = derivative(&before.rates, &after.rates);
            close(&of_rates, &all(&now_motion.accelerations), "accelerations", 1e-4);
            moving += u32::from(all(&now_motion.rates).iter().any(|rate| *rate != 0.0));
        }
        assert!(moving > 2500, "{scene}: only {moving} of 5000 instants had anything move");
    }
}

#[test]
fn an_instant_stands_where_the_rows_of_path_csv_say() {
    let checked = checked("gate-bracket/cell.toml");
    for row in &checked.path {
        let moment = checked.schedule.at(row.t + 1e-9).unwrap();
        let stance = moment.motion.unwrap().stance;
        assert!((stance.axes - row.axes).amax() < 1e-7, "at {} s: {stance:?} {:?}", row.t, row.axes);
        assert_eq!(stance.external.len(), row.external.len());
        for (one, other) in stance.external.iter().zip(&row.external) {
            assert!((one - other).abs() < 1e-7, "at {} s", row.t);
        }
    }
}

/// A cycle is a round with waits in it: at both ends of the waits the round stands still, so that its time never runs back and
/// all of it is passed.
#[test]
fn the_round_passes_once_in_a_cycle() {
    let checked = checked("gate-bracket/cell.toml");
    let cycle = checked.cycle.unwrap();
    let round = *checked.schedule.round().last().unwrap();
    let times: Vec<f64> = (0..=10_000)
        .map(|step| round_time(&checked.schedule, &cycle, f64::from(step) / 10_000.0 * cycle.period))
        .collect();
    assert_eq!(times[0], 0.0);
    assert!((times[10_000] - round).abs() < 1e-9, "{} of {round}", times[10_000]);
    let most = cycle.period / 10_000.0 + 1e-9;
    for pair in times.windows(2) {
        assert!((0.0..=most).contains(&(pair[1] - pair[0])), "{pair:?}");
    }
    let stood = times.windows(2).filter(|pair| pair[0] == pair[1]).count() as f64 / 10_000.0 * cycle.period;
    assert!((stood - cycle.arm_waits).abs() < 0.01 * cycle.period, "{stood} of {}", cycle.arm_waits);
}

/// With people who take longer than the arm, `cycle_s` of `path.csv` is the instant of the cycle at which the row's place of the round comes:
/// the round's own time of that instant is the row's, and the last row lies as much later as the arm has waited.
#[test]
fn every_row_of_path_csv_has_its_instant_of_the_cycle() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
    let mut cell = read_cell(&file).unwrap();
    cell.stations.iter_mut().for_each(|station| station.loading.load = 400.0);
    let Checked { path, schedule, cycle, .. } = check(&cell, &Options { seed: 1, watch: &() });
    let cycle = cycle.unwrap();
    assert!(cycle.arm_waits > 400.0, "the arm waits: {}", cycle.arm_waits);
    let day = ArmDay::new(&cell, &schedule, Some(&cycle));
    let mut before = 0.0;
    for row in &path {
        let in_cycle = day.from_round(&schedule, row.t);
        assert!((round_time(&schedule, &cycle, in_cycle) - row.t).abs() < 1e-6, "{row:?} {in_cycle}");
        assert!(in_cycle >= before && in_cycle >= row.t - 1e-9, "{in_cycle} after {before}");
        before = in_cycle;
    }
    let last = path.last().unwrap().t;
    assert!((before - last - cycle.arm_waits).abs() < 1e-6, "{before} {last} {}", cycle.arm_waits);
}

/// Two people, one for each side: every row of a person says which, each is at the own station alone, and does one thing at a time.
#[test]
fn each_person_does_one_thing_at_a_time() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
    let mut cell = read_cell(&file).unwrap();
    cell.stations[1].person = 1;
    let Checked { schedule, cycle, .. } = check(&cell, &Options { seed: 1, watch: &() });
    let cycle = cycle.unwrap();
    let rows = timeline(&cell, &schedule, &cycle);
    assert!(rows.iter().all(|row| row.person.is_some() == (row.who == Who::Person)));
    for person in [0, 1] {
        let own: Vec<_> = rows.iter().filter(|row| row.person == Some(person)).collect();
        let loads = own.iter().filter(|row| matches!(row.activity, Activity::Step(_)));
        assert!(loads.clone().count() > 0 && loads.into_iter().all(|row| row.station.0 == person), "{own:?}");
        let busy: f64 = own.iter().map(|row| row.duration).sum();
        assert!(busy <= cycle.period + 1e-6, "person {person}: {busy} s of {}", cycle.period);
        for pair in own.windows(2) {
            assert!(pair[0].start + pair[0].duration <= pair[1].start + 1e-6, "{pair:?}");
        }
    }
}
