//! Cells whose seams are given by length, so that every time is known on paper: fixtures on positioners, loads that vary, what must cool,
//! and what is said where there is no figure.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::{CycleFindings, OutlookFindings};
use seamwright_sim::production::{Activity, PersonStep, Who, timeline};
use seamwright_sim::schedule::EventKind;
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

/// A weld of x mm takes 2 s of air (the rule of thumb), 0.3 + 0.4 + 0.5 + 0.6 s of gas, start and crater, and x/8 s: x/8 + 3.8 s.
const HEAD: &str = "format = 1\nname = \"by length\"\n[arm]\nfile = \"arm.toml\"\nhome_deg = [0, -40, 40, 0, 60, 0]\n[torch]\nfile = \
                    \"torch.toml\"\n[[procedure]]\nname = \"usual\"\nwork_deg = 45\ntravel_deg = 0\nctwd_mm = 15\ntravel_speed_mm_s = 8\n\
                    gas_before_s = 0.3\narc_start_s = 0.4\ncrater_s = 0.5\ngas_after_s = 0.6\n";

fn cell(rest: &[String]) -> Cell {
    let text = HEAD.to_owned() + &rest.concat();
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", ARM), ("torch.toml", TORCH)];
    read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 1, watch: &() })
}

fn cycle(checked: &Checked) -> &CycleFindings {
    checked.findings.cycle.as_ref().unwrap()
}

fn outlook(checked: &Checked) -> &OutlookFindings {
    checked.findings.outlook.as_ref().unwrap()
}

fn fixture(name: &str, length_mm: u32) -> String {
    format!(
        "[[fixture]]\nname = \"{name}\"\n[[seam]]\nfixture = \"{name}\"\nname = \"weld {name}\"\nprocedure = \"usual\"\njoint = \"fillet\"\n\
         length_mm = {length_mm}\n"
    )
}

fn positioner(name: &str, x_mm: i32) -> String {
    format!(
        "[[axis]]\nname = \"{name}\"\nkind = \"turn\"\nat_mm = [{x_mm}, 0, 700]\nmin_deg = -10\nmax_deg = 190\nmax_speed_deg_s = 90\n\
         max_acceleration_deg_s2 = 90\nindex_s = 4\n"
    )
}

/// A station of the fixture with its name; stepping back takes 2 s.
fn station(name: &str, load_s: f64, keys: &str) -> String {
    format!(
        "[[station]]\nname = \"{name}\"\nfixture = \"{name}\"\nat_mm = [600, 0, 600]\nload_s = {load_s}\nacknowledge_s = 2\n{keys}\n"
    )
}

/// S and T on a positioner each, welded at 90 degrees, at 0 while the other is: R = 53.8 and 23.8, L = 30 and 70. As at a table with two
/// sides: max(53.8, 70) + 4 + max(23.8, 30) + 4 = 108 s, and nobody loads what moves.
#[test]
fn nobody_loads_a_fixture_while_its_positioner_turns() {
    for person in [1, 2] {
        let cell = cell(&[
            fixture("S", 400),
            fixture("T", 160),
            positioner("t", 1250),
            positioner("u", -1250),
            station("S", 28.0, "on = \"t\"\naxes_deg = { t = 90 }\nspread_s = 0"),
            station(
                "T",
                68.0,
                &format!("on = \"u\"\naxes_deg = {{ u = 90 }}\nspread_s = 0\nperson = {person}"),
            ),
        ]);
        let checked = checked(&cell);
        let found = cycle(&checked);
        assert!((found.plain_s - 108.0).abs() < 1e-6 && (found.long_run_s - 108.0).abs() < 1e-6, "{found:?}");
        let arm: f64 = found.stations.iter().map(|station| station.arm_s).sum();
        assert!((arm + found.arm_waits_s + found.arm_stands_s - 108.0).abs() < 1e-5, "{found:?}");
        let people = f64::from(person);
        assert!(
            (100.0 + found.person_waits_s + found.person_stands_s - people * 108.0).abs() < 1e-5,
            "{found:?}"
        );
        assert_eq!(found.arm_stands_s, 8.0);
        let said = found.layout_sentence();
        assert!(said.starts_with("2 fixtures (S moved by `t`, T moved by `u`)"), "{said}");
        let rows = timeline(&cell, &checked.schedule, checked.cycle.as_ref().unwrap());
        let turns = rows.iter().filter(|row| row.activity == Activity::Event(EventKind::Index));
        let turns: Vec<f64> = turns.map(|row| row.start).collect();
        assert_eq!(turns.len(), 2);
        let handles =
            rows.iter().filter(|row| row.who == Who::Person && matches!(row.activity, Activity::Step(_)));
        for row in handles {
            for turn in turns.iter().flat_map(|turn| [turn - 108.0, *turn, turn + 108.0]) {
                let apart = row.start >= turn + 4.0 - 1e-6 || row.start + row.duration <= turn + 1e-6;
                assert!(apart, "{row:?}, turn at {turn}");
            }
        }
    }
}

