//! Keys of the times around arcs, at stops, between arm and person, and of devices.

use super::*;
use crate::units::mm;

const SEAM: &str = "[[seam]]\nname = \"seam\"\nprocedure = \"usual\"\njoint = \"fillet\"\nlength_mm = 100\n";

fn with(procedure: &str, station: &str, rest: &str) -> Result<Cell, Vec<Problem>> {
    let head = HEAD
        .replace("travel_speed_mm_s = 8\n", &format!("travel_speed_mm_s = 8\n{procedure}\n"))
        .replace("load_s = 30\n", &format!("load_s = 30\n{station}\n"));
    read(&format!("{head}{SEAM}{rest}"), &[])
}

fn problems(cell: Result<Cell, Vec<Problem>>) -> String {
    listed(&cell.map(|_| ()).unwrap_err())
}

#[test]
fn what_is_not_said_of_an_arc_takes_no_time() {
    let cell = with("", "", "").unwrap();
    let procedure = &cell.seams[0].procedure;
    assert_eq!((procedure.arc, procedure.near_part), Default::default());
    assert_eq!(cell.stations[0].signals, Default::default());
    assert_eq!(cell.arm.settle, 0.0);
}

#[test]
fn what_is_said_of_an_arc_and_a_station_is_read() {
    let procedure = "run_in_s = 0.2\narc_retry_percent = 4\narc_retry_s = 1.5\nburn_back_s = 0.1\nwire_check_s = 0.3\ngas_after_while_leaving = true\nslow_zone_mm = 30\nslow_zone_speed_mm_s = 25";
    let station = "cool_s = 5\npart_present_s = 0.5\nleave_s = 3\nstart_signal_s = 0.2\narm_clear_s = 0.4";
    let cell = with(procedure, station, "").unwrap();
    let procedure = &cell.seams[0].procedure;
    let arc = procedure.arc;
    assert_eq!((arc.run_in, arc.burn_back, arc.wire_check, arc.leaves_in_gas), (0.2, 0.1, 0.3, true));
    assert!((arc.mean_retry() - 0.06).abs() < 1e-12);
    let near = procedure.near_part.unwrap();
    assert_eq!((near.distance, near.speed), (mm(30.0), mm(25.0)));
    let station = &cell.stations[0];
    assert_eq!((station.signals.start, station.signals.arm_clear), (0.2, 0.4));
    let loading = &station.loading;
    assert_eq!((loading.cool, loading.part_present, loading.leave), (5.0, 0.5, 3.0));
    // A part cools by itself.
    assert!((loading.total() - (30.0 + 0.5 + 3.0 + 2.0)).abs() < 1e-12);
}

#[test]
fn halves_of_pairs_are_problems() {
    let text = problems(with("arc_retry_percent = 4", "", ""));
    assert!(text.contains("arc_retry_s is missing"), "{text}");
    let text = problems(with("slow_zone_mm = 30", "", ""));
    assert!(text.contains("slow_zone_speed_mm_s"), "{text}");
}

#[test]
fn a_device_needs_a_place_and_touches_only_what_there_is() {
    let service = "[[service]]\nname = \"cut\"\nduration_s = 2\nevery_loads = 3\n";
    let cell = with("", "", &format!("{service}at_mm = [100, 800, 700]\n")).unwrap();
    let device = cell.service[0].device.as_ref().unwrap();
    assert_eq!((device.any_turn, device.during_turn, device.approach), (true, false, mm(50.0)));
    let text = problems(with("", "", &format!("{service}approach_mm = 40\n")));
    assert!(text.contains("approach_mm") && text.contains("write at_mm"), "{text}");
    let cutter = "[[shape]]\nname = \"cutter\"\nkind = \"sphere\"\nradius_mm = 20\nat_mm = [100, 800, 650]\n";
    let text =
        problems(with("", "", &format!("{cutter}{service}at_mm = [0, 0, 0]\ntouches = [\"cuter\"]\n")));
    assert!(text.contains("cuter") && text.contains("cutter"), "{text}");
    let cell =
        with("", "", &format!("{cutter}{service}at_mm = [0, 0, 0]\ntouches = [\"cutter\"]\n")).unwrap();
    assert_eq!(cell.service[0].device.as_ref().unwrap().touches, vec![ShapeId(0)]);
}
