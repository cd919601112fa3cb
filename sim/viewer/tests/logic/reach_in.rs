//! Somebody reaches in at the instant that is watched.

use seamwright_viewer::logic::{Ask, ReachIn};
use seamwright_viewer::show::Show;

use super::{STEP, app, ask, axes, bracket, scenes, time, wait};

#[test]
fn reached_in_at_the_worst_instant_as_much_way_is_left_as_the_findings_say_and_everything_comes_to_rest() {
    let show = Show::load(&scenes().join("pump-skid/cell.toml")).unwrap();
    let safety = show.checked.safety.as_ref().unwrap();
    let worst = safety.intrusions.iter().flatten().map(|all| &all.worst);
    let worst = worst.min_by(|a, b| a.left_with_intrusion.total_cmp(&b.left_with_intrusion)).unwrap().clone();
    let mut app = app(&show);
    let instant = show.day.from_round(&show.checked.schedule, worst.t);
    ask(&mut app, Ask::GoTo(instant));
    let planned = axes(&app);
    ask(&mut app, Ask::ReachIn);
    wait(&mut app, |app| matches!(app.world().resource::<ReachIn>(), ReachIn::Stops { .. }));
    let ReachIn::Stops { broken, .. } = app.world().resource::<ReachIn>() else { unreachable!() };
    assert_eq!(broken.intrusion.zone, worst.zone);
    assert!((broken.intrusion.left - worst.left).abs() < 1e-4, "{} {}", broken.intrusion.left, worst.left);
    assert!((broken.intrusion.stands_after - worst.stands_after).abs() < 1e-4);
    // Until the stop is ordered everything goes on as planned.
    let delay = worst.ordered_after;
    let on = broken.stance(&show, delay * 0.5).axes;
    assert!((on - show.stance(instant + delay * 0.5).axes).amax() < 1e-6);
    let stopped = broken.stance(&show, worst.stands_after).axes;
    for _ in 0..=(worst.stands_after / STEP.as_secs_f64()).ceil() as u32 {
        app.update();
    }
    assert!(!app.world().resource::<ReachIn>().goes_on());
    assert_eq!(axes(&app), stopped);
    assert!((stopped - planned).amax() > 1e-3, "nothing moved");
    app.update();
    assert_eq!(axes(&app), stopped);
    // Played on, it is as if nobody had.
    ask(&mut app, Ask::PlayOrPause);
    assert!((time(&app) - instant - STEP.as_secs_f64()).abs() < 1e-9);
    assert_eq!(axes(&app), show.stance(time(&app)).axes);
}

#[test]
fn where_no_device_is_stated_nobody_is_said_to_reach_in() {
    let mut app = app(&bracket());
    ask(&mut app, Ask::ReachIn);
    assert!(matches!(app.world().resource::<ReachIn>(), ReachIn::Nobody));
}