/// S on a positioner, T on the floor: S is welded, turned back, loaded, turned: 53.8 + 4 + 30 + 4 = 91.8 s.
#[test]
fn a_fixture_on_a_positioner_beside_one_on_the_floor_sets_the_pace_with_its_turns() {
    let cell = cell(&[
        fixture("S", 400),
        fixture("T", 160),
        positioner("t", 1250),
        station("S", 28.0, "on = \"t\"\naxes_deg = { t = 180 }\nspread_s = 0"),
        station("T", 38.0, "spread_s = 0"),
    ]);
    let checked = checked(&cell);
    let found = cycle(&checked);
    assert!((found.plain_s - 91.8).abs() < 1e-6, "{found:?}");
    let said = found.wait_sentence();
    assert!(said.contains("station S sets the pace: it is always being welded, loaded or moved"), "{said}");
}

/// Parts cool from when the arm has left them. Three fixtures of one person, R = 23.8, L = 10, K = 20 s: the arm's own 3 · 23.8 = 71.4 s set
/// the pace, more than the person's 30 s and than R + K + L = 53.8 s. With K = 50 s each station's 83.8 s do. The next part lies there
/// before the person has loaded one, so all that is left of their time they see parts cool: 71.4 − 30 and 83.8 − 30 s. One fixture by
/// itself is welded, cools and is loaded: 53.8 s, of which the person sees it cool for 20 s.
#[test]
fn parts_cool_from_when_the_arm_has_left_them() {
    let all = ["S", "T", "U"];
    for (names, cool, expected, watches) in
        [(&all[..], 20.0, 71.4, 41.4), (&all[..], 50.0, 83.8, 53.8), (&all[..1], 20.0, 53.8, 20.0)]
    {
        let keys = format!("spread_s = 0\ncool_s = {cool}");
        let text: Vec<String> = names
            .iter()
            .map(|name| fixture(name, 160))
            .chain(names.iter().map(|name| station(name, 8.0, &keys)))
            .collect();
        let cell = cell(&text);
        let checked = checked(&cell);
        let found = cycle(&checked);
        assert!((found.plain_s - expected).abs() < 1e-6, "{}, not {expected}", found.plain_s);
        assert!((found.long_run_s - expected).abs() < 1e-6, "{}, not {expected}", found.long_run_s);
        assert!(found.stations.iter().all(|station| (station.person_s - 10.0).abs() < 1e-9), "{found:?}");
        let rows = timeline(&cell, &checked.schedule, checked.cycle.as_ref().unwrap());
        let cools = rows.iter().filter(|row| row.activity == Activity::Step(PersonStep::Cool));
        let watched: f64 = cools.map(|row| row.duration).sum();
        assert!((watched - watches).abs() < 1e-6, "{watched} s, not {watches}");
        for row in rows.iter().filter(|row| row.activity == Activity::Step(PersonStep::Load)) {
            let left = rows.iter().filter(|other| other.who == Who::Arm && other.station == row.station);
            let left = left.filter(|other| other.activity != Activity::Wait);
            let left = left.map(|other| other.start + other.duration).fold(0.0, f64::max);
            let since = (row.start - left).rem_euclid(expected);
            assert!(since >= cool - 1e-6 || since < 1e-6 - expected, "{row:?}, left at {left}");
        }
    }
}

