//! The window opens before the cell is checked.

use std::sync::Arc;
use std::time::Duration;

use seamwright_sim::cell::SeamId;
use seamwright_viewer::logic::{Ask, Beside, BrokeOff, Hand, Now, Playing, Source, Task, Wake};
use seamwright_viewer::show::Show;
use seamwright_viewer::site::Site;

use super::{app, ask, bracket, empty, scenes, wait};

#[test]
fn the_arm_stands_at_home_till_the_cell_is_checked_and_then_it_is_there_to_be_worked_with() {
    let file = scenes().join("gate-bracket/cell.toml");
    let source = Source::new(file.clone());
    let site = Site::read(&file, &source.watched).unwrap();
    let mut app = empty();
    let source = source.checking(site, &Wake::default());
    app.insert_resource(site).insert_resource(source);
    app.update();
    // A check takes longer than an update.
    assert!(!app.world().contains_resource::<Show>() && !app.world().contains_resource::<Hand>());
    assert_eq!(app.world().resource::<Now>().stance, site.at_home());
    assert!(app.world().resource::<Source>().far().is_some());
    // Nothing is there to be asked for.
    ask(&mut app, Ask::Do(Task::Hand));
    assert_eq!(*app.world().resource::<Task>(), Task::Watch);
    wait(&mut app, |app| app.world().contains_resource::<Show>());
    assert!(app.world().resource::<Source>().far().is_none());
    assert!(app.world().resource::<Site>().is(&app.world().resource::<Show>().site));
    ask(&mut app, Ask::GoTo(12.0));
    assert_eq!(app.world().resource::<Playing>().time, 12.0);
    ask(&mut app, Ask::Do(Task::Hand));
    assert_eq!(*app.world().resource::<Task>(), Task::Hand);
}

#[test]
fn what_was_learnt_of_a_cell_is_gone_when_another_is_shown() {
    let show = super::clamps::rib();
    let old = Arc::downgrade(&show.checked);
    let mut app = app(&show);
    drop(show);
    for asked in [Ask::Seam(SeamId(0)), Ask::Do(Task::Hand), Ask::Do(Task::Watch)] {
        ask(&mut app, asked);
    }
    assert!(old.upgrade().is_some());
    app.insert_resource(bracket());
    app.update();
    assert!(old.upgrade().is_none());
}

#[test]
fn work_beside_wakes_the_window_once_it_is_there_and_is_told_to_have_broken_off_where_it_has() {
    let wake = Wake::default();
    let (sender, woken) = std::sync::mpsc::channel();
    wake.by(move || sender.send(()).unwrap());
    let beside = Beside::begin(&wake, || 7);
    woken.recv_timeout(Duration::from_secs(60)).unwrap();
    assert_eq!(beside.came(), Ok(Some(7)));
    let broken = Beside::<u32>::begin(&wake, || panic!("on purpose"));
    woken.recv_timeout(Duration::from_secs(60)).unwrap();
    assert_eq!(broken.came(), Err(BrokeOff));
}
