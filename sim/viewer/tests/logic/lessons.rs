//! Lessons, done as a learner does them: by jogs that are held, watching what is measured.

use std::time::Duration;

use bevy::prelude::*;
use bevy::time::TimeUpdateStrategy;
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::units::{deg, mm};
use seamwright_sim::by_hand::{AgainstJoint, Around, Jog, JogFrame, Jogger, against_joint};
use seamwright_sim::cell::SeamId;
use seamwright_sim::schedule::Stance;
use seamwright_viewer::logic::lesson::{GoalKind, Progress, read_lesson, read_lessons};
use seamwright_viewer::logic::{Ask, Hand, Now, Practice, Task};

use super::{app, ask, bracket, scenes};

/// A lesson that has begun, by how the name of its file begins.
fn lesson(number: &str) -> App {
    let show = bracket();
    let lessons = read_lessons(&scenes().join("lessons"), show.cell).unwrap();
    let at = lessons.iter().position(|lesson| lesson.file.starts_with(number)).unwrap();
    let mut app = app(&show);
    app.insert_resource(Practice { lessons, ..Practice::default() });
    ask(&mut app, Ask::Lesson(at));
    app
}

fn progress(app: &App) -> &Progress {
    &app.world().resource::<Practice>().progress
}

fn rest(app: &mut App, steps: u32) {
    (0..steps).for_each(|_| app.update());
}

/// Jogs one way or the other, whichever makes the error less, until it is no more than `within`.
fn bring(app: &mut App, jog: impl Fn(f64) -> Jog, error: impl Fn(&App) -> f64, within: f64) {
    let mut sense = 1.0;
    for _ in 0..1000 {
        let before = error(app).abs();
        if before <= within {
            return;
        }
        ask(app, Ask::Hold(jog(sense)));
        if error(app).abs() > before {
            sense = -sense;
        }
    }
    panic!("off by {} and not {within}: {:?}", error(app), app.world().resource::<Hand>().stopped);
}

fn wire_end(app: &App) -> Point3<f64> {
    Point3::from(app.world().resource::<Now>().world_from_tool.translation.vector)
}

/// The wire end to a place, along one after the other of the floor's axes.
fn bring_wire_end(app: &mut App, to: Point3<f64>, within: f64) {
    for axis in 0..3 {
        let along = |sense: f64| Jog::Along(JogFrame::World, Vector3::ith(axis, sense));
        bring(app, along, |app| (wire_end(app) - to)[axis], within);
    }
}

/// The torch against the joint of a seam.
fn against(app: &App, seam: SeamId) -> AgainstJoint {
    let show = bracket();
    let now = app.world().resource::<Now>();
    let station_from_world = show.world_from_station(seam, &now.stance.external).inverse();
    let path = show.cell.seams[seam.0].path.as_ref().unwrap();
    against_joint(path, &(station_from_world * now.world_from_tool), show.cell.torch.nominal_ctwd)
}

fn seam_at_hand(app: &App) -> SeamId {
    app.world().resource::<Practice>().goal().unwrap().kind.seam().unwrap()
}

#[test]
fn every_lesson_of_the_repository_fits_the_starter_cell_and_starts_free() {
    let show = bracket();
    let lessons = read_lessons(&scenes().join("lessons"), show.cell).unwrap();
    assert!(lessons.len() >= 8, "{}", lessons.len());
    for lesson in lessons {
        let external = show.cell.stations[lesson.station.0].external.clone();
        let stance = Stance { axes: lesson.start, external };
        let mut jogger = Jogger::new(show.cell, lesson.station);
        // The wire may touch the parts of the seam that is practised.
        jogger.around = Around::Everything(lesson.goals.iter().find_map(|goal| goal.kind.seam()));
        let jogged = jogger.step(&stance, Jog::Along(JogFrame::World, Vector3::z()), 0.05, 0.1);
        assert_eq!(jogged.stopped, None, "{}", lesson.file);
        // Who has reached the start of a seam may follow it from there: of its ends 8 mm do not count.
        for pair in lesson.goals.windows(2) {
            if let [GoalKind::Torch(start), GoalKind::Follow(_)] = [&pair[0].kind, &pair[1].kind] {
                let farthest = start.at.unwrap() + start.at_tolerance;
                assert!(farthest <= mm(8.0) + 1e-9, "{}: {farthest}", lesson.file);
            }
        }
    }
}

#[test]
fn a_seam_that_is_followed_within_its_angles_ends_the_lesson() {
    let mut app = lesson("04");
    assert_eq!(*app.world().resource::<Task>(), Task::Learn);
    for _ in 0..80 {
        ask(&mut app, Ask::Hold(Jog::Along(JogFrame::World, Vector3::x())));
    }
    let progress = progress(&app);
    assert!(progress.score.is_some(), "{:?}", progress.readings);
}

