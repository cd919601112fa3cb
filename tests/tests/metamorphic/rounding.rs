//! Corners rounded in the air, and external axes that go along with the arm: both save time, and neither gives up what was asked.

use nalgebra::Point3;
use seamwright_kinematics::AxisValues;
use seamwright_sim::cell::Cell;
use seamwright_sim::motion::{AirWay, AxisMove};
use seamwright_sim::plan::clearance::Scene;
use seamwright_sim::plan::{self, MoveKind, Plan, Visit};
use seamwright_sim::schedule::{Event, EventKind, schedule};
use seamwright_sim::units::mm;

use crate::scene;

const DISTANCE_MM: f64 = 60.0;
/// Instants of every event that are looked at.
const LOOKS: u32 = 200;

fn planned(cell: &Cell) -> Plan {
    plan::plan(cell, &plan::Options::default())
}

fn starter() -> Cell {
    scene("gate-bracket/cell.toml")
}

fn wire_end(cell: &Cell, axes: &AxisValues) -> Point3<f64> {
    cell.arm.arm.base_from_flange(axes) * cell.torch.flange_from_tool * Point3::origin()
}

/// Every instant of an event keeps every clearance, range and speed.
fn assert_kept(cell: &Cell, visit: &Visit, event: &Event) {
    let station = visit.station;
    let at_rest = Scene::new(cell, station, &cell.stations[station.0].external);
    for step in 0..=LOOKS {
        let t = event.duration * f64::from(step) / f64::from(LOOKS);
        let motion = event.motion_at(t).unwrap();
        let axes = motion.stance.axes;
        for (axis, limits) in cell.arm.arm.axes().iter().enumerate() {
            assert!(motion.rates.axes[axis].abs() <= limits.max_speed * (1.0 + 1e-9), "axis {}", axis + 1);
            let most = limits.max_acceleration.value * (1.0 + 1e-3);
            assert!(motion.accelerations.axes[axis].abs() <= most, "axis {}", axis + 1);
        }
        for (axis, rate) in cell.frames.axes.iter().zip(&motion.rates.external) {
            assert!(rate.abs() <= axis.max_speed * (1.0 + 1e-9), "{}", axis.name);
        }
        for (axis, change) in cell.frames.axes.iter().zip(&motion.accelerations.external) {
            assert!(change.abs() <= axis.max_acceleration * (1.0 + 1e-9), "{}", axis.name);
        }
        assert!(cell.arm.arm.range_excess(&axes).is_none_or(|(_, excess)| excess < 1e-9));
        let clears =
            at_rest.at(&motion.stance.external).clears(&cell.arm.arm.forward(&axes), None, &mut None);
        assert!(clears, "{} s into an air move", t);
    }
}

/// Wire end at many shares of the straight moves.
fn straight_places(cell: &Cell, visit: &Visit) -> Vec<Point3<f64>> {
    let air = visit.moves.iter().filter(|planned| planned.kind == MoveKind::Axis);
    air.flat_map(|planned| {
        let (from, to) = (planned.points[0].axes, planned.points[1].axes);
        (0..=400).map(move |step| from.lerp(&to, f64::from(step) / 400.0))
    })
    .map(|axes| wire_end(cell, &axes))
    .collect()
}

#[test]
fn a_rounded_corner_saves_time_stays_as_near_as_asked_and_keeps_clear() {
    let cell = starter();
    let plan = planned(&cell);
    let mut rounding = cell.clone();
    rounding.arm.air_rounding = mm(DISTANCE_MM);
    let rounded = planned(&rounding);
    let (plain, timed) = (schedule(&cell, &plan), schedule(&rounding, &rounded));
    let air = |schedule: &seamwright_sim::schedule::Schedule, visit: usize| {
        let events = schedule.visits[visit].events.iter();
        events.filter(|event| event.kind == EventKind::AirMove).count()
    };
    let mut passed = 0;
    for (index, visit) in rounded.visits.iter().enumerate() {
        let fewer = air(&plain, index) - air(&timed, index);
        let saved = plain.visits[index].duration() - timed.visits[index].duration();
        assert!(if fewer > 0 { saved > 0.0 } else { saved == 0.0 }, "{fewer} places, {saved} s");
        passed += fewer;
        let straight = straight_places(&cell, visit);
        for event in timed.visits[index].events.iter().filter(|event| event.kind == EventKind::AirMove) {
            assert_kept(&cell, visit, event);
            for step in 0..=LOOKS {
                let stance = event.at(event.duration * f64::from(step) / f64::from(LOOKS)).unwrap();
                let end = wire_end(&cell, &stance.axes);
                let off = straight.iter().map(|place| (place - end).norm()).fold(f64::INFINITY, f64::min);
                assert!(off < mm(DISTANCE_MM), "{off} m off the straight moves");
            }
        }
    }
    assert!(passed > 0, "the starter has no place between air moves any more");
    // The same by asking the plan that stops what rounding would save.
    let asked = plan.rounded(&cell, mm(DISTANCE_MM));
    for (one, other) in asked.visits.iter().zip(&rounded.visits) {
        assert_eq!(one.roundings, other.roundings);
    }
}

