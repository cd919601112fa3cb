//! The estimate against sums done on paper.

use super::*;
use crate::cell::{Carried, CarriedBy, Given, Joint, RoughClamp, RoughSeam, RoughSize};
use crate::units::{hours, minutes};

/// Two seams of 300 mm at a speed that is known, one thing of 10 kg from 2 m away, three toggles.
fn job() -> RoughJob {
    RoughJob {
        name: "small".into(),
        seams: vec![RoughSeam {
            name: "ribs".into(),
            count: 2,
            length: 0.3,
            joint: Joint::Fillet,
            size: None,
            speed: Some(0.01),
            welds: 1,
            searches: 0,
        }],
        loaded: vec![Carried {
            name: "plate".into(),
            count: 1,
            mass: Some(10.0),
            by: CarriedBy::Hand,
            walk: 2.0,
        }],
        unloaded: Vec::new(),
        clamps: vec![RoughClamp { name: "toggles".into(), count: 3, by_air: false }],
        given: Given::default(),
    }
}

fn near(range: &Range, [low, expected, high]: [f64; 3]) {
    let off = [range.low - low, range.expected - expected, range.high - high];
    assert!(off.iter().all(|off| off.abs() < 1e-6), "{range:?} is not {low} / {expected} / {high}");
}

/// Arm, expected: 0.6 m / 10 mm/s = 60; two arcs of 1.7 and 2 = 7.4; cleaning 8·60/900 = 0.533333: 67.933333. Low: arc ends −1, moves
/// −2, cleaning 5·60/1800 − 0.533333 = −0.366667, √(1 + 4 + 0.134444) = 2.265931. High: 2.6, 2, 15·60/300 − 0.533333 = 2.466667:
/// √(6.76 + 4 + 6.084444) = 4.104198.
///
/// Person, expected: 4 m · 1.05 = 4.2; 8; three toggles closed and opened 6·2 = 12; 2: 26.2. Low: 0.6, 3, 3, 1: √(0.36 + 9 + 9 + 1) =
/// 4.4; high: 0.6, 7, 3, 2: √(0.36 + 49 + 9 + 4) = 7.896835.
///
/// Cycle: 94.133333; the method misses 15 % of it, 14.12. Low: √(2.265931² + 4.4² + 14.12²) = 14.962247; high
/// √(4.104198² + 7.896835² + 14.12²) = 16.690681.
#[test]
fn every_range_can_be_followed_on_paper() {
    let estimate = estimate(&job());
    near(&estimate.arm, [65.667402, 67.933333, 72.037532]);
    near(&estimate.person, [21.8, 26.2, 34.096835]);
    let [low, high] = [2.265931_f64, 4.104198].map(|arm| arm * arm);
    let low = (low + 4.4 * 4.4 + 14.12 * 14.12_f64).sqrt();
    let high = (high + 62.36 + 14.12 * 14.12_f64).sqrt();
    assert!((estimate.period.expected - 94.133333).abs() < 1e-5);
    assert!((estimate.period.expected - estimate.period.low - low).abs() < 1e-5, "{:?}", estimate.period);
    assert!((estimate.period.high - estimate.period.expected - high).abs() < 1e-5, "{:?}", estimate.period);
    // All at worst at once: (60 + 2·6 + 3 + 4·1.2 + 15 + 15 + 4)·1.15.
    assert!((estimate.all_at_once[1] - 113.8 * 1.15).abs() < 1e-9);
}

#[test]
fn a_cause_that_is_known_widens_nothing() {
    let causes: Vec<Cause> = estimate(&job()).effects.iter().map(|(cause, _)| *cause).collect();
    assert!(!causes.contains(&Cause::TravelSpeed) && !causes.contains(&Cause::Hoisting), "{causes:?}");
    assert_eq!(causes[0], Cause::Method);
}

/// A table with both sides alike: max(arm, person) + index, derived in the reference to the two-station cell.
#[test]
fn at_a_table_the_longer_of_arm_and_person_counts_and_the_turn() {
    let mut job = job();
    job.given.two_sided_table = Some(true);
    let estimate = estimate(&job);
    assert!((estimate.period.expected - (67.933333 + 5.0)).abs() < 1e-5);
    assert_eq!(estimate.bound, Bound::Arm);
    assert!((estimate.person_waits - (67.933333 - 26.2)).abs() < 1e-5 && estimate.arm_waits < 1e-9);
    // The person's times change nothing while the arm is slower by far.
    assert!(estimate.effects.iter().all(|(cause, _)| *cause != Cause::Handling));
}

#[test]
fn two_fixtures_share_the_arm_as_two_stations_of_a_cell_do() {
    let mut job = job();
    job.given.stations = Some(2);
    let two = rhythm(&[67.933333, 67.933333], &[26.2, 26.2], &[0, 0]);
    assert!((estimate(&job).period.expected - two.period / 2.0).abs() < 1e-5);
}

