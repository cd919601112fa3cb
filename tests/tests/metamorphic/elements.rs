//! Times around arcs, at stops and between arm and person: each is in the times as often as what it belongs to happens. A slow zone, a
//! load and a device that serves the torch do to times and answers what they must.

use std::fs;
use std::path::Path;

use nalgebra::Point3;
use seamwright_kinematics::LoadShare;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, NearPart};
use seamwright_sim::motion::TOOL_JERK;
use seamwright_sim::plan::{self, Plan};
use seamwright_sim::production;
use seamwright_sim::schedule::{EventKind, Schedule, ServicePhase, schedule, service_rows};
use seamwright_sim::units::mm;

use crate::{assert_near, checked, scene};

const SCENE: &str = "gate-bracket/cell.toml";

fn planned() -> (Cell, Plan) {
    let cell = scene(SCENE);
    let plan = plan::plan(&cell, &plan::Options::default());
    (cell, plan)
}

/// The same cell with every procedure of its seams changed.
fn with_procedures(cell: &Cell, change: impl Fn(&mut seamwright_sim::cell::Procedure)) -> Cell {
    let mut cell = cell.clone();
    cell.seams.iter_mut().for_each(|seam| change(&mut seam.procedure));
    cell
}

fn count(schedule: &Schedule, visit: usize, kinds: &[EventKind]) -> f64 {
    schedule.visits[visit].events.iter().filter(|event| kinds.contains(&event.kind)).count() as f64
}

#[test]
fn every_time_around_an_arc_and_at_a_stop_counts_as_often_as_it_happens() {
    let (cell, plan) = planned();
    let plain = schedule(&cell, &plan);
    let moves = [EventKind::AirMove, EventKind::Approach, EventKind::Retract, EventKind::Shift];
    let arcs = [EventKind::Weld];
    let mut settles = cell.clone();
    settles.arm.settle = 0.05;
    let mut signals = cell.clone();
    for station in &mut signals.stations {
        (station.signals.start, station.signals.arm_clear) = (0.5, 0.4);
    }
    let gas_after = cell.seams[0].procedure.gas_after;
    assert!(gas_after > 0.0);
    let changed: [(&str, Cell, &[EventKind], f64, f64); 7] = [
        ("run-in", with_procedures(&cell, |p| p.arc.run_in = 0.2), &arcs, 0.2, 0.0),
        (
            "retries",
            with_procedures(&cell, |p| (p.arc.retry_share, p.arc.retry) = (0.05, 2.0)),
            &arcs,
            0.1,
            0.0,
        ),
        ("burn-back", with_procedures(&cell, |p| p.arc.burn_back = 0.15), &arcs, 0.15, 0.0),
        ("wire check", with_procedures(&cell, |p| p.arc.wire_check = 0.3), &arcs, 0.3, 0.0),
        ("gas while leaving", with_procedures(&cell, |p| p.arc.leaves_in_gas = true), &arcs, -gas_after, 0.0),
        ("settling", settles, &moves, 0.05, 0.0),
        ("signals", signals, &moves, 0.0, 0.9),
    ];
    for (what, cell, kinds, each, once) in changed {
        let timed = schedule(&cell, &plan);
        for visit in 0..2 {
            let often = count(&plain, visit, kinds);
            assert!(often >= 6.0, "{what}: {often}");
            let expected = plain.visits[visit].duration() + often * each + once;
            assert_near(what, timed.visits[visit].duration(), expected);
            assert_near(what, timed.visits[visit].times().total(), expected);
        }
    }
}

#[test]
fn part_sensors_and_leaving_are_the_persons_time_and_cooling_is_the_parts() {
    let (cell, plan) = planned();
    let timed = schedule(&cell, &plan);
    let mut slower = cell.clone();
    for station in &mut slower.stations {
        let loading = &mut station.loading;
        (loading.cool, loading.part_present, loading.leave) = (4.0, 0.5, 3.0);
    }
    let [plain, slow] = [&cell, &slower].map(|cell| production::cycle(cell, &timed).unwrap());
    for (plain, slow) in plain.stations.iter().zip(&slow.stations) {
        assert_near("the person's time", slow.balance.person, plain.balance.person + 3.5);
        assert_near("the part's", slow.cool - plain.cool, 4.0);
    }
    let steps = production::timeline(&slower, &timed, &slow);
    for name in ["part_present", "leave"] {
        assert_eq!(steps.iter().filter(|row| row.activity.name() == name).count(), 2, "{name}");
    }
}