/// Two moves of one axis each, on unlike axes: nothing adds up, so all limits are kept whatever the overlap, the whole takes both times less
/// the overlap, and each axis alone does what its own move does.
#[test]
fn moves_on_unlike_axes_may_overlap_and_save_just_that() {
    let cell = starter();
    let arm = &cell.arm.arm;
    let home = cell.arm.home;
    let [first, second] =
        [AxisValues::new(0.8, 0.0, 0.0, 0.0, 0.0, 0.0), AxisValues::new(0.0, 0.0, -0.5, 0.0, 0.0, 0.0)];
    for (pace, share) in [(1.0, 0.5), (0.7, 0.3)] {
        let way = AirWay::new(arm, &[home, home + first, home + first + second], &[share], pace).unwrap();
        let moves = [(home, home + first), (home, home + second)]
            .map(|(from, to)| AxisMove::new(arm, from, to, pace));
        let overlap = share * moves[0].duration().min(moves[1].duration());
        let time = moves[0].duration() + moves[1].duration() - overlap;
        assert!((way.duration() - time).abs() < 1e-12 && way.keeps_limits(arm, pace, 0));
        assert!((way.least_possible() - time * pace).abs() < 1e-9);
        for step in 0..=50 {
            let t = time * f64::from(step) / 50.0;
            let at = way.at(t);
            assert!((at[0] - moves[0].at(t)[0]).abs() < 1e-12);
            let begun = t - moves[0].duration() + overlap;
            let third = if begun > 0.0 { moves[1].at(begun)[2] } else { home[2] };
            assert!((at[2] - third).abs() < 1e-12);
        }
    }
}

/// Straight on with the axis that sets the pace: the jerk with which the one move ends and the other begins points the same way, so that both
/// together are twice the limit. Back on the same axis they point against each other, and accelerations add up instead: within the time
/// in which they build up they keep the limit.
#[test]
fn what_adds_up_beyond_a_limit_is_not_overlapped() {
    let cell = starter();
    let arm = &cell.arm.arm;
    let home = cell.arm.home;
    let way = AxisValues::new(0.8, 0.0, 0.0, 0.0, 0.0, 0.0);
    let on = |to: AxisValues, share: f64| AirWay::new(arm, &[home, home + way, to], &[share], 1.0).unwrap();
    assert!(!on(home + way * 2.0, 0.1).keeps_limits(arm, 1.0, 0));
    let rise = arm.axes()[0].max_acceleration.value / arm.axes()[0].max_jerk.value;
    let share = |overlap: f64| overlap / AxisMove::new(arm, home, home + way, 1.0).duration();
    assert!(on(home, share(0.99 * rise)).keeps_limits(arm, 1.0, 0));
    assert!(!on(home, share(1.01 * rise)).keeps_limits(arm, 1.0, 0));
}

#[test]
fn external_axes_that_go_along_with_the_arm_save_the_time_that_it_would_stand() {
    let cell = scene("long-frame/cell.toml");
    let plan = planned(&cell);
    let mut along = cell.clone();
    along.arm.air_with_external = true;
    let together = planned(&along);
    let (plain, timed) = (schedule(&cell, &plan), schedule(&along, &together));
    let mut went_along = 0;
    for (index, visit) in together.visits.iter().enumerate() {
        for event in timed.visits[index].events.iter().filter(|event| event.kind == EventKind::AirMove) {
            assert_kept(&along, visit, event);
            went_along += usize::from((0..cell.frames.axes.len()).any(|axis| event.moves_external(axis)));
        }
        // Each move begins where the one before ends, external axes included.
        for pair in visit.moves.windows(2) {
            assert_eq!(pair[0].external_end(), pair[1].external_start());
        }
    }
    assert!(went_along > 0, "no external axis has a way to go any more");
    assert!(timed.visits[0].duration() < plain.visits[0].duration());
    assert!(timed.visits[0].times().external < plain.visits[0].times().external);
}
