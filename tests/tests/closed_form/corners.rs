//! What the torch does at corners: follows as fast as it can, goes round on an arc, or stops and starts.

use seamwright_kinematics::AxisValues;
use seamwright_sim::cell::LEAST_AT_CORNER;
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::Limit;
use seamwright_sim::plan::{MoveKind, Verdict};
use seamwright_sim::schedule::EventKind;
use seamwright_sim::units::deg;
use seamwright_tests::bench::Question;

const FREE: &str = "work_tolerance_deg = 15\ntravel_tolerance_deg = 15";

/// Along the rib's side and round its end: an outside corner.
const OUTSIDE: &str = "points_mm = [[40, 4, 10], [100, 4, 10], [100, -4, 10]]\nend_inset_mm = 2";

fn asked(procedure: &str, seam: &str, besides: &str) -> Checked {
    let procedure = format!("{FREE}\n{procedure}");
    let cell = Question { procedure: &procedure, seam, besides, ..Question::default() }.cell();
    check(&cell, &Options { seed: 0, watch: &() })
}

/// A right angle within 0.2 mm at 40 mm/s takes 5 ms, and 20 ms at the quarter of that which a corner may be slowed to: 4500 degrees a
/// second for the torch, several times what any wrist axis can. It is said at which travel speed a way is found, and there it is. No axis
/// turns the torch faster than itself, so it cannot turn by more than all of them together: the speed that is told is below that bound.
#[test]
fn a_corner_faster_than_the_wrist_is_said_with_a_speed_at_which_it_holds() {
    let fast = asked("corner_zone_mm = 0.1", &format!("{OUTSIDE}\ntravel_speed_mm_s = 40"), "");
    let seam = &fast.findings.seams[0];
    assert_ne!(seam.verdict, Verdict::Holds);
    let told = seam.stops.iter().find_map(|stop| match stop.limit {
        Limit::AxisSpeed { follows_at_mm_s, .. } => follows_at_mm_s,
        _ => None,
    });
    let follows_at = told.unwrap_or_else(|| panic!("{:?}", seam.stops));
    let reason = seam.reason.as_ref().unwrap();
    assert!(reason.contains("a way is found") && reason.contains("even at 25 % of travel speed"), "{reason}");
    let cell = Question { procedure: FREE, seam: OUTSIDE, ..Question::default() }.cell();
    let all_axes: f64 = cell.arm.arm.axes().iter().map(|axis| axis.max_speed).sum();
    let bound_mm_s = 0.2 / (std::f64::consts::FRAC_PI_2 / all_axes) / LEAST_AT_CORNER;
    assert!(
        follows_at < bound_mm_s,
        "{follows_at} mm/s, where all axes together would allow {bound_mm_s} mm/s"
    );
    let slower = format!("{OUTSIDE}\ntravel_speed_mm_s = {follows_at}");
    let slow = asked("corner_zone_mm = 0.1", &slower, "");
    assert_eq!(slow.plan.seams[0].verdict, Verdict::Holds, "{:?}", slow.plan.seams[0].binding);
}

/// A right angle within 1 mm at 8 mm/s takes an eighth of a second: 720 degrees a second, more than the quickest axis turns. At half that
/// speed and less the wrist can: the weld is slowed there, takes longer by what is told, and no axis passes its limit.
#[test]
fn a_corner_too_fast_for_the_axes_at_travel_speed_is_slowed_as_far_as_they_need() {
    let checked = asked("corner_zone_mm = 0.5", OUTSIDE, "");
    let seam = &checked.findings.seams[0];
    assert_eq!(seam.verdict, Verdict::Holds, "{:?}", seam.stops);
    let arc = checked.schedule.visits[0].times().arc;
    let lost: f64 = seam.slowed.iter().map(|place| place.lost_s).sum();
    assert!(lost > 0.005 && (arc - 66.0 / 8.0 - lost).abs() < 1e-5, "{arc} s, {lost} s lost");
    assert!(seam.notes.iter().any(|note| note.contains("cannot follow at 8.0 mm/s")), "{:?}", seam.notes);
    let arm = Question { procedure: FREE, seam: OUTSIDE, ..Question::default() }.cell().arm.arm;
    let weld = checked.schedule.visits[0].events.iter().find(|event| event.kind == EventKind::Weld).unwrap();
    let mut most: f64 = 0.0;
    for step in 0..=2000 {
        let motion = weld.motion_at(weld.duration * f64::from(step) / 2000.0).unwrap();
        let uses = motion.rates.axes.iter().zip(arm.axes()).map(|(rate, axis)| rate.abs() / axis.max_speed);
        most = uses.fold(most, f64::max);
    }
    println!("{lost} s lost, {most} of the speed limits");
    assert!(most <= 1.0 + 1e-6, "{most}");
}