/// Fixtures of one person, welded for 53.8, 53.8 and 23.8 s, T loaded for 200 s: however short loading S is, the arm waits for T, whose own
/// 255.8 s set the pace. Loading S up to what leaves the person's time within them, 255.8 − 202 − 12 s, costs nothing. Nobody is waited for
/// where all take 10 s.
#[test]
fn a_load_that_is_not_waited_for_is_told_apart_from_an_arm_that_waits_for_none() {
    let text = |load_t: f64| {
        [
            fixture("S", 400),
            fixture("T", 400),
            fixture("U", 160),
            station("S", 10.0, "spread_s = 0"),
            station("T", load_t, "spread_s = 0"),
            station("U", 10.0, "spread_s = 0"),
        ]
    };
    let waiting = checked(&cell(&text(200.0)));
    let [s, t, _] = &cycle(&waiting).stations[..] else { panic!("three stations") };
    assert!((s.person_balanced_s.unwrap() - (255.8 - 202.0 - 12.0)).abs() < 1e-6, "{s:?}");
    assert!(s.waits_for_others && s.balance_sentence().contains("but the arm waits for others"), "{s:?}");
    assert!(!t.waits_for_others && t.balance_sentence().contains("the arm does not wait up to"), "{t:?}");
    let none = checked(&cell(&text(10.0)));
    assert!(cycle(&none).stations.iter().all(|station| !station.waits_for_others));
}

/// What is asked and changes nothing is told: external axes that go on from station to station do so while the arm stands at home.
#[test]
fn going_together_from_station_to_station_is_told_not_to_be_so() {
    let text = |wish: &str| {
        let head = HEAD.replace("home_deg", &format!("{wish}home_deg"));
        let rest = [
            fixture("S", 400),
            fixture("T", 160),
            positioner("t", 1250),
            station("S", 28.0, "on = \"t\"\naxes_deg = { t = 90 }"),
            station("T", 38.0, ""),
        ];
        let text = head + &rest.concat();
        let files: [(&str, &[u8]); 3] =
            [("cell.toml", text.as_bytes()), ("arm.toml", ARM), ("torch.toml", TORCH)];
        let cell = read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap();
        checked(&cell).findings.assumed
    };
    let said = |assumed: &[String]| {
        assumed.iter().any(|line| line.contains("`air_with_external` holds from seam to seam"))
    };
    assert!(said(&text("air_with_external = true\n")));
    assert!(!said(&text("")));
}

/// Hands that take 10 s with a deviation of 30 s, and no less than none: E max(0, N) = 10·Φ(1/3) + 30·φ(1/3) = 17.63 s.
#[test]
fn hands_that_vary_widely_take_no_less_than_no_time() {
    let cell = cell(&[fixture("S", 400), station("S", 10.0, "spread_s = 30")]);
    let normal = Normal::new(0.0, 1.0).unwrap();
    let expected = 53.8 + 2.0 + 10.0 * normal.cdf(1.0 / 3.0) + 30.0 * normal.pdf(1.0 / 3.0);
    let checked = checked(&cell);
    assert!(
        (cycle(&checked).long_run_s - expected).abs() < 1e-5,
        "{} {expected}",
        cycle(&checked).long_run_s
    );
}

/// A load of no time and one of next to none are varied alike: a tenth of what they would become.
#[test]
fn a_load_of_no_time_is_varied_like_any_other() {
    let small_wait = |load: f64| {
        let cell =
            cell(&[fixture("S", 400), fixture("T", 160), station("S", load, ""), station("T", load, "")]);
        let checked = checked(&cell);
        cycle(&checked).stations[0].person_small_wait_s.unwrap()
    };
    let (none, little) = (small_wait(0.0), small_wait(0.001));
    assert!((none - little).abs() < 1e-3 && none < 23.5, "{none} {little}");
}

/// A stream of even numbers from 0 to 1 (Knuth's MMIX generator, from memory), and normal ones of it by Box and Muller.
struct Luck(u64);