#[test]
fn a_seam_is_followed_at_any_speed_however_slow_the_frames_are() {
    let mut app = lesson("04");
    app.insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_millis(200)));
    for _ in 0..4 {
        ask(&mut app, Ask::Speed(1));
    }
    // 250 mm/s for 0.2 s: 50 mm from frame to frame, on a seam of 140 mm.
    for _ in 0..3 {
        ask(&mut app, Ask::Hold(Jog::Along(JogFrame::World, Vector3::x())));
    }
    let progress = progress(&app);
    assert!(progress.score.is_some(), "{:?}", progress.readings);
}

#[test]
fn the_lesson_at_the_straight_wrist_slows_the_tool_at_the_speed_it_starts_with_and_axis_5_passes() {
    let mut app = lesson("06");
    // As its text says: sideways along y on the floor's axes.
    for _ in 0..20 {
        ask(&mut app, Ask::Hold(Jog::Along(JogFrame::World, Vector3::y())));
    }
    assert_eq!(app.world().resource::<Practice>().progress.goal, 1);
    for _ in 0..200 {
        ask(&mut app, Ask::Hold(Jog::Axis(4, -1.0)));
    }
    assert!(app.world().resource::<Practice>().progress.score.is_some());
}

#[test]
fn the_other_elbow_is_found_by_stepping_through_the_ways() {
    let mut app = lesson("05");
    for _ in 0..16 {
        ask(&mut app, Ask::NextWay);
    }
    let progress = progress(&app);
    assert!(progress.score.is_some(), "{:?}", progress.readings);
}

#[test]
fn a_lesson_with_mistakes_names_file_line_and_what_would_be_right() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bad.toml");
    let text = "format = 1\nname = \"x\"\ntext = [\"y\"]\npar_s = 10\n\n[[goal]]\nkind = \"turn\"\nsay = \"z\"\naxis = 7\nby_deg = 3\n\n\
                [[goal]]\nkind = \"folow\"\nsay = \"z\"\n\n[[goal]]\nkind = \"torch\"\nsay = \"z\"\nseam = \"left ear outsid\"\nbesid_mm = 3\n";
    std::fs::write(&file, text).unwrap();
    let problems = read_lesson(&file, bracket().cell).unwrap_err();
    let said: Vec<String> = problems.iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 4, "{said:#?}");
    for (line, words) in [(9, "1 to 6"), (13, "follow"), (19, "left ear outside"), (20, "beside_mm")] {
        assert!(
            said.iter().any(|one| one.contains(&format!("bad.toml:{line}")) && one.contains(words)),
            "{line} {said:#?}"
        );
    }
}

#[test]
fn the_angles_are_off_at_the_start_and_are_set_by_turning_about_the_wire_end() {
    let mut app = lesson("03");
    let seam = seam_at_hand(&app);
    let procedure = &bracket().cell.seams[seam.0].procedure;
    let start = against(&app, seam).angles;
    assert!(
        procedure.work.excess(start.work) > 0.0 && procedure.travel.excess(start.travel) > 0.0,
        "{start:?}"
    );
    let about = |axis: Vector3<f64>| move |sense: f64| Jog::About(JogFrame::World, axis * sense);
    // The seam lies along the floor's x; to turn about its y swings the torch along it.
    for _ in 0..2 {
        bring(&mut app, about(Vector3::x()), |app| against(app, seam).angles.work - deg(45.0), deg(2.0));
        bring(&mut app, about(Vector3::y()), |app| against(app, seam).angles.travel - deg(8.0), deg(2.0));
    }
    bring(
        &mut app,
        |sense| Jog::Along(JogFrame::World, Vector3::z() * sense),
        |app| against(app, seam).beside,
        mm(2.0),
    );
    let in_and_out = |sense: f64| Jog::Along(JogFrame::Tool, Vector3::z() * sense);
    bring(&mut app, in_and_out, |app| against(app, seam).angles.ctwd - mm(15.0), mm(1.5));
    assert!(progress(&app).score.is_none());
    // Still for 2 s: 40 steps of 50 ms, though nothing is held.
    rest(&mut app, 39);
    assert!(progress(&app).score.is_none(), "{:?}", progress(&app).readings);
    rest(&mut app, 2);
    let score = progress(&app).score.as_ref().unwrap();
    assert_eq!((score.reached, score.stops), (40.0, 0), "{score:?}");
}