/// What is timed is what is proven. Wherever a weld is, the wire end is no farther than `path_deviation_mm` (0.5) from the line through the
/// plan's own points, by forward kinematics, and the torch no more than a degree from where it is planned there; every axis keeps its
/// speed and acceleration; and where the axes are and how fast they are said to move is one motion: (q(t + h) − q(t − h)) / 2h.
#[test]
fn corners_are_timed_by_the_motion_that_is_proven() {
    let arm = Question { procedure: FREE, seam: OUTSIDE, ..Question::default() }.cell().arm.arm;
    for (zone_mm, speed_mm_s) in [(0.5, 6.0), (1.0, 12.0), (3.0, 20.0), (8.0, 20.0), (8.0, 50.0)] {
        let seam = format!("{OUTSIDE}\ntravel_speed_mm_s = {speed_mm_s}");
        let checked = asked(&format!("corner_zone_mm = {zone_mm}"), &seam, "");
        assert_eq!(
            checked.plan.seams[0].verdict,
            Verdict::Holds,
            "{zone_mm} mm: {:?}",
            checked.plan.seams[0].binding
        );
        let moves = &checked.plan.visits[0].moves;
        let planned = moves.iter().find(|planned| matches!(planned.kind, MoveKind::Weld { .. })).unwrap();
        let weld =
            checked.schedule.visits[0].events.iter().find(|event| event.kind == EventKind::Weld).unwrap();
        let cell = Question { procedure: FREE, seam: &seam, ..Question::default() }.cell();
        let pose = |axes: &AxisValues| arm.base_from_flange(axes) * cell.torch.flange_from_tool;
        let line: Vec<_> = planned.points.iter().map(|point| (point.s, pose(&point.axes))).collect();
        let pace = weld.weld_pace().unwrap();
        let instants = 4000;
        for look in 0..=instants {
            let t = weld.duration * f64::from(look) / f64::from(instants);
            let motion = weld.motion_at(t).unwrap();
            let there = pose(&motion.stance.axes);
            let s = pace.along(t).position;
            let after = line.partition_point(|(at, _)| *at < s).clamp(1, line.len() - 1);
            let [(from, before), (to, next)] = [&line[after - 1], &line[after]];
            let share = ((s - from) / (to - from)).clamp(0.0, 1.0);
            let wire = before.translation.vector.lerp(&next.translation.vector, share);
            let off = (there.translation.vector - wire).norm();
            assert!(off < 0.5e-3 + 1e-6, "zone {zone_mm} mm, {speed_mm_s} mm/s: wire {off} m off at {s} m");
            let turned = there.rotation.angle_to(&before.rotation.slerp(&next.rotation, share));
            assert!(turned < deg(1.0) + 1e-4, "zone {zone_mm} mm: {turned} rad off at {s} m");
            for (axis, of) in arm.axes().iter().enumerate() {
                let (rate, bend) = (motion.rates.axes[axis], motion.accelerations.axes[axis]);
                assert!(rate.abs() <= of.max_speed * (1.0 + 1e-6), "axis {axis}: {rate} at {s} m");
                let most = of.max_acceleration.value * (1.0 + 1e-3);
                assert!(bend.abs() <= most, "zone {zone_mm} mm, axis {axis}: {bend} at {s} m");
            }
            let h = 1e-6;
            if t > h && t + h < weld.duration {
                let [one, other] = [t - h, t + h].map(|t| weld.at(t).unwrap().axes);
                let rates = (other - one) / (2.0 * h);
                assert!((rates - motion.rates.axes).amax() < 1e-3, "{rates} at {s} m");
            }
        }
        let rows: Vec<_> = checked.path.iter().filter(|row| row.phase == EventKind::Weld).collect();
        for pair in rows.windows(2) {
            let rate = (pair[1].axes - pair[0].axes) / (pair[1].t - pair[0].t);
            for (axis, of) in arm.axes().iter().enumerate() {
                assert!(
                    rate[axis].abs() <= of.max_speed * (1.0 + 1e-6),
                    "axis {axis}: {} in path.csv",
                    rate[axis]
                );
            }
        }
    }
}