/// A side at which nothing is welded makes no parts, however often it is loaded.
#[test]
fn a_station_at_which_nothing_is_welded_counts_no_parts() {
    let mut cell = scene(SCENE);
    let parts = |cell: &Cell| {
        checked(cell)
            .findings
            .cycle
            .unwrap()
            .stations
            .iter()
            .map(|at| at.parts_per_load)
            .collect::<Vec<u32>>()
    };
    assert_eq!(parts(&cell), [1, 1]);
    cell.seams.retain(|seam| seam.station.0 == 0);
    assert_eq!(parts(&cell), [1, 0]);
}

/// Where the wire end is on an event, by forward kinematics of its axis values.
fn wire_end(cell: &Cell, event: &seamwright_sim::schedule::Event, t: f64) -> Point3<f64> {
    let axes = event.at(t).unwrap().axes;
    cell.arm.arm.base_from_flange(&axes) * cell.torch.flange_from_tool * Point3::origin()
}

/// 50 mm or so at no more than 100 mm/s, the last (or first) 20 mm of them at no more than 20 mm/s: 1.3 s at least. Where the axes can follow, it takes
/// what its changes of speed take, each 2·√(Δv/j) at the mean speed (below a²/j = 0.2 m/s the acceleration limit is not reached), and
/// what is left of the distances.
#[test]
fn near_the_part_the_wire_end_goes_no_faster_than_the_slow_zone_says() {
    let (cell, plan) = planned();
    let plain = schedule(&cell, &plan);
    let near = NearPart { distance: mm(20.0), speed: mm(20.0) };
    let slow = schedule(&with_procedures(&cell, |p| p.near_part = Some(near)), &plan);
    let ramp = |from: f64, to: f64| {
        let time = 2.0 * ((to - from).abs() / TOOL_JERK).sqrt();
        (time, f64::midpoint(from, to) * time)
    };
    let [(t1, d1), (t2, d2), (t3, d3)] =
        [ramp(0.0, mm(20.0)), ramp(mm(20.0), mm(100.0)), ramp(mm(100.0), 0.0)];
    let rest = cell.seams[0].procedure.approach - mm(20.0);
    let expected = t1 + (mm(20.0) - d1) / mm(20.0) + t2 + (rest - d2 - d3) / mm(100.0) + t3;
    let (mut looked_at, mut exact) = (0, [0, 0]);
    for (plain, slow) in plain.visits[0].events.iter().zip(&slow.visits[0].events) {
        assert_eq!(plain.kind, slow.kind);
        if !matches!(slow.kind, EventKind::Approach | EventKind::Retract) {
            assert_near("all else", plain.duration, slow.duration);
            continue;
        }
        looked_at += 1;
        assert!(plain.duration < 0.8 && slow.duration > 1.3, "{} s, {} s", plain.duration, slow.duration);
        assert!(slow.duration < 1.8, "{} s", slow.duration);
        assert!(slow.duration > expected - 1e-6, "{} s, {expected} s", slow.duration);
        exact[usize::from(slow.kind == EventKind::Retract)] += usize::from(slow.duration < expected + 1e-6);
        let at_seam = if slow.kind == EventKind::Approach { slow.duration } else { 0.0 };
        let seam = wire_end(&cell, slow, at_seam);
        let steps = 500;
        for step in 1..steps {
            let (t, h) = (slow.duration * f64::from(step) / f64::from(steps), 1e-5);
            let speed = (wire_end(&cell, slow, t + h) - wire_end(&cell, slow, t - h)).norm() / (2.0 * h);
            let distance = (wire_end(&cell, slow, t) - seam).norm();
            let limit = if distance < mm(20.0) - mm(0.5) { mm(20.0) } else { mm(100.0) };
            assert!(speed < limit * 1.001, "{speed} m/s at {distance} m from the seam");
        }
    }
    assert!(looked_at >= 12, "{looked_at}");
    assert!(exact.iter().all(|exact| *exact > 0), "{exact:?}");
}