impl Luck {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        // 53 bits are exact.
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// The mean round (s) of welds of 53.8 s at fixtures that each have a mean and a deviation of loading and a person, 2 s of stepping back
/// besides: a weld begins when the arm is free and the fixture loaded, and loading when it is welded and the person free. Over 2,000,000 rounds.
fn mean_round(fixtures: &[(f64, f64, usize)]) -> f64 {
    let (mut luck, mut arm, mut people) = (Luck(7), 0.0_f64, [0.0_f64; 3]);
    let mut loaded = vec![0.0_f64; fixtures.len()];
    let rounds = 2_000_000;
    for _ in 0..rounds {
        for (loaded, (mean, spread, person)) in loaded.iter_mut().zip(fixtures) {
            arm = arm.max(*loaded) + 53.8;
            people[*person] = arm.max(people[*person]) + 2.0 + (mean + spread * luck.normal()).max(0.0);
            *loaded = people[*person];
        }
    }
    arm / f64::from(rounds)
}

/// Two fixtures with a person each, and three with one: without scatter 107.8 and 161.4 s, with it what a simulation of its own says. A
/// wait scatters by some 10 s: the mean over the rounds that are played by a thousandth of a round or so.
#[test]
fn the_mean_cycle_of_fixtures_counts_what_scattered_loads_cost() {
    let two = [("S", 52.0, 15.0, 0), ("T", 52.0, 15.0, 1)];
    let three = [("S", 48.0, 15.0, 0), ("T", 50.0, 8.0, 0), ("U", 52.0, 12.0, 0)];
    for (stations, least) in [(&two[..], 114.0), (&three[..], 162.2)] {
        let fixtures = stations.iter().map(|(name, ..)| fixture(name, 400));
        let loads = stations.iter().map(|(name, load, spread, person)| {
            station(name, *load, &format!("spread_s = {spread}\nperson = {}", person + 1))
        });
        let text: Vec<String> = fixtures.chain(loads).collect();
        let drawn: Vec<_> =
            stations.iter().map(|(_, load, spread, person)| (*load, *spread, *person)).collect();
        let expected = mean_round(&drawn);
        let checked = checked(&cell(&text));
        let found = cycle(&checked);
        assert!(found.plain_s < least && expected > least, "{} {expected}", found.plain_s);
        assert!((found.long_run_s - expected).abs() < 1.5e-3 * expected, "{} {expected}", found.long_run_s);
        assert!(found.counts_spread);
    }
}

const SHIFT: &str = "[shift]\nhours = 8\nreplications = 20\n";
const MONEY: &str = "[money]\ncurrency = \"EUR\"\nlabour_per_h = 40\n";

/// A weld of 92 m takes 3.2 h, and with half an hour to load a part 3.7 h: one in a shift of 4 h, and none where times are 15 % longer.
#[test]
fn a_shift_that_may_finish_nothing_has_no_cost_and_says_why() {
    let cell = cell(&[
        fixture("S", 92_000),
        station("S", 1800.0, "spread_s = 0"),
        SHIFT.replace("hours = 8", "hours = 4"),
        MONEY.to_owned(),
    ]);
    let checked = checked(&cell);
    let seen = outlook(&checked);
    assert!(seen.money.is_none());
    let said = seen.money_missing.as_ref().unwrap();
    assert!(said.starts_with("no cost is worked out: a shift makes 1.0 good parts as expected"), "{said}");
    assert!(said.contains("0.0 at the long one"), "{said}");
}

#[test]
fn seams_that_have_to_be_taught_but_are_not_planned_are_named_beside_the_cost() {
    let once = "investment = 100000\nengineer_per_h = 90\nteach_min_per_point = 2\n";
    let text =
        [fixture("S", 400), station("S", 20.0, ""), SHIFT.to_owned(), MONEY.to_owned(), once.to_owned()];
    let checked = checked(&cell(&text));
    let money = outlook(&checked).money.as_ref().unwrap();
    assert!(
        money.left_out.iter().any(|left| left.starts_with("teaching of 1 seams")),
        "{:?}",
        money.left_out
    );
}

/// A second pass waits until 60 s after the first: the air move of 2 s between lies before the wait, which would be as much longer without it.
/// So axes at their limits save the air move before the first pass alone.
#[test]
fn least_possible_counts_that_what_must_cool_waits_longer() {
    let passes = "[[procedure.pass]]\n[[procedure.pass]]\ninterpass_s = 60\n";
    let checked = checked(&cell(&[passes.to_owned(), fixture("S", 80), station("S", 20.0, "")]));
    let one = &cycle(&checked).stations[0];
    assert!((one.cooling_s - 58.0).abs() < 1.0, "{one:?}");
    assert!((one.arm_s - one.least_possible_s - 2.0).abs() < 1e-6, "{one:?}");
}