/// The same corner at full speed, the arc put out at it: welded to the corner, and struck anew behind it. The arc is on for 60 mm of the
/// side and 6 mm of the end, at 8 mm/s, but for the micrometre at which it begins anew.
#[test]
fn an_outside_corner_too_fast_for_the_wrist_is_welded_with_a_stop() {
    let checked = asked("corners = \"stop\"", OUTSIDE, "");
    assert_eq!(checked.plan.seams[0].verdict, Verdict::Holds, "{:?}", checked.plan.seams[0].binding);
    assert!(checked.plan.visits[0].blocked.is_empty() && checked.plan.visits[0].left_out.is_empty());
    let arc = checked.schedule.visits[0].times().arc;
    assert!((arc - (66.0 - 0.001) / 8.0).abs() < 1e-6, "{arc} s");
    let welds = checked.plan.visits[0].moves.iter().filter(|mv| matches!(mv.kind, MoveKind::Weld { .. }));
    assert_eq!(welds.count(), 2);
}

/// Where the weld begins decides only how much of the side is welded: 120 mm less the inset, and 6 mm of the end.
#[test]
fn a_weld_stops_at_a_corner_wherever_it_begins() {
    for inset in [0, 1, 4, 5, 6, 10, 33] {
        let seam = format!("{OUTSIDE}\nstart_inset_mm = {inset}").replace("[40, 4, 10]", "[-20, 4, 10]");
        let checked = asked("corners = \"stop\"", &seam, "");
        let found = &checked.plan.seams[0];
        assert_eq!(found.verdict, Verdict::Holds, "{inset} mm: {:?}", found.binding);
        let arc = checked.schedule.visits[0].times().arc;
        assert!((arc - (126.0 - f64::from(inset) - 0.001) / 8.0).abs() < 1e-6, "{inset} mm: {arc} s");
    }
}

/// At 5 mm/s the arm turns round the corner without slowing down: 66 mm take 66/5 s to the last digit. At 50 mm/s it cannot: the torch
/// turns by a right angle within 10 mm, 0.2 s, and the axis that turns it has to reach its speed and lose it again. What path.csv shows of
/// the wire end, its time, and what is told of it are one.
#[test]
fn a_corner_at_which_axes_cannot_speed_up_as_fast_is_shown_slower_and_told() {
    let slow = asked("", &format!("{OUTSIDE}\ntravel_speed_mm_s = 5"), "");
    let arc = slow.schedule.visits[0].times().arc;
    assert!((arc - 66.0 / 5.0).abs() < 1e-9 && slow.findings.seams[0].slowed.is_empty(), "{arc} s");
    let fast = asked("", &format!("{OUTSIDE}\ntravel_speed_mm_s = 50"), "");
    let seam = &fast.findings.seams[0];
    assert_eq!(seam.verdict, Verdict::Holds, "{:?}", seam.stops);
    let arc = fast.schedule.visits[0].times().arc;
    let lost: f64 = seam.slowed.iter().map(|place| place.lost_s).sum();
    assert!(lost > 0.01 && (arc - 66.0 / 50.0 - lost).abs() < 1e-5, "{arc} s, {lost} s lost");
    let least = seam.slowed.iter().map(|place| place.least_speed_mm_s).fold(f64::INFINITY, f64::min);
    assert!(least < 45.0 && seam.notes.iter().any(|note| note.contains("slower over")), "{:?}", seam.notes);
    let welding: Vec<_> = fast.path.iter().filter(|row| row.phase == EventKind::Weld).collect();
    let mut time = 0.0;
    for pair in welding.windows(2) {
        let [s, next] = [pair[0], pair[1]].map(|row| row.place.unwrap().s);
        let mean = (next - s) / (pair[1].t - pair[0].t);
        assert!(mean <= 0.05 * (1.0 + 1e-6) && mean >= least * 1e-3 * (1.0 - 1e-3), "{mean} m/s at {s} m");
        time += pair[1].t - pair[0].t;
    }
    assert!((time - arc).abs() < 1e-5, "{time} s");
    let slowest = welding.iter().map(|row| row.speed).fold(f64::INFINITY, f64::min);
    assert!(slowest >= least * 1e-3 - 1e-6 && slowest < 0.045, "{slowest} m/s, {least} mm/s");
}

const WALL: &str = "[[fixture.shape]]\nname = \"wall\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [64, 54, 40]\nsize_mm = [8, 100, 60]\n";
const INSIDE: &str = "points_mm = [[-60, 4, 10], [60, 4, 10], [60, 90, 10]]";