#[test]
fn the_place_before_the_start_leads_straight_in() {
    let mut app = lesson("10");
    let before = app.world().resource::<Practice>().goal().unwrap().kind.clone();
    let GoalKind::WireEnd { at, .. } = before else { panic!("{before:?}") };
    bring_wire_end(&mut app, at, mm(2.0));
    rest(&mut app, 1);
    assert_eq!(progress(&app).goal, 1, "{:?}", progress(&app).readings);
    let seam = seam_at_hand(&app);
    let in_and_out = |sense: f64| Jog::Along(JogFrame::Tool, Vector3::z() * sense);
    bring(&mut app, in_and_out, |app| against(app, seam).angles.ctwd - mm(15.0), mm(1.5));
    rest(&mut app, 22);
    let score = progress(&app).score.as_ref();
    assert!(score.is_some_and(|score| score.stops == 0), "{:?}", progress(&app).readings);
}

#[test]
fn four_touches_from_four_orientations_tell_the_tool_centre() {
    let mut app = lesson("09");
    let place = wire_end(&app);
    let turns = [Vector3::x(), Vector3::y(), -Vector3::x() * 2.0];
    ask(&mut app, Ask::Mark);
    for turn in turns {
        // 6 degrees a second, for 6 s or 12 s.
        for _ in 0..(120.0 * turn.norm()) as u32 {
            ask(&mut app, Ask::Hold(Jog::About(JogFrame::Tool, turn.normalize())));
        }
        bring_wire_end(&mut app, place, mm(1.3));
        ask(&mut app, Ask::Mark);
    }
    rest(&mut app, 1);
    assert!(progress(&app).score.is_some(), "{:?}", progress(&app).readings);
}

#[test]
fn two_marks_at_the_ends_of_a_straight_seam_are_enough_once_the_learner_is_done() {
    let mut app = lesson("11");
    ask(&mut app, Ask::Mark);
    // At 50 mm/s along the 135 mm that are left of it.
    for _ in 0..54 {
        ask(&mut app, Ask::Hold(Jog::Along(JogFrame::World, Vector3::x())));
    }
    ask(&mut app, Ask::Mark);
    rest(&mut app, 2);
    assert!(progress(&app).score.is_none());
    // One too many, and taken back.
    ask(&mut app, Ask::Mark);
    ask(&mut app, Ask::TakeBack);
    ask(&mut app, Ask::Done);
    rest(&mut app, 1);
    let score = progress(&app).score.as_ref();
    assert!(score.is_some_and(|score| score.exact == 30.0), "{score:?} {:?}", progress(&app).readings);
}

#[test]
fn time_goes_on_from_the_first_change_though_no_key_is_held() {
    let mut app = lesson("05");
    rest(&mut app, 20);
    assert_eq!(progress(&app).elapsed, 0.0);
    ask(&mut app, Ask::NextWay);
    rest(&mut app, 20);
    assert!(progress(&app).elapsed > 0.9, "{}", progress(&app).elapsed);
}

#[test]
fn what_a_seam_was_followed_with_counts_all_along_and_not_at_its_end_alone() {
    let exact = |lean: u32| {
        let mut app = lesson("04");
        let jog = |app: &mut App, jog: Jog, steps: u32| (0..steps).for_each(|_| ask(app, Ask::Hold(jog)));
        let along = Jog::Along(JogFrame::World, Vector3::x());
        let about = |sense: f64| Jog::About(JogFrame::World, Vector3::x() * sense);
        jog(&mut app, along, 20);
        jog(&mut app, about(1.0), lean);
        jog(&mut app, along, 10);
        jog(&mut app, about(-1.0), lean);
        jog(&mut app, along, 40);
        let progress = progress(&app);
        progress.score.as_ref().unwrap_or_else(|| panic!("{:?}", progress.readings)).exact
    };
    // 0.3 degrees a step, of the 10 that the procedure allows to each side.
    let (straight, leant) = (exact(0), exact(16));
    assert!((straight - 30.0).abs() < 0.1, "{straight}");
    assert!((leant - 30.0 * (1.0 - 4.8 / 10.0)).abs() < 0.5, "{leant}");
}

/// 8, -6 and 10 mm in the file of the lesson: their root of squares.
#[test]
fn a_control_with_a_wrong_tool_centre_tells_the_place_that_it_believes() {
    let misled = lesson("09");
    let (hand, show) = (misled.world().resource::<Hand>(), bracket());
    let off = hand.believed(&show).translation.vector - wire_end(&misled).coords;
    assert!((off.norm() - mm(200f64.sqrt())).abs() < 1e-9 && hand.is_misled(&show), "{off}");
    let honest = lesson("01");
    let hand = honest.world().resource::<Hand>();
    assert!((hand.believed(&show).translation.vector - wire_end(&honest).coords).norm() < 1e-12);
    assert!(!hand.is_misled(&show));
}