#[test]
fn one_toggle_more_takes_as_long_as_it_is_closed_and_opened() {
    let mut more = job();
    more.clamps[0].count += 1;
    let longer = estimate(&more).period.expected - estimate(&job()).period.expected;
    assert!((longer - 4.0).abs() < 1e-9);
}

/// arcsolinc.com: 8 h less 30 min and two of 15 min, 85 % of it, are 21 420 s: 357 parts of 60 s.
#[test]
fn a_shift_holds_as_many_parts_as_the_printed_example_says() {
    let mut job = job();
    job.given.shift_length = Some(hours(8.0));
    job.given.breaks = Some(minutes(60.0));
    job.given.availability = Some(0.85);
    let estimate = estimate(&job);
    let parts = estimate.parts_per_shift.unwrap();
    assert!((parts.expected * estimate.period.expected / 60.0 - 357.0).abs() < 1e-9);
    assert!(parts.low < parts.expected && parts.expected < parts.high);
}

/// 1600 h a year at 100 %, 61 190 parts of 94.133333 s: a load of 100.0008 %.
#[test]
fn a_demand_that_the_range_straddles_is_open() {
    let mut job = job();
    job.given = Given {
        yearly_quantity: Some(61_190.0),
        days_per_year: Some(200.0),
        shifts_per_day: Some(1.0),
        shift_length: Some(hours(8.0)),
        availability: Some(1.0),
        ..job.given
    };
    let demand = |quantity: f64| {
        let mut job = job.clone();
        job.given.yearly_quantity = Some(quantity);
        estimate(&job).demand.unwrap()
    };
    let open = demand(61_190.0);
    assert!((open.load.expected - 61_190.0 * 94.133_333_333 / 5_760_000.0).abs() < 1e-9);
    assert_eq!((open.fits(), open.cells()), (Fits::Open, [1, 2, 2]));
    assert_eq!(demand(40_000.0).fits(), Fits::Yes);
    assert_eq!(demand(90_000.0).fits(), Fits::No);
}

/// (30 + 60)/h · 94.133333 s / 0.85 = 2.768627; no wire is known where only the speed is; gas 15 l/min · (60 + 3.4) s at 6 a m³ = 0.0951.
#[test]
fn a_part_costs_its_hours_and_its_gas() {
    let mut job = job();
    job.given = Given {
        availability: Some(0.85),
        labour_per_h: Some(30.0),
        cell_per_h: Some(60.0),
        gas_per_m3: Some(6.0),
        gas_flow: Some(0.015 / 60.0),
        ..job.given
    };
    let cost = estimate(&job).cost.unwrap();
    assert!((cost.total.expected - (2.768_627_451 + 0.0951)).abs() < 1e-6, "{cost:?}");
    assert_eq!(cost.without_rate, [CostPart::Wire]);
}

/// A shift of 8 h with 60 min of breaks is paid whole: 30/h · 94.133333 s / 0.85 · 8/7 + 60/h · 94.133333 s / 0.85 = 2.900467.
#[test]
fn people_are_paid_for_their_breaks() {
    let mut job = job();
    job.given = Given {
        availability: Some(0.85),
        labour_per_h: Some(30.0),
        cell_per_h: Some(60.0),
        shift_length: Some(hours(8.0)),
        breaks: Some(minutes(60.0)),
        ..job.given
    };
    let cost = estimate(&job).cost.unwrap();
    assert!((cost.total.expected - 2.900_466_853).abs() < 1e-6, "{cost:?}");
}

#[test]
fn without_a_rate_for_an_hour_nothing_is_said_of_cost() {
    let mut job = job();
    job.given.wire_per_kg = Some(2.0);
    assert!(estimate(&job).cost.is_none());
}

#[test]
fn two_parts_of_a_load_share_the_way_to_the_button_alone() {
    let mut job = job();
    job.given.parts_per_load = Some(2);
    let estimate = estimate(&job);
    assert!((estimate.person.expected - (2.0 * 24.2 + 2.0)).abs() < 1e-9);
    assert!((estimate.arm.expected - 2.0 * 67.933_333_333).abs() < 1e-6);
}

/// A 6 mm leg beside the speed: its section, 1.1 · 18 mm² expected, over 0.6 m at 7.85 g/cm³ with 95 % laid down, is 98.2 g of wire; the time
/// stays 0.6 m / 10 mm/s.
#[test]
fn a_leg_beside_a_given_speed_says_how_much_wire_and_leaves_the_time() {
    let by_speed = estimate(&job());
    let mut sized = job();
    sized.seams[0].size = Some(RoughSize::Leg(0.006));
    let sized = estimate(&sized);
    assert!((sized.wire.expected - 19.8e-6 * 0.6 * 7850.0 / 0.95).abs() < 1e-9, "{:?}", sized.wire);
    assert_eq!((by_speed.wire, by_speed.arm, by_speed.period), (Range::default(), sized.arm, sized.period));
}