/// Into the corner of rib and wall the nozzle does not go at 45 degrees to all three faces; round it on an arc of 30 mm it does. The arc
/// takes 30 mm off either side and adds a quarter of a circle.
#[test]
fn an_inside_corner_too_tight_for_the_nozzle_can_be_rounded() {
    let tight = asked("", INSIDE, WALL);
    assert_ne!(tight.plan.seams[0].verdict, Verdict::Holds);
    let round = asked("corners = \"round\"\ncorner_radius_mm = 30", INSIDE, WALL);
    assert_eq!(round.plan.seams[0].verdict, Verdict::Holds, "{:?}", round.plan.seams[0].binding);
    let length = 120.0 + 86.0 - 60.0 + std::f64::consts::FRAC_PI_2 * 30.0;
    let arc = round.schedule.visits[0].times().arc;
    assert!((arc - length / 8.0).abs() < 1e-6, "{arc} s");
}

#[test]
fn corners_that_cannot_be_are_said_with_what_would_be_right() {
    for (procedure, seam, says) in [
        ("corners = \"round\"", INSIDE, "write the radius"),
        ("corner_radius_mm = 4", INSIDE, "corners are not rounded"),
        ("corners = \"round\"\ncorner_radius_mm = 90", INSIDE, "does not fit between its pieces"),
        (
            "corners = \"round\"\ncorner_radius_mm = 2",
            OUTSIDE,
            "the seam goes round the outside; write corners = \"follow\" or corners = \"stop\"",
        ),
        (
            "corners = \"stop\"\nclear_of_corners_mm = 5",
            INSIDE,
            "cannot stop at corners and keep clear of them",
        ),
        ("corners = \"slow\"", INSIDE, "this word is not known here"),
    ] {
        let question = Question { procedure, seam, besides: WALL, ..Question::default() };
        let found = question.read().err().unwrap_or_default();
        assert!(found.contains(says), "{procedure}: {found}");
    }
}

/// An arm that strays by nothing, and torch angles without any tolerance: each lies on an end of its own. The torch turns by a right angle
/// within 0.2 mm, in which the wire end all but stands: no more than twice what the six axes would take one after the other, each for a right
/// angle from rest to rest within its acceleration and speed, 2·√(θ/a) or θ/v + v/a. Nothing of that is told as an end of the arc.
#[test]
fn a_tight_corner_at_the_end_of_a_tolerance_takes_no_longer_than_turns_of_the_axes() {
    let tight = format!("{OUTSIDE}\ntravel_speed_mm_s = 2");
    let procedure = "work_tolerance_deg = 0\ntravel_tolerance_deg = 0\ncorner_zone_mm = 0.1";
    let mut cell = Question { procedure, seam: &tight, ..Question::default() }.cell();
    cell.arm.path_deviation.value = 0.0;
    let checked = check(&cell, &Options { seed: 0, watch: &() });
    let seam = &checked.findings.seams[0];
    assert_eq!(seam.verdict, Verdict::Holds, "{:?}", seam.stops);
    let right_angle = std::f64::consts::FRAC_PI_2;
    let turn = |(speed, acceleration): (f64, f64)| {
        if right_angle < speed * speed / acceleration {
            2.0 * (right_angle / acceleration).sqrt()
        } else {
            right_angle / speed + speed / acceleration
        }
    };
    let axes = cell.arm.arm.axes().iter().map(|axis| (axis.max_speed, axis.max_acceleration.value));
    let turns: f64 = axes.map(turn).sum();
    let lost: f64 = seam.slowed.iter().map(|place| place.lost_s).sum();
    println!("{lost} s lost, {turns} s of turns");
    assert!(lost > 0.1 && lost < 2.0 * turns, "{lost} s lost, {turns} s of turns");
    assert!(seam.slowed.iter().all(|place| !place.rests), "{:?}", seam.slowed);
    // By what the axes may stray there, 0.02 mm, every asked clearance has grown.
    let asked =
        checked.plan.seams[0].margins.as_ref().and_then(|margins| margins.clearance.as_ref()).unwrap().asked;
    let rules =
        [cell.clearance.torch_to_joint, cell.clearance.torch, cell.clearance.arm, cell.clearance.wire];
    assert!(rules.iter().any(|rule| (asked - rule - 0.02e-3).abs() < 1e-12), "{asked} m asked");
}