/// Half the speed and a quarter of the acceleration (with the jerk in the same share) slow air moves down, by no more than four times: a
/// move stretched in time by 4 has a quarter of the speed, a sixteenth of the acceleration and a sixty-fourth of the jerk.
#[test]
fn what_a_load_takes_off_the_limits_costs_time() {
    let (cell, plan) = planned();
    let plain = schedule(&cell, &plan);
    let timed = |speed: f64, acceleration: f64| {
        let mut cell = cell.clone();
        cell.arm.arm = cell.arm.arm.slowed(&LoadShare { load: 5.0, speed, acceleration });
        schedule(&cell, &plan)
    };
    let (same, slow) = (timed(1.0, 1.0), timed(0.5, 0.25));
    for visit in 0..2 {
        assert_eq!(plain.visits[visit].duration(), same.visits[visit].duration());
        let air = |schedule: &Schedule| schedule.visits[visit].times().air;
        assert!(air(&slow) > 1.5 * air(&plain) && air(&slow) < 4.0 * air(&plain));
        assert_near("the arc", plain.visits[visit].times().arc, slow.visits[visit].times().arc);
    }
}

/// The starter with one seam a side, and this `[[service]]` beside a cleaner to the arm's left.
fn with_service(service: &str) -> Cell {
    let scenes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes");
    let folder = tempfile::tempdir().unwrap();
    for file in ["arms/reach-1400.toml", "torches/bent-neck.toml"] {
        let to = folder.path().join(file);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::copy(scenes.join(file), to).unwrap();
    }
    // The arm waits turned to its left, so that it goes to the cleaner without swinging over the table.
    let text = fs::read_to_string(scenes.join(SCENE)).unwrap();
    let home = "home_deg = [0, -40, 40, 0, 60, 0]";
    assert!(text.contains(home));
    let text = text.replace(home, "home_deg = [80, -40, 40, 0, 60, 0]");
    let cleaner = r#"
[[shape]]
name = "cleaner"
kind = "box"
at_mm = [100, 800, 600]
size_mm = [120, 120, 180]
"#;
    fs::create_dir_all(folder.path().join("cell")).unwrap();
    let file = folder.path().join("cell/cell.toml");
    fs::write(&file, format!("{text}{cleaner}{service}")).unwrap();
    let mut cell = read_cell(&file).unwrap_or_else(|problems| {
        panic!("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    });
    cell.seams.retain(|seam| seam.name == "latch lug near");
    assert_eq!(cell.seams.len(), 2);
    cell
}

/// A cleaner that the wire and the nozzle's mouth enter from above: its top is at 690.
fn cleaning(more: &str) -> String {
    format!(
        "[[service]]\nname = \"cleaner\"\nduration_s = 4\nevery_loads = 5\nat_mm = [100, 800, 660]\nrotation_zyx_deg = [0, 0, 180]\n{more}\n"
    )
}

#[test]
fn the_arm_goes_to_a_device_where_the_file_says_and_its_way_is_in_the_times() {
    let cell = with_service(&cleaning("touches = [\"cleaner\"]"));
    let found = checked(&cell);
    assert_eq!(found.plan.devices.len(), 2, "one after each side");
    for device in &found.plan.devices {
        let route = device.way.as_ref().unwrap_or_else(|blocked| panic!("{blocked:?}"));
        assert_eq!(route.air[0], cell.arm.home);
        assert_eq!(*route.air.last().unwrap(), route.approach[0].axes);
        let arm = &cell.arm;
        let place = |axes| {
            cell.frames.world_from(arm.frame, &cell.stations[0].external)
                * arm.frame_from_base
                * arm.arm.base_from_flange(axes)
                * cell.torch.flange_from_tool
        };
        let (before, at) = (place(&route.approach[0].axes), place(&route.approach.last().unwrap().axes));
        let wanted = Point3::new(0.1, 0.8, 0.66);
        assert!((at * Point3::origin() - wanted).norm() < 1e-9, "{at}");
        assert!((at.rotation * nalgebra::Vector3::z() + nalgebra::Vector3::z()).norm() < 1e-9, "{at}");
        let above = wanted + nalgebra::Vector3::z() * 0.05;
        assert!((before * Point3::origin() - above).norm() < 1e-9, "{before}");
    }
    let service = found.findings.cycle.as_ref().unwrap().services.iter().find(|s| s.service == "cleaner");
    let service = service.unwrap();
    let ways = service.ways_s.unwrap();
    // Twice 50 mm at no more than 100 mm/s, and some way through the air.
    assert!(ways > 1.5 && ways < 15.0, "{ways} s");
    assert_near("where its time goes", service.in_turn_s + service.in_waits_s + service.costs_s, 4.0 + ways);
    assert!(service.sentence().starts_with("cleaner, every 5 loads: 4.0 s and "), "{}", service.sentence());
}

/// After the round the rows go from home to the device, in, stand there for its 4 s, and back the same way in the same time.
#[test]
fn the_path_tells_the_way_to_a_device_after_the_round() {
    let cell = with_service(&cleaning("touches = [\"cleaner\"]"));
    let found = checked(&cell);
    let rows = service_rows(&cell, &found.plan, &found.schedule);
    let mut t = found.path.last().unwrap().t;
    for row in &rows {
        assert!(row.row.t > t, "{} after {t}", row.row.t);
        t = row.row.t;
    }
    let mut phases: Vec<ServicePhase> = rows.iter().map(|row| row.phase).collect();
    phases.dedup();
    let once = [ServicePhase::Air, ServicePhase::In, ServicePhase::Work, ServicePhase::Out];
    assert_eq!(phases, [&once[..], &once[..], &[ServicePhase::Air]].concat());
    for (index, row) in rows.iter().enumerate().filter(|(_, row)| row.phase == ServicePhase::Work) {
        let at = row.row.world_from_wire_end * Point3::origin();
        assert!((at - Point3::new(0.1, 0.8, 0.66)).norm() < 1e-9, "row {index}: {at}");
    }
    let first = |phase| rows.iter().find(|row| row.phase == phase).unwrap().row.t;
    let (begins, in_at, works, out_at) = (
        found.path.last().unwrap().t,
        first(ServicePhase::In),
        first(ServicePhase::Work),
        first(ServicePhase::Out),
    );
    assert_near("the work", out_at - works, 4.0);
    let second = rows.iter().position(|row| row.phase == ServicePhase::Out).unwrap();
    let home = rows[second..].iter().take_while(|row| row.row.axes != cell.arm.home).count();
    let back = rows[second + home].row.t - out_at;
    assert!((back - (works - begins)).abs() < 0.05 && works > in_at, "{back} back, {} there", works - begins);
}

/// The table takes 3.5 s to turn, and nothing of it is near the cleaner.
#[test]
fn what_fits_into_the_turn_of_the_table_costs_nothing() {
    let [stands, turns] = ["", "\nduring_turn = true"].map(|more| {
        let found = checked(&with_service(&cleaning(&format!("touches = [\"cleaner\"]{more}"))));
        found.findings.cycle.unwrap().services.into_iter().find(|s| s.service == "cleaner").unwrap()
    });
    assert_eq!(stands.in_turn_s, 0.0);
    assert_near("hidden", turns.in_turn_s, 3.5);
    assert!(turns.costs_s <= stands.costs_s, "{} {}", turns.costs_s, stands.costs_s);
}

/// A device where corners of the fixtures come by when the table turns: the arm is in the way of what turns, and that is named.
#[test]
fn a_device_that_the_turning_table_would_meet_is_served_while_it_stands_and_says_what_is_in_the_way() {
    let near =
        cleaning("touches = [\"cleaner\"]\nduring_turn = true").replace("[100, 800, 660]", "[300, 700, 700]");
    // From the demo's own home, beside which the screen of the table comes by.
    let mut cell = with_service(&near);
    cell.arm.home[0] = 0.0;
    let services = checked(&cell).findings.cycle.unwrap().services;
    let cleaner = services.iter().find(|stop| stop.service == "cleaner").unwrap();
    assert!(cleaner.ways_s.is_some() && cleaner.in_turn_s == 0.0, "{cleaner:?}");
    let after: Vec<&str> = cleaner.not_in_turn.iter().map(|refused| refused.station.as_str()).collect();
    assert_eq!(after, ["side A", "side B"]);
    for refused in &cleaner.not_in_turn {
        let other = cell.shapes.iter().find(|shape| shape.name == refused.other).unwrap();
        assert!(cell.frames.moves_with(other.frame, 0), "{refused:?}");
    }
}

#[test]
fn a_device_out_of_reach_or_in_its_own_way_is_said_and_does_not_hold() {
    let untouchable = checked(&with_service(&cleaning("")));
    let sentence = &untouchable.findings.blocked_ways[0].sentence;
    assert!(sentence.starts_with("the arm does not get to cleaner: "), "{sentence}");
    let far = cleaning("").replace("at_mm = [100, 800, 660]", "at_mm = [100, 5000, 660]");
    let far = checked(&with_service(&far));
    let sentence = &far.findings.blocked_ways[0].sentence;
    assert!(sentence.contains("cleaner") && sentence.contains("mm"), "{sentence}");
    for found in [untouchable, far] {
        assert!(!found.findings.holds());
        let service = &found.findings.cycle.unwrap().services;
        let service = service.iter().find(|s| s.service == "cleaner").unwrap();
        assert!(service.ways_s.is_none());
    }
}
